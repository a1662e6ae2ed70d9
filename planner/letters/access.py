"""The door to stored papers: a view gets one from here and from nowhere else."""

from datetime import datetime

from planner.letters.consent_models import Consent
from planner.letters.models import Document
from planner.letters.papers import kind_of
from planner.practice.access import Act, Thing, load, require, write_refusal
from planner.practice.models import Staff
from planner.trail.errors import NotAllowed


def load_document(*, actor: Staff, public_id: str, now: datetime) -> Document:
    """The paper, if ``actor`` may see papers of its kind. Raises Http404 or NotAllowed, recorded."""
    rows = Document.objects.select_related("office", "frozen__case__patient", "estimate")
    document = load(rows, public_id, actor=actor, act=Act.VIEW, thing=Thing.LETTER, now=now)
    try:
        require(actor, *kind_of(document.kind).seen_by, subject=document)
    except NotAllowed as refusal:
        write_refusal(refusal, actor=actor, now=now)
        raise
    return document


def load_consent(
    *, actor: Staff, public_id: str, act: Act = Act.VIEW, thing: Thing = Thing.LETTER, now: datetime
) -> Consent:
    """The consent with its case, patient and estimate. Raises Http404 or NotAllowed, recorded."""
    rows = Consent.objects.select_related(
        "office", "estimate__checked_by", "estimate__frozen", "estimate__case", "case__office", "case__patient__office"
    )
    return load(rows, public_id, actor=actor, act=act, thing=thing, now=now)
