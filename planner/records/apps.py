"""The app of records out: everything of a patient, or of the office, as plain files."""

from django.apps import AppConfig

from planner.trail.triggers import Guard


class RecordsConfig(AppConfig):
    name = "planner.records"
    label = "records"
    append_only = (Guard("OfficeCopy", update_if="OLD.outcome = ''"),)
