"""Addresses of the Monday page and of calls."""

from django.urls import path, re_path

from planner.followup import views

app_name = "followup"
urlpatterns = [
    path("", views.monday, name="monday"),
    path("pictures/", views.drawn, name="pictures"),
    re_path(r"^table\.(?P<ending>csv|xlsx)$", views.file, name="file"),
    path("calls/", views.calls, name="calls"),
    path("calls/<str:public_id>/", views.call, name="call"),
    path("calls/<str:public_id>/day/", views.agreed, name="agreed"),
]
