"""Cases, the plans frozen from them, and the estimates handed over.

A case is edited; what is shown to a patient never is. When a dentist checks an estimate, the case plan is frozen byte
for byte, and from then on everything is rendered from that copy.
"""

from django.conf import settings
from django.db import models
from django.db.models import Q

from planner.patients.models import Examination, Patient, PictureReading
from planner.practice.fields import day_words
from planner.practice.models import BookVersion, Office
from planner.rules.estimate_states import EstimateState
from planner.rules.teeth import Numbering
from planner.trail.fields import Public, Versioned


class Case(Versioned):
    """One question of one person: what was found, what is wished, and what the dentist decided around it."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="cases")
    examination = models.ForeignKey(Examination, on_delete=models.PROTECT, related_name="cases")
    name = models.CharField(max_length=80)
    numbering = models.CharField(max_length=10, default=Numbering.ISO.value)
    """How teeth are written for this case; they are stored by key."""
    notes = models.TextField(blank=True)
    wishes = models.JSONField(default=list)
    limits = models.JSONField(default=dict)
    matters = models.JSONField(default=dict)
    """What matters to the patient, as answered."""
    choices = models.JSONField(default=dict)
    at = models.DateTimeField()

    class Meta:
        ordering = ("patient", "-id")
        constraints = [
            models.UniqueConstraint(fields=("patient", "name"), name="case_name_once"),
            models.CheckConstraint(condition=~Q(name=""), name="case_named"),
            models.CheckConstraint(
                condition=Q(numbering__in=[system.value for system in Numbering]), name="case_numbering_known"
            ),
        ]
        indexes = [models.Index(fields=("office", "-id"), name="case_by_office")]

    def __str__(self) -> str:
        return self.name


class CasePicture(models.Model):
    """A picture reading that a case rests on."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    case = models.ForeignKey(Case, on_delete=models.CASCADE, related_name="case_pictures")
    picture = models.ForeignKey(PictureReading, on_delete=models.PROTECT, related_name="+")
    position = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ("case", "position")
        constraints = [
            models.UniqueConstraint(fields=("case", "picture"), name="case_picture_once"),
            models.UniqueConstraint(fields=("case", "position"), name="case_picture_position_once"),
        ]

    def __str__(self) -> str:
        return f"picture {self.position}"


class FrozenPlan(Public):
    """The case plan as it was when a dentist checked it: the very bytes, and the hashes of what they came from."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    case = models.ForeignKey(Case, on_delete=models.PROTECT, related_name="frozen_plans")
    examination = models.ForeignKey(Examination, on_delete=models.PROTECT, related_name="+")
    book = models.ForeignKey(BookVersion, on_delete=models.PROTECT, related_name="+")
    content = models.BinaryField()
    sha256 = models.CharField(max_length=64)
    facts_sha256 = models.CharField(max_length=64)
    deciding_sha256 = models.CharField(max_length=64)
    """Over the facts that can change a verdict, a length or a price; see :func:`planner.plans.facts.deciding_hash`."""
    rules_sha256 = models.CharField(max_length=64)
    frozen_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ("case", "id")
        constraints = [models.UniqueConstraint(fields=("case", "sha256"), name="frozen_once")]

    def __str__(self) -> str:
        return self.sha256[:12]


class State(models.TextChoices):
    """How far an estimate is; see :data:`planner.rules.estimate_states.ESTIMATE` for its moves."""

    DRAFT = EstimateState.DRAFT.value
    CHECKED = EstimateState.CHECKED.value
    SHOWN = EstimateState.SHOWN.value
    ANSWERED = EstimateState.ANSWERED.value
    REPLACED = EstimateState.REPLACED.value


class Answer(models.TextChoices):
    """What the patient said."""

    ALL = "all of an option"
    PART = "part of an option"
    NONE = "none, thanks"
    NO_TREATMENT = "chose no treatment"
    ELSEWHERE = "other place"


class Channel(models.TextChoices):
    """How an estimate was put before the patient."""

    IN_PERSON = "in person"
    PAPER = "paper by post"
    SCREEN = "hand-over screen"
    CALL = "call"


class Estimate(Versioned):
    """The priced set of options handed over. A change after it was checked is a new issue under the same number."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    case = models.ForeignKey(Case, on_delete=models.PROTECT, related_name="estimates")
    number = models.PositiveIntegerField()
    issue = models.PositiveSmallIntegerField(default=1)
    replaces = models.ForeignKey("self", null=True, on_delete=models.PROTECT, related_name="replaced_by")
    state = models.CharField(max_length=10, choices=State.choices, default=State.DRAFT)
    options = models.JSONField(default=list)
    """Keys of the options handed over, in the order of the plan; empty in a draft means all that can be offered."""
    frozen = models.ForeignKey(FrozenPlan, null=True, on_delete=models.PROTECT, related_name="estimates")
    book = models.ForeignKey(BookVersion, null=True, on_delete=models.PROTECT, related_name="+")
    checked_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    checked_at = models.DateTimeField(null=True)
    valid_through = models.DateField(null=True)
    shown_on = models.DateField(null=True)
    """The first day; every showing is a row of its own."""
    answer = models.CharField(max_length=20, choices=Answer.choices, blank=True)
    answered_on = models.DateField(null=True)
    answered_by = models.CharField(max_length=200, blank=True)
    answered_option = models.CharField(max_length=200, blank=True)
    answer_words = models.TextField(blank=True)
    created_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ("-at", "-id")
        constraints = [
            models.UniqueConstraint(fields=("office", "number", "issue"), name="estimate_issue_once"),
            models.CheckConstraint(condition=Q(number__gte=1, issue__gte=1), name="estimate_numbers_from_one"),
            models.CheckConstraint(condition=Q(state__in=State.values), name="estimate_state_known"),
            models.CheckConstraint(condition=Q(answer__in=("", *Answer.values)), name="estimate_answer_known"),
            models.CheckConstraint(
                condition=Q(state__in=(State.DRAFT, State.REPLACED))
                | Q(
                    frozen__isnull=False,
                    book__isnull=False,
                    checked_by__isnull=False,
                    checked_at__isnull=False,
                    valid_through__isnull=False,
                ),
                name="estimate_checked_is_frozen",
            ),
            models.CheckConstraint(
                condition=~Q(state__in=(State.SHOWN, State.ANSWERED)) | Q(shown_on__isnull=False),
                name="estimate_shown_on_a_day",
            ),
            models.CheckConstraint(
                condition=~Q(state=State.ANSWERED)
                | (~Q(answer="") & ~Q(answered_by="") & Q(answered_on__isnull=False)),
                name="estimate_answered_by_somebody",
            ),
        ]
        indexes = [
            models.Index(fields=("office", "-at", "-id"), name="estimate_newest"),
            models.Index(fields=("office", "state", "-at", "-id"), name="estimate_by_state"),
        ]

    def __str__(self) -> str:
        return f"{self.number}-{self.issue}"

    @property
    def state_words(self) -> str:
        """The state, and with an answer which one it was, whose and when: what whoever comes second has to know."""
        if self.state != State.ANSWERED or self.answered_on is None:
            return str(self.state)
        option = f" ({self.answered_option})" if self.answered_option else ""
        return f"{self.state}: “{self.answer}”{option}, said by {self.answered_by} on {day_words(self.answered_on)}"


class Showing(Public):
    """One occasion on which an estimate was put before somebody: who, when, how, by whom."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    estimate = models.ForeignKey(Estimate, on_delete=models.PROTECT, related_name="showings")
    on = models.DateField()
    to = models.CharField(max_length=200)
    channel = models.CharField(max_length=20, choices=Channel.choices)
    sha256 = models.CharField(max_length=64)
    """Of the frozen plan that was shown."""
    shown_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ("estimate", "id")
        constraints = [
            models.CheckConstraint(condition=~Q(to=""), name="shown_to_somebody"),
            models.CheckConstraint(condition=Q(channel__in=Channel.values), name="shown_channel_known"),
        ]

    def __str__(self) -> str:
        return f"shown on {self.on}"


# The tables of what was accepted and of what payers may add. They point at the ones above by name: they are read last.
import planner.plans.accepted_models  # noqa: E402
import planner.plans.arrangement_models  # noqa: E402
import planner.plans.charge_models  # noqa: E402
import planner.plans.consent_models  # noqa: E402
import planner.plans.others_models  # noqa: E402
import planner.plans.payer_models  # noqa: E402
import planner.plans.takeover_models  # noqa: E402, F401
