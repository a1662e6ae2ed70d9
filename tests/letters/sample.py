"""A case plan built by hand: the lead case with realistic options, so that papers can be tested without the engine.

The facts come from the demo's own case file; teeth, shares, fees and verdicts are the ones worked out for that case.
Prose and frequencies are stand-ins of the kind that the treatment files hold.
"""

import json
import re
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

from planner.rules.casefile import case_data, validate_case
from planner.rules.mouth import CaseFacts
from planner.rules.results import (
    CasePlan,
    Chance,
    CurvePoint,
    EstimateShape,
    EvidenceLine,
    GapShape,
    MinutesShape,
    OptionShape,
    PriceLine,
    Rank,
    SpacePlanShape,
    SpaceShape,
    ToothShape,
    ToothWords,
    UpkeepShape,
    WishAnswer,
    WorkLine,
    sha256,
    stable_json,
)
from planner.rules.teeth import Numbering, Tooth
from planner.rules.verdicts import Reason, Verdict

DAY_0 = date(2026, 3, 2)
PLANNED_ON = DAY_0 - timedelta(days=6)
CASE_FILE = Path(__file__).parents[2] / "fixtures" / "cases" / "lead.json"


def tooth(iso: str) -> Tooth:
    return Tooth.from_iso(iso)


def _dated(value: Any) -> Any:
    """The case file with its day offsets (``d-20``) as dates."""
    if isinstance(value, dict):
        return {key: _dated(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_dated(item) for item in value]
    if isinstance(value, str) and re.fullmatch(r"d[+-]?\d*", value):
        return (DAY_0 + timedelta(days=int(value[1:] or 0))).isoformat()
    return value


def _label(iso: str) -> str:
    return tooth(iso).label(Numbering.ISO)


def facts() -> CaseFacts:
    return validate_case(_dated(json.loads(CASE_FILE.read_text())), DAY_0)


def _shape(
    iso: str,
    width: int,
    length: int,
    right: int,
    left: int,
    longer: int = 0,
    shorter: int = 0,
    role: str = "",
    word: str = "",
) -> ToothShape:
    what = tooth(iso)
    after, long_after = width + right + left, length + longer - shorter
    mesial, distal = (left, right) if what.side == "right" else (right, left)
    return ToothShape(
        what,
        role or what.kind.value.removeprefix("primary-"),
        width,
        length,
        mesial,
        distal,
        right,
        left,
        longer,
        shorter,
        after,
        long_after,
        (Decimal(width) * 100 / length).quantize(Decimal("0.1")),
        (Decimal(after) * 100 / long_after).quantize(Decimal("0.1")),
        word,
        "It will be 0.88 of the front tooth beside it; up to 0.82 is usual." if word == "limit" else "",
    )


def _gap(right: str, left: str, width: int, to_right: int, to_left: int) -> GapShape:
    return GapShape(tooth(right), tooth(left), width, to_right, to_left, width - to_right - to_left)


def space_plan() -> SpacePlanShape:
    """The lead case's plan with the fewest teeth: 53 is left alone."""
    return SpacePlanShape(
        "plan-1",
        ("fewest teeth", "best proportion"),
        True,
        (
            _shape("53", 64, 63, 0, 0),
            _shape("13", 78, 101, 0, 0, shorter=5, role="lateral", word="limit"),
            _shape("11", 83, 105, 3, 3, word="good"),
            _shape("21", 84, 106, 5, 0, word="good"),
            _shape("22", 55, 83, 7, 9, longer=10, word="acceptable"),
            _shape("23", 79, 104, 0, 0),
        ),
        (
            _gap("53", "13", 5, 0, 0),
            _gap("13", "11", 3, 0, 3),
            _gap("11", "21", 8, 3, 5),
            _gap("21", "22", 7, 0, 7),
            _gap("22", "23", 9, 9, 0),
        ),
        5,
        0,
        340,
        12,
        37,
        9,
        (("lateral edge", 100),),
    )


def second_plan() -> SpacePlanShape:
    """The plan that also closes 53·13, for two pictures above each other."""
    first = space_plan()
    return SpacePlanShape(
        "plan-2",
        ("best proportion",),
        True,
        (_shape("53", 64, 63, 0, 5), *first.teeth[1:]),
        (_gap("53", "13", 5, 5, 0), *first.gaps[1:]),
        5,
        0,
        315,
        17,
        42,
        9,
        (),
    )


def words_of(*isos: str, numbering: Numbering = Numbering.ISO) -> dict[str, ToothWords]:
    found = [tooth(iso) for iso in isos]
    return {one.key: ToothWords(one.name, one.iso, one.universal, one.palmer, one.label(numbering)) for one in found}


def _line(
    service: str,
    code: str,
    words: str,
    teeth: tuple[str, ...],
    quantity: int,
    unit: int,
    off: int = 0,
    looks: bool = False,
) -> PriceLine:
    gross = quantity * unit
    net = gross - off
    percent = Decimal(13 if looks else 0)
    tax = int(net * percent / 100)
    return PriceLine(
        service,
        code,
        words,
        tuple(tooth(iso) for iso in teeth),
        quantity,
        unit,
        gross,
        off,
        net,
        "looks only" if looks else "reconstructive",
        percent,
        tax,
        net + tax,
        "Three or more built-up teeth in one plan: 5 % off." if off else "",
    )


GUARD = _line("night-guard", "NGD", "Night guard, one arch", (), 1, 56000)
BONDING = (
    _line("build-up", "BND", "Build-up, both sides or edge", ("11", "21", "22"), 3, 44500, off=6675),
    _line("wax-up", "WAX", "Wax-up, per tooth", ("13", "11", "21", "22"), 4, 5500),
    _line("index", "IDX", "Silicone mould", (), 1, 7000),
    _line("reshape-first", "RSH", "Reshaping, first tooth", ("13",), 1, 6000),
)
WHITENING = (_line("whitening", "WHT", "Night whitening, both arches", (), 1, 39000, looks=True),)


def _estimate(lines: tuple[PriceLine, ...], beside: tuple[PriceLine, ...] = (), deposit: int = 0) -> EstimateShape:
    total = sum(line.total_cents for line in lines)
    return EstimateShape(
        7,
        lines,
        sum(line.gross_cents for line in lines),
        sum(line.discount_cents for line in lines),
        tuple(line.note for line in lines if line.note),
        sum(line.tax_cents for line in lines),
        total,
        beside,
        total + sum(line.total_cents for line in beside),
        deposit,
        ("Repairs after the first year.", "Work on other teeth.", "Treatment by other clinics."),
        ("Quantity times fee, line by line.", "Then the package rule.", "Then tax by line class."),
    )


def _upkeep(total: int, curve: tuple[tuple[int, int | None, int | None], ...], words: str) -> UpkeepShape:
    return UpkeepShape(
        10,
        total,
        total * 7 // 10,
        total * 15 // 10,
        (("yearly polish and check", Decimal(10), 65000),),
        tuple(CurvePoint(year, kept, untouched, False) for year, kept, untouched in curve),
        ("bonding-untouched",) if curve else (),
        words,
    )


def _rank(place: int, **counts: Any) -> Rank:
    given: dict[str, Any] = {
        "surgery": 0,
        "teeth_reduced": 0,
        "lasting_harm_of_100": Decimal(0),
        "removed_beyond_tenths": 0,
        "teeth_touched": 0,
        "undo": 0,
        "months": 0,
        "visits": 0,
        "decided_by": "It touches more teeth than the option before it." if place > 1 else "",
    }
    return Rank(place, **(given | counts))


def _wishes(first: bool, second: bool, third: bool) -> tuple[WishAnswer, ...]:
    words = (
        "the gap beside my left front tooth",
        "the pointed one on the right",
        "I don't want healthy teeth ground down",
    )
    return tuple(
        WishAnswer(rank, text, met, "The gap closes." if met else "This stays as it is.")
        for rank, (text, met) in enumerate(zip(words, (first, second, third), strict=True), 1)
    )


def _option(key: str, name: str, plain: str, place: int, **more: Any) -> OptionShape:
    given: dict[str, Any] = {
        "name_es": "",
        "plain_es": "",
        "treatments": (key,),
        "verdict": Verdict.OFFER,
        "computed_verdict": more.get("verdict", Verdict.OFFER),
        "reasons": (),
        "overrides": (),
        "struck": "",
        "work": (),
        "teeth_touched": (),
        "removal_tenths": 0,
        "removal_words": "Nothing is taken off your teeth.",
        "teeth_reduced": 0,
        "undo": 0,
        "undo_words": "You can go back at any time.",
        "visits": 1,
        "months_low": 0,
        "months_high": 1,
        "time_words": "one visit",
        "minutes": MinutesShape(60, 65, 70, 70, 1),
        "estimate": _estimate(()),
        "upkeep": _upkeep(65000, (), "A yearly check with photos."),
        "benefits": (),
        "risks": (),
        "wishes": _wishes(False, False, True),
        "rank": _rank(place),
        "you_must": ("Brush twice a day and clean between your teeth.", "Come for a check each year."),
        "later": ("Every other option stays open.",),
        "does_not": (),
        "lasts_words": "There is nothing that could wear out.",
        "materials": (),
        "steps": (),
    }
    return OptionShape(key=key, name=name, plain=plain, **(given | more))


NONE = _option(
    "none",
    "No treatment, keep watching",
    "We leave your teeth as they are. Once a year we take photos and measure again.",
    1,
    benefits=(Chance("benefit", "Nothing can go wrong with work that is not done."),),
    risks=(
        Chance("common", "The gap and the pointed tooth stay. They may go on bothering you."),
        Chance(
            "common",
            "The baby tooth may come loose one day.",
            Decimal("37.5"),
            Decimal("37.5"),
            "in ten years",
            "baby teeth that were kept",
            "baby-tooth-kept",
            "abstract",
        ),
    ),
    does_not=("It does not change how your teeth look.",),
)
RESHAPING = _option(
    "reshaping",
    "Reshaping the pointed tooth",
    "We take a little off the tip of the pointed tooth and polish it. It takes a few minutes and no injection.",
    2,
    work=(
        WorkLine(
            "reshaping",
            tooth("13"),
            "The tip of the upper right canine (13, Universal 6): 0.5 mm off",
            removal_tenths=5,
            irreversible=True,
        ),
    ),
    teeth_touched=(tooth("13"),),
    removal_tenths=5,
    removal_words="0.5 mm from the tip of one tooth.",
    teeth_reduced=1,
    undo=2,
    undo_words="It does not grow back. We can add to it later.",
    estimate=_estimate((_line("reshape-first", "RSH", "Reshaping, first tooth", ("13",), 1, 6000, looks=True),)),
    wishes=_wishes(False, True, True),
    rank=_rank(2, teeth_touched=1, undo=2, visits=1),
    benefits=(Chance("benefit", "The tip looks softer the same day."),),
    risks=(
        Chance(
            "sometimes",
            "The tooth may feel cool for a week.",
            Decimal(3),
            Decimal(3),
            "in ten years",
            "people",
            "reshaping-cool",
            "abstract",
        ),
    ),
    does_not=("It cannot close a gap.",),
)
WHITEN = _option(
    "whitening",
    "Whitening at home",
    "You wear thin trays with a gel at night for two to three weeks.",
    3,
    visits=2,
    time_words="2 visits, 3 weeks",
    undo=0,
    undo_words="It fades by itself in one to three years.",
    estimate=_estimate(WHITENING),
    upkeep=_upkeep(89000, (), "A new pack of gel about every two years."),
    rank=_rank(3, visits=2),
    benefits=(Chance("benefit", "Your teeth get lighter. Nobody can promise a shade."),),
    risks=(
        Chance(
            "common",
            "Teeth may feel sore while you use the gel. With a gel without the active part it was 2 of 100.",
            Decimal(10),
            Decimal(10),
            "in three weeks",
            "people",
            "whitening-sore",
            "abstract",
        ),
    ),
    does_not=("It does not change shape or gaps.",),
)
BOND = _option(
    "bonding",
    "Adding to three teeth and reshaping one",
    "We build up three teeth with a tooth-coloured filling material. The tip of one tooth is made shorter first.",
    4,
    treatments=("reshaping", "bonding"),
    verdict=Verdict.CARE,
    reasons=(
        Reason(
            "bonding.proportion",
            Verdict.CARE,
            "The right canine stays wide for its place: 0.88 of the front tooth beside it, where up to 0.82 is usual.",
            source="office rule",
        ),
        Reason("G5", Verdict.CARE, "Private: eating disorder under treatment since 2024.", private=True),
    ),
    work=(
        WorkLine(
            "reshaping",
            tooth("13"),
            "The tip of the upper right canine (13, Universal 6): 0.5 mm off",
            removal_tenths=5,
            irreversible=True,
        ),
        WorkLine(
            "bonding",
            tooth("11"),
            "Upper right central incisor (11, Universal 8): 0.3 mm added on both sides",
            mesial_tenths=3,
            distal_tenths=3,
            surfaces=2,
        ),
        WorkLine(
            "bonding",
            tooth("21"),
            "Upper left central incisor (21, Universal 9): 0.5 mm added toward the middle",
            mesial_tenths=5,
            surfaces=2,
        ),
        WorkLine(
            "bonding",
            tooth("22"),
            "Upper left lateral incisor (22, Universal 10): 0.7 mm and 0.9 mm added at the sides, 1.0 mm at the edge",
            mesial_tenths=7,
            distal_tenths=9,
            lengthening_tenths=10,
            surfaces=3,
        ),
    ),
    teeth_touched=(tooth("13"), tooth("11"), tooth("21"), tooth("22")),
    removal_tenths=5,
    removal_words="0.5 mm from the tip of one tooth. Nothing from the others.",
    teeth_reduced=1,
    undo=1,
    undo_words="What we add can be polished away again. The half millimetre does not grow back.",
    visits=1,
    time_words="1 visit of three and a half hours, then a check after 14 days",
    minutes=MinutesShape(194, 207, 214, 210, 1),
    estimate=_estimate(BONDING, (GUARD,), 56000),
    upkeep=_upkeep(
        145400,
        ((1, 99, 95), (5, 96, 79), (10, 92, 62)),
        "A yearly polish, small repairs, and sooner or later a new layer.",
    ),
    wishes=_wishes(True, True, True),
    rank=_rank(4, teeth_touched=4, undo=1, visits=1),
    benefits=(
        Chance("benefit", "The gap beside your left front tooth closes, and the pointed tooth looks softer."),
        Chance(
            "benefit",
            "Still there after ten years.",
            Decimal(92),
            Decimal(92),
            "in ten years",
            "teeth",
            "bonding-kept",
            "abstract",
        ),
    ),
    risks=(
        Chance(
            "common",
            "A chip, a stain or a new layer is needed.",
            Decimal(8),
            Decimal(38),
            "in ten years",
            "teeth",
            "bonding-untouched",
            "abstract",
        ),
        Chance("sometimes", "The gum beside it gets puffy if you do not clean there."),
        Chance("rare", "The nerve of a tooth reacts. No number was found for this."),
    ),
    you_must=(
        "Do not bite pens, nails or bottle tops.",
        "Wear the night guard.",
        "Ring us for swelling, a dark tooth, or a bite that feels high for more than 7 days.",
    ),
    later=("Faces or crowns stay possible.", "The teeth can be brought back to what they were, but for the tip."),
    does_not=("It does not move teeth or change their colour.",),
    lasts_words=(
        "Of 100 teeth, about 62 to 92 were untouched at 10 years. It depends on who places them. "
        "For three teeth together: of 100 people, about 51 had no trouble with any of them at 5 years."
    ),
    space_plan="plan-1",
    earliest_finish=date(2026, 4, 20),
    steps=(("isolate", "Keep the teeth dry"), ("bond", "Add and harden")),
)
CERAMIC = _option(
    "ceramic-faces",
    "Ceramic faces on four teeth",
    "A thin layer is cut off the front of four teeth. A ceramic face is glued on.",
    5,
    verdict=Verdict.NO,
    reasons=(
        Reason(
            "limit.teeth-reduced",
            Verdict.NO,
            "This cuts four teeth, and your own limit is one.",
            datum="limits.teeth_reduced = 1",
            patient_limit=True,
        ),
    ),
    work=tuple(
        WorkLine(
            "ceramic-faces",
            tooth(iso),
            f"0.5 mm off the face of the {tooth(iso).name}",
            removal_tenths=5,
            irreversible=True,
        )
        for iso in ("13", "11", "21", "22")
    ),
    teeth_touched=(tooth("13"), tooth("11"), tooth("21"), tooth("22")),
    removal_tenths=5,
    removal_words="About 0.5 mm from the front of four teeth.",
    teeth_reduced=4,
    undo=2,
    undo_words="It cannot be undone. These teeth will always need a cover.",
    visits=3,
    time_words="3 visits, 5 weeks",
    estimate=_estimate(
        (
            _line("ceramic-face", "CER", "Ceramic face", ("13", "11", "21", "22"), 4, 148000),
            _line("wax-up", "WAX", "Wax-up, per tooth", ("13", "11", "21", "22"), 4, 5500),
            _line("try-on", "TRY", "Try-on, one arch", (), 1, 16000),
        ),
        (GUARD,),
        209000,
    ),
    upkeep=_upkeep(161000, ((5, 98, None), (10, 96, None)), "Checks; a broken face is made new."),
    wishes=_wishes(True, True, False),
    rank=_rank(5, teeth_reduced=4, teeth_touched=4, undo=2, visits=3),
    benefits=(
        Chance(
            "benefit",
            "Still there after ten years.",
            Decimal(96),
            Decimal(96),
            "in ten years",
            "ceramic faces",
            "ceramic-kept",
            "abstract",
        ),
    ),
    risks=(
        Chance(
            "sometimes",
            "A face breaks or comes off.",
            Decimal(4),
            Decimal(4),
            "in ten years",
            "ceramic faces",
            "ceramic-kept",
            "abstract",
        ),
    ),
    later=("You cannot go back to no cover.",),
    does_not=("It does not move teeth.",),
    lasts_words="Of 100 ceramic faces, about 96 were in place at 10 years.",
)
IMPLANT = _option(
    "braces-implant",
    "Braces, then an implant",
    "Braces move the canine to its own place. A screw in the bone then carries a false tooth in the gap.",
    6,
    treatments=("braces", "implant"),
    verdict=Verdict.ASK,
    reasons=(Reason("implant.roots", Verdict.ASK, "The distance between the roots is not measured yet."),),
    removal_words="The baby tooth is taken out. No other tooth is cut.",
    teeth_touched=(tooth("53"),),
    undo=2,
    undo_words="It cannot be undone.",
    visits=24,
    months_low=24,
    months_high=30,
    time_words="about 24 visits, 24 to 30 months",
    estimate=_estimate(
        (
            _line("aligners-both", "OR2", "Aligners, both arches", (), 1, 640000),
            _line("retainer", "RET", "Clear retainer", (), 2, 32000),
            _line("implant-place", "IMS", "Implant placing, by an outside surgeon", ("12",), 1, 235000),
            _line("implant-temporary", "IMT", "Temporary tooth", ("12",), 1, 62000),
            _line("implant-crown", "IMC", "Implant crown", ("12",), 1, 245000),
        ),
        (GUARD,),
        300000,
    ),
    upkeep=_upkeep(180000, ((5, 96, None), (10, 89, None)), "Checks, a loose screw, one day a new crown."),
    rank=_rank(6, surgery=1, teeth_touched=1, undo=2, months=30, visits=24),
    benefits=(
        Chance(
            "benefit",
            "The implant crown is still there.",
            Decimal(89),
            Decimal(89),
            "in ten years",
            "implant crowns",
            "implant-crown-kept",
            "abstract",
        ),
    ),
    risks=(
        Chance(
            "common",
            "The bone around the implant gets inflamed.",
            Decimal(20),
            Decimal(22),
            "in five to ten years",
            "people",
            "implant-inflamed",
            "abstract",
        ),
        Chance(
            "common",
            "Some white spots are left by braces.",
            Decimal(34),
            Decimal(34),
            "at the end of braces",
            "people",
            "braces-spots",
            "abstract",
        ),
    ),
    does_not=("It does not change the other front teeth.",),
    lasts_words="Of 100 implant crowns, about 89 were in place at 10 years.",
)

_EVIDENCE = (
    ("baby-tooth-kept", "Baby tooth still in place", "62.5", "abstract", "Kinoshita and Tanoue 2024", "274"),
    ("reshaping-cool", "Cool feeling after reshaping", "3", "abstract", "Zachrisson and others 2011", "61"),
    ("whitening-sore", "Moderate soreness with whitening", "10", "abstract", "One trial of home gels", "92"),
    ("bonding-kept", "Build-ups still in place", "92", "abstract", "Study in several places, J Adhes Dent 2020", "667"),
    ("bonding-untouched", "Build-ups never touched", "62", "abstract", "Collares and others 2017", "72196"),
    ("ceramic-kept", "Ceramic faces in place", "96", "abstract", "Alenezi and others 2021", "6500"),
    ("implant-crown-kept", "Implant crowns in place", "89", "published", "Jung and others 2012", ""),
    ("implant-inflamed", "Inflamed bone around an implant", "22", "abstract", "Derks and Tomasi 2015", ""),
    ("braces-spots", "White spots after braces", "34", "abstract", "Review of white spots after fixed braces", ""),
)

TEETH = ("53", "13", "12", "11", "21", "22", "23")


@cache
def case_plan(
    *, recommended: str = "bonding", print_points: int = 11, numbering: Numbering = Numbering.ISO, name: str = ""
) -> CasePlan:
    """The lead case as planned on d−6."""
    data = case_data(facts())
    return CasePlan(
        case="brightwater",
        planned_on=PLANNED_ON,
        numbering=numbering.value,
        office="Tern Row Dental",
        office_place="Wexcombe Harbour",
        currency="CAD",
        price_list_version=7,
        estimate_days=90,
        patient_name=name or "Anselm Brightwater",
        patient_birth_date=facts().patient.birth_date,
        patient_age=47,
        language="en",
        print_points=print_points,
        teeth=words_of(*TEETH, numbering=numbering),
        spaces=SpaceShape(
            "shared",
            "The gaps can be shared by adding to three teeth.",
            (space_plan(),),
            "plan-1",
            questions=("Is the contact between 13 and 11 tight to a thin strip?",),
            remeasure=("the gap between 53 and 13", "the gap between 13 and 11"),
            request=(
                f"Close at least 0.4 mm between {_label('11')} and {_label('21')}; leave 0.4 mm or less.",
                f"Material is added afterwards; target widths: {_label('11')} 8.5 mm, {_label('21')} 8.6 mm.",
            ),
        ),
        options=(NONE, RESHAPING, WHITEN, BOND, CERAMIC, IMPLANT),
        recommended=recommended,
        recommended_why=(
            "It is the first option, counted from the gentlest, that answers all three of your wishes."
            if recommended
            else ""
        ),
        swaps=(),
        evidence=tuple(
            EvidenceLine(key, words, value, "of 100", "", "", n, "10", citation, "", certainty)
            for key, words, value, certainty, citation, n in _EVIDENCE
        ),
        facts=data,
        facts_sha256=sha256(stable_json(data)),
        rules_sha256=sha256(b"rules"),
        book_sha256=sha256(b"book"),
    )


FILLED = Reason("G2", Verdict.WAIT, "Open decay is filled first.", earliest=date(2026, 3, 16), missing_step="fill it")
GUMS = Reason("G4", Verdict.WAIT, "The gums come first.", earliest=date(2026, 4, 20))
ASKED = Reason("x", Verdict.ASK, "Not known yet: the jaw.")


def plan_with(**reasons: tuple[Reason, ...]) -> CasePlan:
    """The lead case with every option but doing nothing held back; ``reasons`` by key, else the decay."""
    options = []
    for option in case_plan().options:
        found = reasons.get(option.key.replace("-", "_"), (FILLED,))
        if option.key != "none":
            option = replace(option, reasons=found, verdict=max((r.verdict for r in found), key=lambda v: v.severity))
        options.append(option)
    return replace(case_plan(), options=tuple(options), recommended="")
