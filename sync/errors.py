"""What can go wrong in a message or in an entry, as facts: a code, a field and a plain sentence."""


class SyncError(Exception):
    """Root of every error this package raises."""


class MessageError(SyncError):
    """A whole message cannot be used; nothing in it has been looked at further."""

    def __init__(self, code: str, message: str, field: str | None = None) -> None:
        super().__init__(message)
        self.code, self.field, self.message = code, field, message


class CanonicalError(MessageError):
    """A value has no canonical form (a float, a lone surrogate, a NUL, a number too large)."""


class AnswerError(SyncError):
    """What came back is not an answer of the server (a portal's page, a cut reply): nothing is known.

    `retry_after` are the seconds that somebody on the way asked to wait, if somebody did.
    """

    def __init__(self, message: str, retry_after: float | None = None) -> None:
        super().__init__(message)
        self.retry_after = retry_after


class SignInNeeded(SyncError):
    """The server does not know who is asking; nothing has changed."""


class ServerRefused(SyncError):
    """The server answered with an error of its own, told in its words."""

    def __init__(self, status: int, code: str, message: str, retry_after: float | None = None) -> None:
        super().__init__(message)
        self.status, self.code, self.message, self.retry_after = status, code, message, retry_after
