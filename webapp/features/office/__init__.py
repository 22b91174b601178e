"""What administrators do: people, teams and caseloads, devices; as JSON and as plain pages."""

from webapp.features.office.pages import pages
from webapp.features.office.routes import bp

__all__ = ["bp", "pages"]
