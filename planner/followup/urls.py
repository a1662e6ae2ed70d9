"""Addresses of the Monday page and of calls."""

app_name = "followup"
urlpatterns: list[URLPattern] = []
