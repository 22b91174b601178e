"""Routes of the shell. Nothing here depends on who asks, so every answer may lie in a cache."""

from flask import (
    Blueprint,
    Response,
    abort,
    current_app,
    redirect,
    render_template,
    request,
    send_from_directory,
)

from webapp.features.shell.assets import STATIC, asset, built_folder, is_hashed
from webapp.features.shell.precache import WORKER_OFF, worker_source

bp = Blueprint("shell", __name__)
bp.add_app_template_global(asset, "asset")

FOR_EVER = "public, max-age=31536000, immutable"
ASK_AGAIN = "no-cache"


@bp.get("/")
def home() -> Response:
    """The app is what people come for."""
    return redirect("/app/")


@bp.get("/app/")
@bp.get("/app/<path:path>")
def shell(path: str = "") -> Response:
    """The same page for every view; the app reads the address itself."""
    if "." in path.rsplit("/", 1)[-1]:
        abort(404)  # a missing file must not look like a page
    return _page("shell.html")


@bp.get("/offline")
def offline() -> Response:
    """Shown by the service worker for an address outside the app when there is no network."""
    return _page("offline.html")


def _page(template: str) -> Response:
    answer = Response(render_template(template), mimetype="text/html")
    answer.headers["Cache-Control"] = ASK_AGAIN
    answer.add_etag()
    return answer.make_conditional(request)


@bp.get("/built/<path:name>")
def built(name: str) -> Response:
    """A built file; its hashed name lets the browser keep it for ever."""
    answer = send_from_directory(built_folder(), name, etag=True)
    answer.headers["Cache-Control"] = FOR_EVER if is_hashed(name) else ASK_AGAIN
    return answer


@bp.get("/icons/<path:name>")
def icons(name: str) -> Response:
    """The app's mark in its sizes."""
    answer = send_from_directory(STATIC / "icons", name, etag=True)
    answer.headers["Cache-Control"] = ASK_AGAIN
    return answer


@bp.get("/manifest.webmanifest")
def manifest() -> Response:
    """What a phone needs to know to install the app."""
    answer = send_from_directory(STATIC, "manifest.webmanifest", mimetype="application/manifest+json")
    answer.headers["Cache-Control"] = ASK_AGAIN
    return answer


@bp.get("/service_worker.js")
def service_worker() -> Response:
    """The worker, from the root so that it may serve the whole site; never kept by the browser's cache."""
    if current_app.config.get("SERVICE_WORKER", True):
        source = worker_source(current_app._get_current_object(), request.host_url)
    else:
        source = WORKER_OFF.read_text("utf-8")
    answer = Response(source, mimetype="text/javascript")
    answer.headers["Cache-Control"] = ASK_AGAIN
    return answer
