"""The office's dated settings around money and law: which duty of estimate holds, which law of credit, its own words.

Each is a :class:`~planner.rules.book.LegalSetting` with a day, a name and a ground. Where none is set, nothing is
assumed: no duty, no law named, no words printed in the office's name.
"""

from dataclasses import dataclass
from datetime import date

from planner.rules import retention
from planner.rules.arrangement import LAWS, Law
from planner.rules.book import OfficeBook
from planner.rules.duty import Duty, duties
from planner.rules.reflection import KINDS, Kind, setting_key, usual_words

NO_DUTY = "none"


@dataclass(frozen=True, slots=True)
class TextSetting:
    """A setting that is words or one of a few answers, as the form offers it."""

    key: str
    label: str
    hint: str
    answers: tuple[str, ...] = ()
    """The only values there are; none where the office writes its own."""
    unset: str = ""
    """What holds where nothing is set, in words; empty where nothing does."""


_KIND_WORDS: dict[Kind, str] = {
    "cutting for looks": "a sound tooth is cut for looks",
    "taking away": "something is taken away otherwise",
    "adding": "nothing is taken away",
}

TEXT_SETTINGS: tuple[TextSetting, ...] = (
    TextSetting(
        "estimate-duty",
        "Local duty of estimate",
        "us, uk or none: what an estimate has to say by local rule. Ask local counsel.",
        (*duties(), NO_DUTY),
    ),
    TextSetting("holidays", "Holidays that are no business days", "Days such as 2026-05-25, with blanks between them."),
    TextSetting("provider-number", "The provider's outside number", "As the local duty of estimate asks for it."),
    TextSetting("tax-number", "The provider's tax number", "As the local duty of estimate asks for it."),
    TextSetting("scheme", "Public scheme or private", "What an estimate says about it, such as: all of it is private."),
    TextSetting("guarantee", "Guarantee of the work", "How long, and what is left out."),
    TextSetting(
        "credit-law", "Whose law of credit is watched", "us, eu or other: which warning and yearly rate.", LAWS
    ),
    TextSetting("late-payment", "When an instalment comes late", "The office's own words; printed on the agreement."),
    TextSetting("credit-withdrawal", "Withdrawing from instalments", "The office's own words; printed on it."),
    *(
        TextSetting(
            setting_key(kind),
            f"Days to think it over before signing: {words}",
            "Whole days between letter and signature. Ask local counsel.",
            unset=usual_words(kind),
        )
        for kind, words in _KIND_WORDS.items()
    ),
    *(
        TextSetting(key, label, f"{hint} Ask your local law.", unset=retention.usual_words(key))
        for key, label, hint in (
            ("keep-treated-years", "How long files with treatment are kept", "Whole years after the last of it."),
            ("keep-child-until-age", "How long files of children are kept", "At least until this birthday."),
            (
                "keep-untreated-years",
                "When other files are listed for erasing",
                "Whole years after they were last used.",
            ),
            ("keep-money-years", "How long payments are kept", "Whole years after the end of the calendar year."),
        )
    ),
)
MOST_DAYS = 365
"""Of time to think it over; more is a slip of the pen."""
_REFLECTION = tuple(setting_key(kind) for kind in KINDS)


def text_fault(key: str, value: str) -> str:
    """What is wrong with ``value`` for the text setting ``key``, in one sentence; empty when nothing is."""
    setting = next((one for one in TEXT_SETTINGS if one.key == key), None)
    if setting is None:
        return ""
    if setting.answers and value not in setting.answers:
        return f"“{value}” is none of these: write {', '.join(setting.answers[:-1])} or {setting.answers[-1]}."
    if fault := retention.number_fault(key, value):
        return fault
    if key in _REFLECTION and not (value.isdecimal() and value.isascii() and int(value) <= MOST_DAYS):
        return f"“{value}” is no number of days: write a whole number from 0 to {MOST_DAYS}, such as 7."
    if key == "holidays":
        for word in value.split():
            try:
                date.fromisoformat(word)
            except ValueError:
                return f"“{word}” is no day: write days such as 2026-05-25, with blanks between them."
    return ""


def said(book: OfficeBook, key: str, day: date) -> str:
    """The office's words for ``key`` in force on ``day``; empty where nobody has set them."""
    setting = book.legal_on(key, day)
    return setting.value.strip() if setting is not None else ""


def duty_of(book: OfficeBook, day: date) -> Duty | None:
    """The duty of estimate that holds for the office on ``day``, or None."""
    return duties().get(said(book, "estimate-duty", day))


def credit_law(book: OfficeBook, day: date) -> Law:
    """Whose law of credit is watched on ``day``; ``other`` where nobody has said."""
    value = said(book, "credit-law", day)
    return next((law for law in LAWS if law == value), "other")


def holidays_of(book: OfficeBook, day: date) -> frozenset[date]:
    """The days, beside weekends, that the office counts as no business days."""
    return frozenset(date.fromisoformat(word) for word in said(book, "holidays", day).split())
