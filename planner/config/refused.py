"""The page for what could not be read as a request at all; Django calls it before any view is reached."""

from django.conf import settings
from django.core.exceptions import RequestDataTooBig
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """413 with the limit for a form that is too long, 400 for anything else."""
    if isinstance(exception, RequestDataTooBig):
        most = settings.DATA_UPLOAD_MAX_MEMORY_SIZE // 1024 // 1024
        return render(request, "413.html", {"most": most}, status=413)
    return render(request, "400.html", status=400)
