"""Working by a step sheet: stamps, lots that were opened, what was found, and the minutes that are learnt from.

Every tap is a row with its instant. What was found is held against the list agreed before treatment; whatever it
changes in the plan becomes an amendment through :mod:`planner.plans.amending`, written by a dentist.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from django.db import transaction
from django.db.models import Max, Sum
from django.utils.translation import gettext as _

from planner.letters.consent_standing import consent_of
from planner.plans.accepted_models import Amendment
from planner.plans.amending import amend
from planner.practice import books
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.before import done_by
from planner.practice.models import Staff
from planner.practice.stock_models import StockLot
from planner.practice.timings import MOST_MINUTES, Timed, block_of, note_timing
from planner.rules.consent_states import ConsentState
from planner.rules.step_sheet import Run, StepSheet, runs
from planner.rules.teeth import Tooth
from planner.trail.errors import Refused
from planner.trail.services import record
from planner.visits.amounts import keep_amounts, seconds_of
from planner.visits.models import Visit
from planner.visits.step_drawing import agreed_list, draw_up, read_copy
from planner.visits.step_models import (
    ChairNote,
    NoteKind,
    NoteSettled,
    StampKind,
    StepLot,
    StepsClosed,
    StepSheetCopy,
    StepStamp,
)


@dataclass(frozen=True, slots=True)
class Line:
    """One thing to tick, and what became of it."""

    run: Run
    stamp: StepStamp | None
    """The stamp that holds: done or left out; None while it is open."""
    seconds: int | None
    """Real seconds since the stamp before; None where it was not timed."""
    lots: tuple[StepLot, ...]


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a visit is by its step sheet."""

    copy: StepSheetCopy
    sheet: StepSheet
    lines: tuple[Line, ...]
    begun: datetime | None
    last: datetime | None
    """The last instant at which something was stamped."""
    notes: tuple[ChairNote, ...]
    closed: StepsClosed | None

    @property
    def next(self) -> Line | None:
        """The first line that is open; one done only under a finding counts too."""
        return next((line for line in self.lines if line.stamp is None), None)

    @property
    def done(self) -> int:
        return sum(line.stamp is not None for line in self.lines)

    @property
    def planned_minutes(self) -> int:
        """Usual minutes of what is done so far."""
        kinds = (StampKind.DONE,)
        return round(sum(line.run.seconds for line in self.lines if line.stamp and line.stamp.kind in kinds) / 60)

    @property
    def real_minutes(self) -> int:
        """Minutes from the beginning to the last stamp."""
        if self.begun is None or self.last is None:
            return 0
        return (self.last - self.begun) // timedelta(minutes=1)

    @property
    def ends_about(self) -> datetime | None:
        """When it is over if what is left takes its usual time."""
        if self.last is None:
            return None
        left = sum(line.run.seconds for line in self.lines if line.stamp is None and not line.run.step.only_if)
        return self.last + timedelta(seconds=left)


def latest_copy(visit: Visit) -> StepSheetCopy | None:
    """The sheet that holds for the visit."""
    return visit.step_sheets.order_by("-number").first()


def progress_of(copy: StepSheetCopy) -> Progress:
    """How far it is: four queries, however many stamps there are."""
    sheet = read_copy(copy)
    stamps = list(copy.stamps.select_related("by").order_by("sequence"))
    lots: dict[str, list[StepLot]] = {}
    for lot in copy.lots.select_related("lot"):
        lots.setdefault(lot.run, []).append(lot)
    holds: dict[str, StepStamp] = {}
    for stamp in stamps:
        if stamp.kind == StampKind.BACK:
            holds.pop(stamp.run, None)
        elif stamp.kind != StampKind.BEGUN:
            holds[stamp.run] = stamp
    seconds = seconds_of(stamps)
    notes = copy.notes.select_related("by", "settled__amendment", "settled__by")
    return Progress(
        copy,
        sheet,
        tuple(Line(run, holds.get(run.key), seconds.get(run.key), tuple(lots.get(run.key, ()))) for run in runs(sheet)),
        stamps[0].at if stamps else None,
        stamps[-1].at if stamps else None,
        tuple(notes.order_by("pk")),
        StepsClosed.objects.filter(sheet=copy).first(),
    )


# ------------------------------------------------------------------------------------------------------------ stamps


def begin(*, visit: Visit, actor: Staff, now: datetime) -> StepSheetCopy:
    """Begin to work by the sheet of ``visit``: minutes are counted from now, or from when somebody began before.

    Raises Refused as drawing it up does.
    """
    require_own(actor, visit)
    require(actor, Act.CREATE, Thing.STEPS, subject=visit)
    copy = latest_copy(visit)
    if copy is None or not copy.stamps.exists():
        copy = draw_up(visit=visit, actor=actor, now=now)
    with transaction.atomic():
        held = _hold(copy)
        if not held.stamps.exists():
            _stamp(held, "", StampKind.BEGUN, "", actor, now)
    return copy


def stamp(
    *, copy: StepSheetCopy, run: str, kind: StampKind, reason: str = "", actor: Staff, now: datetime
) -> StepStamp:
    """Stamp one step: done, left out with a reason, or back. Tapping "done" twice stamps once.

    Raises Refused before the beginning, for a step that is not on the sheet, once the sheet is closed, or, unless a
    reason says that it makes safe, when consent was withdrawn; NotAllowed.
    """
    require_own(actor, copy)
    require(actor, Act.CREATE, Thing.STEPS, subject=copy)
    if all(one.key != run for one in runs(read_copy(copy))):
        raise Refused(_("This step is not on the sheet: open the page again."))
    if kind == StampKind.LEFT_OUT and not reason.strip():
        raise Refused(_("Say in a word why it is left out."), field="reason")
    with transaction.atomic():
        held = _hold(copy)
        if StepsClosed.objects.filter(sheet=held).exists():
            raise Refused(_("The visit is closed: what is found later is written into the record."))
        if not held.stamps.exists():
            raise Refused(_("Begin first: minutes are counted from there."))
        if kind == StampKind.DONE and withdrawn(held.visit) and not reason.strip():
            raise Refused(
                _("Consent was withdrawn: only what makes safe is still done. Say what this step makes safe."),
                field="reason",
            )
        last = held.stamps.filter(run=run).order_by("-sequence").first()
        if last is not None and last.kind == kind:
            return last
        if kind == StampKind.BACK and last is None:
            raise Refused(_("This step was not stamped, so there is nothing to take back."))
        return _stamp(held, run, kind, reason.strip(), actor, now)


def withdrawn(visit: Visit) -> bool:
    """Whether consent to the plan of ``visit`` was taken back."""
    consent = consent_of(visit.plan)
    return consent is not None and consent.state == ConsentState.WITHDRAWN


def note_lot(*, copy: StepSheetCopy, run: str, lot: StockLot, actor: Staff, now: datetime) -> StepLot:
    """Which lot was opened at a step. Raises Refused for one that has expired or that the step does not use."""
    require_own(actor, copy)
    require_own(actor, lot)
    require(actor, Act.CREATE, Thing.STEPS, subject=copy)
    step = next((one.step for one in runs(read_copy(copy)) if one.key == run), None)
    if step is None or all(use.material != lot.material for use in step.uses):
        raise Refused(_("This step does not use that material."), field="lot")
    day = books.today(copy.office, now)
    if lot.expires is not None and lot.expires < day:
        raise Refused(
            _("Lot %(code)s expired on %(day)s: it is not used.") % {"code": lot.code, "day": lot.expires.isoformat()},
            field="lot",
        )
    with transaction.atomic():
        _hold(copy)
        made, new = StepLot.objects.get_or_create(
            sheet=copy, run=run, lot=lot, defaults={"office": copy.office, "by": actor, "at": now}
        )
        if new:
            record(actor=actor, act="steps.lot", subject=copy, content={"run": run, "lot": lot.code}, at=now)
    return made


# ------------------------------------------------------------------------------------- found, did instead, left out


def note(
    *,
    copy: StepSheetCopy,
    kind: NoteKind,
    words: str = "",
    agreed: str = "",
    tooth: Tooth | None = None,
    run: str = "",
    actor: Staff,
    now: datetime,
) -> ChairNote:
    """Write down what turned out otherwise. ``agreed`` is a line of the list that was agreed before, word for word.

    Raises Refused when nothing is said, or for a line that is not on that list; NotAllowed.
    """
    require_own(actor, copy)
    require(actor, Act.CREATE, Thing.STEPS, subject=copy)
    if not words.strip() and not agreed:
        raise Refused(_("Say in a word what it was, or choose a line of the list."), field="words")
    if agreed and agreed not in agreed_list(copy.visit):
        raise Refused(_("This line is not on the list that was agreed before: choose one of it."), field="agreed")
    with transaction.atomic():
        made = ChairNote.objects.create(
            office=copy.office,
            sheet=copy,
            run=run,
            kind=kind,
            tooth=tooth.key if tooth is not None else "",
            words=words.strip(),
            agreed=agreed,
            by=actor,
            at=now,
        )
        content = {"kind": str(kind), "tooth": made.tooth, "words": made.words, "agreed": made.agreed}
        record(actor=actor, act="steps.note", subject=made, content=content, at=now)
    return made


def settle(
    *, note: ChairNote, amendment: Amendment | None = None, words: str = "", actor: Staff, now: datetime
) -> NoteSettled:
    """What a dentist made of a note: the amendment that was written for it, or why none is needed. Raises Refused."""
    require_own(actor, note)
    require(actor, Act.APPROVE, Thing.AMENDMENT, subject=note)
    if amendment is None and not words.strip():
        raise Refused(_("Say why the plan does not change."), field="words")
    if amendment is not None and amendment.plan_id != note.sheet.visit.plan_id:
        raise Refused(_("This change belongs to another plan."))
    with transaction.atomic():
        ChairNote.objects.select_for_update().get(pk=note.pk)
        before = NoteSettled.objects.filter(note=note).select_related("by", "amendment").first()
        if before is not None:
            raise Refused(_("This is settled already: %(how)s.") % {"how": _how_settled(before)})
        made = NoteSettled.objects.create(
            office=note.office, note=note, amendment=amendment, words=words.strip(), by=actor, at=now
        )
        content = {"amendment": amendment.number if amendment else None, "words": made.words}
        record(actor=actor, act="steps.settle", subject=note, content=content, at=now)
    return made


def _how_settled(row: NoteSettled) -> str:
    did = _("change %(n)d of the plan") % {"n": row.amendment.number} if row.amendment else f"“{row.words}”"
    return done_by(did, row.by, row.at, row.office)


def amend_from(*, note: ChairNote, change: Mapping[str, Any], actor: Staff, now: datetime) -> NoteSettled:
    """Change the accepted plan as ``change`` says (see :func:`planner.plans.amending.amend`) and settle the note by it.

    Raises Refused, NotAllowed.
    """
    with transaction.atomic():
        made = amend(plan=note.sheet.visit.plan, actor=actor, now=now, **change)
        return settle(note=note, amendment=made, actor=actor, now=now)


# ------------------------------------------------------------------------------------------------ minutes to learn from


def close(
    *,
    copy: StepSheetCopy,
    disturbed: bool,
    why: str,
    amounts: Mapping[str, Decimal] = MappingProxyType({}),
    actor: Staff,
    now: datetime,
) -> StepsClosed:
    """End working by the sheet; its real minutes go to the office's own clock, a disturbed visit's unused.

    A block is timed only where each of its steps was done and stamped. ``amounts`` are what was used of materials, by
    key; what nobody measured is left out. Raises Refused while a step is open that is not done under a finding only,
    where it is not said what disturbed, for an amount that cannot be, and once it is closed.
    """
    require_own(actor, copy)
    require(actor, Act.CREATE, Thing.STEPS, subject=copy)
    if disturbed and not why.strip():
        raise Refused(_("Say what disturbed it, in a few words."), field="why")
    with transaction.atomic():
        held = _hold(copy)
        found = progress_of(held)
        if found.closed is not None:
            who = done_by(_("closed"), found.closed.by, found.closed.at, held.office)
            raise Refused(_("This visit was %(who)s; what was written then stands.") % {"who": who})
        if found.begun is None:
            raise Refused(_("Nothing was begun by this sheet."))
        still = [line.run.step.short for line in found.lines if line.stamp is None and not line.run.step.only_if]
        if still:
            raise Refused(_("Still open: %(step)s. Stamp it done or left out.") % {"step": still[0]})
        made = StepsClosed.objects.create(
            office=held.office, sheet=held, disturbed=disturbed, why=why.strip() if disturbed else "", by=actor, at=now
        )
        keep_amounts(held, found.sheet, amounts, actor, now)
        for timed in timings_of(found, held.visit, disturbed, why):
            note_timing(timed=timed, actor=actor, now=now)
        record(actor=actor, act="steps.close", subject=held, content={"disturbed": disturbed}, at=now)
    return made


def timings_of(found: Progress, visit: Visit, disturbed: bool, why: str) -> tuple[Timed, ...]:
    """The real minutes of each block that was wholly done, as the office's own clock takes them."""
    assert found.begun is not None
    day = found.begun.astimezone(visit.office.zone).date()
    book = books.current_book(visit.office, day)
    rows: dict[str, list[Line]] = {}
    for line in found.lines:
        rows.setdefault(line.run.step.block, []).append(line)
    timed = []
    for key, lines in rows.items():
        counted = [line for line in lines if line.stamp is not None and line.stamp.kind == StampKind.DONE]
        whole = all(line in counted or line.run.step.only_if for line in lines)
        minutes = round(sum(line.seconds or 0 for line in counted) / 60)
        block = block_of(book, key)
        if not whole or block is None or not 1 <= minutes <= MOST_MINUTES:
            continue
        teeth = max((line.run.step.times for line in lines if not line.run.step.per_surface), default=1)
        timed.append(Timed(key, teeth if block.by_tooth else 1, minutes, day, visit.clinician, disturbed, why))
    return tuple(timed)


# ------------------------------------------------------------------------------------------------------------- parts


def _hold(copy: StepSheetCopy) -> StepSheetCopy:
    return (
        StepSheetCopy.objects.select_for_update(of=("self",))
        .select_related("visit__plan", "visit__office")
        .get(pk=copy.pk)
    )


def _stamp(copy: StepSheetCopy, run: str, kind: StampKind, reason: str, actor: Staff, now: datetime) -> StepStamp:
    last: int = copy.stamps.aggregate(last=Max("sequence"))["last"] or 0
    made = StepStamp.objects.create(
        office=copy.office, sheet=copy, sequence=last + 1, run=run, kind=kind, reason=reason, by=actor, at=now
    )
    content = {"run": run, "kind": str(kind), "sequence": made.sequence}
    record(actor=actor, act="steps.stamp", subject=copy, content=content, reason=reason, at=now)
    return made


def lots_for(copy: StepSheetCopy, day: datetime) -> Mapping[str, Sequence[StockLot]]:
    """Lots of the office that are not expired and hold something, by material."""
    on = books.today(copy.office, day)
    found: dict[str, list[StockLot]] = {}
    rows = StockLot.objects.filter(office=copy.office).annotate(left=Sum("moves__hundredths"))
    for lot in rows:
        if lot.left and (lot.expires is None or lot.expires >= on):
            found.setdefault(lot.material, []).append(lot)
    return found
