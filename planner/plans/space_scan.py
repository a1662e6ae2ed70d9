"""Looking at every measurement, a few at a time: what was found so far travels with the page, signed.

Nothing is kept on the server: the page sends back how far it has come, and values typed otherwise begin anew.
"""

from dataclasses import dataclass

from django.core import signing

from planner.plans.facts import facts_hash
from planner.rules.book import OfficeBook
from planner.rules.measure_again import Progress
from planner.rules.mouth import CaseFacts
from planner.rules.segments import MeasureFirst
from planner.rules.space_model import SpaceError

AT_A_TIME = 3
"""Measurements looked at for each answer: about half a second of work."""
_SALT = "planner.plans.space_scan"


@dataclass(frozen=True, slots=True)
class Asked:
    """A scan, and the text with which the page asks on."""

    scan: Progress
    so_far: str

    @property
    def quiet(self) -> int:
        """Measurements that decide nothing, once all were looked at."""
        return self.scan.total - len(self.scan.found)


def further(so_far: str, facts: CaseFacts, book: OfficeBook, *, at_once: bool) -> Asked | None:
    """The scan a little further, or ``at_once`` to its end; None where not everything is measured yet.

    A text that was tampered with, or came from other values, begins anew.
    """
    of = facts_hash(facts)
    try:
        scan = _read(so_far, of).further(facts, book, None if at_once else AT_A_TIME)
    except (MeasureFirst, SpaceError):
        return None
    return Asked(scan, signing.dumps([of, scan.done, scan.total, scan.found], salt=_SALT, compress=True))


def _read(so_far: str, of: str) -> Progress:
    try:
        known, done, total, found = signing.loads(so_far, salt=_SALT)
    except (signing.BadSignature, ValueError, TypeError):
        return Progress()
    if known != of:
        return Progress()
    return Progress(done, total, tuple((bool(stays), int(smallest), str(words)) for stays, smallest, words in found))
