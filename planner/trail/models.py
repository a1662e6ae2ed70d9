"""The record of who did what: one chain of entries, and beside it what the entries are about.

The chain holds a salted digest and never the content, so that content can be erased where the law asks for it and the
chain still verifies. Rows are written by :mod:`planner.trail.services` only, and the database itself refuses to change
them (see :mod:`planner.trail.triggers`).
"""

from django.conf import settings
from django.db import models
from django.db.models import Q


class TrailEntry(models.Model):
    """One act, chained to the one before it by hash."""

    sequence = models.BigIntegerField(primary_key=True)
    """1, 2, 3 ... without a hole: the order of events, also in the night the clocks change."""
    office = models.ForeignKey("practice.Office", null=True, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    actor = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    actor_name = models.CharField(max_length=200, blank=True)
    role = models.CharField(max_length=200, blank=True)
    act = models.CharField(max_length=60)
    subject_kind = models.CharField(max_length=40, blank=True)
    subject_id = models.CharField(max_length=40, blank=True)
    reason = models.TextField(blank=True)
    digest = models.CharField(max_length=64, blank=True)
    """SHA-256 of salt and content; empty when the entry has no content."""
    previous = models.CharField(max_length=64, blank=True)
    hash = models.CharField(max_length=64, unique=True)

    class Meta:
        ordering = ("sequence",)
        constraints = [
            models.CheckConstraint(condition=Q(sequence__gte=1), name="trail_sequence_from_one"),
            models.CheckConstraint(condition=~Q(act=""), name="trail_act_named"),
        ]
        indexes = [
            models.Index(fields=("office", "sequence"), name="trail_by_office"),
            models.Index(fields=("subject_kind", "subject_id", "sequence"), name="trail_by_subject"),
            models.Index(fields=("actor", "sequence"), name="trail_by_actor"),
        ]

    def __str__(self) -> str:
        return f"{self.sequence} {self.act}"


class Erasure(models.Model):
    """Somebody's file that was erased: who asked, who agreed, why, what the papers' hashes were, and what law keeps.

    The guards let rows of that person go because this row is here; it names nobody.
    """

    office = models.ForeignKey("practice.Office", on_delete=models.PROTECT, related_name="+")
    subject_id = models.CharField(max_length=16, unique=True)
    """The random public id that the person had."""
    reason = models.TextField()
    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    """Who agreed. Both are None where an erasure was done again after an older backup was restored."""
    at = models.DateTimeField()
    papers = models.JSONField(default=list)
    """Of each stored paper and signature that went: its public id and SHA-256."""
    kept = models.JSONField(default=dict)
    """What law keeps without the name, and the sentence why; empty when nothing."""

    class Meta:
        ordering = ("id",)
        constraints = [models.CheckConstraint(condition=~Q(reason=""), name="erasure_has_a_reason")]

    def __str__(self) -> str:
        return f"erased: {self.subject_id}"


class TrailDetail(models.Model):
    """What an entry was about. Goes, with its salt, by the erase act and in no other way."""

    entry = models.OneToOneField(TrailEntry, primary_key=True, on_delete=models.PROTECT, related_name="detail")
    office = models.ForeignKey("practice.Office", null=True, on_delete=models.PROTECT, related_name="+")
    salt = models.CharField(max_length=32)
    content = models.TextField()
    """Canonical JSON, the very text that was digested."""

    class Meta:
        ordering = ("entry",)

    def __str__(self) -> str:
        return f"detail of {self.entry_id}"
