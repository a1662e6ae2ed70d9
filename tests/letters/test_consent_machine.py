"""Several people act on the consents of one case, in any order: services and a small model never differ.

The model is written from the table of docs/lifecycles.md and the matrix of who may do what, not from the services.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from planner.letters.consent_models import Channel, Consent, Countersignature, Signature
from planner.letters.consent_signing import countersign, sign_letter
from planner.letters.consents import answer_question, ask_question, hand_letter, open_questions
from planner.letters.models import Document
from planner.letters.pdf import Rendered
from planner.letters.withdrawing import withdraw_consent
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.mouth import CaseFacts
from planner.trail.errors import Refused
from tests.letters.consents import LATER, LICENCE, letter_of, quick, said, shown_estimate
from tests.machines import WALKS, did, undone
from tests.pages import priced_office
from tests.support import NOW

pytestmark = pytest.mark.django_db
ACTS = ("hand", "hand another", "ask", "answer", "sign", "countersign", "withdraw")
WHO = ("dentist", "colleague", "assistant", "manager", "outsider")
MAY = {
    "hand": {"dentist", "colleague", "assistant"},
    "hand another": {"dentist", "colleague", "assistant"},
    "ask": {"dentist", "colleague", "assistant"},
    "sign": {"dentist", "colleague", "assistant"},
    "answer": {"dentist", "colleague"},
    "countersign": {"dentist", "colleague"},
    "withdraw": {"dentist", "colleague", "assistant", "manager"},
}
OPEN = ("letter handed", "questions open", "signed")


@dataclass
class Model:
    """The newest consent, as the table of moves has it."""

    state: str = ""
    letter: str = ""
    open: int = 0
    signed: bool = False
    countersigned: bool = False
    newer_made: bool = False
    before: list[str] = field(default_factory=list)
    """How the consents before it ended."""

    def allows(self, act: str, who: str) -> bool:
        """Whether ``act`` of ``who`` is done; where it is, the model moves on."""
        if who not in MAY[act] or (act not in ("hand", "hand another") and not self.state):
            return False
        moves: dict[str, Callable[[str], bool]] = {
            "hand": lambda _who: self._hand("one"),
            "hand another": lambda _who: self._hand("two"),
            "ask": self._ask,
            "answer": self._answer,
            "sign": self._sign,
            "countersign": self._countersign,
            "withdraw": self._withdraw,
        }
        return moves[act](who)

    def _hand(self, letter: str) -> bool:
        self.newer_made = self.newer_made or letter == "two"
        if letter == "one" and self.newer_made:
            return False
        if self.state in OPEN and self.letter == letter:
            return True
        if self.state:
            self.before.append("replaced" if self.state in OPEN else self.state)
        self.state, self.letter, self.open = "letter handed", letter, 0
        self.signed = self.countersigned = False
        return True

    def _ask(self, _who: str) -> bool:
        if self.state not in OPEN:
            return False
        self.open += 1
        if self.state == "letter handed":
            self.state = "questions open"
        return True

    def _answer(self, _who: str) -> bool:
        if not self.open:
            return False
        self.open -= 1
        if self.state == "questions open" and not self.open:
            self.state = "letter handed"
        return True

    def _sign(self, who: str) -> bool:
        if self.state != "letter handed":
            return False
        self.state, self.signed, self.countersigned = "signed", True, who == "dentist"
        return True

    def _countersign(self, who: str) -> bool:
        if not self.signed or self.countersigned or who != "dentist":
            return False
        self.countersigned = True
        return True

    def _withdraw(self, _who: str) -> bool:
        if self.state not in OPEN:
            return False
        self.state = "withdrawn"
        return True


class Office:
    """The services, called as people of the office would."""

    def __init__(self, people: dict[str, Staff], letters: Callable[[str], Document], sheet: Rendered) -> None:
        self.people, self.letters, self.sheet = people, letters, sheet
        self.consent: Consent | None = None

    def does(self, act: str, who: str) -> bool:
        """Whether the services did it; a refusal stores nothing, not even in part."""
        return did(lambda: self._does(act, {"actor": self.people[who], "now": LATER}))

    def _does(self, act: str, by: dict[str, Any]) -> None:
        if act in ("hand", "hand another"):
            letter = self.letters("one" if act == "hand" else "two")
            given = {"to": "A. B.", "channel": Channel.PAPER, "handed_at": NOW}
            self.consent = hand_letter(document=letter, **given, **by)
            return
        if self.consent is None:
            raise Refused("nothing is handed over")
        consent = Consent.objects.select_related("office", "estimate", "case__patient").get(pk=self.consent.pk)
        if act == "ask":
            ask_question(consent=consent, words="Will it hurt?", asked_by="A. B.", clinical=True, **by)
        elif act == "answer":
            for question in open_questions(consent)[:1]:
                answer_question(question=question, words="A little.", **by)
                return
            raise Refused("nothing is asked")
        elif act == "sign":
            dentist = self.people["dentist"]
            letter = consent.handings.order_by("-pk")[0].document
            words = said(dentist, consent.case.patient.name)
            sign_letter(
                consent=consent, letter_sha256=letter.sha256, said=words, clinician=dentist,
                make=lambda _job: self.sheet, **by,
            )  # fmt: skip
        elif act == "countersign":
            signature = Signature.objects.filter(consent=consent).first()
            if signature is None:
                raise Refused("nothing is signed")
            countersign(signature=signature, licence=LICENCE, **by)
        else:
            withdraw_consent(consent=consent, words="No more.", said_by="A. B.", how="in person", **by)


@pytest.fixture
def people(db: None, outsider: Staff, person: Callable[..., Staff], owner: Staff) -> dict[str, Staff]:
    made = {"colleague": Role.DENTIST, "assistant": Role.ASSISTANT, "manager": Role.MANAGER}
    return {"dentist": owner, "outsider": outsider} | {name: person(role) for name, role in made.items()}


@pytest.fixture
def owner(db: None) -> Staff:
    """Owner dentist of an office with prices."""
    return priced_office()


def test_no_order_of_acts_makes_services_and_model_differ(
    people: dict[str, Staff], lead_case: CaseFacts, monkeypatch: pytest.MonkeyPatch
) -> None:
    owner = people["dentist"]
    shown = shown_estimate(owner, lead_case)
    one = letter_of(shown, owner)
    monkeypatch.setattr("planner.letters.consent_standing.check_documents", lambda _papers: ())
    sheets: list[Rendered] = []
    with undone():
        first = Office(people, lambda _which: one, Rendered(b"", 1, ()))
        first.does("hand", "dentist")
        assert first.consent is not None

        def keep(job: Any) -> Rendered:
            sheets.append(quick(job))
            return sheets[0]

        sign_letter(
            consent=first.consent, letter_sha256=one.sha256, said=said(owner, shown.case.patient.name),
            clinician=owner, actor=owner, now=LATER, make=keep,
        )  # fmt: skip

    def letters(which: str) -> Document:
        return one if which == "one" else letter_of(shown, owner, own_risks=("Chips are more likely.",))

    usual = [("hand", "assistant"), ("ask", "assistant"), ("answer", "dentist"), ("sign", "assistant")]
    ends = [("countersign", "dentist"), ("withdraw", "manager"), ("hand another", "dentist"), ("sign", "dentist")]

    @WALKS
    @given(st.lists(st.tuples(st.sampled_from(ACTS), st.sampled_from(WHO)), min_size=1, max_size=10))
    @example(usual + ends)
    @example([*usual, ("withdraw", "dentist"), ("sign", "dentist"), ("ask", "dentist"), ("countersign", "dentist")])
    @example([("hand", "dentist"), ("hand another", "assistant"), ("hand", "dentist"), ("sign", "dentist")])
    @example([*usual, ("ask", "assistant"), ("hand another", "colleague"), ("withdraw", "assistant")])
    def run(acts: list[tuple[str, str]]) -> None:
        with undone():
            model, office = Model(), Office(people, letters, sheets[0])
            for act, who in acts:
                assert office.does(act, who) == model.allows(act, who), (act, who, acts)
                _compare(office, model)

    run()


def _compare(office: Office, model: Model) -> None:
    assert sorted(Consent.objects.exclude(pk=office.consent and office.consent.pk).values_list("state", flat=True)) == (
        sorted(model.before)
    )
    if office.consent is None:
        assert not model.state
        return
    saved = Consent.objects.get(pk=office.consent.pk)
    assert saved.state == model.state
    assert saved.questions.filter(answers__isnull=True).count() == model.open
    assert Signature.objects.filter(consent=saved).exists() == model.signed
    assert Countersignature.objects.filter(signature__consent=saved).exists() == model.countersigned
