"""Calls about estimates that are not answered: the days patients named, and the calls that were made.

When the next one is due is stored nowhere: it follows from the showing, the calls made and the office's open days. Who
was shown what stands with the estimate (:class:`planner.plans.models.Showing`); whether somebody may be called at all
stands in the person's file.
"""

from django.db import models
from django.db.models import Q

from planner.plans.models import Estimate
from planner.practice.models import Noted


class AgreedCall(Noted):
    """A day on which the patient said they may be called; the newest since the last call holds."""

    estimate = models.ForeignKey(Estimate, on_delete=models.PROTECT, related_name="agreed_calls")
    on = models.DateField()
    words = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ("estimate", "id")

    def __str__(self) -> str:
        return f"call on {self.on}"


class Outcome(models.TextChoices):
    """What came of a call."""

    SPOKE = "spoke"
    NOBODY = "nobody answered"
    MESSAGE = "left word to ring back"
    ANSWERED = "the patient decided"
    """What was decided is written down with the estimate."""
    STOP = "asked not to be called about this"


class MadeCall(Noted):
    """A call that was made."""

    estimate = models.ForeignKey(Estimate, on_delete=models.PROTECT, related_name="made_calls")
    number = models.PositiveSmallIntegerField()
    """Counted over all issues of the estimate."""
    due = models.DateField()
    latest = models.DateField()
    """The last day on which it was made in time."""
    on = models.DateField()
    spoke_with = models.CharField(max_length=200, blank=True)
    outcome = models.CharField(max_length=40, choices=Outcome.choices)
    words = models.TextField(blank=True)

    class Meta:
        ordering = ("estimate", "id")
        constraints = [
            models.UniqueConstraint(fields=("estimate", "number"), name="made_call_once"),
            models.CheckConstraint(condition=Q(outcome__in=Outcome.values), name="made_call_outcome_known"),
            models.CheckConstraint(
                condition=Q(outcome=Outcome.NOBODY) | Q(outcome=Outcome.MESSAGE) | ~Q(spoke_with=""),
                name="made_call_with_somebody",
            ),
        ]
        indexes = [models.Index(fields=("office", "on"), name="made_call_by_day")]

    def __str__(self) -> str:
        return f"call {self.number}: {self.outcome}"


# Reviews are written down in a file of their own.
import planner.followup.review_models  # noqa: E402, F401
