"""What a consent, kept on the floor above, means for the items of an accepted plan."""

from django.db import models
from django.db.models import Q

from planner.plans.accepted_models import Item
from planner.practice.models import Noted


class ConsentStop(Noted):
    """An item stands still because consent to it was withdrawn, or may go on after a new one. The newest row holds."""

    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="consent_stops")
    stands_still = models.BooleanField()
    words = models.TextField()
    """As the patient said it; for going on, what was signed."""

    class Meta:
        ordering = ("item", "id")
        constraints = [models.CheckConstraint(condition=~Q(words=""), name="consent_stop_in_words")]

    def __str__(self) -> str:
        return "stands still" if self.stands_still else "may go on"
