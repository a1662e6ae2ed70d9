"""What a patient sees on a screen that was handed over: one estimate, and the letter that may be signed.

Nothing here takes an address of a row: the session says which, and these views answer in no other session. Signing ends
the handing over: what the patient wrote is stored only together with the name and password of a member of staff, who
signs in by them and is the one who acts.
"""

from collections.abc import Callable
from datetime import datetime
from functools import wraps
from typing import Any

from django.contrib import messages
from django.contrib.auth import authenticate
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone, translation
from django.utils.translation import gettext as _

from planner.letters.consent_models import Consent
from planner.letters.consent_shown import UNSIGNED
from planner.letters.consent_signing import guard_signing, sign_letter
from planner.letters.consent_standing import newest_handing
from planner.letters.consent_views import dentists
from planner.letters.models import Document
from planner.letters.presenting import presentation, speaking_to
from planner.letters.services import handed_out
from planner.letters.showing_views import DRAFT, shown_page, to_take_home
from planner.letters.sign_shown import SignPage, in_force, sign_page
from planner.letters.sign_views import around_of, signed
from planner.plans.models import Estimate, State
from planner.practice.access import Act, Thing, may
from planner.practice.fields import shown_words
from planner.practice.handed import Handed, handed_of, take_back
from planner.practice.models import Staff
from planner.practice.requests import posted
from planner.trail.errors import Refused

CONFIRMED = ("signer", "basis", "id_seen", "clinician", "talk_on", "licence", "choice", "method")
"""Fields that whoever takes the screen back sees once more: they vouch for what they, or the patient, wrote there."""
NAME, PASSWORD = "taken_back_by", "taken_back_with"


def _in_hands(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """A view for a screen that was handed over, which it is told of; anywhere else it leads to the first page."""

    @login_not_required
    @wraps(view)
    def shown(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        handed = handed_of(request)
        if handed is not None:
            return view(request, handed, *args, **kwargs)
        if request.method == "POST":
            messages.info(request, _("This screen is not in a patient's hands any more: look at what is kept already."))
        return redirect("practice:home")

    return shown


@_in_hands
def pages(request: HttpRequest, handed: Handed, page: int = 0) -> HttpResponse:
    """One page of the estimate; where only a letter is to be signed, the way to that."""
    if not handed.showing:
        return redirect("handed_sign")
    estimate = Estimate.objects.select_related("office", "frozen", "checked_by", "case__patient__office").get(
        public_id=handed.public_id
    )
    if estimate.state == State.REPLACED:
        return _over(request)
    with speaking_to(estimate):
        shown = presentation(estimate, timezone.now())
        context = shown_page(shown, page, last=shown.last) | {"sign": bool(handed.signing), "office": estimate.office}
        return render(request, "letters/handed.html", context)


@_in_hands
def home(request: HttpRequest, handed: Handed) -> HttpResponse:
    """The paper to take home, as a file; made in the name of whoever handed the screen over."""
    if not handed.showing or request.method != "POST":
        raise Http404
    estimate = Estimate.objects.select_related("office", "frozen", "checked_by", "case__patient__office").get(
        public_id=handed.public_id
    )
    actor, now = Staff.objects.get(public_id=handed.by), timezone.now()
    try:
        made = to_take_home(estimate, actor=actor, now=now)
    except Refused:
        return _over(request)
    return _file(made, actor, now)


@_in_hands
def letter(_request: HttpRequest, handed: Handed) -> HttpResponse:
    """The file of the letter that may be signed."""
    handing = newest_handing(in_force(_consent(handed)))
    if handing is None:
        raise Http404
    return _file(handing.document, Staff.objects.get(public_id=handed.by), timezone.now())


@_in_hands
def sign(request: HttpRequest, handed: Handed) -> HttpResponse:
    """Read the gist of the letter and sign it; stored once a member of staff has written name and password."""
    now = timezone.now()
    shown = in_force(_consent(handed))
    if shown.state not in UNSIGNED:
        return _over(request)
    page = sign_page(shown, dentists(shown), Staff.objects.get(public_id=handed.by), now, posted(request))
    if request.method != "POST":
        for name, written in request.session.get(DRAFT, {}).items():
            page.form.initial[name] = _first(name, written)
    if page.changed is None and page.form.is_valid():
        said = page.form.said()
        try:
            guard_signing(shown, page.letter.sha256, said, now)
            staff, fault = _who(request)
            if staff is None:
                return _ask(request, page, fault)
            take_back(request, handed, staff=staff, now=now)
            request.session.pop(DRAFT, None)
            made = sign_letter(
                consent=shown, letter_sha256=page.letter.sha256, said=said, clinician=page.form.talked(),
                around=around_of(request, page.form), actor=staff, now=now,
            )  # fmt: skip
        except Refused as refusal:
            page.form.refuse_all(refusal.faults or [(refusal.field, refusal.sentence)])
        else:
            return signed(request, made)
    with translation.override(page.letter.language):
        # Refused after all, it is the page of whoever took the screen back: what was written stands there.
        context = page.context | {"handed": handed_of(request)}
        return render(request, "letters/sign.html", context)


def _file(paper: Document, actor: Staff, now: datetime) -> HttpResponse:
    response = HttpResponse(bytes(paper.content), content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{paper.file_name}"'
    handed_out(document=paper, actor=actor, now=now)
    return response


def _consent(handed: Handed) -> Consent:
    rows = Consent.objects.select_related(
        "office", "estimate__checked_by", "estimate__frozen", "estimate__case", "case__office", "case__patient__office"
    )
    found = rows.filter(public_id=handed.signing).first()
    if found is None:
        raise Http404
    return found


def _first(name: str, written: list[str]) -> object:
    """What staff wrote in one field before handing the page over, as the form begins with it."""
    return written if name == "pieces" else written[-1]


def _who(request: HttpRequest) -> tuple[Staff | None, str]:
    """Who takes the screen back with this very request, by name and password; else nobody, and what was wrong."""
    if PASSWORD not in request.POST:
        return None, ""
    found = authenticate(request, username=request.POST.get(NAME, ""), password=request.POST[PASSWORD])
    if not isinstance(found, Staff):
        return None, _("This name and this password do not belong together. Nothing is signed yet.")
    if found.password_once or not may(found, Act.RUN, Thing.LETTER):
        return None, _("%(name)s may not take part in a signing here.") % {"name": found.full_name}
    return found, ""


def _ask(request: HttpRequest, page: SignPage, fault: str) -> HttpResponse:
    left_out = (NAME, PASSWORD, "csrfmiddlewaretoken")
    sent = [(name, value) for name, values in request.POST.lists() if name not in left_out for value in values]
    with translation.override(page.letter.language):
        rows = [(page.form[field].label, shown_words(page.form[field])) for field in CONFIRMED]
        context = {"sent": sent, "fault": fault, "name": NAME, "password": PASSWORD, "rows": rows}
        return render(request, "letters/handed_again.html", context)


def _over(request: HttpRequest) -> HttpResponse:
    """What was handed over is over: replaced, or signed."""
    return render(request, "letters/handed_over.html")
