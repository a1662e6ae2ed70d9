"""Two files of one person, joined by pointer: no row of either is rewritten, so that they can be taken apart."""

from datetime import timedelta
from typing import Final

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from planner.patients.models import Patient
from planner.practice.models import Office
from planner.trail.fields import Versioned

REVERSIBLE: Final = timedelta(days=30)
"""How long a joining may be taken apart again. Common practice, no source."""


def _person(name: str, *, null: bool = True) -> "models.ForeignKey":  # type: ignore[type-arg]
    return models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=null)


class JoinedFile(Versioned):
    """That ``joined`` is read through ``kept``: asked for, allowed by one person, carried out by another."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    kept = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="joins_kept")
    joined = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="joins")
    reason = models.CharField(max_length=500)
    asked_by = _person("asked_by", null=False)
    at = models.DateTimeField()
    take = models.JSONField(default=list)
    """Which of :data:`planner.rules.joining.CHOSEN` are taken from the joined file."""
    allowed_by = _person("allowed_by")
    allowed_at = models.DateTimeField(null=True)
    done_by = _person("done_by")
    done_at = models.DateTimeField(null=True)
    before = models.JSONField(default=dict)
    """What the joining changed in the kept file, as it stood before."""
    after = models.JSONField(default=dict)
    declined_by = _person("declined_by")
    declined_at = models.DateTimeField(null=True)
    why_declined = models.CharField(max_length=500, blank=True)
    apart_asked_by = _person("apart_asked_by")
    apart_asked_at = models.DateTimeField(null=True)
    why_apart = models.CharField(max_length=500, blank=True)
    apart_by = _person("apart_by")
    apart_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ("-at", "-id")
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="joining_reasoned"),
            models.CheckConstraint(condition=~Q(kept=F("joined")), name="joining_of_two_files"),
            models.CheckConstraint(
                condition=Q(done_by__isnull=True) | (Q(allowed_by__isnull=False) & ~Q(done_by=F("allowed_by"))),
                name="joined_by_two_people",
            ),
            models.CheckConstraint(
                condition=Q(apart_by__isnull=True)
                | (Q(apart_asked_by__isnull=False) & ~Q(apart_by=F("apart_asked_by"))),
                name="taken_apart_by_two_people",
            ),
            models.UniqueConstraint(
                fields=("joined",), condition=Q(apart_at__isnull=True, declined_at__isnull=True), name="joined_once"
            ),
        ]

    def __str__(self) -> str:
        return f"joining of {self.at:%Y-%m-%d}"

    @property
    def is_over(self) -> bool:
        """Whether it was declined or taken apart."""
        return self.declined_at is not None or self.apart_at is not None

    @property
    def holds(self) -> bool:
        """Whether the two are read as one now."""
        return self.done_at is not None and self.apart_at is None
