"""Lintel's server. `create_app` reads as a table of contents."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from flask import Flask

    from webapp.config import Settings
    from webapp.storage.append import Examine


def create_app(settings: "Settings | None" = None) -> "Flask":
    """The application for some settings, or for those of the environment."""
    # Imported here, so that `webapp.clinical` can be imported with the standard library alone.
    from flask import Flask

    from webapp.config import from_environment
    from webapp.errors import init_errors
    from webapp.features import (
        accounts,
        api_docs,
        audit,
        clients,
        emergency,
        handed_in,
        health,
        office,
        reminders,
        shell,
        sync,
        visits,
    )
    from webapp.features.refusals import init_refusals
    from webapp.logs import init_logs
    from webapp.pages import init_pages
    from webapp.security import init_security
    from webapp.storage import Database
    from webapp.storage.signing_in import ABSOLUTE

    settings = settings or from_environment()
    app = Flask(__name__, static_folder=None)
    app.extensions["lintel.settings"] = settings
    app.extensions["lintel.database"] = Database(
        settings.database_url, settings.secret_key, settings.old_secret_keys
    )
    init_logs(app)
    init_errors(app)
    init_refusals(app)
    init_pages(app)
    for feature in (accounts, clients, emergency, sync, audit, api_docs, health, shell, visits, reminders):
        app.register_blueprint(feature.bp)
    app.register_blueprint(reminders.by_number)
    app.register_blueprint(handed_in.bp)
    app.register_blueprint(office.bp)
    app.register_blueprint(office.pages)
    init_security(app, settings, lasting=ABSOLUTE)
    return app


def examiner() -> "Examine":
    """How a pushed entry is examined: what `webapp.storage.append_entries` asks for."""
    from webapp.features.sync.examining import examine

    return examine
