"""Addresses of records out."""

from django.urls import path

from planner.records import views

app_name = "records"
urlpatterns = [
    path("", views.office, name="office"),
    path("patient/<str:public_id>/", views.patient, name="patient"),
    path("<str:public_id>/answer/", views.answer, name="answer"),
    path("<str:public_id>/take/", views.take, name="take"),
]
