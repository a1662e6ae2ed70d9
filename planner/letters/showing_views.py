"""Pages on which an estimate is put before a patient at the desk: looking, explaining, writing questions down, and
handing the screen over.
"""

from datetime import datetime
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_POST

from planner.letters import take_home_said
from planner.letters.access import load_consent
from planner.letters.consent_models import Consent, Question
from planner.letters.consent_shown import UNSIGNED, Asked, asked_about
from planner.letters.consent_views import answering, asking
from planner.letters.consents import OPEN, questions_about
from planner.letters.handed_forms import HandOverForm
from planner.letters.models import Document
from planner.letters.presenting import Presentation, language_of, presentation, speaking_to
from planner.letters.services import issue_of, render_papers
from planner.letters.sign_shown import in_force
from planner.letters.sign_views import not_to_be_signed
from planner.patients.services import viewed
from planner.plans.access import load_estimate
from planner.plans.estimates import show_estimate
from planner.plans.models import Channel, Estimate, State
from planner.practice.access import Act, Thing, may, require
from planner.practice.acting import act_on
from planner.practice.books import today
from planner.practice.fields import PlainForm
from planner.practice.handed import Handed
from planner.practice.handed import hand_over as hand_screen_over
from planner.practice.models import Staff
from planner.practice.requests import actor_of, posted
from planner.trail.errors import Refused

DRAFT = "sign-draft"
"""Session key of what staff wrote on the page for signing before handing the screen over."""
_LANGUAGES = {"en": gettext_lazy("English"), "es": gettext_lazy("Spanish")}


def present(request: HttpRequest, public_id: str, page: int = 0) -> HttpResponse:
    """One page of a showing: the beginning, an option, the money, or, for staff alone, what comes next."""
    actor, now = actor_of(request), timezone.now()
    estimate = load_estimate(actor=actor, public_id=public_id, now=now)
    if estimate.frozen is None or estimate.state == State.REPLACED:
        messages.info(request, _("Only an estimate that a dentist has checked, and that holds, is shown."))
        return redirect("plans:estimate", public_id)
    with speaking_to(estimate):
        shown = presentation(estimate, now)
        rendered = shown_page(shown, page, last=shown.last + 1)
        body = render_to_string("letters/show_body.html", rendered | {"desk": True}, request)
    context = (
        rendered | {"body": body} | {"estimate": estimate, "case": estimate.case, "patient": estimate.case.patient}
    )
    context |= {"desk": True, "language": _LANGUAGES[shown.language], "may": _acts(estimate, actor)}
    if page > shown.last:
        context |= {"asked": _asked(estimate, actor, now), "documents": _taken_home(estimate)}
    answer = render(request, "letters/show.html", context)
    viewed(patient=estimate.case.patient, actor=actor, now=now, reason=f"estimate {estimate}, as it is shown")
    return answer


def shown_page(shown: Presentation, page: int, *, last: int) -> dict[str, Any]:
    """What one page of a presentation shows. Raises Http404 for a page it has not."""
    if page > last:
        raise Http404
    return {
        "shown": shown,
        "page": page,
        "one": shown.option_on(page),
        "is_money": page == shown.last,
        "is_next": page > shown.last,
        "before": page - 1 if page else None,
        "after": page + 1 if page < last else None,
        "pages": range(1, last + 1),
    }


def hand_over(request: HttpRequest, public_id: str) -> HttpResponse:
    """Record that the estimate is shown on this screen, and hand the screen over for it and nothing else."""
    actor, now = actor_of(request), timezone.now()
    estimate = load_estimate(actor=actor, public_id=public_id, act=Act.RUN, thing=Thing.RELEASE, now=now)
    form = HandOverForm(posted(request), initial={"to": estimate.case.patient.name, "seen": estimate.version})

    def save(data: dict[str, Any]) -> object:
        if estimate.state == State.ANSWERED:  # What was agreed on is looked at again; it is not shown anew.
            return estimate
        return show_estimate(estimate=estimate, channel=Channel.SCREEN, actor=actor, now=now, **data)

    outcome = act_on(form, save, row=estimate)
    if outcome.done:
        consent = _to_sign(estimate) if may(actor, Act.RUN, Thing.LETTER) else None
        handed = Handed(
            kind="plans.estimate",
            public_id=estimate.public_id,
            signing=consent.public_id if consent is not None else "",
            showing=True,
            by=actor.public_id,
            language=language_of(estimate),
            back=reverse("letters:present", args=[estimate.public_id]),
        )
        return hand_screen_over(request, handed, actor=actor, now=now)
    context = {"estimate": estimate, "case": estimate.case, "patient": estimate.case.patient, "form": form}
    return render(request, "letters/hand_over.html", context | {"outcome": outcome})


@require_POST
def hand_to_sign(request: HttpRequest, public_id: str) -> HttpResponse:
    """Hand the screen over with the page for signing one letter, and with what staff wrote on it already."""
    actor, now = actor_of(request), timezone.now()
    shown = in_force(load_consent(actor=actor, public_id=public_id, act=Act.RUN, now=now))
    if shown.state not in UNSIGNED:
        messages.info(request, not_to_be_signed(shown))
        return redirect("letters:consent", shown.public_id)
    handing = shown.handings.select_related("document").order_by("-pk").first()
    handed = Handed(
        kind="letters.consent",
        public_id=shown.public_id,
        signing=shown.public_id,
        showing=False,
        by=actor.public_id,
        language=handing.document.language if handing is not None else "en",
        back=reverse("letters:consent", args=[shown.public_id]),
    )
    written = {name: values for name, values in request.POST.lists() if name != "csrfmiddlewaretoken"}
    answer = hand_screen_over(request, handed, actor=actor, now=now)
    request.session[DRAFT] = written
    return answer


def ask(request: HttpRequest, public_id: str) -> HttpResponse:
    """Write down a question that was asked while an estimate was shown."""
    actor, now = actor_of(request), timezone.now()
    estimate = load_estimate(actor=actor, public_id=public_id, act=Act.RUN, thing=Thing.LETTER, now=now)
    form, save = asking(request, estimate, {"estimate": estimate}, actor, now)
    done = _("It is written down; until it is answered nothing is signed.")
    return _act(request, estimate, form, save, _("Write a question down"), done)


def answer(request: HttpRequest, public_id: str, question: str) -> HttpResponse:
    """Answer a question asked at a showing; what is about treatment or health is a dentist's."""
    actor, now = actor_of(request), timezone.now()
    estimate = load_estimate(actor=actor, public_id=public_id, act=Act.RUN, thing=Thing.LETTER, now=now)
    asked: Question | None = questions_about(estimate).filter(public_id=question).first()
    if asked is None:
        raise Http404
    require(actor, Act.APPROVE if asked.clinical else Act.RUN, Thing.LETTER, subject=asked)
    form, save = answering(request, asked, actor, now)
    return _act(
        request, estimate, form, save, _("Answer a question"), _("The answer is written."), lead=asked.words
    )  # fmt: skip


@require_POST
def take_home(request: HttpRequest, public_id: str) -> HttpResponse:
    """Make the one paper a patient takes home, in the own language and print size."""
    actor, now = actor_of(request), timezone.now()
    estimate = load_estimate(actor=actor, public_id=public_id, act=Act.CREATE, now=now)
    try:
        to_take_home(estimate, actor=actor, now=now)
    except Refused as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, _("The paper to take home is made and kept."))
    return redirect(next_page(estimate))


def to_take_home(estimate: Estimate, *, actor: Staff, now: datetime) -> Document:
    """The paper of today that ``estimate`` is taken home with, made where it says something new. Raises Refused."""
    if estimate.frozen is None or estimate.state == State.REPLACED:
        raise Refused(_("Only an estimate that a dentist has checked, and that holds, is shown."))
    issue = issue_of(estimate, handed_on=today(estimate.office, now), dentist_role=_("dentist"))
    kinds, language = (take_home_said.KEY,), language_of(estimate)
    (made,) = render_papers(
        frozen=estimate.frozen, kinds=kinds, issue=issue, actor=actor, now=now, estimate=estimate, language=language
    )
    return made


def next_page(estimate: Estimate) -> str:
    """Address of the page that only staff see: questions, papers, what comes next."""
    if estimate.frozen is None:
        return reverse("plans:estimate", args=[estimate.public_id])
    with speaking_to(estimate):
        last = presentation(estimate, timezone.now()).last
    return reverse("letters:present_page", args=[estimate.public_id, last + 1])


def _act(
    request: HttpRequest, estimate: Estimate, form: PlainForm, save: Any, heading: str, done: str, **more: Any
) -> HttpResponse:
    if act_on(form, save).done:
        messages.success(request, done)
        return redirect(next_page(estimate))
    context = {"estimate": estimate, "case": estimate.case, "patient": estimate.case.patient, "form": form}
    return render(request, "letters/consent_act.html", context | {"heading": heading} | more)


def _acts(estimate: Estimate, actor: Staff) -> dict[str, bool]:
    is_open = estimate.state in (State.CHECKED, State.SHOWN)
    shown = estimate.state == State.SHOWN
    return {
        "hand_over": (is_open or estimate.state == State.ANSWERED) and may(actor, Act.RUN, Thing.RELEASE),
        "show": is_open and may(actor, Act.RUN, Thing.RELEASE),
        "ask": may(actor, Act.RUN, Thing.LETTER),
        "call": shown and may(actor, Act.CREATE, Thing.CALL),
        "make": may(actor, Act.CREATE, Thing.ESTIMATE),
        "parts": shown and may(actor, Act.CREATE, Thing.ACCEPTED),
    }


def _to_sign(estimate: Estimate) -> Consent | None:
    """The consent of this estimate that may be signed on the screen: handed over, and in force."""
    rows = Consent.objects.filter(estimate__office=estimate.office_id, estimate__number=estimate.number)
    return rows.filter(state__in=set(UNSIGNED) & set(OPEN)).order_by("-pk").first()


def _asked(estimate: Estimate, actor: Staff, now: datetime) -> list[Asked]:
    return asked_about(questions_about(estimate), actor, today(estimate.office, now))


def _taken_home(estimate: Estimate) -> list[tuple[Document, Any]]:
    """Papers to take home that were made, the newest first, each with its language in words."""
    rows = estimate.documents.filter(kind=take_home_said.KEY).defer("content", "issue")
    return [(row, _LANGUAGES[row.language]) for row in rows.select_related("created_by").order_by("-pk")]
