"""Others whose agreement counts, such as the other parent: written down, heard, and a disagreement settled."""

from collections.abc import Collection
from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from planner.plans.models import Case
from planner.plans.others_models import OtherSay
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.models import Staff
from planner.rules import others_agree as rules
from planner.rules.others_agree import Say
from planner.trail.errors import Refused
from planner.trail.services import record


def write_say(*, case: Case, person: str, said: Say, words: str, actor: Staff, now: datetime) -> OtherSay:
    """Write down what ``person`` says, or that they must be heard. A no holds at once, whoever writes it down;
    only a dentist writes that it is settled.

    Raises Refused without a name or words, and for what cannot follow what was said before; NotAllowed.
    """
    require_own(actor, case)
    require(actor, Act.CREATE, Thing.WITHDRAWAL, subject=case)
    if said is Say.SETTLED:
        require(actor, Act.APPROVE, Thing.LETTER, subject=case)
    name = " ".join(person.split())
    if not name:
        raise Refused(_("Say who: name and what they are to the patient."), field="person")
    if not words.strip():
        raise Refused(_("Say by what right, in which words, or how it was settled and by whom."), field="words")
    with transaction.atomic():
        Case.objects.select_for_update().get(pk=case.pk)
        if not rules.may_follow(_rows(case.pk), name, said):
            raise Refused(_cannot(name, said), field="said")
        row = OtherSay.objects.create(
            office=case.office, case=case, person=name, said=str(said), words=words.strip(), by=actor, at=now
        )
        content = {"case": case.public_id, "said": str(said)}
        record(actor=actor, act="others.say", subject=row, content=content, reason=words.strip(), at=now)
    return row


def disputed(case_id: int) -> tuple[str, ...]:
    """Who disagrees, one sentence each; empty when nobody does. One query."""
    return rules.disputed(_rows(case_id))


def wanting(case_id: int) -> tuple[str, ...]:
    """Who disagrees or is not heard yet, one sentence each. One query."""
    return rules.wanting(_rows(case_id))


def wanting_in(cases: Collection[int]) -> dict[int, tuple[str, ...]]:
    """The same for many cases at once, those without any left out. One query."""
    rows: dict[int, list[tuple[str, str]]] = {}
    found = OtherSay.objects.filter(case__in=cases).order_by("pk").values_list("case", "person", "said")
    for case, person, said in found:
        rows.setdefault(case, []).append((person, said))
    wanted = {case: rules.wanting(known) for case, known in rows.items()}
    return {case: sentences for case, sentences in wanted.items() if sentences}


def refuse_disputed(case_id: int) -> None:
    """Raise Refused while somebody whose agreement counts disagrees."""
    if said := disputed(case_id):
        raise Refused(" ".join(said))


def _rows(case_id: int) -> list[tuple[str, str]]:
    return list(OtherSay.objects.filter(case=case_id).order_by("pk").values_list("person", "said"))


def _cannot(name: str, said: Say) -> str:
    if said is Say.AGREES:
        return _("%(name)s was not asked, or disagreed: a disagreement ends by being settled.") % {"name": name}
    if said is Say.SETTLED:
        return _("Nothing is open with %(name)s.") % {"name": name}
    return _("That is written down of %(name)s already; a disagreement ends by being settled.") % {"name": name}
