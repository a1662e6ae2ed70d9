"""One limit of one tooth that the dentist raised: how far it may go, and how it is told wherever the plan is shown."""

from planner.rules.choices import RAISED_LIMITS, Lock
from planner.rules.mouth import CaseFacts, ToothFacts
from planner.rules.settings import read_settings
from planner.rules.space_bands import lengthen_cap, share_cap
from planner.rules.space_limits import default_limits
from planner.rules.space_model import Kind, Role, Side, SpaceTooth
from planner.rules.units import format_mm
from planner.rules.words import mm, told

_MOST = {"share limit": "share_most", "emergence limit": "emergence_most", "lengthen limit": "lengthen_most"}
_WORDS = {
    "share limit": "the largest share on one side",
    "emergence limit": "the steepest side wall",
    "lengthen limit": "the most lengthening",
}


_RAISED = {
    "share limit": "The largest share on one side on {tooth} is raised to {amount} by {by}: {reason}",
    "emergence limit": "The steepest side wall on {tooth} is raised to {amount} by {by}: {reason}",
    "lengthen limit": "The most lengthening on {tooth} is raised to {amount} by {by}: {reason}",
}


def raised_lock(facts: CaseFacts) -> Lock | None:
    """The one limit that is raised in this case, if any."""
    return next((lock for lock in facts.choices.locks if lock.what in RAISED_LIMITS), None)


def no_raise(lock: Lock, tooth: ToothFacts) -> str:
    """The sentence for a limit that is not raised at all by what was written; empty where it is."""
    kind = tooth.tooth.kind.value
    known = Kind("primary" if kind.startswith("primary") else kind) if kind != "molar" else Kind.PREMOLAR
    bare = SpaceTooth(
        "",
        known,
        Role.CENTRAL,
        Side.RIGHT,
        1,
        1,
        undersized=bool(tooth.undersized) and known is Kind.LATERAL,
        guidance_checked=tooth.guidance_checked,
    )
    given, least = lock.degrees if lock.degrees is not None else lock.value or 0, _ordinary(bare, lock.what)
    if given > least:
        return ""
    allowed = f"{least} degrees" if lock.degrees is not None else f"{format_mm(least)} mm"
    return f"{amount_words(lock)} raises nothing: {_WORDS[lock.what]} is {allowed} here already."


def most_of(lock: Lock) -> int:
    """How far the limit may be raised: 0.1 mm, or degrees for the side wall."""
    value = read_settings("space_raised.toml")[_MOST[lock.what]].value
    if isinstance(value, int):
        return value
    assert lock.tooth is not None
    kind = lock.tooth.kind.value
    return int(value.get("primary" if kind.startswith("primary") else kind, 0))


def _ordinary(tooth: SpaceTooth, what: str) -> int:
    """The limit as shipped: 0.1 mm, or degrees. Of the two sides of a tooth the greater one."""
    limits = default_limits()
    if what == "emergence limit":
        return limits.emergence_limit_degrees
    if what == "lengthen limit":
        return lengthen_cap(limits, tooth)
    return max(share_cap(limits, tooth, mesial=mesial) for mesial in (True, False))


def amount_words(lock: Lock) -> str:
    """What it is raised to: ``1.8 mm`` or ``35 degrees``."""
    return f"{lock.degrees} degrees" if lock.degrees is not None else f"{format_mm(lock.value or 0)} mm"


def too_far(lock: Lock) -> str:
    """The sentence for a limit raised beyond what may be allowed here; empty where it is not."""
    given, most = lock.degrees if lock.degrees is not None else lock.value or 0, most_of(lock)
    if given <= most:
        return ""
    if not most:
        return f"{_said(lock)} is not raised on such a tooth."
    unit = "degrees" if lock.degrees is not None else "mm"
    allowed = str(most) if lock.degrees is not None else format_mm(most)
    return f"{amount_words(lock)} is too far: {_WORDS[lock.what]} may be raised to {allowed} {unit} at most."


def care_words(lock: Lock, named: str) -> str:
    """How a raised limit is told: what, on which tooth, to how much, by whom and why."""
    amount = told("{n} degrees", n=lock.degrees) if lock.degrees is not None else f"{mm(lock.value or 0)} mm"
    by = lock.by or told("the dentist")
    template = _RAISED[lock.what]
    return told(template, tooth=named, amount=amount, by=by, reason=lock.reason)


def _said(lock: Lock) -> str:
    words = _WORDS[lock.what]
    return words[0].upper() + words[1:]
