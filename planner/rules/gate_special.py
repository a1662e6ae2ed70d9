"""The gates whose test is more than one fact against one limit: absent teeth, own limits, consent, dates, local law.

Their numbers stand in ``data/gates.toml`` and in the office's dated legal settings; their sources under ``[[coded]]``.
"""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from decimal import Decimal, InvalidOperation

from planner.rules.gate_engine import GateBook, still_needs_care
from planner.rules.gate_facts import Situation, add_months, age_on, birthday_at
from planner.rules.mouth import AbsentTooth, Picture
from planner.rules.teeth import LOWER_PERMANENT, UPPER_PERMANENT, Kind, Tooth
from planner.rules.units import format_cents, format_mm
from planner.rules.verdicts import Reason, Verdict
from planner.rules.words import decimal, in_cents, many, mm, told

OWN_CONSENT, MAJORITY, LEAP_BIRTHDAY = "age-of-own-consent", "age-of-majority", "leap-day-birthday"
WHITENING_AGE, PEROXIDE_CEILING = "whitening-age", "peroxide-ceiling-percent"
LEAP_DAYS = {"28 February": False, "1 March": True}
"""What the office may set for whoever was born on 29 February, and whether that is the later day."""
OLDEST = 99
"""No law sets an age above this; a larger number is a slip and is asked about."""
FILMS = ("small film", "panoramic", "small 3-D")
"""Pictures that show what lies in the bone."""


def special(situation: Situation, book: GateBook) -> Iterator[Reason]:
    """Every reason of the gates written in code, in the order of their numbers."""
    yield from _absent_teeth(situation, book)
    if situation.is_nothing():
        return
    yield from _own_limits(situation, book)
    yield from _consent(situation, book)
    yield from _wish_by(situation, book)
    if "whitening" in situation.course.treatments:
        yield from _whitening_law(situation, book)


def _coded(book: GateBook, gate: str, verdict: Verdict, words: str, datum: str) -> Reason:
    known = book.coded[gate]
    return Reason(gate, verdict, words, datum, source=known.source, certainty=known.certainty)


# ---------------------------------------------------------------- G9: is the tooth really not there


def _absent_teeth(s: Situation, book: GateBook) -> Iterator[Reason]:
    paths = {absent.tooth: f"examination.absent[{i}]" for i, absent in enumerate(s.facts.examination.absent)}
    known = {absent.tooth: absent for absent in s.facts.examination.absent}
    for tooth in (*known, *_unaccounted(s)):
        verdict, words = _doubt(s, tooth, known.get(tooth))
        if verdict is Verdict.OFFER:
            continue
        datum = paths.get(tooth, f"examination.absent[{tooth.written(s.facts.numbering)} not recorded]")
        if s.is_nothing():
            yield _coded(book, "G9", Verdict.CARE, still_needs_care(words), datum)
        elif _concerns(s, tooth):
            yield _coded(book, "G9", verdict, words, datum)


def _unaccounted(s: Situation) -> tuple[Tooth, ...]:
    """Permanent teeth up to the second premolar that should stand among the recorded ones and are in no record."""
    recorded = set(s.recorded())
    absent = {found.tooth for found in s.facts.examination.absent}
    found: list[Tooth] = []
    for upper in (True, False):
        places = [s.stands_at(tooth).arch_index for tooth in recorded if tooth.upper == upper]
        if not places:
            continue
        for tooth in UPPER_PERMANENT if upper else LOWER_PERMANENT:
            inside = tooth.position <= 5 and min(places) <= tooth.arch_index <= max(places)
            if inside and tooth not in recorded and tooth not in absent:
                found.append(tooth)
    return tuple(sorted(found))


def _doubt(s: Situation, tooth: Tooth, absent: AbsentTooth | None) -> tuple[Verdict, str]:
    label = s.label(tooth)
    if absent is None:
        return Verdict.ASK, told("The {tooth} is recorded neither as present nor as absent.", tooth=label)
    if absent.cause == "lost" and absent.lost_on is not None:
        return Verdict.OFFER, ""
    if absent.cause == "not erupted":
        return _buried(s, tooth, absent)
    proof = _proof(s, tooth)
    if proof:
        return Verdict.ASK, proof
    if tooth.upper and tooth.kind is Kind.CANINE:
        if not absent.palpation_note or absent.felt is None:
            words = told("The {tooth} is missing and nobody noted whether it can be felt in the jaw.", tooth=label)
            return Verdict.ASK, words
        if absent.felt:
            words = told(
                "The {tooth} is said to be absent but was felt in the jaw: it has to be found first.", tooth=label
            )
            return Verdict.ASK, words
        films = _proving(s, tooth)
        if len(films) == 1 and films[0].kind == "small film" and not absent.localised:
            words = told(
                "The {tooth} was not felt, and one small film does not show where else it may lie.", tooth=label
            )
            return Verdict.ASK, words
    return Verdict.OFFER, ""


def _proving(s: Situation, tooth: Tooth) -> list[Picture]:
    return [p for p in s.facts.pictures if tooth in p.absent and p.kind in FILMS and p.reader and p.on <= s.today]


def _proof(s: Situation, tooth: Tooth) -> str:
    """Why no picture proves the tooth absent, or nothing when one does."""
    label = s.label(tooth)
    pictures = _proving(s, tooth)
    if not pictures:
        return told("The {tooth} is missing and no dated picture proves it absent.", tooth=label)
    born, last = s.facts.patient.birth_date, max(picture.on for picture in pictures)
    least = s.settings["absence_proof_age"]
    if age_on(born, last) < least:
        return told(
            "The picture of {day} shows no {tooth}, but before the age of {age} that proves nothing.",
            day=last,
            tooth=label,
            age=least,
        )
    good_until = add_months(last, s.settings["absence_months_in_growth"])
    if age_on(born, s.today) < s.settings["pictures_grown_age"] and s.today > good_until:
        return told(
            "In growth the picture of {day} proved the {tooth} absent only until {until}.",
            day=last,
            tooth=label,
            until=good_until,
        )
    return ""


def _buried(s: Situation, tooth: Tooth, absent: AbsentTooth) -> tuple[Verdict, str]:
    label = s.label(tooth)
    if not absent.localised:
        return Verdict.ASK, told("The {tooth} has not come through, and where it lies is not known.", tooth=label)
    growing = age_on(s.facts.patient.birth_date, s.today) < s.settings["pictures_grown_age"]
    months = s.settings["roots_months_in_growth" if growing else "roots_months"]
    near = s.beside(tooth)
    unread = [
        t
        for t in near
        if not any(t in p.roots_of and p.on <= s.today <= add_months(p.on, months) for p in s.facts.pictures)
    ]
    if unread:
        names = "; ".join(s.label(t) for t in unread)
        return Verdict.ASK, told(
            "The {tooth} lies in the jaw and may eat a neighbour's root; not read lately: {teeth}.",
            tooth=label,
            teeth=names,
        )
    return Verdict.CARE, told(
        "The {tooth} lies in the jaw; the roots beside it were read and stay under watch.", tooth=label
    )


def _concerns(s: Situation, tooth: Tooth) -> bool:
    """Whether the course works on the place of ``tooth``, its neighbours, or the tooth standing in it."""
    if s.has("braces"):
        return True
    places = {
        place
        for place in (*s.standing(), *s.recorded(), tooth)
        if place.upper == tooth.upper and abs(place.arch_index - tooth.arch_index) <= 1
    }
    area = places | {found for place, found in s.standing().items() if place in places}
    in_gaps = {side for pair in s.course.gaps_closed for side in pair}
    return bool(area & (set(s.worked()) | set(s.filled()) | in_gaps))


# ---------------------------------------------------------------- G11: the patient's own limits


def _own_limits(s: Situation, book: GateBook) -> Iterator[Reason]:
    limits = s.facts.limits
    removed = s.course.removal()
    if limits.removal is not None:
        beyond = [tooth for tooth, tenths in removed.items() if tenths > limits.removal]
        if beyond:
            names = "; ".join(f"{s.label(tooth)}: {mm(removed[tooth])} mm" for tooth in beyond)
            allowed = told("{mm} mm on any tooth", mm=mm(limits.removal))
            yield _own(s, book, "removal", format_mm(limits.removal), allowed, names)
    reduced = s.course.reduced()
    if limits.teeth_reduced is not None and len(reduced) > limits.teeth_reduced:
        labels = "; ".join(s.label(tooth) for tooth in reduced)
        template = (
            "{count} is reduced for good ({teeth})" if len(reduced) == 1 else "{count} are reduced for good ({teeth})"
        )
        names = told(template, count=many(len(reduced), "tooth"), teeth=labels)
        yield _own(s, book, "teeth_reduced", str(limits.teeth_reduced), many(limits.teeth_reduced, "tooth"), names)
    counts = (("visits", s.visits, limits.visits, "visit"), ("months", s.months, limits.months, "month"))
    for name, needed, limit, word in counts:
        if limit is not None and needed is not None and needed > limit:
            yield _own(s, book, name, str(limit), many(limit, word), many(needed, word))
    if limits.money is not None and s.money_cents is not None and s.money_cents > limits.money:
        currency = s.book.currency
        allowed, needed_money = f"{currency} {in_cents(limits.money)}", f"{currency} {in_cents(s.money_cents)}"
        yield _own(s, book, "money", format_cents(limits.money), allowed, needed_money)


def _own(s: Situation, book: GateBook, name: str, value: str, limit: str, what: str) -> Reason:
    known = book.coded["G11"]
    return Reason(
        "G11",
        Verdict.NO,
        told("This is outside your own limit of {limit}: {what}.", limit=limit, what=what),
        f"limits.{name} = {value}",
        source=known.source,
        certainty=known.certainty,
        patient_limit=True,
    )


# ---------------------------------------------------------------- G18: who may lawfully say yes


def _consent(s: Situation, book: GateBook) -> Iterator[Reason]:
    person = s.facts.patient
    settings = {key: s.book.legal_on(key, s.today) for key in (OWN_CONSENT, MAJORITY)}
    ages: dict[str, int] = {}
    for key, setting in settings.items():
        if setting is None or not setting.value.isdecimal() or int(setting.value) > OLDEST:
            words = told('The office has not entered the legal setting "{key}" for {day}.', key=key, day=s.today)
            yield _lawful(book, Verdict.ASK, words, f"legal.{key} = {setting.value if setting else 'not set'}")
        else:
            ages[key] = int(setting.value)
    if len(ages) < len(settings):
        return
    later = _leap_birthday_is_later(s)
    if later is None:
        sure = {
            age_on(person.birth_date, s.today, on_1_march) >= least
            for least in ages.values()
            for on_1_march in (True, False)
        }
        if len(sure) > 1 and age_on(person.birth_date, s.today, True) != age_on(person.birth_date, s.today, False):
            words = told(
                'Born on 29 February: the legal setting "{key}" decides whether the birthday is today.',
                key=LEAP_BIRTHDAY,
            )
            yield _lawful(book, Verdict.ASK, words, f"legal.{LEAP_BIRTHDAY} = not set")
            return
    age = age_on(person.birth_date, s.today, later is not False)
    if person.can_decide_alone is None:
        words = told("Not known yet: whether the patient can decide alone.")
        yield _lawful(book, Verdict.ASK, words, _own_decision(None))
        return
    if age >= ages[OWN_CONSENT] and person.can_decide_alone:
        if age < ages[MAJORITY] and person.own_agreement is False:
            yield _refused(book)
        return
    datum = _own_decision(False) if not person.can_decide_alone else f"patient.birth_date = {person.birth_date}"
    if not person.decision_maker:
        earliest = None
        if person.can_decide_alone:
            earliest = birthday_at(person.birth_date, ages[OWN_CONSENT], later is not False)
        words = told("Someone else has to decide by law, and that person is not named yet.")
        step = told("name the lawful decision-maker, and record the patient's own agreement")
        yield _lawful(book, Verdict.WAIT, words, datum, step, earliest)
    elif person.own_agreement is None:
        words = told("Not known yet: whether the patient agrees, beside the lawful decision-maker.")
        yield _lawful(book, Verdict.ASK, words, "patient.own_agreement = not recorded")
    elif not person.own_agreement:
        yield _refused(book)


def _leap_birthday_is_later(s: Situation) -> bool | None:
    setting = s.book.legal_on(LEAP_BIRTHDAY, s.today)
    return None if setting is None else LEAP_DAYS.get(setting.value)


def _own_decision(value: bool | None) -> str:
    return f"patient.can_decide_alone = {'not recorded' if value is None else str(value).lower()}"


def _refused(book: GateBook) -> Reason:
    words = told("The young person does not agree; work that is only for looks waits until they do.")
    return _lawful(book, Verdict.WAIT, words, "patient.own_agreement = false", told("the patient's own agreement"))


def _lawful(
    book: GateBook, verdict: Verdict, words: str, datum: str, step: str = "", earliest: date | None = None
) -> Reason:
    known = book.coded["G18"]
    return Reason(
        "G18",
        verdict,
        words,
        datum,
        earliest=earliest,
        missing_step=step,
        source=known.source,
        certainty=known.certainty,
        never_overridable=True,
    )


# ---------------------------------------------------------------- G19: ready in time


def _wish_by(s: Situation, book: GateBook) -> Iterator[Reason]:
    wish, finish = s.facts.limits.wish_by, s.earliest_finish
    if wish is None or finish is None or finish <= wish or not s.facts.limits.wish_by_firm:
        return
    what = f" ({s.facts.limits.wish_by_words})" if s.facts.limits.wish_by_words else ""
    late = many((finish - wish).days, "day")
    words = told(
        "This is outside your own limit: ready by {day}{why}. The earliest finish is {finish}, {late} later.",
        day=wish,
        why=what,
        finish=finish,
        late=late,
    )
    yield replace(_coded(book, "G19", Verdict.NO, words, f"limits.wish_by = {wish}"), patient_limit=True)


# ---------------------------------------------------------------- whitening: what the place allows


def _whitening_law(s: Situation, book: GateBook) -> Iterator[Reason]:
    person = s.facts.patient
    setting = s.book.legal_on(WHITENING_AGE, s.today)
    least = int(setting.value) if setting and setting.value.isdecimal() else s.settings["whitening_least_age"]
    if age_on(person.birth_date, s.today, _leap_birthday_is_later(s) is not False) < least:
        known = book.coded["whitening.age"]
        yield Reason(
            "whitening.age",
            Verdict.NO,
            told("Whitening is not done under the age of {age} here.", age=least),
            f"patient.birth_date = {person.birth_date}",
            source=known.source,
            certainty=known.certainty,
            never_overridable=True,
        )
    ceiling = s.book.legal_on(PEROXIDE_CEILING, s.today)
    known = book.coded["whitening.ceiling"]
    value = str(s.settings["whitening_ceiling_percent"]) if ceiling is None else ceiling.value
    datum = f"legal.{PEROXIDE_CEILING} = {'not set' if ceiling is None else value}"
    strength = peroxide_percent(s)
    try:
        most = Decimal(value)
    except InvalidOperation:
        most = Decimal("NaN")
    if not most.is_finite():
        words = told("The local peroxide ceiling is not a number.")
        yield _coded(book, "whitening.ceiling", Verdict.ASK, words, datum)
        return
    if strength > most:
        words = told(
            "The planned gel comes to {strength} % hydrogen peroxide; {most} % is the most allowed here.",
            strength=decimal(str(strength)),
            most=decimal(str(most)),
        )
        yield Reason(
            "whitening.ceiling",
            Verdict.NO,
            words,
            datum,
            source=known.source,
            certainty=known.certainty,
            never_overridable=True,
        )


def peroxide_percent(s: Situation) -> Decimal:
    """The planned gel's strength as hydrogen peroxide, percent: carbamide peroxide times 0.36."""
    carbamide = s.settings["whitening_gel_carbamide_percent"]
    return (Decimal(carbamide) * s.settings["carbamide_per_mille_peroxide"] / 1000).normalize()
