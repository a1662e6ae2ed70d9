"""What the office charges on an accepted plan beside its work, such as a fee for cancelling late. Rows only grow."""

from django.db import models
from django.db.models import Q

from planner.plans.accepted_models import AcceptedPlan
from planner.practice.models import Noted


class ChargeKind(models.TextChoices):
    """What a row says."""

    CHARGE = "charge"
    WAIVED = "waived"
    """The charge that it names is not asked for any more."""


class PlanCharge(Noted):
    """One charge beside the work, as the price list had it on that day, or that it is waived, by whom and why."""

    plan = models.ForeignKey(AcceptedPlan, on_delete=models.PROTECT, related_name="charges")
    kind = models.CharField(max_length=10, choices=ChargeKind.choices)
    code = models.CharField(max_length=12, blank=True)
    words = models.CharField(max_length=120)
    price_list_version = models.PositiveIntegerField()
    cents = models.PositiveBigIntegerField()
    on = models.DateField()
    reason = models.TextField(blank=True)
    of = models.ForeignKey("self", null=True, on_delete=models.PROTECT, related_name="waived_by")
    """The charge that is waived, the whole of it."""

    class Meta:
        ordering = ("plan", "id")
        constraints = [
            models.CheckConstraint(condition=Q(cents__gt=0) & ~Q(words=""), name="plan_charge_of_something"),
            models.CheckConstraint(
                condition=Q(kind="charge", of__isnull=True) | (Q(kind="waived", of__isnull=False) & ~Q(reason="")),
                name="plan_charge_waived_for_a_reason",
            ),
            models.UniqueConstraint(fields=("of",), name="plan_charge_waived_once"),
        ]
        indexes = [models.Index(fields=("office", "on"), name="plan_charge_by_day")]

    def __str__(self) -> str:
        return f"{self.kind}: {self.words}, {self.cents} cents"
