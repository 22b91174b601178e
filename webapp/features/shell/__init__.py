"""The page the browser app lives in: shell, built files, icons, manifest and service worker."""

from webapp.features.shell.routes import bp

__all__ = ["bp"]
