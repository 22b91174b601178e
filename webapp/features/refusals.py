"""What storage refuses, as the answer to a request: said once for every feature."""

from flask import Flask, Response

from webapp.errors import Problem, answer, slow_down
from webapp.storage.attempts import Blocked
from webapp.storage.refused import NotThere, Refused


def init_refusals(app: Flask) -> None:
    """Have whatever storage refuses answered in its own sentence."""
    app.register_error_handler(Refused, _refused)
    app.register_error_handler(Blocked, _blocked)


def problem_of(refused: Refused) -> Problem:
    """The answer: 404 for what is not there, 422 for the rest."""
    code = "not_found" if isinstance(refused, NotThere) else "invalid"
    return Problem(code, refused.sentence, refused.field)


def _refused(refused: Refused) -> Response:
    return answer(problem_of(refused))


def _blocked(blocked: Blocked) -> Response:
    return answer(slow_down(blocked.seconds))
