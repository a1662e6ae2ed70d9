"""Addresses of keeping and erasing."""

from django.urls import path

from planner.keeping import views

app_name = "keeping"
urlpatterns = [
    path("", views.past, name="past"),
    path("file/<str:public_id>/", views.person, name="person"),
    path("asked/<str:public_id>/", views.asked, name="asked"),
]
