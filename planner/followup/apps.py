"""The app of following up: calls about estimates, and the Monday page."""

from django.apps import AppConfig


class FollowupConfig(AppConfig):
    name = "planner.followup"
    label = "followup"
    append_only = ("AgreedCall", "MadeCall")
