"""Addresses of people's files: the file itself and the medical history."""

from django.urls import path

from planner.patients import history_views, views

app_name = "patients"
urlpatterns = [
    path("", views.patient_list, name="list"),
    path("new/", views.create, name="create"),
    path("new/look/", views.look, name="look"),
    path("<str:public_id>/", views.patient, name="patient"),
    path("<str:public_id>/change/", views.change, name="change"),
    path("<str:public_id>/stop/", views.stop, name="stop"),
    path("<str:public_id>/history/", history_views.history, name="history"),
    path("<str:public_id>/history/new/", history_views.history_new, name="history_new"),
    path("<str:public_id>/history/<str:form_id>/", history_views.history, name="history_form"),
    path("<str:public_id>/any-change/", history_views.any_change, name="any_change"),
]
