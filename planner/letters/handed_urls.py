"""Addresses that answer on a screen in a patient's hands. None of them names a row: the session does."""

from django.urls import path

from planner.letters import handed_views

urlpatterns = [
    path("", handed_views.pages, name="handed"),
    path("<int:page>/", handed_views.pages, name="handed_page"),
    path("sign/", handed_views.sign, name="handed_sign"),
    path("home/", handed_views.home, name="handed_home"),
    path("letter/", handed_views.letter, name="handed_letter"),
]
