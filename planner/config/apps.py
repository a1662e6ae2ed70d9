"""The settings' app: it has no table, only the commands that need every floor below."""

from django.apps import AppConfig


class ConfigConfig(AppConfig):
    name = "planner.config"
    label = "config"
