"""The API's own description."""

from webapp.features.api_docs.routes import bp

__all__ = ["bp"]
