"""The HTTP side of sync: reading the message, handing it to the log, writing the answer."""

from webapp.features.sync.examining import examine
from webapp.features.sync.routes import bp

__all__ = ["bp", "examine"]
