"""What a person chooses about reminders, the browsers that take them, the private calendar."""

from webapp.features.reminders.calendar import bp as calendar_bp
from webapp.features.reminders.routes import bp

__all__ = ["bp", "calendar_bp"]
