"""Whether the service runs, for a load balancer or a start script."""

from webapp.features.health.routes import bp

__all__ = ["bp"]
