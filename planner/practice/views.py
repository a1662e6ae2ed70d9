"""The first pages: signing in and out, one's own account, and the page one lands on."""

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.decorators import method_decorator
from django.utils.translation import gettext as _

from planner.practice import books, services
from planner.practice.access import Act, Thing, may
from planner.practice.forms import PasswordForm, SignInForm
from planner.practice.handed import handed_of, take_back
from planner.practice.middleware import PASSWORD_ONCE
from planner.practice.models import Office, Staff
from planner.practice.requests import actor_of
from planner.trail.errors import Refused


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
        """Let the person in; a one-time password leads to choosing their own.

        A screen that is in a patient's hands is taken back by it.
        """
        staff, handed = form.get_user(), handed_of(self.request)
        if isinstance(staff, Staff) and handed is not None:
            try:
                take_back(self.request, handed, staff=staff, now=timezone.now())
            except Refused as refusal:
                form.add_error(None, refusal.sentence)
                return self.form_invalid(form)
            answer: HttpResponse = redirect(handed.back)
        else:
            answer = super().form_valid(form)
        if isinstance(staff, Staff) and staff.password_once:
            self.request.session[PASSWORD_ONCE] = True
        return answer


def home(request: HttpRequest) -> HttpResponse:
    """Where one lands: what one may do here."""
    staff = actor_of(request)
    may_see = {
        "patients": may(staff, Act.VIEW, Thing.IDENTITY),
        "new_patient": may(staff, Act.CREATE, Thing.IDENTITY),
        "book": may(staff, Act.VIEW, Thing.BOOK),
        "edit_book": may(staff, Act.EDIT, Thing.BOOK),
        "staff": may(staff, Act.VIEW, Thing.STAFF),
        "records": may(staff, Act.VIEW, Thing.RECORDS),
        "trail": may(staff, Act.VIEW, Thing.TRAIL),
        "emergency": may(staff, Act.RUN, Thing.EMERGENCY),
    }
    day = books.today(staff.office, timezone.now())
    prices = books.current_book(staff.office, day).price_list_on(day) if may_see["book"] else None
    return render(request, "practice/home.html", {"may": may_see, "day": day, "prices": prices})


def account(request: HttpRequest) -> HttpResponse:
    """Who is signed in, with which roles."""
    return render(request, "practice/account.html", {"staff": actor_of(request)})


def password(request: HttpRequest) -> HttpResponse:
    """Choose a password of one's own."""
    staff = actor_of(request)
    form = PasswordForm(request.POST or None)
    if form.is_valid():
        if not staff.check_password(form.cleaned_data["current"]):
            form.add_error("current", _("This is not the password in use: write the one you signed in with."))
        else:
            try:
                services.set_password(
                    staff=staff, password=form.cleaned_data["password"], actor=staff, now=timezone.now()
                )
            except Refused as refusal:
                form.refuse("password", refusal.sentence)
            else:
                request.session.pop(PASSWORD_ONCE, None)
                update_session_auth_hash(request, staff)
                messages.success(request, _("Your new password holds from now on. Other screens are signed out."))
                return redirect("practice:account")
    context = {"form": form, "once": bool(request.session.get(PASSWORD_ONCE))}
    return render(request, "registration/password.html", context)
