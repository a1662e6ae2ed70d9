"""Who may be offered what: the twelve people of the invented office against every treatment, and what decides.

The stories, their measurements and their verdicts are invented; why each verdict is what it is stands with its gate in
the data files ("common practice, no source" unless a gate names one). The money was worked out by hand from the
office's price list.
"""

import re
from collections.abc import Iterator
from decimal import Decimal
from functools import lru_cache
from typing import Any

import pytest

from planner.rules import plan
from planner.rules.casefile import CaseFileError
from planner.rules.choices import Override
from planner.rules.compose import compose
from planner.rules.courses import Course
from planner.rules.gate_engine import ask, gate_book
from planner.rules.gate_facts import Situation
from planner.rules.gate_names import DERIVED
from planner.rules.gate_rules import Criterion, Gate
from planner.rules.gates import override_fault, own_gates, traits_of
from planner.rules.mouth import CaseFacts
from planner.rules.treatments import all_combinations, all_treatments
from planner.rules.units import format_cents
from planner.rules.verdicts import Reason, Verdict, worst
from tests.rules.books import DAY_ZERO, tern_row
from tests.rules.stories import PLANNED, facts_of, planned_on, told, verdict_of
from tests.rules.test_gates_each import meeting

COLUMNS = {
    "none": ("none",),
    "whiten": ("whitening",),
    "reshape": ("reshaping",),
    "bond": ("bonding", "reshape-bond"),
    "bond*": ("bonding-best-proportion", "bonding-part"),
    "direct": ("direct-face",),
    "lab": ("lab-face",),
    "ceramic": ("ceramic-veneer",),
    "crown": ("crown",),
    "wing": ("wing-bridge",),
    "bridge": ("bridge",),
    "implant": ("implant-crown",),
    "remove": ("removable-tooth",),
    "braces": ("braces",),
    "align": ("aligners",),
    "w+bond": ("whiten-then-bond", "whiten-then-reshape-bond", "whiten-then-reshape"),
    "w+dir": ("whiten-then-direct-face",),
    "w+lab": ("whiten-then-lab-face",),
    "w+ceram": ("whiten-then-ceramic",),
    "w+crown": ("whiten-then-crown",),
    "b+bond": ("braces-then-bonding",),
    "b+w+b": ("braces-then-whiten-then-bonding",),
    "b+wing": ("braces-then-wing-bridge",),
    "b+impl": ("braces-then-implant",),
    "bond+b": ("bond-then-braces",),
    "wing+i": ("wing-bridge-until-implant",),
}
"""Each column and the options that stand in it, of which a person has one. ``bond*`` is the second way, ``remove`` a
tooth that comes out, ``align`` aligners without grips, ``w+`` whitening first, ``b+`` braces first, ``wing+i`` a wing
until an implant."""

TABLE = """
           none    whiten  reshape bond    bond*   direct  lab     ceramic crown   wing    bridge  implant
lead       offer   offer   offer   care    -       care    no      no      no      no      no      -
zhenya     offer   offer   -       offer   -       offer   offer   no      no      -       -       -
cormac     offer   no      -       -       -       -       -       -       -       offer   no      no
linnea     offer   offer   -       offer   offer   offer   offer   care    no      -       -       -
lisbet     offer   offer   -       care    -       care    no      no      no      -       -       -
marguerite care    wait    -       no      -       no      no      no      offer   -       -       -
rafael     offer   offer   -       ask     -       care    care    care    no      -       -       -
ottoline   offer   wait    care    -       -       -       -       -       -       -       -       -
nikhil     offer   care    -       -       -       -       -       -       -       care    no      care
petra      offer   care    -       no      -       no      no      no      no      -       -       -
hamish     offer   offer   -       no      care    -       -       -       -       -       -       -
wanjiru    offer   care    -       care    -       care    no      no      no      -       -       -

           remove  braces  align   w+bond  w+dir   w+lab   w+ceram w+crown b+bond  b+w+b   b+wing  b+impl
lead       no      -       -       care    -       -       -       -       offer   -       ask     ask
zhenya     -       -       -       offer   offer   offer   no      no      no      no      -       -
cormac     offer   -       -       -       -       -       -       -       -       -       -       -
linnea     -       -       -       offer   -       -       -       -       offer   -       -       -
lisbet     -       -       -       care    -       -       -       -       -       -       -       -
marguerite -       -       -       no      no      no      no      wait    -       -       -       -
rafael     -       -       -       ask     -       -       -       -       -       -       -       -
ottoline   -       -       -       wait    -       -       -       -       -       -       -       -
nikhil     offer   -       -       -       -       -       -       -       -       -       -       -
petra      -       -       care    no      -       -       -       -       no      -       -       -
hamish     -       offer   -       no      -       -       -       -       -       -       -       -
wanjiru    -       -       -       care    -       -       -       -       care    -       -       -

           bond+b  wing+i
lead       offer   -
zhenya     -       -
cormac     -       offer
linnea     offer   -
lisbet     -       -
marguerite -       -
rafael     -       -
ottoline   -       -
nikhil     -       -
petra      -       -
hamish     -       -
wanjiru    -       -
"""

MONEY = {
    ("lead", "reshape-bond"): "1618.25",  # 3 x 445 - 5 % + 4 x 55 + 70 + 60; the night guard stands beside it
    ("lead", "whiten-then-reshape-bond"): "2058.95",
    ("zhenya", "whiten-then-bond"): "2011.40",  # 390 + 2 x 445 + 265 + 3 x 55 + 70, all of it taxed
    ("cormac", "wing-bridge"): "5300.00",  # 2 x 2,650
    ("linnea", "bonding"): "570.00",
    ("linnea", "bonding-best-proportion"): "890.00",  # 265 + 55 more
    ("lead", "direct-face"): "2530.00",
    ("lead", "ceramic-veneer"): "6300.00",
    ("lead", "crown"): "6860.00",
    ("lead", "braces-then-bonding"): "7890.00",
    ("lead", "braces-then-wing-bridge"): "9785.00",  # with 95 for the baby tooth
    ("lead", "braces-then-implant"): "12555.00",
    ("marguerite", "whiten-then-crown"): "3950.70",  # 440.70 with tax, 2 x 1,620 + 2 x 55 + 160
    ("rafael", "direct-face"): "3760.00",  # 6 x 560 + 6 x 55 + 70; with the guard, 560, it is 4,320
    ("petra", "aligners"): "5107.60",  # 4,200 + 320 for one arch, taxed; no wire, which resin would hold
    ("lisbet", "bonding"): "445.00",  # by eye: no wax-up, no index
    ("ottoline", "whiten-then-reshape"): "508.50",  # 390 + 60, taxed
    ("nikhil", "wing-bridge"): "2650.00",
    ("nikhil", "implant-crown"): "6370.00",  # 5,420 and the ridge built up, 950
    ("hamish", "braces"): "7320.00",  # 6,400 + 2 x 320 + 280
    ("hamish", "bonding-part"): "1070.00",
    ("wanjiru", "bonding"): "1810.00",  # 3 x 265 + 445 + 4 x 55 + 70, and a wire, 280
}


WIDE = 12
"""So many columns stand side by side; the others below them."""


def table() -> str:
    """The table as it comes out, in the form it is written in above."""
    blocks = []
    for first in range(0, len(COLUMNS), WIDE):
        chosen = dict(list(COLUMNS.items())[first : first + WIDE])
        lines = [" " * 11 + "".join(f"{name:8}" for name in chosen)]
        for name in PLANNED:
            found = told(name)
            cells = (next((found[key].verdict.value for key in keys if key in found), "-") for keys in chosen.values())
            lines.append(f"{name:11}" + "".join(f"{cell:8}" for cell in cells))
        blocks.append("\n".join(line.rstrip() for line in lines))
    return "\n\n".join(blocks)


def test_the_whole_table() -> None:
    assert table() == TABLE.strip("\n")


def test_every_option_of_every_person_stands_in_a_column() -> None:
    known = {key for keys in COLUMNS.values() for key in keys}
    for name in PLANNED:
        assert set(told(name)) <= known, name


@pytest.mark.parametrize(("who", "option"), MONEY)
def test_money_to_the_cent(who: str, option: str) -> None:
    assert format_cents(told(who)[option].money.total_cents) == MONEY[who, option]


def test_the_guard_stands_inside_the_compared_total() -> None:
    assert format_cents(told("rafael")["direct-face"].money.compared_cents) == "4320.00"


# ---------------------------------------------------------------- what is not offered flips when its fact does

NOT_OFFERED = [
    (name, option, gate)
    for name in PLANNED
    for option, answer in told(name).items()
    for gate in dict.fromkeys(reason.gate for reason in answer.reasons)
]
"""Every reason that stands against an option of the table."""

_BOTH_CENTRALS = [{"rank": 1, "words": "both", "targets": [{"kind": "tooth larger", "teeth": ["11", "21"]}]}]
_OPENED: dict[str, Any] = {
    # Braces have brought the canine home, and the baby tooth is gone.
    "examination.teeth[53]": None,
    "examination.gaps[53-13]": None,
    "examination.gaps[13-11]": None,
    "examination.teeth[13].place": None,
    "examination.empty_places": [
        {
            "place": "12",
            "crown_distance": "7.0",
            "root_distance": "7.0",
            "ridge_thickness": "6.0",
            "height_to_bite": "8.0",
        }
    ],
}
_READ = {f"examination.teeth[{number}].root_short": False for number in ("13", "12", "11", "21", "23")}
_FILM = {"kind": "panoramic", "on": "2026-01-10", "reader": "Dr Imke Sorrel"}
_SEEN = [_FILM | {"roots_of": ["13", "12", "11", "21", "22", "23"]}]
_NATURAL = {"crowned": False, "restored": False, "enamel_percent": 100, "crown_lost_percent": 5}
BY_HAND: dict[tuple[str, str], dict[str, Any]] = {
    # What has to be otherwise where the deciding fact is worked out from several, or stands in a list.
    ("lead", "G11"): {"limits.removal": None, "limits.teeth_reduced": None},
    ("lead", "canine-as-lateral"): {"examination.teeth[13].width": "7.1"},
    ("lead", "implant-crown.roots"): _OPENED,
    ("lead", "implant-crown.ridge"): _OPENED,
    ("lead", "implant-crown.bite-height"): _OPENED,
    ("lead", "place.none"): _OPENED,
    ("cormac", "whitening.age"): {"patient.birth_date": "2004-03-26"},
    ("cormac", "whitening.young"): {"patient.birth_date": "2004-03-26"},
    ("cormac", "bridge.age"): {"patient.birth_date": "2004-03-26"},
    ("cormac", "implant-crown.growth"): {"patient.birth_date": "1999-03-26"},
    ("cormac", "implant-crown.height"): {"examination.growth.height_mm": [["2025-06-23", 1752], ["2026-01-21", 1753]]},
    ("cormac", "implant-crown.roots"): {
        f"examination.empty_places[{place}].root_distance": "6.3" for place in ("12", "22")
    },
    ("linnea", "braces.roots"): _READ | {"pictures": _SEEN},
    ("lisbet", "ceramic-veneer.single-central"): {"wishes": _BOTH_CENTRALS},
    ("marguerite", "whitening.will-not-change"): {
        "examination.colour.restorations_in_smile": None,
        **{f"examination.teeth[{tooth}].{name}": False for tooth in ("11", "21") for name in ("crowned", "restored")},
    },
    ("marguerite", "spaces"): {
        f"examination.teeth[{tooth}].{name}": value for tooth in ("11", "21") for name, value in _NATURAL.items()
    },
    ("rafael", "spaces"): {
        f"examination.teeth[{tooth}].{name}": value
        for tooth in ("13", "12", "11", "21", "22", "23")
        for name, value in (("wear", 0), ("crown_lost_percent", 5))
    },
    ("nikhil", "whitening.will-not-change"): {
        f"examination.teeth[11].{name}": False for name in ("crowned", "restored")
    },
    ("nikhil", "wing-bridge.wider"): {"examination.teeth[22].width": "7.5"},
    ("nikhil", "implant-crown.ridge"): {"examination.empty_places[21].ridge_thickness": "5.3"},
    ("hamish", "spaces"): {"examination.gaps[11-21].width": "0.7"},
}
THEN = {
    ("lead", "braces-then-implant", "implant-crown.roots"): "implant-crown",
    ("lead", "braces-then-implant", "implant-crown.ridge"): "implant-crown",
    ("lead", "braces-then-implant", "implant-crown.bite-height"): "implant-crown",
    ("hamish", "bonding-part", "spaces"): "bonding",
    ("petra", "aligners", "G14"): "braces-then-bonding",
}
"""Options that are another one once the fact is otherwise: the way to it is behind, or the whole is possible."""
NO_FACT = {"ceramic-veneer.deep": "what comes off under a ceramic face is the treatment's, whoever has it"}
"""Gates that no fact about a person decides."""


@lru_cache
def _gates() -> dict[str, Gate]:
    """Every gate there is, by its id."""
    catalogue = all_treatments()
    own = [gate for key, treatment in catalogue.items() for gate in own_gates(key, treatment)]
    return {gate.id: gate for gate in (*gate_book().gates, *own)}


def _beyond(criterion: Criterion) -> Iterator[Any]:
    """Values that do not meet a criterion, nearest first."""
    step = Decimal("0.1") if criterion.bound is not None and criterion.bound % 1 else Decimal(1)
    if criterion.below is not None:
        yield criterion.below
    if criterion.above is not None:
        yield criterion.above
    if criterion.at_least is not None:
        yield criterion.at_least - step
    if criterion.at_most is not None:
        yield criterion.at_most + step
    if isinstance(criterion.equals, bool):
        yield not criterion.equals
    if isinstance(criterion.equals, str) or criterion.one_of:
        yield from ("no", "none", "responds", "low", "thick", "medium", "a cause")


def _written(value: Any, tenths: bool) -> Any:
    if not isinstance(value, Decimal):
        return value
    return f"{value:.1f}" if tenths else int(value)


_PATH = re.compile(r"\b(?:patient|history|examination|limits)(?:\.\w+|\[\d+\])+")


def _otherwise(name: str, reason: Reason) -> Iterator[dict[str, Any]]:
    """Changes of the facts that a reason rests on, as recorded with it, that should take it away."""
    if (by_hand := BY_HAND.get((name, reason.gate))) is not None:
        yield by_hand
        return
    paths = dict.fromkeys(_PATH.findall(reason.datum))
    if reason.patient_limit:
        yield dict.fromkeys(paths)
        return
    gate = _gates()[reason.gate]
    if "not recorded" in reason.datum:
        for level in gate.levels:
            for value in _beyond(level):
                yield {path: _written(value, True) for path in paths}
                yield {path: _written(value, False) for path in paths}
        yield dict.fromkeys(paths, False)
        return
    conditions = [*gate.levels, *gate.when, *(condition for level in gate.levels for condition in level.when)]
    for criterion in conditions:
        for value in _beyond(criterion):
            for last in dict.fromkeys(path.rpartition(".")[2] for path in paths):
                chosen = [path for path in paths if path.endswith(f".{last}")]
                yield {path: _written(value, True) for path in chosen}
                yield {path: _written(value, False) for path in chosen}


@pytest.mark.parametrize(("who", "option", "gate"), NOT_OFFERED)
def test_a_reason_goes_when_its_fact_changes(who: str, option: str, gate: str) -> None:
    if gate in NO_FACT:
        return
    answer = told(who)[option]
    before = [reason for reason in answer.reasons if reason.gate == gate]
    for changes in (change for reason in before for change in _otherwise(who, reason)):
        try:
            now = verdict_of(who, THEN.get((who, option, gate), option), changes)
        except CaseFileError:
            continue
        if now is None:
            continue
        left = [reason for reason in now.reasons if reason.gate == gate]
        if worst(left).severity < worst(before).severity:
            assert now.verdict.severity <= answer.verdict.severity
            others = {reason.gate for reason in now.reasons} - {reason.gate for reason in answer.reasons}
            if len(answer.reasons) == len(before) and not (others or answer.overridden):
                assert now.verdict.severity < answer.verdict.severity
            return
    pytest.fail(f"{gate} stands against {option} of {who} whatever its fact: {before[0].datum}")


# ---------------------------------------------------------------- what is offered, on what it rests

OFFERED = [
    (name, option)
    for name in PLANNED
    for option, answer in told(name).items()
    if answer.verdict is Verdict.OFFER and option != "none"
]


def _course(name: str, option: str) -> Course:
    facts = facts_of(name)
    shared, _ = plan._spaces(facts, tern_row(), False)
    return next(c for c in compose(facts, shared, all_treatments(), all_combinations()) if c.key == option)


def _with(facts: CaseFacts, course: Course, path: str, value: Any) -> CaseFacts | None:
    """The facts with one of them otherwise; a tooth's on the first tooth worked on. None for what is worked out."""
    head, _, rest = path.partition(".")
    if path in DERIVED:
        return None
    if head == "history":
        return facts.model_copy(update={"history": facts.history.model_copy(update={rest: value})})
    examination = facts.examination
    if head == "tooth":
        teeth = list(examination.teeth)
        worked = next(iter(course.teeth()), teeth[0].tooth)
        where = next(i for i, found in enumerate(teeth) if found.tooth == worked)
        teeth[where] = teeth[where].model_copy(update={rest: value})
        return facts.model_copy(update={"examination": examination.model_copy(update={"teeth": tuple(teeth)})})
    part, _, name = rest.partition(".")
    if head == "examination" and name:
        changed = getattr(examination, part).model_copy(update={name: value})
        return facts.model_copy(update={"examination": examination.model_copy(update={part: changed})})
    return None


def _flips(name: str, option: str) -> dict[str, Verdict]:
    """Every gate that speaks against an offered option once a single recorded fact is otherwise, and its verdict."""
    facts, course, book = facts_of(name), _course(name, option), gate_book()
    traits = traits_of(all_treatments())
    found: dict[str, Verdict] = {}
    for gate in _gates().values():
        meant = {key for wanted in gate.treatments for key in traits.get(wanted, {wanted})} or set(course.treatments)
        if gate.id not in {known.id for known in book.gates}:
            meant = {gate.id.partition(".")[0]}
        about = frozenset(meant & set(course.treatments))
        for level in gate.levels if about else ():
            value = meeting(level)
            if isinstance(value, Decimal):
                value = int(value * 10) if book.data[gate.looks_at].tenths else int(value)
            other = _with(facts, course, gate.looks_at, value)
            if other is None:
                continue
            situation = Situation(course, other, tern_row(), planned_on(name), book.settings, traits)
            for reason in ask(gate, situation, book, about).reasons:
                found[gate.id] = max(found.get(gate.id, reason.verdict), reason.verdict, key=lambda v: v.severity)
    return found


ALWAYS = {
    "G1": Verdict.WAIT,
    "G5": Verdict.WAIT,
    "G6": Verdict.WAIT,
    "G12.worry": Verdict.WAIT,
    "G15.latex": Verdict.CARE,
}
"""What turns every option that is offered, whatever it is."""


@pytest.mark.parametrize(("who", "option"), OFFERED)
def test_an_offer_rests_on_facts_that_turn_it(who: str, option: str) -> None:
    found = _flips(who, option)
    assert found.items() >= ALWAYS.items()
    treatments = _course(who, option).treatments
    own = {key: [gate for gate in found if gate.startswith(f"{key}.")] for key in treatments}
    assert all(own.values()), own
    assert len(found) >= 12


TURNS = [
    ("lead", "reshaping", {"examination.teeth[13].guides_bite": True}, Verdict.ASK),
    ("lead", "reshaping", {"examination.teeth[13].edge_removed_before": "0.1"}, Verdict.NO),
    ("lead", "reshaping", {"examination.teeth[13].dentine_visible": True}, Verdict.NO),
    ("lead", "reshaping", {"examination.bite.grinding": "confirmed"}, Verdict.CARE),
    ("lead", "reshaping", {"examination.absent": []}, Verdict.ASK),
    ("lead", "braces-then-bonding", {"examination.teeth[11].root_short": True}, Verdict.NO),
    ("lead", "braces-then-bonding", {"limits.months": 9}, Verdict.NO),
    ("lead", "braces-then-bonding", {"limits.money": "5000.00"}, Verdict.NO),
    ("lead", "braces-then-bonding", {"limits.visits": 3}, Verdict.NO),
    ("lead", "braces-then-bonding", {"limits.wish_by_firm": True}, Verdict.NO),
    ("lead", "braces-then-bonding", {"examination.gums.plaque_percent": 21}, Verdict.WAIT),
    ("lead", "whitening", {"history.peroxide": True}, Verdict.NO),
    ("zhenya", "bonding", {"examination.bite.frenum_checked": False}, Verdict.ASK),
    ("zhenya", "bonding", {"history.anxious": True}, Verdict.CARE),
    ("zhenya", "bonding", {"examination.gaps[11-21].contact_to_bone": "5.5"}, Verdict.CARE),
    ("zhenya", "bonding", {"examination.gaps[11-21].contact_to_bone": None}, Verdict.ASK),
    ("zhenya", "bonding", {"examination.gaps[11-21].new_or_growing": True}, Verdict.ASK),
    ("zhenya", "whiten-then-bond", {"limits.wish_by": "2026-03-10"}, Verdict.NO),
    ("zhenya", "whiten-then-bond", {"history.breast_feeding": True}, Verdict.WAIT),
    ("cormac", "wing-bridge", {"patient.decision_maker": ""}, Verdict.WAIT),
    ("cormac", "wing-bridge", {"patient.own_agreement": False}, Verdict.WAIT),
    ("cormac", "wing-bridge", {"patient.own_agreement": None}, Verdict.ASK),
    ("cormac", "wing-bridge", {"examination.orthodontics.removed_on": "2025-11-01"}, Verdict.WAIT),
    ("cormac", "wing-bridge", {"examination.orthodontics.state": None}, Verdict.ASK),
    ("cormac", "wing-bridge", {"examination.empty_places[12].crown_distance": "4.9"}, Verdict.CARE),
    ("cormac", "wing-bridge", {"examination.empty_places[12].crown_distance": "4.4"}, Verdict.NO),
    ("cormac", "wing-bridge", {"examination.teeth[11].crowned": None}, Verdict.ASK),
    ("cormac", "wing-bridge", {"pictures": []}, Verdict.ASK),
    ("linnea", "bonding", {"examination.teeth[22].infolding_checked": False}, Verdict.ASK),
    ("linnea", "bonding", {"examination.teeth[22].undersized": None}, Verdict.ASK),
    ("linnea", "bonding", {"examination.teeth[22].trauma": True}, Verdict.CARE),
    ("linnea", "bonding", {"examination.teeth[23].decay": True, "examination.decay.open_lesions": 1}, Verdict.WAIT),
    (
        "linnea",
        "bonding",
        {"examination.decay.open_lesions": 1, "examination.decay.filling_booked_on": "2026-02-27"},
        Verdict.CARE,
    ),
    (
        "linnea",
        "whitening",
        {"examination.decay.open_lesions": 1, "examination.decay.filling_booked_on": "2026-02-27"},
        Verdict.WAIT,
    ),
    ("rafael", "whitening", {"examination.teeth[11].crowned": None}, Verdict.ASK),
    ("hamish", "braces", {"examination.bite.overjet": "6.5"}, Verdict.CARE),
    ("hamish", "braces", {"examination.gums.deepest_pocket": 6}, Verdict.WAIT),
    ("hamish", "braces", {"history.methacrylate": "positive"}, Verdict.NO),
]


@pytest.mark.parametrize(("who", "option", "changes", "verdict"), TURNS)
def test_one_fact_turns_an_offer(who: str, option: str, changes: dict[str, Any], verdict: Verdict) -> None:
    assert told(who)[option].verdict is Verdict.OFFER
    answer = verdict_of(who, option, changes)
    assert answer is not None
    assert answer.verdict is verdict


# ---------------------------------------------------------------- what a person's own limits strike


def test_own_limits_say_so_and_only_the_patient_may_raise_them() -> None:
    for who, answers in ((name, told(name)) for name in PLANNED):
        for option, answer in answers.items():
            for reason in answer.reasons:
                own = reason.gate in ("G11", "G19")
                assert reason.patient_limit is own, (who, option, reason)
                if own:
                    assert "your own limit" in reason.words
                    made = Override(
                        option=option, gate=reason.gate, reason="It would look better.", by="Dr X", on=DAY_ZERO
                    )
                    assert "only the patient can raise it" in override_fault(reason, made)


def test_the_wide_false_tooth_needs_a_second_dentist_by_name() -> None:
    alone = verdict_of("nikhil", "wing-bridge", {"choices.overrides": []})
    assert alone is not None
    assert alone.verdict is Verdict.ASK
    assert told("nikhil")["wing-bridge"].verdict is Verdict.CARE
    one = facts_of("nikhil").choices.overrides[0]
    reason = next(reason for reason in alone.reasons if reason.gate == one.gate)
    assert override_fault(reason, one) == ""
    for second in ("", one.by, one.by.upper()):
        assert "second dentist by name" in override_fault(reason, one.model_copy(update={"second_dentist": second}))
