"""What the patient reads while signing and on the signature sheet, in the language of the letter."""

from typing import Any

from django.utils import translation
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from planner.letters.consent_models import Channel
from planner.rules.signing import Basis, Choice, Method

METHODS = (
    (Method.TYPED, _("I type my name")),
    (Method.DRAWN, _("I draw my signature")),
    (Method.MARK, _("I make a mark, and a witness writes the name")),
    (Method.SPOKEN, _("I say yes aloud, and two of the staff hear it")),
)
CHOICES = (
    (Choice.ALL, _("Yes, to all of it")),
    (Choice.PART, _("Yes, to a part of it")),
    (Choice.NOTHING, _("No. I choose no treatment")),
    (Choice.LATER, _("Not now")),
    (Choice.UNTOLD, _("Yes, and I prefer not to be told more details")),
)
COPIES = (
    (Channel.PAPER, _("on paper, by hand")),
    (Channel.POST, _("paper by post")),
    (Channel.FILE, _("as a file, at the patient's wish")),
)
CHOICE, PIECES, COPY = _("My choice"), _("Of it, only these"), _("The copy is handed over")
ELECTRONIC = _("Signing on this screen is agreed to; paper was offered")
METHOD, TYPED = _("How it is signed"), _("Type the name as it stands above")
WITNESS, WITNESS_FOR = _("First witness"), _("For a mark, or for a spoken yes.")
SECOND, SECOND_FOR = _("Second witness"), _("For a spoken yes: two of the staff.")

_ON_THE_SHEET: dict[str, Any] = {
    Basis.SELF: _("for myself"),
    Basis.PARENT: _("as a parent"),
    Basis.GUARDIAN: _("as a guardian"),
    Basis.COURT: _("by a court's order"),
    Basis.POWER: _("by a power of attorney"),
    Basis.DECIDER: _("as the decision-maker on record"),
    Method.TYPED: _("typed name"),
    Method.DRAWN: _("drawn"),
    Method.MARK: _("mark before a witness"),
    Method.SPOKEN: _("spoken yes before two of the staff"),
    Choice.ALL: _("yes"),
    Choice.PART: _("yes, to a part"),
    Choice.NOTHING: _("no treatment"),
    Choice.LATER: _("not now"),
    Choice.UNTOLD: _("yes, and prefers not to be told details"),
    Channel.PAPER: _("on paper, by hand"),
    Channel.POST: _("paper by post"),
    Channel.TABLET: _("on the office tablet"),
    Channel.FILE: _("as a file, at the patient's wish"),
    "on paper, before this day": _("on paper, before this day"),
    "on paper, this day": _("on paper, this day"),
    "on this screen": _("on this screen"),
    "read out": _("it was read out"),
    "cutting for looks": _("a healthy tooth is cut for looks"),
    "taking away": _("something is taken away for good"),
    "adding": _("something is added"),
    "known in person": _("known in person"),
}


def on_the_sheet(kept: str) -> str:
    """How the signature sheet says what is kept as ``kept``; words somebody typed stay as they are."""
    return str(_ON_THE_SHEET.get(kept, kept))


def intent(language: str) -> str:
    """What is said by signing, in the language of the letter."""
    with translation.override(language):
        return gettext(
            "I sign this letter of my own free will. My questions were answered. I may change my mind at any time."
        )
