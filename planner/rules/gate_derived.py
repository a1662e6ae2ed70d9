"""Facts of the person and the mouth that gates look at and that nobody writes down: they are worked out.

Each is a function of one situation and one subject, under the name by which ``looks_at`` calls it. What is missing
makes the derived fact missing too, and its path then names the fact that has to be found. Those of a tooth, a place or
a gap stand in :mod:`planner.rules.gate_teeth`.
"""

from datetime import date

from planner.rules.gate_facts import Datum, Situation, Subject, add_months, age_on, guard_worn, plain
from planner.rules.gate_names import named
from planner.rules.teeth import UPPER_PERMANENT, Kind

# ---------------------------------------------------------------- the person


@named("age")
def _age(s: Situation, _: Subject) -> Datum:
    """Whole years today; a birthday on 29 February counts from 1 March, the later of the two."""
    return Datum("age by patient.birth_date", age_on(s.facts.patient.birth_date, s.today))


def _may_bear(s: Situation) -> bool:
    age = age_on(s.facts.patient.birth_date, s.today)
    return s.facts.patient.sex != "man" and s.settings["pregnancy_from_age"] <= age <= s.settings["pregnancy_to_age"]


@named("pregnant")
def _pregnant(s: Situation, subject: Subject) -> Datum:
    """As recorded; no where it cannot be."""
    recorded = plain(s, "history.pregnant", subject)
    return recorded if recorded.value is not None or _may_bear(s) else Datum(recorded.path, False)


@named("breast_feeding")
def _breast_feeding(s: Situation, subject: Subject) -> Datum:
    """As recorded; no where it cannot be."""
    recorded = plain(s, "history.breast_feeding", subject)
    return recorded if recorded.value is not None or _may_bear(s) else Datum(recorded.path, False)


@named("due_date_passed")
def _due_date_passed(s: Situation, _: Subject) -> Datum:
    """Whether the date of birth that was expected lies behind; no where none was given."""
    due = s.facts.history.due_on
    return Datum("history.due_on", due is not None and due < s.today)


@named("growing")
def _growing(s: Situation, _: Subject) -> Datum:
    """Whether pictures keep only as long as in growth."""
    age = age_on(s.facts.patient.birth_date, s.today)
    return Datum("patient.birth_date", age < s.settings["pictures_grown_age"])


@named("changing")
def _changing(s: Situation, _: Subject) -> Datum:
    """Whether crown measurements keep only a short while: young, in braces, or not long out of them."""
    age = age_on(s.facts.patient.birth_date, s.today)
    braces = s.facts.examination.orthodontics
    settled = braces.removed_on is not None and (
        s.today > add_months(braces.removed_on, s.settings["settling_months_after_braces"])
    )
    moving = braces.state == "in treatment" or (braces.state == "finished" and not settled)
    return Datum("examination.orthodontics.state", age < s.settings["measurements_grown_age"] or moving)


@named("height_gain_a_year")
def _height_gain(s: Situation, _: Subject) -> Datum:
    """Millimetres of height gained in twelve months, by the last two readings far enough apart, rounded up."""
    path = "examination.growth.height_mm"
    readings = sorted(s.facts.examination.growth.height_mm)
    if len(readings) < 2:
        return Datum(path, None)
    last_on, last = readings[-1]
    apart = s.settings["height_months_apart"]
    earlier = [(day, height) for day, height in readings if add_months(day, apart) <= last_on]
    if not earlier:
        return Datum(path, None)
    first_on, first = earlier[-1]
    return Datum(path, -(-(last - first) * 365 // (last_on - first_on).days))


@named("skull_films")
def _skull_films(s: Situation, _: Subject) -> Datum:
    """``steady``, ``changed``, ``too close`` together, or ``none``; a pair that is too old counts as too close."""
    growth = s.facts.examination.growth
    path = "examination.growth.skull_films"
    films = sorted(growth.skull_films)
    if len(films) < 2:
        return Datum(path, "none")
    far_enough = add_months(films[0], s.settings["skull_film_months_apart"]) <= films[-1]
    in_date = s.today <= add_months(films[-1], s.settings["growth_evidence_months"])
    if not (far_enough and in_date):
        return Datum(path, "too close")
    if growth.skull_films_changed is None:
        return Datum("examination.growth.skull_films_changed", None)
    return Datum("examination.growth.skull_films_changed", "changed" if growth.skull_films_changed else "steady")


@named("last_skull_film")
def _last_skull_film(s: Situation, _: Subject) -> Datum:
    """The day of the last skull film; none is missing."""
    return Datum("examination.growth.skull_films", max(s.facts.examination.growth.skull_films, default=None))


# ---------------------------------------------------------------- the mouth


@named("decay_elsewhere")
def _decay_elsewhere(s: Situation, subject: Subject) -> Datum:
    """Open lesions on teeth that the plan neither works on nor touches."""
    path = "examination.decay.open_lesions"
    lesions = s.facts.examination.decay.open_lesions
    if lesions is None:
        return Datum(path, None)
    near = s.touched(subject.treatments)
    here = sum(1 for tooth in near if (found := s.facts.tooth(tooth)) is not None and found.decay)
    return Datum(path, max(0, lesions - here))


@named("filling_booked")
def _filling_booked(s: Situation, _: Subject) -> Datum:
    """Whether a filling has a date that is not past."""
    booked = s.facts.examination.decay.filling_booked_on
    return Datum("examination.decay.filling_booked_on", booked is not None and booked >= s.today)


def _days_since(s: Situation, path: str, day: date | None) -> Datum:
    return Datum(path, None) if day is None else Datum(f"days since {path}", (s.today - day).days)


@named("days_since_cleaning")
def _days_since_cleaning(s: Situation, _: Subject) -> Datum:
    """Days since the last cleaning."""
    cleaned = s.facts.examination.gums.cleaned_on
    return _days_since(s, "examination.gums.cleaned_on", cleaned)


@named("days_since_whitening")
def _days_since_whitening(s: Situation, _: Subject) -> Datum:
    """Days since the last night with whitening trays, below zero while they are still to come."""
    last = s.facts.examination.colour.last_whitening_night
    return _days_since(s, "examination.colour.last_whitening_night", last)


@named("braces_now")
def _braces_now(s: Situation, _: Subject) -> Datum:
    """Whether braces are on and the course is not itself about them."""
    state = s.facts.examination.orthodontics.state
    on = None if state is None else state == "in treatment"
    return Datum("examination.orthodontics.state", False if s.has("braces") else on)


@named("days_since_braces")
def _days_since_braces(s: Situation, _: Subject) -> Datum:
    """Days since braces came off."""
    off = s.facts.examination.orthodontics.removed_on
    return _days_since(s, "examination.orthodontics.removed_on", off)


@named("longest_visit")
def _longest_visit(s: Situation, _: Subject) -> Datum:
    """Mean minutes of the longest visit, where the course was timed."""
    return Datum("minutes of the longest visit", s.longest_visit)


@named("places_filled")
def _places_filled(s: Situation, subject: Subject) -> Datum:
    """How many places get a false tooth or an implant."""
    return Datum("course.places_filled", len(s.filled(subject.treatments)))


@named("teeth_named")
def _teeth_named(s: Situation, subject: Subject) -> Datum:
    """How many teeth the treatment names as worked on."""
    return Datum("course.work", len(s.worked(subject.treatments)))


@named("single_central")
def _single_central(s: Situation, subject: Subject) -> Datum:
    """Whether exactly one of the two upper centrals is worked on."""
    centrals = [tooth for tooth in s.worked(subject.treatments) if tooth.upper and tooth.kind is Kind.CENTRAL]
    return Datum("course.work", len(centrals) == 1)


@named("opened_by_braces")
def _opened_by_braces(s: Situation, _: Subject) -> Datum:
    """Whether the course moves teeth, so that a place can still be made wider."""
    return Datum("course.treatments", s.has("braces"))


@named("guard_worn")
def _guard_worn(s: Situation, _: Subject) -> Datum:
    """Whether a night guard is agreed and worn often enough; unknown until both were asked."""
    bite = s.facts.examination.bite
    name = "guard_nights_per_week" if bite.guard_agreed else "guard_agreed"
    return Datum(f"guard worn by examination.bite.{name}", guard_worn(bite, s.settings["guard_nights"]))


@named("canines_accounted")
def _canines_accounted(s: Situation, _: Subject) -> Datum:
    """Whether both upper canines are on record, as present or as absent; the path names the first that is not."""
    known = {*s.recorded(), *(absent.tooth for absent in s.facts.examination.absent)}
    for canine in (tooth for tooth in UPPER_PERMANENT if tooth.kind is Kind.CANINE):
        if canine not in known:
            return Datum(s.tooth_path(canine, "tooth"), None)
    return Datum("examination.teeth, examination.absent", True)


@named("extra_tooth_near")
def _extra_tooth_near(s: Situation, subject: Subject) -> Datum:
    """Whether an extra tooth is on record beside a tooth that is touched, or anywhere where teeth are moved."""
    touched = s.recorded() if s.has("braces") else s.touched(subject.treatments)
    spots = {(s.stands_at(tooth).upper, s.stands_at(tooth).arch_index) for tooth in touched}
    spots |= {(place.upper, place.arch_index) for place in s.filled(subject.treatments)}
    for extra in (tooth for tooth in s.recorded() if tooth.is_extra):
        if (extra.upper, extra.arch_index) in spots:
            return Datum(s.tooth_path(extra, "tooth"), True)
    return Datum("examination.teeth", False)


@named("midline_checked")
def _midline_checked(s: Situation, _: Subject) -> Datum:
    """Whether frenum, habit and extra tooth were all looked for; the path names the first that was not."""
    bite = s.facts.examination.bite
    checks = {
        "frenum_checked": bite.frenum_checked,
        "habit_checked": bite.habit_checked,
        "extra_tooth_checked": bite.extra_tooth_checked,
    }
    for wanted in (None, False):
        for name, checked in checks.items():
            if checked is wanted:
                return Datum(f"examination.bite.{name}", wanted)
    return Datum("examination.bite.extra_tooth_checked", True)
