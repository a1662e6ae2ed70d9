"""Who is signed in on which screen: how long at most, and when a screen that was left goes blank.

Each sign-in is a row. The browser's cookie leads to a session, the session names the row, and without the row nobody is
signed in: taking rows away signs out at once, on every screen, whoever asks for it. Limits are measured here and not in
the browser; the page only helps (``static/js/screen.js``).
"""

from datetime import datetime, timedelta

from django.conf import settings
from django.http import HttpRequest, HttpResponse

from planner.practice.models import Staff
from planner.practice.sign_in_models import Place, SignedIn

KEY = "signed-in"
"""Session key: the public id of the row."""
PLACE_COOKIE_AGE = 365 * 24 * 3600
_NOTED_EVERY = timedelta(seconds=10)
"""So often at most is written down that somebody is there: a page a second is no write a second."""


def begin(request: HttpRequest, staff: Staff, now: datetime) -> SignedIn:
    """Note that ``staff`` is signed in on the screen that ``request`` comes from."""
    row = SignedIn.objects.create(
        staff=staff,
        begun_at=now,
        seen_at=now,
        place=place_of(request),
        browser=request.META.get("HTTP_USER_AGENT", "")[:200],
        address=str(request.META.get("REMOTE_ADDR") or "")[:45],
    )
    request.session[KEY] = row.public_id
    SignedIn.objects.filter(staff=staff, begun_at__lt=now - longest()).delete()
    return row


def of(request: HttpRequest, staff: Staff, now: datetime) -> SignedIn | None:
    """The sign-in that ``request`` belongs to; None when it was ended, or has lasted as long as it may."""
    row = SignedIn.objects.filter(public_id=request.session.get(KEY, ""), staff=staff).first()
    return None if row is None or now - row.begun_at >= longest() else row


def longest() -> timedelta:
    """How long a sign-in lasts at most, whatever is done in it."""
    return timedelta(seconds=settings.SESSION_COOKIE_AGE)


def limit_of(row: SignedIn) -> timedelta:
    """How long the screen may be left before it goes blank."""
    return timedelta(minutes=settings.CHAIR_MINUTES if row.place == Place.CHAIR else settings.DESK_MINUTES)


def is_blank(row: SignedIn, now: datetime) -> bool:
    """Whether the screen was left for too long, or somebody had it go blank."""
    return row.blank or now - row.seen_at >= limit_of(row)


def seen(row: SignedIn, now: datetime) -> None:
    """Somebody is at the screen. Nothing happens to one that is blank."""
    if not is_blank(row, now) and now - row.seen_at >= _NOTED_EVERY:
        SignedIn.objects.filter(pk=row.pk, blank=False).update(seen_at=now)


def blank(row: SignedIn) -> None:
    """Show nothing on this screen until the password is said again."""
    SignedIn.objects.filter(pk=row.pk).update(blank=True)
    row.blank = True


def wake(row: SignedIn, now: datetime) -> None:
    """Show the screen again; the caller has asked for the password."""
    SignedIn.objects.filter(pk=row.pk).update(blank=False, seen_at=now)
    row.blank, row.seen_at = False, now


def end(row: SignedIn) -> None:
    """End one sign-in."""
    SignedIn.objects.filter(pk=row.pk).delete()


def end_sign_ins(staff: Staff, *, but: str = "") -> int:
    """Sign ``staff`` out on every screen, except the sign-in with the public id ``but``; returns how many ended."""
    return SignedIn.objects.filter(staff=staff).exclude(public_id=but).delete()[0]


def place_of(request: HttpRequest) -> Place:
    """Where this screen stands, as somebody once said on it; at the desk until then, which goes blank sooner."""
    said = request.get_signed_cookie(settings.PLACE_COOKIE_NAME, default="", salt=__name__)
    return Place(said) if said in Place.values else Place.DESK


def move(response: HttpResponse, row: SignedIn, place: Place) -> None:
    """The screen stands there from now on, whoever signs in on it."""
    SignedIn.objects.filter(pk=row.pk).update(place=place)
    response.set_signed_cookie(
        settings.PLACE_COOKIE_NAME,
        place.value,
        salt=__name__,
        max_age=PLACE_COOKIE_AGE,
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Lax",
    )
