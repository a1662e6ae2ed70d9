"""What a service raises when it will not do what was asked. The message is one sentence that a user can be shown."""

from collections.abc import Iterable, Mapping
from typing import Any

from django.core.exceptions import PermissionDenied


class Refused(Exception):
    """A service refused. ``sentence`` says what, why, and what would be right; ``field`` names the input at fault."""

    def __init__(self, sentence: str, *, field: str = "", faults: Iterable[tuple[str, str]] = ()) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.field = field
        self.faults = tuple(faults)
        """Where several things are wrong: the path of each, and its sentence."""


class StaleEdit(Refused):
    """Somebody else saved first. Nothing was written; both versions are here to be laid side by side.

    ``yours`` holds the values that were not saved, ``theirs`` the saved values of the same fields, ``seen`` the
    version that was edited and ``version`` the one that is saved now.
    """

    def __init__(
        self,
        what: str,
        *,
        yours: Mapping[str, Any],
        theirs: Mapping[str, Any],
        seen: int,
        version: int,
        row: Any = None,
    ) -> None:
        super().__init__(
            f"{what} was changed by somebody else while you were editing it (you began with version {seen}, version "
            f"{version} is saved). Nothing of yours was saved: compare the two and save again."
        )
        self.yours = dict(yours)
        self.theirs = dict(theirs)
        self.seen = seen
        self.version = version
        self.row = row
        """What was to be changed, as it is saved now, where it is one row."""


class NotAllowed(PermissionDenied):
    """The person's roles do not allow this act. Django answers 403; ``recorded`` says whether the trail has it."""

    def __init__(self, sentence: str, *, act: str, subject: Any = None, recorded: bool = False) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.act = act
        self.subject = subject
        self.recorded = recorded
