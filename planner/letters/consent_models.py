"""Consents: which letter was handed over, what was asked and answered, what was signed, and what was withdrawn.

Document (the letter's bytes), signature (a record that points at their hash) and signed copy (a document of its own)
are three rows. Only how far a consent is moves; all else is added and never changed.
"""

from django.conf import settings
from django.db import models
from django.db.models import Q

from planner.plans.models import Case, Estimate
from planner.practice.models import Noted, Office
from planner.rules.consent_states import ConsentState
from planner.rules.signing import Basis, Choice, Method
from planner.trail.fields import Versioned

_STAFF = settings.AUTH_USER_MODEL


def _choices(values: type) -> list[tuple[str, str]]:
    return [(str(value), str(value)) for value in values]  # type: ignore[attr-defined]


class Consent(Versioned):
    """The consent to one letter: of one estimate, about one option. Another content is another consent."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    case = models.ForeignKey(Case, on_delete=models.PROTECT, related_name="consents")
    estimate = models.ForeignKey(Estimate, on_delete=models.PROTECT, related_name="consents")
    option_key = models.CharField(max_length=200)
    """Of the option that the letter is about; empty where it is about none."""
    says_sha256 = models.CharField(max_length=64)
    """Over what the letter says, whatever its day, language, print size and sheet."""
    state = models.CharField(max_length=20, choices=_choices(ConsentState), default=ConsentState.NONE.value)
    at = models.DateTimeField()

    class Meta:
        ordering = ("case", "-id")
        constraints = [
            models.UniqueConstraint(
                fields=("estimate", "says_sha256"),
                condition=~Q(state__in=(ConsentState.WITHDRAWN.value, ConsentState.REPLACED.value)),
                name="consent_once_for_a_letter",
            ),
            models.CheckConstraint(condition=Q(state__in=[str(one) for one in ConsentState]), name="consent_state"),
        ]
        indexes = [models.Index(fields=("office", "state"), name="consent_by_state")]

    def __str__(self) -> str:
        return f"consent of estimate {self.estimate}"


class Channel(models.TextChoices):
    """How a letter or a copy came to somebody."""

    PAPER = "on paper, by hand"
    POST = "paper by post"
    TABLET = "on the office tablet"
    FILE = "as a file, at the patient's wish"


class Handing(Noted):
    """One handing over of a letter: which paper, to whom, how, when and by whom."""

    consent = models.ForeignKey(Consent, on_delete=models.PROTECT, related_name="handings")
    document = models.ForeignKey("letters.Document", on_delete=models.PROTECT, related_name="handings")
    to = models.CharField(max_length=200)
    channel = models.CharField(max_length=40, choices=Channel.choices)
    handed_at = models.DateTimeField()
    """From here the time to think it over runs; a reprint of the same content in the same language starts none."""

    class Meta:
        ordering = ("consent", "id")
        constraints = [
            models.CheckConstraint(condition=~Q(to=""), name="handed_to_somebody"),
            models.CheckConstraint(condition=Q(channel__in=Channel.values), name="handed_channel_known"),
        ]

    def __str__(self) -> str:
        return f"handed to {self.to}"


class Question(Noted):
    """Something the patient asked, about a letter or, before there is one, about an estimate that is shown.

    While it is open nothing is signed: neither that letter nor one of the estimate.
    """

    consent = models.ForeignKey(Consent, null=True, on_delete=models.PROTECT, related_name="questions")
    estimate = models.ForeignKey(Estimate, null=True, on_delete=models.PROTECT, related_name="questions")
    """Where it was asked before a letter was handed over; it holds for every issue of that number."""
    words = models.TextField()
    """As it was asked."""
    asked_by = models.CharField(max_length=200)
    clinical = models.BooleanField()
    """A dentist answers it."""
    owner = models.ForeignKey(_STAFF, null=True, on_delete=models.PROTECT, related_name="+")
    """Who sees to it that it is answered; None on rows from before that was asked."""
    due_on = models.DateField(null=True)
    """The day by which the patient has an answer, in the office's zone; None where none was set."""

    class Meta:
        ordering = ("consent", "id")
        constraints = [
            models.CheckConstraint(condition=~Q(words="") & ~Q(asked_by=""), name="question_asked_by_somebody"),
            models.CheckConstraint(
                condition=Q(consent__isnull=False, estimate__isnull=True)
                | Q(consent__isnull=True, estimate__isnull=False),
                name="question_about_one",
            ),
        ]

    def __str__(self) -> str:
        return self.words[:60]

    @property
    def about(self) -> Estimate:
        """The estimate that it, or the letter it is about, belongs to."""
        found = self.estimate if self.consent is None else self.consent.estimate
        assert found is not None  # by the database's constraint
        return found


class TalkHeld(Noted):
    """A talk about the letter: with which dentist, when, and what was said back. A further talk is a further row."""

    consent = models.ForeignKey(Consent, on_delete=models.PROTECT, related_name="talks")
    clinician = models.ForeignKey(_STAFF, on_delete=models.PROTECT, related_name="+")
    held_at = models.DateTimeField()
    words = models.TextField(blank=True)
    """What was talked about, in few words."""

    class Meta:
        ordering = ("consent", "id")

    def __str__(self) -> str:
        return f"talk with {self.clinician}"


class QuestionAnswer(Noted):
    """What was answered, by whom; a better answer is a further row."""

    question = models.ForeignKey(Question, on_delete=models.PROTECT, related_name="answers")
    words = models.TextField()

    class Meta:
        ordering = ("question", "id")
        constraints = [models.CheckConstraint(condition=~Q(words=""), name="answer_not_empty")]

    def __str__(self) -> str:
        return self.words[:60]


class Signature(Noted):
    """What was signed: all that was stated, as one text with its hash, pointing at the hash of the letter's bytes."""

    consent = models.OneToOneField(Consent, on_delete=models.PROTECT, related_name="signature")
    document = models.ForeignKey("letters.Document", on_delete=models.PROTECT, related_name="signatures")
    """The very paper that was signed."""
    document_sha256 = models.CharField(max_length=64)
    copy = models.OneToOneField("letters.Document", on_delete=models.PROTECT, related_name="signature_of")
    """The signed copy: the letter with its signature sheet."""
    content = models.TextField()
    """Everything stated, canonical JSON, the very text that was digested; a random salt is part of it."""
    sha256 = models.CharField(max_length=64)
    """Of ``content``; the trail names it too."""
    signer = models.CharField(max_length=200)
    basis = models.CharField(max_length=30, choices=_choices(Basis))
    method = models.CharField(max_length=50, choices=_choices(Method))
    choice = models.CharField(max_length=40, choices=_choices(Choice))
    pieces = models.JSONField(default=list)
    """For a yes to a part: the pieces of the option."""
    clinician = models.ForeignKey(_STAFF, on_delete=models.PROTECT, related_name="+")
    """The dentist who held the talk."""
    signed_on = models.DateField()
    """In the office's zone."""

    class Meta:
        ordering = ("consent", "id")
        constraints = [
            models.CheckConstraint(condition=~Q(signer=""), name="signed_by_somebody"),
            models.CheckConstraint(condition=Q(choice__in=[str(one) for one in Choice]), name="signed_choice_known"),
            models.CheckConstraint(condition=Q(method__in=[str(one) for one in Method]), name="signed_method_known"),
            models.CheckConstraint(condition=Q(basis__in=[str(one) for one in Basis]), name="signed_basis_known"),
        ]
        indexes = [models.Index(fields=("office", "-at", "-id"), name="signature_newest")]

    def __str__(self) -> str:
        return f"{self.signer}: {self.choice}"


class Countersignature(Noted):
    """The dentist who held the talk confirms it, in the own name."""

    signature = models.OneToOneField(Signature, on_delete=models.PROTECT, related_name="countersignature")
    licence = models.CharField(max_length=60)

    class Meta:
        constraints = [models.CheckConstraint(condition=~Q(licence=""), name="countersigned_with_licence")]

    def __str__(self) -> str:
        return f"countersigned by {self.by}"


class Withdrawal(Noted):
    """A consent taken back in the patient's words, wholly or for some items; what was explained, where it stands."""

    consent = models.ForeignKey(Consent, on_delete=models.PROTECT, related_name="withdrawals")
    words = models.TextField()
    """As they were said."""
    said_by = models.CharField(max_length=200)
    how = models.CharField(max_length=200)
    """In person, by telephone, with a raised hand ..."""
    said_at = models.DateTimeField()
    scope = models.CharField(max_length=10, choices=[("all", "all"), ("items", "items")])
    items = models.JSONField(default=list)
    """Of the items it covers: public id and words."""
    explained = models.TextField(blank=True)
    """What was explained about it: what may follow, what would make the teeth safe."""
    work_done = models.JSONField(default=list)
    """In words, what was done by then."""
    paid_cents = models.BigIntegerField(default=0)
    earned_cents = models.BigIntegerField(default=0)
    refund_cents = models.BigIntegerField(default=0)
    due_cents = models.BigIntegerField(default=0)

    class Meta:
        ordering = ("consent", "id")
        constraints = [
            models.CheckConstraint(
                condition=~Q(words="") & ~Q(said_by="") & Q(scope__in=("all", "items")), name="withdrawn_in_words"
            )
        ]

    def __str__(self) -> str:
        return f"withdrawn: {self.scope}"
