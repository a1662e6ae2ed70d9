"""What the pages of the diary list. The number of queries does not depend on how much there is."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from django.db.models import Exists, OuterRef

from planner.plans.accepted_models import AcceptedPlan, Item
from planner.practice.models import Office
from planner.rules.booking import Diary, Stretch
from planner.rules.day_sheet import Cell, Entry, Row, day_sheet
from planner.rules.item_states import BOOKABLE_WITHIN_DAYS, ItemState
from planner.rules.plan_states import OPEN_PLAN
from planner.rules.visit_states import OPEN_LABORATORY, LaboratoryState
from planner.visits.models import Absence, BlockedTime, LaboratoryCase, Visit
from planner.visits.reading import HELD

MOST_LISTED = 200


@dataclass(frozen=True, slots=True)
class DayCell:
    """A cell of the day's table with the row behind it."""

    cell: Cell
    visit: Visit | None
    block: BlockedTime | None


@dataclass(frozen=True, slots=True)
class DayRow:
    """One row of the day's table; a chair whose cell from above goes on has none."""

    starts: datetime
    cells: tuple[DayCell, ...]


@dataclass(frozen=True, slots=True)
class Day:
    """One day of the office."""

    on: date
    chairs: tuple[str, ...]
    rows: tuple[DayRow, ...]
    visits: tuple[Visit, ...]
    blocks: tuple[BlockedTime, ...]
    absences: tuple[Absence, ...]
    fallen: tuple[Visit, ...]
    """Visits of this day that were moved, cancelled, or to which nobody came."""
    is_open: bool

    @property
    def without_chair(self) -> tuple[BlockedTime, ...]:
        """Time that somebody is taken without a chair."""
        return tuple(block for block in self.blocks if block.chair is None)


def days_of(office: Office, diary: Diary, first: date, last: date) -> tuple[Day, ...]:
    """The days from ``first`` through ``last``: three queries, however many there are."""
    begins = datetime.combine(first - timedelta(days=1), time(0), UTC)
    ends = datetime.combine(last + timedelta(days=2), time(0), UTC)
    within = {"office": office, "starts__lt": ends, "ends__gt": begins}
    visits = list(
        Visit.objects.filter(**within).select_related("patient", "clinician", "chair").order_by("starts", "id")
    )
    blocks = list(
        BlockedTime.objects.filter(**within, taken_back_at=None).select_related("clinician", "chair").order_by("starts")
    )
    absences = list(
        Absence.objects.filter(office=office, first__lte=last, last__gte=first, taken_back_at=None).select_related(
            "clinician"
        )
    )
    days = (first + timedelta(days=ahead) for ahead in range((last - first).days + 1))
    return tuple(_day(diary, day, visits, blocks, absences) for day in days)


def _day(diary: Diary, day: date, visits: list[Visit], blocks: list[BlockedTime], absences: list[Absence]) -> Day:
    of_day = [visit for visit in visits if diary.day_of(visit.starts) == day]
    held = tuple(visit for visit in of_day if visit.state in HELD)
    taken = tuple(block for block in blocks if diary.day_of(block.starts) == day)
    named = {visit.chair.name for visit in held} | {block.chair.name for block in taken if block.chair}
    chairs = (*diary.chairs, *sorted(named - set(diary.chairs)))
    entries = [Entry(Stretch(visit.starts, visit.ends), visit.chair.name, visit.public_id) for visit in held]
    entries += [Entry(Stretch(each.starts, each.ends), each.chair.name, each.public_id) for each in taken if each.chair]
    rows = day_sheet(diary.open_stretches(day), chairs, entries)
    by_key: dict[str, Visit] = {visit.public_id: visit for visit in held}
    by_block = {block.public_id: block for block in taken}
    return Day(
        on=day,
        chairs=chairs,
        rows=tuple(_row(row, by_key, by_block) for row in rows),
        visits=held,
        blocks=taken,
        absences=tuple(each for each in absences if each.first <= day <= each.last),
        fallen=tuple(visit for visit in of_day if visit.state not in HELD),
        is_open=diary.open_days.is_open(day),
    )


def _row(row: Row, visits: dict[str, Visit], blocks: dict[str, BlockedTime]) -> DayRow:
    cells = (cell for cell in row.cells if cell is not None)
    return DayRow(
        row.starts,
        tuple(
            DayCell(cell, visits.get(cell.entry.key), blocks.get(cell.entry.key))
            if cell.entry
            else DayCell(cell, None, None)
            for cell in cells
        ),
    )


def to_book(office: Office, day: date) -> tuple[AcceptedPlan, ...]:
    """Accepted plans with something that could be given a visit now and has none, the oldest yes first."""
    waiting = Item.objects.filter(plan=OuterRef("pk"), state__in=(ItemState.TO_DO.value, ItemState.WAITING.value))
    soon = waiting.exclude(earliest__gt=day + timedelta(days=BOOKABLE_WITHIN_DAYS))
    plans = AcceptedPlan.objects.filter(Exists(soon), office=office, state__in=[state.value for state in OPEN_PLAN])
    return tuple(plans.select_related("patient").order_by("accepted_on", "id")[:MOST_LISTED])


def laboratory_list(office: Office) -> tuple[LaboratoryCase, ...]:
    """Laboratory work that is not finished with: what is due soonest first, what has no day yet at the end."""
    states = [*(state.value for state in OPEN_LABORATORY), LaboratoryState.RECEIVED.value]
    found = LaboratoryCase.objects.filter(office=office, state__in=states).select_related("patient", "plan")
    rows = sorted(found[:MOST_LISTED], key=lambda case: (case.due is None, case.due or date.max, case.pk))
    return tuple(rows)
