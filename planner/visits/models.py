"""The office's diary: chairs, who works when, visits and what is done at them, other appointments, laboratory work.

When and where a visit was booked never changes: one that is moved is a new visit that points back. Every move of a
visit or of laboratory work is a row of its own. Instants are UTC; beside each stands the zone in which it was agreed.
"""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from planner.patients.models import Patient
from planner.patients.names import label_name
from planner.plans.accepted_models import AcceptedPlan, Item
from planner.plans.charge_models import PlanCharge
from planner.practice.models import Noted, Office
from planner.rules.visit_states import LaboratoryState, VisitState
from planner.trail.fields import Public, Versioned

_STAFF = settings.AUTH_USER_MODEL
LONGEST_VISIT = 480
"""Minutes; no visit is longer than a day's work."""


class Chair(Public):
    """A chair of the office, named as in its book. The book says which are in use; a row stands for each ever used."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="chairs")
    name = models.CharField(max_length=40)

    class Meta:
        ordering = ("name", "id")
        constraints = [
            models.UniqueConstraint(fields=("office", "name"), name="chair_once"),
            models.CheckConstraint(condition=~Q(name=""), name="chair_named"),
        ]

    def __str__(self) -> str:
        return self.name


class WorkWeek(Noted):
    """On which weekdays somebody works from a day on. Without one, whenever the office is open."""

    clinician = models.ForeignKey(_STAFF, on_delete=models.PROTECT, related_name="work_weeks")
    effective = models.DateField()
    weekdays = models.JSONField(default=list)
    """Monday = 0."""

    class Meta:
        ordering = ("clinician", "effective", "id")
        indexes = [models.Index(fields=("office", "clinician", "-effective", "-id"), name="work_week_in_force")]

    def __str__(self) -> str:
        return f"from {self.effective}"


class Absence(Versioned):
    """Whole days on which somebody is not there. Why is nobody's business here."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    clinician = models.ForeignKey(_STAFF, on_delete=models.PROTECT, related_name="absences")
    first = models.DateField()
    last = models.DateField()
    by = models.ForeignKey(_STAFF, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    taken_back_by = models.ForeignKey(_STAFF, null=True, on_delete=models.PROTECT, related_name="+")
    taken_back_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ("first", "id")
        constraints = [models.CheckConstraint(condition=Q(last__gte=F("first")), name="absence_lasts")]
        indexes = [models.Index(fields=("office", "last"), name="absence_by_day")]

    def __str__(self) -> str:
        return f"{self.first} to {self.last}"


class BlockedTime(Versioned):
    """Time that is taken by something else than a visit of an accepted plan. It names no patient."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    clinician = models.ForeignKey(_STAFF, null=True, on_delete=models.PROTECT, related_name="+")
    chair = models.ForeignKey(Chair, null=True, on_delete=models.PROTECT, related_name="+")
    starts = models.DateTimeField()
    ends = models.DateTimeField()
    zone = models.CharField(max_length=60)
    words = models.CharField(max_length=80)
    by = models.ForeignKey(_STAFF, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    taken_back_by = models.ForeignKey(_STAFF, null=True, on_delete=models.PROTECT, related_name="+")
    taken_back_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ("starts", "id")
        constraints = [
            models.CheckConstraint(condition=Q(ends__gt=F("starts")), name="blocked_time_lasts"),
            models.CheckConstraint(
                condition=Q(clinician__isnull=False) | Q(chair__isnull=False), name="blocked_time_of_somebody"
            ),
            models.CheckConstraint(condition=~Q(words=""), name="blocked_time_said"),
        ]
        indexes = [models.Index(fields=("office", "starts"), name="blocked_time_by_day")]

    def __str__(self) -> str:
        return self.words


class Visit(Versioned):
    """A visit of an accepted plan. Only its state moves on; see :data:`planner.rules.visit_states.VISIT`."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="visits")
    plan = models.ForeignKey(AcceptedPlan, on_delete=models.PROTECT, related_name="visits")
    clinician = models.ForeignKey(_STAFF, on_delete=models.PROTECT, related_name="visits")
    chair = models.ForeignKey(Chair, on_delete=models.PROTECT, related_name="visits")
    starts = models.DateTimeField()
    ends = models.DateTimeField()
    zone = models.CharField(max_length=60)
    """IANA name of the zone in which the hour was agreed."""
    minutes = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=10, choices=[("work", "work"), ("review", "review")])
    key = models.CharField(max_length=80, blank=True)
    """Which visit of the course it is, such as ``bonding.bonding``; empty for one beside the course."""
    words = models.CharField(max_length=200)
    eight_in_ten = models.PositiveSmallIntegerField(null=True)
    """Minutes within which 8 of 10 such visits are over, as reckoned when it was booked."""
    despite = models.TextField(blank=True)
    """What was said against it when it was booked all the same, and why it was."""
    state = models.CharField(max_length=12, choices=[(str(one), str(one)) for one in VisitState])
    sequence = models.PositiveSmallIntegerField()
    """Counted within the plan in the order of booking."""
    follows = models.OneToOneField("self", null=True, on_delete=models.PROTECT, related_name="followed_by")
    """The visit in whose place it stands."""
    by = models.ForeignKey(_STAFF, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ("starts", "id")
        constraints = [
            models.UniqueConstraint(fields=("plan", "sequence"), name="visit_sequence_once"),
            models.CheckConstraint(condition=Q(ends__gt=F("starts")), name="visit_lasts"),
            models.CheckConstraint(
                condition=Q(minutes__gte=1) & Q(minutes__lte=LONGEST_VISIT), name="visit_minutes_possible"
            ),
            models.CheckConstraint(condition=Q(state__in=[str(one) for one in VisitState]), name="visit_state_known"),
            models.CheckConstraint(condition=Q(kind__in=("work", "review")), name="visit_kind_known"),
            models.CheckConstraint(condition=~Q(words=""), name="visit_said"),
        ]
        indexes = [
            models.Index(fields=("office", "starts"), name="visit_by_day"),
            models.Index(fields=("office", "state", "starts"), name="visit_by_state"),
        ]

    def __str__(self) -> str:
        return self.words


class VisitMove(Noted):
    """One move of a visit from one state to another."""

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="moves")
    sequence = models.PositiveSmallIntegerField()
    before = models.CharField(max_length=12, blank=True)
    after = models.CharField(max_length=12)
    reason = models.TextField(blank=True)
    caused_by = models.CharField(max_length=10, blank=True)
    """``patient``, ``office`` or ``stop``: all contact was stopped."""

    class Meta:
        ordering = ("visit", "sequence")
        constraints = [models.UniqueConstraint(fields=("visit", "sequence"), name="visit_move_once")]

    def __str__(self) -> str:
        return f"{self.before or 'new'} → {self.after}"


class VisitItem(Public):
    """An item that is to be done at a visit."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="visit_items")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="visit_items")

    class Meta:
        ordering = ("visit", "id")
        constraints = [models.UniqueConstraint(fields=("visit", "item"), name="visit_item_once")]

    def __str__(self) -> str:
        return f"item {self.item_id}"


class LateFee(Noted):
    """What the office asks for a visit that was cancelled late, or that it does not ask for it, and why."""

    visit = models.OneToOneField(Visit, on_delete=models.PROTECT, related_name="late_fee")
    code = models.CharField(max_length=12)
    words = models.CharField(max_length=120)
    price_list_version = models.PositiveIntegerField()
    cents = models.PositiveBigIntegerField()
    asked = models.BooleanField()
    reason = models.TextField(blank=True)
    charge = models.OneToOneField(PlanCharge, null=True, on_delete=models.PROTECT, related_name="late_fee")
    """Where it is asked for, the row of the plan's account: there it is owed, paid or waived."""

    class Meta:
        ordering = ("id",)

    def __str__(self) -> str:
        return self.words


class LaboratoryCase(Versioned):
    """A piece of work that a laboratory makes, and where it is. Its label says name and both numbers."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="+")
    plan = models.ForeignKey(AcceptedPlan, on_delete=models.PROTECT, related_name="laboratory_cases")
    visit_key = models.CharField(max_length=80, blank=True)
    """The visit of the course that needs it, such as ``wing-bridge.fit``."""
    words = models.CharField(max_length=120)
    laboratory = models.CharField(max_length=120)
    teeth = models.JSONField(default=list)
    """Keys of the teeth it is for."""
    label_name = models.CharField(max_length=200)
    label_iso = models.CharField(max_length=120, blank=True)
    label_universal = models.CharField(max_length=120, blank=True)
    sketch = models.TextField(blank=True)
    """What the sketch on the slip shows."""
    due = models.DateField(null=True)
    state = models.CharField(max_length=14, choices=[(str(one), str(one)) for one in LaboratoryState])
    by = models.ForeignKey(_STAFF, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ("due", "id")
        constraints = [
            models.CheckConstraint(condition=~Q(words="") & ~Q(label_name=""), name="laboratory_case_said"),
            models.CheckConstraint(
                condition=Q(state__in=[str(one) for one in LaboratoryState]), name="laboratory_state_known"
            ),
        ]
        indexes = [models.Index(fields=("office", "state", "due"), name="laboratory_by_state")]

    @property
    def label_said(self) -> str:
        """The name as the label is to say it: the first name in capitals."""
        return label_name(self.label_name, self.patient.sort_key)

    def __str__(self) -> str:
        return self.words


class LaboratoryMove(Noted):
    """One move of a piece of laboratory work."""

    case = models.ForeignKey(LaboratoryCase, on_delete=models.PROTECT, related_name="moves")
    sequence = models.PositiveSmallIntegerField()
    before = models.CharField(max_length=14, blank=True)
    after = models.CharField(max_length=14)
    due = models.DateField(null=True)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ("case", "sequence")
        constraints = [models.UniqueConstraint(fields=("case", "sequence"), name="laboratory_move_once")]

    def __str__(self) -> str:
        return f"{self.before or 'new'} → {self.after}"


# Tables of step sheets point at the ones above: they are read last.
import planner.visits.step_models  # noqa: E402, F401
