"""The practice's app."""

from django.apps import AppConfig


class PracticeConfig(AppConfig):
    name = "planner.practice"
    label = "practice"
    append_only = ("BookVersion",)

    def ready(self) -> None:
        """Record sign-ins."""
        from planner.practice.signals import connect

        connect()
