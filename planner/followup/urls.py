"""Addresses of the Monday page and of calls."""

from django.urls import URLPattern

app_name = "followup"
urlpatterns: list[URLPattern] = []
