"""The page one lands on."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from planner.practice import books
from planner.practice.access import Act, Thing, may
from planner.practice.requests import actor_of


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
