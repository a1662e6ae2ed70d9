"""Step sheets as they were drawn up, and what happened at them: rows that only grow.

The state of a step is its last stamp. A stamp made by mistake is answered by another, "back".
"""

from django.db import models
from django.db.models import Q

from planner.plans.accepted_models import Amendment
from planner.practice.models import Noted
from planner.practice.stock_models import StockLot
from planner.visits.models import Visit


class StepSheetCopy(Noted):
    """The step sheet of a visit as it was drawn up; one that comes out otherwise is a new row with the next number."""

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="step_sheets")
    number = models.PositiveSmallIntegerField()
    content = models.TextField()
    """Canonical JSON: the sheet, the visit, the agreed list; see :mod:`planner.visits.steps`."""
    sha256 = models.CharField(max_length=64)
    """Of ``content``."""

    class Meta:
        ordering = ("visit", "number")
        constraints = [models.UniqueConstraint(fields=("visit", "number"), name="step_sheet_number_once")]

    def __str__(self) -> str:
        return f"step sheet {self.number}"


class StampKind(models.TextChoices):
    """What happened to a step."""

    BEGUN = "begun"
    """The first step was begun: minutes are counted from here."""
    DONE = "done"
    LEFT_OUT = "left out"
    BACK = "back"
    """The stamp before was a mistake, or the step has to be done again."""


class StepStamp(Noted):
    """Something that happened to one step, at the instant at which it was tapped."""

    sheet = models.ForeignKey(StepSheetCopy, on_delete=models.PROTECT, related_name="stamps")
    sequence = models.PositiveSmallIntegerField()
    run = models.CharField(max_length=90, blank=True)
    """``bonding.A12@21``; empty for the beginning."""
    kind = models.CharField(max_length=10, choices=StampKind.choices)
    reason = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ("sheet", "sequence")
        constraints = [
            models.UniqueConstraint(fields=("sheet", "sequence"), name="step_stamp_once"),
            models.CheckConstraint(condition=Q(kind__in=StampKind.values), name="step_stamp_known"),
            models.CheckConstraint(condition=~Q(kind="left out") | ~Q(reason=""), name="step_left_out_for_a_reason"),
        ]

    def __str__(self) -> str:
        return f"{self.run} {self.kind}"


class StepLot(Noted):
    """Which lot of a material was opened at a step: how a recall finds the patient."""

    sheet = models.ForeignKey(StepSheetCopy, on_delete=models.PROTECT, related_name="lots")
    run = models.CharField(max_length=90)
    lot = models.ForeignKey(StockLot, on_delete=models.PROTECT, related_name="used_in_steps")

    class Meta:
        ordering = ("sheet", "id")
        constraints = [models.UniqueConstraint(fields=("sheet", "run", "lot"), name="step_lot_once")]

    def __str__(self) -> str:
        return f"{self.run}: {self.lot}"


class NoteKind(models.TextChoices):
    """What turned out otherwise than planned."""

    FOUND = "found"
    INSTEAD = "did instead"
    LEFT_OUT = "left out"


class ChairNote(Noted):
    """Something found, done instead or left out during a visit, written down at once with gloves on."""

    sheet = models.ForeignKey(StepSheetCopy, on_delete=models.PROTECT, related_name="notes")
    run = models.CharField(max_length=90, blank=True)
    kind = models.CharField(max_length=12, choices=NoteKind.choices)
    tooth = models.CharField(max_length=60, blank=True)
    """Key of the tooth."""
    words = models.CharField(max_length=300, blank=True)
    agreed = models.CharField(max_length=1000, blank=True)
    """The line of the list agreed before that covers it; empty where none does."""

    class Meta:
        ordering = ("sheet", "id")
        constraints = [
            models.CheckConstraint(condition=Q(kind__in=NoteKind.values), name="chair_note_known"),
            models.CheckConstraint(condition=~Q(words="") | ~Q(agreed=""), name="chair_note_says_something"),
        ]

    def __str__(self) -> str:
        return f"{self.kind}: {self.words or self.agreed}"


class NoteSettled(Noted):
    """What a dentist made of a chair note: a change of the accepted plan, or why none is needed."""

    note = models.OneToOneField(ChairNote, on_delete=models.PROTECT, related_name="settled")
    amendment = models.ForeignKey(Amendment, null=True, on_delete=models.PROTECT, related_name="chair_notes")
    words = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ("id",)
        constraints = [
            models.CheckConstraint(condition=Q(amendment__isnull=False) | ~Q(words=""), name="note_settled_somehow")
        ]

    def __str__(self) -> str:
        return str(self.amendment or self.words)


class StepsClosed(Noted):
    """The visit is over as far as its steps go: whether something disturbed it, and whether its minutes are learnt."""

    sheet = models.OneToOneField(StepSheetCopy, on_delete=models.PROTECT, related_name="closed")
    disturbed = models.BooleanField()
    why = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ("id",)
        constraints = [
            models.CheckConstraint(condition=Q(disturbed=False) | ~Q(why=""), name="steps_disturbed_by_something")
        ]

    def __str__(self) -> str:
        return "disturbed" if self.disturbed else "closed"


class StepAmount(Noted):
    """How much of a material a visit really used, beside the forecast of its sheet, in hundredths of a unit."""

    sheet = models.ForeignKey(StepSheetCopy, on_delete=models.PROTECT, related_name="amounts")
    material = models.CharField(max_length=60)
    """Key in the office book."""
    unit = models.CharField(max_length=20)
    planned_hundredths = models.PositiveBigIntegerField()
    used_hundredths = models.PositiveBigIntegerField()
    basis = models.CharField(max_length=80)
    """The amounts of the book on which the forecast rested, as text: see :func:`planner.visits.amounts.basis_of`."""
    lot = models.ForeignKey(StockLot, null=True, on_delete=models.PROTECT, related_name="+")
    """The one lot that was opened, from which it was taken; None where none or several were."""

    class Meta:
        ordering = ("sheet", "id")
        constraints = [models.UniqueConstraint(fields=("sheet", "material"), name="step_amount_once")]

    def __str__(self) -> str:
        return f"{self.material}: {self.used_hundredths}"
