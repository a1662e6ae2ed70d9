"""Twenty questions that are asked after a complaint, each answered from what is stored and from nothing else.

A question without data says so: an answer is never guessed. Each line names the row or paper behind it by its address.
The sentences are English: what an office lays before others is read in the language of its records.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final

from planner.story import answers_after, answers_before
from planner.story.ground import Ground
from planner.story.said import Line


@dataclass(frozen=True, slots=True)
class Answer:
    """One question with its lines; without any, ``none`` says what is not on record."""

    number: int
    question: str
    lines: tuple[Line, ...]
    none: str


_QUESTIONS: Final[tuple[tuple[str, Callable[[Ground], Iterator[Line]], str], ...]] = (
    ("Who measured, with what, and was it measured twice?", answers_before.measured, "Nothing was measured."),
    ("What did the patient ask for, in their own words?", answers_before.wishes, "No wish was written down."),
    (
        "Which options were shown, in which order, and was doing nothing among them?",
        answers_before.shown,
        "Nothing was shown.",
    ),
    ("What was struck, and why?", answers_before.struck, "No option was struck."),
    ("Which rules were in force?", answers_before.rules, "No plan was frozen, so no rules stand behind one."),
    ("Who decided otherwise than the rules?", answers_before.overridden, "Nobody decided otherwise."),
    (
        "Which letter was it, in which language and print size, and how long was it at home?",
        answers_before.letters,
        "No letter was handed over.",
    ),
    ("What was asked, and who answered, before it was signed?", answers_before.asked, "No question was written down."),
    ("Was whoever signed entitled to, on that day?", answers_before.entitled, "Nothing was signed."),
    ("Did somebody interpret, and who?", answers_before.interpreted, "Nothing was signed, so nobody is named."),
    (
        "How much tooth was to be taken away, and how much was?",
        answers_after.removed,
        "No plan was shown that takes any away.",
    ),
    (
        "What turned out otherwise during the work, and was that agreed beforehand?",
        answers_after.found,
        "Nothing was written down at the chair.",
    ),
    ("Was the price in date, and who changed prices?", answers_after.prices, "No price was given."),
    ("What was said about payers, and on which basis?", answers_after.payers, "Nothing was guessed about payers."),
    ("Which allergies were known on that day?", answers_after.allergies, "No medical history is on file."),
    ("Which lot of each material was used, and when does it expire?", answers_after.lots, "No lot was written down."),
    ("Who opened or printed the file?", answers_after.opened, "Nobody opened the file."),
    ("Are there photographs before and after, to the same scale?", answers_after.photographs, "No photograph is kept."),
    ("Was after-care handed over, and a review offered and attended?", answers_after.care, "Nothing is on record."),
    (
        "When did the office learn of the problem, and what was done in 24 hours and in 7 days?",
        answers_after.problem,
        "No problem was written down.",
    ),
)


def answers(ground: Ground) -> tuple[Answer, ...]:
    """All twenty, in order."""
    return tuple(
        Answer(number, question, tuple(tell(ground)), none)
        for number, (question, tell, none) in enumerate(_QUESTIONS, start=1)
    )
