"""What if only these? Half of an option: its fee, the gaps that stay open, the proportions, the minutes, or why not.

A part is judged like an option that a dentist put together: the same gates, the same price list, packages unwound, the
spaces held against what stays undone. Every amount stays as it was checked where that can stand; where it cannot, the
space is shared anew among the teeth that were chosen, and a dentist has to agree to the new amounts. Some halves are
refused whatever they cost: one of the two middle teeth, a narrow gap that only the other half would close, what moved
teeth were to make ready for, a false tooth without what carries it.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from itertools import combinations as sets_of
from typing import Any

from planner.rules.book import OfficeBook
from planner.rules.catalogue import Catalogue, shipped
from planner.rules.charging import charges_of
from planner.rules.choices import Lock, OwnOption, OwnWork
from planner.rules.courses import Course
from planner.rules.money import EstimateError, estimate
from planner.rules.mouth import CaseFacts
from planner.rules.options import Desk, option_of
from planner.rules.own_courses import has_amounts, own_course, own_faults
from planner.rules.plan import NOTHING_TO_SHARE, amounts_held, share_spaces
from planner.rules.results import OptionShape, SpaceShape, ToothShape, WishAnswer, WorkLine
from planner.rules.segments import limits_of
from planner.rules.standing import role_of, with_roles
from planner.rules.teeth import Tooth
from planner.rules.together import clash, fill_words
from planner.rules.units import format_cents, format_mm
from planner.rules.verdicts import Reason, Verdict, worst
from planner.rules.wishes import answers

_KEY = "own-99"
"""The part's key while it is computed; no option of a case has it."""
MOST_PIECES = 12
"""Pieces up to which every subset is looked at for a budget: 4096 of them."""


def part_of(name: str, language: str = "en") -> str:
    """What an option called ``name`` is called where only a part of it was accepted."""
    return f"{name}: una parte" if language == "es" else f"{name}: a part"


@dataclass(frozen=True, slots=True)
class Piece:
    """One thing that can be ticked: work on a tooth, in a place or on the whole mouth, or a thing made for after."""

    key: str
    words: str
    tooth: Tooth | None
    beside: bool = False
    """A line that stands beside the option, such as a night guard."""


@dataclass(frozen=True, slots=True)
class OpenGap:
    """A gap that the part leaves."""

    right_tooth: Tooth
    left_tooth: Tooth
    tenths: int
    in_whole_tenths: int
    """What the whole option leaves there."""


@dataclass(frozen=True, slots=True)
class Proportion:
    """Width to height of one tooth of the part, percent: now, in the part."""

    tooth: Tooth
    now_percent: Decimal
    after_percent: Decimal
    word: str


@dataclass(frozen=True, slots=True)
class Partial:
    """A part of an option and everything that follows from taking only that."""

    chosen: tuple[str, ...]
    """Keys of the pieces, in the option's order."""
    whole: bool
    option: OptionShape | None
    """The part as an option of its own; None where it cannot even be put together."""
    refused: tuple[str, ...]
    """Why this part is not to be had, one sentence each."""
    total_cents: int
    whole_cents: int
    gaps: tuple[OpenGap, ...]
    proportions: tuple[Proportion, ...]
    wishes: tuple[WishAnswer, ...]
    differences: tuple[str, ...]
    """What the letter has to say otherwise, one sentence each."""
    shared_anew: tuple[str, ...] = ()
    """Amounts that are others than those shown, tooth by tooth; a dentist has to agree to them."""

    @property
    def percent_of_fee(self) -> int:
        """The part's fee in percent of the whole, rounded half-up."""
        return (200 * self.total_cents + self.whole_cents) // (2 * self.whole_cents) if self.whole_cents else 0


@dataclass(frozen=True, slots=True)
class Best:
    """The best part under a budget, and what was passed over for it."""

    part: Partial | None
    words: str
    only_together: tuple[str, ...]
    """Pieces that come together or not at all, in words."""


def pieces_of(option: OptionShape) -> tuple[Piece, ...]:
    """What of ``option`` can be ticked, in its order: its work, and the lines that stand beside it."""
    work = [Piece(_key(line), line.words, line.tooth) for line in option.work if not line.extracted]
    beside = [Piece(f"beside.{line.service}", line.words, None, beside=True) for line in option.estimate.beside]
    return (*work, *beside)


def whole_of(option: OptionShape) -> tuple[str, ...]:
    """The pieces that are the option itself, without what stands beside it."""
    return tuple(piece.key for piece in pieces_of(option) if not piece.beside)


def explore(
    facts: CaseFacts,
    book: OfficeBook,
    today: date,
    option: OptionShape,
    chosen: Iterable[str],
    *,
    spaces: SpaceShape,
    catalogue: Catalogue | None = None,
) -> Partial:
    """What taking only the pieces ``chosen`` of ``option`` comes to.

    ``spaces`` are the plan's, ``today`` the day its prices are of. Raises ValueError for a piece the option does not
    have, LookupError when no price list is in force.
    """
    return _Explorer(facts, book, today, option, spaces, catalogue or shipped()).explore(chosen)


def best_within(
    facts: CaseFacts,
    book: OfficeBook,
    today: date,
    option: OptionShape,
    budget_cents: int,
    *,
    spaces: SpaceShape,
    catalogue: Catalogue | None = None,
) -> Best:
    """The part of ``option`` that answers most of what was wished, by rank, for at most ``budget_cents``.

    Of two that answer the same, the one that touches fewer teeth, then the cheaper. Raises ValueError for a budget
    below zero or an option of too many pieces, LookupError when no price list is in force.
    """
    if budget_cents < 0:
        raise ValueError("a budget below zero buys nothing; write 0 or more")
    return _Explorer(facts, book, today, option, spaces, catalogue or shipped()).best_within(budget_cents)


def _key(line: WorkLine) -> str:
    return f"{line.treatment}.{line.tooth.key if line.tooth else 'mouth'}{'.place' if line.fills_place else ''}"


class _Explorer:
    """One option of one case, ready to be halved over and over."""

    def __init__(
        self,
        facts: CaseFacts,
        book: OfficeBook,
        today: date,
        option: OptionShape,
        spaces: SpaceShape,
        catalogue: Catalogue,
    ) -> None:
        self.facts = with_roles(facts)
        self.option = option
        self.spaces = spaces
        self.catalogue = catalogue
        self.treatments = catalogue.treatments
        self.desk = Desk(
            self.facts, book, today, book.price_list_on(today), catalogue.treatments, catalogue.combinations
        )
        self.work = {_key(line): line for line in option.work if not line.extracted}
        self.beside = {f"beside.{line.service}": line for line in option.estimate.beside}
        self.limits = limits_of(book.office_limits, facts.choices)

    # ------------------------------------------------------------------------------------------------ one part

    def explore(self, chosen: Iterable[str]) -> Partial:
        wanted = set(chosen)
        if unknown := sorted(wanted - set(self.work) - set(self.beside)):
            raise ValueError(f'"{unknown[0]}" is no piece of this option')
        kept = tuple(key for key in (*self.work, *self.beside) if key in wanted)
        work = [key for key in kept if key in self.work]
        extra = sum(self.beside[key].total_cents for key in kept if key in self.beside)
        whole = len(work) == len(self.work)
        if not work:
            return self._without_option(kept, ("Nothing is chosen.",), extra)
        if whole:
            return self._whole(kept, extra)
        own = self._own(work)
        refused = list(self._refused_halves(work))
        if faults := own_faults(own, self.facts, self.treatments, self.desk.combinations):
            return self._without_option(kept, tuple(dict.fromkeys([*refused, *faults])), extra)
        course = self._course(own)
        reasons, shape = self._held(own, course)
        anew: tuple[str, ...] = ()
        if not refused and worst(reasons).severity > Verdict.CARE.severity and (other := self._shared_anew(work)):
            own, anew = other, tuple(self._other_amounts(work, other))
            course = self._course(own)
            reasons, shape = self._held(own, course)
        if narrow := tuple(self._narrow_gaps(course)):
            # Said in full, and once: the space model would only say that such a gap cannot be.
            refused.extend(narrow)
            reasons = tuple(reason for reason in reasons if reason.gate != "spaces")
        desk = self._desk_with(own)
        part, _burden = option_of(course, desk, reasons)
        if part.verdict not in (Verdict.OFFER, Verdict.CARE):
            refused += [self._why(reason) for reason in part.reasons if reason.verdict.severity >= 2]
        return Partial(
            chosen=kept,
            whole=False,
            option=replace(part, key=self.option.key, name=part_of(self.option.name), own=None),
            refused=tuple(dict.fromkeys(refused)),
            total_cents=part.estimate.total_cents + extra,
            whole_cents=self.option.estimate.total_cents,
            gaps=tuple(self._gaps(course)),
            proportions=tuple(self._proportions(shape, course)),
            wishes=part.wishes,
            differences=tuple(self._differences(work, part)),
            shared_anew=anew,
        )

    def _whole(self, kept: tuple[str, ...], extra: int) -> Partial:
        money = self.option.estimate.total_cents
        refused: tuple[str, ...] = ()
        if self.option.verdict not in (Verdict.OFFER, Verdict.CARE):
            refused = tuple(self._why(one) for one in self.option.reasons if one.verdict.severity >= 2)
        chosen = next((plan for plan in self.spaces.plans if plan.key == self.option.space_plan), None)
        gaps = [
            OpenGap(gap.right_tooth, gap.left_tooth, gap.left_open_tenths, gap.left_open_tenths)
            for gap in (chosen.gaps if chosen else ())
            if gap.left_open_tenths
        ]
        touched = set(self.option.teeth_touched)
        shapes = [
            Proportion(tooth.tooth, tooth.ratio_percent, tooth.ratio_after_percent, tooth.word)
            for tooth in (chosen.teeth if chosen else ())
            if tooth.tooth in touched
        ]
        return Partial(
            kept, True, self.option, refused, money + extra, money, tuple(gaps), tuple(shapes), self.option.wishes, ()
        )

    def _without_option(self, kept: tuple[str, ...], refused: tuple[str, ...], extra: int) -> Partial:
        return Partial(kept, False, None, refused, extra, self.option.estimate.total_cents, (), (), (), ())

    def _own(self, work: Sequence[str]) -> OwnOption:
        lines = [self.work[key] for key in work]
        return OwnOption.model_construct(
            key=_KEY,
            work=tuple(
                OwnWork.model_construct(
                    treatment=line.treatment,
                    tooth=line.tooth,
                    mesial=line.mesial_tenths,
                    distal=line.distal_tenths,
                    lengthening=line.lengthening_tenths,
                    removal=line.removal_tenths if self._on(line.treatment) == "edges" else 0,
                    surfaces=line.surfaces or None,
                )
                for line in lines
            ),
            changed_from=self.option.key,
            reason="a part of what was shown",
            by="",
            on=self.desk.today,
        )

    def _shared_anew(self, work: Sequence[str]) -> OwnOption | None:
        """The part with the space shared anew among its teeth, all else left as it is; None where nothing fits.

        Closing every gap beside them comes first, then those that a wish asks to be closed, then any.
        """
        lines = [self.work[key] for key in work]
        if any(self._on(line.treatment) not in ("spaces", "edges", "whole mouth") for line in lines):
            return None
        for leave in ("none", "not wished", "any"):
            shape = share_spaces(self._open_to_share(lines, leave), self.desk.book)
            plan = next((plan for plan in shape.plans if plan.offered), None)
            if plan is None:
                continue
            after = {tooth.tooth: tooth for tooth in plan.teeth}
            own = self._own([key for key in work if not self._is_idle(self.work[key], after)])
            if len(own.work) < len(work):
                return None  # sharing anew would leave a chosen tooth out: that is another part
            changed = (
                self._with_amounts(item, after[item.tooth])
                if item.tooth in after and self._on(item.treatment) == "spaces"
                else item
                for item in own.work
            )
            return own.model_copy(update={"work": tuple(changed)})
        return None

    def _is_idle(self, line: WorkLine, after: dict[Tooth, ToothShape]) -> bool:
        found = after.get(line.tooth) if line.tooth else None
        if found is None or self._on(line.treatment) != "spaces":
            return False
        return not (found.mesial_tenths or found.distal_tenths or found.lengthening_tenths)

    @staticmethod
    def _with_amounts(item: OwnWork, after: ToothShape) -> OwnWork:
        amounts = (after.mesial_tenths, after.distal_tenths, after.lengthening_tenths)
        sides = tuple(map(bool, amounts))
        kept = sides == (bool(item.mesial), bool(item.distal), bool(item.lengthening))
        return item.model_copy(
            update={
                "mesial": amounts[0],
                "distal": amounts[1],
                "lengthening": amounts[2],
                "surfaces": item.surfaces if kept else sum(sides),
            }
        )

    def _open_to_share(self, lines: Sequence[WorkLine], leave: str) -> CaseFacts:
        """The facts with everything fixed but the shares of the chosen teeth.

        ``leave`` says which gaps beside them may stay open: ``none``, those ``not wished`` to be closed, or ``any``.
        """
        facts = self._edges_done(lines)
        adding = {line.tooth: line for line in lines if line.tooth and self._on(line.treatment) == "spaces"}
        edges = {line.tooth: line for line in lines if line.tooth in adding and self._on(line.treatment) == "edges"}

        def fixed(what: Any, tooth: Tooth, value: int | None = None) -> Lock:
            return Lock.model_construct(
                what=what, value=value, reason="not chosen", by="", on=self.desk.today, tooth=tooth
            )

        locks = [lock for lock in facts.choices.locks if lock.tooth in adding]
        for tooth in (found.tooth for found in facts.examination.teeth):
            if tooth not in adding:
                locks.append(fixed("untouched", tooth))
            elif tooth in edges:
                locks.append(fixed("shorten", tooth, edges[tooth].removal_tenths))
            else:
                locks.append(fixed("lengthen", tooth, adding[tooth].lengthening_tenths))
        wished = {
            frozenset(target.teeth)
            for wish in self.facts.wishes
            for target in wish.targets
            if target.kind == "gap closed"
        }
        gaps = []
        for gap in facts.examination.gaps:
            if not adding.keys() & set(gap.between):
                gaps.append(gap.model_copy(update={"may_stay": True, "width": 0}))
            elif leave == "any" or (leave == "not wished" and frozenset(gap.between) not in wished):
                gaps.append(gap.model_copy(update={"may_stay": True}))
            else:
                gaps.append(gap)
        choices = facts.choices.model_copy(update={"locks": tuple(locks)})
        examination = facts.examination.model_copy(update={"gaps": tuple(gaps)})
        return facts.model_copy(update={"choices": choices, "examination": examination})

    def _other_amounts(self, work: Sequence[str], other: OwnOption) -> Iterator[str]:
        for key, item in zip(work, other.work, strict=True):
            line = self.work[key]
            now = (item.mesial, item.distal, item.lengthening)
            before = (line.mesial_tenths, line.distal_tenths, line.lengthening_tenths)
            if item.tooth is not None and now != before:
                named = ("toward the middle", "away from it", "at the edge")
                said = ", ".join(
                    f"{format_mm(new)} mm {where}" + ("" if new == old else f" (shown: {format_mm(old)} mm)")
                    for new, old, where in zip(now, before, named, strict=True)
                    if new or old
                )
                yield f"The {self._label(item.tooth)}: {said}."

    def _course(self, own: OwnOption) -> Course:
        return own_course(own, self.facts, self.treatments, self.desk.combinations)

    def _desk_with(self, own: OwnOption) -> Desk:
        # A dentist's decision about the whole option holds for its parts: an override is no less thought through.
        over = tuple(
            made.model_copy(update={"option": _KEY})
            for made in self.facts.choices.overrides
            if made.option == self.option.key
        )
        choices = self.facts.choices.model_copy(
            update={"own_options": (own,), "overrides": (*self.facts.choices.overrides, *over)}
        )
        return replace(self.desk, facts=self.facts.model_copy(update={"choices": choices}))

    def _held(self, own: OwnOption, course: Course) -> tuple[tuple[Reason, ...], SpaceShape | None]:
        parts = [self.treatments[key] for key in course.treatments]
        moved = any(part.works_on == "teeth moved" for part in parts)
        if moved or not any(part.adds for part in parts) or self.spaces.verdict == NOTHING_TO_SHARE:
            return (), None
        if not has_amounts(own, self.treatments):
            words = "How much is added on each side is not said, so whether a part of it can stand cannot be judged."
            return (Reason("spaces", Verdict.ASK, words, "the option's amounts"),), None
        rest = own.model_copy(update={"work": tuple(item for item in own.work if not self._edge_only(item, own.work))})
        return amounts_held(rest, course, replace(self.desk, facts=self._edges_done(own.work)))

    def _edge_only(self, item: OwnWork | WorkLine, work: Sequence[OwnWork] | Sequence[WorkLine]) -> bool:
        """Whether an edge is shortened and nothing else is done to that tooth: no width and no gap changes by it."""
        others = [one for one in work if one.tooth == item.tooth and one is not item]
        return self._on(item.treatment) == "edges" and not others

    def _edges_done(self, work: Sequence[OwnWork] | Sequence[WorkLine]) -> CaseFacts:
        """The facts with such edges shortened already, so that the space is shared beside the teeth as they will be."""
        off = {
            item.tooth: item.removal if isinstance(item, OwnWork) else item.removal_tenths
            for item in work
            if self._edge_only(item, work)
        }
        teeth = tuple(
            tooth.model_copy(update={"length": tooth.length - off[tooth.tooth]})
            if tooth.length is not None and off.get(tooth.tooth)
            else tooth
            for tooth in self.facts.examination.teeth
        )
        examination = self.facts.examination.model_copy(update={"teeth": teeth})
        return self.facts.model_copy(update={"examination": examination})

    def _on(self, treatment: str) -> str:
        return self.treatments[treatment].works_on

    @staticmethod
    def _why(reason: Reason) -> str:
        first = f" First: {reason.missing_step.rstrip('.')}." if reason.missing_step else ""
        return f"{reason.words}{first}"

    # --------------------------------------------------------------------------------------------- refused halves

    def _refused_halves(self, work: Sequence[str]) -> Iterator[str]:
        dropped = [key for key in self.work if key not in work]
        yield from self._narrowed(work)
        yield from self._one_of_two(work, dropped)
        yield from self._prerequisites(work, dropped)
        yield from self._carried(work, dropped)

    def _narrowed(self, work: Sequence[str]) -> Iterator[str]:
        if any(self.work[key].narrower for key in work):
            yield "A side is made narrower in this option: which part of it can stand alone the dentist says."

    def _one_of_two(self, work: Sequence[str], dropped: Sequence[str]) -> Iterator[str]:
        """The two middle teeth are looked at side by side: what is added to one is added for both."""
        for kept, left in self._central_pairs(work, dropped):
            one, two = self._label(kept), self._label(left)
            yield f"The {one} and the {two} only as a pair: one of the two middle teeth alone would no longer match."

    def _central_pairs(self, work: Sequence[str], dropped: Sequence[str]) -> Iterator[tuple[Tooth, Tooth]]:
        for key in work:
            for other in dropped:
                one, two = self.work[key], self.work[other]
                if one.tooth is None or two.tooth is None or one.treatment != two.treatment:
                    continue
                if self._on(one.treatment) in ("spaces", "faces", "crowns") and self._centrals(one.tooth, two.tooth):
                    yield one.tooth, two.tooth

    def _centrals(self, one: Tooth, two: Tooth) -> bool:
        found = self.facts.tooth(one), self.facts.tooth(two)
        roles = [role_of(tooth) for tooth in found if tooth is not None]
        return one.upper == two.upper and len(roles) == 2 and all(role == "central" for role in roles)

    def _narrow_gaps(self, course: Course) -> Iterator[str]:
        """A gap that the part begins to close and leaves too narrow; one it does not touch stays as it is."""
        least = self.limits.gap_left_min
        before = {gap.between: gap.width or 0 for gap in self.facts.examination.gaps}
        for right, left, tenths in course.gaps_left:
            if 0 < tenths < least and tenths < before.get((right, left), tenths):
                yield (
                    f"Between the {self._label(right)} and the {self._label(left)} {format_mm(tenths)} mm would stay: "
                    f"a gap is closed, or left at {format_mm(least)} mm or more; a narrower one traps food."
                )

    def _prerequisites(self, work: Sequence[str], dropped: Sequence[str]) -> Iterator[str]:
        """What prepares the ground is not left out: teeth moved, the gum line, a place made."""
        order = list(self.option.treatments)
        for key in dict.fromkeys(self.work[one].treatment for one in dropped):
            if self._on(key) not in ("teeth moved", "gum line"):
                continue
            after = [one for one in order[order.index(key) + 1 :] if any(self.work[w].treatment == one for w in work)]
            if after:
                first, then = self.treatments[key].name, self.treatments[after[0]].name
                yield f"“{then}” is planned for where “{first}” brings the teeth; without that it is another option."

    def _carried(self, work: Sequence[str], dropped: Sequence[str]) -> Iterator[str]:
        """A tooth is not prepared to carry what does not come; what carries is checked with the part itself."""
        for key in work:
            line = self.work[key]
            filling = self.treatments[line.treatment]
            if line.tooth is None or line.fills_place or not filling.carried_by:
                continue
            others = [self.work[one] for one in work if self.work[one].treatment == line.treatment]
            if not any(other.fills_place for other in others):
                yield f"The {self._label(line.tooth)} would carry nothing: the false tooth is left out."

    # --------------------------------------------------------------------------------------------- what it comes to

    def _gaps(self, course: Course) -> Iterator[OpenGap]:
        chosen = next((plan for plan in self.spaces.plans if plan.key == self.option.space_plan), None)
        in_whole = {
            frozenset((gap.right_tooth, gap.left_tooth)): gap.left_open_tenths
            for gap in (chosen.gaps if chosen else ())
        }
        for right, left, tenths in course.gaps_left:
            yield OpenGap(right, left, tenths, in_whole.get(frozenset((right, left)), 0))

    def _proportions(self, shape: SpaceShape | None, course: Course) -> Iterator[Proportion]:
        chosen = shape.plans[0] if shape is not None and shape.plans else None
        touched = set(course.teeth())
        for tooth in chosen.teeth if chosen else ():
            if tooth.tooth in touched:
                yield Proportion(tooth.tooth, self._now(tooth), tooth.ratio_after_percent, tooth.word)

    def _now(self, shape: ToothShape) -> Decimal:
        """As it is measured: in a shape that was shared anew an edge may be shortened already."""
        known = (tooth for plan in self.spaces.plans for tooth in plan.teeth if tooth.tooth == shape.tooth)
        return next(known, shape).ratio_percent

    def _differences(self, work: Sequence[str], part: OptionShape) -> Iterator[str]:
        left = [self.work[key].words for key in self.work if key not in work]
        yield f"Not done: {'; '.join(left)}."
        for before, after in zip(self.option.wishes, part.wishes, strict=False):
            if before.met and after.met is False:
                yield f"No longer answered: {before.words}"
        taken_off = set(self.option.estimate.discount_words) - set(part.estimate.discount_words)
        for words in sorted(taken_off):
            yield f"No longer taken off: {words}."

    def _label(self, tooth: Tooth) -> str:
        return tooth.label(self.facts.numbering)

    # ------------------------------------------------------------------------------------------------ best within

    def best_within(self, budget_cents: int) -> Best:
        if len(self.work) > MOST_PIECES:
            raise ValueError(f"an option of {len(self.work)} pieces has too many parts; tick what is wanted")
        together = tuple(self._only_together())
        ranked = sorted(self._affordable(budget_cents), key=lambda each: each[0])
        for _rank, subset in ranked:
            part = self.explore(subset)
            if not part.refused and part.total_cents <= budget_cents:
                return Best(part, self._best_words(part, budget_cents), together)
        words = f"For {format_cents(budget_cents)} no part of this option can stand by itself."
        return Best(None, words, together)

    def _affordable(self, budget_cents: int) -> Iterator[tuple[tuple[object, ...], tuple[str, ...]]]:
        """Every part that the budget buys, with its rank: wishes by rank, then teeth touched, then the fee."""
        keys = tuple(self.work)
        for many in range(1, len(keys) + 1):
            for subset in sets_of(keys, many):
                own = self._own(subset)
                course = self._course(own)
                cents = self._fee(course)
                if cents is None or cents > budget_cents:
                    continue
                met = [answer.met for answer in answers(course, self.facts, self.treatments)]
                rank = (tuple(one is not True for one in met), len(course.teeth()), cents, many, subset)
                if any(met):
                    yield rank, subset

    def _fee(self, course: Course) -> int | None:
        desk = self.desk
        combination = desk.combination(course)
        try:
            asked = charges_of(course, self.facts, desk.prices, self.treatments, combination)
            rounding = desk.book.tax_rounding
            return estimate(
                asked.lines, desk.prices, desk.book.tax_rates, desk.today, tax_rounding=rounding
            ).total_cents
        except (EstimateError, LookupError):
            return None

    def _only_together(self) -> Iterator[str]:
        keys = tuple(self.work)
        seen: set[frozenset[Tooth]] = set()
        for one, two in self._central_pairs(keys, keys):
            pair = frozenset((one, two))
            if one != two and pair not in seen:
                seen.add(pair)
                first, second = sorted(pair)
                yield f"The {self._label(first)} and the {self._label(second)} only as a pair."

    def _best_words(self, part: Partial, budget_cents: int) -> str:
        assert part.option is not None  # it is not refused
        lines = " + ".join(format_cents(line.net_cents) for line in part.option.estimate.lines)
        met = [str(answer.rank) for answer in part.wishes if answer.met]
        which = f"wish {met[0]}" if len(met) == 1 else f"wishes {', '.join(met[:-1])} and {met[-1]}"
        what = "; ".join(line.words for line in part.option.work)
        return (
            f"With {format_cents(budget_cents)}: {what} ({lines} = {format_cents(part.total_cents)}), which answers "
            f"{which}."
        )


def clashing(
    options: Iterable[tuple[OptionShape, Iterable[str]]], catalogue: Catalogue | None = None
) -> tuple[str, ...]:
    """Why pieces of several options cannot be taken together, each clash named by tooth or place; empty if they can.

    ``options`` are options with the pieces chosen of each.
    """
    treatments = (catalogue or shipped()).treatments
    taken: list[tuple[str, WorkLine]] = []
    for option, chosen in options:
        wanted = set(chosen)
        taken += [(option.key, line) for line in option.work if _key(line) in wanted]
    found: list[str] = []
    for (key, one), (other, two) in sets_of(taken, 2):
        if key == other or one.tooth is None or one.tooth != two.tooth:
            continue
        where = f"the {one.tooth.name}"
        names = f"“{treatments[one.treatment].name}” and “{treatments[two.treatment].name}”"
        if one.fills_place != two.fills_place:
            found.append(f"{names}: {where} is worked on and replaced at once.")
        elif one.fills_place:
            found.append(
                f"{names}: the place of {where} is filled twice. {fill_words(one.treatment, two.treatment)}".strip()
            )
        elif one.treatment == two.treatment:
            found.append(f"“{treatments[one.treatment].name}” stands twice on {where}.")
        elif clash(treatments[one.treatment], treatments[two.treatment]).tooth:
            found.append(f"{names} cannot both be on {where}.")
    return tuple(dict.fromkeys(found))
