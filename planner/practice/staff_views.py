"""Pages about the people of the office: who they are, their roles, and getting them in or out."""

from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from planner.practice import codes, opening, services
from planner.practice.access import Act, Thing, load, may, require
from planner.practice.acting import last_words
from planner.practice.again import ask_again
from planner.practice.both import lay_side_by_side
from planner.practice.forms import PersonForm, ReasonForm, RolesForm
from planner.practice.models import Staff
from planner.practice.requests import actor_of
from planner.practice.roles import Role
from planner.trail.errors import Refused, StaleEdit


def staff_list(request: HttpRequest) -> HttpResponse:
    """Everybody who works in the office, with roles."""
    actor = actor_of(request)
    require(actor, Act.VIEW, Thing.STAFF)
    people = Staff.objects.filter(office=actor.office).prefetch_related("role_rows").order_by("full_name", "id")
    context = {"people": people, "may_add": may(actor, Act.CREATE, Thing.STAFF)}
    return render(request, "practice/staff.html", context)


def staff_add(request: HttpRequest) -> HttpResponse:
    """Add somebody, with a one-time password that is shown once."""
    actor = actor_of(request)
    require(actor, Act.CREATE, Thing.STAFF)
    form = PersonForm(request.POST or None, initial={"language": actor.language})
    if form.is_valid():
        data = form.cleaned_data
        once = opening.new_password()
        try:
            added = services.add_staff(
                username=data["username"],
                full_name=data["full_name"],
                password=once,
                roles=[Role(role) for role in data["roles"]],
                language=data["language"],
                access_until=data["access_until"],
                once=True,
                actor=actor,
                now=timezone.now(),
            )
        except Refused as refusal:
            form.refuse(refusal.field, refusal.sentence)
        else:
            return _show_once(request, (opening.GivenPassword(added, once),))
    return render(request, "practice/staff_add.html", {"form": form})


def person(request: HttpRequest, public_id: str) -> HttpResponse:
    """One person: roles, and what may be done about them."""
    actor = actor_of(request)
    staff = _load(actor, public_id, Act.VIEW)
    allowed = may(actor, Act.CREATE, Thing.STAFF) and staff.pk != actor.pk
    context = {
        "staff": staff,
        "allowed": allowed,
        "form": RolesForm(
            initial={"roles": list(staff.roles), "access_until": staff.access_until, "seen": staff.version}
        ),
        "ending": ReasonForm(prefix="end", initial={"seen": staff.version}),
        "codes": codes.secret_of(staff) if allowed else None,
        "minutes": settings.RESET_MINUTES,
    }
    return render(request, "practice/person.html", context)


def person_roles(request: HttpRequest, public_id: str) -> HttpResponse:
    """Give somebody other roles."""
    actor = actor_of(request)
    staff = _load(actor, public_id, Act.CREATE)
    form = RolesForm(request.POST or None)

    def act() -> str:
        data = form.cleaned_data
        services.change_roles(
            staff=staff,
            seen=data["seen"],
            roles=[Role(role) for role in data["roles"]],
            access_until=data["access_until"],
            reason=data["reason"],
            actor=actor,
            now=timezone.now(),
        )
        return _("The roles of %(name)s are changed.") % {"name": staff.full_name}

    return _about(request, staff, form, ReasonForm(prefix="end", initial={"seen": staff.version}), form, act)


def person_end(request: HttpRequest, public_id: str) -> HttpResponse:
    """Shut somebody out at once."""
    actor = actor_of(request)
    staff = _load(actor, public_id, Act.CREATE)
    ending = ReasonForm(request.POST or None, prefix="end")

    def act() -> str:
        data = ending.cleaned_data
        services.end_access(staff=staff, seen=data["seen"], reason=data["reason"], actor=actor, now=timezone.now())
        return _("The access of %(name)s has ended.") % {"name": staff.full_name}

    roles = RolesForm(initial={"roles": list(staff.roles), "access_until": staff.access_until, "seen": staff.version})
    return _about(request, staff, roles, ending, ending, act)


def person_password(request: HttpRequest, public_id: str) -> HttpResponse:
    """Give somebody a one-time password, shown once."""
    actor = actor_of(request)
    staff = _load(actor, public_id, Act.CREATE)
    if request.method != "POST":
        return redirect("practice:person", public_id)
    lead = _("%(name)s is signed out everywhere and gets in once with what is made now.") % {"name": staff.full_name}
    if asks := ask_again(request, lead=lead, back=reverse("practice:person", args=[public_id])):
        return asks
    try:
        return _show_once(request, (opening.give_password(staff=staff, actor=actor, now=timezone.now()),))
    except Refused as refusal:
        messages.error(request, refusal.sentence)
        return redirect("practice:person", public_id)


def person_codes(request: HttpRequest, public_id: str) -> HttpResponse:
    """Begin somebody's one-time codes anew, whose telephone and recovery codes are gone."""
    actor = actor_of(request)
    staff = _load(actor, public_id, Act.CREATE)
    if request.method != "POST":
        return redirect("practice:person", public_id)
    lead = _("The one-time codes of %(name)s begin anew.") % {"name": staff.full_name}
    if asks := ask_again(request, lead=lead, back=reverse("practice:person", args=[public_id])):
        return asks
    try:
        given = {name: request.POST.get(name, "") for name in ("reason", "since")}
        codes.begin_anew(staff=staff, actor=actor, now=timezone.now(), **given)
    except Refused as refusal:
        messages.error(request, f"{refusal.sentence} {last_words(staff)}")
    else:
        messages.success(request, _("%(name)s sets up new codes at the next sign-in.") % {"name": staff.full_name})
    return redirect("practice:person", public_id)


def _load(actor: Staff, public_id: str, act: Act) -> Staff:
    rows = Staff.objects.select_related("office").prefetch_related("role_rows")
    return load(rows, public_id, actor=actor, act=act, thing=Thing.STAFF, now=timezone.now())


def _about(
    request: HttpRequest,
    staff: Staff,
    form: RolesForm,
    ending: ReasonForm,
    sent: RolesForm | ReasonForm,
    act: Callable[[], str],
) -> HttpResponse:
    both: dict[str, Any] = {}
    if sent.is_valid():
        try:
            messages.success(request, act())
        except StaleEdit as refusal:
            both = lay_side_by_side(sent, _theirs(staff, sent), refusal)
        except Refused as refusal:
            sent.refuse(refusal.field, refusal.sentence)
        else:
            return redirect("practice:person", staff.public_id)
    context = {"staff": staff, "allowed": True, "form": form, "ending": ending, "sent": sent}
    context |= {"codes": codes.secret_of(staff), "minutes": settings.RESET_MINUTES} | both
    return render(request, "practice/person.html", context)


def _theirs(staff: Staff, sent: RolesForm | ReasonForm) -> RolesForm | ReasonForm:
    """What is saved now, as the form that was sent would show it; the reason is of each by itself."""
    if isinstance(sent, ReasonForm):
        return ReasonForm(prefix="end", initial={"reason": sent["reason"].value()})
    now = Staff.objects.prefetch_related("role_rows").get(pk=staff.pk)
    held = {"roles": [role for role in Role if role in now.roles], "access_until": now.access_until}
    return RolesForm(initial=held | {"reason": sent["reason"].value()})


def _show_once(request: HttpRequest, given: tuple[opening.GivenPassword, ...]) -> HttpResponse:
    return render(request, "practice/password_once.html", {"given": given})
