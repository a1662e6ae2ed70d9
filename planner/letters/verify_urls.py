"""Addresses of the page that checks papers: short, because they are printed as a code."""

from django.urls import path

from planner.letters.verify_views import verify

urlpatterns = [
    path("", verify, name="verify"),
    path("<str:number>/", verify, name="verify_number"),
]
