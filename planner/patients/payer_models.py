"""Third parties that may pay: what their plans say, whom they cover, what is used, what they were asked and answered.

All of it grows by new rows only. A plan and a cover are series of versions; the newest version holds, and what an
earlier guess rested on stays readable.
"""

from django.conf import settings
from django.db import models
from django.db.models import Q

from planner.patients.models import Patient
from planner.practice.models import Office
from planner.trail.fields import Public

_STAFF = settings.AUTH_USER_MODEL


class PayerPlan(Public):
    """One version of a payer's plan, whole, as the office was told it."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    series = models.CharField(max_length=16)
    """Shared by all versions of one plan."""
    number = models.PositiveIntegerField()
    name = models.CharField(max_length=250)
    """Payer and plan in words, for lists."""
    data = models.TextField()
    """A :class:`planner.rules.benefit_plans.BenefitPlan` as canonical JSON, the very text that was digested."""
    sha256 = models.CharField(max_length=64)
    reason = models.CharField(max_length=500)
    set_by = models.ForeignKey(_STAFF, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ("office", "name", "-number")
        constraints = [
            models.UniqueConstraint(fields=("office", "series", "number"), name="payer_plan_number_once"),
            models.CheckConstraint(condition=Q(number__gte=1) & ~Q(reason=""), name="payer_plan_told"),
        ]

    def __str__(self) -> str:
        return self.name


class CoverVersion(Public):
    """One version of somebody's cover under a plan."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="covers")
    series = models.CharField(max_length=16)
    number = models.PositiveIntegerField()
    plan = models.ForeignKey(PayerPlan, on_delete=models.PROTECT, related_name="+")
    """The version in force when this was written; a guess takes the newest of its series."""
    data = models.TextField()
    """A :class:`planner.rules.benefit_plans.Cover` as canonical JSON."""
    sha256 = models.CharField(max_length=64)
    reason = models.CharField(max_length=500)
    set_by = models.ForeignKey(_STAFF, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ("patient", "series", "-number")
        constraints = [
            models.UniqueConstraint(fields=("patient", "series", "number"), name="cover_number_once"),
            models.CheckConstraint(condition=Q(number__gte=1) & ~Q(reason=""), name="cover_told"),
        ]

    def __str__(self) -> str:
        return f"cover {self.number}"


class BenefitUsed(Public):
    """What is used up of one benefit year, as told on a day."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="benefits_used")
    cover_series = models.CharField(max_length=16)
    data = models.TextField()
    """A :class:`planner.rules.benefit_plans.Used` as canonical JSON."""
    set_by = models.ForeignKey(_STAFF, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ("patient", "-id")

    def __str__(self) -> str:
        return f"used, {self.cover_series}"


class PayerQuestion(Public):
    """Something to be asked of a payer, by a day."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="payer_questions")
    cover = models.ForeignKey(CoverVersion, on_delete=models.PROTECT, related_name="questions")
    words = models.CharField(max_length=1000)
    due = models.DateField()
    asked_by = models.ForeignKey(_STAFF, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ("patient", "-id")
        constraints = [models.CheckConstraint(condition=~Q(words=""), name="payer_question_said")]
        indexes = [models.Index(fields=("office", "due"), name="payer_question_due")]

    def __str__(self) -> str:
        return self.words


class PayerAnswer(Public):
    """What the payer answered."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    question = models.OneToOneField(PayerQuestion, on_delete=models.PROTECT, related_name="answer")
    words = models.CharField(max_length=1000)
    told = models.CharField(max_length=20, choices=[("written answer", "written answer"), ("phone", "phone")])
    by = models.CharField(max_length=200)
    on = models.DateField()
    entered_by = models.ForeignKey(_STAFF, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(told__in=("written answer", "phone")) & ~Q(words="") & ~Q(by=""), name="payer_answer_said"
            )
        ]

    def __str__(self) -> str:
        return self.words
