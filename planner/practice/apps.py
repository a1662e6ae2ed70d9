"""The practice's app."""

from django.apps import AppConfig
from django.core.checks import register


class PracticeConfig(AppConfig):
    name = "planner.practice"
    label = "practice"
    append_only = ("BookVersion", "BookFile", "StockLot", "StockMove", "WorkTiming", "MinutesAdopted")

    def ready(self) -> None:
        """Record sign-ins, and read the office's own treatments, so that faults stand in the log from the start."""
        from planner.practice.catalogue import check_own_treatments
        from planner.practice.password_checks import check_leaked_list
        from planner.practice.signals import connect

        connect()
        register(check_own_treatments)
        register(check_leaked_list)
