"""Refusals of a whole request: whether the server itself said so, and what may be why."""

from collections.abc import Mapping
from typing import Any

from sync.errors import AnswerError, ServerRefused, SignInNeeded
from sync.transport import Answer

TOO_LARGE = 413
_FOR_CONTENT = frozenset({400, TOO_LARGE, 422, 500})
# Of these it was the token, or what became of the bytes on their way.
_NOT_FOR_CONTENT = frozenset({"csrf", "bad_gzip"})


def is_for_content(refusal: ServerRefused) -> bool:
    """Whether what was sent may be why, so that less of it is worth a try; not who asked, or when.

    A code that is not known is read by its status.
    """
    return refusal.status in _FOR_CONTENT and refusal.code not in _NOT_FOR_CONTENT


def refusal_in(answer: Answer) -> SignInNeeded | ServerRefused | AnswerError:
    """What an answer without a 200 says; AnswerError where it was somebody on the way who said it."""
    error = error_in(answer)
    if not error and answer.status == TOO_LARGE:  # often said by a proxy, in HTML
        sentence = "This is too large to be sent."
        return ServerRefused(answer.status, "too_large", sentence, answer.retry_after())
    if not error:
        return AnswerError(f"status {answer.status} without an error of ours", answer.retry_after())
    if answer.status == 401:
        return SignInNeeded(error["message"])
    return ServerRefused(answer.status, error["code"], error["message"], answer.retry_after())


def error_in(answer: Answer) -> Mapping[str, Any]:
    """The error object of an answer of the server's own, with code and message; empty where it holds none."""
    try:
        error = answer.json()["error"]
        own = isinstance(error["code"], str) and isinstance(error["message"], str)
    except (AnswerError, KeyError, TypeError):
        return {}
    return error if own else {}
