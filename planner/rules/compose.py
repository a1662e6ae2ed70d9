"""Which courses of treatment a mouth suggests: from findings, wishes and shared spaces to plain work.

What a treatment works on stands in its file and decides when it is proposed, so that a file more is proposed without a
line of code; courses of several treatments come from ``data/combinations.toml``.

A course is proposed whenever the findings give it something to do; whether it is fine, not yet or never is the gates'
business, and a course that is clearly out still stands in the list with its reason, because the patient may have heard
of it. Doing nothing is always a course.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from datetime import date
from enum import Enum
from itertools import pairwise
from typing import Any

from planner.rules.courses import Course, Work
from planner.rules.evidence import evidence
from planner.rules.gate_engine import gate_book
from planner.rules.gate_facts import age_on
from planner.rules.gate_rules import Condition
from planner.rules.mouth import CaseFacts, ToothFacts
from planner.rules.own_courses import displaced_primaries, own_courses
from planner.rules.segments import front_teeth, place_between, teeth_by_key
from planner.rules.space_model import Film
from planner.rules.space_results import SpacePlan, SpaceResult, SpaceVerdict, ToothChange
from planner.rules.space_told import chosen_plan, plan_key
from planner.rules.standing import place_of, role_of
from planner.rules.teeth import Kind, Tooth
from planner.rules.treatments import Combination, Treatment, WorksOn

PART_CLOSING = "bonding-part"
"""Key of the course that adds as far as adding goes and leaves a gap."""


def compose(
    facts: CaseFacts,
    spaces: SpaceResult | None,
    treatments: Mapping[str, Treatment],
    combinations: Mapping[str, Combination],
    today: date | None = None,
) -> tuple[Course, ...]:
    """Every course the findings give something to do, nothing first, the dentist's own last. Each key stands once.

    A course of one treatment is called by it, a course of several by their combination. ``today`` gives the patient's
    age; the day of the examination where it is left out.
    """
    builder = _Composer(facts, spaces, treatments, combinations, today or facts.examination.on)
    found: dict[str, Course] = {}
    own = own_courses(facts, treatments, combinations)
    single = tuple(builder.single())
    for course in (*single, *builder.combined(single), *own):
        found.setdefault(course.key, course)
    return tuple(found.values())


def teeth_to_enlarge(facts: CaseFacts, plan: SpacePlan | None) -> tuple[Tooth, ...]:
    """The teeth a wish or a finding asks to be made larger; where none is named, those the space plan bonds."""
    wanted = [tooth.tooth for tooth in front_teeth(facts) if tooth.undersized]
    wanted += [
        tooth
        for wish in facts.wishes
        for target in wish.targets
        if target.kind == "tooth larger"
        for tooth in target.teeth
    ]
    if not wanted and plan is not None:
        names = teeth_by_key(facts)
        wanted = [names[change.key] for change in plan.changes if change.bonded]
    return tuple(dict.fromkeys(wanted))


def makes_whole(course: Course, facts: CaseFacts) -> bool:
    """Whether the additions of a course only make broken teeth whole again, by eye and in their own shape."""
    added = [work for work in course.work if work.treatment == "bonding"]
    return bool(added) and all(_broken(work, facts) for work in added)


def _broken(work: Work, facts: CaseFacts) -> bool:
    found = None if work.tooth is None else facts.tooth(work.tooth)
    if found is None or work.mesial or work.distal or work.lengthening:
        return False
    # A worn edge is no corner that broke off: how much of it comes back is the dentist's to say.
    worn = found.wear is None or found.wear >= gate_book().settings["worn_grade"]
    return bool(found.crown_lost_percent) and not found.crowned and not worn


def _open_gaps(facts: CaseFacts) -> Iterator[tuple[Tooth, Tooth]]:
    """The gaps that are not to stay; a missing tooth's empty place is none."""
    for gap in facts.examination.gaps:
        found = [tooth for tooth in map(facts.tooth, gap.between) if tooth is not None]
        found.sort(key=lambda tooth: place_of(tooth).arch_index)
        if gap.width and not gap.may_stay and place_between(facts, found[0], found[-1]) is None:
            yield gap.between


class _Composer:
    """Builds courses for one case."""

    def __init__(
        self,
        facts: CaseFacts,
        spaces: SpaceResult | None,
        treatments: Mapping[str, Treatment],
        combinations: Mapping[str, Combination],
        today: date,
    ) -> None:
        self.facts = facts
        self.age = age_on(facts.patient.birth_date, today)
        self.spaces = spaces
        self.treatments = treatments
        self.every_combination = tuple(combinations.values())
        self.combinations = {each.treatments: each for each in self.every_combination if not each.later}
        self.lighter = any(target.kind == "colour lighter" for wish in facts.wishes for target in wish.targets)
        self.names = teeth_by_key(facts)
        self.open_gaps = tuple(_open_gaps(facts))
        self.surfaces = {choice.tooth: choice.surfaces for choice in facts.choices.surfaces}
        self.plan = chosen_plan(spaces) if spaces else None

    def _called(self, parts: tuple[str, ...]) -> str:
        """The key of a course made of ``parts``."""
        if len(parts) == 1:
            return parts[0]
        known = self.combinations.get(parts)
        return known.key if known else "-then-".join(parts)

    def _of(self, *kinds: WorksOn) -> tuple[Treatment, ...]:
        """The treatments that work on one of these, in the order of the catalogue, for whom they are meant."""
        return tuple(each for each in self.treatments.values() if each.works_on in kinds and self._meant(each))

    def _meant(self, treatment: Treatment) -> bool:
        return not treatment.suggested_when or any(self._holds(each) for each in treatment.suggested_when)

    def _holds(self, condition: Condition) -> bool:
        value: Any = self.facts
        for part in condition.looks_at.split("."):
            value = getattr(value, part)
        return value is not None and condition.holds(value.value if isinstance(value, Enum) else value)

    def _works_on(self, key: str) -> WorksOn:
        return self.treatments[key].works_on

    def single(self) -> Iterator[Course]:
        """The courses of one treatment (and the reshaping that additions bring along)."""
        yield Course("none", ("none",), ())
        if shortened := self._reshaped():
            yield Course("reshaping", ("reshaping",), shortened)
        for whole in self._of("whole mouth"):
            yield Course(whole.key, (whole.key,), (Work(whole.key),))
        yield from self._additions()
        # Where adding alone cannot share the space, moving teeth is what is left to talk about; a way of moving them
        # that is meant for this patient in particular also where adding could.
        first = self.spaces is not None and self.spaces.verdict is SpaceVerdict.TEETH_FIRST
        for mover in self._of("teeth moved"):
            if first or (mover.suggested_when and self.open_gaps):
                yield Course(mover.key, (mover.key,), (Work(mover.key),), gaps_closed=self.open_gaps)
        for face in self._of("faces", "crowns"):
            if covered := self._covered(face):
                yield covered
        yield from self._filled()

    def _filled(self) -> Iterator[Course]:
        """False teeth and implants for empty places; what needs no operation also where a tooth only never formed."""
        places = tuple(
            empty.place for empty in self.facts.examination.empty_places if empty.place.kind is not Kind.MOLAR
        )
        for filling in self._of("places"):
            if places or (self.facts.examination.absent and not filling.surgery):
                yield self._filling(filling, places)

    def combined(self, single: Iterable[Course]) -> Iterator[Course]:
        """The courses of several treatments, each made of single courses that the findings propose."""
        known = tuple(single)
        for combination in self.every_combination:
            if not all(self._meant(self.treatments[key]) for key in combination.treatments) or self._too_old(
                combination
            ):
                continue
            match self._works_on(combination.treatments[0]):
                case "whole mouth":
                    yield from self._before(Work(combination.treatments[0]), combination, known)
                case "teeth moved":
                    yield from self._after_moving(combination)
                case "gum line":
                    yield from self._after_gum_line(combination, known)
                case "spaces" if self._works_on(combination.treatments[-1]) == "teeth moved":
                    yield from self._before_moving(combination)
                case "places" if combination.later:
                    yield from self._until_later(combination, known)
                case _:
                    pass

    def _before(self, first: Work, combination: Combination, known: tuple[Course, ...]) -> Iterator[Course]:
        """``first`` before a course that stands by itself: always before the additions, else for a lighter shade."""
        for course in known:
            if course.treatments != combination.treatments[1:]:
                continue
            adds = self._works_on(course.treatments[-1]) == "spaces"
            planned = not course.space_plan or (self.plan is not None and course.space_plan == plan_key(self.plan))
            if planned and (adds or self.lighter):
                work = (first, *course.work)
                yield replace(course, key=combination.key, treatments=combination.treatments, work=work)

    def _too_old(self, combination: Combination) -> bool:
        return combination.below_age is not None and self.age >= combination.below_age.value

    @staticmethod
    def _until_later(combination: Combination, known: tuple[Course, ...]) -> Iterator[Course]:
        """A filling for the years until the one named as later, where there is a place for both."""
        for course in known:
            if course.treatments == combination.treatments and course.places_filled:
                yield replace(course, key=combination.key)

    def _before_moving(self, combination: Combination) -> Iterator[Course]:
        """Small laterals built to their final width before teeth are moved, so that these have something to meet."""
        small = [each.tooth for each in front_teeth(self.facts) if each.undersized and each.tooth.kind is Kind.LATERAL]
        adder, mover = combination.treatments[0], combination.treatments[-1]
        if small and self.open_gaps:
            work = (*(replace(self._whole(tooth), treatment=adder) for tooth in small), Work(mover))
            yield Course(combination.key, combination.treatments, work, gaps_closed=self.open_gaps)

    def _after_gum_line(self, combination: Combination, known: tuple[Course, ...]) -> Iterator[Course]:
        """The gum line moved where it lies too low, then the course that the spaces ask for."""
        first = tuple(Work(combination.treatments[0], tooth, irreversible=True) for tooth in self._gums_too_low())
        for course in known if first else ():
            planned = not course.space_plan or (self.plan is not None and course.space_plan == plan_key(self.plan))
            if course.treatments == combination.treatments[1:] and planned:
                work = (*first, *course.work)
                yield replace(course, key=combination.key, treatments=combination.treatments, work=work)

    def _gums_too_low(self) -> Iterator[Tooth]:
        """Front teeth whose gum line lies so far too low that a correction is talked about."""
        step = evidence("gum-line-step")
        for tooth in front_teeth(self.facts):
            player = tooth.tooth.kind is Kind.PREMOLAR and role_of(tooth) == Kind.CANINE.value
            least = step.low if player and step.low is not None else step.value
            if tooth.gum_too_low is not None and tooth.gum_too_low >= least * 10 and not tooth.tooth.is_primary:
                yield tooth.tooth

    def _after_moving(self, combination: Combination) -> Iterator[Course]:
        """Teeth moved first, then whatever the moved teeth still need."""
        parts = combination.treatments
        if len(parts) < 2:
            return
        mover, last = parts[0], self.treatments[parts[-1]]
        between = tuple(Work(key) for key in parts[1:-1] if self._works_on(key) == "whole mouth")
        if len(between) < len(parts) - 2 or (between and not self.lighter):
            return
        if last.works_on == "spaces":
            small = any(tooth.undersized for tooth in front_teeth(self.facts))
            if (teeth := teeth_to_enlarge(self.facts, self.plan)) and (small or self.open_gaps):
                work = (Work(mover), *between, *(self._whole(tooth) for tooth in teeth))
                yield Course(combination.key, parts, work, gaps_closed=self.open_gaps)
        elif last.works_on == "places" and (opened := tuple(self._to_open())):
            filling = self._filling(last, opened, moved=True)
            taken_out = (
                Work(mover, tooth, irreversible=True, extracted=True) for tooth in displaced_primaries(self.facts)
            )
            work = (Work(mover), *taken_out, *between, *filling.work)
            yield Course(combination.key, parts, work, gaps_closed=self.open_gaps, places_filled=opened)

    def _reshaped(self) -> tuple[Work, ...]:
        found = []
        narrower: dict[Tooth, int] = {}
        for lock in self.facts.choices.locks:
            if lock.tooth is None or lock.value is None:
                continue
            if lock.what in ("slenderise mesial", "slenderise distal"):
                narrower[lock.tooth] = narrower.get(lock.tooth, 0) + lock.value
            length = next((tooth.length for tooth in front_teeth(self.facts) if tooth.tooth == lock.tooth), None)
            removal = (
                lock.value if lock.what == "shorten" else (length or 0) - lock.value if lock.what == "length" else 0
            )
            if removal > 0:
                found.append(Work("reshaping", lock.tooth, removal=removal, irreversible=True))
        sides = (
            Work("reshaping", tooth, removal=taken, narrower=True, irreversible=True)
            for tooth, taken in narrower.items()
            if taken
        )
        return (*found, *sides)

    def _additions(self) -> Iterator[Course]:
        plans = self.spaces.offered if self.spaces else ()
        for plan in plans:
            course = self._addition(plan)
            if plan is self.plan:
                yield course
            elif course.work:
                yield replace(course, key=f"{course.key}-{plan_key(plan)}")
        if self.spaces and self.spaces.part_closing is not None:
            yield replace(self._addition(self.spaces.part_closing), key=PART_CLOSING)
        if not plans:
            wanted = teeth_to_enlarge(self.facts, None) or self._beside_gaps()
            if wanted:
                yield Course("bonding", ("bonding",), tuple(self._whole(tooth) for tooth in wanted))

    def _beside_gaps(self) -> tuple[Tooth, ...]:
        """The teeth on either side of an open gap that is not to stay."""
        return tuple(dict.fromkeys(tooth for pair in self.open_gaps for tooth in pair))

    def _addition(self, plan: SpacePlan) -> Course:
        work: list[Work] = []
        for change in plan.changes:
            tooth = self.names[change.key]
            if change.shortening:
                work.append(Work("reshaping", tooth, removal=change.shortening, irreversible=True))
            if taken := change.tooth.locks.slendering:
                work.append(Work("reshaping", tooth, removal=taken, narrower=True, irreversible=True))
        for change in plan.changes:
            tooth = self.names[change.key]
            if change.bonded:
                sides = (change.share_right > 0) + (change.share_left > 0)
                work.append(
                    Work(
                        "bonding",
                        tooth,
                        surfaces=self.surfaces.get(tooth, sides + (change.lengthening > 0)),
                        mesial=change.share_mesial,
                        distal=change.share_distal,
                        lengthening=change.lengthening,
                    )
                )
        parts = tuple(dict.fromkeys(item.treatment for item in work))
        closed, left = self._gaps_after(plan)
        return Course(self._called(parts), parts, tuple(work), closed, left, space_plan=plan_key(plan))

    def _gaps_after(
        self, plan: SpacePlan
    ) -> tuple[tuple[tuple[Tooth, Tooth], ...], tuple[tuple[Tooth, Tooth, int], ...]]:
        """The gaps that a plan closes, and those it leaves with their width."""
        assert self.spaces is not None  # a plan comes from a result
        segment = self.spaces.segment
        closed, left = [], []
        for index, (one, two) in enumerate(pairwise(plan.changes)):
            pair = self.names[one.key], self.names[two.key]
            if stays := plan.gaps_left[index]:
                left.append((*pair, stays))
            elif segment.gaps[index] and segment.films[index] is not Film.TIGHT:
                closed.append(pair)
        return tuple(closed), tuple(left)

    def _whole(self, tooth: Tooth) -> Work:
        """An addition whose shares are not known yet: both sides and the edge, unless the dentist set otherwise."""
        return Work("bonding", tooth, surfaces=self.surfaces.get(tooth, 2))

    def _covered(self, face: Treatment) -> Course | None:
        """Faces over the teeth the space plan touches, or over those to be enlarged where there is no plan.

        They come out as the space plan has it, and close what it closes. No baby tooth is covered. Where teeth need a
        crown of themselves, a crown is proposed for those.
        """
        if face.works_on == "crowns" and (needing := self._needing_crowns()):
            return Course(face.key, (face.key,), tuple(self._crowned(face, tooth) for tooth in needing))
        if self.plan is not None:
            # An edge that is only shortened is reshaping's work and no reason for a face.
            adds = any(change.bonded for change in self.plan.changes)
            wanted = tuple(self.names[key] for key in self.plan.touched) if adds else ()
            closed, left = self._gaps_after(self.plan)
        else:
            wanted, closed, left = teeth_to_enlarge(self.facts, None), (), ()
        teeth = [tooth for tooth in wanted if not tooth.is_primary]
        if not teeth:
            return None
        shares = {self.names[change.key]: change for change in self.plan.changes} if self.plan else {}
        work = tuple(self._face(face, tooth, shares.get(tooth)) for tooth in teeth)
        if len(teeth) < len(wanted):
            # What a baby tooth would have taken of the space stays open.
            closed = tuple(pair for pair in closed if not any(tooth.is_primary for tooth in pair))
        follows = face.adds and self.plan is not None
        return Course(
            face.key, (face.key,), work, closed, left, space_plan=plan_key(self.plan) if follows and self.plan else ""
        )

    @staticmethod
    def _face(face: Treatment, tooth: Tooth, change: ToothChange | None) -> Work:
        """One face, as the space plan has it; what the plan shortens comes off under it too."""
        removal = max(face.removal.planned_tenths, change.shortening if change else 0)
        return Work(
            face.key,
            tooth,
            mesial=change.share_mesial if change else 0,
            distal=change.share_distal if change else 0,
            lengthening=change.lengthening if change else 0,
            removal=removal,
            crown_percent=face.removal.crown_percent,
            irreversible=removal > 0,
        )

    def _needing_crowns(self) -> tuple[ToothFacts, ...]:
        """Front teeth with a leaking crown, and those that have lost so much of theirs that nothing smaller holds."""
        least = gate_book().settings["crown_lost_for_crown"]
        leaking = self.facts.examination.decay.leaking_fillings is True
        return tuple(
            tooth
            for tooth in front_teeth(self.facts)
            if not tooth.tooth.is_primary
            and ((tooth.crowned and leaking) or (not tooth.crowned and (tooth.crown_lost_percent or 0) >= least))
        )

    @staticmethod
    def _crowned(face: Treatment, tooth: ToothFacts) -> Work:
        """A crown on a tooth that needs one; a tooth that already carries one loses only what a renewal costs."""
        if not tooth.crowned:
            removal = face.removal.planned_tenths
            return Work(
                face.key, tooth.tooth, removal=removal, crown_percent=face.removal.crown_percent, irreversible=True
            )
        again = face.renewal.removal if face.renewal else None
        tenths = 0 if again is None else -int(-(again.high or again.value) * 10 // 1)
        return Work(face.key, tooth.tooth, removal=tenths)

    def _filling(self, filling: Treatment, places: tuple[Tooth, ...], *, moved: bool = False) -> Course:
        """A false tooth or an implant in each place; ``moved`` once braces have brought every tooth home."""
        removal = filling.removal
        work: list[Work] = []
        for place in places:
            work.append(Work(filling.key, place, fills_place=True))
            cut = removal.crown_percent[1] > 0
            work += (
                Work(
                    filling.key,
                    tooth,
                    removal=removal.planned_tenths,
                    crown_percent=removal.crown_percent,
                    irreversible=cut,
                )
                for tooth in self._carriers(filling, place, places, moved)
                if all(done.tooth != tooth for done in work)
            )
        return Course(filling.key, (filling.key,), tuple(work), places_filled=places)

    def _carriers(self, filling: Treatment, place: Tooth, places: tuple[Tooth, ...], moved: bool) -> tuple[Tooth, ...]:
        match filling.carried_by:
            case "one neighbour":
                carrier = self._carrier(place, moved)
                return () if carrier is None else (carrier,)
            case "both neighbours":
                return tuple(self._on_both_sides(place, places, moved))
            case _:
                return ()

    def _spots(self, moved: bool) -> Iterator[tuple[Tooth, ToothFacts]]:
        """Every recorded tooth with the place it stands in; ``moved`` once every tooth has come home."""
        for found in self.facts.examination.teeth:
            if not found.tooth.is_extra:
                yield (found.tooth if moved and not found.tooth.is_primary else place_of(found)), found

    def _carrier(self, place: Tooth, moved: bool) -> Tooth | None:
        """The neighbour that would carry a wing: a sound, firm one first; of two such the one toward the midline."""
        beside = [
            (spot.position, found)
            for spot, found in self._spots(moved)
            if spot.upper == place.upper and abs(spot.arch_index - place.arch_index) == 1
        ]

        def objections(pair: tuple[int, ToothFacts]) -> tuple[bool, bool, int, bool, int]:
            position, found = pair
            return found.tooth.is_primary, bool(found.crowned), found.mobility or 0, bool(found.undersized), position

        return min(beside, key=objections)[1].tooth if beside else None

    def _on_both_sides(self, place: Tooth, places: tuple[Tooth, ...], moved: bool) -> Iterator[Tooth]:
        """The tooth on each side of a place, or of the row of places it belongs to."""
        standing = {spot.arch_index: found.tooth for spot, found in self._spots(moved) if spot.upper == place.upper}
        filled = {other.arch_index for other in places if other.upper == place.upper}
        for step in (-1, 1):
            index = place.arch_index + step
            while index in filled:
                index += step
            if index in standing:
                yield standing[index]

    def _to_open(self) -> Iterator[Tooth]:
        """Places of absent upper front teeth in which another tooth now stands."""
        standing = {place_of(tooth): tooth.tooth for tooth in front_teeth(self.facts)}
        for absent in self.facts.examination.absent:
            tooth = absent.tooth
            if tooth.upper and tooth.kind in (Kind.CENTRAL, Kind.LATERAL, Kind.CANINE) and tooth in standing:
                yield tooth
