"""A case plan as plain text for a terminal: the options side by side, and why each one stands where it stands.

Nothing is computed here; every figure is the plan's own. Widths are counted in characters.
"""

import textwrap
from collections.abc import Iterable, Iterator, Sequence

from planner.rules.results import CasePlan, OptionShape
from planner.rules.teeth import Numbering
from planner.rules.units import format_mm
from planner.rules.verdicts import Verdict

WIDTH = 120
"""Columns of a usual terminal window on a desk's screen."""
_NAME_WIDTH = 24
_UNDO = ("fully", "nearly", "no")
_HEAD = ("", "Option", "Verdict", "mm off", "Undone", "Visits", "Months", "Fee", "Compared", "Upkeep", "Wishes")
_TO_THE_RIGHT = frozenset({"mm off", "Visits", "Months", "Fee", "Compared", "Upkeep"})


def comparison_table(plan: CasePlan) -> str:
    """Everything a terminal shows of a plan.

    One line for each option, gentlest first, and what the columns mean; what sharing the space came to; what is
    recommended and why; then for each option the reasons of its verdict and of its place.
    """
    chosen = f"{plan.option(plan.recommended).name}. " if plan.recommended else ""
    parts = (
        _head(plan),
        _table(plan),
        _legend(plan),
        (
            *_block("Spaces: ", " ".join((plan.spaces.sentence, *plan.spaces.questions))),
            *_block("Recommended: ", f"{chosen}{plan.recommended_why}"),
            *(line for note in plan.notes for line in _block("Note: ", note)),
        ),
        _reasons(plan),
    )
    return "\n\n".join("\n".join(part) for part in parts) + "\n"


def _head(plan: CasePlan) -> Iterator[str]:
    office = f"{plan.office}, {plan.office_place}" if plan.office_place else plan.office
    yield f"{plan.case}: {plan.patient_name}, {plan.patient_age} years, planned on {plan.planned_on.isoformat()}"
    yield f"{office}; price list {plan.price_list_version}; amounts in {plan.currency}"


def _table(plan: CasePlan) -> list[str]:
    rows = [_row(option) for option in plan.options]
    named = [textwrap.wrap(row[1], _NAME_WIDTH) or [""] for row in rows]
    widths = [max(len(row[column]) for row in (_HEAD, *rows)) for column in range(len(_HEAD))]
    widths[1] = max(len(line) for lines in (*named, [_HEAD[1]]) for line in lines)
    lines = [_line(_HEAD, widths), _line(["-" * width for width in widths], widths)]
    for row, (first, *more) in zip(rows, named, strict=True):
        lines.append(_line([row[0], first, *row[2:]], widths))
        lines += [_line(["", rest], widths) for rest in more]
    return lines


def _line(cells: Sequence[str], widths: Sequence[int]) -> str:
    shown = [
        cell.rjust(width) if name in _TO_THE_RIGHT or not name else cell.ljust(width)
        for cell, width, name in zip(cells, widths, _HEAD, strict=False)
    ]
    return "  ".join(shown).rstrip()


def _row(option: OptionShape) -> tuple[str, ...]:
    months = (
        str(option.months_high)
        if option.months_low == option.months_high
        else f"{option.months_low}-{option.months_high}"
    )
    money = option.estimate
    priced = bool(money.lines) or option.verdict not in (Verdict.NO, Verdict.ASK)
    return (
        str(option.rank.place),
        option.name,
        option.verdict.value + ("*" if option.overrides or option.struck else ""),
        format_mm(option.removal_tenths),
        _UNDO[option.undo],
        str(option.visits),
        months,
        _money(money.total_cents) if priced else "-",
        _money(money.compared_cents) if priced else "-",
        _upkeep(option) if priced else "-",
        " ".join(str(wish.rank) if wish.met else "?" if wish.met is None else "." for wish in option.wishes) or "-",
    )


def _upkeep(option: OptionShape) -> str:
    upkeep = option.upkeep
    total, low, high = map(_whole, (upkeep.total_cents, upkeep.low_cents, upkeep.high_cents))
    return total if low == high else f"{total} ({low}-{high})"


def _money(cents: int) -> str:
    return f"{cents // 100:,}.{cents % 100:02d}"


def _whole(cents: int) -> str:
    return f"{(cents + 50) // 100:,}"


def _legend(plan: CasePlan) -> Iterator[str]:
    years = plan.options[0].upkeep.years if plan.options else 10
    numbering = Numbering(plan.numbering).value.capitalize() if plan.numbering != "iso" else "ISO"
    yield from _block(
        "",
        "mm off: most that is taken off any one tooth. Compared: the fee with what belongs beside it, such as a guard. "
        f"Upkeep: expected over {years} years, and between what and what in 8 of 10 such courses. Wishes: numbers of "
        "those that are met, . not met, ? cannot be computed. * a dentist decided otherwise, see below. "
        f"Teeth: {numbering} numbers first.",
    )
    for wish in plan.options[0].wishes if plan.options else ():
        yield from _block(f"Wish {wish.rank}: ", f'"{wish.words}"')


def _reasons(plan: CasePlan) -> Iterator[str]:
    for option in plan.options:
        yield f"{option.rank.place}. {option.name}: {option.verdict.value}"
        if option.rank.decided_by:
            yield from _block("   ", option.rank.decided_by)
        if option.removal_tenths:
            yield from _block("   ", option.removal_words)
        if option.struck:
            yield from _block("   struck: ", option.struck)
        for reason in option.reasons:
            own = " (the patient's own limit)" if reason.patient_limit else ""
            when = f" Not before {reason.earliest.isoformat()}." if reason.earliest else ""
            yield from _block(f"   {reason.verdict.value}: ", f"{reason.words}{when}{own} [{reason.gate}]")
        for override in option.overrides:
            said = f"{override.reason} ({override.by}, {override.on.isoformat()}) [{override.gate}]"
            yield from _block("   overridden: ", said)


def _block(start: str, words: str) -> Iterable[str]:
    """``words`` wrapped to the width, the first line begun with ``start`` and the others set in as far."""
    indent = " " * min(len(start), 13)
    lines = textwrap.wrap(words, WIDTH, initial_indent=start, subsequent_indent=indent, break_on_hyphens=False)
    return lines or [start.rstrip()]
