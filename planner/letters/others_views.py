"""The page of a case on which stands who else must agree, and what they say."""

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from planner.plans.access import load_case
from planner.plans.others_agree import wanting, write_say
from planner.plans.others_models import OtherSay
from planner.practice.access import Act, Thing, may
from planner.practice.acting import act_on
from planner.practice.fields import PlainForm
from planner.practice.requests import actor_of, posted
from planner.rules.others_agree import Say

SAYS = (
    (Say.WANTED, _("must agree too")),
    (Say.AGREES, _("agrees")),
    (Say.DISAGREES, _("disagrees")),
    (Say.SETTLED, _("the disagreement is settled")),
)


class SayForm(PlainForm):
    """Who, what, and in which words."""

    person = forms.CharField(
        label=_("Who"), max_length=200, help_text=_("Name, and what they are to the patient: Ada Marsh, mother.")
    )
    said = forms.ChoiceField(label=_("What is to be written down"))
    words = forms.CharField(
        label=_("In which words"),
        max_length=500,
        help_text=_("By what right they must agree, what they said, or who settled it and how."),
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    def __init__(self, *args: Any, settles: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["said"].choices = [  # type: ignore[attr-defined]
            (str(key), words) for key, words in SAYS if settles or key is not Say.SETTLED
        ]


def others(request: HttpRequest, public_id: str) -> HttpResponse:
    """Who else must agree to what is planned in a case; a no that is told is written down at once."""
    actor, now = actor_of(request), timezone.now()
    act = Act.CREATE if request.method == "POST" else Act.VIEW
    case = load_case(actor=actor, public_id=public_id, act=act, thing=Thing.WITHDRAWAL, now=now)
    settles, writes = may(actor, Act.APPROVE, Thing.LETTER), may(actor, Act.CREATE, Thing.WITHDRAWAL)
    form = SayForm(posted(request), settles=settles)

    def save(data: dict[str, Any]) -> object:
        return write_say(case=case, person=data["person"], said=Say(data["said"]), words=data["words"], actor=actor,
                         now=now)  # fmt: skip

    if act_on(form, save).done:
        messages.success(request, _now("It is written down."))
        return redirect("letters:others_agree", public_id)
    rows = OtherSay.objects.filter(case=case).select_related("by").order_by("pk")
    context = {"case": case, "patient": case.patient, "form": form if writes else None, "rows": rows}
    return render(request, "letters/others_agree.html", context | {"wanting": wanting(case.pk)})
