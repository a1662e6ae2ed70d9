"""The app of following up: calls about estimates, reviews of finished work, and the Monday page."""

from django.apps import AppConfig


class FollowupConfig(AppConfig):
    name = "planner.followup"
    label = "followup"
    append_only = ("AgreedCall", "MadeCall", "Review", "ReviewTooth", "ReviewWish")

    def ready(self) -> None:
        """Let papers of what came of work be read again with the others; name the day of an agreed call."""
        from planner.followup.calling import agreed_day
        from planner.followup.sealed_results import result_papers_hold
        from planner.letters.sealed import CHECKS
        from planner.letters.signals import what_comes_next

        what_comes_next.connect(agreed_day, dispatch_uid="followup.calls")
        CHECKS["papers of what came of work"] = result_papers_hold
