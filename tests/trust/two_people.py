"""The forms that two people have before them at once, what each of them types, and what stands side by side."""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from django.urls import reverse

from tests.support import PASSWORD
from tests.trust.two_people_world import World


@dataclass(frozen=True)
class Edit:
    """One form that two people have open: its address, what each of them types, what else is written."""

    name: str
    url: Callable[[World], str]
    theirs: dict[str, Any]
    yours: dict[str, Any]
    beside: dict[str, Any] = field(default_factory=dict)
    opened: Callable[[World], str] | None = None
    """Where the form is opened, if not at its own address."""
    shown: tuple[str, str] | None = None
    """How theirs and yours stand side by side, where not as they were typed."""
    reopens: bool = True
    """The form begins with what is saved."""

    @property
    def words(self) -> tuple[str, str]:
        """Theirs and yours as the page lays them side by side."""
        return self.shown or (str(list(self.theirs.values())[-1]), str(list(self.yours.values())[-1]))


AGAIN = {"password_again": PASSWORD}
WHY = {"reason": "As agreed with the patient."}
BOOK = {"reason": "As agreed.", "action": "save"}
GAP = "gap-upper-{}-may_stay"


def _edit(name: str, url: Callable[[World], str], theirs: Any, yours: Any, *beside: Any, **more: Any) -> Edit:
    return Edit(name, url, theirs, yours, {key: value for one in beside for key, value in one.items()}, **more)


def _case(name: str, theirs: Any, yours: Any, *beside: Any, rest: tuple[str, ...] = (), **more: Any) -> Edit:
    return _edit(
        f"plans:{name}", lambda world: reverse(f"plans:{name}", args=[world.case.public_id, *rest]), theirs, yours,
        *beside, **more,
    )  # fmt: skip


def _book(name: str, theirs: Any, yours: Any, *, rest: tuple[str, ...] = (), query: str = "", **more: Any) -> Edit:
    name = f"practice:{name}"
    return _edit(name, lambda _world: reverse(name, args=rest) + query, theirs, yours, BOOK, **more)


EDITS = (
    _book("opening", {"chairs": "Room 1"}, {"chairs": "Seat A"}),
    _book("next_prices", {"build-up.cents": "461.00"}, {"build-up.cents": "482.00"}),
    _book("line", {"0.cents": "461.00"}, {"0.cents": "482.00"}, query="?key=build-up"),
    _book("rows", {"0.percent": "6"}, {"0.percent": "7"}, rest=("packages",)),
    _book("row", {"0.reorder_at": "3"}, {"0.reorder_at": "4"}, rest=("materials",), query="?key=flowable"),
    _book("limit", {"name": "gap_left_min", "value": "0.3"}, {"name": "gap_left_min", "value": "0.4"}, reopens=False),
    _book("values", {"margin_percent": "23"}, {"margin_percent": "24"}, rest=("rates",)),
    _book(
        "legal", {"key": "whitening-age", "value": "16"}, {"key": "age-of-majority", "value": "20"}, reopens=False,
        shown=("Fay First saved it", "20"),
    ),
    _edit(
        "practice:person_roles", lambda world: reverse("practice:person_roles", args=[world.staff.public_id]),
        {"roles": ["front desk", "assistant"]}, {"roles": ["desk lead"]}, WHY,
        opened=lambda world: reverse("practice:person", args=[world.staff.public_id]),
        shown=("front desk, assistant", "desk lead"),
    ),
    _edit(
        "patients:change", lambda world: reverse("patients:change", args=[world.case.patient.public_id]),
        {"phone": "613 555 0111"}, {"phone": "613 555 0222"},
    ),
    _edit(
        "patients:payer_plan_change", lambda world: reverse("patients:payer_plan_change", args=[world.payer.public_id]),
        {"deductible": "70.00"}, {"deductible": "80.00"}, WHY, reopens=False,
    ),
    _edit(
        "patients:cover_change", lambda world: reverse("patients:cover_change", args=[world.cover.public_id]),
        {"ends": "30 June 2026"}, {"ends": "31 May 2026"}, WHY, reopens=False,
    ),
    _edit(
        "patients:examination_edit",
        lambda world: reverse("patients:examination_edit", args=[world.measured.public_id]),
        {"head-by": "Chair 7"}, {"head-by": "Chair 8"}, {"action": "save"},
    ),
    _edit(
        "plans:estimate_options", lambda world: reverse("plans:estimate_options", args=[world.draft.public_id]),
        {"options": ["none", "whitening"]}, {"options": ["none", "reshaping"]}, shown=("hitening", "eshaping"),
    ),
    _case("about", {"notes": "Rang twice."}, {"notes": "Rang once."}),
    _case("wishes", {"months": "6"}, {"months": "9"}),
    _case("matters", {"tooth": "a lot"}, {"tooth": "not"}, shown=("matters a lot", "does not matter")),
    _case("rests_on", {"pictures": []}, {"pictures": []}, reopens=False, shown=("", "")),
    _case("line_class", {"reason": "Theirs came."}, {"reason": "Mine came."}),
    _case(
        "surfaces", {"tooth": "upper-left-central-incisor", "surfaces": "2"},
        {"tooth": "upper-left-central-incisor", "surfaces": "3"}, WHY, reopens=False,
    ),
    _case("figures", {"worn": "yes", "reason": "Theirs came."}, {"worn": "no", "reason": "Mine came."}),
    _case("if_then", {"words-1": "Theirs if it is deep."}, {"words-1": "Mine if it is deep."}),
    _case(
        "discounts", {"reason": "Theirs came."}, {"reason": "Mine came."},
        {"option": "reshape-bond", "kind": "courtesy", "percent": "2"}, AGAIN, reopens=False,
    ),
    _case("put_together", {"reason": "Theirs came."}, {"reason": "Mine came."}, {"whole": "whitening"}, reopens=False),
    _case(
        "change_option", {"reason": "Theirs came."}, {"reason": "Mine came."}, rest=("reshape-bond",), reopens=False,
    ),
    _case("strike", {"reason": "Theirs came."}, {"reason": "Mine came."}, rest=("whitening",), reopens=False),
    _case("recommend", {"reason": "Theirs came."}, {"reason": "Mine came."}, rest=("whitening",), reopens=False),
    _case(
        "spaces_findings", {GAP.format("right-central-incisor"): "on"}, {GAP.format("left-central-incisor"): "on"},
        opened=lambda world: reverse("plans:spaces", args=[world.case.public_id]), shown=("", ""), reopens=False,
    ),
)  # fmt: skip

PROVEN = {
    "plans:spaces_keep": "tests/plans/test_space_pages.py::test_a_second_editor_sees_what_the_first_fixed",
    "plans:restore": "tests/plans/pages/test_decisions.py::test_the_second_of_two_deciders_sees_both",
    "plans:override": "tests/plans/pages/test_decisions.py::test_the_second_of_two_deciders_sees_both",
    "plans:withdraw": "tests/plans/pages/test_decisions.py::test_the_second_of_two_deciders_sees_both",
    "practice:file": "tests/practice/test_pages_files.py::test_what_is_taken_is_what_was_seen",
}
"""What another test shows of two editors, because it takes more than typing into the form once more."""
