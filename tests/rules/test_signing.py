"""Who may sign, and by which name: names as people write them, rights on a day, interpreters, witnesses."""

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from planner.rules.book import OfficeBook
from planner.rules.bookfile import load_book
from planner.rules.mouth import Person
from planner.rules.signing import (
    Basis,
    Choice,
    Interpreter,
    Method,
    Said,
    Talk,
    age,
    faults,
    is_minor,
    own_signature_wanted,
)

DAY = date(2026, 3, 2)
TALK = Talk("Dr Imke Sorrel", "dentist", "D-4471", True, DAY)
NAMES = (
    "שרה כהן",
    "Siobhán O’Brien-D'Arcy",
    "Wolfeschlegelsteinhausenbergerdorffvoralternwarengewissenhaft",
    "Tulo",
)


@pytest.fixture(scope="module")
def book() -> OfficeBook:
    """The invented office's book: of age with 18, own consent with 18."""
    path = Path(__file__).parent.parent.parent / "fixtures" / "books" / "tern_row.toml"
    return load_book(path.read_text(encoding="utf-8"), DAY)


def said(name: str, **changes: object) -> Said:
    """What somebody says who signs alone."""
    usual = Said(
        name,
        Basis.SELF,
        Method.TYPED,
        Choice.ALL,
        TALK,
        id_seen="in person",
        typed=name,
        understood="Yes.",
        copy="paper",
    )
    return replace(usual, **changes)  # type: ignore[arg-type]


def adult(name: str = "Tulo") -> Person:
    return Person(name=name, birth_date=date(1979, 7, 16))


@pytest.mark.parametrize("name", NAMES)
def test_a_name_is_the_one_the_person_writes(name: str, book: OfficeBook) -> None:
    assert faults(said(name), adult(name), book, DAY) == ()
    assert faults(said(name, typed=f" {name.upper()}  "), adult(name), book, DAY) == ()
    for typed in (name[:-1], "", name + "x"):
        assert [field for field, _words in faults(said(name, typed=typed), adult(name), book, DAY)] == ["typed"]
    somebody = faults(said(f"{name} junior"), adult(name), book, DAY)
    assert [field for field, _words in somebody] == ["signer"]


def test_a_child_never_interprets(book: OfficeBook) -> None:
    for grown, field in ((False, ["interpreter_adult"]), (None, ["interpreter_adult"]), (True, [])):
        spoken = said("Tulo", interpreter=Interpreter("Tilda", grown, "daughter"))
        assert [one for one, _words in faults(spoken, adult(), book, DAY)] == field


def test_the_talk_has_a_dentist_a_licence_and_a_day(book: OfficeBook) -> None:
    for talk, field in (
        (replace(TALK, is_dentist=False), "clinician"),
        (replace(TALK, licence=" "), "licence"),
        (replace(TALK, held_on=None), "talk_on"),
        (replace(TALK, held_on=date(2026, 3, 3)), "talk_on"),
    ):
        assert [one for one, _words in faults(said("Tulo", talk=talk), adult(), book, DAY)] == [field]


def test_of_age_between_signing_and_visit(book: OfficeBook) -> None:
    """A parent's signature of the day before the eighteenth birthday ends with it (from memory: common in law)."""
    young = Person(name="Tulo", birth_date=date(2008, 3, 3), can_decide_alone=False, decision_maker="Mara")
    assert (age(young, book, DAY), is_minor(young, book, DAY)) == (17, True)
    by_parent = said("Mara", basis=Basis.PARENT, assent=True, other_parent="agrees")
    assert faults(by_parent, young, book, DAY) == ()
    birthday = date(2026, 3, 3)
    assert is_minor(young, book, birthday) is False
    assert own_signature_wanted(young.model_copy(update={"can_decide_alone": True}), Basis.PARENT, book, birthday)
    assert faults(replace(by_parent, assent=None), young, book, DAY)[0][0] == "assent"
    assert faults(replace(by_parent, other_parent_objects=True), young, book, DAY)[0][0] == "other_parent_objects"


def test_an_age_that_nobody_entered_is_not_known(book: OfficeBook) -> None:
    bare = book.model_copy(update={"legal": tuple(one for one in book.legal if one.key != "age-of-majority")})
    assert is_minor(adult(), bare, DAY) is None
