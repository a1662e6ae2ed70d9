"""The app of keeping: backups and their restoring, how long things are kept, and erasing."""

from django.apps import AppConfig


class KeepingConfig(AppConfig):
    name = "planner.keeping"
    label = "keeping"
