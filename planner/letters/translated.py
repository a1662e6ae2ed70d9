"""What a paper in another language than English says of its translation: by whom, whether checked, and which rules."""

from dataclasses import dataclass

from django.utils.translation import gettext as _

from planner.rules.results import CasePlan
from planner.rules.words import ENGLISH, texts


@dataclass(frozen=True, slots=True)
class Translated:
    """The note that stands at the head of a translated paper, a sentence each."""

    sentences: tuple[str, ...]
    checked: bool
    """Whether a person read through the words of the plan and those that the program says now."""


def translated(plan: CasePlan, language: str) -> Translated | None:
    """The note of a paper in ``language`` drawn from ``plan``; None for English, in which it is written."""
    if language == ENGLISH:
        return None
    frozen = next(found for found in plan.other_words if found.language == language)
    now = texts(language)
    checked = bool(frozen.reviewer) and frozen.reviewer == now.reviewer
    said = [
        _("This paper is a translation from English, by %(who)s.") % {"who": frozen.translator},
        _("%(who)s read it through.") % {"who": frozen.reviewer} if checked else _("Translation not yet checked."),
        _("Where the two differ, the English paper rules. Ask us for it; you may have both."),
    ]
    if frozen.untranslated:
        said.append(_("What has no translation yet stands here in English: ask us to explain it."))
    return Translated(tuple(said), checked)
