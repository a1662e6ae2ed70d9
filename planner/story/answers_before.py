"""Answers about what came before the work: measuring, showing, deciding, the letter and its signature."""

import json
from collections.abc import Iterator
from typing import Any

from django.urls import reverse

from planner.letters.choosing import NOTHING
from planner.letters.consent_models import Handing, Signature
from planner.patients.models import Examination
from planner.plans.choice_words import choice_words
from planner.rules.choices import Choices
from planner.story.ground import Ground
from planner.story.said import Line, at, day_of, lasting


def measured(ground: Ground) -> Iterator[Line]:
    """Who measured what the plan rests on, with what, how much of it twice; and every other set."""
    rests_on = ground.rests_on
    for one in ground.examinations:
        url = reverse("patients:examination", args=[one.public_id])
        said = "The plan rests on this set: " if one == rests_on else "Another set: "
        yield Line(said + _who_measured(one), url)
        if one == rests_on:
            teeth, gaps = list(one.teeth.all()), list(one.gaps.all())
            widths = [row for row in teeth if row.width is not None]
            yield Line(
                f"Measured a second time: the width of {_n(row.width_again is not None for row in widths)} of "
                f"{len(widths)} teeth, the length of {_n(row.length_again is not None for row in teeth)} of "
                f"{_n(row.length is not None for row in teeth)}, and {_n(row.width_again is not None for row in gaps)} "
                f"of {_n(row.width is not None for row in gaps)} gaps.",
                url,
            )


def _who_measured(one: Examination) -> str:
    tool = f"with a {one.instrument}" if one.instrument != "film" else "from a film"
    if one.instrument == "film":
        factor = one.film_factor_percent
        tool += f" at {factor} % of life size" if factor else " of unknown enlargement"
    confirmed = f"confirmed by {one.confirmed_by}" if one.confirmed_by else "not confirmed by a dentist"
    corrects = ", a correction of an earlier set" if one.corrects_id else ""
    by = one.by or "somebody who is not named"
    return f"{by} measured on {day_of(one.on)} {tool}; entered by {one.entered_by.full_name}, {confirmed}{corrects}."


def _n(found: Iterator[bool]) -> int:
    return sum(found)


def wishes(ground: Ground) -> Iterator[Line]:
    """The wishes as they were said, the most important first; as frozen, or as they stand where nothing was."""
    url = reverse("plans:case", args=[ground.case.public_id])
    stored = [wish.model_dump() for wish in ground.facts.wishes] if ground.facts is not None else ground.case.wishes
    for wish in sorted(stored, key=lambda one: int(one["rank"])):
        yield Line(f"{wish['rank']}. “{wish['words']}”", url)


def shown(ground: Ground) -> Iterator[Line]:
    """Each showing: when, to whom, how, by whom, which options in which order."""
    names = _names(ground)
    for estimate in reversed(ground.estimates):
        url = reverse("plans:estimate", args=[estimate.public_id])
        for showing in estimate.showings.all():
            listed = "; ".join(f"{n}. {names.get(key, key)}" for n, key in enumerate(estimate.options, start=1))
            nothing = "was" if NOTHING in estimate.options else "was not"
            yield Line(
                f"On {day_of(showing.on)}, {showing.channel}, to {showing.to} by {showing.shown_by.full_name}, "
                f"estimate {estimate}: {listed}. Doing nothing {nothing} among them.",
                url,
            )


def struck(ground: Ground) -> Iterator[Line]:
    """What a dentist struck, with the reason."""
    for one in _choices(ground).struck:
        yield Line(f"{_names(ground).get(one.option, one.option)}, by {one.by}: {one.reason}", _case(ground))


def rules(ground: Ground) -> Iterator[Line]:
    """The rules and the price list behind the frozen plan, by hash and number."""
    frozen, plan = ground.frozen, ground.plan
    if frozen is None:
        return
    zone = ground.patient.office.zone
    url = reverse("plans:estimate", args=[ground.estimate.public_id]) if ground.estimate else ""
    yield Line(
        f"Frozen on {at(frozen.at, zone)} by {frozen.frozen_by.full_name}. Rules and evidence have the SHA-256 "
        f"{frozen.rules_sha256}; the frozen plan has {frozen.sha256}.",
        url,
    )
    if plan is None:
        yield Line("The stored plan cannot be read back: let the system keeper check the stored papers.", url)
    else:
        yield Line(f"Plan format {plan.format}, version {plan.version}; price list {plan.price_list_version}.", url)


def overridden(ground: Ground) -> Iterator[Line]:
    """Verdicts that a dentist set aside, and values that were fixed, each with reason and name."""
    chosen, names = _choices(ground), _names(ground)
    for one in chosen.overrides:
        second = f", with {one.second_dentist}" if one.second_dentist else ""
        option = names.get(one.option, one.option)
        yield Line(f"{option}, rule {one.gate}, by {one.by}{second} on {day_of(one.on)}: {one.reason}", _case(ground))
    locks = chosen.model_copy(update={"overrides": (), "struck": (), "recommended": None})
    for words in choice_words(Choices(locks=locks.locks), ground.numbering):
        if words.startswith("Fixed"):
            yield Line(words, _case(ground))


def letters(ground: Ground) -> Iterator[Line]:
    """Each handing over, and how long it was from the first of it to the signature."""
    zone = ground.patient.office.zone
    signed = {one.consent_id: one for one in ground.signatures}
    for consent in reversed(ground.consents):
        handings = list(consent.handings.all())
        for handing in handings:
            yield _handed(handing, zone)
        signature = signed.get(consent.pk)
        if signature is None or not handings:
            continue
        of_it = [one.handed_at for one in handings if one.document_id == signature.document_id]
        since = min(of_it or [one.handed_at for one in handings])
        yield Line(
            f"Signed on {at(signature.at, zone)}: {lasting(signature.at - since)} after the letter that was signed was "
            "handed over.",
            reverse("letters:document", args=[signature.copy.public_id]),
        )


def _handed(handing: Handing, zone: Any) -> Line:
    letter = handing.document
    language = {"en": "English", "es": "Spanish"}.get(letter.language, letter.language)
    return Line(
        f"{letter.version_words}, in {language}, {letter.points} points, {letter.pages} pages: handed to {handing.to} "
        f"{handing.channel} on {at(handing.handed_at, zone)} by {handing.by.full_name}.",
        reverse("letters:document", args=[letter.public_id]),
    )


def asked(ground: Ground) -> Iterator[Line]:
    """Talks and questions with every answer, and whether that was before the signature."""
    zone = ground.patient.office.zone
    signed = {one.consent_id: one.at for one in ground.signatures}
    for consent in reversed(ground.consents):
        url = reverse("letters:consent", args=[consent.public_id])
        moment = signed.get(consent.pk)
        for talk in consent.talks.all():
            words = f": {talk.words}" if talk.words else "."
            yield Line(f"Talk with {talk.clinician.full_name} on {at(talk.held_at, zone)}{words}", url)
        for question in consent.questions.all():
            sort = "clinical" if question.clinical else "not clinical"
            yield Line(f"{question.asked_by} asked on {at(question.at, zone)} ({sort}): “{question.words}”", url)
            answered = list(question.answers.all())
            for answer in answered:
                when = "" if moment is None else ", before signing" if answer.at <= moment else ", after signing"
                yield Line(f"{answer.by.full_name} answered on {at(answer.at, zone)}{when}: “{answer.words}”", url)
            if not answered:
                yield Line("It was not answered.", url)


def entitled(ground: Ground) -> Iterator[Line]:
    """By what right each signature was given, and what was known of the person on that day."""
    zone = ground.patient.office.zone
    for one in reversed(ground.signatures):
        stated = _stated(one)
        person, said = stated.get("patient", {}), stated.get("said", {})
        grown = "a minor" if person.get("minor") else "of age"
        url = reverse("letters:document", args=[one.copy.public_id])
        yield Line(
            f"{one.signer} signed on {at(one.at, zone)} ({one.method}), by right of: {one.basis}. The patient was "
            f"{person.get('age', '–')} years old on that day, {grown} by the office's setting.",
            url,
        )
        known = [
            ("known by", said.get("id_seen")),
            ("right proven by", said.get("proof")),
            ("other parent", said.get("other_parent")),
            ("capacity", said.get("capacity_note") if said.get("capacity_doubted") else "not doubted"),
            ("own agreement", {True: "yes", False: "no"}.get(said.get("assent"))),
            ("witnesses", ", ".join(said.get("witnesses") or ())),
        ]
        yield Line("; ".join(f"{what}: {words}" for what, words in known if words).capitalize() + ".", url)
        counter = getattr(one, "countersignature", None)
        yield Line(
            f"Countersigned by {counter.by.full_name}, licence {counter.licence}, on {at(counter.at, zone)}."
            if counter
            else f"Not countersigned by {one.clinician.full_name}, who held the talk.",
            url,
        )
    for consent in reversed(ground.consents):
        for taken_back in consent.withdrawals.all():
            yield Line(
                f"Withdrawn on {at(taken_back.said_at, zone)} by {taken_back.said_by} ({taken_back.how}): "
                f"“{taken_back.words}”",
                reverse("letters:consent", args=[consent.public_id]),
            )


def interpreted(ground: Ground) -> Iterator[Line]:
    """Who interpreted at each signing."""
    for one in reversed(ground.signatures):
        who = _stated(one).get("said", {}).get("interpreter")
        url = reverse("letters:document", args=[one.copy.public_id])
        if not who:
            yield Line(f"At the signing of {day_of(one.signed_on)} no interpreter was named.", url)
            continue
        grown = {True: "adult", False: "not adult"}.get(who.get("adult"), "age not asked")
        relation = who.get("relation") or "relation not said"
        yield Line(f"At the signing of {day_of(one.signed_on)}: {who.get('name')}, {relation}, {grown}.", url)


def _stated(signature: Signature) -> dict[str, Any]:
    found = json.loads(signature.content)
    return found if isinstance(found, dict) else {}


def _choices(ground: Ground) -> Choices:
    return ground.facts.choices if ground.facts is not None else Choices()


def _names(ground: Ground) -> dict[str, str]:
    return {one.key: one.name for one in ground.plan.options} if ground.plan is not None else {}


def _case(ground: Ground) -> str:
    return reverse("plans:case", args=[ground.case.public_id])
