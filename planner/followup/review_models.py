"""Reviews of finished work: what was measured, what was found, and what the patient said of it. Rows that only grow.

A review that was written down wrongly is not changed: a new one corrects it and counts in its place.
"""

from django.db import models
from django.db.models import Q

from planner.patients.models import Instrument
from planner.plans.accepted_models import AcceptedPlan
from planner.practice.models import Noted, Office
from planner.rules.promise import WISH_SCALE, Condition, Moment
from planner.trail.fields import Public

WITH = (Instrument.CALIPER, Instrument.SCAN)
"""What finished work is measured with: a film shows teeth larger than they are."""


class Review(Noted):
    """One review of finished work of an accepted plan, by one person on one day."""

    plan = models.ForeignKey(AcceptedPlan, on_delete=models.PROTECT, related_name="reviews")
    moment = models.CharField(max_length=20, choices=[(str(one), str(one)) for one in Moment])
    on = models.DateField()
    measured_by = models.CharField(max_length=200)
    """Who measured and looked; who typed it in is ``by``."""
    instrument = models.CharField(max_length=10, choices=[(one.value, one.label) for one in WITH])
    words = models.CharField(max_length=500, blank=True)
    """What else was seen or said."""
    corrects = models.OneToOneField("self", null=True, on_delete=models.PROTECT, related_name="corrected_by")

    class Meta:
        ordering = ("plan", "on", "id")
        constraints = [
            models.CheckConstraint(condition=Q(moment__in=[str(one) for one in Moment]), name="review_moment_known"),
            models.CheckConstraint(condition=~Q(measured_by=""), name="review_by_somebody"),
            models.CheckConstraint(
                condition=Q(instrument__in=[one.value for one in WITH]), name="review_instrument_known"
            ),
        ]
        indexes = [models.Index(fields=("office", "on"), name="review_by_day")]

    def __str__(self) -> str:
        return f"{self.moment}, {self.on}"


class ReviewTooth(Public):
    """One tooth at a review: how it was found, and its sizes in tenths of a millimetre where they were taken."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    review = models.ForeignKey(Review, on_delete=models.PROTECT, related_name="teeth")
    tooth = models.CharField(max_length=60)
    """Key of the tooth."""
    condition = models.CharField(max_length=40, choices=[(str(one), str(one)) for one in Condition])
    width = models.PositiveSmallIntegerField(null=True)
    length = models.PositiveSmallIntegerField(null=True)

    class Meta:
        ordering = ("review", "id")
        constraints = [
            models.UniqueConstraint(fields=("review", "tooth"), name="review_tooth_once"),
            models.CheckConstraint(
                condition=Q(condition__in=[str(one) for one in Condition]), name="review_condition_known"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.tooth}: {self.condition}"


class ReviewWish(Public):
    """How far the patient says a wish is met."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    review = models.ForeignKey(Review, on_delete=models.PROTECT, related_name="scores")
    rank = models.PositiveSmallIntegerField()
    """Of the wish in the plan that was accepted."""
    score = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ("review", "rank")
        constraints = [
            models.UniqueConstraint(fields=("review", "rank"), name="review_wish_once"),
            models.CheckConstraint(condition=Q(score__lte=WISH_SCALE[1]), name="review_score_on_its_scale"),
        ]

    def __str__(self) -> str:
        return f"wish {self.rank}: {self.score}"
