"""The presses of buttons that were answered or are being answered, so that none of them is done twice."""

from django.db import models


class Press(models.Model):
    """One sending of one form as it was opened; gone with one of the presses that come after a day."""

    digest = models.CharField(max_length=64, unique=True)
    """Of the sign-in, the address, the token of the page that was opened, and everything that was sent."""
    led_to = models.CharField(max_length=600, blank=True)
    """Where the first press led; empty while it is being answered."""
    pressed_at = models.DateTimeField(db_index=True)

    def __str__(self) -> str:
        return f"pressed {self.pressed_at:%Y-%m-%d %H:%M}"
