"""Papers as they were made: the very bytes, never made again and never changed."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from planner.plans.models import Estimate, FrozenPlan
from planner.practice.models import Noted, Office
from planner.trail.fields import Public


class Document(Public):
    """One paper. A changed plan, answer or print size makes another paper; a reprint is this one again."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    frozen = models.ForeignKey(FrozenPlan, on_delete=models.PROTECT, related_name="documents")
    estimate = models.ForeignKey(Estimate, null=True, on_delete=models.PROTECT, related_name="documents")
    kind = models.CharField(max_length=40)
    version_words = models.CharField(max_length=80)
    """Number and version of the estimate as printed on every page, or ``draft``."""
    language = models.CharField(max_length=2)
    points = models.PositiveSmallIntegerField()
    paper = models.CharField(max_length=10)
    issue_sha256 = models.CharField(max_length=64)
    """Over everything that was passed in beside the frozen plan; with the plan it decides what the paper says."""
    issue = models.TextField(blank=True)
    """That very input, canonical JSON; empty for papers that were made before it was kept."""
    plan_sha256 = models.CharField(max_length=64)
    """Of the frozen JSON; printed on the paper."""
    content = models.BinaryField()
    sha256 = models.CharField(max_length=64)
    """Of ``content``."""
    pages = models.PositiveSmallIntegerField()
    created_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ("-at", "-id")
        constraints = [
            models.UniqueConstraint(
                fields=("frozen", "kind", "language", "points", "paper", "issue_sha256"), name="document_once"
            ),
            models.CheckConstraint(condition=Q(pages__gte=1), name="document_has_pages"),
        ]
        indexes = [
            models.Index(fields=("office", "-at", "-id"), name="document_newest"),
            models.Index(fields=("plan_sha256",), name="document_by_data"),
            models.Index(fields=("sha256",), name="document_by_file"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.version_words}"

    @property
    def file_name(self) -> str:
        """A file name that names no patient."""
        return f"{self.kind}-{self.public_id}.pdf"


class ReadingReason(Noted):
    """Why a dentist lets a paper be signed that is harder to read than it should be; in that dentist's name."""

    document = models.ForeignKey(Document, on_delete=models.PROTECT, related_name="reading_reasons")
    grade = models.DecimalField(max_digits=4, decimal_places=1)
    """As measured on the stored file when the reason was given."""
    reason = models.CharField(max_length=500)

    class Meta:
        ordering = ("-at", "-id")
        constraints = [models.CheckConstraint(condition=~Q(reason=""), name="reading_reason_given")]

    def __str__(self) -> str:
        return f"{self.document}: {self.grade}"


# The tables of consents point at the ones above by name: they are read last.
import planner.letters.consent_models  # noqa: E402, F401
