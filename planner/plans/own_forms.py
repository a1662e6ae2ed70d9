"""An option put together as a form: what is done to the whole mouth, and what to each tooth and place."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from planner.patients.tooth_fields import LengthCell
from planner.plans.forms import DecisionForm
from planner.practice.catalogue import in_force
from planner.rules.choices import OwnWork
from planner.rules.mouth import CaseFacts
from planner.rules.results import OptionShape
from planner.rules.standing import place_of
from planner.rules.teeth import Tooth
from planner.rules.treatments import Treatment

RESHAPING = "reshaping"
LENGTHS = (
    ("mesial", _("added toward the midline")),
    ("distal", _("added away from it")),
    ("lengthening", _("added at the edge")),
    ("removal", _("taken off the edge")),
)
"""Lengths of a row, in millimetres, with their words."""


@dataclass(frozen=True, slots=True)
class Row:
    """The fields of one tooth or place."""

    label: str
    stands: str
    fields: tuple[forms.BoundField, ...]


class OwnOptionForm(DecisionForm):
    """What is done, tooth by tooth, with the reason. ``works`` is what it starts from."""

    def __init__(
        self, data: Mapping[str, Any] | None = None, *, facts: CaseFacts, works: Sequence[OwnWork] = (), **kwargs: Any
    ) -> None:
        super().__init__(data, **kwargs)
        self.facts, self.teeth = facts, tuple(_teeth(facts))
        reason = self.fields.pop("reason")
        treatments = sorted(in_force().catalogue.treatments.values(), key=_asks_for)
        whole = [treatment for treatment in treatments if for_the_whole_mouth(treatment)]
        self.fields["whole"] = forms.MultipleChoiceField(
            label=_("Done to the whole mouth or arch"),
            choices=[(treatment.key, treatment.name) for treatment in whole],
            widget=forms.CheckboxSelectMultiple,
            required=False,
            initial=[work.treatment for work in works if work.tooth is None],
        )
        single = [("", "–")] + [
            (treatment.key, treatment.name)
            for treatment in treatments
            if treatment not in whole and treatment.key not in ("none", RESHAPING)
        ]
        for tooth in self.teeth:
            self._add_row(tooth, single, [work for work in works if work.tooth == tooth])
        self.fields["reason"] = reason

    def _add_row(self, tooth: Tooth, single: list[tuple[str, str]], works: Sequence[OwnWork]) -> None:
        name, label = tooth.key, tooth.label(self.facts.numbering)
        main = next((work for work in works if work.treatment != RESHAPING), None)
        off = next((work.removal for work in works if work.treatment == RESHAPING), None)
        self.fields[f"{name}-what"] = forms.ChoiceField(
            label=_now("%(tooth)s: what is done") % {"tooth": label},
            choices=single,
            required=False,
            initial=main.treatment if main else "",
        )
        for part, words in LENGTHS:
            amount = off if part == "removal" else getattr(main, part) if main else None
            self.fields[f"{name}-{part}"] = LengthCell(
                label=_now("%(tooth)s: %(words)s, mm") % {"tooth": label, "words": words}, initial=amount or None
            )
        self.fields[f"{name}-surfaces"] = forms.TypedChoiceField(
            label=_now("%(tooth)s: surfaces") % {"tooth": label},
            choices=[("", "–"), *((number, number) for number in range(1, 6))],
            coerce=int,
            empty_value=None,
            required=False,
            initial=main.surfaces if main else None,
        )

    def rows(self) -> Iterator[Row]:
        """The teeth and places in the order of the arch, for the template."""
        standing = {found.tooth: place_of(found) for found in self.facts.examination.teeth}
        for tooth in self.teeth:
            label = tooth.label(self.facts.numbering)
            place = standing.get(tooth)
            stands = ""
            if place is None:
                taken = tooth in standing.values()
                stands = _now("missing; another tooth stands in its place") if taken else _now("empty place")
            if place is not None and place != tooth and not tooth.is_primary:
                stands = _now("stands in the place of the %(place)s") % {"place": place.label(self.facts.numbering)}
            parts = ("what", *(part for part, _words in LENGTHS), "surfaces")
            yield Row(label, stands, tuple(self[f"{tooth.key}-{part}"] for part in parts))

    def clean(self) -> dict[str, Any]:
        """The works that were chosen; an amount belongs to something that is done."""
        data = super().clean() or {}
        self.works = tuple(self._works(data))
        if not self.works and not self.errors:
            self.add_error(None, _now("Nothing is chosen yet: say what is done, and to which tooth."))
        return data

    def _works(self, data: dict[str, Any]) -> Iterator[OwnWork]:
        for key in data.get("whole", ()):
            yield OwnWork(treatment=key)
        for tooth in self.teeth:
            what = data.get(f"{tooth.key}-what", "")
            added = {part: data.get(f"{tooth.key}-{part}") or 0 for part in ("mesial", "distal", "lengthening")}
            surfaces = data.get(f"{tooth.key}-surfaces")
            if off := data.get(f"{tooth.key}-removal"):
                yield _work(RESHAPING, tooth, removal=off)
            if what:
                adds = in_force().catalogue.treatments[what].works_on == "spaces"
                yield _work(what, tooth, surfaces=surfaces if adds else None, **added)
            elif any(added.values()) or surfaces:
                self.add_error(
                    f"{tooth.key}-what", _now("An amount is written here: say what is done, or empty the cells.")
                )


def _asks_for(treatment: Treatment) -> tuple[bool, bool, int, str]:
    """Gentlest first, as far as a treatment alone tells: surgery, cutting, whether it can be undone, its name."""
    return treatment.surgery, "cuts sound tooth" in treatment.flags, treatment.undo, treatment.name


def for_the_whole_mouth(treatment: Treatment) -> bool:
    """Whether a treatment is done to an arch or the mouth and not to one tooth."""
    return treatment.works_on in ("whole mouth", "teeth moved")


def works_of(option: OptionShape) -> tuple[OwnWork, ...]:
    """The works of an option that was worked out, to be changed from. Teeth taken out follow from what is done."""
    return tuple(
        _work(
            line.treatment,
            line.tooth,
            mesial=line.mesial_tenths,
            distal=line.distal_tenths,
            lengthening=line.lengthening_tenths,
            removal=line.removal_tenths if line.treatment == RESHAPING else 0,
            surfaces=line.surfaces or None,
        )
        for line in option.work
        if not line.extracted
    )


def _work(
    treatment: str,
    tooth: Tooth | None,
    *,
    mesial: int = 0,
    distal: int = 0,
    lengthening: int = 0,
    removal: int = 0,
    surfaces: int | None = None,
) -> OwnWork:
    # Lengths are whole tenths here, and written in millimetres where a model is validated.
    return OwnWork.model_construct(
        treatment=treatment,
        tooth=tooth,
        mesial=mesial,
        distal=distal,
        lengthening=lengthening,
        removal=removal,
        surfaces=surfaces,
    )


def _teeth(facts: CaseFacts) -> Iterator[Tooth]:
    """Every recorded tooth, and every place in which a tooth is missing, along the arch."""
    examination = facts.examination
    spots = {found.tooth: place_of(found) for found in examination.teeth}
    for missing in (*(each.place for each in examination.empty_places), *(each.tooth for each in examination.absent)):
        spots.setdefault(missing, missing)
    yield from sorted(spots, key=lambda tooth: (not tooth.upper, spots[tooth].arch_index, tooth.key))
