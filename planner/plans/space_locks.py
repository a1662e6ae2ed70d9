"""What a dentist may fix, raise or lift around the spaces: what each lock is called, and its words."""

from collections.abc import Mapping

from django.utils.functional import Promise
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from planner.rules.choices import LOCK_VALUES, Choices, Lock, LockWhat
from planner.rules.teeth import Numbering, Tooth
from planner.rules.units import format_mm

Words = str | Promise
LENGTH_LOCKS: Mapping[str, tuple[LockWhat, Words]] = {
    "mesial": ("mesial share", _("share toward the midline")),
    "distal": ("distal share", _("share away from the midline")),
    "fixed_width": ("width", _("width afterwards")),
    "fixed_length": ("length", _("length afterwards")),
    "lengthen": ("lengthen", _("lengthen by")),
    "shorten": ("shorten", _("shorten by")),
    "slender_mesial": ("slenderise mesial", _("slenderise toward the midline by")),
    "slender_distal": ("slenderise distal", _("slenderise away from it by")),
}
"""Locks on a tooth with a length, by field: what it fixes and its words."""
TICK_LOCKS: Mapping[str, tuple[LockWhat, Words]] = {
    "untouched": ("untouched", _("do not touch")),
    "build_up": ("build up", _("build up")),
    "twins_apart": ("twins apart", _("need not match its twin")),
}
ROLES: Mapping[str, Words] = {
    "central": _("central"),
    "lateral": _("lateral"),
    "canine": _("canine"),
    "premolar": _("premolar"),
}
LIMIT_LOCKS: Mapping[str, tuple[LockWhat, Words]] = {
    "share": ("share limit", _("largest share on one side")),
    "emergence": ("emergence limit", _("steepest side wall")),
    "lengthen": ("lengthen limit", _("most lengthening")),
}
"""Limits of one tooth that may be raised, by choice."""
FRONT_LOCKS: Mapping[str, tuple[LockWhat, Words]] = {
    "ratio": ("ratio", _("width of the laterals aimed at, of their central's")),
    "midline": ("midline", _("centrals' contact today, left of the midline aimed at by")),
}
"""Locks on the whole front, by field."""
FIELD_OF: dict[str, str] = {
    str(what): field for field, (what, _words) in (*LENGTH_LOCKS.items(), *TICK_LOCKS.items(), *FRONT_LOCKS.items())
} | {"role": "role", "share limit": "raised_to", "emergence limit": "raised_to", "lengthen limit": "raised_to"}
_WORDS: dict[str, Words] = {
    str(what): words for named in (LENGTH_LOCKS, TICK_LOCKS, LIMIT_LOCKS, FRONT_LOCKS) for what, words in named.values()
} | {"role": _("must look like"), "gap left": _("to be left")}


def stored_locks(choices: Choices) -> dict[str, Lock]:
    """The locks of a case by key."""
    return {key_of(lock): lock for lock in choices.locks}


def key_of(lock: Lock) -> str:
    """What a lock is about, as one word: two locks with one key are the same lock at two values."""
    if lock.between is not None:
        return gap_key(lock.between)
    return tooth_key(lock.tooth, lock.what) if lock.tooth is not None else f"front-{lock.what}"


def tooth_key(tooth: Tooth, what: str) -> str:
    """The key of a lock on a tooth."""
    return f"{tooth.key}-{what.replace(' ', '-')}"


def gap_key(pair: tuple[Tooth, Tooth]) -> str:
    """The key of the lock on a gap."""
    first, second = sorted(pair)
    return f"gap-{first.key}-{second.key}"


def amount_of(lock: Lock) -> int | str | None:
    """How much a lock says: tenths of a millimetre, degrees, percent or a role; None where it only holds or not."""
    entry = LOCK_VALUES.get(lock.what, "value")
    amount: int | str | None = None if entry is None else getattr(lock, entry)
    return amount


def lock_words(lock: Lock, numbering: Numbering) -> str:
    """What is fixed, in words: ``13, shorten by: 0.5 mm``."""
    return f"{_subject(lock, numbering)}: {value_words(lock)}"


def change_words(before: Lock | None, lock: Lock | None, numbering: Numbering) -> str:
    """A change in words: ``13, shorten by: 0.5 mm → 0.3 mm``."""
    named = lock or before
    assert named is not None
    return f"{_subject(named, numbering)}: {value_words(before)} → {value_words(lock)}"


def gap_words(pair: tuple[Tooth, Tooth], numbering: Numbering) -> str:
    """A gap as the case writes it: ``13·11``."""
    return "·".join(tooth.written(numbering) for tooth in pair)


def value_words(lock: Lock | None) -> str:
    """How much a lock says, in words; a lock that is not there leaves its value free."""
    if lock is None:
        return _now("free")
    amount = amount_of(lock)
    if amount is None:
        return _now("yes")
    match LOCK_VALUES.get(lock.what, "value"):
        case "role":
            return str(ROLES[str(amount)])
        case "degrees":
            return f"{amount}°"
        case "percent":
            return f"{amount} %"
        case _:
            return f"{format_mm(int(amount))} mm"


def _subject(named: Lock, numbering: Numbering) -> str:
    what = str(_WORDS[named.what])
    if named.between is not None:
        return f"{_now('gap %(gap)s') % {'gap': gap_words(named.between, numbering)}}, {what}"
    return what if named.tooth is None else f"{named.tooth.written(numbering)}, {what}"
