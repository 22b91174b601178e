"""The clients a person may see, and one client's entries, for whoever reads without a device's store."""

from webapp.features.clients.routes import bp

__all__ = ["bp"]
