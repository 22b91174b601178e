"""The session cookie: an opaque token that scripts cannot read and other sites cannot send."""

from flask import Response, request

from webapp.config import settings
from webapp.security import cookie_name
from webapp.storage.signing_in import ABSOLUTE


def token() -> str | None:
    """The session token a request brings, if it brings one."""
    return request.cookies.get(cookie_name(settings(), "session"))


def give(response: Response, value: str) -> None:
    """Hand a session token to the browser."""
    response.set_cookie(
        cookie_name(settings(), "session"),
        value,
        max_age=ABSOLUTE,
        path="/",
        secure=settings().secure,
        httponly=True,
        samesite="Lax",
    )


def take_back(response: Response) -> None:
    """Have the browser forget its session token."""
    response.delete_cookie(
        cookie_name(settings(), "session"), path="/", secure=settings().secure, httponly=True, samesite="Lax"
    )
