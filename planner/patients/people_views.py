"""Pages on which a file of people is sent, looked at, and taken."""

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext

from planner.patients import people_files
from planner.patients.models import PeopleFile
from planner.practice.access import Act, Thing, load, require
from planner.practice.acting import act_on
from planner.practice.fields import PlainForm
from planner.practice.requests import actor_of


class PeopleForm(PlainForm):
    """A file of people."""

    file = forms.FileField(
        label=_("File"),
        help_text=_("CSV in UTF-8, or XLSX; 5 MB and 2,000 people at most."),
        error_messages={"empty": _("The file is empty.")},
    )


def send(request: HttpRequest) -> HttpResponse:
    """Send a file; it is kept to be looked at and nobody is taken yet."""
    actor, now = actor_of(request), timezone.now()
    require(actor, Act.CREATE, Thing.IDENTITY)
    form = PeopleForm(request.POST or None, request.FILES or None)
    outcome = act_on(form, lambda data: people_files.keep_people(content=data["file"].read(), actor=actor, now=now))
    if outcome.done:
        return redirect("patients:people_file", outcome.made.public_id)
    context = {"form": form, "columns": people_files.COLUMNS, "needed": people_files.NEEDED}
    return render(request, "patients/people.html", context)


def take(request: HttpRequest, public_id: str) -> HttpResponse:
    """What a file would bring, line by line; and then everybody in it, or nobody."""
    actor, now = actor_of(request), timezone.now()
    rows = PeopleFile.objects.select_related("office", "sent_by")
    file = load(rows, public_id, actor=actor, act=Act.CREATE, thing=Thing.IDENTITY, now=now)
    form = PlainForm(request.POST or None)
    if request.method == "POST":
        digest = request.POST.get("sha256", "")
        form = PlainForm(request.POST)
        outcome = act_on(
            form, lambda data: people_files.take_people(file=file, seen_sha256=digest, actor=actor, now=now)
        )
        if outcome.done:
            count = len(outcome.made)
            said = ngettext("%(n)s person has a file now.", "%(n)s people have files now.", count) % {"n": count}
            messages.success(request, said)
            return redirect("patients:list")
    context = {"file": file, "form": form, "seen": people_files.look(file, now)}
    return render(request, "patients/people_file.html", context)
