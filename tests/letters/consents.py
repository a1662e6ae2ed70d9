"""A letter that can be signed: a shown estimate of the lead case in a priced office, and what is said at a signing."""

from datetime import datetime, timedelta
from typing import Any

from planner.letters.consent_models import Channel, Consent
from planner.letters.consent_signing import sign_letter, talk_of
from planner.letters.consents import hand_letter
from planner.letters.models import Document
from planner.letters.pdf import Job, Rendered
from planner.letters.services import issue_of, render_papers
from planner.plans import estimates
from planner.plans.casefiles import import_case_file
from planner.plans.checking import check_case
from planner.plans.estimates import compute_plan
from planner.plans.models import Channel as Shown
from planner.plans.models import Estimate
from planner.practice.models import Staff
from planner.rules.mouth import CaseFacts
from planner.rules.results import sha256
from planner.rules.signing import Basis, Choice, Method, Said
from tests.support import NOW, TODAY, render_once

LATER = NOW + timedelta(days=2)
LICENCE = "D-4471"


def quick(job: Job) -> Rendered:
    """As a worker would, in this process; the same paper only once."""
    return render_once(job)


def shown_estimate(owner: Staff, lead_case: CaseFacts) -> Estimate:
    """A shown estimate of the lead case."""
    case = import_case_file(facts=lead_case, actor=owner, now=NOW).case
    seen = sha256(compute_plan(case, NOW)[0].to_json())
    estimate = check_case(case=case, seen_plan=seen, actor=owner, now=NOW)
    return estimates.show_estimate(
        estimate=estimate, seen=estimate.version, to=case.patient.name, channel=Shown.IN_PERSON, actor=owner, now=NOW
    )


def letter_of(
    estimate: Estimate, owner: Staff, *, points: int = 11, language: str = "en", now: datetime = NOW, **more: Any
) -> Document:
    """The consent letter of an estimate."""
    assert estimate.frozen is not None
    (made,) = render_papers(
        frozen=estimate.frozen,
        kinds=["consent-letter"],
        issue=issue_of(estimate, handed_on=TODAY, **more),
        actor=owner,
        now=now,
        estimate=estimate,
        points=points,
        language=language,
        make=quick,
    )
    return made


def handed(estimate: Estimate, owner: Staff, now: datetime = NOW, **more: Any) -> Consent:
    """The consent to a letter that was handed over."""
    letter = letter_of(estimate, owner, now=now, **more)
    return hand_letter(document=letter, to=estimate.case.patient.name, channel=Channel.PAPER, actor=owner, now=now)


def said(owner: Staff, name: str, **changes: Any) -> Said:
    """What an adult says who signs alone."""
    values: dict[str, Any] = {
        "signer": name,
        "basis": Basis.SELF,
        "method": Method.TYPED,
        "choice": Choice.ALL,
        "talk": talk_of(owner, LICENCE, TODAY),
        "id_seen": "known in person",
        "typed": name,
        "understood": "The tip of one tooth comes off, three get wider.",
        "copy": "on paper",
        "ticks": {"photos": True, "photos_shown": False},
    }
    return Said(**values | changes)


def sign(consent: Consent, owner: Staff, now: datetime = LATER, **changes: Any) -> Any:
    """Sign the letter that was handed over last."""
    handing = consent.handings.order_by("-pk")[0]
    words = said(owner, consent.case.patient.name, **changes)
    return sign_letter(
        consent=consent,
        letter_sha256=handing.document.sha256,
        said=words,
        clinician=owner,
        actor=owner,
        now=now,
        make=quick,
    )
