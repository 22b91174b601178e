"""Signing in and out, and the session that the app asks about."""

from webapp.features.accounts.routes import bp

__all__ = ["bp"]
