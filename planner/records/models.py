"""Copies of the whole office: asked for by one person, allowed by another, taken by whoever keeps the system.

The copies themselves are kept nowhere; the trail tells of each one that was taken, with its hash.
"""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from planner.practice.models import Office
from planner.trail.fields import Versioned


class OfficeCopy(Versioned):
    """The wish for a copy of everything, and the answer to it, which is given once."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    reason = models.CharField(max_length=500)
    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    outcome = models.CharField(max_length=10, blank=True, default="")
    """Empty while open, then ``allowed`` or ``declined``."""
    answered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    answered_at = models.DateTimeField(null=True, blank=True)
    answer = models.CharField(max_length=500, blank=True, default="")

    class Meta:
        ordering = ("-at", "-id")
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="office_copy_reasoned"),
            models.CheckConstraint(
                condition=Q(outcome="", answered_by__isnull=True, answered_at__isnull=True)
                | (Q(outcome__in=("allowed", "declined"), answered_at__isnull=False) & ~Q(answered_by=F("asked_by"))),
                name="office_copy_by_two_people",
            ),
        ]
        indexes = [models.Index(fields=("office", "-at", "-id"), name="office_copy_newest")]

    def __str__(self) -> str:
        return f"copy of the office asked on {self.at:%Y-%m-%d}"
