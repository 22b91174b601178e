"""Visit forms: pages made from the clinical data that hold no personal data and are kept for use offline."""

from webapp.features.visits.routes import bp

__all__ = ["bp"]
