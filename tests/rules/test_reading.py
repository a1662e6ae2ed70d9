"""The reading grade, against the formula worked by hand and against textstat with its pronouncing dictionary."""

from decimal import Decimal

import pytest
import textstat

from planner.rules.reading import grade, syllables

PLAIN = (
    "We add resin to the tooth and shape it. We clean the tooth first. Then a blue light sets the resin hard. "
    "Most teeth need no numbing. You can go home the same day. Of 100 teeth, about 62 need nothing done in ten years."
)
MIDDLING = (
    "The dentist removes a little from the tip of the pointed tooth and polishes it. After that the tooth may feel "
    "cool for about a week. If the gum beside the filling becomes swollen, please telephone the office the same day."
)
HARD = (
    "Irreversible preparation of the anterior dentition necessitates subsequent rehabilitation with indirect ceramic "
    "restorations, the longevity of which is determined by occlusal parafunction and periodontal maintenance."
)


@pytest.mark.parametrize(
    ("word", "count"),
    [
        ("tooth", 1), ("dentist", 2), ("little", 2), ("shape", 1), ("shaped", 1), ("wanted", 2), ("takes", 1),
        ("places", 2), ("the", 1), ("we", 1), ("canine", 2), ("enamel", 3), ("don't", 1), ("needed", 2),
        ("polished", 2),
    ],
)  # fmt: skip
def test_syllables(word: str, count: int) -> None:
    assert syllables(word) == count


def test_the_formula_by_hand() -> None:
    """Ten words, two sentences, eleven syllables: 0.39 * 5 + 11.8 * 1.1 - 15.59 = -0.66."""
    assert grade(["We add a little to the tooth.", "You go home."]) == Decimal("-0.7")


@pytest.mark.parametrize("text", [PLAIN, MIDDLING, HARD])
def test_agrees_with_textstat(text: str) -> None:
    """textstat 0.7.8 with the CMU pronouncing dictionary; the formula is good to 1.5 grades, we ask for 1."""
    assert float(grade([text])) == pytest.approx(textstat.flesch_kincaid_grade(text), abs=1.0)


def test_orders_texts_as_a_reader_would() -> None:
    assert grade([PLAIN]) < grade([MIDDLING]) < grade([HARD])


def test_nothing_to_measure_is_said() -> None:
    with pytest.raises(ValueError, match="no word"):
        grade(["12 13", ""])
