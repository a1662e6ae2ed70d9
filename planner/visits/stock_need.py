"""What booked visits take from the shelf: which of them it cannot serve, what runs old before them, what to order."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache

from planner.practice import books
from planner.practice.catalogue import in_force
from planner.practice.models import Office
from planner.practice.stock import Shelf, shelf
from planner.rules.book import OfficeBook
from planner.rules.courses import Course, Work
from planner.rules.frozen import FrozenPlanError, facts_in, thaw
from planner.rules.material_needs import treatment_needs
from planner.rules.materials import Need, Order, RunsOld, StockReport, check_stock, forecast, together
from planner.rules.mouth import CaseFacts
from planner.rules.series import course_of
from planner.rules.teeth import Tooth
from planner.rules.units import many
from planner.rules.visit_states import VisitState
from planner.visits.models import Visit


@dataclass(frozen=True, slots=True)
class VisitNeed:
    """One booked visit with what it takes."""

    visit: Visit
    on: date
    needs: tuple[Need, ...]


@dataclass(frozen=True, slots=True)
class Short:
    """A material that the shelf lacks for one day's visits."""

    on: date
    words: str
    missing: str
    visits: tuple[Visit, ...]
    """The visits of that day that need it."""


@dataclass(frozen=True, slots=True)
class StockNeed:
    """The shelf against the booked visits."""

    day: date
    visits: tuple[VisitNeed, ...]
    shelf: Shelf
    report: StockReport
    short: tuple[Short, ...]
    warnings: tuple[str, ...]
    """Lots that expire with something left, one sentence each; those that visits still need come first."""

    @property
    def rows(self) -> tuple[tuple[VisitNeed, tuple[str, ...]], ...]:
        """Each visit with the materials that its day lacks: what somebody looks at a week before it."""
        return tuple(
            (each, tuple(short.words for short in self.short if each.visit in short.visits)) for each in self.visits
        )

    @property
    def orders(self) -> tuple[Order, ...]:
        """Whole packs to order, in the order of the office book."""
        return self.report.orders

    @property
    def order_cents(self) -> int:
        """What the packs to order cost, as far as they have a price."""
        return sum(order.cents or 0 for order in self.report.orders)

    @property
    def unpriced(self) -> tuple[str, ...]:
        """Materials to order whose pack has no price."""
        return tuple(order.words for order in self.report.orders if order.cents is None)


def stock_need(office: Office, now: datetime) -> StockNeed:
    """The shelf of ``office`` against every visit booked from today on. The number of queries is constant."""
    day = books.today(office, now)
    book = books.current_book(office, day)
    found = shelf(office, book, day)
    visits = _needs(office, book, day)
    report = check_stock(book, [(each.on, each.needs) for each in visits], found.lots, day)
    words = {row.key: (row.words, row.unit) for row in book.materials}
    short = tuple(
        Short(
            each.on,
            words[each.material][0],
            f"{each.missing:f} {words[each.material][1]}",
            tuple(
                one.visit
                for one in visits
                if one.on == each.on and any(need.material == each.material for need in one.needs)
            ),
        )
        for each in report.shortages
    )
    old = sorted(report.runs_old, key=lambda one: (not one.visits_after, one.lot.expires or date.max))
    return StockNeed(day, visits, found, report, short, tuple(_warning(one, words, day) for one in old))


def _warning(old: RunsOld, words: dict[str, tuple[str, str]], day: date) -> str:
    name, unit = words[old.lot.material]
    assert old.lot.expires is not None
    days = (old.lot.expires - day).days
    when = "today" if not days else f"in {many(days, 'day')}, on {old.lot.expires.isoformat()}"
    after = old.visits_after
    need = f"{many(after, 'booked visit')} {'needs' if after == 1 else 'need'} it after that day" if after else ""
    rest = need or "no booked visit needs it after that day"
    return f"{name}: lot {old.lot.code} expires {when}, with {old.left:f} {unit} left; {rest}."


def _needs(office: Office, book: OfficeBook, day: date) -> tuple[VisitNeed, ...]:
    """Every booked visit from ``day`` on with what it takes; an item booked for two visits counts at the first."""
    rows = (
        Visit.objects.filter(office=office, state=VisitState.BOOKED.value)
        .select_related("patient", "plan__frozen", "office")
        .prefetch_related("visit_items__item")
        .order_by("starts", "id")
    )
    counted: set[int] = set()
    begun: set[tuple[int, str]] = set()
    found: list[VisitNeed] = []
    for visit in rows:
        on = visit.starts.astimezone(office.zone).date()
        items = [row.item for row in visit.visit_items.all() if row.item_id not in counted]
        counted.update(item.pk for item in items)
        if on < day:
            continue
        done = [(item.treatment, tuple(item.teeth) or ("",)) for item in items if item.treatment]
        pairs = tuple((treatment, tooth) for treatment, teeth in done for tooth in teeth)
        first = {key for key, _tooth in pairs if (visit.plan_id, key) not in begun}
        begun.update((visit.plan_id, key) for key, _tooth in pairs)
        frozen = visit.plan.frozen
        read = _read(frozen.sha256, bytes(frozen.content), visit.plan.option_key)
        found.append(VisitNeed(visit, on, _of_visit(pairs, first, read, book)))
    return tuple(found)


@lru_cache(maxsize=256)
def _read(_sha256: str, content: bytes, option: str) -> tuple[Course, CaseFacts] | None:
    """The course that was accepted and the facts it rests on; None where the frozen plan cannot be read."""
    try:
        plan = thaw(content)
        return course_of(plan.option(option)), facts_in(plan)
    except (FrozenPlanError, KeyError):
        return None


def _of_visit(
    pairs: Sequence[tuple[str, str]],
    first: Iterable[str],
    read: tuple[Course, CaseFacts] | None,
    book: OfficeBook,
) -> tuple[Need, ...]:
    """What the treatments at one visit take; those in ``first`` begin there, with what is made once for an arch."""
    catalogue = in_force().catalogue
    needs: list[Need] = []
    for key in dict.fromkeys(treatment for treatment, _tooth in pairs):
        part = catalogue.treatments.get(key)
        if part is None:
            continue
        teeth = {tooth for treatment, tooth in pairs if treatment == key}
        arches = -1 if key in first else 0
        if read is None:
            # Nobody knows what is added: the office's amounts per tooth, and no latex.
            count = len(teeth - {""})
            needs += forecast(book, key, part.materials, teeth=count, arches=int(arches < 0))
            continue
        course, facts = read
        needs += treatment_needs(part, _work(course, key, teeth), facts, book, arches=arches)
    return together(needs)


def _work(course: Course, treatment: str, teeth: set[str]) -> tuple[Work, ...]:
    """The lines of the course for these teeth; for a tooth it does not know, a line that says nothing but the tooth."""
    own = [line for line in course.work if line.treatment == treatment]
    if teeth == {""}:
        return tuple(own)
    known = {line.tooth.key: line for line in own if line.tooth is not None}
    return tuple(known.get(key) or Work(treatment, Tooth.from_key(key)) for key in sorted(teeth - {""}))
