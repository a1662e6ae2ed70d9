"""What is written down beside the trail: openings in an emergency, and problems that somebody told the office of.

Rows that only grow. Everything else that the pages of this floor say is read from what the other floors keep.
"""

from django.db import models
from django.db.models import Q

from planner.patients.models import Patient
from planner.practice.models import Noted


class EmergencyOpening(Noted):
    """Somebody opened the medical side of a file that they may not open otherwise, with the reason typed."""

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="emergency_openings")
    reason = models.CharField(max_length=500)
    from_office = models.CharField(max_length=120, blank=True)
    """Name of the other office that the person works in; empty for somebody of the patient's own."""

    class Meta:
        ordering = ("-id",)
        constraints = [models.CheckConstraint(condition=~Q(reason=""), name="emergency_with_a_reason")]

    def __str__(self) -> str:
        return self.reason


class OpeningSeen(Noted):
    """A manager or owner looked at an emergency opening; until then it is on the notice at the top of their page."""

    opening = models.OneToOneField(EmergencyOpening, on_delete=models.PROTECT, related_name="seen")
    words = models.CharField(max_length=500, blank=True)

    def __str__(self) -> str:
        return self.words or "seen"


class Problem(Noted):
    """A problem or complaint as it was told: when the office learned of it, from whom, how, and in which words."""

    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="problems")
    told_at = models.DateTimeField()
    """When the office learned of it; ``at`` is when it was written down."""
    told_by = models.CharField(max_length=200)
    how = models.CharField(max_length=100)
    """By telephone, in person, in a letter ..."""
    words = models.TextField()

    class Meta:
        ordering = ("id",)
        constraints = [
            models.CheckConstraint(condition=~Q(told_by="") & ~Q(how="") & ~Q(words=""), name="problem_told_in_words")
        ]

    def __str__(self) -> str:
        return self.words[:60]


class ProblemStep(Noted):
    """Something that was done about a problem."""

    problem = models.ForeignKey(Problem, on_delete=models.PROTECT, related_name="steps")
    done_at = models.DateTimeField()
    words = models.TextField()

    class Meta:
        ordering = ("problem", "done_at", "id")
        constraints = [models.CheckConstraint(condition=~Q(words=""), name="problem_step_in_words")]

    def __str__(self) -> str:
        return self.words[:60]
