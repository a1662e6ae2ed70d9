"""The letters' app."""

from django.apps import AppConfig


class LettersConfig(AppConfig):
    name = "planner.letters"
    label = "letters"
    append_only = ("Document", "ReadingReason")
