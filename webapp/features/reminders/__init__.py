"""What a person chooses about reminders, and the browsers that take them; what a secret number opens."""

from webapp.features.reminders.by_number import bp as by_number
from webapp.features.reminders.routes import bp

__all__ = ["bp", "by_number"]
