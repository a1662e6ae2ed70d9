"""Every clinical number stands once, with a source, and is used; where sources differ it is said which is taken."""

import textwrap

import pytest

from planner.rules.disagreements import Disagreement, load_disagreements
from planner.rules.evidence import DATA, DataFault, all_evidence
from planner.rules.gate_engine import gate_book
from planner.rules.register import COLUMNS, EVERY, KINDS, main, register, whole_register
from planner.rules.treatments import all_treatments
from tests.rules.test_evidence import ROW, folder

OTHER = ROW.replace("chips-10y", "chips-other")
SETTLED = """
[[disagreements]]
between = ["chips-10y", "chips-other"]
taken = ["chips-10y"]
rule = "printed"
why = "Invented for this test, and long enough."
"""


def faults(data) -> tuple[str, ...]:
    return register(data).faults


def two(first="", second=""):
    """Two rows that conflict, each with further lines of its own."""
    return ROW + f'conflicts = ["chips-other"]\n{first}' + OTHER + f'conflicts = ["chips-10y"]\n{second}'


def test_the_shipped_collection_has_no_fault():
    assert whole_register().faults == ()


def test_the_whole_table_is_printed(capsys):
    assert main() == 0
    printed = capsys.readouterr().out
    assert all(key in printed for key in all_evidence())
    assert all(column in printed.splitlines()[0] for column in COLUMNS)
    assert "sources disagree: whitening-bond-wait, whitening-bond-wait-least" in printed


def test_everything_that_is_a_number_stands_in_it_with_source_and_certainty():
    found = whole_register()
    keys = [(one.kind, one.key) for one in found.entries]
    assert len(set(keys)) == len(keys)
    assert {one.kind for one in found.entries} == set(KINDS)
    for one in found.entries:
        assert one.source, one.key
        assert one.certainty, one.key
        assert one.value, one.key
        assert one.words, one.key
    shelves = {one.key for one in found.entries if one.kind == "shelf life"}
    assert shelves == {f"shelf.{name}" for name in gate_book().shelves}
    limits = {gate.id for gate in gate_book().gates if any(level.bound is not None for level in gate.levels)}
    assert limits <= {one.key for one in found.entries if one.kind == "gate"}


def test_an_entry_names_the_treatments_that_use_it():
    known = {*all_treatments(), EVERY}
    found = whole_register()
    assert found.entry("whitening-bond-wait").treatments[-1] == "whitening"
    assert set(found.entry("bonding.overjet").treatments) <= known
    with pytest.raises(KeyError):
        found.entry("no-such-number")


def test_a_number_without_a_source_is_a_fault(tmp_path):
    data = folder(tmp_path, ROW.replace('citation = "Invented for this test"', ""))
    assert faults(data) == ("chips-10y: abstract, but no source is named",)


def test_a_number_from_memory_says_where_it_comes_from(tmp_path):
    rows = ROW.replace('citation = "Invented for this test"', "").replace('"abstract"', '"memory"')
    assert faults(folder(tmp_path, rows)) == (
        "chips-10y: memory, but neither a source nor a note says where it comes from",
    )


@pytest.mark.parametrize(
    ("table", "key"),
    [
        ('[settings.limit]\nvalue = 5\nsource = " "\n', "treatment.limit"),
        ('[[gates]]\nid = "g"\nmeans = "m"\nlevels = [{ below = 1, verdict = "care" }]\n', "g"),
        ('[shelf.teeth]\nwords = "w"\nmonths = 6\n', "shelf.teeth"),
    ],
)
def test_a_setting_gate_or_shelf_life_without_a_source_is_a_fault(tmp_path, table, key):
    data = folder(tmp_path, ROW, f'words = "{{chips-10y}}"\n{table}')
    assert faults(data) == (f"{key}: no source is named",)


def test_a_row_that_nothing_uses_is_a_fault(tmp_path):
    assert faults(folder(tmp_path, ROW, "")) == ("chips-10y: nothing uses this row",)


@pytest.mark.parametrize("user", ['evidence = "chips-10y"', 'list = ["chips-10y"]', 'words = "{chips-10y:lost}"'])
def test_a_row_is_used_by_name_or_in_words(tmp_path, user):
    assert faults(folder(tmp_path, ROW, user)) == ()


def test_a_row_is_used_by_the_code(tmp_path):
    data = folder(tmp_path, ROW, "")
    (data.parent / "some.py").write_text('evidence("chips-10y")', encoding="utf-8")
    assert faults(data) == ()


# Where sources disagree


def test_a_conflict_is_told_by_both_rows(tmp_path):
    rows = ROW + 'conflicts = ["chips-other"]\n' + OTHER + SETTLED
    assert faults(folder(tmp_path, rows)) == (
        'chips-10y: conflicts with "chips-other", but that row does not say so',
        "chips-other: nothing uses this row",
    )


def test_a_conflict_with_nothing_is_a_fault(tmp_path):
    found = faults(folder(tmp_path, ROW + 'conflicts = ["chips-gone"]\n'))
    assert 'chips-10y: conflicts with "chips-gone", which is not there' in found


def test_a_conflict_is_settled_and_the_loser_is_kept(tmp_path):
    assert faults(folder(tmp_path / "a", two())) == (
        "chips-10y and chips-other conflict, and no disagreement says which of them is taken, and why",
    )
    data = folder(tmp_path / "b", two() + SETTLED)
    assert faults(data) == ()
    lost = register(data).entry("chips-other")
    assert lost.disagreements[0].taken == ("chips-10y",)
    assert lost.disagreements[0].others("chips-other") == ("chips-10y",)


def test_for_print_the_surer_source_wins(tmp_path):
    surer = two().replace('certainty = "abstract"', 'certainty = "published"').replace('"published"', '"memory"', 1)
    assert faults(folder(tmp_path, surer + SETTLED)) == (
        "chips-10y: taken for print, but chips-other is surer (published, not memory)",
    )


@pytest.mark.parametrize(("cautious", "fine"), [("higher", True), ("lower", False)])
def test_for_a_limit_the_more_cautious_value_wins(tmp_path, cautious, fine):
    rows = two().replace('value = "8.4"', 'value = "9"', 1)
    settled = SETTLED.replace('rule = "printed"', f'rule = "limit"\ncautious = "{cautious}"')
    wanted = () if fine else ("chips-10y: taken for a limit, but chips-other is the more cautious one",)
    assert faults(folder(tmp_path, rows + settled)) == wanted


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (('taken = ["chips-10y"]', 'taken = ["chips-gone"]'), "taken is one or more"),
        (('rule = "printed"', 'rule = "limit"'), "go together"),
        (('rule = "printed"', 'rule = "louder"'), "rule"),
        (("Invented for this test, and long enough.", "Because."), "why"),
    ],
)
def test_a_disagreement_that_is_not_of_the_form(tmp_path, change, why):
    data = folder(tmp_path, two() + SETTLED.replace(*change))
    with pytest.raises(DataFault, match=f"some.toml.*{why}"):
        load_disagreements(data / "evidence")


def test_a_disagreement_about_nothing_is_a_fault(tmp_path):
    rows = ROW + textwrap.dedent(SETTLED)
    assert faults(folder(tmp_path, rows)) == ('the disagreement of chips-10y names "chips-other", which is not there',)


def test_the_wait_before_bonding_is_the_longest_of_three():
    """Fourteen days (52 laboratory studies, summary read) stand against seven and none."""
    settled: Disagreement = next(one for one in load_disagreements(DATA / "evidence") if one.rule == "limit")
    rows = all_evidence()
    assert rows[settled.taken[0]].value == max(rows[key].value for key in settled.between)
