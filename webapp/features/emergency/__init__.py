"""Emergency access: asking for one client's record, and what a lead is shown of it."""

from webapp.features.emergency.routes import bp

__all__ = ["bp"]
