"""What the page of one consent shows: where it stands, what is against signing and where that is settled."""

import json
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import QuerySet
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from planner.letters.consent_models import Consent, Question, Signature
from planner.letters.consent_standing import Before, before_signing, holds_not, lapses_after, talk_again
from planner.letters.consents import OPEN, newer_than, questions_of, says
from planner.letters.models import Document
from planner.plans.accepted_models import AcceptedPlan
from planner.plans.estimates import facts_changed, read_frozen
from planner.plans.models import Case
from planner.practice.access import Act, Thing, may
from planner.practice.books import today
from planner.practice.models import Staff
from planner.rules.consent_states import ConsentState
from planner.trail.errors import Refused

UNSIGNED = (ConsentState.HANDED, ConsentState.QUESTIONS)


@dataclass(frozen=True, slots=True)
class Obstacle:
    """One thing that stands against signing, and the page on which it is settled, where there is one."""

    words: str
    url: str = ""
    link: str = ""


@dataclass(frozen=True, slots=True)
class Asked:
    """A question with its answers; late when nobody has answered by its day."""

    question: Question
    answers: tuple[Any, ...]
    late: bool
    may_answer: bool


def consent_page(consent: Consent, actor: Staff, now: datetime) -> dict[str, Any]:
    """Everything the page of one consent shows."""
    day = today(consent.office, now)
    before = before_signing(consent, now) if consent.state in UNSIGNED else None
    signature = signature_of(consent)
    handings = list(consent.handings.select_related("document", "by").defer("document__content", "document__issue"))
    return {
        "consent": consent,
        "about": _about(consent),
        "case": consent.case,
        "patient": consent.case.patient,
        "handings": handings,
        "letter": handings[-1].document if handings else None,
        "before": before,
        "obstacles": obstacles(before, consent, now) if before else (),
        "left": time_left(before.may_sign_from - now) if before else "",
        "talks": consent.talks.select_related("clinician", "by"),
        "asked": asked(consent, actor, day),
        "withdrawals": consent.withdrawals.select_related("by"),
        "may": _acts(consent, signature, actor),
        **_signed(consent, signature, now, day),
    }


def obstacles(before: Before, consent: Consent, now: datetime) -> tuple[Obstacle, ...]:
    """What stands against signing the letter that was handed over last, each with the page that settles it."""
    estimate, letter = consent.estimate, before.document
    here = reverse("letters:consent", args=[consent.public_id])
    newer = newer_than(letter)
    pages = {
        "questions": (f"{here}#h-questions", _("to the questions")),
        "others": (reverse("letters:others_agree", args=[consent.case.public_id]), _("who else must agree")),
        "time": (f"{here}#h-time", _("until when")),
        "papers": (
            (reverse("plans:case", args=[consent.case.public_id]), _("to the case"))
            if facts_changed(estimate, today(consent.office, now))
            else (reverse("letters:agree", args=[estimate.public_id]), _("where papers differ"))
        ),
        "reading": (reverse("letters:reading", args=[letter.public_id]), _("how plain it is")),
        "estimate": (reverse("plans:estimate", args=[estimate.public_id]), _("to the estimate")),
        "newest": (reverse("letters:hand", args=[newer.public_id]), _("hand the newer one over"))
        if newer
        else ("", ""),
    }
    return tuple(Obstacle(words, *pages.get(field, ("", ""))) for field, words in before.against)


def time_left(left: timedelta) -> str:
    """How long there is still to wait, in whole days or begun hours; empty when it is over."""
    hours = -(-left // timedelta(hours=1))
    if hours <= 0:
        return ""
    if hours > 48:
        days = -(-hours // 24)
        return ngettext("%(n)d day", "%(n)d days", days) % {"n": days}
    return ngettext("%(n)d hour", "%(n)d hours", hours) % {"n": hours}


def asked(consent: Consent, actor: Staff, day: date) -> list[Asked]:
    """The questions, oldest first, each with its answers."""
    return asked_about(questions_of(consent), actor, day)


def asked_about(questions: QuerySet[Question], actor: Staff, day: date) -> list[Asked]:
    """Each of ``questions`` with its answers, whether it is late, and whether ``actor`` may answer it."""
    found = []
    for question in questions.select_related("owner", "by").prefetch_related("answers__by"):
        answers = tuple(question.answers.all())
        late = not answers and question.due_on is not None and question.due_on < day
        allowed = may(actor, Act.APPROVE if question.clinical else Act.RUN, Thing.LETTER)
        found.append(Asked(question, answers, late, allowed))
    return found


def signature_of(consent: Consent) -> Signature | None:
    """What was signed, with its copy and who confirmed it; None where nothing is."""
    rows = Signature.objects.filter(consent=consent)
    return rows.select_related("clinician", "by", "copy", "countersignature__by", "consent__estimate").first()


def consent_to(letter: Document) -> Consent | None:
    """The newest consent to what ``letter`` says; one that is over only where there is no other."""
    if letter.estimate_id is None or not letter.issue:
        return None
    found = list(Consent.objects.filter(estimate=letter.estimate_id, says_sha256=says(letter)).order_by("-pk"))
    return next((one for one in found if one.state in OPEN), found[0] if found else None)


def consents_of(case: Case) -> list[tuple[Consent, str, str]]:
    """The consents of a case, newest first, each with the option it is about and one line on where it stands."""
    rows = Consent.objects.filter(case=case).select_related("estimate__frozen", "signature__countersignature")
    return [(one, _about(one), standing(one)) for one in rows.order_by("-pk")]


def standing(consent: Consent) -> str:
    """One line on where a consent stands. No query where signature and countersignature are fetched."""
    signature = getattr(consent, "signature", None)
    if consent.state == ConsentState.SIGNED and signature is not None:
        said = _("signed on %(day)s: %(choice)s") % {
            "day": signature.signed_on.isoformat(),
            "choice": signature.choice,
        }
        return said if hasattr(signature, "countersignature") else said + "; " + _("not countersigned yet")
    return consent.state


def _about(consent: Consent) -> str:
    if not consent.option_key or consent.estimate.frozen is None:
        return _("no option")
    try:
        return read_frozen(consent.estimate.frozen).option(consent.option_key).name
    except KeyError:
        return consent.option_key


def _signed(consent: Consent, signature: Signature | None, now: datetime, day: date) -> dict[str, Any]:
    if signature is None:
        return {"signature": None}
    rows = AcceptedPlan.objects.filter(estimate=consent.estimate_id, option_key=consent.option_key)
    plan = rows.select_related("office", "case__patient", "frozen", "estimate").first()
    holds = consent.state == ConsentState.SIGNED and plan is not None
    again: list[str] = []
    if holds and plan is not None:
        try:
            again = talk_again(plan, signature, now)
        except Refused as refusal:
            again = [refusal.sentence]
    held_on = json.loads(signature.content).get("clinician", {}).get("held_on") if signature.content else None
    return {
        "signature": signature,
        "held_on": date.fromisoformat(held_on) if held_on else None,
        "countersigned": getattr(signature, "countersignature", None),
        "plan": plan,
        "holds_not": holds_not(plan, signature, now, day) if holds and plan is not None else (),
        "lapses": lapses_after(plan, signature, now) if holds and plan is not None else None,
        "talk_again": again,
    }


def _acts(consent: Consent, signature: Signature | None, actor: Staff) -> dict[str, bool]:
    runs = may(actor, Act.RUN, Thing.LETTER)
    counter = signature is not None and not hasattr(signature, "countersignature")
    return {
        "talk": runs and consent.state in OPEN,
        "ask": runs and consent.state in OPEN,
        "sign": runs and consent.state in UNSIGNED,
        "countersign": counter and signature is not None and signature.clinician_id == actor.pk,
        "withdraw": consent.state in OPEN and consent.state != ConsentState.NONE
        and may(actor, Act.CREATE, Thing.WITHDRAWAL),
    }  # fmt: skip
