"""The app of following up: calls about estimates, reviews of finished work, and the Monday page."""

from django.apps import AppConfig


class FollowupConfig(AppConfig):
    name = "planner.followup"
    label = "followup"
    append_only = ("AgreedCall", "MadeCall", "Review", "ReviewTooth", "ReviewWish")
