"""Pages of one consent: where it stands, handing over, talks, questions, signing, countersigning, taking back."""

import json
import re
from collections.abc import Callable
from datetime import datetime, timedelta
from functools import partial
from typing import Any

import pytest
from django.conf import settings
from django.test import Client
from django.utils.html import escape

from planner.letters.consent_models import Channel, Consent, Handing, Signature, TalkHeld, Withdrawal
from planner.letters.consent_signing import sign_letter
from planner.letters.consents import answer_question, ask_question, hand_letter
from planner.letters.letter_said import changes
from planner.letters.withdrawing import withdraw_consent
from planner.plans.consent_stops import stands_still
from planner.plans.models import Estimate
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.casefile import parse_case, resolve_days, validate_case
from planner.rules.mouth import CaseFacts
from planner.trail.errors import Refused
from planner.trail.models import TrailEntry
from tests.letters.conftest import texts
from tests.letters.consents import LATER, LICENCE, handed, letter_of, quick, shown_estimate, sign
from tests.letters.test_consents import accepted
from tests.letters.test_languages import STOP_WORDS
from tests.pages import client_of, priced_office, queries_of, refusals
from tests.standing import changed, stands
from tests.standing import told as sentences
from tests.support import NOW, PASSWORD, TODAY

pytestmark = pytest.mark.django_db
STROKES = "[[[100,100,0],[300,150,120],[500,90,260]],[[520,120,600],[700,140,800]]]"


FAULTS: tuple[tuple[dict[str, str], str, str], ...] = (
    ({"signer": "Somebody Else", "typed": "Somebody Else"}, "signer", "own name"),
    ({"basis": "parent"}, "signer", "decides"),
    (
        {"interpreter": "Tilda", "interpreter_adult": "no", "interpreter_relation": "daughter"},
        "interpreter_adult",
        "is a child and never interprets",
    ),
    ({"interpreted": "on"}, "interpreter", "Write the interpreter's name"),
    ({"capacity_doubted": "on"}, "capacity_note", "Capacity was doubted"),
    ({"talk_on": ""}, "talk_on", "Write the day"),
    ({"licence": " "}, "licence", "licence number"),
    ({"understood": ""}, "understood", "own words"),
    ({"choice": "yes, to a part"}, "pieces", "tick the pieces"),
    ({"typed": "Anselm"}, "typed", "as it stands above"),
    ({"method": "drawn"}, "method", "Nothing is drawn yet"),
    ({"method": "drawn", "strokes": "[[[1,1,1]]]"}, "strokes", "is a dot"),
    ({"method": "drawn", "strokes": "<script>"}, "strokes", "cannot be read"),
)
"""One wrong answer each, the field at which it is told, and words of the sentence."""


@pytest.fixture
def owner(db: None) -> Staff:
    """Owner dentist of an office with prices."""
    return priced_office()


@pytest.fixture
def shown(owner: Staff, lead_case: CaseFacts) -> Estimate:
    return shown_estimate(owner, lead_case)


@pytest.fixture
def consent(shown: Estimate, owner: Staff) -> Consent:
    return handed(shown, owner)


@pytest.fixture(autouse=True)
def two_days_later(monkeypatch: pytest.MonkeyPatch) -> None:
    """The pages are looked at two days after the letter was handed over; sheets are drawn in this process."""
    monkeypatch.setattr("planner.letters.sign_views.sign_letter", partial(sign_letter, make=quick))
    at(monkeypatch, LATER)


def at(monkeypatch: pytest.MonkeyPatch, now: datetime) -> None:
    """Let every page be asked for at ``now``."""
    monkeypatch.setattr("django.utils.timezone.now", lambda: now)


def url(consent: Consent, more: str = "") -> str:
    return f"/letters/consent/{consent.public_id}/{more}"


def told(consent: Consent, owner: Staff, **changes: str | list[str]) -> dict[str, Any]:
    """A signing form as an adult fills it in who signs alone."""
    letter = consent.handings.order_by("-pk")[0].document
    values: dict[str, Any] = {
        "letter": letter.sha256,
        "basis": "self",
        "signer": consent.case.patient.name,
        "id_seen": "known in person",
        "clinician": owner.public_id,
        "talk_on": TODAY.isoformat(),
        "licence": LICENCE,
        "read": "on paper, before this day",
        "understood": "The tip of one tooth comes off, three get wider.",
        "choice": "yes",
        "copy": "on paper, by hand",
        "electronic": "yes",
        "method": "typed name",
        "typed": consent.case.patient.name,
        "tick_photos": "yes",
        "seen_parts": "9",
        "all_parts": "12",
        "seconds": "140",
    }
    return values | changes


def send(client: Client, consent: Consent, values: dict[str, Any]) -> Any:
    """Send the form with the password, as the second page does."""
    return client.post(url(consent, "sign/"), values | {"password_again": PASSWORD})


def test_a_letter_is_handed_over_on_its_page(shown: Estimate, owner: Staff) -> None:
    letter = letter_of(shown, owner)
    client = client_of(owner)
    form = {"to": "Anselm", "channel": "on paper, by hand", "on": LATER.date().isoformat(), "hour": ""}
    wrong = client.post(f"/letters/{letter.public_id}/hand/", form | {"on": TODAY.isoformat()})
    assert "That was not today: write the hour" in wrong.content.decode()
    answer = client.post(f"/letters/{letter.public_id}/hand/", form)
    row = Handing.objects.get()
    assert answer["Location"] == url(row.consent)
    assert (row.document, row.to, row.handed_at, row.channel) == (letter, "Anselm", LATER, Channel.PAPER)
    page = client.get(url(row.consent)).content.decode()
    assert "Still 24 hours" in page
    assert "it may be signed from" in page
    assert "The time to think it over is not over yet." in page
    assert url(row.consent) in client.get(f"/letters/{letter.public_id}/").content.decode()


def test_what_stands_against_leads_to_where_it_is_settled(consent: Consent, shown: Estimate, owner: Staff) -> None:
    ask_question(consent=consent, words="Will it hurt?", asked_by="A.", clinical=True, actor=owner, now=NOW)
    newer = letter_of(shown, owner, now=LATER, own_risks=("Chips are more likely.",))
    page = client_of(owner).get(url(consent))
    against = {one.words: one.url for one in page.context["obstacles"]}
    assert against == {
        "Questions are open: 1.": url(consent, "#h-questions"),
        "There is a newer letter: hand that one over, and sign it.": f"/letters/{newer.public_id}/hand/",
    }
    assert page.context["left"] == ""


def test_a_question_has_an_owner_and_a_day(
    consent: Consent, owner: Staff, person: Callable[..., Staff], monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = person(Role.FRONT_DESK)
    asked = {"words": "Will it hurt?", "asked_by": "Anselm", "clinical": "yes", "owner": desk.public_id}
    due = {"due_on": (LATER + timedelta(days=1)).date().isoformat()}
    refused = client_of(desk).post(url(consent, "question/"), asked | due).content.decode()
    assert "is no dentist here: a dentist answers" in refused
    assert "Will it hurt?" in refused
    past = client_of(desk).post(url(consent, "question/"), asked | {"due_on": "2020-01-01"}).content.decode()
    assert "is too early" in past
    client_of(desk).post(url(consent, "question/"), asked | due | {"owner": owner.public_id})
    question = consent.questions.get()
    assert (question.owner, question.due_on) == (owner, (LATER + timedelta(days=1)).date())
    with monkeypatch.context() as later:
        at(later, LATER + timedelta(days=2))
        assert "Open, and its day is past." in client_of(desk).get(url(consent)).content.decode()
    address = url(consent, f"question/{question.public_id}/")
    assert client_of(desk).get(address).status_code == 403
    client_of(owner).post(address, {"words": "A little."})
    assert question.answers.get().words == "A little."


def test_a_talk_is_recorded_with_its_dentist(consent: Consent, owner: Staff, person: Callable[..., Staff]) -> None:
    desk = person(Role.FRONT_DESK)
    form = {"clinician": owner.public_id, "on": TODAY.isoformat(), "hour": "9:30", "words": "All options."}
    client_of(desk).post(url(consent, "talk/"), form)
    talk = TalkHeld.objects.get()
    assert (talk.clinician, talk.by, talk.held_at.astimezone(consent.office.zone).hour) == (owner, desk, 9)
    begun = client_of(desk).get(url(consent, "sign/")).context["form"]
    assert begun.initial["clinician"] == owner.public_id
    assert begun.initial["talk_on"] == TODAY
    nobody = client_of(desk).post(url(consent, "talk/"), form | {"clinician": desk.public_id})
    assert TalkHeld.objects.count() == 1
    assert nobody.status_code == 200


class TestSigning:
    def test_the_password_is_asked_before_anything_is_stored(
        self, consent: Consent, owner: Staff, person: Callable[..., Staff]
    ) -> None:
        assistant = person(Role.ASSISTANT)
        client, values = client_of(assistant), told(consent, owner)
        asks = client.post(url(consent, "sign/"), values)
        assert asks.templates[0].name == "practice/again.html"
        assert dict(asks.context["sent"]) == values
        wrong = client.post(url(consent, "sign/"), values | {"password_again": "not it"})
        assert "This is not your password" in wrong.content.decode()
        assert "not it" not in wrong.content.decode()
        assert not Signature.objects.exists()
        assert TrailEntry.objects.filter(act="refused.said.again").count() == 1
        done = send(client, consent, values)
        signature = Signature.objects.get()
        assert done["Location"] == url(consent)
        assert (signature.clinician, signature.by, signature.signer) == (owner, assistant, consent.case.patient.name)
        assert '"said_again":true' in signature.content
        assert '"seconds":140' in signature.content
        page = client.get(url(consent)).content.decode()
        assert f"/letters/{signature.copy.public_id}/file/" in page
        assert "not yet" in page
        # Somebody else who has it before them too signs nothing anew, and reads what was signed.
        other, before = client_of(owner), stands()
        second = send(other, consent, values | {"choice": "no"})
        said = f"signed. {signature.signer} signed: yes; recorded by {assistant.full_name} on 4 March 2026."
        assert said in sentences(second)
        assert changed(before) == []

    def test_a_stale_page_is_told_what_changed_and_loses_nothing(
        self, consent: Consent, shown: Estimate, owner: Staff
    ) -> None:
        client, values = client_of(owner), told(consent, owner)
        newer = letter_of(shown, owner, now=NOW, own_risks=("Chips are more likely.",), guarantee="Two years.")
        anew = hand_letter(document=newer, to="A.", channel=Channel.PAPER, actor=owner, now=NOW)
        page = send(client, consent, values)
        told_now = {one.name: (one.before, one.after) for one in page.context["changed"]}
        assert told_now == {
            "What weighs in this case": ((), ("Chips are more likely.",)),
            "Guarantee": ((), ("Two years.",)),
        }
        assert "Chips are more likely." in page.content.decode()
        form = page.context["form"]
        assert form["letter"].value() == newer.sha256
        assert form["understood"].value() == values["understood"]
        assert not Signature.objects.exists()
        done = send(client, anew, values | {"letter": newer.sha256})
        assert done["Location"] == url(anew)
        assert Signature.objects.get().document == newer

    def test_another_print_size_is_told_too(self, consent: Consent, shown: Estimate, owner: Staff) -> None:
        values = told(consent, owner)
        large = letter_of(shown, owner, points=24, now=NOW)
        hand_letter(document=large, to="A.", channel=Channel.PAPER, actor=owner, now=NOW)
        page = send(client_of(owner), consent, values)
        assert [one.name for one in page.context["changed"]] == ["Language, print and sheet"]

    def test_a_paper_that_is_not_known_is_no_letter(self, consent: Consent, owner: Staff) -> None:
        page = send(client_of(owner), consent, told(consent, owner, letter="0" * 64))
        assert page.context["changed"] == ()
        assert "is not known here" in page.content.decode()
        assert not Signature.objects.exists()

    def test_it_is_drawn(self, consent: Consent, owner: Staff) -> None:
        send(client_of(owner), consent, told(consent, owner, method="drawn", strokes=STROKES, typed=""))
        signature = Signature.objects.get()
        assert signature.method == "drawn"
        assert "[300,150,120]" in signature.content

    def test_a_mark_takes_a_witness_and_a_spoken_yes_two(self, consent: Consent, owner: Staff) -> None:
        client = client_of(owner)
        mark = told(consent, owner, method="mark before a witness", strokes=STROKES)
        assert "takes a witness who is somebody else" in send(client, consent, mark).content.decode()
        spoken = told(consent, owner, method="spoken yes before two of the staff", witness_one="Ida Both")
        assert "takes two of the staff" in send(client, consent, spoken).content.decode()
        send(client, consent, mark | {"witness_one": "Ida Both"})
        assert Signature.objects.get().method == "mark before a witness"

    def test_each_fault_stands_at_its_field(self, consent: Consent, owner: Staff) -> None:
        client = client_of(owner)
        for wrong, field, words in FAULTS:
            page = send(client, consent, told(consent, owner, **wrong))
            found = page.context["form"].errors.get(field, [])
            assert any(words in sentence for sentence in found), (wrong, page.context["form"].errors)
            assert page.templates[0].name == "letters/sign.html"
        assert not Signature.objects.exists()

    def test_an_expired_estimate_is_not_signed(
        self, consent: Consent, shown: Estimate, owner: Staff, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        assert shown.valid_through is not None
        at(monkeypatch, LATER + (shown.valid_through - TODAY))
        page = send(client_of(owner), consent, told(consent, owner))
        assert "The estimate is not in date" in page.content.decode()
        assert not Signature.objects.exists()


def test_countersigning_is_the_dentists_own(consent: Consent, owner: Staff, person: Callable[..., Staff]) -> None:
    assistant = person(Role.ASSISTANT)
    send(client_of(assistant), consent, told(consent, owner))
    signature = Signature.objects.get()
    assert client_of(assistant).get(url(consent, "countersign/")).status_code == 403
    client = client_of(owner)
    asks = client.post(url(consent, "countersign/"), {"licence": LICENCE})
    assert asks.templates[0].name == "practice/again.html"
    client.post(url(consent, "countersign/"), {"licence": LICENCE, "password_again": PASSWORD})
    signature.refresh_from_db()
    assert signature.countersignature.by == owner


def test_anybody_takes_a_consent_back_at_once(consent: Consent, owner: Staff, person: Callable[..., Staff]) -> None:
    sign(consent, owner)
    form = {
        "words": "I want no more of it.",
        "said_by": "Anselm",
        "how": "by telephone",
        "on": LATER.date().isoformat(),
    }
    desk = client_of(person(Role.FRONT_DESK))
    empty = desk.post(url(consent, "withdraw/"), form | {"words": ""}).content.decode()
    assert "by telephone" in empty
    assert "sure" not in empty.casefold()
    answer = desk.post(url(consent, "withdraw/"), form)
    assert answer["Location"] == url(consent)
    assert Withdrawal.objects.get().words == "I want no more of it."
    page = desk.get(url(consent)).content.decode()
    assert "I want no more of it." in page
    assert "Sign on this screen" not in page
    assert desk.get(url(consent, "sign/"))["Location"] == url(consent)


def test_who_sees_and_signs(
    consent: Consent, owner: Staff, outsider: Staff, person: Callable[..., Staff], shown: Estimate
) -> None:
    manager, keeper = client_of(person(Role.MANAGER)), client_of(person(Role.KEEPER))
    theirs, pages = client_of(outsider), [url(consent), url(consent, "sign/"), url(consent, "question/")]
    assert client_of(None).get(pages[0])["Location"].startswith("/sign-in/")
    assert [manager.get(one).status_code for one in pages] == [200, 403, 403]
    assert manager.get(url(consent, "withdraw/")).status_code == 200
    colleague = client_of(person(Role.DENTIST))
    assert [colleague.get(one).status_code for one in pages] == [200, 200, 200]
    listed = f"/letters/consents/{shown.case.public_id}/"
    for client, status in ((keeper, 403), (theirs, 404)):
        for one in (*pages, url(consent, "withdraw/"), listed):
            with refusals() as noted:
                assert client.get(one).status_code == status, one
            assert len(noted) == 1
    assert "letter handed" in manager.get(listed).content.decode()


def test_queries_of_the_list_do_not_grow_with_the_consents(consent: Consent, owner: Staff) -> None:
    client, listed = client_of(owner), f"/letters/consents/{consent.case.public_id}/"
    client.get(listed)
    few, paper = queries_of(client, listed), consent.handings.get().document
    for number in range(4):
        row = Consent.objects.create(
            office=consent.office, case=consent.case, estimate=consent.estimate, option_key=consent.option_key,
            says_sha256=f"{number:064}", state=consent.state, at=NOW,
        )  # fmt: skip
        Handing.objects.create(
            office=consent.office, consent=row, document=paper, to="A.", channel=Channel.PAPER, handed_at=NOW,
            by=owner, at=NOW,
        )  # fmt: skip
    assert queries_of(client, listed) == few
    assert client.get(listed).content.decode().count("letter handed") >= 5


def test_queries_do_not_grow_with_what_was_asked_and_handed(consent: Consent, owner: Staff, shown: Estimate) -> None:
    def ask(n: int) -> None:
        for number in range(n):
            ask_question(consent=consent, words=f"{number}?", asked_by="A.", clinical=False, actor=owner, now=NOW)

    client = client_of(owner)
    client.get(url(consent))  # what a process reads once is read
    ask(1)
    few = [queries_of(client, one) for one in (url(consent), url(consent, "sign/"))]
    ask(4)
    letter = consent.handings.get().document
    hand_letter(document=letter, to="B.", channel=Channel.POST, actor=owner, now=NOW)
    assert [queries_of(client, one) for one in (url(consent), url(consent, "sign/"))] == few


def test_a_name_signs_as_the_person_writes_it(lead_case: CaseFacts, owner: Staff) -> None:
    """Right to left, apostrophes and sixty letters at once; each of them alone is tested with the rules."""
    name = "שרה כהן O’Brien-D'Arcy Wolfeschlegelsteinhausenbergerdorffvor"
    facts = lead_case.model_copy(update={"patient": lead_case.patient.model_copy(update={"name": name})})
    consent = handed(shown_estimate(owner, facts), owner)
    client = client_of(owner)
    assert client.get(url(consent, "sign/")).context["form"].initial["signer"] == name
    send(client, consent, told(consent, owner, signer=f"  {name} ", typed=name))
    signature = Signature.objects.get()
    assert signature.signer == name
    assert name in signature.content
    page = client.get(url(consent)).content.decode()
    assert escape(name) in page


def test_only_what_is_ticked_is_taken_back_and_stands_still(shown: Estimate, consent: Consent, owner: Staff) -> None:
    plan = accepted(shown, owner)
    sign(consent, owner)
    client = client_of(owner)
    items = list(plan.items.all())
    offered = client.get(url(consent, "withdraw/")).context["form"].fields["items"].choices
    assert [key for key, _words in offered] == [item.public_id for item in items]
    form = {"words": "Not that one.", "said_by": "Anselm", "how": "in person", "on": LATER.date().isoformat()}
    odd = client.post(url(consent, "withdraw/"), form | {"items": ["nothing"]})
    assert odd.status_code == 200
    client.post(url(consent, "withdraw/"), form | {"items": [items[0].public_id]})
    assert [stands_still(item) for item in plan.items.all()] == [True] + [False] * (len(items) - 1)
    consent.refresh_from_db()
    assert consent.state == "signed"
    page = client.get(url(consent)).content.decode()
    assert "Not that one." in page
    left = client.get(url(consent, "withdraw/")).context["form"].fields["items"].choices
    assert [key for key, _words in left] == [item.public_id for item in items[1:]]
    # The same from somebody who has it open too: not again, and not as a whole once nothing is left to tick.
    given: dict[str, Any] = {"words": "None.", "said_by": "Anselm", "how": "in person", "actor": owner, "now": LATER}
    for rest in (items[1:], []):
        before = stands()
        again = client.post(url(consent, "withdraw/"), form | {"items": [items[0].public_id]})
        assert "One of these was taken back, done or left out meanwhile" in sentences(again)
        with pytest.raises(Refused, match="was taken back by Olive Owner on 4 March 2026"):
            withdraw_consent(consent=consent, items=items[:1], **given)
        assert changed(before) == []
        if rest:
            withdraw_consent(consent=consent, items=rest, **given)
    consent.refresh_from_db()
    assert consent.state == "signed"


def test_a_yes_to_a_part_names_its_pieces(consent: Consent, owner: Staff) -> None:
    client = client_of(owner)
    pieces = [key for key, _words in client.get(url(consent, "sign/")).context["form"].fields["pieces"].choices]
    send(client, consent, told(consent, owner, choice="yes, to a part", pieces=pieces[:2]))
    signature = Signature.objects.get()
    assert (signature.choice, signature.pieces) == ("yes, to a part", pieces[:2])


def test_nobody_waits_to_say_no(consent: Consent, owner: Staff, monkeypatch: pytest.MonkeyPatch) -> None:
    at(monkeypatch, NOW + timedelta(hours=1))
    client = client_of(owner)
    assert "not over yet" in send(client, consent, told(consent, owner)).content.decode()
    send(client, consent, told(consent, owner, choice="no treatment", understood=""))
    assert Signature.objects.get().choice == "no treatment"


def test_somebody_who_reads_spanish_signs_in_spanish(owner: Staff) -> None:
    """What the patient answers and signs, and the sheet behind the letter, are in the letter's language."""
    written = parse_case((settings.BASE_DIR / "fixtures" / "cases" / "lead.json").read_bytes())
    written["patient"]["language"] = "es"
    estimate = shown_estimate(owner, validate_case(resolve_days(written, TODAY), TODAY))
    english = letter_of(estimate, owner)
    spanish = handed(estimate, owner, language="es")
    (other,) = changes(english, spanish.handings.get().document)
    assert (other.before, other.after) == (("English, 11 puntos, A4",), ("Español, 11 puntos, A4",)), "one letter"
    page = client_of(owner).get(url(spanish, "sign/"))
    labels = [str(field.label) for field in page.context["form"] if not (field.is_hidden or "tick_" in field.name)]
    page = page.content.decode()
    assert "Name of whoever consents" in labels, "labels are compared in English"
    assert '<html lang="es">' in page
    for words in ("Firmo esta carta por mi propia voluntad", "Sí, a todo", "Dibujo mi firma", "Fotos para la historia"):
        assert words in page
    for words in ("Firmar</button>", "Qué dice la carta", "Doy mi consentimiento", "La conversación", "por mi cuenta"):
        assert words in page
    for english in labels:
        assert f">{escape(english)}<" not in page, english
    shown = " ".join(re.sub(r"<head.*?</head>|<[^>]+>", " ", page, flags=re.DOTALL).split())
    assert not [shown[max(0, at.start() - 40) : at.end() + 30] for at in STOP_WORDS.finditer(shown)]
    for attribute in re.findall(r'(?:aria-label|data-none|data-some)="([^"]*)"', page):
        assert not STOP_WORDS.search(attribute), attribute
    wrong = client_of(owner).post(url(spanish, "sign/"), told(spanish, owner, id_seen="", typed="x")).context["form"]
    assert wrong.errors["id_seen"] == ["Diga cómo se sabe quién firma: en persona o por qué documento."]
    assert wrong.errors["typed"][0].startswith("Escriba el nombre de quien consiente tal como está arriba")
    wrong = client_of(owner).post(url(spanish, "sign/"), told(spanish, owner, talk_on="2.13.2026", choice=""))
    assert "no está en el calendario" in wrong.content.decode()
    assert "Aún no se ha guardado nada." in wrong.content.decode()
    wrong = client_of(owner).post(url(spanish, "sign/"), told(spanish, owner, signer="Jemima", typed="Jemima"))
    assert "firma con su propio nombre" in wrong.context["form"].errors["signer"][0]
    said = {"consent": spanish, "words": "¿Hay que ayunar?", "asked_by": "Anselm Brightwater", "clinical": False}
    question = ask_question(**said, owner=owner, actor=owner, now=LATER)
    wrong = client_of(owner).post(url(spanish, "sign/"), told(spanish, owner))
    assert "Quedan preguntas abiertas: 1." in wrong.content.decode()
    answer_question(question=question, words="No.", actor=owner, now=LATER)
    signature = sign(spanish, owner, copy="on paper, by hand")
    assert json.loads(signature.content)["intent"].startswith("Firmo esta carta")
    sheet = " ".join(texts(bytes(signature.copy.content))[signature.document.pages :])
    for words in (
        "por mi cuenta",
        "en papel, en mano",
        "nombre escrito",
        "Añadir resina y retocar un borde",
        "regla de",
    ):
        assert words in sheet
    for words in ("self", "typed name", "on paper", "Bonding", "years old", "clock of", "taking away", "2026-03-02"):
        assert words not in sheet
