"""What was accepted, and what became of it: plans, their items, amendments, what was paid and what is earned.

What was agreed is a frozen copy: no later price list, rule or word changes it. Only the state of a plan or an item
moves, and every move of a plan is a row of its own. Sums are never stored twice: paid, earned and owed are added up
from rows that only grow.
"""

from django.conf import settings
from django.db import models
from django.db.models import Q

from planner.patients.models import Patient
from planner.practice.models import BookVersion, Noted, Office
from planner.rules.item_states import ItemState
from planner.rules.plan_states import PlanState
from planner.trail.fields import Public, Versioned

_STAFF = settings.AUTH_USER_MODEL


def _choices(values: type) -> list[tuple[str, str]]:
    return [(str(value), str(value)) for value in values]  # type: ignore[attr-defined]


class Follows(models.TextChoices):
    """Why an accepted plan points back at an earlier one."""

    REPAIR = "repair"
    REPLACES = "replaces"


class AcceptedPlan(Versioned):
    """An option, or a part of one, that somebody said yes to: with the prices of that day."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="accepted_plans")
    case = models.ForeignKey("plans.Case", on_delete=models.PROTECT, related_name="accepted_plans")
    estimate = models.ForeignKey("plans.Estimate", null=True, on_delete=models.PROTECT, related_name="accepted_plans")
    """None for a repair, which has no estimate of its own."""
    frozen = models.ForeignKey("plans.FrozenPlan", on_delete=models.PROTECT, related_name="+")
    book = models.ForeignKey(BookVersion, on_delete=models.PROTECT, related_name="+")
    price_list_version = models.PositiveIntegerField()
    option_key = models.CharField(max_length=200)
    name = models.CharField(max_length=300)
    """The option's name, as on the estimate."""
    part = models.BinaryField(null=True)
    """Only where a part was accepted: that part as it was computed, JSON; see :mod:`planner.rules.partial`."""
    accepted_on = models.DateField()
    accepted_by = models.CharField(max_length=200)
    """Who consented: the patient, or who may for the patient."""
    accepted_as = models.CharField(max_length=60)
    """In which capacity: ``patient``, ``parent`` ..."""
    price_held_through = models.DateField()
    total_cents = models.PositiveBigIntegerField()
    """At acceptance, taxes included."""
    deposit_cents = models.PositiveBigIntegerField()
    state = models.CharField(max_length=20, choices=_choices(PlanState), default=PlanState.ACCEPTED.value)
    look_again_on = models.DateField(null=True)
    """Only while it rests."""
    follows = models.ForeignKey("self", null=True, on_delete=models.PROTECT, related_name="followed_by")
    follows_as = models.CharField(max_length=10, choices=Follows.choices, blank=True)
    created_by = models.ForeignKey(_STAFF, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ("-at", "-id")
        constraints = [
            models.CheckConstraint(condition=Q(state__in=[str(one) for one in PlanState]), name="accepted_state_known"),
            models.CheckConstraint(condition=~Q(accepted_by="") & ~Q(accepted_as=""), name="accepted_by_somebody"),
            models.CheckConstraint(
                condition=Q(state=PlanState.RESTING.value, look_again_on__isnull=False)
                | (~Q(state=PlanState.RESTING.value) & Q(look_again_on__isnull=True)),
                name="accepted_rests_until",
            ),
            models.CheckConstraint(
                condition=Q(follows__isnull=True, follows_as="") | (Q(follows__isnull=False) & ~Q(follows_as="")),
                name="accepted_follows_for_a_reason",
            ),
            models.UniqueConstraint(fields=("estimate",), name="accepted_once_for_an_estimate"),
        ]
        indexes = [
            models.Index(fields=("office", "-at", "-id"), name="accepted_newest"),
            models.Index(fields=("office", "state", "-at", "-id"), name="accepted_by_state"),
        ]

    def __str__(self) -> str:
        return self.name


class PlanMove(Noted):
    """One move of an accepted plan from one state to another."""

    plan = models.ForeignKey(AcceptedPlan, on_delete=models.PROTECT, related_name="moves")
    before = models.CharField(max_length=20, choices=_choices(PlanState), blank=True)
    """Empty for the first."""
    after = models.CharField(max_length=20, choices=_choices(PlanState))
    on = models.DateField()
    reason = models.TextField(blank=True)
    look_again_on = models.DateField(null=True)

    class Meta:
        ordering = ("plan", "id")
        constraints = [
            models.CheckConstraint(
                condition=~Q(after__in=(PlanState.RESTING.value, PlanState.STOPPED.value)) | ~Q(reason=""),
                name="move_aside_has_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.before or 'new'} → {self.after}"


class PriceHold(Noted):
    """The accepted prices confirmed anew, because the day through which they were held has come near or is over."""

    plan = models.ForeignKey(AcceptedPlan, on_delete=models.PROTECT, related_name="price_holds")
    through = models.DateField()
    reason = models.TextField()
    on = models.DateField()

    class Meta:
        ordering = ("plan", "id")
        constraints = [
            models.CheckConstraint(condition=~Q(reason="") & Q(through__gte=models.F("on")), name="price_hold_ahead")
        ]

    def __str__(self) -> str:
        return f"held through {self.through}"


class Cause(models.TextChoices):
    """Who or what brought a change about."""

    PATIENT = "patient"
    FINDING = "finding"
    OFFICE = "office"


class Amendment(Noted):
    """A change of an accepted plan: lines added, dropped or swapped, with the reason and the money."""

    plan = models.ForeignKey(AcceptedPlan, on_delete=models.PROTECT, related_name="amendments")
    number = models.PositiveSmallIntegerField()
    cause = models.CharField(max_length=10, choices=Cause.choices)
    reason = models.TextField()
    before_cents = models.PositiveBigIntegerField()
    after_cents = models.PositiveBigIntegerField()
    new_signature = models.JSONField(default=list)
    """Why the letter gets a new part and a new signature is wanted, one sentence each; empty where none is."""
    kept_packages = models.JSONField(default=list)
    """Codes of packages that stay although the set shrank, because the office dropped a line."""
    on = models.DateField()

    class Meta:
        ordering = ("plan", "number")
        constraints = [
            models.UniqueConstraint(fields=("plan", "number"), name="amendment_once"),
            models.CheckConstraint(condition=Q(cause__in=Cause.values) & ~Q(reason=""), name="amendment_has_reason"),
        ]

    def __str__(self) -> str:
        return f"amendment {self.number}"

    @property
    def difference_cents(self) -> int:
        """New total less old total."""
        return self.after_cents - self.before_cents


class Agreement(Noted):
    """The yes to an amendment that needs one: on paper, or spoken before a witness for urgent make-safe work."""

    amendment = models.OneToOneField(Amendment, on_delete=models.PROTECT, related_name="agreement")
    agreed_by = models.CharField(max_length=200)
    how = models.CharField(
        max_length=20, choices=[("signed", "signed"), ("agreed before", "agreed before"), ("spoken", "spoken")]
    )
    witness = models.CharField(max_length=200, blank=True)
    on = models.DateField()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(agreed_by=""), name="agreed_by_somebody"),
            models.CheckConstraint(condition=~Q(how="spoken") | ~Q(witness=""), name="spoken_yes_has_witness"),
        ]

    def __str__(self) -> str:
        return f"{self.how} by {self.agreed_by}"


class Waiting(models.TextChoices):
    """What an item waits for."""

    WHITENING = "whitening gap"
    GUM = "gum re-measure"
    GROWTH = "growth proof"
    LABORATORY = "laboratory"
    PAYER = "payer answer"
    OUTSIDE = "outside doctor"
    DEPOSIT = "deposit"
    PATIENT = "patient"


class Earns(models.TextChoices):
    """How the fee of an item is earned."""

    FINISHED = "finished"
    """Direct work: all of it once the tooth is finished."""
    STAGES = "stages"
    """Made outside the mouth: by the office's stages."""
    MONTHS = "months"
    """A course: in equal parts over the months planned."""
    BILL = "bill"
    """A bill passed on: by what was billed."""


class Item(Versioned):
    """One thing to be done: a line of what was accepted, or one tooth of it. What it says never changes."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    plan = models.ForeignKey(AcceptedPlan, on_delete=models.PROTECT, related_name="items")
    position = models.PositiveSmallIntegerField()
    line = models.PositiveSmallIntegerField()
    """Items of one line share this number."""
    amendment = models.ForeignKey(Amendment, null=True, on_delete=models.PROTECT, related_name="added")
    """The amendment that added it; None for what was accepted."""
    dropped_by_amendment = models.ForeignKey(Amendment, null=True, on_delete=models.PROTECT, related_name="dropped")
    service = models.CharField(max_length=60)
    code = models.CharField(max_length=12)
    words = models.CharField(max_length=200)
    words_es = models.CharField(max_length=200, blank=True)
    treatment = models.CharField(max_length=60, blank=True)
    """Key of the treatment that asks for it; empty for what several share."""
    teeth = models.JSONField(default=list)
    """Keys of the teeth: one for work done tooth by tooth, several for what is made for all of them at once."""
    quantity = models.PositiveSmallIntegerField(default=1)
    charge = models.JSONField(default=dict)
    """What the price list was asked for, of the whole line; see :class:`planner.rules.fees.Charge`."""
    tax_class = models.CharField(max_length=20)
    tax_reason = models.TextField(blank=True)
    tax_percent = models.DecimalField(max_digits=6, decimal_places=3)
    earns = models.CharField(max_length=10, choices=Earns.choices)
    months = models.PositiveSmallIntegerField(null=True)
    state = models.CharField(max_length=12, choices=_choices(ItemState), default=ItemState.TO_DO.value)
    waiting_for = models.CharField(max_length=20, choices=Waiting.choices, blank=True)
    earliest = models.DateField(null=True)
    """Before this day it cannot be done."""
    booked_for = models.DateField(null=True)
    done_on = models.DateField(null=True)
    dropped_because = models.CharField(max_length=10, choices=Cause.choices, blank=True)

    class Meta:
        ordering = ("plan", "position", "id")
        constraints = [
            models.UniqueConstraint(fields=("plan", "position"), name="item_position_once"),
            models.CheckConstraint(condition=Q(state__in=[str(one) for one in ItemState]), name="item_state_known"),
            models.CheckConstraint(
                condition=~Q(state=ItemState.WAITING.value) | ~Q(waiting_for=""), name="item_waits_for_something"
            ),
            models.CheckConstraint(
                condition=Q(state=ItemState.DONE.value, done_on__isnull=False)
                | (~Q(state=ItemState.DONE.value) & Q(done_on__isnull=True)),
                name="item_done_on_a_day",
            ),
            models.CheckConstraint(
                condition=~Q(state=ItemState.BOOKED.value) | Q(booked_for__isnull=False), name="item_booked_for_a_day"
            ),
            models.CheckConstraint(
                condition=~Q(state=ItemState.DROPPED.value) | ~Q(dropped_because=""), name="item_dropped_by_somebody"
            ),
        ]
        indexes = [models.Index(fields=("office", "state", "earliest"), name="item_by_state")]

    def __str__(self) -> str:
        return self.words


class ItemPrice(Public):
    """What an item costs, in cents: as accepted, and anew for every amendment that changed it. The last row holds."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="prices")
    amendment = models.ForeignKey(Amendment, null=True, on_delete=models.PROTECT, related_name="prices")
    gross_cents = models.PositiveBigIntegerField()
    taken_off_cents = models.PositiveBigIntegerField()
    net_cents = models.PositiveBigIntegerField()
    tax_cents = models.PositiveBigIntegerField()
    total_cents = models.PositiveBigIntegerField()

    class Meta:
        ordering = ("item", "id")
        constraints = [
            models.CheckConstraint(
                condition=Q(net_cents=models.F("gross_cents") - models.F("taken_off_cents"))
                & Q(total_cents=models.F("net_cents") + models.F("tax_cents")),
                name="item_price_adds_up",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.total_cents} cents"


class StageEarned(Noted):
    """A stage of an item that was reached on a day, and what it earned."""

    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="earned")
    stage = models.CharField(max_length=40)
    """``finished``, a stage of the office's list, ``month 3``, ``bill``; ``correction n`` after amendment n."""
    cents = models.BigIntegerField()
    """Below zero only for a correction."""
    on = models.DateField()

    class Meta:
        ordering = ("item", "id")
        constraints = [
            models.UniqueConstraint(fields=("item", "stage"), name="stage_earned_once"),
            models.CheckConstraint(
                condition=Q(cents__gte=0) | Q(stage__startswith="correction"), name="stage_earns_nothing_below_zero"
            ),
        ]
        indexes = [models.Index(fields=("office", "on"), name="earned_by_day")]

    def __str__(self) -> str:
        return f"{self.stage}: {self.cents} cents"


class PaymentKind(models.TextChoices):
    """What a row of the account says."""

    RECEIPT = "receipt"
    WAIVER = "waiver"
    """The deposit need not be paid before work begins; no money moves."""
    REFUND = "refund"
    VOID = "void"
    """A receipt that was written by mistake."""
    CARRIED = "carried"
    """Carried forward to the plan that took this one's place; no money moves."""
    BROUGHT = "brought"
    """Brought forward from the plan whose place this one took: the other half of the row above."""


class Route(models.TextChoices):
    """How money came, and goes back."""

    CASH = "cash"
    CARD = "card"
    TRANSFER = "bank transfer"
    CHEQUE = "cheque"
    OTHER = "other"


class Payment(Noted):
    """One row of what came in and went out. Who pays is kept apart from the patient; no card number is kept."""

    plan = models.ForeignKey(AcceptedPlan, on_delete=models.PROTECT, related_name="payments")
    kind = models.CharField(max_length=10, choices=PaymentKind.choices)
    cents = models.PositiveBigIntegerField()
    payer = models.CharField(max_length=200, blank=True)
    route = models.CharField(max_length=20, choices=Route.choices, blank=True)
    reference = models.CharField(max_length=60, blank=True)
    on = models.DateField()
    reason = models.TextField(blank=True)
    of = models.ForeignKey("self", null=True, on_delete=models.PROTECT, related_name="taken_back")
    """The receipt that a refund, void or carrying forward takes from; of what is brought forward, the row of the other
    plan that carried it."""

    class Meta:
        ordering = ("plan", "id")
        constraints = [
            models.CheckConstraint(condition=Q(cents__gt=0), name="payment_of_something"),
            models.CheckConstraint(
                condition=Q(kind__in=("receipt", "waiver"), of__isnull=True)
                | Q(kind__in=("refund", "void", "carried", "brought"), of__isnull=False),
                name="payment_taken_back_of_one",
            ),
            models.UniqueConstraint(fields=("of",), condition=Q(kind="brought"), name="payment_brought_once"),
            models.CheckConstraint(
                condition=Q(kind="waiver") | (~Q(payer="") & ~Q(route="")), name="payment_from_somebody"
            ),
            models.CheckConstraint(condition=Q(kind="receipt") | ~Q(reason=""), name="payment_back_has_reason"),
        ]
        indexes = [models.Index(fields=("office", "on"), name="payment_by_day")]

    def __str__(self) -> str:
        return f"{self.kind} of {self.cents} cents"


class RefundState(models.TextChoices):
    """How far a refund is; two people stand behind one that is paid."""

    ASKED = "asked"
    ALLOWED = "allowed"
    PAID = "paid"
    DECLINED = "declined"


class Refund(Versioned):
    """Money to go back to the one who paid it: asked, allowed by one person, paid by another."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    plan = models.ForeignKey(AcceptedPlan, on_delete=models.PROTECT, related_name="refunds")
    receipt = models.ForeignKey(Payment, on_delete=models.PROTECT, related_name="refunds")
    cents = models.PositiveBigIntegerField()
    reason = models.TextField()
    state = models.CharField(max_length=10, choices=RefundState.choices, default=RefundState.ASKED)
    asked_by = models.ForeignKey(_STAFF, on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField()
    allowed_by = models.ForeignKey(_STAFF, null=True, on_delete=models.PROTECT, related_name="+")
    allowed_at = models.DateTimeField(null=True)
    closed_by = models.ForeignKey(_STAFF, null=True, on_delete=models.PROTECT, related_name="+")
    closed_at = models.DateTimeField(null=True)
    why_declined = models.TextField(blank=True)
    payment = models.OneToOneField(Payment, null=True, on_delete=models.PROTECT, related_name="refund")
    """The row of the account once it is paid."""

    class Meta:
        ordering = ("plan", "id")
        constraints = [
            models.CheckConstraint(condition=Q(cents__gt=0) & ~Q(reason=""), name="refund_of_something"),
            models.CheckConstraint(condition=Q(state__in=RefundState.values), name="refund_state_known"),
            models.CheckConstraint(
                condition=~Q(state="paid")
                | (
                    Q(allowed_by__isnull=False, closed_by__isnull=False, payment__isnull=False)
                    & ~Q(allowed_by=models.F("closed_by"))
                ),
                name="refund_by_two_people",
            ),
        ]

    def __str__(self) -> str:
        return f"refund of {self.cents} cents"


class BalanceSheet(Noted):
    """How a plan stood when it was stopped early or replaced: paid, earned, billed, and what is owed to whom."""

    plan = models.OneToOneField(AcceptedPlan, on_delete=models.PROTECT, related_name="balance_sheet")
    paid_cents = models.PositiveBigIntegerField()
    earned_cents = models.PositiveBigIntegerField()
    bills_cents = models.PositiveBigIntegerField()
    charged_cents = models.PositiveBigIntegerField(default=0)
    """Beside the work; see :mod:`planner.plans.charge_models`."""
    refund_cents = models.PositiveBigIntegerField()
    balance_due_cents = models.PositiveBigIntegerField()
    how = models.TextField()
    make_safe = models.TextField(blank=True)
    """What the office does so that teeth that are altered are safe, whoever owes what."""
    on = models.DateField()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(refund_cents=0) | Q(balance_due_cents=0), name="balance_owed_one_way"),
        ]

    def __str__(self) -> str:
        return self.how


class BalanceCall(Noted):
    """The manager's call about a balance due, which comes before any bill."""

    sheet = models.ForeignKey(BalanceSheet, on_delete=models.PROTECT, related_name="calls")
    spoke_with = models.CharField(max_length=200)
    words = models.TextField()
    on = models.DateField()

    class Meta:
        ordering = ("sheet", "id")
        constraints = [
            models.CheckConstraint(condition=~Q(spoke_with="") & ~Q(words=""), name="balance_call_says_something")
        ]

    def __str__(self) -> str:
        return f"call of {self.on}"
