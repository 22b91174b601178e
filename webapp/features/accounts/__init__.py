"""Signing in and out, a person's own account, and the session that the app asks about."""

from webapp.features.accounts import own_page as own_page
from webapp.features.accounts import ways_in as ways_in
from webapp.features.accounts.routes import bp

__all__ = ["bp"]
