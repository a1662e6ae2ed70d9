"""One's own account: who one is here, password, one-time codes, where this screen stands, and where else one is signed
in."""

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from planner.practice import codes, one_time, screens, services
from planner.practice.again import ask_again
from planner.practice.forms import CodeForm, FirstPasswordForm, PasswordForm
from planner.practice.middleware import FIRST_STEPS, OWN_PASSWORD, SET_UP_CODES, step_done
from planner.practice.models import Staff
from planner.practice.requests import actor_of, posted
from planner.practice.sealing import CannotOpen, seal, unseal
from planner.practice.sign_in_models import Place, SignedIn
from planner.trail.errors import Refused

_NEW_SECRET = "secret-to-set-up"  # noqa: S105 - the name of a key
"""Session key: the secret that is being set up, sealed."""


def account(request: HttpRequest) -> HttpResponse:
    """Who is signed in, with which roles, and how."""
    staff = actor_of(request)
    here: SignedIn = request.signed_in  # type: ignore[attr-defined]
    context = {
        "staff": staff,
        "here": here,
        "limit": int(screens.limit_of(here).total_seconds()) // 60,
        "others": SignedIn.objects.filter(staff=staff).exclude(pk=here.pk),
        "secret": codes.secret_of(staff),
        "left": codes.recovery_left(staff),
        "must": codes.must_have(staff),
    }
    return render(request, "practice/account.html", context)


def password(request: HttpRequest) -> HttpResponse:
    """Choose a password of one's own."""
    staff = actor_of(request)
    once = OWN_PASSWORD in request.session.get(FIRST_STEPS, [])
    form = (FirstPasswordForm if once else PasswordForm)(posted(request))
    if form.is_valid():
        if not once and not staff.check_password(form.cleaned_data["current"]):
            form.add_error("current", _("This is not the password in use: write the one you signed in with."))
        elif not _set_password(request, staff, form):
            step_done(request, OWN_PASSWORD)
            update_session_auth_hash(request, staff)
            messages.success(request, _("Your new password holds from now on. Other screens are signed out."))
            return redirect("practice:account")
    return render(request, "registration/password.html", {"form": form, "once": once})


def _set_password(request: HttpRequest, staff: Staff, form: FirstPasswordForm) -> str:
    here: SignedIn = request.signed_in  # type: ignore[attr-defined]
    try:
        services.set_password(
            staff=staff, password=form.cleaned_data["password"], actor=staff, now=timezone.now(), but=here.public_id
        )
    except Refused as refusal:
        form.refuse("password", refusal.sentence)
        return refusal.sentence
    return ""


def codes_page(request: HttpRequest) -> HttpResponse:
    """One-time codes: set them up, on another telephone too, get a new sheet of recovery codes, or give them up."""
    staff = actor_of(request)
    wanted = SET_UP_CODES in request.session.get(FIRST_STEPS, [])
    action = request.POST.get("action", "")
    if action in ("begin", "sheet", "give up") and (asks := ask_again(request, back=request.path)):
        return asks
    if action == "sheet":
        return _shown_once(request, codes.new_sheet(staff=staff, now=timezone.now()))
    if action == "give up":
        codes.give_up(staff=staff, now=timezone.now())
        messages.success(request, _("You sign in without one-time codes from now on."))
        return redirect("practice:account")
    if action == "begin" or (wanted and _NEW_SECRET not in request.session):
        request.session[_NEW_SECRET] = seal(one_time.new_secret())
    if _NEW_SECRET in request.session:
        return _setting_up(request, staff)
    context = {"secret": codes.secret_of(staff), "left": codes.recovery_left(staff), "must": codes.must_have(staff)}
    return render(request, "practice/codes.html", context)


def _setting_up(request: HttpRequest, staff: Staff) -> HttpResponse:
    here: SignedIn = request.signed_in  # type: ignore[attr-defined]
    try:
        secret = unseal(request.session[_NEW_SECRET])
    except CannotOpen:
        del request.session[_NEW_SECRET]
        return redirect("practice:codes")
    form = CodeForm(request.POST if request.POST.get("action") == "try" else None)
    if form.is_valid():
        try:
            typed, now = form.cleaned_data["code"], timezone.now()
            shown = codes.set_up(staff=staff, secret=secret, typed=typed, now=now, but=here.public_id)
        except Refused as refusal:
            form.refuse(refusal.field, refusal.sentence)
        else:
            del request.session[_NEW_SECRET]
            step_done(request, SET_UP_CODES)
            return _shown_once(request, shown)
    address = one_time.setting_up(secret, name=staff.username, office=staff.office.name)
    drawn = one_time.picture(address, _("A code to scan with the app. The same secret stands beside it in letters."))
    context = {"form": form, "drawn": drawn, "written": one_time.in_groups(secret), "must": codes.must_have(staff)}
    return render(request, "practice/codes_set_up.html", context)


def _shown_once(request: HttpRequest, sheet: tuple[str, ...]) -> HttpResponse:
    return render(request, "practice/codes_sheet.html", {"sheet": sheet, "staff": actor_of(request)})


@require_POST
def place(request: HttpRequest) -> HttpResponse:
    """This screen stands at the desk, or at the chair."""
    here: SignedIn = request.signed_in  # type: ignore[attr-defined]
    said = request.POST.get("place", "")
    response = redirect("practice:account")
    if said in Place.values:
        screens.move(response, here, Place(said))
        messages.success(request, _("This screen stands %(where)s from now on.") % {"where": Place(said).label})
    return response


@require_POST
def end_others(request: HttpRequest) -> HttpResponse:
    """Sign out everywhere but here."""
    here: SignedIn = request.signed_in  # type: ignore[attr-defined]
    services.end_other_sign_ins(staff=actor_of(request), here=here.public_id, now=timezone.now())
    messages.success(request, _("You are signed out everywhere but here."))
    return redirect("practice:account")
