"""What withdrawn devices of a lead's people handed in: the page on which the lead has it taken."""

from webapp.features.handed_in.routes import bp

__all__ = ["bp"]
