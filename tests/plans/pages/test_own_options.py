"""Pages on which a dentist puts an option together, changes it, strikes it and takes it back."""

import re

import pytest

from planner.plans.facts import case_choices
from planner.plans.models import Case
from planner.practice.models import Staff
from planner.rules.verdicts import Verdict
from planner.trail.models import TrailEntry
from tests.pages import client_of
from tests.plans.pages.conftest import OPTION, REASON, seen

pytestmark = pytest.mark.django_db

LATERAL = "upper-left-lateral-incisor"


def _own(case: Case):
    return case_choices(Case.objects.get(pk=case.pk)).own_options


def test_an_option_is_put_together_judged_changed_struck_and_taken_back(case: Case, owner: Staff) -> None:
    client, base = client_of(owner), f"/plans/{case.public_id}/"
    url = f"{base}put-together/"
    typed = {
        "seen": seen(case),
        "whole": ["whitening"],
        f"{LATERAL}-what": "bonding",
        f"{LATERAL}-mesial": "0,7",
        f"{LATERAL}-distal": "0.4",
        "reason": REASON,
    }
    done = client.post(url, typed)
    assert done["Location"] == base
    (own,) = _own(case)
    assert (own.key, own.by, own.reason) == ("own-1", "Olive Owner", REASON)
    page = client.get(base)
    option = page.context["plan"].option("own-1")
    assert option.treatments == ("whitening", "bonding")
    assert [(line.mesial_tenths, line.distal_tenths) for line in option.work if line.tooth] == [(7, 4)]
    assert option.estimate.lines
    text = page.content.decode()
    assert "Put together by Olive Owner on 2 March 2026" in text
    assert f'href="{base}option/own-1/change/"' in text

    # Changed: it keeps its key, and the form begins with what is kept.
    change = f"{base}option/own-1/change/"
    form = client.get(change).context["form"]
    assert (form[f"{LATERAL}-mesial"].value(), form["whole"].value()) == ("0.7", ["whitening"])
    client.post(change, typed | {"seen": seen(case), "whole": [], f"{LATERAL}-surfaces": "1"})
    (own,) = _own(case)
    assert (own.key, [work.surfaces for work in own.work]) == ("own-1", [1])

    client.post(f"{base}option/own-1/strike/", {"seen": seen(case), "reason": REASON})
    assert client.get(base).context["plan"].option("own-1").verdict is Verdict.NO
    client.post(f"{base}option/own-1/restore/", {"seen": seen(case), "reason": REASON})
    client.post(f"{base}option/own-1/recommend/", {"seen": seen(case), "reason": REASON})
    assert client.get(base).context["plan"].recommended == "own-1"
    acts = list(TrailEntry.objects.filter(act__startswith="case.").order_by("sequence").values_list("act", flat=True))
    assert acts[-5:] == ["case.own_option", "case.own_option", "case.strike", "case.restore", "case.recommend"]


def test_one_that_was_worked_out_is_changed_into_an_own_one_and_stays(case: Case, owner: Staff) -> None:
    client, base = client_of(owner), f"/plans/{case.public_id}/"
    url = f"{base}option/{OPTION}/change/"
    form = client.get(url).context["form"]
    typed = {name: form[name].value() for name in form.fields if form[name].value() not in (None, "", [])}
    assert client.post(url, typed | {"reason": REASON})["Location"] == base
    plan = client.get(base).context["plan"]
    own, first = plan.option("own-1"), plan.option(OPTION)
    assert own.own is not None
    assert own.own.changed_from == OPTION
    assert (own.verdict, own.estimate.compared_cents) == (first.verdict, first.estimate.compared_cents)
    assert f"from “{first.name}”" in client.get(base).content.decode()


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({}, "Nothing is chosen yet"),
        ({f"{LATERAL}-mesial": "0.5"}, "say what is done, or empty the cells"),
        ({f"{LATERAL}-what": "bonding", f"{LATERAL}-mesial": "0.55"}, "0.55"),
        ({f"{LATERAL}-what": "bonding", f"{LATERAL}-mesial": "1.4"}, "the gap is 0.7 mm wide"),
        ({f"{LATERAL}-what": "ceramic-veneer", f"{LATERAL}-removal": "0.3"}, "cannot stand on the same tooth"),
        ({"upper-right-lateral-incisor-what": "implant-crown"}, "must be moved first"),
        ({f"{LATERAL}-what": "gilding"}, "gilding"),
        ({f"{LATERAL}-what": "bonding", "reason": " "}, "This is missing"),
    ],
)
def test_what_contradicts_itself_is_refused_and_nothing_typed_is_lost(
    typed: dict[str, str], words: str, case: Case, owner: Staff
) -> None:
    client, url = client_of(owner), f"/plans/{case.public_id}/put-together/"
    answer = client.post(url, {"seen": seen(case), "reason": REASON} | typed)
    text = answer.content.decode().replace("&#x27;", "'")
    assert answer.status_code == 200
    assert words in text
    assert all(f'value="{value}"' in text for name, value in typed.items() if name.endswith(("mesial", "removal")))
    assert _own(case) == ()


def test_the_second_of_two_sees_both(case: Case, owner: Staff) -> None:
    client, url = client_of(owner), f"/plans/{case.public_id}/put-together/"
    typed = {"seen": seen(case), "whole": ["whitening"], "reason": "Theirs."}
    client.post(url, typed)
    late = client.post(url, typed | {"reason": "Mine."})
    text = late.content.decode()
    assert "Theirs." in text
    assert "Mine." in text
    assert len(_own(case)) == 1


def test_treatments_are_listed_gentlest_first(case: Case, owner: Staff) -> None:
    """Common practice, no source: what leaves sound tooth alone before what cuts it, operations last."""
    text = client_of(owner).get(f"/plans/{case.public_id}/put-together/").content.decode()
    listed = re.findall(r'<option value="([a-z-]+)"', text.split("</select>")[0])
    places = [listed.index(key) for key in ("removable-tooth", "bonding", "ceramic-veneer", "implant-crown")]
    assert places == sorted(places)
