"""Do the papers of an estimate say the same? What each stored file says is held against the others."""

from collections import OrderedDict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import pikepdf
from django.utils import translation

from planner.letters import instalments_said, result_said, signed_copy, step_sheet_said, take_home_said
from planner.letters.account_said import ACCOUNT_PAPERS
from planner.letters.finish import StructureError
from planner.letters.models import Document
from planner.letters.paper_facts import facts_of_paper
from planner.letters.papers import kind_of
from planner.letters.read_back import printed
from planner.letters.signals import typed_papers
from planner.plans.accepted_models import AcceptedPlan
from planner.plans.estimates import read_frozen
from planner.plans.models import Estimate
from planner.rules.papers_agree import BORN, About, Contradiction, Fact, Paper, contradictions
from planner.rules.units import format_mm

_APART = (signed_copy.KEY, result_said.KEY, *ACCOUNT_PAPERS)
"""A signed copy is its letter again; a receipt or statement tells of money on its own day and of nothing planned. What
came of the work says other lengths than the plan, and is there to say so."""
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
    stated = _stated([*documents, *earlier], _accepted(estimate), _names(estimate))
    now = [_paper(one, estimate, stated[one.pk]) for one in documents]
    papers = [*now, *(_paper(one, estimate, stated[one.pk]) for one in earlier)]
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


def _paper(document: Document, estimate: Estimate, facts: Sequence[Fact]) -> Paper:
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
        facts=tuple(_agreed(facts, document, estimate)),
        for_patient=document.kind in _READ_TOGETHER,
        older=older,
    )


def _agreed(facts: Iterable[Fact], document: Document, estimate: Estimate) -> Iterable[Fact]:
    """An agreement pays the price of its option, unless a part was accepted or the plan was changed since."""
    if document.kind != instalments_said.KEY:
        return facts
    accepted = AcceptedPlan.objects.filter(estimate=estimate).order_by("-pk").first()
    whole = accepted is None or (accepted.part is None and not accepted.amendments.exists())
    return [
        replace(one, key=("total", *one.key[1:])) if one.key[0] == "agreed" else one
        for one in facts
        if whole or one.key[0] != "agreed"
    ]


_KEPT = 256
_READ: OrderedDict[tuple[int, str], tuple[Fact, ...]] = OrderedDict()
"""What stored files state, by row and hash. A file never changes, so each is read once."""


def _accepted(estimate: Estimate) -> str:
    """Name of the option that was said yes to; a step sheet is about that one, and does not say it."""
    names = AcceptedPlan.objects.filter(estimate=estimate).order_by("-pk").values_list("name", flat=True)
    return names.first() or ""


def _names(estimate: Estimate) -> dict[str, str]:
    """What each language calls an option, and the one name that stands for both: a vocabulary, no statement."""
    if estimate.frozen is None:
        return {}
    return {
        name: option.name for option in read_frozen(estimate.frozen).options for name in (option.name, option.name_es)
    }


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
