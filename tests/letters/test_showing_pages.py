"""An estimate put before a patient at the desk, and the screen handed over: nothing else answers until it is taken
back.
"""

import re
from collections.abc import Callable
from datetime import timedelta
from functools import partial
from typing import Any

import pytest
from django.conf import settings
from django.test import Client
from django.utils.html import escape

from planner.letters import services as papers
from planner.letters.agree import papers_disagree
from planner.letters.consent_models import Consent, Question, Signature
from planner.letters.consent_signing import sign_letter
from planner.letters.consents import answer_question, ask_question, open_questions
from planner.letters.presenting import presentation, speaking_to
from planner.patients.services import set_stop_all
from planner.plans.accepted_models import Route
from planner.plans.accepting import accept_option
from planner.plans.account import receive
from planner.plans.estimates import read_frozen
from planner.plans.models import Estimate, Showing, State
from planner.practice.handed import KEY
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.casefile import parse_case, resolve_days, validate_case
from planner.rules.consent_states import ConsentState
from planner.rules.mouth import CaseFacts
from planner.rules.partial import whole_of
from planner.rules.verdicts import Verdict
from planner.trail.models import TrailDetail, TrailEntry
from tests.addresses import ADDRESSES
from tests.letters.consents import LATER, handed, quick, shown_estimate
from tests.letters.test_consent_pages import told
from tests.pages import client_of, priced_office, queries_of
from tests.standing import changed, stands
from tests.standing import told as sentences
from tests.support import NOW, PASSWORD, TODAY
from tests.test_every_address import PATTERNS, url_of

pytestmark = pytest.mark.django_db
OPEN_IN_HANDS = {"handed", "handed_page", "handed_sign", "handed_letter", "handed_home", "practice:sign_in"}


@pytest.fixture
def owner(db: None) -> Staff:
    """Owner dentist of an office with prices."""
    return priced_office()


@pytest.fixture
def lead(person: Callable[..., Staff]) -> Staff:
    """The desk lead, who shows estimates."""
    return person(Role.DESK_LEAD, username="lea")


@pytest.fixture
def shown(owner: Staff, lead_case: CaseFacts) -> Estimate:
    return shown_estimate(owner, lead_case)


@pytest.fixture(autouse=True)
def two_days_later(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two days after the showing; papers are drawn in this process."""
    monkeypatch.setattr("django.utils.timezone.now", lambda: LATER)
    monkeypatch.setattr("planner.letters.handed_views.sign_letter", partial(sign_letter, make=quick))


def page(estimate: Estimate, more: str = "") -> str:
    return f"/letters/show/{estimate.public_id}/{more}"


def give(client: Client, estimate: Estimate) -> Any:
    """Hand the screen over."""
    return client.post(page(estimate, "hand-over/"), {"to": "Anselm", "seen": estimate.version})


def acts() -> list[str]:
    return list(TrailEntry.objects.order_by("sequence").values_list("act", flat=True))


def in_spanish() -> CaseFacts:
    """The lead case with a patient who reads Spanish."""
    raw = parse_case((settings.BASE_DIR / "fixtures" / "cases" / "lead.json").read_bytes())
    raw["patient"]["language"] = "es"
    return validate_case(resolve_days(raw, TODAY), TODAY)


class TestShowing:
    def test_doing_nothing_comes_first_and_the_rest_as_the_plan_ranks_it(self, shown: Estimate) -> None:
        assert shown.frozen is not None
        plan = read_frozen(shown.frozen)
        with speaking_to(shown):
            found = presentation(shown, LATER)
        offered = [
            option.key
            for option in plan.options
            if option.key in shown.options and option.verdict in (Verdict.OFFER, Verdict.CARE) and not option.struck
        ]
        assert [one.told.option.key for one in found.options] == offered
        assert offered[0] == "none"

    def test_money_page_says_what_was_frozen(self, shown: Estimate, lead: Staff) -> None:
        with speaking_to(shown):
            found = presentation(shown, LATER)
        text = client_of(lead).get(page(shown, f"{found.last}/")).content.decode()
        bonding = next(one for one in found.options if one.told.option.key == "reshape-bond").told
        # The total worked out by hand in the story of the lead case: 1,335 − 66.75 + 220 + 70 + 60.
        assert bonding.price.total == "CAD\xa01,618.25"
        for said in (bonding.price.total, bonding.price.deposit, bonding.view.upkeep, bonding.view.upkeep_range):
            assert said
            assert said in text
        assert found.valid_through in text
        assert all(escape(line) in text for line in found.not_included)
        assert "in at most" in text

    def test_cards_say_only_what_the_plan_says(self, shown: Estimate) -> None:
        """Every amount on a card is one of the frozen plan, or the difference of two."""
        assert shown.frozen is not None
        plan = read_frozen(shown.frozen)
        known: set[int] = set()
        sums = [option.estimate.total_cents for option in plan.options]
        for option in plan.options:
            for line in (*option.estimate.lines, *option.estimate.beside):
                known |= {line.unit_cents, line.net_cents, line.total_cents, line.discount_cents}
            known.add(option.estimate.tax_cents)
            upkeep = option.upkeep
            known |= {round(sum_, -2) for sum_ in (upkeep.total_cents, upkeep.low_cents, upkeep.high_cents)}
        known |= {one - other for one in sums for other in sums}
        lines = {line.total_cents for option in plan.options for line in option.estimate.lines}
        known |= {one - other for one in lines for other in lines}
        with speaking_to(shown):
            found = presentation(shown, LATER)
        said = " ".join(line for one in found.options for card in one.cards for line in card.answers)
        amounts = {int(re.sub(r"\D", "", one)) for one in re.findall(r"\d[\d,]*\.\d\d", said)}
        assert amounts
        assert amounts <= known
        assert "−" not in said, "something off is said without a sign"
        assert "reconstructive" not in said, "how a line is taxed is on the estimate; nobody reads its codes out"
        assert {card.question for one in found.options for card in one.cards} >= {
            "Why does it cost this?", "Why is it dearer than the one before?", "Can I do only a part of it?",
            "How long does it last?", "What if I do nothing?", "Can I pay month by month?",
        }  # fmt: skip

    def test_the_patients_language_is_spoken_on_their_pages(self, owner: Staff) -> None:
        estimate = shown_estimate(owner, in_spanish())
        text = client_of(owner).get(page(estimate)).content.decode()
        assert '<div class="show" lang="es"' in text
        assert "No tiene que decidir nada hoy." in text
        assert "Nothing has to be decided today." not in text

    def test_a_draft_and_a_replaced_one_are_not_shown(self, shown: Estimate, owner: Staff) -> None:
        Estimate.objects.filter(pk=shown.pk).update(state=State.REPLACED)
        answer = client_of(owner).get(page(shown))
        assert answer["Location"] == f"/plans/estimate/{shown.public_id}/"

    def test_a_page_that_is_not_there(self, shown: Estimate, owner: Staff) -> None:
        assert client_of(owner).get(page(shown, "99/")).status_code == 404

    def test_the_paper_to_take_home_is_one_and_made_once(
        self, shown: Estimate, owner: Staff, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(
            "planner.letters.showing_views.render_papers", partial(papers.render_papers, make=quick)
        )  # fmt: skip
        client = client_of(owner)
        for _twice in range(2):
            answer = client.post(page(shown, "take-home/"))
        made = shown.documents.get()
        assert (made.kind, made.language) == ("take-home", "en")
        assert f"/letters/{made.public_id}/file/" in client.get(answer["Location"]).content.decode()
        ask_question(estimate=shown, words="Why?", asked_by="Anselm", clinical=False, actor=owner, now=LATER)
        client.post(page(shown, "take-home/"))
        assert shown.documents.count() == 2, "what was asked since stands on a further one; the first stays"
        assert not papers_disagree(shown)

    def test_money_page_has_the_schedule_in_full_and_after_the_yes_the_account(
        self, shown: Estimate, owner: Staff
    ) -> None:
        with speaking_to(shown):
            found = presentation(shown, LATER)
        assert len(found.parts.parts) == 5, "the deposit and four parts"
        assert "An example" in found.parts.caption
        assert found.account == ()
        assert shown.frozen is not None
        option = read_frozen(shown.frozen).option("reshape-bond")
        plan = accept_option(
            estimate=shown,
            seen=shown.version,
            option=option.key,
            chosen=whole_of(option),
            by=shown.case.patient.name,
            capacity="patient",
            actor=owner,
            now=LATER,
        )
        receive(plan=plan, cents=20000, payer="Anselm", route=Route.CARD, actor=owner, now=LATER)
        shown.refresh_from_db()
        with speaking_to(shown):
            found = presentation(shown, LATER)
        text = client_of(owner).get(page(shown, f"{found.last}/")).content.decode()
        assert not found.parts.parts, "an example helps nobody once money came in"
        assert dict(found.account)["Paid so far"] == "CAD\xa0200.00"
        assert dict(found.account)["Still to pay in all"] == "CAD\xa01,418.25"
        assert "Your account today" in text

    def test_it_asks_the_same_of_the_database_for_every_page(self, shown: Estimate, owner: Staff) -> None:
        client = client_of(owner)
        client.get(page(shown))
        assert queries_of(client, page(shown)) == queries_of(client, page(shown, "3/"))


class TestQuestions:
    FORM: dict[str, Any] = {"words": "Will it hurt my nerve?", "asked_by": "Anselm", "clinical": "yes"}

    def test_asked_at_a_showing_with_owner_and_day_and_answered_by_a_dentist(
        self, shown: Estimate, owner: Staff, lead: Staff
    ) -> None:
        due = LATER.date() + timedelta(days=3)
        form = self.FORM | {"owner": owner.public_id, "due_on": due.isoformat()}
        answer = client_of(lead).post(page(shown, "question/"), form)
        row = Question.objects.get()
        assert (row.estimate, row.consent, row.owner, row.due_on, row.by) == (shown, None, owner, due, lead)
        assert "Will it hurt my nerve?" in client_of(lead).get(answer["Location"]).content.decode()
        answering = page(shown, f"question/{row.public_id}/")
        assert client_of(lead).post(answering, {"words": "No."}).status_code == 403
        client = client_of(owner)
        client.post(answering, {"words": "Nothing is drilled."})
        assert row.answers.get().words == "Nothing is drilled."
        # A better answer of somebody who had the question open is added once they have read the first one.
        late = client.post(answering, {"words": "Nothing at all.", "seen": "0"})
        assert "“Nothing is drilled.”" in sentences(late)
        kept = {name: late.context["form"][name].value() for name in ("words", "seen")}
        assert client.post(answering, kept).status_code == 302
        assert [one.words for one in row.answers.all()] == ["Nothing is drilled.", "Nothing at all."]

    def test_what_waits_stands_beside_the_calls_the_earliest_day_first(
        self, shown: Estimate, owner: Staff, lead: Staff
    ) -> None:
        who: dict[str, Any] = {"asked_by": "Anselm", "actor": owner, "now": NOW}
        consent = handed(shown, owner)
        ask_question(consent=consent, words="Second.", clinical=True, due_on=TODAY + timedelta(days=5), **who)
        ask_question(estimate=shown, words="First.", clinical=False, due_on=TODAY, **who)
        last = ask_question(estimate=shown, words="No day.", clinical=False, **who)
        client = client_of(lead)
        text = client.get("/monday/calls/").content.decode()
        assert text.index("First.") < text.index("Second.") < text.index("No day.")
        assert text.count("<strong>past</strong>") == 1
        before = queries_of(client, "/monday/calls/")
        answer_question(question=last, words="Yes.", actor=owner, now=LATER)
        assert "No day." not in client.get("/monday/calls/").content.decode()
        assert queries_of(client, "/monday/calls/") == before
        person = shown.case.patient
        set_stop_all(patient=person, seen=person.version, stop=True, reason="died", actor=owner, now=LATER)
        assert "First." not in client.get("/monday/calls/").content.decode()

    def test_bad_input_gets_a_sentence_and_keeps_what_was_typed(self, shown: Estimate, owner: Staff) -> None:
        form = self.FORM | {"owner": owner.public_id, "due_on": (TODAY - timedelta(days=9)).isoformat()}
        text = client_of(owner).post(page(shown, "question/"), form).content.decode()
        assert "Will it hurt my nerve?" in text
        assert not Question.objects.exists()

    def test_one_that_is_open_keeps_back_the_signature_of_a_letter_handed_over_later(
        self, shown: Estimate, owner: Staff
    ) -> None:
        asked = ask_question(
            estimate=shown, words="Will it hurt?", asked_by="Anselm", clinical=True, actor=owner, now=NOW
        )
        consent = handed(shown, owner)
        assert consent.state == ConsentState.QUESTIONS
        assert open_questions(consent) == [asked]
        answer_question(question=asked, words="No.", actor=owner, now=LATER)
        consent.refresh_from_db()
        assert consent.state == ConsentState.HANDED

    def test_one_asked_at_a_showing_after_the_letter_was_handed_over_holds_it_up_too(
        self, shown: Estimate, owner: Staff
    ) -> None:
        consent = handed(shown, owner)
        ask_question(estimate=shown, words="And then?", asked_by="Anselm", clinical=True, actor=owner, now=LATER)
        consent.refresh_from_db()
        assert consent.state == ConsentState.QUESTIONS


class TestHandedOver:
    def test_it_is_recorded_as_a_showing_on_this_screen_and_signs_staff_out(self, shown: Estimate, lead: Staff) -> None:
        client = client_of(lead)
        before = client.cookies[settings.SESSION_COOKIE_NAME].value
        answer = give(client, shown)
        assert answer["Location"] == "/handed/"
        assert answer["Clear-Site-Data"] == '"cache"'
        row = Showing.objects.order_by("-pk")[0]
        assert (row.to, row.channel, row.shown_by, row.on) == ("Anselm", "hand-over screen", lead, LATER.date())
        assert client.cookies[settings.SESSION_COOKIE_NAME].value != before
        assert "_auth_user_id" not in client.session
        entry = TrailEntry.objects.get(act="screen.hand_over")
        assert (entry.subject_id, entry.actor_name) == (shown.public_id, lead.full_name)
        # The old session is gone, not only put aside.
        old = Client()
        old.cookies[settings.SESSION_COOKIE_NAME] = before
        assert old.get(page(shown))["Location"].startswith(settings.LOGIN_URL)

    @pytest.mark.parametrize("htmx", [False, True])
    def test_nothing_but_its_own_pages_and_signing_in_answers(
        self, htmx: bool, shown: Estimate, owner: Staff, lead: Staff
    ) -> None:
        consent = handed(shown, owner)
        letter = consent.handings.get().document
        client = client_of(lead)
        shown.refresh_from_db()
        give(client, shown)
        headers = {"HX-Request": "true", "HX-History-Restore-Request": "true"} if htmx else {}
        real = [
            "/", "/no/such/page/", f"/patients/{shown.case.patient.public_id}/", f"/plans/{shown.case.public_id}/",
            page(shown), f"/letters/{letter.public_id}/file/", f"/letters/consent/{consent.public_id}/sign/",
            f"/verify/{letter.sha256}/", "/handed", "//handed/", "/static/../", "/sign-in/../patients/",
        ]  # fmt: skip
        wrong = []
        for url in [url_of(name, None) for name in ADDRESSES if name not in OPEN_IN_HANDS] + real:
            for method in ("get", "post", "head"):
                answer = getattr(client, method)(url, headers=headers)
                said = answer.content.decode()
                if answer.status_code != 403 or (method != "head" and "not for you to open" not in said):
                    wrong.append(f"{method} {url}: {answer.status_code}")
                if shown.case.patient.name in said or answer.headers.get("Location"):
                    wrong.append(f"{method} {url} says something")
        assert not wrong, "\n".join(wrong)
        assert sorted(OPEN_IN_HANDS) == sorted(name for name in PATTERNS if name in OPEN_IN_HANDS)

    def test_no_page_may_be_kept_by_the_browser(self, shown: Estimate, lead: Staff) -> None:
        client = client_of(lead)
        assert client.get(page(shown))["Cache-Control"] == "no-store"
        give(client, shown)
        for url in ("/handed/", "/handed/2/", "/sign-in/", "/patients/"):
            assert client.get(url)["Cache-Control"] == "no-store"

    def test_its_pages_are_those_of_the_desk_without_the_cards_and_lead_nowhere_else(
        self, shown: Estimate, lead: Staff
    ) -> None:
        client = client_of(lead)
        give(client, shown)
        with speaking_to(shown):
            found = presentation(shown, LATER)
        for number in range(found.last + 1):
            text = client.get(f"/handed/{number}/").content.decode()
            assert "If somebody asks" not in text
            led = set(re.findall(r'(?:href|action|hx-get)="([^"#]+)"', text))
            assert all(re.match(r"/handed/|/sign-in/$|/static/", url) for url in led), led
        assert client.get(f"/handed/{found.last + 1}/").status_code == 404

    def test_it_speaks_the_patients_language_also_where_it_refuses(self, owner: Staff) -> None:
        estimate = shown_estimate(owner, in_spanish())
        client = client_of(owner)
        give(client, estimate)
        assert "No tiene que decidir nada hoy." in client.get("/handed/").content.decode()
        refused = client.get("/patients/").content.decode()
        assert 'lang="es"' in refused
        assert "not for you to open" not in refused

    def test_it_is_taken_back_with_name_and_password_by_anybody_of_the_office(
        self, shown: Estimate, lead: Staff, owner: Staff, colleague: Staff
    ) -> None:
        client = client_of(lead)
        give(client, shown)
        held = client.cookies[settings.SESSION_COOKIE_NAME].value
        wrong = client.post("/sign-in/", {"username": "cleo", "password": "guess"})
        assert wrong.status_code == 200
        assert KEY in client.session
        assert client.get("/patients/").status_code == 403
        answer = client.post("/sign-in/", {"username": "cleo", "password": PASSWORD, "next": "/patients/"})
        assert answer["Location"] == page(shown)
        assert KEY not in client.session
        assert client.cookies[settings.SESSION_COOKIE_NAME].value != held
        assert client.get("/patients/").status_code == 200
        entry = TrailEntry.objects.get(act="screen.take_back")
        assert (entry.subject_id, entry.actor_name) == (shown.public_id, colleague.full_name)
        assert acts().index("screen.hand_over") < acts().index("screen.take_back")

    def test_somebody_of_another_office_does_not_take_it_back(
        self, shown: Estimate, lead: Staff, outsider: Staff
    ) -> None:
        client = client_of(lead)
        give(client, shown)
        answer = client.post("/sign-in/", {"username": outsider.username, "password": PASSWORD})
        assert "handed over by Test office" in answer.content.decode()
        assert "_auth_user_id" not in client.session
        assert client.get("/patients/").status_code == 403

    def test_what_may_not_be_shown_is_not_handed_over(
        self, shown: Estimate, lead: Staff, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        late = NOW + timedelta(days=200)
        monkeypatch.setattr("django.utils.timezone.now", lambda: late)
        client = client_of(lead)
        answer = give(client, shown)
        assert answer.status_code == 200
        assert 'role="alert"' in answer.content.decode()
        assert "_auth_user_id" in client.session
        assert "screen.hand_over" not in acts()

    def test_the_patient_takes_the_paper_home_from_the_screen(
        self, shown: Estimate, lead: Staff, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(
            "planner.letters.showing_views.render_papers", partial(papers.render_papers, make=quick)
        )  # fmt: skip
        client = client_of(lead)
        give(client, shown)
        with speaking_to(shown):
            last = presentation(shown, LATER).last
        assert "/handed/home/" in client.get(f"/handed/{last}/").content.decode()
        assert client.get("/handed/home/").status_code == 404
        answer = client.post("/handed/home/")
        made = shown.documents.get(kind="take-home")
        assert answer.content == bytes(made.content)
        assert made.created_by == lead
        assert "document.download" in acts()
        assert client_of(None).post("/handed/home/")["Location"] == "/"

    def test_outside_such_a_session_its_pages_lead_to_the_first_page(self, lead: Staff) -> None:
        assert client_of(lead).get("/handed/")["Location"] == "/"
        assert client_of(None).get("/handed/sign/")["Location"] == "/"


class TestSigningInHands:
    @pytest.fixture
    def consent(self, shown: Estimate, owner: Staff) -> Consent:
        return handed(shown, owner)

    @pytest.fixture
    def assistant(self, person: Callable[..., Staff]) -> Staff:
        return person(Role.ASSISTANT, username="asa")

    def test_what_staff_wrote_goes_with_it_and_only_the_letter_is_shown(
        self, consent: Consent, assistant: Staff
    ) -> None:
        client = client_of(assistant)
        written = {"licence": "D-4471", "talk_on": TODAY.isoformat(), "id_seen": "driving licence"}
        answer = client.post(f"/letters/consent/{consent.public_id}/hand-over/", written)
        assert answer["Location"] == "/handed/"
        assert client.get("/handed/")["Location"] == "/handed/sign/"
        text = client.get("/handed/sign/").content.decode()
        assert 'value="D-4471"' in text
        assert 'value="driving licence"' in text
        led = set(re.findall(r'(?:href|action|formaction)="([^"#]+)"', text))
        assert all(re.match(r"/handed/|/sign-in/$|/static/", url) for url in led), led
        letter = client.get("/handed/letter/")
        assert letter.content == bytes(consent.handings.get().document.content)

    def test_it_is_stored_with_name_and_password_of_staff_who_act_and_take_it_back(
        self, consent: Consent, owner: Staff, assistant: Staff
    ) -> None:
        client, other = client_of(assistant), client_of(owner)
        for screen in (client, other):
            screen.post(f"/letters/consent/{consent.public_id}/hand-over/")
        values = told(consent, owner)
        asks = client.post("/handed/sign/", values)
        assert "Hand it back to us now" in asks.content.decode()
        # Whoever takes it back sees once more what they vouch for.
        for words in (consent.case.patient.name, "D-4471", TODAY.isoformat(), owner.full_name, "Yes, to all of it"):
            assert words in asks.content.decode()
        wrong = client.post("/handed/sign/", values | {"taken_back_by": "asa", "taken_back_with": "guess"})
        assert "do not belong together" in wrong.content.decode()
        assert not Signature.objects.exists()
        assert KEY in client.session
        done = client.post("/handed/sign/", values | {"taken_back_by": "asa", "taken_back_with": PASSWORD})
        assert done["Location"] == f"/letters/consent/{consent.public_id}/"
        signature = Signature.objects.get()
        assert (signature.by, signature.signer) == (assistant, consent.case.patient.name)
        assert client.session["_auth_user_id"] == str(assistant.pk)
        assert acts().index("screen.take_back") < acts().index("consent.sign")
        # Neither password went into what is kept.
        assert PASSWORD not in signature.content
        assert not TrailDetail.objects.filter(content__contains=PASSWORD).exists()
        # Pressed once more on this screen, and on another that was handed over with the same letter: signed once.
        before = stands()
        again = client.post("/handed/sign/", values | {"taken_back_by": "asa", "taken_back_with": PASSWORD})
        assert "not in a patient's hands any more" in sentences(again)
        assert "Nothing more to do here" in sentences(other.post("/handed/sign/", values))
        assert changed(before) == []

    def test_who_may_not_take_part_in_a_signing_does_not_end_it(
        self, consent: Consent, owner: Staff, assistant: Staff, person: Callable[..., Staff]
    ) -> None:
        person(Role.MANAGER, username="mia")
        client = client_of(assistant)
        client.post(f"/letters/consent/{consent.public_id}/hand-over/")
        said = client.post(
            "/handed/sign/", told(consent, owner) | {"taken_back_by": "mia", "taken_back_with": PASSWORD}
        )  # fmt: skip
        assert "may not take part in a signing here" in said.content.decode()
        assert KEY in client.session
        assert not Signature.objects.exists()

    def test_the_estimate_leads_to_its_letter_and_a_signed_one_is_over(
        self, consent: Consent, shown: Estimate, owner: Staff, lead: Staff
    ) -> None:
        client = client_of(lead)
        shown.refresh_from_db()
        give(client, shown)
        assert "/handed/sign/" in client.get("/handed/").content.decode()
        Consent.objects.filter(pk=consent.pk).update(state=ConsentState.SIGNED)
        assert "Nothing more to do here" in client.get("/handed/sign/").content.decode()
