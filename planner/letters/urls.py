"""Addresses of papers."""

from django.urls import path

from planner.letters import reading_views, views

app_name = "letters"
urlpatterns = [
    path("of/<str:public_id>/", views.papers, name="papers"),
    path("<str:public_id>/", views.document, name="document"),
    path("<str:public_id>/reading/", reading_views.reading, name="reading"),
    path("<str:public_id>/file/", views.file, name="file"),
]
