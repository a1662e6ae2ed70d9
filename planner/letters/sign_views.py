"""Pages on which a consent is signed on the office's tablet, countersigned by the dentist, and taken back."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone, translation
from django.utils.translation import gettext as _

from planner.letters.access import load_consent
from planner.letters.consent_models import Consent, Signature
from planner.letters.consent_shown import UNSIGNED, signature_of
from planner.letters.consent_signing import Around, countersign, guard_signing, licence_of, nothing_to_sign, sign_letter
from planner.letters.consent_views import act_page, dentists
from planner.letters.sign_forms import CountersignForm, SignForm, WithdrawForm
from planner.letters.sign_shown import in_force, items_to_take_back, sign_page
from planner.letters.withdrawing import withdraw_consent
from planner.practice.access import Act, Thing, require
from planner.practice.again import ask_again
from planner.practice.before import done_by
from planner.practice.requests import actor_of, posted
from planner.trail.errors import Refused


def sign(request: HttpRequest, public_id: str) -> HttpResponse:
    """Sign the letter that is in force; whoever opened an older one is told what has changed."""
    actor, now = actor_of(request), timezone.now()
    opened = load_consent(actor=actor, public_id=public_id, act=Act.RUN, now=now)
    shown = in_force(opened)
    if shown.state not in UNSIGNED:
        messages.info(request, not_to_be_signed(shown))
        return redirect("letters:consent", shown.public_id)
    page = sign_page(shown, dentists(shown), actor, now, posted(request))
    if page.changed is None and page.form.is_valid():
        said = page.form.said()
        try:
            guard_signing(shown, page.letter.sha256, said, now)
            if asks := ask_again(request, lead=_lead(shown), back=reverse("letters:sign", args=[shown.public_id])):
                return asks
            made = sign_letter(
                consent=shown, letter_sha256=page.letter.sha256, said=said, clinician=page.form.talked(),
                around=around_of(request, page.form), actor=actor, now=now,
            )  # fmt: skip
        except Refused as refusal:
            page.form.refuse_all(refusal.faults or [(refusal.field, refusal.sentence)])
        else:
            return signed(request, made)
    with translation.override(page.letter.language):
        return render(request, "letters/sign.html", page.context)


def confirm(request: HttpRequest, public_id: str) -> HttpResponse:
    """The dentist who held the talk countersigns, with the own password."""
    actor, now = actor_of(request), timezone.now()
    shown = load_consent(actor=actor, public_id=public_id, act=Act.APPROVE, now=now)
    signature = signature_of(shown)
    form = CountersignForm(posted(request), initial={"licence": licence_of(actor)})
    if signature is None:
        messages.info(request, _("Nothing is signed yet."))
        return redirect("letters:consent", public_id)
    if form.is_valid() and (asks := ask_again(request, lead=_("Countersign what was signed."))):
        return asks

    def save(data: dict[str, Any]) -> object:
        return countersign(signature=signature, licence=data["licence"], actor=actor, now=now)

    lead = _("%(who)s signed on %(day)s: %(choice)s.") % {
        "who": signature.signer, "day": signature.signed_on.isoformat(), "choice": signature.choice
    }  # fmt: skip
    return act_page(request, shown, form, save, _("Countersign"), _("It is countersigned."), lead=lead)


def withdraw(request: HttpRequest, public_id: str) -> HttpResponse:
    """Write down at once that a consent is taken back: anybody on staff, no reason asked, no second question."""
    actor, now = actor_of(request), timezone.now()
    shown = load_consent(actor=actor, public_id=public_id, now=now)
    require(actor, Act.CREATE, Thing.WITHDRAWAL, subject=shown)
    items = {item.public_id: (item, words) for item, words in items_to_take_back(shown)}
    form = WithdrawForm(
        posted(request), office=shown.office, now=now, initial={"said_by": shown.case.patient.name},
        items=[(key, words) for key, (_item, words) in items.items()],
    )  # fmt: skip

    def save(data: dict[str, Any]) -> object:
        chosen = [items[key][0] for key in data.get("items", ())]
        told = {name: data[name] for name in ("words", "said_by", "how", "explained")}
        return withdraw_consent(consent=shown, items=chosen, said_at=data["moment"], actor=actor, now=now, **told)

    about = _("What it covers stands still at once: none of it is booked or done. Care goes on as before.")
    return act_page(request, shown, form, save, _("Take the consent back"), _("It is taken back."), about=about)


def not_to_be_signed(shown: Consent) -> str:
    """Why nothing is signed any more, and, where somebody signed before, who did and what they said."""
    said = nothing_to_sign(shown)
    signature = signature_of(shown)
    if signature is None:
        return said
    noted = done_by(_("recorded"), signature.by, signature.at, shown.office)
    words = _("%(who)s signed: %(choice)s; %(noted)s.")
    return f"{said} {words % {'who': signature.signer, 'choice': signature.choice, 'noted': noted}}"


def around_of(request: HttpRequest, form: SignForm) -> Around:
    """What is known about the signing beside what was stated."""
    return Around(
        device=request.META.get("HTTP_USER_AGENT", "")[:300],
        address=request.META.get("REMOTE_ADDR", ""),
        read=form.read_so_far(),
        electronic_agreed=form.cleaned_data["electronic"],
        said_again=True,
    )


def _lead(shown: Consent) -> str:
    return _("Sign the letter of %(name)s.") % {"name": shown.case.patient.name}


def signed(request: HttpRequest, made: Signature) -> HttpResponse:
    if hasattr(made, "countersignature"):
        messages.success(request, _("It is signed and countersigned. Hand the copy over."))
    else:
        messages.success(
            request,
            _("It is signed. %(name)s countersigns it; hand the copy over.") % {"name": made.clinician.full_name},
        )
    return redirect("letters:consent", made.consent.public_id)
