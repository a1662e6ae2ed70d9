"""The trail's app: its guards, and the hook that puts every app's guards back after each migrate."""

from django.apps import AppConfig
from django.db.models.signals import post_migrate, pre_migrate

from planner.trail.triggers import Guard, clear_the_way, install


class TrailConfig(AppConfig):
    name = "planner.trail"
    label = "trail"
    append_only = (
        "TrailEntry",
        "Erasure",
        Guard(
            "TrailDetail",
            # Content goes only after the chain itself says that it was erased.
            delete_if=(
                "EXISTS (SELECT 1 FROM trail_trailentry said WHERE said.act = 'trail.erase' "
                "AND said.subject_kind = 'trail.trailentry' AND said.subject_id = CAST(OLD.entry_id AS varchar(40)))"
            ),
        ),
    )

    def ready(self) -> None:
        """Install triggers after every migrate, whichever app it was for."""
        pre_migrate.connect(clear_the_way, dispatch_uid="planner.trail.triggers.before")
        post_migrate.connect(install, dispatch_uid="planner.trail.triggers")
