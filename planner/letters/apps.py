"""The letters' app."""

from django.apps import AppConfig

from planner.trail.triggers import Guard

_SAME = " AND ".join(
    f"NEW.{column} = OLD.{column}"
    for column in ["office_id", "case_id", "estimate_id", "option_key", "says_sha256", "at"]
)


class LettersConfig(AppConfig):
    name = "planner.letters"
    label = "letters"
    append_only = (
        "Document",
        "ReadingReason",
        # What a consent is about stays; only how far it is moves on, and an end is an end.
        Guard("Consent", update_if=f"OLD.state NOT IN ('withdrawn', 'replaced') AND {_SAME}"),
        "Handing",
        "Question",
        "TalkHeld",
        "QuestionAnswer",
        "Signature",
        "Countersignature",
        "Withdrawal",
    )

    def ready(self) -> None:
        """Hold the papers of an estimate against each other before it is shown."""
        from planner.letters.agree import on_showing
        from planner.plans.signals import before_showing

        before_showing.connect(on_showing, dispatch_uid="letters.papers_agree")
