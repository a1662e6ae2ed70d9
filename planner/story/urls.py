"""Addresses of the record read back, of emergency openings and of problems."""

from django.urls import path

from planner.story import act_views, views

app_name = "story"
urlpatterns = [
    path("", views.trail, name="trail"),
    path("emergency/", act_views.elsewhere, name="elsewhere"),
    path("openings/", act_views.openings, name="openings"),
    path("openings/<str:public_id>/", act_views.opening_seen, name="opening_seen"),
    path("problems/<str:public_id>/", act_views.problem_step, name="problem_step"),
    path("files/<str:public_id>/", views.file, name="file"),
    path("files/<str:public_id>/print/", views.file_print, name="file_print"),
    path("files/<str:public_id>/opened/", views.opened, name="opened"),
    path("files/<str:public_id>/opened/print/", views.opened_print, name="opened_print"),
    path("files/<str:public_id>/complaint/", views.complaint, name="complaint"),
    path("files/<str:public_id>/complaint/print/", views.complaint_print, name="complaint_print"),
    path("files/<str:public_id>/emergency/", act_views.emergency, name="emergency"),
    path("files/<str:public_id>/problem/", act_views.problem, name="problem"),
]
