"""Pages of one consent before it is signed: where it stands, handing over, talks, questions and their answers."""

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from planner.letters.access import load_consent, load_document
from planner.letters.consent_forms import AnswerForm, HandForm, QuestionForm, TalkForm
from planner.letters.consent_models import Channel, Consent, Question
from planner.letters.consent_shown import consent_page, consent_to, consents_of
from planner.letters.consents import answer_question, ask_question, hand_letter, note_talk, questions_of
from planner.letters.papers import kind_of
from planner.patients.services import viewed
from planner.plans.access import load_case
from planner.plans.models import Estimate
from planner.plans.others_agree import wanting
from planner.practice.access import Act, Thing, may, require
from planner.practice.acting import act_on
from planner.practice.books import today
from planner.practice.both import go_on
from planner.practice.fields import PlainForm
from planner.practice.models import Office, Staff
from planner.practice.requests import actor_of, posted
from planner.trail.errors import Refused


def consent(request: HttpRequest, public_id: str) -> HttpResponse:
    """Where one consent stands, what is against signing and where each of it is settled."""
    actor, now = actor_of(request), timezone.now()
    shown = load_consent(actor=actor, public_id=public_id, now=now)
    answer = render(request, "letters/consent.html", consent_page(shown, actor, now))
    viewed(patient=shown.case.patient, actor=actor, now=now, reason=f"consent of estimate {shown.estimate}")
    return answer


def of_case(request: HttpRequest, public_id: str) -> HttpResponse:
    """The consents of one case; loaded into the pages of the floors below."""
    actor, now = actor_of(request), timezone.now()
    case = load_case(actor=actor, public_id=public_id, now=now)
    require(actor, Act.VIEW, Thing.LETTER, subject=case)
    context = {"case": case, "patient": case.patient, "consents": consents_of(case), "wanting": wanting(case.pk)}
    part = bool(request.headers.get("HX-Request"))
    return render(request, "letters/consents_part.html" if part else "letters/consents.html", context)


def hand(request: HttpRequest, public_id: str) -> HttpResponse:
    """Record that this very letter was handed over: to whom, how and when."""
    actor, now = actor_of(request), timezone.now()
    letter = load_document(actor=actor, public_id=public_id, now=now)
    require(actor, Act.RUN, Thing.LETTER, subject=letter)
    patient, known = letter.frozen.case.patient, consent_to(letter)
    form = HandForm(posted(request), office=letter.office, now=now, initial={"to": patient.name})
    done = act_on(
        form,
        lambda data: hand_letter(
            document=letter, to=data["to"], channel=Channel(data["channel"]), handed_at=data["moment"], actor=actor,
            now=now,
        ),
    )  # fmt: skip
    if done.done:
        messages.success(request, _("It is recorded. From here the time to think it over runs."))
        return redirect("letters:consent", done.made.public_id)
    lead = _("%(paper)s %(version)s, %(n)d points, %(pages)d pages") % {
        "paper": kind_of(letter.kind).title, "version": letter.version_words, "n": letter.points, "pages": letter.pages
    }  # fmt: skip
    context = {"case": letter.frozen.case, "patient": patient, "form": form, "lead": lead, "consent": known,
               "letter": letter, "heading": _("Hand the letter over")}  # fmt: skip
    return render(request, "letters/consent_act.html", context)


def talk(request: HttpRequest, public_id: str) -> HttpResponse:
    """Record which dentist talked the letter over, and when."""
    actor, now = actor_of(request), timezone.now()
    shown = load_consent(actor=actor, public_id=public_id, act=Act.RUN, now=now)
    people = dentists(shown)
    checked = shown.estimate.checked_by
    form = TalkForm(
        posted(request), office=shown.office, now=now, clinicians=people,
        initial={"clinician": actor.public_id if actor in people else checked.public_id if checked else ""},
    )  # fmt: skip

    def save(data: dict[str, Any]) -> object:
        who = next(one for one in people if one.public_id == data["clinician"])
        return note_talk(
            consent=shown, clinician=who, held_at=data["moment"], words=data["words"], actor=actor, now=now
        )

    return act_page(request, shown, form, save, _("Record a talk"), _("The talk is recorded."))


def asking(
    request: HttpRequest, estimate: Estimate, about: dict[str, Any], actor: Staff, now: datetime
) -> tuple[QuestionForm, Callable[[dict[str, Any]], object]]:
    """The form in which a question is written down, wherever it was asked, and what stores it. ``about`` is the
    ``consent`` or the ``estimate`` it hangs on.
    """
    day, people = today(estimate.office, now), staff_of(estimate.office)
    owner = estimate.checked_by or actor
    first = {"asked_by": estimate.case.patient.name, "owner": owner.public_id, "due_on": day + timedelta(days=2)}

    def save(data: dict[str, Any]) -> object:
        chosen = data.pop("owner")
        who = next(one for one in people if one.public_id == chosen)
        clinical = data.pop("clinical") == "yes"
        return ask_question(**about, clinical=clinical, owner=who, actor=actor, now=now, **data)

    return QuestionForm(posted(request), staff=people, today=day, initial=first), save


def ask(request: HttpRequest, public_id: str) -> HttpResponse:
    """Write a question down."""
    actor, now = actor_of(request), timezone.now()
    shown = load_consent(actor=actor, public_id=public_id, act=Act.RUN, now=now)
    form, save = asking(request, shown.estimate, {"consent": shown}, actor, now)
    done = _("It is written down; until it is answered nothing is signed.")
    return act_page(request, shown, form, save, _("Write a question down"), done)


def answer(request: HttpRequest, public_id: str, question: str) -> HttpResponse:
    """Answer one question; what is about treatment or health is a dentist's."""
    actor, now = actor_of(request), timezone.now()
    shown = load_consent(actor=actor, public_id=public_id, act=Act.RUN, now=now)
    asked = questions_of(shown).select_related("consent", "estimate").filter(public_id=question).first()
    if asked is None:
        raise Http404
    require(actor, Act.APPROVE if asked.clinical else Act.RUN, Thing.LETTER, subject=asked)
    form, save = answering(request, asked, actor, now)
    return act_page(request, shown, form, save, _("Answer a question"), _("The answer is written."), lead=asked.words)


def answering(
    request: HttpRequest, asked: Question, actor: Staff, now: datetime
) -> tuple[AnswerForm, Callable[[dict[str, Any]], object]]:
    """The form in which a question is answered, wherever it was asked, and what stores it.

    Whoever comes second reads what was answered meanwhile; a second press then adds a further answer knowingly.
    """
    form = AnswerForm(posted(request), initial={"seen": asked.answers.count()})

    def save(data: dict[str, Any]) -> object:
        try:
            return answer_question(question=asked, words=data["words"], seen=data["seen"] or 0, actor=actor, now=now)
        except Refused:
            go_on(form, asked.answers.count())
            raise

    return form, save


def act_page(
    request: HttpRequest, shown: Consent, form: PlainForm, save: Callable[[dict[str, Any]], object], heading: str,
    done: str, **more: Any,
) -> HttpResponse:  # fmt: skip
    """A form that does one thing to a consent, and back to its page."""
    if act_on(form, save).done:
        messages.success(request, done)
        return redirect("letters:consent", shown.public_id)
    context = {"consent": shown, "case": shown.case, "patient": shown.case.patient, "form": form, "heading": heading}
    return render(request, "letters/consent_act.html", context | more)


def dentists(shown: Consent) -> list[Staff]:
    """Those of the office who may hold the talk."""
    return [one for one in staff_of(shown.office) if may(one, Act.APPROVE, Thing.LETTER)]


def staff_of(office: Office) -> list[Staff]:
    """Those of the office who take part in consents: who may own a question."""
    rows = Staff.objects.filter(office=office, is_active=True).prefetch_related("role_rows")
    return [one for one in rows.order_by("full_name") if may(one, Act.RUN, Thing.LETTER)]
