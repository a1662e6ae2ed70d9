"""Arrangements to pay in parts as they were agreed, and when a price was asked for. Rows are added, never changed."""

from django.db import models
from django.db.models import Q

from planner.practice.models import Noted


class Arrangement(Noted):
    """How one estimate is paid in parts, frozen: the newest of an estimate holds, and says why it replaces the last."""

    estimate = models.ForeignKey("plans.Estimate", on_delete=models.PROTECT, related_name="arrangements")
    number = models.PositiveSmallIntegerField()
    content = models.BinaryField()
    """JSON with everything the agreement prints; see :mod:`planner.plans.arranging`."""
    sha256 = models.CharField(max_length=64)
    reason = models.TextField(blank=True)
    """Why it replaces the one before; empty for the first."""

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


class PriceRequest(Noted):
    """When a price was asked for or its visit booked; the local duty of estimate counts from it. The newest holds."""

    estimate = models.ForeignKey("plans.Estimate", on_delete=models.PROTECT, related_name="price_requests")
    event = models.CharField(max_length=10, choices=RequestEvent.choices)
    on = models.DateField()
    service_on = models.DateField(null=True)
    """Day of the main service, where one is booked."""
    repeated = models.CharField(max_length=300, blank=True)
    """For what is repeated: how often, over which time, how many times in all."""

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
