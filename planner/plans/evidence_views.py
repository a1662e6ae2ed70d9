"""The register of every clinical number, for whoever doubts one: searched and filtered, each with its own address."""

from collections.abc import Mapping
from dataclasses import dataclass

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import get_language
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from planner.practice.access import Act, Thing, require
from planner.practice.catalogue import in_force
from planner.practice.fields import PlainForm
from planner.practice.requests import actor_of
from planner.rules.evidence import CERTAINTY_WORDS
from planner.rules.register import EVERY, KINDS, Entry, whole_register

KIND_WORDS = {
    "number": _("numbers of studies and of practice"),
    "setting": _("settings"),
    "gate": _("limits of the gates"),
    "shelf life": _("how long findings keep"),
    "visit": _("minutes and days of visits"),
}
RULE_WORDS = {
    "printed": _("For a number that is printed the surest source wins."),
    "limit": _("For a wait, a dose or a limit the more cautious value wins."),
    "setting": _("Each is right for its own setting and stands where it belongs."),
}


@dataclass(frozen=True, slots=True)
class ShownRival:
    """A row that says otherwise."""

    key: str
    words: str
    value: str
    taken: bool


@dataclass(frozen=True, slots=True)
class ShownEntry:
    """One number, in words."""

    entry: Entry
    certainty: str
    used_by: tuple[str, ...]
    rivals: tuple[ShownRival, ...]
    why: tuple[str, ...]

    @property
    def taken(self) -> bool:
        """Whether it is taken where sources disagree; true where nothing disagrees."""
        return all(self.entry.key in each.taken for each in self.entry.disagreements)


class EvidenceForm(PlainForm):
    """What to look for; nothing chosen shows everything."""

    words = forms.CharField(label=_("Words or key"), max_length=100, required=False)
    treatment = forms.ChoiceField(label=_("Treatment"), required=False)
    certainty = forms.ChoiceField(label=_("How it is known"), required=False)
    kind = forms.ChoiceField(label=_("What"), required=False)

    def __init__(self, data: Mapping[str, str]) -> None:
        super().__init__(data)
        every = [("", _now("all"))]
        choices: dict[str, list[tuple[str, str]]] = {
            "treatment": [(key, name) for key, name in _names().items() if key != EVERY],
            "certainty": [(key, _certainty(key)) for key in CERTAINTY_WORDS],
            "kind": [(kind, str(KIND_WORDS[kind])) for kind in KINDS],
        }
        for name, found in choices.items():
            self.fields[name].choices = every + found  # type: ignore[attr-defined]


def evidence(request: HttpRequest) -> HttpResponse:
    """The register, as far as it answers what is looked for."""
    require(actor_of(request), Act.VIEW, Thing.OPTIONS)
    form = EvidenceForm(request.GET)
    wanted = form.cleaned_data if form.is_valid() else {}
    found = [_shown(entry) for entry in whole_register().entries if _answers(entry, wanted)]
    groups = [(KIND_WORDS[kind], [one for one in found if one.entry.kind == kind]) for kind in KINDS]
    context = {
        "form": form,
        "groups": [(words, entries) for words, entries in groups if entries],
        "count": len(found),
        "all": len(whole_register().entries),
    }
    return render(request, "plans/evidence.html", context)


def _answers(entry: Entry, wanted: Mapping[str, str]) -> bool:
    text = " ".join((entry.key, entry.words, entry.value, entry.source, entry.doi, entry.note)).casefold()
    treatment = wanted.get("treatment", "")
    return (
        all(word in text for word in wanted.get("words", "").casefold().split())
        and (not treatment or treatment in entry.treatments)
        and wanted.get("certainty", "") in ("", entry.certainty)
        and wanted.get("kind", "") in ("", entry.kind)
    )


def _shown(entry: Entry) -> ShownEntry:
    rivals = []
    for each in entry.disagreements:
        for key in each.others(entry.key):
            other = whole_register().entry(key)
            value = " ".join((other.value, other.unit, other.span)).strip()
            rivals.append(ShownRival(key, other.words, value, key in each.taken))
    names = _names()
    return ShownEntry(
        entry,
        _certainty(entry.certainty),
        tuple(dict.fromkeys(names.get(key, key) for key in entry.treatments)),
        tuple(dict.fromkeys(rivals)),
        tuple(f"{RULE_WORDS[each.rule]} {each.why}" for each in entry.disagreements),
    )


def _names() -> dict[str, str]:
    language = (get_language() or "en")[:2]
    known = in_force().catalogue
    named = {key: treatment.named(language) for key, treatment in known.treatments.items()}
    named |= {key: each.name_es if language == "es" else each.name for key, each in known.combinations.items()}
    return named | {EVERY: _now("every treatment")}


def _certainty(key: str) -> str:
    words = CERTAINTY_WORDS.get(key)
    return key if words is None else words[1] if (get_language() or "").startswith("es") else words[0]
