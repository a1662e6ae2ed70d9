"""The words of the plans, sides and rules of the shared spaces, for every page that shows them."""

from collections.abc import Mapping

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

RULES: Mapping[str, str | Promise] = {
    "share cap": _("the most that one side of a tooth may be given"),
    "emergence": _("the steepest side wall from the gum to the contact"),
    "lengthen cap": _("the most that a tooth may be lengthened"),
    "shape": _("width over length of a tooth"),
    "proportion": _("width of the lateral against its central"),
    "twins": _("likeness of the same tooth on both sides"),
    "midline": _("how far the midline may lie from the middle of the face"),
}
SIDES: Mapping[str, str | Promise] = {
    "right": _("patient's right"),
    "middle": _("between the two centrals"),
    "left": _("patient's left"),
}
WORDS: Mapping[str, str | Promise] = {"good": _("good"), "acceptable": _("acceptable"), "limit": _("limit")}
"""How a tooth comes out."""
_PLANS: Mapping[str, str | Promise] = {
    "fewest teeth": _("fewest teeth"),
    "best proportion": _("best proportion"),
    "smallest shares": _("smallest shares"),
    "closing a part": _("closing only a part"),
}


def plan_name(name: str) -> str:
    """What a plan is best at, in the reader's language."""
    return str(_PLANS.get(name, name))
