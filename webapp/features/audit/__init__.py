"""Who did what: for the lead of a team to read."""

from webapp.features.audit.routes import bp

__all__ = ["bp"]
