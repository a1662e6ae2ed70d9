"""Papers of one plan agree: what each states is read off the printed words, and a difference of each kind is found."""

import ast
import json
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal
from functools import cache

import pytest
from django.conf import settings

from planner.letters.agree import papers_disagree, stand_against
from planner.letters.consent_standing import before_signing
from planner.letters.models import Document
from planner.letters.paper_facts import facts_of_paper
from planner.letters.papers import KINDS, job, kinds_of
from planner.letters.prose import blocks_of_html
from planner.letters.read_back import Block, Printed, printed
from planner.letters.reading_words import both_numbers, cell, lengths, named, reader, teeth_of
from planner.letters.services import issue_of, render_papers
from planner.letters.wording import amount, day
from planner.plans import amending, arranging
from planner.plans.accepted_models import AcceptedPlan, Amendment, Cause
from planner.plans.accepting import accept_option
from planner.plans.arranging import Payer, Typed, latest_arrangement, read_arrangement
from planner.plans.estimates import read_frozen, show_estimate
from planner.plans.models import Channel, Estimate
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.fees import Charge
from planner.rules.mouth import CaseFacts
from planner.rules.papers_agree import About, Contradiction, Paper, contradictions
from planner.rules.partial import pieces_of
from planner.rules.plan import plan_case
from planner.rules.results import sha256
from planner.rules.teeth import Numbering, Tooth
from planner.rules.words import speaking
from planner.trail.errors import Refused
from tests.letters.conftest import AGREEMENT, ISSUE, NOT_NOW, STEP_SHEET, beside, rendered
from tests.letters.consents import LATER, handed, quick, shown_estimate, sign
from tests.letters.sample import DAY_0, case_plan
from tests.pages import client_of, priced_office, queries_of, refusals
from tests.plans import sample
from tests.rules import stories
from tests.rules.books import tern_row
from tests.support import NOW, TODAY

READING = ("paper_facts.py", "paper_lengths.py", "paper_lines.py", "reading_words.py")
MARKS = (("translate %}", "{% endblock"), ('"', '"'), ("%}", "{%"))
"""What stands around a text that is translated."""
SENTENCE = re.compile(r"^[^`]*%\(\w+\)[sd][^`]*$")
ESTIMATE, LETTER, SHEET, ORDER = "estimate", "consent-letter", "option-sheet", "wax-up-order"


@cache
def words(kind: str) -> Printed:
    """The words of a finished paper of the sample, read back from its file."""
    return printed(rendered(kind).content)


def paper(kind: str, said: Printed | None = None, **more: object) -> Paper:
    facts = facts_of_paper(said or words(kind), "en")
    made = Paper(str(KINDS[kind].title), kind, "104, version 2", "en", facts, for_patient=KINDS[kind].named)
    return replace(made, **more)


def changed(kind: str, before: str, after: str, at: int = 0) -> Paper:
    """A paper whose words ``before`` read ``after``: at one place of the text, or above every page."""
    said = words(kind)
    places = [number for number, block in enumerate(said.blocks) if before in block.text]
    blocks = list(said.blocks)
    if places:
        blocks[places[at]] = replace(blocks[places[at]], text=blocks[places[at]].text.replace(before, after))
    margins = tuple(margin if places else margin.replace(before, after) for margin in said.margins)
    made = replace(said, blocks=tuple(blocks), margins=margins)
    assert made != said or margins != said.margins, f"{before} is nowhere on this paper"
    return paper(kind, made)


def told(*papers: Paper) -> tuple[Contradiction, ...]:
    return contradictions(papers)


def test_papers_of_one_plan_agree_and_state_the_same_things() -> None:
    papers = [paper(kind) for kind in (ESTIMATE, LETTER, SHEET, ORDER)]
    assert told(*papers) == ()
    shared = {
        (fact.about, fact.key[0])
        for fact in papers[0].facts + papers[3].facts
        for other in papers[1].facts
        if (fact.about, fact.key) == (other.about, other.key)
    }
    # What is planted below is found because two papers state it.
    assert shared >= {
        (About.NAME, "patient"), (About.NAME, "initials"), (About.DATE, "born"), (About.DATE, "valid"),
        (About.DATE, "measured"), (About.VERSION, "estimate"), (About.VERSION, "price list"), (About.ITEM, "options"),
        (About.TOOTH, "teeth"), (About.LENGTH, "gap"), (About.LENGTH, "width now"), (About.LENGTH, "width to be"),
        (About.LENGTH, "length to be"), (About.PRICE, "total"), (About.PRICE, "compared"), (About.PRICE, "belongs"),
    }  # fmt: skip


LEAD = "upper right canine"
PLANTED: dict[str, tuple[About, Callable[[], Paper]]] = {
    "name on a head": (About.NAME, lambda: changed(SHEET, "Anselm Brightwater", "Anselm Brightwell")),
    "name in the text": (About.NAME, lambda: changed(LETTER, "Anselm Brightwater, born", "Ansel Brightwater, born")),
    "initials": (About.NAME, lambda: changed(ORDER, "A. B. (our", "A. C. (our")),
    "day of birth": (About.DATE, lambda: changed(LETTER, "born 20", "born 21")),
    "day prices hold": (About.DATE, lambda: changed(LETTER, "hold through 25 May", "hold through 26 May")),
    "day of measuring": (
        About.DATE,
        lambda: changed(ORDER, "measurements of 10 February", "measurements of 9 February"),
    ),
    "version": (About.VERSION, lambda: changed(LETTER, "estimate 104, version 2", "estimate 104, version 1")),
    "price list": (About.VERSION, lambda: changed(LETTER, "price list, version 7", "price list, version 8")),
    "language said": (About.LANGUAGE, lambda: changed(LETTER, "English", "Spanish")),
    "language of the file": (About.LANGUAGE, lambda: paper(LETTER, replace(words(LETTER), language="es"))),
    "language of a paper": (About.LANGUAGE, lambda: paper(LETTER, language="es")),
    "option ordered": (About.ITEM, lambda: changed(ORDER, "Adding to three", "Adding to two")),
    "price in the table": (About.PRICE, lambda: changed(LETTER, "1,618.25", "1,681.25")),
    "price of the yes": (About.PRICE, lambda: changed(LETTER, "(CAD 1,618.25)", "(CAD 1,618.52)")),
    "price of what belongs to it": (About.PRICE, lambda: changed(SHEET, "CAD 560.00", "CAD 650.00", at=0)),
    "upkeep": (About.PRICE, lambda: changed(SHEET, "About CAD 1,454", "About CAD 1,544")),
    "teeth of an option": (About.TOOTH, lambda: changed(LETTER, "13, 11, 21, 22", "13, 11, 21, 12")),
    "tooth on a line": (About.TOOTH, lambda: changed(ESTIMATE, "22, Universal 10", "12, Universal 7", at=0)),
    "number and its other number": (About.TOOTH, lambda: changed(ORDER, "13, Universal 6", "13, Universal 7")),
    "name and number": (About.TOOTH, lambda: changed(ORDER, LEAD, "upper left canine")),
    "target width": (About.LENGTH, lambda: changed(ORDER, "7.1", "7.7")),
    "target length": (About.LENGTH, lambda: changed(ORDER, "9.6", "9.1", at=1)),
    "cut on the model": (About.LENGTH, lambda: changed(ORDER, "by 0.5", "by 1.5")),
    "share of one side": (About.LENGTH, lambda: changed(ORDER, "+0.9", "+0.6")),
    "gap": (About.LENGTH, lambda: changed(ORDER, "gap 0.8", "gap 0.3")),
    "width as found": (About.LENGTH, lambda: changed(LETTER, "usual: 5.5", "usual: 5.0")),
    "taken off": (About.LENGTH, lambda: changed(SHEET, "Up to 0.5 mm off 1", "Up to 0.8 mm off 1")),
}


@pytest.mark.parametrize("planted", PLANTED)
def test_a_planted_difference_is_found_and_both_papers_are_named(planted: str) -> None:
    about, plant = PLANTED[planted]
    other = plant()
    rest = [paper(kind) for kind in (ESTIMATE, LETTER, SHEET, ORDER) if kind != other.kind]
    found = [one for one in told(*rest, other) if one.about == about]
    assert found
    assert all(other.kind in (one.first.kind, one.second.kind) for one in found)
    assert other.title in found[0].sentence
    assert not any(one.since_changed for one in found)


def test_an_agreement_is_held_against_the_estimate_it_pays() -> None:
    agreed = paper(AGREEMENT)
    assert {(fact.about, fact.key[0]) for fact in agreed.facts} >= {(About.PRICE, "agreed"), (About.ITEM, "options")}
    assert told(paper(ESTIMATE), agreed) == ()
    found = told(paper(ESTIMATE), changed(AGREEMENT, "Adding to three", "Adding to two"))
    assert [one.about for one in found] == [About.ITEM]


def test_a_step_sheet_is_held_against_the_letter() -> None:
    """Rows as a step sheet prints them, without printing one."""
    letter = paper(LETTER)
    option = "Adding to three teeth and reshaping one"

    def sheet(shares: str) -> Paper:
        cells = [Block("TD", "Tooth", 1, 1, 1), Block("TH", "Add, mm", 1, 1, 1), Block("TH", "Tape", 1, 1, 1)]
        cells += [
            Block("TH", "22 (Universal 10)", 1, 1, 2),
            Block("TD", shares, 1, 1, 2),
            Block("TD", "21, 23", 1, 1, 2),
        ]
        facts = facts_of_paper(Printed("en", tuple(cells), ()), "en", about_option=option)
        assert {fact.key[0] for fact in facts if fact.about == About.LENGTH} >= {"work", "width to be", "length to be"}
        return Paper("Step sheet", "step-sheet", facts=facts, for_patient=False)

    right = "mesial +0.7, distal +0.9, edge +1.0; wide 5.5 → 7.1, long 8.3 → 9.3 · may stop after it"
    assert told(letter, sheet(right)) == ()
    for before, after in (("+0.7", "+0.1"), ("7.1", "7.7"), ("→ 9.3", "→ 9.0"), ("8.3", "8.8")):
        assert [one.about for one in told(letter, sheet(right.replace(before, after)))] == [About.LENGTH]


def test_an_item_of_an_earlier_estimate_is_told_as_changed() -> None:
    older = replace(changed(ESTIMATE, "Silicone mould", "Printed mould", at=0), older=True, version="104, version 1")
    (found,) = told(paper(ESTIMATE), older)
    assert (found.about, found.since_changed) == (About.ITEM, True)
    assert "Printed mould" in found.second.says
    assert "Silicone mould" in found.first.says


# ------------------------------------------------------------------------------------ how words are read


def test_a_tooth_is_the_same_in_whatever_way_it_is_written() -> None:
    canine = Tooth.from_iso("23")
    for said in ("upper left canine (23, Universal 11)", "23 (Universal 11)", "11 (ISO 23)", "UL3 (Universal 11)"):
        assert teeth_of(said) == (canine,)
        assert [other for _said, _tooth, other in both_numbers(said)] == [None]
    assert named("The Upper left canine, then the upper left baby canine") == (canine, Tooth.from_iso("63"))


@pytest.mark.parametrize("numbering", [Numbering.UNIVERSAL, Numbering.PALMER])
def test_papers_in_different_numberings_agree(numbering: Numbering) -> None:
    facts, day_of = stories.facts_of("lead"), stories.planned_on("lead")
    both = (
        plan_case(one, tern_row(), day_of).to_json()
        for one in (facts, facts.model_copy(update={"numbering": numbering}))
    )
    papers = [paper(kind, before_print(plan, kind)) for plan in both for kind in (ESTIMATE, LETTER, ORDER)]
    said = [fact for one in papers for fact in one.facts if fact.key == ("teeth", "Bonding with reshaping")]
    assert {fact.says for fact in said if "," in fact.says} > {"13, 11, 21, 22"}
    assert len({fact.value for fact in said}) == 1
    assert told(*papers) == ()


def test_both_numbers_of_every_tooth_are_held_against_each_other() -> None:
    ((said, tooth, other),) = both_numbers("upper left canine (23, Universal 6)")
    assert (said, tooth.iso, other and other.iso) == ("23, Universal 6)", "13", "23")
    ((_said, tooth, other),) = both_numbers("upper left canine (13, Universal 6)")
    assert (tooth.iso, other and other.iso) == ("13", "23")


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("written", ["extra beside 13", "extra beside 22, distal", "extra beside 53, mesial"])
@pytest.mark.parametrize("numbering", [Numbering.ISO, Numbering.UNIVERSAL])
def test_an_extra_tooth_is_not_taken_for_the_one_it_stands_beside(
    language: str, written: str, numbering: Numbering
) -> None:
    extra = Tooth.from_iso(written)
    with speaking(language):
        ((said, tooth, other),) = both_numbers(f"Found: {extra.label(numbering)}.")
        assert (tooth, other) == (extra, None)
        assert said in extra.label(numbering)
    ((_said, _tooth, other),) = both_numbers(
        "extra tooth beside the upper right canine (extra beside 12, Universal 56)"
    )
    assert other == Tooth.from_iso("extra beside 12")


@pytest.mark.parametrize("language", ["en", "es", "de", "fr"])
def test_days_and_amounts_are_read_as_they_are_printed_in_each_language(language: str) -> None:
    for month in range(1, 13):
        printed_day = DAY_0.replace(month=month)
        assert reader(language).day(f"x {day(printed_day, language)}, y") == printed_day.isoformat()
    for cents in (0, 5, 6675, 161825, 123456789):
        assert reader(language).cents(f"CAD\u00a0{amount(cents, language)}") == cents


def test_spanish_days_may_say_of() -> None:
    assert reader("es").day("nacido el 16 de julio de 1979") == "1979-07-16"


def test_lengths_are_read_in_cells_and_in_sentences() -> None:
    assert [cell(text) for text in ("8.3", "+0.3", "−0.5", "–", "0,5", "A2", "0.5 mm")] == [83, 3, -5, 0, 5, None, 5]
    assert lengths("from 10.1\u00a0mm, 0,5 mm off, 50 mm, 3 visits") == (101, 5, 500)


def test_papers_are_read_by_the_very_texts_they_are_printed_from() -> None:
    """A translation is found by the whole text; a part of one would be found in English alone."""
    folder = settings.BASE_DIR / "planner" / "letters"
    printed_from = " ".join(
        re.sub(r"\{\{ (\w+) \}\}", r"%(\1)s", file.read_text())
        for file in [*(settings.BASE_DIR / "templates" / "letters").glob("*.html"), *folder.glob("*.py")]
        if file.name not in READING
    )
    asked = set()
    for name in READING:
        for node in ast.walk(ast.parse((folder / name).read_text())):
            if isinstance(node, ast.Constant) and isinstance(node.value, str) and SENTENCE.search(node.value):
                asked.add(node.value)
            elif isinstance(node, ast.Call) and getattr(node.func, "attr", getattr(node.func, "id", "")) == "said":
                asked |= {one.value for one in node.args if isinstance(one, ast.Constant)}
    assert len(asked) > 40
    missing = {text for text in asked if not any(f"{before}{text}{after}" in printed_from for before, after in MARKS)}
    assert missing == set()


# ------------------------------------------------------------------------------------ nobody is told anything wrongly


def before_print(plan: bytes, kind: str, points: int = 11) -> Printed:
    """A paper's words before it is printed: quicker, and the same that the file holds."""
    return Printed("en", blocks_of_html(job(plan, kind, ISSUE, points=points).html), ())


ELSEWHERE = {STEP_SHEET: {"length to be", "work"}, "receipt": {"options"}, "refund-letter": {"options"}}
"""What the samples of these papers, made for other tests, say otherwise than the case does: one edge, one name."""


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind not in (NOT_NOW, ESTIMATE, LETTER, SHEET, ORDER)])
def test_every_other_kind_of_paper_agrees_with_them(kind: str) -> None:
    html = job(case_plan().to_json(), kind, replace(ISSUE, **beside(kind))).html
    option = "Adding to three teeth and reshaping one" if kind == STEP_SHEET else ""
    facts = facts_of_paper(Printed("en", blocks_of_html(html), ()), "en", about_option=option)
    other = Paper(str(KINDS[kind].title), kind, facts=facts)
    assert facts
    found = told(paper(ESTIMATE), paper(LETTER), paper(SHEET), paper(ORDER), other)
    assert {one.place[0] for one in found} == ELSEWHERE.get(kind, set())


def test_words_before_printing_state_what_the_file_states() -> None:
    plan = case_plan().to_json()
    for kind in (ESTIMATE, LETTER, ORDER):
        drawn = {(fact.about, fact.key, fact.value) for fact in facts_of_paper(before_print(plan, kind), "en")}
        file = {(fact.about, fact.key, fact.value) for fact in paper(kind).facts}
        assert drawn <= file
        assert {key[0] for _about, key, _value in file - drawn} <= {"patient", "initials", "born", "estimate"}


@pytest.mark.parametrize("name", list(stories.PLANNED))
def test_papers_of_everybody_agree(name: str) -> None:
    plan = plan_case(stories.facts_of(name), tern_row(), stories.planned_on(name)).to_json()
    papers = [paper(kind, before_print(plan, kind)) for kind in kinds_of(plan, ISSUE)]
    assert sum(len(one.facts) for one in papers) > 10
    assert told(*papers) == ()


@pytest.mark.parametrize("name", ["lead", "nikhil", "linnea"])
def test_papers_in_spanish_state_what_the_english_ones_do(name: str) -> None:
    facts = stories.facts_of(name)
    facts = facts.model_copy(update={"patient": facts.patient.model_copy(update={"language": "es"})})
    made = plan_case(facts, tern_row(), stories.planned_on(name))
    names = {said: option.name for option in made.options for said in (option.name, option.name_es)}
    plan, both = made.to_json(), []
    for kind in (ESTIMATE, LETTER, SHEET):
        for language in ("en", "es"):
            html = job(plan, kind, ISSUE, language=language).html
            stated = facts_of_paper(Printed(language, blocks_of_html(html), ()), language, names)
            both.append(Paper(f"{kind} {language}", kind, language=language, facts=stated))
    assert told(*both) == ()
    for english, spanish in zip(both[::2], both[1::2], strict=True):
        ours, theirs = ({(fact.about, fact.key) for fact in one.facts} for one in (english, spanish))
        # Words of services and of lines are others in Spanish; everything else is stated in both.
        left = {(about, key) for about, key in ours - theirs if key[0] not in ("belongs", "lines")}
        assert left == set(), english.title


@pytest.mark.parametrize("points", [14, 18, 24])
def test_papers_in_other_print_sizes_state_the_same(points: int) -> None:
    plan = case_plan().to_json()
    large = [paper(kind, before_print(plan, kind, points=points)) for kind in (ESTIMATE, LETTER, SHEET)]
    assert told(paper(ESTIMATE), paper(LETTER), paper(SHEET), paper(ORDER), *large) == ()
    for one in large:
        heads = {("initials",), ("patient",), ("born",), ("estimate",)}
        assert {fact.key for fact in paper(one.kind).facts} - {fact.key for fact in one.facts} <= heads


# ------------------------------------------------------------------------------------ stored papers


@pytest.fixture
def owner(db: None) -> Staff:
    """Owner dentist of an office with prices."""
    return priced_office()


@pytest.fixture
def shown(owner: Staff, lead_case: CaseFacts) -> Estimate:
    return shown_estimate(owner, lead_case)


def wrong_estimate(estimate: Estimate, owner: Staff) -> Document:
    """An estimate on paper that says another total than its plan, and carries the plan all the same."""
    assert estimate.frozen is not None
    content, issue = bytes(estimate.frozen.content), issue_of(estimate)
    plan = json.loads(content)
    option = next(one for one in plan["options"] if one["key"] == plan["recommended"])
    option["estimate"]["total_cents"] = 161285
    wrong = job(json.dumps(plan).encode(), ESTIMATE, issue)
    made = quick(replace(wrong, attached=job(content, ESTIMATE, issue).attached))
    return Document.objects.create(
        office=estimate.office,
        frozen=estimate.frozen,
        estimate=estimate,
        kind=ESTIMATE,
        version_words=issue.version_words,
        language="en",
        points=11,
        paper="A4",
        issue_sha256=sha256(b"wrong"),
        plan_sha256=estimate.frozen.sha256,
        content=made.content,
        sha256=sha256(made.content),
        pages=made.pages,
        created_by=owner,
        at=NOW,
    )


@pytest.mark.django_db
def test_nothing_is_signed_or_shown_while_papers_differ(shown: Estimate, owner: Staff) -> None:
    consent = handed(shown, owner)
    client, url = client_of(owner), f"/letters/of/{shown.public_id}/agree/"
    assert papers_disagree(shown) == ()
    assert "no two of them differ" in client.get(url).content.decode()
    assert before_signing(consent, LATER).facts.contradictions == ()
    queries = queries_of(client, url)
    wrong = wrong_estimate(shown, owner)
    found = papers_disagree(shown)
    assert {one.about for one in found} == {About.PRICE}
    said = stand_against(found)[0]
    for part in (
        "Estimate (1, version 1), page 1: CAD 1,612.85",
        "consent letter (1, version 1), page",
        "CAD 1,618.25",
    ):
        assert part in " ".join(stand_against(found))
    with pytest.raises(Refused, match="Papers differ on the price of “Bonding with reshaping”"):
        sign(consent, owner)
    again = {"estimate": shown, "seen": shown.version, "to": "A. B.", "channel": Channel.PAPER, "now": LATER}
    with pytest.raises(Refused, match="Papers differ on the price of “Bonding with reshaping”"):
        show_estimate(actor=owner, **again)
    page = client.get(url).content.decode()
    assert "<q>CAD 1,612.85</q>" in page
    assert "<html" not in client.get(url, headers={"HX-Request": "true"}).content.decode()
    assert queries_of(client, url) == queries
    # A file that cannot be read agrees with nothing.
    unread = {
        "public_id": "unreadable-one",
        "issue_sha256": sha256(b"unread"),
        "content": b"%PDF-no",
        "sha256": said[:64],
    }
    for name, value in ({"pk": None} | unread).items():
        setattr(wrong, name, value)
    Document.objects.bulk_create([wrong])
    assert any("cannot be read back" in one for one in stand_against(papers_disagree(shown)))


@pytest.mark.django_db
def test_who_sees_where_papers_differ(
    shown: Estimate, owner: Staff, outsider: Staff, person: Callable[..., Staff], monkeypatch: pytest.MonkeyPatch
) -> None:
    url = f"/letters/of/{shown.public_id}/agree/"
    order = changed(ORDER, "gap 0.8", "gap 0.3")
    monkeypatch.setattr("planner.letters.agree_views.compared", lambda _estimate: (paper(LETTER), order))
    assert "<q>0.3 mm</q>" in client_of(owner).get(url).content.decode()
    desk = client_of(person(Role.FRONT_DESK)).get(url).content.decode()
    # An order to a workshop is not for the desk; that something is wrong with it is.
    assert "<q>0.3 mm</q>" not in desk
    assert "Papers that you may not see differ in one place" in desk
    for who, status in ((person(Role.ASSISTANT), 403), (person(Role.KEEPER), 403), (outsider, 404)):
        with refusals() as noted:
            assert client_of(who).get(url).status_code == status
        assert len(noted) == 1
    assert client_of(None).get(url).status_code == 302


# ------------------------------------------------------------------------------------ what is paid in parts


@pytest.fixture
def in_part(owner: Staff) -> AcceptedPlan:
    """Two teeth of an option, said yes to: CAD 685.00 of CAD 1,618.25."""
    estimate = sample.shown_estimate(owner, "lead")
    assert estimate.frozen is not None
    option = read_frozen(estimate.frozen).option("reshape-bond")
    pieces = [one.key for one in pieces_of(option) if one.tooth is not None and one.tooth.iso in ("13", "22")]
    plan = accept_option(
        estimate=estimate,
        seen=estimate.version,
        option=option.key,
        chosen=pieces,
        by=estimate.case.patient.name,
        capacity="patient",
        actor=owner,
        now=sample.when("lead"),
    )
    assert plan.total_cents == 68500
    return plan


def less_an_edge(plan: AcceptedPlan, owner: Staff, now: datetime) -> Amendment:
    """The plan without what is done at the edge of one tooth."""
    dropped = [item for item in plan.items.all() if item.service == "reshape"]
    change = amending.amend(
        plan=plan, cause=Cause.PATIENT, reason="not this one", dropped=dropped, actor=owner, now=now
    )
    assert change.after_cents != change.before_cents
    return change


def in_instalments(plan: AcceptedPlan, owner: Staff, now: datetime, reason: str = "") -> Document:
    """The agreement to pay what was accepted in three parts, as a paper."""
    assert plan.estimate is not None
    typed = Typed(0, 3, TODAY + timedelta(days=60), Decimal(0))
    payer = Payer(plan.accepted_by, "the patient")
    arranging.agree(estimate=plan.estimate, typed=typed, payer=payer, reason=reason, actor=owner, now=now)
    made = render_papers(
        frozen=plan.frozen,
        kinds=[ESTIMATE, AGREEMENT],
        issue=issue_of(plan.estimate),
        actor=owner,
        now=now,
        estimate=plan.estimate,
        make=quick,
    )
    return made[-1]


@pytest.mark.django_db
def test_an_agreement_on_a_part_is_held_against_what_the_part_comes_to(
    in_part: AcceptedPlan, owner: Staff, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert in_part.estimate is not None
    in_instalments(in_part, owner, LATER)
    assert papers_disagree(in_part.estimate) == ()
    # As if the whole option were to be paid.
    monkeypatch.setattr("planner.plans.arranging.came_to", lambda _plan: 161825)
    in_instalments(in_part, owner, LATER + timedelta(days=1), "by mistake")
    (found,) = stand_against(papers_disagree(in_part.estimate))
    assert "Papers differ on the price of “Bonding with reshaping: a part”" in found
    assert "CAD 1,618.25" in found
    assert re.search(r"But accepted plan as of .*: CAD\u00a0685\.00\.", found)


@pytest.mark.django_db
def test_an_agreement_after_a_change_is_held_against_what_the_change_left(
    owner: Staff, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = sample.accepted(owner, "lead", "reshape-bond")
    assert plan.estimate is not None
    in_instalments(plan, owner, LATER)
    assert papers_disagree(plan.estimate) == ()
    change = less_an_edge(plan, owner, LATER + timedelta(days=1))
    # What was agreed on before stays right: its dues change by a new agreement only.
    assert papers_disagree(plan.estimate) == ()
    in_instalments(plan, owner, LATER + timedelta(days=2), "the plan was changed")
    latest = latest_arrangement(plan.estimate)
    assert latest is not None
    assert json.loads(read_arrangement(latest))["total_cents"] == change.after_cents
    assert papers_disagree(plan.estimate) == ()
    # As if the change had never been.
    monkeypatch.setattr("planner.plans.arranging.came_to", lambda _plan: plan.total_cents)
    in_instalments(plan, owner, LATER + timedelta(days=3), "by mistake")
    (found,) = papers_disagree(plan.estimate)
    assert (found.about, found.since_changed, found.second.kind) == (About.PRICE, False, "accepted-plan")
    assert found.second.says == f"CAD\u00a0{amount(change.after_cents, 'en')}"
    page = client_of(owner).get(f"/letters/of/{plan.estimate.public_id}/agree/").content.decode()
    assert "accepted plan as of" in page


@pytest.mark.django_db
def test_nothing_is_agreed_on_while_a_change_waits_for_its_signature(owner: Staff) -> None:
    plan = sample.accepted(owner, "lead", "reshape-bond")
    added = [Charge("build-up", 1, (Tooth.from_iso("12"),), "looks only", "she asked for it")]
    amending.amend(plan=plan, cause=Cause.FINDING, reason="a chip", added=added, actor=owner, now=LATER)
    with pytest.raises(Refused, match="waits for its signature"):
        in_instalments(plan, owner, LATER)
