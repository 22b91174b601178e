"""What devices handed in and is kept aside: the pages on which it is looked at and taken."""

from webapp.features.handed_in.routes import bp

__all__ = ["bp"]
