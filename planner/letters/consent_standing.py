"""Where a consent stands: what keeps it from being signed, and whether what was signed still holds on a day."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.utils.translation import gettext as _

from planner.letters.agree import papers_disagree, stand_against
from planner.letters.consent_models import Consent, Handing, Signature
from planner.letters.consents import newer_than, open_questions
from planner.letters.models import Document
from planner.letters.reading_limit import reading_allows
from planner.letters.services import check_documents
from planner.plans.accepted_models import AcceptedPlan
from planner.plans.accepted_rows import option_of_plan, read_part
from planner.plans.estimates import compute_plan, facts_changed, is_expired, read_frozen
from planner.plans.facts import case_facts
from planner.plans.models import State
from planner.plans.others_agree import disputed, wanting
from planner.practice.books import current_book, today
from planner.practice.models import Staff
from planner.rules.book import OfficeBook
from planner.rules.consent_states import (
    CONSENT,
    ConsentFacts,
    ConsentState,
    consent_lapsed,
    facts_are_others,
    papers_differ,
)
from planner.rules.mouth import Person
from planner.rules.moves import may_move, refusals
from planner.rules.plan_states import PlanState
from planner.rules.reflection import Reflection, reflection
from planner.rules.results import OptionShape
from planner.rules.signing import CONSENTS, Basis, Choice, own_signature_wanted
from planner.trail.errors import Refused


@dataclass(frozen=True, slots=True)
class Facing:
    """The letter that would be signed, and from when."""

    handing: Handing
    """The newest: what was handed over last is what is signed."""
    option: OptionShape | None
    wait: Reflection | None
    """The time to think it over; None where the letter is about no option."""
    may_sign_from: datetime

    @property
    def document(self) -> Document:
        return self.handing.document


@dataclass(frozen=True, slots=True)
class Before(Facing):
    """What has to be known before a letter is signed."""

    facts: ConsentFacts

    @property
    def against(self) -> tuple[tuple[str, str], ...]:
        """What the guards refuse: which of them, and its sentence."""
        return refusals(CONSENT, ConsentState.HANDED, ConsentState.SIGNED, self.facts)

    @property
    def refused(self) -> tuple[str, ...]:
        """Why it cannot be signed yet, one sentence each; the signer is judged when the form is sent."""
        return may_move(CONSENT, ConsentState.HANDED, ConsentState.SIGNED, self.facts)


@dataclass(frozen=True, slots=True)
class Lapse:
    """Whether a signed consent has lapsed, and until when it holds or held; None where no day ends it."""

    lapsed: bool
    last_day: date | None


def newest_handing(consent: Consent) -> Handing | None:
    """The last handing over, with its paper."""
    rows = consent.handings.select_related("document__frozen", "document__estimate", "document__office", "by")
    return rows.order_by("-pk").first()


def facing_signature(consent: Consent, now: datetime) -> Facing:
    """The letter that was handed over last, and from when it may be signed. Raises Refused when nothing was handed."""
    handing = newest_handing(consent)
    if handing is None:
        raise Refused(_("No letter has been handed over yet."))
    document, day = handing.document, today(consent.office, now)
    option = read_frozen(document.frozen).option(consent.option_key) if consent.option_key else None
    wait = reflection(option, current_book(consent.office, day), day) if option is not None else None
    # A reader of another language has had the letter only since it was handed over in that language.
    first = consent.handings.filter(document__language=document.language).order_by("handed_at").first() or handing
    may_from = first.handed_at + timedelta(hours=wait.hours if wait else 0)
    return Facing(handing, option, wait, may_from)


def before_signing(
    consent: Consent,
    now: datetime,
    *,
    signed_sha256: str | None = None,
    signer_entitled: str | None = "",
    waits: bool = True,
) -> Before:
    """What stands before a signature now. ``signed_sha256`` is what the form was about; left out, the newest letter.
    Without ``waits`` the time to think it over is not asked for: whoever says no need not wait to say it.

    Everything is said in the language of the moment. Raises Refused when nothing was handed over.
    """
    facing = facing_signature(consent, now)
    document, day = facing.document, today(consent.office, now)
    estimate = consent.estimate
    contradictions = check_documents(estimate.documents.select_related("frozen"))
    # What was changed since it was made is not compared with the rest.
    contradictions = papers_differ(contradictions or stand_against(papers_disagree(estimate)))
    if facts_changed(estimate, day):
        contradictions += (facts_are_others(),)
    facts = ConsentFacts(
        letter_sha256=document.sha256,
        signed_sha256=document.sha256 if signed_sha256 is None else signed_sha256,
        open_questions=len(open_questions(consent)),
        signer_entitled=signer_entitled,
        reflection_over=not waits or now >= facing.may_sign_from,
        contradictions=contradictions,
        others=wanting(consent.case_id),
        too_hard=reading_allows(document),
        estimate_in_date=estimate.state != State.REPLACED and not is_expired(estimate, day),
        newest=newer_than(document) is None,
    )
    return Before(facing.handing, facing.option, facing.wait, facing.may_sign_from, facts)


# ---------------------------------------------------------------------------------------------- what was signed


def consent_of(plan: AcceptedPlan) -> Consent | None:
    """The newest consent to the option that was accepted; one that is over only where there is no other."""
    if plan.estimate_id is None:
        return None
    rows = Consent.objects.filter(estimate=plan.estimate, option_key=plan.option_key)
    found = list(rows.select_related("signature__countersignature", "signature__document", "office", "estimate"))
    return next((one for one in found if one.state != ConsentState.REPLACED), found[0] if found else None)


def stands_against(plan: AcceptedPlan, now: datetime, *, on: date | None = None) -> tuple[str, ...]:
    """Why no consent to ``plan`` holds on the day ``on`` (today, if left out), one sentence each; empty when one does.

    For whoever books a visit or begins treatment. A repair has no letter: the yes on its record counts.
    """
    if plan.estimate_id is None:
        return disputed(plan.case_id)
    others = wanting(plan.case_id)
    consent = consent_of(plan)
    questions = 0 if consent is None else len(open_questions(consent))
    if said := unsigned(consent, questions):
        return others + said
    assert consent is not None  # it is signed
    return others + holds_not(plan, consent.signature, now, on or today(plan.office, now))


def unsigned(consent: Consent | None, questions: int) -> tuple[str, ...]:
    """Why ``consent`` with so many open ``questions`` is not one that is signed, one sentence each."""
    if consent is None or consent.state == ConsentState.NONE:
        return (_("No consent letter has been handed over for this plan."),)
    if consent.state == ConsentState.WITHDRAWN:
        return (_("Consent to this plan was withdrawn."),)
    if consent.state == ConsentState.REPLACED:
        return (_("What was signed was replaced by a newer letter, and that one is about another option."),)
    if consent.state == ConsentState.QUESTIONS:
        return (
            _("The consent letter is not signed yet."),
            _("Questions about the letter are open: %(n)d.") % {"n": questions},
        )
    if consent.state == ConsentState.HANDED:
        return (_("The consent letter is not signed yet."),)
    return ()


def holds_not(plan: AcceptedPlan, signature: Signature, now: datetime, day: date) -> tuple[str, ...]:
    """Why ``signature`` is no consent to ``plan`` on ``day``: another choice, another part, lapsed, or come of age."""
    now_on, started = today(plan.office, now), _started(plan)
    return signed_lacks(
        signature,
        chosen=tuple(read_part(plan).get("chosen", ())),
        started=started,
        changed=facts_changed(signature.consent.estimate, now_on, started=started),
        person=case_facts(plan.case, now_on).patient,
        book=current_book(plan.office, now_on),
        day=day,
    )


def signed_lacks(
    signature: Signature,
    *,
    chosen: tuple[str, ...],
    started: bool,
    changed: bool,
    person: Person,
    book: OfficeBook,
    day: date,
) -> tuple[str, ...]:
    """Why ``signature`` does not hold on ``day``, of what is known already: no query where it came with its
    countersignature. ``chosen`` is the part that was accepted, empty for the whole; ``changed``: facts of the case.
    """
    found = []
    if signature.choice not in CONSENTS:
        found.append(_("What was signed is: %(choice)s.") % {"choice": signature.choice})
    elif _other_part(signature, chosen):
        found.append(_("What was signed is another part of the option than what was accepted."))
    if changed:
        found.append(_("Facts have changed since it was signed: a new letter is handed over and signed."))
    elif consent_lapsed(signature.signed_on, day, book.consent_days, started=started, facts_changed=False):
        lapsed = (signature.signed_on + timedelta(days=book.consent_days)).isoformat()
        found.append(_("The consent held through %(day)s, without a start: it is signed anew.") % {"day": lapsed})
    if wanted := own_signature_wanted(person, Basis(signature.basis), book, day):
        found.append(wanted)
    if not hasattr(signature, "countersignature"):
        found.append(_("The dentist who held the talk has not countersigned yet."))
    return tuple(found)


def lapses_after(plan: AcceptedPlan, signature: Signature, now: datetime) -> date | None:
    """The last day on which the signature holds without a start; None once treatment has started."""
    if _started(plan):
        return None
    return signature.signed_on + timedelta(days=current_book(plan.office, today(plan.office, now)).consent_days)


def lapse_of(consent: Consent, now: datetime) -> Lapse:
    """Whether a signed consent has lapsed by now, by itself or because deciding facts changed."""
    plan = AcceptedPlan.objects.filter(estimate=consent.estimate, option_key=consent.option_key).order_by("-pk").first()
    started, day = plan is not None and _started(plan), today(consent.office, now)
    days, signed_on = current_book(consent.office, day).consent_days, consent.signature.signed_on
    changed = facts_changed(consent.estimate, day, started=started)
    last = None if started else signed_on + timedelta(days=days)
    if consent_lapsed(signed_on, day, days, started=started, facts_changed=changed):
        return Lapse(True, min(last or day, day))
    return Lapse(False, last)


def talk_again(plan: AcceptedPlan, signature: Signature, now: datetime, *, treats: Staff | None = None) -> list[str]:
    """What has changed that a dentist talks over again, and decides whether a new signature is wanted."""
    found = []
    if treats is not None and treats.pk != signature.clinician_id:
        found.append(
            _("%(one)s held the talk, %(other)s is to treat.")
            % {"one": signature.clinician.full_name, "other": treats.full_name}
        )
    taken = option_of_plan(plan)
    if taken is None:
        return found
    before = read_frozen(plan.frozen)
    try:
        after, _book = compute_plan(plan.case, now)
        option = after.option(plan.option_key)
    except (Refused, KeyError):
        return found
    if (option.risks, option.benefits) != (taken[0].risks, taken[0].benefits):
        found.append(_("The numbers on risks and benefits are others than in the letter."))
    if after.recommended != before.recommended:
        found.append(_("Another option is recommended now than in the letter."))
    return found


def _other_part(signature: Signature, part: tuple[str, ...]) -> bool:
    if signature.choice == Choice.PART:
        return tuple(sorted(signature.pieces)) != tuple(sorted(part))
    return bool(part)


def _started(plan: AcceptedPlan) -> bool:
    return plan.state == PlanState.UNDER_WAY or plan.moves.filter(after=str(PlanState.UNDER_WAY)).exists()
