"""What the space-sharing model answers: plain frozen types, every figure with what it is made of.

A :class:`SpaceResult` carries up to three plans or, when nothing fits, why not and what would have to move. Lengths are
whole tenths of a millimetre, misfit whole tenths of a point.
"""

from dataclasses import dataclass
from enum import StrEnum

from planner.rules.space_model import Segment, SpaceTooth, mesial_is_left
from planner.rules.units import format_mm
from planner.rules.words import listed, mm, told


class Rule(StrEnum):
    """The hard limits that a conflict set may name. Balance, slivers, traps and shortening are never given up."""

    SHARE_CAP = "share cap"
    EMERGENCE = "emergence"
    LENGTHEN_CAP = "lengthen cap"
    SHAPE = "shape"
    PROPORTION = "proportion"
    TWINS = "twins"
    MIDLINE = "midline"


class Goal(StrEnum):
    """What a plan puts first, after removing least beyond the locks and staying within comfort."""

    FEWEST_TEETH = "fewest teeth"
    BEST_PROPORTION = "best proportion"
    SMALLEST_SHARES = "smallest shares"


class Word(StrEnum):
    """One word for how a tooth comes out."""

    GOOD = "good"
    ACCEPTABLE = "acceptable"
    LIMIT = "limit"


class SpaceVerdict(StrEnum):
    """What the model answers."""

    FITS = "fits"
    ASK_FILM = "ask about a film"
    MEASURE_AGAIN = "measure again"
    """Nothing fits, but the smallest movement lies within the error of a gap reading."""
    TEETH_FIRST = "orthodontics first"
    """Nothing fits before teeth are moved."""
    IMPOSSIBLE = "impossible"
    """Nothing fits, and no movement of the teeth within reach changes that."""


@dataclass(frozen=True, slots=True)
class MisfitItem:
    """One band a plan lies outside of: how that part of the misfit was reached."""

    band: str
    """Name of the setting, such as ``band_ratio``."""
    teeth: tuple[str, ...]
    outside: int
    """Tenths of a millimetre outside the band."""
    weight: int
    words: str
    """One plain sentence with the figures."""

    @property
    def points(self) -> int:
        """``outside`` times ``weight``, in tenths of a misfit point."""
        return self.outside * self.weight


@dataclass(frozen=True, slots=True)
class ToothChange:
    """What a plan does to one tooth. Lengths in 0.1 mm."""

    tooth: SpaceTooth
    share_right: int
    share_left: int
    lengthening: int
    shortening: int
    beyond_comfort: tuple[str, ...] = ()
    """One sentence for every share or edge beyond comfort."""
    word: Word = Word.GOOD
    reasons: tuple[str, ...] = ()
    """Why the word is not "good"."""

    @property
    def key(self) -> str:
        return self.tooth.key

    @property
    def share_mesial(self) -> int:
        return self.share_left if mesial_is_left(self.tooth) else self.share_right

    @property
    def share_distal(self) -> int:
        return self.share_right if mesial_is_left(self.tooth) else self.share_left

    @property
    def width(self) -> int:
        """Width afterwards."""
        return self.tooth.bare_width + self.share_right + self.share_left

    @property
    def length(self) -> int:
        """Length afterwards."""
        return self.tooth.length + self.lengthening - self.shortening

    @property
    def touched(self) -> bool:
        return bool(self.bonded or self.shortening or self.tooth.locks.slendering)

    @property
    def bonded(self) -> bool:
        """Material is added (a tooth that only loses enamel is touched but not bonded)."""
        return bool(self.share_right or self.share_left or self.lengthening)

    @property
    def shape_thousandths(self) -> int:
        """Width over length afterwards, in thousandths, half up: 0.848 is 848."""
        return (2000 * self.width + self.length) // (2 * self.length)


@dataclass(frozen=True, slots=True)
class SpacePlan:
    """One way to share the space. Lengths in 0.1 mm; misfit in tenths of a point."""

    goals: tuple[Goal, ...]
    """Every goal whose plan this is; empty for closing a part."""
    offered: bool
    changes: tuple[ToothChange, ...]
    gaps_left: tuple[int, ...]
    removed: int
    removed_by_locks: int
    comfort: int
    """How many shares and edges lie beyond comfort; 0 is comfortable."""
    touching: int
    misfit: int
    material: int
    largest_share: int
    items: tuple[MisfitItem, ...]
    """The misfit, band by band; their points add up to ``misfit``."""
    cares: tuple[str, ...] = ()
    """What the dentist should know and say before doing it; empty when nothing needs care."""
    not_offered_because: str = ""

    @property
    def removed_beyond_locks(self) -> int:
        return self.removed - self.removed_by_locks

    @property
    def touched(self) -> tuple[str, ...]:
        """Keys of the touched teeth in arch order."""
        return tuple(change.key for change in self.changes if change.touched)

    def change(self, key: str) -> ToothChange:
        """The change of one tooth. Raises KeyError for a tooth that is not in the segment."""
        for change in self.changes:
            if change.key == key:
                return change
        raise KeyError(key)


@dataclass(frozen=True, slots=True)
class ConflictSet:
    """Rules and locks that, given up together, would make the space shareable."""

    rules: tuple[Rule, ...]
    locks: tuple[str, ...] = ()
    """The dentist's locks among them, in words."""


@dataclass(frozen=True, slots=True)
class GapMove:
    """One gap that must change by tooth movement: ``by`` is minus when it closes. 0.1 mm."""

    gap: int
    between: tuple[str, str]
    by: int


@dataclass(frozen=True, slots=True)
class Movement:
    """The least tooth movement after which bonding fits. 0.1 mm."""

    total: int
    moves: tuple[GapMove, ...]
    elsewhere: tuple[tuple[GapMove, ...], ...] = ()
    """Other places where as little movement of as few gaps would do."""


def moves_in_words(movement: Movement) -> str:
    """The movement as a request: ``close at least 2.7 mm between 11 and 21``."""
    words = listed([_move_in_words(move) for move in movement.moves])
    return told("{moves} or elsewhere", moves=words) if movement.elsewhere else words


def _move_in_words(move: GapMove) -> str:
    template = (
        "close at least {mm} mm between {right} and {left}"
        if move.by < 0
        else "open at least {mm} mm between {right} and {left}"
    )
    return told(template, mm=mm(abs(move.by)), right=move.between[0], left=move.between[1])


@dataclass(frozen=True, slots=True)
class Compromise:
    """With limited movement of teeth: what still has to give way, and the least movement that is then enough."""

    given_up: ConflictSet
    movement: Movement


@dataclass(frozen=True, slots=True)
class SpaceResult:
    """The answer for one segment."""

    segment: Segment
    verdict: SpaceVerdict
    sentence: str
    """The answer in one plain sentence."""
    plans: tuple[SpacePlan, ...] = ()
    """Fewest teeth, best proportion, smallest shares, merged where they do not differ; also those not offered."""
    ask_gaps: tuple[int, ...] = ()
    """Gaps of 0.1 or 0.2 mm whose film question is open."""
    part_closing: SpacePlan | None = None
    """When nothing fits: the plan that closes only a part, where there is one."""
    conflicts: tuple[ConflictSet, ...] = ()
    lock_faults: tuple[str, ...] = ()
    """Locks outside a limit of their own, each with that limit in words: no gap and no movement changes that."""
    shut_in_gaps: tuple[int, ...] = ()
    """Gaps that nothing can close because both neighbours are not to be touched."""
    movement: Movement | None = None
    comfortable_movement: Movement | None = None
    """The least movement after which a plan within comfort fits."""

    @property
    def offered(self) -> tuple[SpacePlan, ...]:
        return tuple(plan for plan in self.plans if plan.offered)

    def plan(self, goal: Goal) -> SpacePlan:
        """The plan of a goal. Raises KeyError when nothing fits."""
        for plan in self.plans:
            if goal in plan.goals:
                return plan
        raise KeyError(goal)


@dataclass(frozen=True, slots=True)
class Breach:
    """By how much at least a rule would have to be widened."""

    rule: Rule
    by: int
    """In 0.1 mm, whole degrees, or hundredths of a ratio."""
    unit: str

    @property
    def amount(self) -> str:
        """``0.3 mm``, ``4 degrees`` or ``0.05 of width over length``."""
        if self.unit == "mm":
            return f"{format_mm(self.by)} mm"
        return f"{self.by} degrees" if self.unit == "degrees" else f"{self.by // 100}.{self.by % 100:02d} {self.unit}"


@dataclass(frozen=True, slots=True)
class RejectedIdea:
    """Something else that could be done, and the exact reason it was not."""

    idea: str
    """What it is: ``leave 11 untouched``, ``share 11·21 equally``."""
    why: str
    """Why it was not taken, in words with the figures."""
    plan: SpacePlan | None
    """The best plan with it; None where nothing fits then."""
    worse: str = ""
    """Where it fits: the first figure of a plan in which it is worse (``misfit``, ``touching``, ...), "" for none, or
    ``decision`` where it goes against what the dentist decided. Where it does not: ``sliver`` for a share too thin,
    ``movement`` where only moving teeth would help, "" where the breaches say it."""
    by: int = 0
    """By how much, in that figure's unit."""
    breaches: tuple[Breach, ...] = ()
    """Where nothing fits then: one smallest set of rules that would have to give way, and by how much each."""


@dataclass(frozen=True, slots=True)
class Remeasure:
    """A measurement that decides: a reading this much different would change the answer."""

    what: str
    """``gap 53·13``, ``width of 22`` or ``length of 22``."""
    value: int
    flips_verdict: tuple[int, ...] = ()
    """The differences (0.1 mm, signed) at which the verdict changes."""
    changes_teeth: tuple[int, ...] = ()
    """The differences at which other teeth are touched."""
    moves_contact: tuple[int, ...] = ()
    """The differences at which a contact moves by 0.3 mm or more."""

    @property
    def smallest(self) -> int:
        """The smallest difference that matters, in 0.1 mm."""
        return min(abs(step) for step in (*self.flips_verdict, *self.changes_teeth, *self.moves_contact))
