"""What every answer of the program carries, whichever view gave it."""

from collections.abc import Callable
from contextlib import suppress
from ipaddress import ip_address

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse

GetResponse = Callable[[HttpRequest], HttpResponse]

_DEVICES = (
    "accelerometer", "autoplay", "camera", "display-capture", "encrypted-media", "geolocation", "gyroscope", "hid",
    "magnetometer", "microphone", "midi", "payment", "serial", "usb", "xr-spatial-tracking",
)  # fmt: skip
PERMISSIONS = ", ".join(f"{device}=()" for device in _DEVICES)
"""No page asks for a device or a sensor: a picture is chosen as a file."""


def own_house_only(get_response: GetResponse) -> GetResponse:
    """Close what no page uses, and let no other site load anything from here; also what is served as a file."""

    def answer(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        response["Permissions-Policy"] = PERMISSIONS
        response["Cross-Origin-Resource-Policy"] = "same-origin"
        return response

    return answer


def address_of_the_sender(get_response: GetResponse) -> GetResponse:
    """Behind a proxy, take the address it saw for the sender's: misses are counted by name and address.

    Only the last entry of ``X-Forwarded-For`` is the proxy's own word; whatever stands before it, anybody may write.
    """

    def answer(request: HttpRequest) -> HttpResponse:
        if settings.BEHIND_PROXY:
            seen = request.headers.get("X-Forwarded-For", "").rpartition(",")[2].strip()
            with suppress(ValueError):  # nothing readable was said: it stays the proxy's
                request.META["REMOTE_ADDR"] = str(ip_address(seen))
        return get_response(request)

    return answer


def what_can_be_meant(get_response: GetResponse) -> GetResponse:
    """Refuse what cannot be meant: an address with a NUL, and a body larger than any form, before a byte is read."""

    def answer(request: HttpRequest) -> HttpResponse:
        if "\0" in request.path_info or "%00" in request.META.get("QUERY_STRING", ""):
            return render(request, "400.html", status=400)  # no text of ours has it, and PostgreSQL takes none that has
        length = request.META.get("CONTENT_LENGTH") or "0"
        if not (length.isascii() and length.isdecimal()) or int(length) > settings.MOST_BODY_BYTES:
            return render(request, "413.html", {"most": settings.MOST_BODY_BYTES // 1024 // 1024}, status=413)
        return get_response(request)

    return answer


def no_store(get_response: GetResponse) -> GetResponse:
    """Tell browser and proxies to keep no copy of any page (static files are answered before this is reached).

    A page left in a browser's memory would show a patient to the next person at the desk (OWASP ASVS 5.0, V14.3.2).
    At signing out, the browser is told to drop what it still holds of the pages before (V14.3.1).
    """

    def answer(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        response["Cache-Control"] = "no-store"
        if request.method == "POST" and response.status_code == 302 and request.path == reverse("practice:sign_out"):
            response["Clear-Site-Data"] = '"cache", "storage"'
        return response

    return answer


def whole_page_sign_in(get_response: GetResponse) -> GetResponse:
    """When a session has ended, lead the whole page to signing in, never the part of it that was being fetched."""

    def answer(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        led = response.headers.get("Location", "")
        if request.headers.get("HX-Request") and response.status_code == 302 and led.startswith(settings.LOGIN_URL):
            del response["Location"]
            response.status_code = 200
            response["HX-Redirect"] = led
        return response

    return answer
