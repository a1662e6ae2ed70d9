"""What a dentist decided around the computation, and what a wish is held against, in words."""

from collections.abc import Iterator, Mapping

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from planner.practice.fields import day_words
from planner.rules.choices import Choices, DiscountChoice, FiguresChoice, IfThen, Lock, Override
from planner.rules.mouth import WishTarget
from planner.rules.teeth import Numbering
from planner.rules.units import format_cents, format_mm

TARGETS: tuple[tuple[str, str | Promise], ...] = (
    ("gap closed", gettext_lazy("this gap is closed")),
    ("tooth larger", gettext_lazy("this tooth is larger")),
    ("edge shorter", gettext_lazy("this edge is shorter")),
    ("colour lighter", gettext_lazy("the teeth are lighter")),
    ("tooth replaced", gettext_lazy("this tooth is replaced")),
    ("no sound tooth cut", gettext_lazy("no sound tooth is cut")),
)
"""What a wish can be held against, in words."""


def target_words(target: WishTarget, numbering: Numbering) -> str:
    """A target in words, its teeth by name and both numbers."""
    words = str(dict(TARGETS)[target.kind])
    teeth = " · ".join(tooth.label(numbering) for tooth in target.teeth)
    return f"{words}: {teeth}" if teeth else words


def choice_words(choices: Choices, numbering: Numbering, names: Mapping[str, str] | None = None) -> tuple[str, ...]:
    """Everything a dentist decided around the computation, one sentence each, in a steady order.

    ``names`` are the options' names by key; a key without one is written as it is.
    """
    return tuple(_choices(choices, numbering, names or {}))


def _figures(chosen: FiguresChoice) -> str:
    said = []
    if chosen.counted_in == "general practice":
        said.append(_("as counted in general practices"))
    elif chosen.counted_in == "university clinics":
        said.append(_("as counted in university clinics"))
    if chosen.worn is not None:
        said.append(_("as in a worn mouth") if chosen.worn else _("as in a mouth that is not worn"))
    return _("Figures over the years: %(how)s. %(reason)s (%(by)s)") % {
        "how": ", ".join(said) or _("as usual in the office and as found"),
        "reason": chosen.reason,
        "by": chosen.by,
    }


def _choices(choices: Choices, numbering: Numbering, names: Mapping[str, str]) -> Iterator[str]:
    for lock in choices.locks:
        yield _("Fixed: %(what)s. %(reason)s (%(by)s)") % {
            "what": _lock(lock, numbering),
            "reason": lock.reason,
            "by": lock.by,
        }
    for made in choices.overrides:
        yield _override(made, names)
    if choices.figures is not None:
        yield _figures(choices.figures)
    for choice in choices.surfaces:
        yield _("Surfaces of the %(tooth)s: %(n)d. %(reason)s") % {
            "tooth": choice.tooth.label(numbering),
            "n": choice.surfaces,
            "reason": choice.reason,
        }
    for own in choices.own_options:
        yield _("Put together: %(option)s. %(reason)s (%(by)s, %(on)s)") % {
            "option": names.get(own.key, own.key),
            "reason": own.reason,
            "by": own.by,
            "on": day_words(own.on),
        }
    for struck in choices.struck:
        yield _("Struck: %(option)s. %(reason)s (%(by)s)") % {
            "option": names.get(struck.option, struck.option),
            "reason": struck.reason,
            "by": struck.by,
        }
    if choices.recommended is not None:
        chosen = choices.recommended
        yield _("Recommended: %(option)s. %(reason)s (%(by)s)") % {
            "option": names.get(chosen.option, chosen.option),
            "reason": chosen.reason,
            "by": chosen.by,
        }
    kind = _("reconstructive") if choices.reconstructive else _("looks only")
    if choices.reconstructive or choices.tax_reason:
        yield _("Additions count as %(kind)s. %(reason)s") % {"kind": kind, "reason": choices.tax_reason}
    for entry in choices.if_then:
        yield _agreed(entry, numbering, names)
    for discount in choices.discounts:
        yield discount_words(discount, names)


def _agreed(entry: str | IfThen, numbering: Numbering, names: Mapping[str, str]) -> str:
    if isinstance(entry, str):
        return _("Agreed: %(sentence)s (a sentence alone: it covers no work)") % {"sentence": entry}
    where = f", {' · '.join(tooth.label(numbering) for tooth in entry.teeth)}" if entry.teeth else ""
    said = _("Agreed: %(sentence)s Covers at most %(n)d × %(service)s%(where)s.") % {
        "sentence": entry.words,
        "n": entry.quantity,
        "service": entry.service,
        "where": where,
    }
    if not entry.options:
        return said
    return said + " " + _("Only with: %(names)s.") % {"names": ", ".join(names.get(key, key) for key in entry.options)}


def discount_words(one: DiscountChoice, names: Mapping[str, str]) -> str:
    """A discount with everybody who stands behind it, and whether it still waits."""
    much = f"{one.percent.normalize():f} %" if one.percent is not None else format_cents(one.cents or 0)
    state = _("discount") if one.given else _("discount, not allowed yet")
    where = names.get(one.option, one.option) + (f", {one.line}" if one.line else "")
    said = _("%(kind)s %(state)s of %(much)s on %(where)s: %(reason)s") % {
        "kind": one.kind.capitalize(),
        "state": state,
        "much": much,
        "where": where,
        "reason": one.reason.rstrip(".") + ".",
    }
    said += " " + _("Asked by %(who)s (%(role)s), %(on)s.") % {
        "who": one.asked_by,
        "role": one.asked_role,
        "on": day_words(one.asked_on),
    }
    if one.allowed_by:
        said += " " + _("Allowed by %(who)s (%(role)s).") % {"who": one.allowed_by, "role": one.allowed_role}
    if one.second_person:
        said += " " + _("Second person: %(who)s.") % {"who": one.second_person}
    return said


def _lock(lock: Lock, numbering: Numbering) -> str:
    where = lock.tooth.label(numbering) if lock.tooth else " · ".join(t.label(numbering) for t in lock.between or ())
    value = f", {format_mm(lock.value)} mm" if lock.value is not None else ""
    return f"{lock.what}, {where}{value}"


def _override(made: Override, names: Mapping[str, str]) -> str:
    second = _(", with %(name)s") % {"name": made.second_dentist} if made.second_dentist else ""
    return _("Decided against %(gate)s for %(option)s: %(reason)s (%(by)s%(second)s, %(on)s)") % {
        "gate": made.gate,
        "option": names.get(made.option, made.option),
        "reason": made.reason,
        "by": made.by,
        "second": second,
        "on": day_words(made.on),
    }
