"""What is on the shelf, and how long work really took: rows that only grow. Amounts are whole hundredths of a unit."""

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from planner.practice.models import Noted, Office
from planner.trail.fields import Public

_STAFF = settings.AUTH_USER_MODEL


class MoveKind(models.TextChoices):
    """Why the amount of a lot changed."""

    RECEIVED = "received"
    USED = "used"
    DISCARDED = "discarded"
    COUNTED = "counted"
    """The shelf was counted and held more or less than the rows say."""


class StockLot(Public):
    """Packs of one material that came together with one lot number and one last day."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="stock_lots")
    material = models.CharField(max_length=60)
    """Key in the office book."""
    unit = models.CharField(max_length=20)
    """As the office book counted the material when the lot came."""
    code = models.CharField(max_length=40)
    """Lot number as printed on the pack."""
    packs = models.PositiveIntegerField()
    pack_hundredths = models.PositiveBigIntegerField()
    """What one pack holds."""
    expires = models.DateField(null=True)
    """Last day on which it may be used; None where the maker prints none."""
    received = models.DateField()
    by = models.ForeignKey(_STAFF, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ("material", F("expires").asc(nulls_last=True), "id")
        constraints = [
            models.CheckConstraint(condition=~Q(material="") & ~Q(code="") & ~Q(unit=""), name="stock_lot_named"),
            models.CheckConstraint(condition=Q(packs__gte=1, pack_hundredths__gte=1), name="stock_lot_holds_something"),
        ]
        indexes = [models.Index(fields=("office", "material"), name="stock_by_material")]

    def __str__(self) -> str:
        return f"{self.material} {self.code}"


class StockMove(Noted):
    """One change of what is left of a lot. What is left is the sum of its moves, never a stored figure."""

    lot = models.ForeignKey(StockLot, on_delete=models.PROTECT, related_name="moves")
    sequence = models.PositiveIntegerField()
    kind = models.CharField(max_length=10, choices=MoveKind.choices)
    hundredths = models.BigIntegerField()
    """Added to what is left; below zero for what went out."""
    reason = models.CharField(max_length=300, blank=True)
    on = models.DateField()

    class Meta:
        ordering = ("lot", "sequence")
        constraints = [
            models.UniqueConstraint(fields=("lot", "sequence"), name="stock_move_once"),
            models.CheckConstraint(condition=Q(kind__in=MoveKind.values), name="stock_move_known"),
            models.CheckConstraint(
                condition=Q(kind=MoveKind.RECEIVED, hundredths__gt=0)
                | Q(kind__in=(MoveKind.USED, MoveKind.DISCARDED), hundredths__lt=0)
                | Q(kind=MoveKind.COUNTED),
                name="stock_move_goes_its_way",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.hundredths}"


class WorkTiming(Public):
    """Minutes that a block of work really took."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="work_timings")
    treatment = models.CharField(max_length=60)
    visit = models.CharField(max_length=60)
    """Key of the visit, as the treatment's own file calls it."""
    block = models.CharField(max_length=10)
    """``set-up``, ``per tooth`` or ``finish``."""
    teeth = models.PositiveSmallIntegerField()
    """Among how many teeth the minutes were shared; 1 where the block is not counted by tooth."""
    minutes = models.PositiveSmallIntegerField()
    """Of all those teeth together."""
    on = models.DateField()
    worked = models.ForeignKey(_STAFF, on_delete=models.PROTECT, related_name="+")
    """Who did the work."""
    disturbed = models.BooleanField()
    why = models.CharField(max_length=300, blank=True)
    """What disturbed it."""
    by = models.ForeignKey(_STAFF, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ("on", "id")
        constraints = [
            models.CheckConstraint(condition=Q(block__in=("set-up", "per tooth", "finish")), name="timing_block_known"),
            models.CheckConstraint(condition=Q(teeth__gte=1, teeth__lte=32), name="timing_of_teeth"),
            models.CheckConstraint(condition=Q(minutes__gte=1, minutes__lte=600), name="timing_minutes_possible"),
            models.CheckConstraint(condition=Q(disturbed=False) | ~Q(why=""), name="timing_disturbed_by_something"),
        ]
        indexes = [models.Index(fields=("office", "treatment", "visit", "block"), name="timing_by_block")]

    def __str__(self) -> str:
        return f"{self.treatment}.{self.visit} {self.block}: {self.minutes}"


class MinutesAdopted(Noted):
    """Own timings were taken into the office book: those up to here are in its minutes, not to be learnt from again."""

    treatment = models.CharField(max_length=60)
    visit = models.CharField(max_length=60)
    block = models.CharField(max_length=10)
    last = models.ForeignKey(WorkTiming, on_delete=models.PROTECT, related_name="+")
    """The last timing, by order of writing, that was looked at."""
    book = models.ForeignKey("practice.BookVersion", on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ("id",)
        indexes = [models.Index(fields=("office", "treatment", "visit", "block"), name="minutes_adopted_by_block")]

    def __str__(self) -> str:
        return f"{self.treatment}.{self.visit} {self.block} into {self.book}"
