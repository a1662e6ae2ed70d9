"""A case that another dentist took over: what was decided before stays under the name of who decided it."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from planner.plans.models import Case
from planner.practice.models import Noted


class TakeOver(Noted):
    """``by`` treats the case from now on: reviewed it, countersigned what was signed, and the patient was told."""

    case = models.ForeignKey(Case, on_delete=models.PROTECT, related_name="take_overs")
    before = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    """Who treated it until then."""
    reason = models.CharField(max_length=500)
    reviewed = models.TextField()
    """What was looked at, and what came of it."""
    licence = models.CharField(max_length=60)
    signatures = models.JSONField(default=list)
    """SHA-256 of each signature that is countersigned anew by this row."""
    told_on = models.DateField()
    told_how = models.CharField(max_length=200)

    class Meta:
        ordering = ("case", "id")
        constraints = [
            models.CheckConstraint(
                condition=~Q(reason="") & ~Q(reviewed="") & ~Q(licence="") & ~Q(told_how=""), name="taken_over_in_words"
            ),
            models.CheckConstraint(condition=~Q(by=models.F("before")), name="taken_over_from_somebody_else"),
        ]

    def __str__(self) -> str:
        return f"taken over by {self.by} from {self.before}"
