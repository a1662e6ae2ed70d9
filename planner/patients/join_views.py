"""Pages on which two files of one person are joined, and taken apart again."""

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from planner.patients import joining
from planner.patients.access import load_joined, load_patient
from planner.patients.files import files_of
from planner.patients.forms import PatientForm
from planner.patients.join_models import REVERSIBLE
from planner.patients.models import Patient
from planner.patients.queries import possible_twins, search
from planner.practice.access import Act, Thing, may
from planner.practice.acting import act_on
from planner.practice.fields import PlainForm
from planner.practice.requests import actor_of, posted


class AskForm(PlainForm):
    """Which file is the same person's, and how that is known."""

    other = forms.ChoiceField(label=_("The other file, which is read through this one from then on"))
    reason = forms.CharField(label=_("How you know that both are one person"), max_length=500)

    def __init__(self, *args: Any, people: tuple[Patient, ...], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["other"].choices = [  # type: ignore[attr-defined]
            (one.public_id, f"{one.name}, {one.birth_date:%Y-%m-%d}, …{one.phone[-4:]}") for one in people
        ]


class JoinForm(PlainForm):
    """What is taken from the other file where the two differ; a reason, where one is asked for."""

    reason = forms.CharField(label=_("Reason, for a no and for taking apart"), max_length=500, required=False)

    def __init__(self, *args: Any, differing: dict[str, tuple[Any, Any]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, (kept, other) in differing.items():
            label = PatientForm.base_fields[name].label or name
            self.fields[f"take_{name}"] = forms.ChoiceField(
                label=label, required=False, choices=[("kept", kept or "–"), ("other", other or "–")],
                widget=forms.RadioSelect, initial="kept",
            )  # fmt: skip
        self.order_fields([*(name for name in self.fields if name != "reason"), "reason"])

    def taken(self) -> list[str]:
        """What is taken from the other file."""
        return [name[5:] for name, value in self.cleaned_data.items() if name.startswith("take_") and value == "other"]


def join(request: HttpRequest, public_id: str) -> HttpResponse:
    """Ask for another file to be joined to this one."""
    actor, now = actor_of(request), timezone.now()
    kept = load_patient(actor=actor, public_id=public_id, act=Act.CREATE, thing=Thing.JOIN, now=now)
    twins = possible_twins(kept.office, name=kept.name, birth_date=kept.birth_date, besides=kept)
    alike = search(kept.office, text=kept.name).patients
    own = {one.pk for one in files_of(kept)}
    people = {one.pk: one for one in (*twins, *alike) if one.pk not in own}
    form = AskForm(posted(request), people=tuple(people.values()))

    def save(data: dict[str, Any]) -> Any:
        other = next(one for one in people.values() if one.public_id == data["other"])
        return joining.ask_to_join(kept=kept, joined=other, reason=data["reason"], actor=actor, now=now)

    done = act_on(form, save)
    if done.done:
        messages.success(request, _now("It is asked for. The manager looks at both files first, then a dentist."))
        return redirect("patients:patient", public_id)
    return render(request, "patients/join.html", {"patient": kept, "form": form, "people": people})


def joined(request: HttpRequest, public_id: str) -> HttpResponse:
    """Two files side by side: allowed, carried out, declined, or taken apart, each by whoever may."""
    actor, now = actor_of(request), timezone.now()
    row = load_joined(actor=actor, public_id=public_id, now=now)
    waits = row.allowed_at is None and not row.is_over
    form = JoinForm(posted(request), differing=joining.differences(row) if waits else {})
    ways = {
        "allow": lambda data: joining.allow_joining(join=row, take=form.taken(), actor=actor, now=now),
        "decline": lambda data: joining.decline_joining(join=row, reason=data["reason"], actor=actor, now=now),
        "join": lambda data: joining.carry_out(join=row, actor=actor, now=now),
        "ask_apart": lambda data: joining.ask_apart(join=row, reason=data["reason"], actor=actor, now=now),
        "apart": lambda data: joining.take_apart(join=row, actor=actor, now=now),
    }
    way = ways.get(request.POST.get("way", ""))
    if way is not None and act_on(form, way).done:
        messages.success(request, _now("It is written down."))
        return redirect("patients:joined", public_id)
    first, second = may(actor, Act.APPROVE, Thing.JOIN), may(actor, Act.RUN, Thing.JOIN)
    apart = row.holds and not joining.is_final(row, now)
    context = {
        "join": row,
        "patient": row.kept,
        "form": form,
        "files": (row.kept, row.joined),
        "may_allow": waits and first,
        "may_join": second and row.allowed_at is not None and row.done_at is None and not row.is_over,
        "may_ask_apart": apart and first and row.apart_asked_at is None,
        "may_apart": apart and second and row.apart_asked_at is not None,
        "final": joining.is_final(row, now),
        "until": row.done_at + REVERSIBLE if row.done_at else None,
    }
    return render(request, "patients/joined.html", context)
