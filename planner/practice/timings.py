"""The office's own clock: minutes that work really took, what they propose, and taking a proposal into the book.

Nothing changes by itself. What was adopted stands in the book as the next starting value, so only timings written down
after it are learnt from again.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from fractions import Fraction

from django.db import transaction
from django.utils.translation import gettext as _

from planner.practice import books
from planner.practice.access import Act, Thing, require
from planner.practice.catalogue import in_force
from planner.practice.drafts import checked
from planner.practice.models import BookVersion, Office, Staff
from planner.practice.stock_models import MinutesAdopted, WorkTiming
from planner.rules.book import BlockMinutes, OfficeBook
from planner.rules.clock import Blocks, Proposal, Span, Timing, office_blocks, propose_minutes, said_minutes
from planner.trail.errors import Refused
from planner.trail.services import record

BLOCKS = ("set-up", "per tooth", "finish")
MOST_MINUTES, MOST_TEETH = 600, 32


@dataclass(frozen=True, slots=True)
class Block:
    """One block of work of one visit, with its minutes as the book in force has them."""

    treatment: str
    visit: str
    block: str
    words: str
    start: Span
    """Whole minutes, fast, usual, slow."""
    source: str
    """The office's own source; empty where the treatment's starting values hold."""

    @property
    def key(self) -> str:
        """As it stands in an address: ``bonding.bonding.per-tooth``."""
        return f"{self.treatment}.{self.visit}.{self.block.replace(' ', '-')}"

    @property
    def by_tooth(self) -> bool:
        return self.block == "per tooth"


def blocks_of(book: OfficeBook) -> tuple[Block, ...]:
    """Every block that takes time, of every treatment in force, with the office's own minutes where there are any."""
    return tuple(_blocks(book))


def _blocks(book: OfficeBook) -> Iterator[Block]:
    sources: dict[tuple[str, str, str], str] = {
        (row.treatment, row.visit, row.block): row.source for row in book.minutes
    }
    for part in in_force().catalogue.treatments.values():
        for visit in part.visits:
            start = Blocks(part.key, visit.key, 1, Span(*visit.set_up), Span(*visit.per_tooth), Span(*visit.finish))
            own = office_blocks(book, start)
            for name, span in zip(BLOCKS, (own.set_up, own.per_tooth, own.finish), strict=True):
                if span.usual:
                    words = f"{part.name}: {visit.words}, {name}"
                    source = sources.get((part.key, visit.key, name), "")
                    yield Block(part.key, visit.key, name, words, span, source)


def block_of(book: OfficeBook, key: str) -> Block | None:
    """The block with this key, if a treatment in force has it."""
    return next((block for block in blocks_of(book) if block.key == key), None)


@dataclass(frozen=True, slots=True)
class Timed:
    """What somebody timed."""

    block: str
    """Key of the block."""
    teeth: int
    minutes: int
    on: date
    worked: Staff
    disturbed: bool = False
    why: str = ""


def note_timing(*, timed: Timed, actor: Staff, now: datetime) -> WorkTiming:
    """Keep a timing. Raises Refused with the sentence for the field at fault."""
    require(actor, Act.CREATE, Thing.TIMINGS, subject=actor.office)
    day = books.today(actor.office, now)
    block = block_of(books.current_book(actor.office, day), timed.block)
    if block is None:
        raise Refused(
            _("“%(key)s” is no work that takes minutes here: choose one of the list.") % {"key": timed.block},
            field="block",
        )
    if not 1 <= timed.minutes <= MOST_MINUTES:
        raise Refused(
            _("%(minutes)s minutes is not one visit: write 1 to %(most)s.")
            % {"minutes": timed.minutes, "most": MOST_MINUTES},
            field="minutes",
        )
    if not 1 <= timed.teeth <= (MOST_TEETH if block.by_tooth else 1):
        said = {"teeth": timed.teeth, "most": MOST_TEETH if block.by_tooth else 1}
        raise Refused(_("%(teeth)s teeth does not fit this work: write 1 to %(most)s.") % said, field="teeth")
    if timed.on > day:
        raise Refused(_("This day is still to come: a timing is of work that was done."), field="on")
    if timed.disturbed and not timed.why.strip():
        raise Refused(_("Say what disturbed it, in a few words."), field="why")
    if timed.worked.office_id != actor.office_id:
        raise Refused(_("Choose somebody of this office."), field="worked")
    with transaction.atomic():
        kept = WorkTiming.objects.create(
            office=actor.office,
            treatment=block.treatment,
            visit=block.visit,
            block=block.block,
            teeth=timed.teeth,
            minutes=timed.minutes,
            on=timed.on,
            worked=timed.worked,
            disturbed=timed.disturbed,
            why=timed.why.strip() if timed.disturbed else "",
            by=actor,
            at=now,
        )
        content = {"block": block.key, "teeth": timed.teeth, "minutes": timed.minutes, "disturbed": timed.disturbed}
        record(actor=actor, act="timing.note", subject=kept, content=content, at=now)
    return kept


@dataclass(frozen=True, slots=True)
class OwnClock:
    """One block of work beside the office's own timings of it."""

    block: Block
    timings: tuple[WorkTiming, ...]
    """All of them, in the order of days."""
    fresh: frozenset[int]
    """Ids of those that are not in the book's minutes yet."""
    proposal: Proposal | None

    @property
    def rows(self) -> Iterator[tuple[WorkTiming, str, str]]:
        """Each timing with its minutes for one tooth and what becomes of it."""
        most = 2 * self.block.start.usual
        for timing in self.timings:
            each = Fraction(timing.minutes, timing.teeth)
            if timing.disturbed:
                word = _("kept, not learnt from")
            elif timing.pk not in self.fresh:
                word = _("in the book already")
            elif each > most:
                word = _("counts as %(minutes)s") % {"minutes": said_minutes(most)}
            else:
                word = _("counts")
            yield timing, said_minutes(each), word

    @property
    def figures(self) -> dict[str, str]:
        """The figures of the proposal as they are shown, minutes with one decimal."""
        found = self.proposal
        figures = {"start": said_minutes(self.block.start.mean)}
        if found is None:
            return figures
        low, high = found.band
        return figures | {
            "proposed": said_minutes(found.proposed),
            "own": said_minutes(found.own_mean),
            "drift": f"{'+' if found.drift > 0 else '−' if found.drift < 0 else ''}{said_minutes(abs(found.drift))}",
            "low": said_minutes(low),
            "high": said_minutes(high),
            "adopted": said_minutes(found.span.mean),
        }

    @property
    def disturbed(self) -> int:
        """Timings that are kept and not learnt from."""
        return sum(timing.disturbed for timing in self.timings)


def own_clocks(office: Office, book: OfficeBook) -> tuple[OwnClock, ...]:
    """Every block that was timed at least once. Two queries, whatever the number of timings."""
    timings: dict[tuple[str, str, str], list[WorkTiming]] = {}
    for timing in WorkTiming.objects.filter(office=office).select_related("worked"):
        timings.setdefault((timing.treatment, timing.visit, timing.block), []).append(timing)
    adopted = {
        (each.treatment, each.visit, each.block): each.last_id
        for each in MinutesAdopted.objects.filter(office=office).order_by("id")
    }
    found = []
    for block in blocks_of(book):
        names = (block.treatment, block.visit, block.block)
        if names in timings:
            found.append(_clock(block, timings[names], adopted.get(names, 0)))
    return tuple(found)


def _clock(block: Block, timings: Sequence[WorkTiming], adopted: int) -> OwnClock:
    fresh = [timing for timing in timings if timing.pk > adopted]
    learnt = [Timing(Fraction(timing.minutes, timing.teeth), timing.disturbed) for timing in fresh]
    return OwnClock(block, tuple(timings), frozenset(t.pk for t in fresh), propose_minutes(block.start, learnt))


def adopt(
    *, clock: OwnClock, span: Span, seen: int, effective: date, reason: str, actor: Staff, now: datetime
) -> BookVersion:
    """Take fast, usual and slow minutes into a new version of the book, in one's own name and with a reason.

    ``seen`` is the number of the book version that was looked at. Raises Refused (StaleEdit where the book was changed
    in between), and NotAllowed for whoever may not change the book.
    """
    require(actor, Act.EDIT, Thing.BOOK, subject=actor.office)
    block, proposal = clock.block, clock.proposal
    if proposal is None:
        raise Refused(_("There is no timing yet to learn from."))
    with transaction.atomic():
        last = books.latest_version(actor.office)
        book = books.read_book(last.data)
        source = f"{proposal.count} own timings, mean {float(proposal.own_mean):.1f} min, adopted by {actor.full_name}"
        row = BlockMinutes.model_validate(
            {
                "treatment": block.treatment,
                "visit": block.visit,
                "block": block.block,
                "fast": span.fast,
                "usual": span.usual,
                "slow": span.slow,
                "source": source,
            }
        )
        names = (row.treatment, row.visit, row.block)
        rows = [row if (one.treatment, one.visit, one.block) == names else one for one in book.minutes]
        version = books.change_book(
            office=actor.office,
            book=checked(book, minutes=rows if row in rows else [*rows, row]),
            effective=effective,
            reason=reason,
            seen=seen,
            actor=actor,
            now=now,
        )
        MinutesAdopted.objects.create(
            office=actor.office,
            treatment=block.treatment,
            visit=block.visit,
            block=block.block,
            last_id=max(timing.pk for timing in clock.timings),
            book=version,
            by=actor,
            at=now,
        )
    return version
