"""What guards every request and every response: headers, origin, sizes, content type, session, CSRF."""

from datetime import timedelta
from secrets import token_urlsafe
from urllib.parse import urlsplit

from flask import Flask, Response, current_app, g, request, session
from flask_wtf.csrf import CSRFProtect
from werkzeug.middleware.proxy_fix import ProxyFix

from webapp.config import Settings
from webapp.errors import Problem

MAX_BODY = 4 * 1024 * 1024
# Addresses whose answers depend on who asks: never stored.
PERSONAL = ("/api/", "/sign-", "/account", "/office", "/audit", "/handed-in", "/calendar/")
# What a secret number in the message itself opens: no cookie decides anything there, so none can be misused.
BY_NUMBER = frozenset({"by_number.again"})
SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})
POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data:",
        "connect-src 'self'",
        "manifest-src 'self'",
        "worker-src 'self'",
        "object-src 'none'",
        "frame-ancestors 'none'",
        "base-uri 'none'",
        "form-action 'self'",
        # Text cannot become code: the app's one policy lets through the service worker's address alone.
        "require-trusted-types-for 'script'",
        "trusted-types app",
    )
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=(), payment=(), usb=()",
}
csrf = CSRFProtect()


def init_security(app: Flask, settings: Settings, lasting: timedelta) -> None:
    """Set an application up so that nothing state-changing is reached unguarded.

    `lasting`: how long somebody stays signed in at most, and with that what their forms are checked against.
    """
    if settings.proxies:
        app.wsgi_app = ProxyFix(
            app.wsgi_app,
            x_for=settings.proxies,
            x_proto=settings.proxies,  # type: ignore
            x_host=settings.proxies,
        )
    app.config.update(
        SECRET_KEY=settings.secret_key,
        TRUSTED_HOSTS=list(settings.trusted_hosts),
        MAX_CONTENT_LENGTH=MAX_BODY,
        MAX_FORM_MEMORY_SIZE=64 * 1024,
        MAX_FORM_PARTS=50,
        SESSION_COOKIE_NAME=cookie_name(settings, "form"),
        SESSION_COOKIE_SECURE=settings.secure,
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Lax",
        SESSION_COOKIE_PATH="/",
        PERMANENT_SESSION_LIFETIME=lasting,
        # Sent again with every answer, a late one would bring back what was there before.
        SESSION_REFRESH_EACH_REQUEST=False,
        WTF_CSRF_TIME_LIMIT=None,
        WTF_CSRF_CHECK_DEFAULT=False,
        WTF_CSRF_SSL_STRICT=True,
    )
    csrf.init_app(app)
    app.before_request(guard)
    app.after_request(add_headers)


def cookie_name(settings: Settings, name: str) -> str:
    """A cookie's name; over TLS with the prefix that ties it to this host alone."""
    return f"__Host-lintel_{name}" if settings.secure else f"lintel_{name}"


def renew_form_cookie() -> None:
    """Begin what forms are checked against anew, as a sign-in does."""
    session.clear()
    # Not left to the first answer that wants one: two on their way at once (the app's own question and a page
    # gone to meanwhile) would each make one, and the later cookie would turn the other's forms away. For the
    # same reason it is kept for as long as the sign-in, also when the browser is closed.
    session.permanent = True
    session[current_app.config["WTF_CSRF_FIELD_NAME"]] = token_urlsafe(32)


def guard() -> None:
    """Refuse a request that must not reach its view, the cheapest check first."""
    if request.method in SAFE_METHODS or request.endpoint is None:
        return
    _check_size()
    _check_origin()
    if request.endpoint in BY_NUMBER:
        return
    if request.path.startswith("/api/"):
        _check_signed_in()
        _check_json()
    csrf.protect()


def _check_size() -> None:
    if request.content_length is not None and request.content_length > MAX_BODY:
        raise Problem("too_large")


def _check_origin() -> None:
    if request.headers.get("Sec-Fetch-Site", "same-origin") not in ("same-origin", "none"):
        raise Problem("cross_site")
    origin = request.headers.get("Origin")
    if origin is not None and urlsplit(origin)[:2] != urlsplit(request.host_url)[:2]:
        raise Problem("cross_site")


def _check_signed_in() -> None:
    # Before the CSRF check, so that an expired session is told as such and not as a stale page.
    if g.get("person") is None:
        raise Problem("sign_in_needed")


def _check_json() -> None:
    if request.mimetype != "application/json":
        raise Problem("wrong_type")


def add_headers(response: Response) -> Response:
    """The headers every response carries, and no storing of what the API answers."""
    for name, value in HEADERS.items():
        response.headers.setdefault(name, value)
    if request.is_secure:
        response.headers.setdefault("Strict-Transport-Security", "max-age=31536000; includeSubDomains")
    if request.path.startswith(PERSONAL):
        response.headers["Cache-Control"] = "no-store"
    return response
