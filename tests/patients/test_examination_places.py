"""The examination form on double teeth and on right and left: read, exchanged and asked about. No page, no database."""

from datetime import date
from typing import Any

from django.http import QueryDict

from planner.patients.examination_forms import Sheet
from planner.patients.examination_layout import swapped
from planner.rules import mouth
from planner.rules.teeth import Numbering, Tooth

TODAY = date(2026, 3, 2)
SOMEBODY = mouth.Person(name="A", birth_date=date(1979, 3, 2))


def examination(**widths: str) -> mouth.Examination:
    """Teeth such as ``t12="6.3"`` by their widths, 10 mm long."""
    teeth = [
        mouth.ToothFacts(tooth=Tooth.from_iso(name.removeprefix("t")), width=width, length="10.0")
        for name, width in widths.items()
    ]
    return mouth.Examination(on=date(2026, 2, 10), by="A", teeth=tuple(teeth))


def sent(sheet: Sheet, **changes: str) -> QueryDict:
    """The form as a browser sends it back, with cells such as ``width__12`` typed otherwise."""
    data = QueryDict(mutable=True)
    data.update({"numbering": sheet.shown.value, "layout-upper_right": "3", "layout-upper_left": "3"})
    for form in sheet.every_form():
        for name in form.fields:
            value = form[name].value()
            if value is True:
                data[form.add_prefix(name)] = "on"
            elif value is not False and value not in (None, "", ()):
                data[form.add_prefix(name)] = str(form.fields[name].prepare_value(value))
    for name, text in changes.items():
        field, _bar, number = name.partition("__")
        data[f"{Tooth.from_iso(number).key}-{field}"] = text
    return data


def checked(facts: mouth.Examination, numbering: Numbering = Numbering.ISO, **changes: str) -> Sheet:
    """The form over ``facts``, sent back with changes and read."""
    shown = Sheet(None, numbering=numbering, facts=facts)
    sheet = Sheet(sent(shown, **changes), numbering=numbering, facts=facts)
    sheet.check(SOMEBODY, TODAY)
    return sheet


FUSED: dict[str, Any] = {
    "double__11": "on",
    "double_counts__11": "twice",
    "double_with__11": "12",
    "tooth__12": "",
    "width__12": "",
    "length__12": "",
}
FRONT = {"t13": "7.6", "t12": "6.3", "t11": "8.1", "t21": "8.6", "t22": "5.5", "t23": "7.8"}


def test_a_double_tooth_that_counts_twice_is_read_with_its_second_tooth() -> None:
    sheet = checked(examination(**FRONT), **FUSED)
    assert [form.errors for form in sheet.every_form() if form.errors] == []
    found = next(line for line in sheet.facts.teeth if line.tooth.iso == "11")
    assert (found.double_counts, found.double_with) == ("twice", Tooth.from_iso("12"))
    assert Tooth.from_iso("12") not in sheet.not_recorded()


def test_its_second_tooth_is_asked_for_at_its_own_cell() -> None:
    sheet = checked(examination(**FRONT), **FUSED | {"double_with__11": ""})
    column = next(column for column in sheet.upper if column.place == Tooth.from_iso("11"))
    assert "say which one it has grown together with" in str(column.form.errors["double_with"])


def test_exchanging_the_sides_exchanges_the_second_tooth_too() -> None:
    for numbering, number, twin in ((Numbering.ISO, "12", "22"), (Numbering.UNIVERSAL, "7", "10")):
        shown = Sheet(None, numbering=numbering, facts=examination(**FRONT))
        data = sent(shown, **FUSED | {"double_with__11": number})
        other = swapped(data)
        assert other[f"{Tooth.from_iso('21').key}-double_with"] == twin
        assert swapped(other)[f"{Tooth.from_iso('11').key}-double_with"] == number


def test_what_names_no_tooth_stays_as_typed() -> None:
    shown = Sheet(None, numbering=Numbering.ISO, facts=examination(**FRONT))
    other = swapped(sent(shown, double_with__11="?"))
    assert other[f"{Tooth.from_iso('21').key}-double_with"] == "?"


def test_readings_that_fit_the_other_side_are_asked_about() -> None:
    """Edge case: a new set from a copy, read in a mirror."""
    mirrored = {"width__13": "7.8", "width__12": "5.5", "width__11": "8.6"}
    mirrored |= {"width__21": "8.1", "width__22": "6.3", "width__23": "7.6"}
    sheet = checked(examination(**FRONT), **mirrored)
    (question,) = sheet.open_questions
    assert "are the sides swapped?" in question.words
    assert question.field == "on"
    shown = Sheet(None, numbering=Numbering.ISO, facts=examination(**FRONT))
    data = sent(shown, **mirrored)
    data["right"] = question.tick
    again = Sheet(data, numbering=Numbering.ISO, facts=examination(**FRONT))
    assert again.check(SOMEBODY, TODAY)


def test_the_same_readings_again_ask_nothing() -> None:
    assert checked(examination(**FRONT)).open_questions == ()
