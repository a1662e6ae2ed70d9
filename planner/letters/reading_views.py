"""The page that tells a dentist how plain a stored letter is, and which points of the yardstick it answers."""

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from planner.letters import ipdas
from planner.letters.access import load_document
from planner.letters.consent import KEY
from planner.letters.finish import StructureError
from planner.letters.papers import kind_of
from planner.letters.prose import ease_words
from planner.letters.read_back import blocks
from planner.letters.reading_limit import reading_allows, reading_of, sign_reading_reason
from planner.practice.access import Act, Thing, may
from planner.practice.acting import act_on
from planner.practice.fields import PlainForm
from planner.practice.requests import actor_of, posted
from planner.rules.reading import CEILING, LONGEST, TARGET


class ReadingReasonForm(PlainForm):
    """Why a paper may be signed though it is hard to read."""

    reason = forms.CharField(
        label=gettext_lazy("Reason"), max_length=500, help_text=gettext_lazy("It stays in the record, in your name.")
    )


def reading(request: HttpRequest, public_id: str) -> HttpResponse:
    """How plain the stored paper is, its long words, the yardstick, and the form for a dentist's reason."""
    actor, now = actor_of(request), timezone.now()
    shown = load_document(actor=actor, public_id=public_id, now=now)
    form = ReadingReasonForm(posted(request))
    if request.method == "POST":
        done = act_on(form, lambda data: sign_reading_reason(document=shown, actor=actor, now=now, **data))
        if done.done:
            messages.success(request, _("The reason is signed and stays with this paper."))
            return redirect("letters:reading", public_id)
    try:
        found, words = reading_of(shown), blocks(bytes(shown.content))
    except StructureError:
        found, words = None, ()
    refused = reading_allows(shown)
    context = {
        "document": shown,
        "title": kind_of(shown.kind).title,
        "case": shown.frozen.case,
        "patient": shown.frozen.case.patient,
        "reading": found,
        "refused": refused,
        "reasons": shown.reading_reasons.select_related("by"),
        "sent": form,
        "form": form if refused and found is not None and may(actor, Act.APPROVE, Thing.LETTER) else None,
        "yardstick": ipdas.check(words, shown.language) if words and shown.kind == KEY else None,
        "ease_band": ease_words(found.ease) if found is not None and found.ease is not None else "",
        "target": TARGET,
        "ceiling": CEILING,
        "longest": LONGEST,
    }
    return render(request, "letters/reading_page.html", context)
