"""What every answer of the program carries, whichever view gave it."""

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse


def no_store(get_response: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    """Tell browser and proxies to keep no copy of any page (static files are answered before this is reached).

    A page left in a browser's memory would show a patient to the next person at the desk (OWASP ASVS 5.0, V14.3.2).
    """

    def answer(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        response["Cache-Control"] = "no-store"
        return response

    return answer


def whole_page_sign_in(get_response: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
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
