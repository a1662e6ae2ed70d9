"""Taking a case over from another dentist: reviewed, countersigned anew, and told to the patient."""

from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _

from planner.letters.consent_models import Signature
from planner.plans.models import Case
from planner.plans.takeover_models import TakeOver
from planner.plans.treating import dentist_of
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.before import done_by
from planner.practice.books import today
from planner.practice.models import Staff
from planner.trail.errors import Refused
from planner.trail.services import record


def take_over(
    *,
    case: Case,
    reason: str,
    reviewed: str,
    licence: str,
    told_on: date,
    told_how: str,
    from_whom: str = "",
    actor: Staff,
    now: datetime,
) -> TakeOver:
    """``actor`` treats the case from now on.

    ``from_whom`` is the public id of whoever treated it when ``actor`` began to review, where that is known: a case
    that somebody else took over meanwhile is not taken out of their hands unseen.

    Nothing that was decided, checked or signed before changes: it stays under the name it was done in. The row names
    the hash of every signature of the case, which is how it is countersigned anew. Raises Refused where nobody treats
    it yet, by whoever treats it already, and without a word on each point; NotAllowed.
    """
    require_own(actor, case)
    require(actor, Act.APPROVE, Thing.OPTIONS, subject=case)
    _words(reason, "reason", _("Say why the case changes hands."))
    _words(reviewed, "reviewed", _("Say what you looked at and what came of it: the plan becomes yours."))
    _words(licence, "licence", _("Write your licence number: what was signed is countersigned by you."))
    _words(told_how, "told_how", _("Say how the patient was told."))
    if told_on > today(case.office, now):
        raise Refused(_("That lies in the future: tell the patient first."), field="told_on")
    with transaction.atomic():
        held = Case.objects.select_for_update().get(pk=case.pk)
        before = dentist_of(held)
        if before is None:
            raise Refused(_("Nobody has checked an estimate of this case yet: decide, no taking over is needed."))
        if before.pk == actor.pk:
            raise Refused(_("You treat this case already."))
        if from_whom and before.public_id != from_whom:
            last = TakeOver.objects.filter(case=held).select_related("by").order_by("-pk").first()
            noted = done_by(_("taken over"), last.by, last.at, held.office) if last is not None else before.full_name
            raise Refused(
                _("%(name)s treats this case now (%(noted)s). Speak with each other; press again to take it over.")
                % {"name": before.full_name, "noted": noted}
            )
        signed = list(Signature.objects.filter(consent__case=held).order_by("pk").values_list("sha256", flat=True))
        row = TakeOver.objects.create(
            office=held.office,
            case=held,
            before=before,
            reason=reason.strip(),
            reviewed=reviewed.strip(),
            licence=" ".join(licence.split()),
            signatures=signed,
            told_on=told_on,
            told_how=told_how.strip(),
            by=actor,
            at=now,
        )
        content = {"before": before.full_name, "after": actor.full_name, "signatures": signed}
        content |= {"told_on": told_on.isoformat(), "told_how": row.told_how, "licence": row.licence}
        record(actor=actor, act="case.take_over", subject=held, content=content, reason=row.reason, at=now)
    return row


def _words(words: str, field: str, sentence: str) -> None:
    if not words.strip():
        raise Refused(sentence, field=field)
