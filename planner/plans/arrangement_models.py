"""Arrangements to pay in parts as they were agreed, and when a price was asked for. Rows are added, never changed."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from planner.practice.models import Office
from planner.trail.fields import Public

_STAFF = settings.AUTH_USER_MODEL


class Arrangement(Public):
    """How one estimate is paid in parts, frozen: the newest of an estimate holds, and says why it replaces the last."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    estimate = models.ForeignKey("plans.Estimate", on_delete=models.PROTECT, related_name="arrangements")
    number = models.PositiveSmallIntegerField()
    content = models.BinaryField()
    """JSON with everything the agreement prints; see :mod:`planner.plans.arranging`."""
    sha256 = models.CharField(max_length=64)
    reason = models.TextField(blank=True)
    """Why it replaces the one before; empty for the first."""
    by = models.ForeignKey(_STAFF, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ("estimate", "-number")
        constraints = [
            models.UniqueConstraint(fields=("estimate", "number"), name="arrangement_number_once"),
            models.CheckConstraint(condition=Q(number__gte=1), name="arrangement_numbers_from_one"),
            models.CheckConstraint(condition=Q(number=1) | ~Q(reason=""), name="arrangement_replaced_why"),
        ]

    def __str__(self) -> str:
        return f"arrangement {self.number}"


class RequestEvent(models.TextChoices):
    """What a deadline counts from."""

    ASKED = "asked", "the price was asked for"
    BOOKED = "booked", "the visit was booked"


class PriceRequest(Public):
    """When a price was asked for or its visit booked; the local duty of estimate counts from it. The newest holds."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    estimate = models.ForeignKey("plans.Estimate", on_delete=models.PROTECT, related_name="price_requests")
    event = models.CharField(max_length=10, choices=RequestEvent.choices)
    on = models.DateField()
    service_on = models.DateField(null=True)
    """Day of the main service, where one is booked."""
    repeated = models.CharField(max_length=300, blank=True)
    """For what is repeated: how often, over which time, how many times in all."""
    by = models.ForeignKey(_STAFF, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ("estimate", "-id")
        constraints = [
            models.CheckConstraint(condition=Q(event__in=RequestEvent.values), name="price_request_event_known"),
            models.CheckConstraint(
                condition=~Q(event="booked") | Q(service_on__isnull=False), name="price_request_booked_for_a_day"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.event} on {self.on}"
