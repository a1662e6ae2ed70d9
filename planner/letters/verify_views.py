"""The page to which a paper's code leads: anybody may look, nobody is named, and what is sent is hashed and let go."""

from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.csrf import csrf_exempt, csrf_protect
from django.views.decorators.http import require_http_methods

from planner.letters.known import LARGEST, HashedUpload, note_check, paper_with, papers_of, plain_number
from planner.practice.tries import count_miss, may_try

_WHAT = "verify"
_ROOM_FOR_THE_FORM = 64 * 1024
"""Bytes of a sent form beside its file."""


@login_not_required
@csrf_exempt  # what is sent is read by a handler of its own first; the next step is protected
@require_http_methods(["GET", "HEAD", "POST"])
def verify(request: HttpRequest, number: str = "") -> HttpResponse:
    """Papers made from the data with this hash, and whether a file that is sent is one of them."""
    if not may_try(request, _WHAT):
        return render(request, "letters/verify_rests.html", status=429)
    if request.method != "POST":
        return _looked_up(request, number)
    if int(request.META.get("CONTENT_LENGTH") or 0) > LARGEST + _ROOM_FOR_THE_FORM:
        return _page(request, number, fault=_too_large(), status=413)
    upload = HashedUpload(request)
    request.upload_handlers = [upload]
    return _compared(request, number, upload)


def _looked_up(request: HttpRequest, number: str) -> HttpResponse:
    if not number and (typed := request.GET.get("number", "")):
        found = plain_number(typed)
        return redirect("verify_number", found) if found else _page(request, "", typed=typed, fault=_no_number(typed))
    if not number:
        return _page(request, "")
    if not plain_number(number):
        return _page(request, "", typed=number, fault=_no_number(number))
    papers = papers_of(plain_number(number))
    if request.method == "GET":
        note_check(papers, timezone.now())
        if not papers:
            count_miss(request, _WHAT)
    return _page(request, plain_number(number), papers=papers)


@csrf_protect
def _compared(request: HttpRequest, number: str, upload: HashedUpload) -> HttpResponse:
    number = plain_number(number)
    papers = papers_of(number) if number else ()
    len(request.POST)  # reading the form is what hashes the file, should looking for the token not have done it
    if not upload.sha256:
        fault = (
            _too_large() if upload.too_large else _("No file came, or an empty one: choose the PDF and send it again.")
        )
        return _page(request, number, papers=papers, fault=fault)
    same = paper_with(upload.sha256)
    note_check([same] if same is not None else [], timezone.now())
    if same is None:
        count_miss(request, _WHAT)
    compared = {
        "sha256": upload.sha256,
        "same": same,
        "other_data": bool(same and number != same.plan_sha256 and number),
    }
    return _page(request, number, papers=papers, compared=compared)


def _page(request: HttpRequest, number: str, *, status: int = 200, **context: Any) -> HttpResponse:
    context = {"number": number, "largest": LARGEST // 1024 // 1024, "papers": ()} | context
    return render(request, "letters/verify.html", context, status=status)


def _no_number(typed: str) -> str:
    return _("“%(typed)s” is not the number of a paper: it has 64 signs, the digits 0 to 9 and the letters a to f.") % {
        "typed": typed if len(typed) <= 80 else typed[:79] + "…"
    }


def _too_large() -> str:
    return _("This file is larger than %(n)d million bytes; our papers never are.") % {"n": LARGEST // 1024 // 1024}
