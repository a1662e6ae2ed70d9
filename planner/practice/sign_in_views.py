"""Signing in: name and password, then a one-time code where one is set up; and the screen that was left for a while."""

from datetime import datetime, timedelta
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.decorators import method_decorator
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from planner.practice import codes, screens, services
from planner.practice.again import FIELD, password_fault
from planner.practice.backends import StaffBackend
from planner.practice.entering import ONWARD, let_in
from planner.practice.forms import CodeForm, SignInForm
from planner.practice.handed import handed_of, take_back
from planner.practice.middleware import FIRST_STEPS, SHOW_CODE, step_done
from planner.practice.models import Office, Staff
from planner.practice.requests import actor_of, posted
from planner.practice.screen_middleware import ACT
from planner.practice.sign_in_models import SignedIn
from planner.practice.tries import count_miss, forget_misses, may_try
from planner.trail.errors import Refused
from planner.trail.services import record_refusal

_HALF = "half-way-in"
"""Session key: whose name and password were right, and who has yet to show a code."""
_HALF_WAY = timedelta(minutes=10)


@method_decorator(login_not_required, name="dispatch")
class SignIn(LoginView):
    """Name and password; before there is an office, the way to opening one."""

    template_name = "registration/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def get(self, request: HttpRequest, *args: object, **kwargs: object) -> HttpResponse:
        """The form."""
        if not Office.objects.exists():
            return redirect("practice:begin")
        return super().get(request, *args, **kwargs)

    def get_form(self, form_class: type[AuthenticationForm] | None = None) -> AuthenticationForm:
        """The form; on a screen in a patient's hands no browser is to fill it in by itself."""
        form = super().get_form(form_class)
        if handed_of(self.request) is not None:
            form.fields["username"].widget.attrs["autocomplete"] = "off"
            form.fields["password"].widget.attrs["autocomplete"] = "new-password"
        return form

    def get_context_data(self, **kwargs: object) -> dict[str, object]:
        """Says where a screen is taken back that was handed over."""
        return super().get_context_data(**kwargs) | {"handed": handed_of(self.request)}

    def form_valid(self, form: AuthenticationForm) -> HttpResponse:
        """Let the person in, or on to the page that asks for a code. A password for one sign-in is used up by it.

        A screen that is in a patient's hands is taken back by it.
        """
        staff, onward = form.get_user(), self.get_success_url()
        assert isinstance(staff, Staff)  # by the backend
        if staff.password_once and not services.use_once(staff):
            form.add_error(None, form.get_invalid_login_error())
            return self.form_invalid(form)
        if (handed := handed_of(self.request)) is not None:
            try:
                take_back(self.request, handed, staff=staff, now=timezone.now())
            except Refused as refusal:
                form.add_error(None, refusal.sentence)
                return self.form_invalid(form)
            return redirect(handed.back)
        if codes.secret_of(staff) is None:
            let_in(self.request, staff)
            return redirect(onward)
        half = {"staff": staff.pk, "hash": staff.get_session_auth_hash(), "at": timezone.now().isoformat()}
        self.request.session[_HALF] = half | {"next": onward}
        self.request.session.cycle_key()
        return redirect("practice:sign_in_code")


@login_not_required
def sign_in_code(request: HttpRequest) -> HttpResponse:
    """Ask whoever's password was right for the code of now, or one from the sheet."""
    now = timezone.now()
    staff = _who(request, now)
    if staff is None:
        request.session.pop(_HALF, None)
        return redirect("practice:home")
    form, status = CodeForm(posted(request)), 200
    if form.is_valid():
        what = f"code {staff.pk}"
        if not may_try(request, what):
            form.refuse("code", _("Too many wrong codes from here: wait a quarter of an hour, then try again."))
            status = 429
        elif beside := codes.check(staff=staff, typed=form.cleaned_data["code"], now=now):
            forget_misses(what)
            return redirect(_go_in(request, staff, beside))
        else:
            count_miss(request, what)
            record_refusal(
                actor=None,
                act="session.code",
                subject=staff,
                content={"username": staff.username},
                reason="the one-time code was wrong, or was used already",
                at=now,
                office_id=staff.office_id,
            )
            form.refuse("code", str(CodeForm.wrong))
    return render(request, "registration/code.html", {"form": form, "staff": staff}, status=status)


def _who(request: HttpRequest, now: datetime) -> Staff | None:
    """Who is asked for a code: whose password was right a short while ago and still is, or who took a screen back."""
    if isinstance(request.user, Staff):
        return request.user if SHOW_CODE in request.session.get(FIRST_STEPS, []) else None
    half: dict[str, Any] = request.session.get(_HALF, {})
    if not half or now - datetime.fromisoformat(half["at"]) >= _HALF_WAY:
        return None
    staff = StaffBackend().get_user(half["staff"])
    return staff if staff is not None and staff.get_session_auth_hash() == half["hash"] else None


def _go_in(request: HttpRequest, staff: Staff, beside: str) -> str:
    """Let ``staff`` in who showed a code; returns where to."""
    if isinstance(request.user, Staff):
        step_done(request, SHOW_CODE)
        return str(request.session.pop(ONWARD, "") or "/")
    onward = request.session.pop(_HALF)["next"]
    let_in(request, staff, beside=beside)
    return str(onward)


@require_POST
def screen(request: HttpRequest) -> HttpResponse:
    """What the page tells of its screen, and whether it may go on showing: somebody is there, nobody is, or here is the
    password. Answers ``{"open": true}`` or ``{"open": false, "fault": "..."}``."""
    staff, now = actor_of(request), timezone.now()
    row: SignedIn = request.signed_in  # type: ignore[attr-defined]
    fault, act = "", request.POST.get("action", "")
    if act == "unlock":
        fault, _status = password_fault(request, staff, request.POST.get(FIELD, ""), act=ACT)
        if not fault:
            screens.wake(row, now)
    elif act == "blank":
        screens.blank(row)
    elif act == "awake":
        screens.seen(row, now)
    is_open = not fault and not screens.is_blank(row, now)
    return JsonResponse({"open": is_open, "fault": fault})
