"""The case file: what is read back, and what every kind of wrong file is told."""

import json
from copy import deepcopy
from datetime import date
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.rules.casefile import (
    LARGEST_BYTES,
    CaseFileError,
    case_data,
    case_schema,
    parse_case,
    read_case,
    resolve_days,
    validate_case,
    write_case,
)
from planner.rules.contradictions import doubts
from planner.rules.teeth import Numbering, Tooth

TODAY = date(2026, 3, 2)
ROOT = Path(__file__).resolve().parents[2]


def lead() -> dict[str, Any]:
    """The lead demo case as JSON values, dated for day zero = Monday 2 March 2026."""
    data = parse_case((ROOT / "fixtures/cases/lead.json").read_bytes())
    resolved = resolve_days(data, TODAY)
    assert isinstance(resolved, dict)
    return resolved


def faults(data: dict[str, Any]) -> dict[str, str]:
    """Path to sentence of every fault in ``data``."""
    with pytest.raises(CaseFileError) as refused:
        validate_case(data, TODAY)
    return {fault.path: fault.sentence for fault in refused.value.faults}


def changed(path: str, value: object) -> dict[str, Any]:
    """The lead case with one entry set, by a path such as ``examination.teeth.2.width``."""
    data = deepcopy(lead())
    place: Any = data
    *way, last = path.split(".")
    for step in way:
        place = place[int(step)] if isinstance(place, list) else place[step]
    if isinstance(place, list):
        place[int(last)] = value
    else:
        place[last] = value
    return data


class TestRoundTrip:
    def test_written_and_read_again_is_the_same(self) -> None:
        facts = validate_case(lead(), TODAY)
        assert read_case(write_case(facts), TODAY) == facts

    @given(st.sampled_from(list(Numbering)))
    def test_any_numbering_carries_the_same_teeth(self, numbering: Numbering) -> None:
        facts = validate_case(lead(), TODAY)
        other = facts.model_copy(update={"numbering": numbering})
        again = read_case(write_case(other), TODAY)
        assert [tooth.tooth for tooth in again.examination.teeth] == [tooth.tooth for tooth in facts.examination.teeth]
        assert again.model_copy(update={"numbering": facts.numbering}) == facts

    def test_universal_numbers_mean_what_they_say(self) -> None:
        facts = validate_case(lead(), TODAY).model_copy(update={"numbering": Numbering.UNIVERSAL})
        written = case_data(facts)
        assert [tooth["tooth"] for tooth in written["examination"]["teeth"]] == ["C", "6", "8", "9", "10", "11"]

    def test_lengths_are_whole_tenths_and_written_with_one_decimal(self) -> None:
        facts = validate_case(lead(), TODAY)
        central = facts.tooth(Tooth.from_iso("11"))
        assert central is not None
        assert central.width == 83
        assert case_data(facts)["examination"]["teeth"][2]["width"] == "8.3"

    def test_a_json_number_is_read_as_decimal(self) -> None:
        text = json.dumps(lead()).replace('"width": "8.3"', '"width": 8.3')
        facts = read_case(text.encode(), TODAY)
        assert facts == validate_case(lead(), TODAY)

    def test_comma_is_a_decimal_mark_too(self) -> None:
        facts = validate_case(changed("examination.teeth.2.width", "8,3"), TODAY)
        assert facts == validate_case(lead(), TODAY)


class TestSchema:
    def test_lead_case_and_its_export_satisfy_it(self) -> None:
        """Checked by jsonschema, an independent implementation of JSON Schema 2020-12."""
        validator = jsonschema.Draft202012Validator(case_schema(), format_checker=jsonschema.FormatChecker())
        validator.check_schema(case_schema())
        assert list(validator.iter_errors(lead())) == []
        assert list(validator.iter_errors(case_data(validate_case(lead(), TODAY)))) == []

    def test_it_refuses_what_the_program_refuses(self) -> None:
        validator = jsonschema.Draft202012Validator(case_schema())
        for data in (
            changed("version", 2),
            changed("numbering", "fdi"),
            changed("surprise", 1),
            changed("history.latex", "no"),
            changed("examination.teeth.0.mobility", 7),
        ):
            assert list(validator.iter_errors(data)), data


class TestWrongFiles:
    @pytest.mark.parametrize(
        ("content", "says"),
        [
            (b"", "empty"),
            (b"  \n", "empty"),
            (b"{", "not JSON"),
            (b"[1, 2]", "JSON object"),
            (b'"leastways-case"', "JSON object"),
            (b'{"format": "leastways-case", "format": "x"}', "given twice"),
            (b'{"format": NaN}', "NaN"),
            (b"\xff\xfe{}", "not UTF-8"),
            (b"[" * 100_000, "nested deeper"),
            (b'{"version": ' + b"9" * 5000 + b"}", "thousands of digits"),
            (b"x" * (LARGEST_BYTES + 1), "bytes"),
            (b" " * 10_000_000, "10,000,000 bytes"),
        ],
    )
    def test_each_gets_a_sentence(self, content: bytes, says: str) -> None:
        with pytest.raises(CaseFileError) as refused:
            read_case(content, TODAY)
        [fault] = refused.value.faults
        assert says in fault.sentence
        assert fault.sentence.endswith((".", "...}."))

    def test_head(self) -> None:
        found = faults({"format": "something", "version": 7, "numbering": None})
        assert set(found) == {"format", "version", "numbering"}
        assert "7" in found["version"]
        assert "version 1" in found["version"]
        assert "two different teeth" in found["numbering"]

    def test_head_versions_that_only_look_right(self) -> None:
        assert "version" in faults(changed("version", True))
        assert "version" in faults(changed("version", "1"))

    def test_every_fault_is_listed_with_its_path(self) -> None:
        data = changed("examination.teeth.2.width", "85")
        data["history"]["latex"] = "perhaps"
        found = faults(data)
        assert set(found) == {"history.latex", "examination.teeth[2].width"}
        data["history"]["latex"] = False
        data["patient"]["birth_date"] = "2030-01-01"
        found = faults(data)
        assert {"examination.teeth[2].width", "patient.birth_date"} <= set(found)

    def test_one_slip_hides_no_other_and_paths_are_those_written(self) -> None:
        data = changed("examination.teeth.1.tooth", "99")
        data["examination"]["teeth"][0]["mobility"] = 9
        data["examination"]["teeth"][4]["width"] = "55"
        data["pictures"][0]["on"] = "2027-01-01"
        data["patient"]["language"] = "xx"
        assert set(faults(data)) == {
            "examination.teeth[0].mobility",
            "examination.teeth[1].tooth",
            "examination.teeth[4].width",
            "pictures[0].on",
            "patient.language",
        }


class TestBadInput:
    """The list of wrong entries, each with its field, its value and what would be right."""

    @pytest.mark.parametrize(
        ("path", "value", "fault_path", "says"),
        [
            ("examination.teeth.2.tooth", "19", "examination.teeth[2].tooth", "19"),
            ("examination.teeth.2.tooth", 11, "examination.teeth[2].tooth", "text"),
            ("examination.teeth.2.width", "-8.3", "examination.teeth[2].width", "-8.3 mm"),
            ("examination.teeth.2.width", "85", "examination.teeth[2].width", "decimal mark"),
            ("examination.teeth.2.width", "8.34", "examination.teeth[2].width", "one decimal"),
            ("examination.teeth.2.width", "wide", "examination.teeth[2].width", '"wide"'),
            ("examination.teeth.2.width", 8.3, "examination.teeth[2].width", "8.3"),
            ("examination.gaps.0.film", "tight", "examination.gaps[0].film", "tight contact"),
            ("examination.gaps.0.width", "-0.5", "examination.gaps[0].width", "no gap"),
            ("examination.gaps.0.between", ["53", "11"], "examination.gaps[0].between", "not neighbours"),
            ("examination.gaps.0.between", ["53", "14"], "examination.gaps[0].between", "no entry under teeth"),
            ("examination.teeth.1.place", "11", "examination.teeth[2].place", "both stand in the place"),
            ("examination.absent.0.tooth", "11", "examination.absent[0].tooth", "declared absent and was measured"),
            ("examination.on", "2026-03-03", "examination.on", "future"),
            ("pictures.0.on", "2026-04-01", "pictures[0].on", "future"),
            ("patient.birth_date", "2026-02-20", "patient.birth_date", "after the examination"),
            ("patient.birth_date", "yesterday", "patient.birth_date", "year-month-day"),
            ("history.hba1c_tenths", 900, "history.hba1c_tenths", "at most 200"),
            ("choices.locks.0.tooth", "14", "choices.locks[0].tooth", "no entry under teeth"),
            ("choices.locks.0.value", None, "choices.locks[0]", "needs a value"),
            ("examination.teeth.1.place", "52", "examination.teeth[1].place", "names no place"),
            ("examination.gums.firm_gum", "-1.0", "examination.gums.firm_gum", "out of range"),
            ("examination.midline_offset", "999", "examination.midline_offset", "between -16.0 and 16.0"),
            ("limits.removal", "-0.5", "limits.removal", "between 0.0 and 16.0"),
            ("limits.money", "-1", "limits.money", "below 0"),
            ("history.due_on", "9999-01-01", "history.due_on", "days ahead"),
            (
                "examination.colour.last_whitening_night",
                "2126-03-01",
                "examination.colour.last_whitening_night",
                "year",
            ),
            ("examination.growth.skull_films", ["2027-01-01"], "examination.growth.skull_films[0]", "future"),
            ("patient.birth_date", "0078-10-20", "patient.birth_date", "120 years"),
            ("wishes.1.rank", 1, "wishes[1].rank", "given twice"),
            ("wishes.0.targets.0.teeth", ["21"], "wishes[0].targets[0]", "two teeth"),
            ("wishes.1.targets.0.teeth", [], "wishes[1].targets[0]", "names the tooth"),
            ("wishes.2.targets.0.teeth", ["21"], "wishes[2].targets[0]", "names none"),
            (
                "choices.struck",
                [{"option": "none", "reason": "x", "by": "y"}],
                "choices.struck[0].option",
                "always shown",
            ),
            ("surprise", 1, "surprise", "no such entry"),
        ],
    )
    def test_one_wrong_entry(self, path: str, value: object, fault_path: str, says: str) -> None:
        found = faults(changed(path, value))
        assert says in found[fault_path]

    def test_twice_the_same_tooth(self) -> None:
        data = lead()
        data["examination"]["teeth"].append({"tooth": "11"})
        assert "recorded twice" in faults(data)["examination.teeth[6].tooth"]

    def test_an_empty_place_in_which_a_tooth_stands(self) -> None:
        data = lead()
        data["examination"]["empty_places"] = [{"place": "12"}]
        assert "stands in it" in faults(data)["examination.empty_places[0].place"]

    def test_places_and_absences_stand_once_and_places_are_permanent(self) -> None:
        data = lead()
        data["examination"]["absent"].append({"tooth": "12"})
        data["examination"]["empty_places"] = [
            {"place": "14"},
            {"place": "14", "crown_distance": "55"},
            {"place": "54"},
        ]
        found = faults(data)
        assert "declared absent twice" in found["examination.absent[1].tooth"]
        assert "recorded twice" in found["examination.empty_places[1].place"]
        assert "out of range" in found["examination.empty_places[1].crown_distance"]
        assert "names no place" in found["examination.empty_places[2].place"]

    def test_no_gap_lies_between_the_jaws(self) -> None:
        data = lead()
        data["examination"]["teeth"].append({"tooth": "48"})
        data["examination"]["gaps"].append({"between": ["23", "48"], "width": "0.0"})
        assert "not neighbours" in faults(data)["examination.gaps[5].between"]

    def test_a_number_of_the_other_system(self) -> None:
        """Edge case: a referral's "6" is no ISO number, and the file says it is in ISO."""
        sentence = faults(changed("examination.teeth.1.tooth", "6"))["examination.teeth[1].tooth"]
        assert "6" in sentence

    @given(st.floats(allow_nan=True, allow_infinity=True))
    def test_no_float_ever_becomes_a_length(self, value: float) -> None:
        assert faults(changed("examination.teeth.2.width", value))


class TestDoubts:
    """Likely slips are asked, never refused."""

    def questions(self, path: str, value: object) -> list[tuple[str, str]]:
        return list(doubts(validate_case(changed(path, value), TODAY).examination))

    def test_the_lead_case_raises_one_question_none_about_swapped_sides(self) -> None:
        found = dict(doubts(validate_case(lead(), TODAY).examination))
        assert set(found) <= {"examination.teeth[0].width"}  # the baby canine is a little wider than long

    def test_a_central_eleven_wide(self) -> None:
        found = self.questions("examination.teeth.2.width", "11.2")
        assert any(path == "examination.teeth[2].width" and "outside the usual" in words for path, words in found)

    def test_width_and_length_swapped(self) -> None:
        data = changed("examination.teeth.3.width", "10.4")
        data["examination"]["teeth"][3]["length"] = "8.4"
        found = list(doubts(validate_case(data, TODAY).examination))
        assert any("swapped" in sentence for _, sentence in found)

    def test_two_readings_apart(self) -> None:
        found = self.questions("examination.teeth.2.width_again", "8.7")
        assert [path for path, words in found if "third time" in words] == ["examination.teeth[2].width_again"]

    def test_two_readings_of_a_gap_apart(self) -> None:
        found = self.questions("examination.gaps.2.width_again", "1.1")
        assert [path for path, words in found if "third time" in words] == ["examination.gaps[2].width_again"]

    @pytest.mark.parametrize(("strip", "asked"), [("33.2", False), ("34.3", True), ("32.1", True)])
    def test_the_arch_in_one_go(self, strip: str, asked: bool) -> None:
        """Between the facing sides of 53 and 23: 7.8 + 8.3 + 8.4 + 5.5 and the five gaps make 33.2."""
        found = self.questions("examination.strip_length", strip)
        assert ("examination.strip_length" in dict(found)) is asked


def refusal_of(case: Any) -> list[str]:
    """The sentences a case is refused with; none when it is taken."""
    try:
        validate_case(case, TODAY)
    except CaseFileError as refused:
        return [fault.sentence for fault in refused.faults]
    return []


@given(st.data())
@settings(max_examples=120, deadline=None)
def test_whatever_is_put_anywhere_it_is_a_case_or_a_list_of_sentences(data: st.DataObject) -> None:
    """Any entry of the lead case replaced by any JSON value: refused in sentences, never a traceback."""
    case: Any = lead()
    place = case
    while True:
        keys = list(place) if isinstance(place, dict) else list(range(len(place)))
        key = data.draw(st.sampled_from(keys))
        if isinstance(place[key], (dict, list)) and place[key] and data.draw(st.booleans()):
            place = place[key]
        else:
            break
    scalars = st.none() | st.booleans() | st.integers() | st.text(max_size=5) | st.sampled_from(["11", "8.3", "99"])
    place[key] = data.draw(
        scalars | st.lists(scalars, max_size=3) | st.dictionaries(st.text(max_size=4), scalars, max_size=2)
    )
    assert all(sentence.endswith((".", "?")) for sentence in refusal_of(case))
