"""The catalogue: complete, plain, sourced, and open to a further file without a line of code."""

import shutil
from decimal import Decimal
from graphlib import TopologicalSorter

import pytest
import textstat

from planner.rules.evidence import DATA, DataFault, Line, all_evidence
from planner.rules.treatment_parts import Minutes
from planner.rules.treatments import (
    all_combinations,
    all_treatments,
    load_combinations,
    load_treatments,
    treatment,
)
from tests.rules.books import SERVICE_KEYS

TREATMENTS = tuple(all_treatments().values())
by_key = pytest.mark.parametrize("it", TREATMENTS, ids=lambda it: it.key)


def lines(value):
    """Every line for a person inside a treatment or combination."""
    if isinstance(value, Line):
        yield value
    elif isinstance(value, tuple):
        for part in value:
            yield from lines(part)
    elif hasattr(type(value), "model_fields"):
        for name in type(value).model_fields:
            yield from lines(getattr(value, name))


def test_the_catalogue_holds_them_all():
    assert list(all_treatments()) == [
        "aligners",
        "bonding",
        "braces",
        "bridge",
        "ceramic-veneer",
        "crown",
        "direct-face",
        "gum-line",
        "implant-crown",
        "lab-face",
        "none",
        "removable-tooth",
        "reshaping",
        "whitening",
        "wing-bridge",
    ]


@by_key
def test_every_treatment_says_everything_a_person_must_know(it):
    assert it.named("es") != it.named("en")
    for said in (it.does, it.does_not, it.fits, it.you_must, it.later, it.benefits, it.risks):
        assert said
    assert it.key == "none" or (it.visits and it.steps and it.charges)
    assert any(line.service == "yearly-check" for line in it.upkeep.lines)


@by_key
def test_words_read_at_grade_6_or_below(it):
    """Flesch-Kincaid grade (Kincaid and others 1975, Navy research report 8-75), as textstat computes it."""
    assert textstat.flesch_kincaid_grade(" ".join(line.words for line in lines(it))) <= 6
    for line in lines(it):
        assert textstat.flesch_kincaid_grade(line.words) < 9, line.words


@pytest.mark.parametrize("it", all_combinations().values(), ids=lambda it: it.key)
def test_combinations_read_at_grade_6_or_below(it):
    assert textstat.flesch_kincaid_grade(" ".join(line.words for line in lines(it))) <= 6


@by_key
def test_both_languages_carry_the_same_numbers(it):
    for line in lines(it):
        numbers = [
            [part for part in words.replace(".", " ").replace(",", " ").split() if part.isdigit()]
            for words in _both(line)
        ]
        assert sorted(numbers[0]) == sorted(numbers[1]), line.words


def _both(line):
    return line.said("en"), line.said("es")


@by_key
def test_every_risk_number_has_its_source_group_and_time(it):
    for risk in it.risks:
        if risk.of_100 is None:
            assert risk.frequency == "not known"
            continue
        low, high = risk.of_100
        assert 0 <= low <= high <= 100
        assert risk.evidence
        assert all((risk.of, risk.of_es, risk.period, risk.period_es))
        assert all(row.key in all_evidence() for row in risk.evidence)


@by_key
def test_every_service_is_one_the_office_book_carries(it):
    asked = {charge.service for charge in it.charges} | {charge.one_arch for charge in it.charges}
    asked |= {line.service for line in it.upkeep.lines} | {care.service for care in it.after}
    assert asked - {""} <= set(SERVICE_KEYS)


@by_key
def test_steps_stand_after_what_they_wait_for(it):
    graph = {step.id: step.after for step in it.steps}
    assert set(TopologicalSorter(graph).static_order()) == set(graph)
    order = [step.id for step in it.steps_in_order()]
    assert sorted(order) == sorted(graph)
    for step in it.steps:
        assert all(order.index(before) < order.index(step.id) for before in step.after)


@by_key
def test_minutes_of_the_steps_make_up_the_blocks_of_the_visit(it):
    """Except for bonding, whose blocks are the trade's own and scale the steps."""
    if it.key == "bonding":
        return
    for visit in it.visits:
        for block, whole in (("set-up", visit.set_up), ("per tooth", visit.per_tooth), ("finish", visit.finish)):
            steps = [step.minutes for step in it.steps_in_order(visit.key) if step.block == block]
            summed = tuple(sum((getattr(step, pace) for step in steps), Decimal(0)) for pace in Minutes._fields)
            assert summed == tuple(whole), (visit.key, block)


def _of_100(key, index):
    return tuple(round(share) for share in treatment(key).risks[index].of_100)


class TestPrintedNumbers:
    """What the letter prints, against the sources as read in their summaries."""

    def test_whitening_sensitivity(self):
        """Moderate 10 (dummy gel 2), severe 4 (dummy 0): Jorgensen and Carroll, J Am Dent Assoc 2002;133:1076-1082."""
        moderate, severe = treatment("whitening").risks[:2]
        assert moderate.of_100 == (10, 10)
        assert "2 of 100" in moderate.words
        assert severe.of_100 == (4, 4)
        assert "0 of 100" in severe.words

    def test_bonding_untouched(self):
        """62 (Collares 2017, five-year rate carried on) to 92 (J Adhes Dent 2020;22:573-580); worn 50 (Ahmed 2016)."""
        assert _of_100("bonding", 0) == (8, 38)
        assert "about 62 to 92 need nothing done in ten years" in treatment("bonding").life.words
        assert "about 50 of 100" in treatment("bonding").life.words

    def test_braces(self):
        """White spots 34 (Orthod Craniofac Res 2024), root 15 (Bayir 2021), wire 35 (Aye 2023)."""
        assert [_of_100("braces", at) for at in (0, 1, 3)] == [(34, 34), (15, 15), (35, 35)]

    def test_implant_and_its_crown_apart(self):
        """Implant 95 to 96, crown 89 at ten years (Jung 2012, Howe 2019); bone 20 to 22 (Diaz 2022, Derks 2015)."""
        assert [_of_100("implant-crown", at) for at in (0, 1, 2)] == [(4, 5), (11, 11), (20, 22)]
        assert any("0.08 mm a year" in risk.words for risk in treatment("implant-crown").risks)

    def test_crown_and_bridge_nerve(self):
        """16 under a crown, 29 under a bridge in ten years: Cheung and others, Int Endod J 2005;38:521-530."""
        assert "16 lost the nerve" in treatment("ceramic-veneer").later[0].words
        assert "29 lost the nerve" in treatment("wing-bridge").benefits[0].words

    def test_chair_time_of_an_implant_lies_within_what_was_seen(self):
        """5.3 hours, SD 1.8, and 7.5 visits, SD 2.8, for 30 implant crowns: Varga 2020, J Oral Med Dent Res 1(1).

        The examination before the plan (45 minutes usually) is not part of the treatment here.
        """
        visits = [visit for visit in treatment("implant-crown").visits if not visit.optional]
        usual = 45 + sum(visit.set_up.usual + visit.per_tooth.usual + visit.finish.usual for visit in visits)
        assert abs(usual - 318) <= 108
        assert abs(len(visits) + 1 - Decimal("7.5")) <= Decimal("2.8")


def test_frequency_words():
    """Common from 10 of 100, sometimes from 1, rare below: common practice of letters, no source."""
    found = {risk.words.split(" ")[0]: risk.frequency for risk in treatment("whitening").risks}
    assert (found["Moderate"], found["Severe"], found["White"]) == ("common", "sometimes", "not known")


def test_lasting_harm_counts_teeth_and_people():
    assert treatment("bonding").lasting_harm_of_100(teeth=3, places=0) == 0
    assert treatment("ceramic-veneer").lasting_harm_of_100(teeth=4, places=0) == 4 * Decimal("1.7")
    assert treatment("braces").lasting_harm_of_100(teeth=12, places=0) == Decimal("49.0")
    assert treatment("implant-crown").lasting_harm_of_100(teeth=0, places=1) == 22


def test_what_is_removed():
    assert treatment("bonding").removal.tenths == (0, 0)
    assert treatment("reshaping").removal.tenths == (1, 5)
    assert treatment("ceramic-veneer").removal.tenths == (3, 15)
    assert treatment("ceramic-veneer").removal.crown_percent == (3, 30)
    assert treatment("wing-bridge").removal.tenths == (0, 5)


class TestBondingOrder:
    """Shade before the dam (trials of drying); the rest of the order: common practice and published cases."""

    def test_hard_precedence(self):
        order = {step.id: at for at, step in enumerate(treatment("bonding").steps_in_order())}
        shade, dry_run, anaesthetic, dam, reduce, acid, bite, polish = (
            order[key] for key in ("A04", "A05", "A06", "A07", "A10", "A12", "A22", "A23")
        )
        assert max(shade, dry_run, anaesthetic) < dam < reduce < acid < bite < polish

    def test_safety_is_ticked_step_by_step(self):
        ticks = [tick for step in treatment("bonding").steps for tick in step.checks]
        for wanted in (
            "eye filter for everybody",
            "eyes covered against the acid",
            "ties",
            "tape",
            "wedges",
            "index disinfected",
            "dry run in the mouth",
        ):
            assert wanted in ticks


class TestCombinations:
    def test_whitening_waits_14_days_for_bonding(self):
        """14 days, 14 to 21: Savian and others, Oper Dent 2021;46(2):E80-E97 (52 laboratory studies)."""
        wait = all_combinations()["whiten-then-bond"].waits[0]
        assert (wait.days.value, wait.days.high) == (14, 21)
        assert wait.least.value == 7
        assert "14 days" in wait.words

    def test_every_combination_is_made_of_treatments(self):
        for combination in all_combinations().values():
            assert set(combination.treatments) <= set(all_treatments())

    def test_an_unknown_treatment_is_refused(self):
        with pytest.raises(DataFault, match='knows no treatment "braces"'):
            load_combinations(DATA / "combinations.toml", ["bonding", "reshaping", "whitening", "ceramic-veneer"])


NEW = """
key = "gum-mask"
name = "Gum mask"
name_es = "Máscara de encía"
undo = 0
flags = ["acrylic"]
works_on = "whole mouth"
plain = { words = "A thin cover for the gum.", words_es = "Una funda fina para la encía." }
undo_words = { words = "Yes.", words_es = "Sí." }
removal_words = { words = "Nothing.", words_es = "Nada." }
repair = { words = "A new one.", words_es = "Una nueva." }
life = { words = "Of 100 masks, {mask-kept:kept} last.", words_es = "De 100, duran {mask-kept:kept}." }

[[risks]]
words = "It is lost."
words_es = "Se pierde."
evidence = ["mask-kept"]
of = "masks"
of_es = "máscaras"
period = "in two years"
period_es = "en dos años"

[[upkeep.curves]]
key = "kept"
kind = "still in place"
setting = "somewhere"
setting_es = "en algún sitio"
points = ["mask-kept"]

[[upkeep.lines]]
service = "removable-tooth"
counted = "patient"
follows = "kept"
words = "A new mask"
words_es = "Una máscara nueva"

# Gates

[[gates]]
id = "gum-mask.gums"
test = "gums.bleeding_percent <= 30"
"""

MASK = """
[[evidence]]
key = "mask-kept"
words = "masks still worn"
measure = "kept"
value = "80"
unit = "of 100 masks"
years = "2"
certainty = "memory"
note = "made up for a test"
"""


@pytest.fixture
def catalogue(tmp_path):
    shutil.copytree(DATA / "treatments", tmp_path, dirs_exist_ok=True)
    (tmp_path / "evidence").mkdir()
    (tmp_path / "evidence" / "mask.toml").write_text(MASK, encoding="utf-8")
    (tmp_path / "gum-mask.toml").write_text(NEW, encoding="utf-8")
    return tmp_path


class TestAnotherFile:
    def test_a_file_more_is_a_treatment_more(self, catalogue):
        found = load_treatments(catalogue)
        assert set(found) == {*all_treatments(), "gum-mask"}
        mask = found["gum-mask"]
        assert mask.life.words == "Of 100 masks, 80 last."
        assert mask.risks[0].of_100 == (20, 20)
        assert mask.gates[0]["id"] == "gum-mask.gums"
        assert not mask.surgery

    @pytest.mark.parametrize(
        ("old", "new", "why"),
        [
            ('key = "gum-mask"', 'key = "mask"', "key and file name must agree"),
            ("undo = 0", "undo = 3", "undo"),
            ("undo = 0", "undo = 0\nspeed = 3", "speed"),
            ('["acrylic"]', '["rubber"]', "flags"),
            ('evidence = ["mask-kept"]', 'evidence = ["gone"]', 'no evidence row is called "gone"'),
            ('of = "masks"', "", "of whom or what"),
            ("A thin cover", "About 5 thin covers", "the number 5 is typed"),
            ('follows = "kept"', 'follows = "gone"', 'follows the curve "gone"'),
            ('follows = "kept"', "", "an interval, a curve it follows"),
            ('points = ["mask-kept"]', "points = []", "points"),
            ('points = ["mask-kept"]', 'points = ["gap-comes-back"]', "one year each"),
            ('points = ["mask-kept"]', 'points = ["mask-kept", "clear-retainer-1y"]', "rises"),
            ("[[gates]]", "[[gates", "not readable as TOML"),
        ],
    )
    def test_a_wrong_file_is_refused_with_its_name_and_why(self, catalogue, old, new, why):
        assert old in NEW
        (catalogue / "gum-mask.toml").write_text(NEW.replace(old, new, 1), encoding="utf-8")
        with pytest.raises(DataFault, match=r"gum-mask\.toml") as fault:
            load_treatments(catalogue)
        assert why in str(fault.value)

    @pytest.mark.parametrize(
        ("steps", "why"),
        [
            ([("A01", ["A02"]), ("A02", ["A01"])], "circle"),
            ([("A01", ["A09"])], "A09, which is not there"),
            ([("A01", []), ("A01", [])], "two steps"),
        ],
    )
    def test_steps_that_are_no_order_are_refused(self, catalogue, steps, why):
        visit = '[[visits]]\nkey = "fit"\nwords = "Fit"\nwords_es = "Prueba"\ncertainty = "office"\n'
        tables = "".join(
            f'[[steps]]\nid = "{key}"\nwords = "w"\nvisit = "fit"\nblock = "finish"\nminutes = [1, 2, 3]\n'
            f'certainty = "office"\nafter = {after}\n'
            for key, after in steps
        )
        (catalogue / "gum-mask.toml").write_text(f"{NEW}\n{visit}{tables}", encoding="utf-8")
        with pytest.raises(DataFault, match=why):
            load_treatments(catalogue)

    def test_an_unknown_treatment_names_those_there_are(self):
        with pytest.raises(LookupError, match=r"gum-mask.*aligners, bonding"):
            treatment("gum-mask")
