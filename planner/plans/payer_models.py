"""What was guessed of payers beside an estimate, frozen, and what they paid in the end. Rows only grow."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from planner.practice.models import Office
from planner.trail.fields import Public

_STAFF = settings.AUTH_USER_MODEL


class PayerGuess(Public):
    """The guess beside a checked estimate, byte for byte. A new answer of a payer makes a new one; the last holds."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    estimate = models.ForeignKey("plans.Estimate", on_delete=models.PROTECT, related_name="payer_guesses")
    content = models.BinaryField()
    """A :class:`planner.rules.benefit_sheets.GuessSheet` as canonical JSON."""
    sha256 = models.CharField(max_length=64)
    plan_sha256 = models.CharField(max_length=64)
    """Of the frozen plan whose prices it was made from."""
    made_by = models.ForeignKey(_STAFF, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ("estimate", "-id")
        constraints = [models.UniqueConstraint(fields=("estimate", "sha256"), name="payer_guess_once")]

    def __str__(self) -> str:
        return self.sha256[:12]


class PayerPaid(Public):
    """A payer's final answer after the work: what was guessed, what was paid, and why it was less."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    guess = models.ForeignKey(PayerGuess, on_delete=models.PROTECT, related_name="paid")
    option_key = models.CharField(max_length=200)
    told = models.CharField(max_length=20)
    """On what the guess rested."""
    guessed_cents = models.PositiveBigIntegerField()
    paid_cents = models.PositiveBigIntegerField()
    to_patient_cents = models.PositiveBigIntegerField()
    signed_if_nothing = models.BooleanField()
    """Whether the patient had signed the whole price as what is owed if nothing is paid."""
    reason = models.CharField(max_length=500, blank=True)
    """The payer's, where it paid less."""
    on = models.DateField()
    entered_by = models.ForeignKey(_STAFF, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ("guess", "id")
        constraints = [
            models.CheckConstraint(
                condition=Q(paid_cents__gte=F("guessed_cents")) | ~Q(reason=""), name="less_has_reason"
            ),
            models.CheckConstraint(
                condition=Q(to_patient_cents=0) | Q(signed_if_nothing=True), name="patient_pays_what_was_signed"
            ),
            models.UniqueConstraint(fields=("guess", "option_key"), name="payer_paid_once"),
        ]
        indexes = [models.Index(fields=("office", "told"), name="payer_paid_by_basis")]

    def __str__(self) -> str:
        return f"{self.paid_cents} of {self.guessed_cents} cents"
