"""Answers about the work and what came after: what was taken away, found, paid, used, opened, seen to."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Final

from django.urls import reverse

from planner.letters.consent_models import Signature
from planner.patients.facts import form_facts
from planner.patients.models import Examination, HistoryForm
from planner.plans.payer_guesses import read_guess
from planner.practice.books import latest_version
from planner.practice.models import BookVersion
from planner.rules.mouth import Allergy
from planner.rules.results import WorkLine
from planner.rules.teeth import Tooth, ToothNumberError
from planner.rules.units import format_cents, format_mm
from planner.rules.visit_states import VisitState
from planner.story.ground import Ground
from planner.story.models import Problem
from planner.story.said import Line, at, day_of, lasting
from planner.trail.acts import act_words
from planner.trail.errors import Refused

_ALLERGIES: Final = (
    ("methacrylate", "methacrylate"), ("latex", "latex"), ("nickel", "nickel"), ("peroxide", "peroxide"),
    ("chlorhexidine", "chlorhexidine"), ("sulphite", "sulphite"), ("antibiotics", "antibiotics"),
)  # fmt: skip
_WITHIN: Final = (("24 hours", timedelta(hours=24)), ("7 days", timedelta(days=7)))
_MOST_ACTS: Final = 40
_MOST_OPENED: Final = 12


def removed(ground: Ground) -> Iterator[Line]:
    """What the shown option takes off each tooth, beside what the newest set of measurements says was lost.

    It can be read off a later set only where nothing is added on the same tooth in the same direction.
    """
    if ground.plan is None:
        return
    option = next((one for one in ground.plan.options if one.key == ground.chosen), None)
    taken = [line for line in option.work if line.removal_tenths] if option is not None else []
    if option is not None and not taken:
        yield Line(f"“{option.name}” takes no tooth away. {option.removal_words}", _estimate(ground))
    before, after = ground.rests_on, _measured_after(ground)
    for line in taken:
        label = line.tooth.label(ground.numbering) if line.tooth is not None else "the mouth"
        yield Line(f"Promised on the {label}: {format_mm(line.removal_tenths)} mm. {line.words}", _estimate(ground))
        yield _lost(line, before, after)
    if after is None and taken:
        yield Line("Nobody has measured since the first visit of work, so what was taken away is not on record.")


def _measured_after(ground: Ground) -> Examination | None:
    visit = ground.first_kept
    if visit is None:
        return None
    day = visit.starts.astimezone(ground.patient.office.zone).date()
    return next((one for one in ground.examinations if one.on > day), None)


def _lost(line: WorkLine, before: Examination | None, after: Examination | None) -> Line:
    if after is None or before is None or line.tooth is None:
        return Line("Measured since: nothing.")
    url = reverse("patients:examination", args=[after.public_id])
    side = "width" if line.narrower else "length"
    added = line.mesial_tenths + line.distal_tenths if line.narrower else line.lengthening_tenths
    if added:
        return Line(f"Material was added to the same {side}: measuring cannot tell them apart.", url)
    was, now = (_tenths(one, line.tooth, side) for one in (before, after))
    if was is None or now is None:
        return Line(f"Its {side} was not measured both before and after.", url)
    words = f"{format_mm(was)} mm before and {format_mm(now)} mm on {day_of(after.on)}"
    return Line(f"Measured since: {side} {words}, so {format_mm(max(was - now, 0))} mm less.", url)


def _tenths(examination: Examination, tooth: Tooth, side: str) -> int | None:
    row = next((one for one in examination.teeth.all() if one.tooth == tooth.key), None)
    found: int | None = getattr(row, side) if row is not None else None
    return found


def found(ground: Ground) -> Iterator[Line]:
    """What was written down at the chair, whether it was agreed beforehand, and what a dentist made of it."""
    zone = ground.patient.office.zone
    for note in ground.notes:
        tooth = _tooth_words(note.tooth, ground)
        agreed = f"agreed beforehand: “{note.agreed}”" if note.agreed else "not on the list agreed beforehand"
        settled = getattr(note, "settled", None)
        end = "not settled by a dentist"
        if settled is not None:
            made = f"amendment {settled.amendment.number}" if settled.amendment else f"no change: {settled.words}"
            end = f"settled by {settled.by.full_name}: {made}"
        words = f": {note.words}" if note.words else ""
        yield Line(
            f"{at(note.at, zone)}, {note.kind}{tooth}{words}; {agreed}; written down by {note.by.full_name}; {end}.",
            reverse("visits:steps", args=[note.sheet.visit.public_id]),
        )


def _tooth_words(key: str, ground: Ground) -> str:
    try:
        return f", {Tooth.from_key(key).label(ground.numbering)}" if key else ""
    except ToothNumberError:
        return f", {key}"


def prices(ground: Ground) -> Iterator[Line]:
    """Through which day the price held, when it was accepted, and who set the price list it came from."""
    estimate = ground.estimate
    if estimate is None or estimate.valid_through is None:
        return
    yield Line(
        f"Estimate {estimate} is valid through {day_of(estimate.valid_through)}, checked by "
        f"{estimate.checked_by.full_name if estimate.checked_by else 'nobody'}.",
        reverse("plans:estimate", args=[estimate.public_id]),
    )
    for plan in ground.accepted:
        url = reverse("plans:accepted", args=[plan.public_id])
        through = plan.price_held_through
        in_date = "in date" if plan.accepted_on <= (estimate.valid_through or through) else "after its last day"
        yield Line(
            f"Accepted on {day_of(plan.accepted_on)} by {plan.accepted_by}, {in_date}, at "
            f"{_money(plan.total_cents, ground)}; that price is held through {day_of(through)}.",
            url,
        )
        for hold in plan.price_holds.all():
            yield Line(
                f"Confirmed anew on {day_of(hold.on)} by {hold.by.full_name} through {day_of(hold.through)}: "
                f"{hold.reason}",
                url,
            )
    if estimate.book is not None:
        yield from _book(estimate.book, ground)
    for given in ground.facts.choices.discounts if ground.facts is not None else ():
        allowed = f"allowed by {given.allowed_by}" if given.allowed_by else "allowed by nobody, so not given"
        yield Line(f"Discount ({given.kind}) asked for by {given.asked_by}, {allowed}: {given.reason}", _case(ground))


def _book(book: BookVersion, ground: Ground) -> Iterator[Line]:
    url = reverse("practice:office")
    yield Line(
        f"Priced with version {book.number} of the office book, in effect from {day_of(book.effective)}, set by "
        f"{book.set_by.full_name}: {book.reason}",
        url,
    )
    newest = latest_version(ground.patient.office)
    if newest.number != book.number:
        yield Line(
            f"The newest version is {newest.number}, from {day_of(newest.effective)}: {newest.reason}. It changes "
            "nothing that was frozen before.",
            url,
        )


def payers(ground: Ground) -> Iterator[Line]:
    """Each guess: who may pay, how much as told, and on which answers it rests."""
    for row in ground.guesses:
        url = reverse("plans:payers", args=[row.estimate.public_id])
        try:
            sheet = read_guess(row)
        except (Refused, ValueError):
            yield Line("A stored guess cannot be read back: let the system keeper check it.", url)
            continue
        yield Line(
            f"Guessed on {day_of(sheet.made_on)} by {row.made_by.full_name} for {', '.join(sheet.payers) or 'nobody'}.",
            url,
        )
        one = sheet.of(ground.chosen)
        if one is not None:
            basis = "; ".join(one.guess.basis) or "nothing told"
            yield Line(
                f"{one.name}: whole price {_money(one.part.whole_cents, ground)}, left as told "
                f"{_money(one.part.as_told_cents, ground)}, if payers pay nothing "
                f"{_money(one.part.if_nothing_cents, ground)}. It rests on: {basis}.",
                url,
            )


def allergies(ground: Ground) -> Iterator[Line]:
    """What was answered about allergies in the form that held on the day of the first work, of signing, or today."""
    if not ground.histories:
        return
    moment, words = _the_day(ground)
    form = next((one for one in ground.histories if one.at <= moment), None)
    zone = ground.patient.office.zone
    if form is None:
        yield Line(f"On {at(moment, zone)} ({words}) no medical history was on file yet.")
        return
    url = reverse("patients:history_form", args=[ground.patient.public_id, form.public_id])
    signed = f"signed on {day_of(form.signed_on)}" if form.signed_on else "not signed"
    yield Line(f"On {at(moment, zone)} ({words}) this form held: {signed}, entered {at(form.at, zone)}.", url)
    yield Line(_allergies_in(form, moment), url)
    for answer in form.answers.all():
        if answer.at <= moment:
            said = f"yes: {answer.note}" if answer.changed else "no"
            yield Line(f"“Any change?” asked on {day_of(answer.asked_on)} by {answer.asked_by.full_name}: {said}.", url)


def _the_day(ground: Ground) -> tuple[datetime, str]:
    if ground.first_kept is not None:
        return ground.first_kept.starts, "the first visit of work"
    if ground.signatures:
        first: Signature = ground.signatures[-1]
        return first.at, "the day of signing"
    return ground.now, "today, as nothing was signed or done"


def _allergies_in(form: HistoryForm, moment: datetime) -> str:
    facts = form_facts(form, [one for one in form.answers.all() if one.at <= moment])
    said = {None: "not asked", True: "yes", False: "no"}
    words = []
    for name, word in _ALLERGIES:
        value = getattr(facts, name)
        words.append(f"{word}: {value.value if isinstance(value, Allergy) else said[value]}")
    return "; ".join(words) + "."


def lots(ground: Ground) -> Iterator[Line]:
    """Each lot that was opened, at which step, and its last day."""
    zone = ground.patient.office.zone
    for row in ground.lots:
        lot = row.lot
        expires = f"to be used by {day_of(lot.expires)}" if lot.expires else "no last day printed"
        late = lot.expires is not None and row.at.astimezone(zone).date() > lot.expires
        after = " and used after it" if late else ""
        yield Line(
            f"{lot.material}, lot {lot.code}, {expires}{after}; opened at step {row.run} "
            f"on {at(row.at, zone)} by {row.by.full_name}.",
            reverse("practice:stock_lot", args=[lot.public_id]),
        )


def opened(ground: Ground) -> Iterator[Line]:
    """The newest openings, and where all of them stand."""
    found, zone = ground.opened, ground.patient.office.zone
    url = reverse("story:opened", args=[ground.patient.public_id])
    for row in found.rows[:_MOST_OPENED]:
        acts = "; ".join(f"{words}{f' ({count} times)' if count > 1 else ''}" for words, count in row.acts)
        until = f" to {row.last.astimezone(zone):%H:%M}" if row.first != row.last else ""
        yield Line(f"{at(row.first, zone)}{until}: {row.who or 'somebody not signed in'} ({row.role}): {acts}.", url)
    if len(found.rows) > _MOST_OPENED:
        yield Line(f"{len(found.rows) - _MOST_OPENED} further entries stand in the whole list.", url)


def photographs(ground: Ground) -> Iterator[Line]:
    """Each photograph, on which side of the first work it was taken, and whether a scale lies in it."""
    zone = ground.patient.office.zone
    work = ground.first_kept.starts.astimezone(zone).date() if ground.first_kept is not None else None
    scales: dict[str, list[bool]] = {"before": [], "after": []}
    for one in ground.pictures:
        when = "before" if work is None or one.on <= work else "after"
        aside = getattr(one, "set_aside", None)
        scale = {True: "a scale lies in it", False: "no scale lies in it", None: "whether it has a scale is not said"}
        if aside is None:
            scales[when].append(bool(one.with_scale))
        yield Line(
            f"{day_of(one.on)}, {when} the work{f', {one.shows}' if one.shows else ''}: {scale[one.with_scale]}"
            f"{f'; set aside: {aside.reason}' if aside else ''}.",
            reverse("patients:picture", args=[one.public_id]),
        )
    if ground.pictures:
        same = any(scales["before"]) and any(scales["after"])
        yield Line(
            "There is one with a scale on each side, so they can be laid side by side at one scale."
            if same
            else "There is not one with a scale both before and after."
        )


def care(ground: Ground) -> Iterator[Line]:
    """After-care sheets that were printed, and reviews that were booked and came about."""
    zone = ground.patient.office.zone
    for sheet in ground.care_sheets:
        yield Line(
            f"After-care sheet printed on {at(sheet.at, zone)} by {sheet.created_by.full_name}.",
            reverse("letters:document", args=[sheet.public_id]),
        )
    reviews = [one for one in ground.visits if one.kind == "review"]
    said = {
        VisitState.KEPT.value: "attended",
        VisitState.BOOKED.value: "booked",
        VisitState.NO_SHOW.value: "nobody came",
        VisitState.CANCELLED.value: "cancelled",
        VisitState.RESCHEDULED.value: "moved to another day",
    }
    for visit in reviews:
        yield Line(
            f"Review “{visit.words}” for {at(visit.starts, zone)}: {said[visit.state]}; "
            f"offered on {at(visit.at, zone)}.",
            reverse("visits:visit", args=[visit.public_id]),
        )
    if ground.care_sheets and not reviews:
        yield Line("No review was booked.")
    if reviews and not ground.care_sheets:
        yield Line("No after-care sheet was printed.")


def problem(ground: Ground) -> Iterator[Line]:
    """Each problem: when it was told and written down, and what was done within a day and within a week."""
    zone = ground.patient.office.zone
    for one in ground.problems:
        url = reverse("story:problem_step", args=[one.public_id])
        yield Line(
            f"{one.told_by} told it on {at(one.told_at, zone)} ({one.how}): “{one.words}” Written down "
            f"{lasting(one.at - one.told_at)} later by {one.by.full_name}.",
            url,
        )
        yield from _done_about(one, ground, url)


def _done_about(one: Problem, ground: Ground, url: str) -> Iterator[Line]:
    zone = ground.patient.office.zone
    since = timedelta()
    for name, span in _WITHIN:
        steps = [step for step in one.steps.all() if since <= step.done_at - one.told_at < span]
        done = [entry for entry in ground.changes if since <= entry.at - one.told_at < span][:_MOST_ACTS]
        for step in steps:
            yield Line(f"Within {name}, {at(step.done_at, zone)}, {step.by.full_name}: {step.words}", url)
        for entry in done:
            yield Line(
                f"Within {name}, {at(entry.at, zone)}, {entry.actor_name} {act_words(entry.act)}.",
                reverse("story:file", args=[ground.patient.public_id]),
            )
        if not steps and not done:
            over = ground.now >= one.told_at + span
            yield Line(
                f"Within {name}: {'nothing is on record' if over else 'nothing yet, and the time still runs'}.", url
            )
        since = span


def _money(cents: int, ground: Ground) -> str:
    return f"{ground.plan.currency if ground.plan is not None else ''} {format_cents(cents)}".strip()


def _case(ground: Ground) -> str:
    return reverse("plans:case", args=[ground.case.public_id])


def _estimate(ground: Ground) -> str:
    return reverse("plans:estimate", args=[ground.estimate.public_id]) if ground.estimate else _case(ground)
