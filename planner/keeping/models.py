"""What is asked about keeping: to erase somebody's file."""

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from planner.practice.models import Office
from planner.trail.fields import Versioned


class Ground(models.TextChoices):
    """Why a file is to go."""

    PAST = "its time is over", _("its time is over")
    ASKED = "the person asks for it", _("the person asks for it")


class EraseRequest(Versioned):
    """One person asks that a file be erased; another agrees or declines. It names nobody: only the random id."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    subject_id = models.CharField(max_length=16)
    ground = models.CharField(max_length=30, choices=Ground.choices)
    reason = models.CharField(max_length=500)
    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    outcome = models.CharField(max_length=10, blank=True, default="")
    """Empty while open, then ``erased`` or ``declined``."""
    answered_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    answered_at = models.DateTimeField(null=True)
    answer = models.CharField(max_length=500, blank=True, default="")

    class Meta:
        ordering = ("at", "id")
        constraints = [
            models.CheckConstraint(condition=Q(outcome__in=("", "erased", "declined")), name="erase_outcome_known"),
            models.CheckConstraint(condition=Q(ground__in=Ground.values) & ~Q(reason=""), name="erase_has_a_reason"),
            models.UniqueConstraint(fields=("subject_id",), condition=Q(outcome=""), name="erase_asked_once"),
        ]
        indexes = [models.Index(fields=("office", "outcome"), name="erase_open")]

    def __str__(self) -> str:
        return f"erase {self.subject_id}"
