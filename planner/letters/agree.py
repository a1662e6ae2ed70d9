"""Do the papers of an estimate say the same? What each stored file says is held against the others."""

from collections import OrderedDict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

import pikepdf
from django.utils import translation

from planner.letters import instalments_said, result_said, signed_copy, step_sheet_said, take_home_said
from planner.letters.account_said import ACCOUNT_PAPERS
from planner.letters.finish import StructureError
from planner.letters.models import Document
from planner.letters.options import name_of
from planner.letters.paper_facts import AGREED, facts_of_paper
from planner.letters.papers import LANGUAGES, kind_of
from planner.letters.read_back import printed
from planner.letters.signals import typed_papers
from planner.letters.wording import day, money
from planner.plans.accepted_models import AcceptedPlan
from planner.plans.accepted_rows import came_to, changes_of
from planner.plans.estimates import read_frozen
from planner.plans.models import Estimate
from planner.practice.books import today
from planner.rules.papers_agree import BORN, About, Contradiction, Fact, Paper, contradictions
from planner.rules.partial import part_of
from planner.rules.units import format_mm

_APART = (signed_copy.KEY, result_said.KEY, *ACCOUNT_PAPERS)
"""A signed copy is its letter again; a receipt or statement tells of money on its own day and of nothing planned. What
came of the work says other lengths than the plan, and is there to say so."""
ACCEPTED_PLAN = "accepted-plan"
"""What stands for the rows of an accepted plan, which is no paper, where a paper is held against it."""
LENGTHS = "any"
"""Key of all the lengths that papers state of one tooth, for what names only some of them."""

_READ_TOGETHER = (
    "estimate",
    "consent-letter",
    "option-sheet",
    "not-now-letter",
    instalments_said.KEY,
    take_home_said.KEY,
)
"""What a patient reads side by side before saying yes, and so in one language."""


def papers_disagree(estimate: Estimate) -> tuple[Contradiction, ...]:
    """Every fact on which papers of ``estimate`` differ: stored files, slips as typed, and earlier issues.

    What an earlier issue said otherwise comes marked as changed since; whom it is about may not differ in any.
    """
    return contradictions(compared(estimate))


def stand_against(found: Iterable[Contradiction]) -> tuple[str, ...]:
    """The sentences of those that must be put right before anything is shown, signed or begun."""
    return tuple(one.sentence for one in found if not one.since_changed)


def compared(estimate: Estimate) -> tuple[Paper, ...]:
    """The papers that are held against each other, those made last first within a kind, and what each states."""
    documents, earlier = _documents(estimate), _earlier(estimate)
    said_yes_to = _accepted(estimate)
    names = _names(estimate, said_yes_to)
    about = names.get(said_yes_to.name, said_yes_to.name) if said_yes_to is not None else ""
    stated = _stated([*documents, *earlier], about, names)
    plans = _plans_of((*documents, *earlier))
    now = [_paper(one, estimate, stated[one.pk], plans) for one in documents]
    papers = [*now, *(_paper(one, estimate, stated[one.pk], plans) for one in earlier)]
    for one in (*documents, *earlier):
        accepted = plans.get(one.estimate_id)
        if one.kind == instalments_said.KEY and accepted is not None and _is_other(accepted, one):
            name = names.get(accepted.name, accepted.name)
            papers.append(_as_accepted(one, accepted, name, older=one.estimate_id != estimate.pk))
    typed: list[Paper] = []
    answers: list[tuple[Any, Any]] = typed_papers.send(sender=Estimate, estimate=estimate)
    for _receiver, answer in answers:
        typed.extend(answer)
    if typed and papers:
        papers[0] = replace(papers[0], facts=(*papers[0].facts, *every_length(now)))
    return (*papers, *typed)


def _documents(estimate: Estimate) -> list[Document]:
    """The estimate itself first: what is signed and ordered is held against it."""
    rows = estimate.documents.exclude(kind__in=_APART).defer("content", "issue").order_by("-pk")
    found = list(rows)
    agreed = [one for one in found if one.kind == instalments_said.KEY]
    # What was agreed on again replaces what was agreed on before.
    kept = [one for one in found if one.kind != instalments_said.KEY] + agreed[:1]
    order = {kind: number for number, kind in enumerate(("estimate", "consent-letter", "option-sheet"))}
    return sorted(kept, key=lambda one: order.get(one.kind, len(order)))


def _earlier(estimate: Estimate) -> list[Document]:
    """The last paper of each kind of each earlier issue under the same number."""
    rows = Document.objects.filter(
        office_id=estimate.office_id, estimate__number=estimate.number, estimate__issue__lt=estimate.issue
    )
    found: dict[tuple[int | None, str], Document] = {}
    for one in rows.exclude(kind__in=_APART).defer("content", "issue").order_by("-pk"):
        found.setdefault((one.estimate_id, one.kind), one)
    return list(found.values())


def _paper(
    document: Document, estimate: Estimate, facts: Sequence[Fact], plans: Mapping[int | None, AcceptedPlan]
) -> Paper:
    older = document.estimate_id != estimate.pk
    with translation.override("en"):
        title = str(kind_of(document.kind).title)
    if older:
        # Number, version and days are what an issue is there to change.
        facts = [one for one in facts if one.about != About.VERSION and (one.about != About.DATE or one.key == BORN)]
    return Paper(
        title=title,
        kind=document.kind,
        version=document.version_words,
        language=document.language,
        facts=tuple(_agreed(facts, document, plans.get(document.estimate_id))),
        for_patient=document.kind in _READ_TOGETHER,
        older=older,
    )


def _agreed(facts: Iterable[Fact], document: Document, accepted: AcceptedPlan | None) -> Iterable[Fact]:
    """An agreement pays what the estimate says of its option, unless a part was accepted or it was changed by then."""
    if document.kind != instalments_said.KEY or (accepted is not None and _is_other(accepted, document)):
        return facts
    return [replace(one, key=("total", *one.key[1:])) if one.key[0] == AGREED else one for one in facts]


def _is_other(accepted: AcceptedPlan, document: Document) -> bool:
    """Whether what was accepted had another price than the option when the agreement was made."""
    return accepted.part is not None or bool(changes_of(accepted, _agreed_at(accepted, document)))


def _agreed_at(accepted: AcceptedPlan, document: Document) -> datetime:
    """When what a paper prints was agreed on: the paper may be printed again, or in another size, much later."""
    assert accepted.estimate is not None  # found by its estimate
    made = [one.at for one in accepted.estimate.arrangements.all() if one.at <= document.at]
    return max(made, default=document.at)


def _as_accepted(document: Document, accepted: AcceptedPlan, name: str, *, older: bool) -> Paper:
    """What the plan came to when ``document`` was agreed on, part and changes counted, to hold the paper against.

    ``name`` is what papers call the option it is of.
    """
    at = _agreed_at(accepted, document)
    cents = came_to(accepted, at)
    what = f"the price of “{name}” as it was accepted"
    said = money(cents, read_frozen(accepted.frozen).currency, "en")
    fact = Fact(About.PRICE, (AGREED, name), what, str(cents), said)
    title = f"accepted plan as of {day(today(accepted.office, at), 'en')}"
    return Paper(title, ACCEPTED_PLAN, facts=(fact,), for_patient=False, older=older)


def _plans_of(documents: Iterable[Document]) -> dict[int | None, AcceptedPlan]:
    """What was accepted of the estimates whose price is paid in parts."""
    wanted = {one.estimate_id for one in documents if one.kind == instalments_said.KEY}
    if not wanted:
        return {}
    rows = AcceptedPlan.objects.filter(estimate__in=wanted).select_related("office", "frozen", "estimate")
    return {one.estimate_id: one for one in rows.prefetch_related("amendments__agreement", "estimate__arrangements")}


_KEPT = 256
_READ: OrderedDict[tuple[int, str], tuple[Fact, ...]] = OrderedDict()
"""What stored files state, by row and hash. A file never changes, so each is read once."""


def _accepted(estimate: Estimate) -> AcceptedPlan | None:
    """What was said yes to; a step sheet is about that one, and does not say it."""
    return AcceptedPlan.objects.filter(estimate=estimate).order_by("-pk").first()


def _names(estimate: Estimate, accepted: AcceptedPlan | None) -> dict[str, str]:
    """What each language calls an option, and the one name that stands for both: a vocabulary, no statement.

    A part of an option that was accepted is called a part of it, and is about that option all the same.
    """
    if estimate.frozen is None:
        return {}
    options = read_frozen(estimate.frozen).options
    names = {name: option.name for option in options for name in (option.name, option.name_es)}
    if accepted is not None:
        chosen = (option for option in options if option.key == accepted.option_key)
        for option in chosen:
            spoken = ((name_of(option, language), language) for language in LANGUAGES)
            names.update((part_of(name, language), option.name) for name, language in spoken)
    return names


def _stated(documents: Sequence[Document], accepted: str, names: Mapping[str, str]) -> dict[int, tuple[Fact, ...]]:
    """What each of the stored files states; files that were not read before are loaded together."""
    wanted = {one.pk: one for one in documents if (one.pk, one.sha256) not in _READ}
    made = {one.pk: _READ[one.pk, one.sha256] for one in documents if one.pk not in wanted}
    if wanted:
        for pk, content in Document.objects.filter(pk__in=wanted).values_list("pk", "content"):
            made[pk] = _READ[pk, wanted[pk].sha256] = _read(bytes(content), wanted[pk], accepted, names)
    while len(_READ) > _KEPT:
        _READ.popitem(last=False)
    return made


def _read(content: bytes, document: Document, accepted: str, names: Mapping[str, str]) -> tuple[Fact, ...]:
    about = accepted if document.kind == step_sheet_said.KEY else ""
    try:
        return facts_of_paper(printed(content), document.language, names, about)
    except (StructureError, pikepdf.PdfError) as error:
        # A paper that cannot be compared agrees with none.
        key, what = ("readable",), "whether its words can be read"
        made = Fact(About.LANGUAGE, key, what, "yes", "it was made as a paper whose words can be read back")
        return made, Fact(About.LANGUAGE, key, what, "no", f"they cannot be read back ({error})")


def every_length(papers: Iterable[Paper]) -> tuple[Fact, ...]:
    """All lengths that papers state of each tooth, so that a slip that names one of them can be held against them."""
    found: dict[str, set[str]] = {}
    for fact in (fact for paper in papers for fact in paper.facts if fact.about == About.LENGTH):
        if fact.key[0] not in ("gap", "taken off") and isinstance(fact.value, str):
            found.setdefault(fact.key[2], set()).update(fact.value.split(",") if fact.value else ())
    return tuple(
        Fact(About.LENGTH, (LENGTHS, tooth), f"lengths of the {tooth.replace('-', ' ')}", frozenset(values),
             ", ".join(f"{format_mm(abs(int(one)))} mm" for one in sorted(values, key=int)))
        for tooth, values in found.items()
    )  # fmt: skip


def on_showing(*, estimate: Estimate, **_kwargs: Any) -> tuple[str, ...]:
    """What papers of an estimate that is about to be shown say against each other."""
    return stand_against(papers_disagree(estimate))
