"""Records as resources of HL7 FHIR, release 4B (4.3.0): plain dictionaries, ready to be written as JSON.

The codes are FHIR's own required or example sets. No licensed code set is in here: what has no code in them is said in
words, under code systems of our own. A system of our own is a ``urn:uuid:`` made from its name, so that it is nobody
else's and the same everywhere.

Money and lengths are Decimals; :func:`written` writes them as the numbers they are.
"""

import base64
import hashlib
import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any, Final
from uuid import UUID, uuid5

from planner.rules.consent_states import ConsentState
from planner.rules.item_states import ItemState
from planner.rules.plan_states import PlanState
from planner.rules.signing import CONSENTS, Choice
from planner.rules.teeth import Tooth

Resource = dict[str, Any]

_OURS: Final = UUID("6a1f5a0e-9f0c-4f5e-8f6b-2a3c7d9e1b40")
"""Made once at random; every name of ours hangs under it."""


def own(name: str) -> str:
    """The address of a system, extension or row of ours."""
    return f"urn:uuid:{uuid5(_OURS, name)}"


HL7_TEETH: Final = "http://terminology.hl7.org/CodeSystem/ex-tooth"
"""Holds the 32 permanent teeth by their ISO 3950 numbers: no baby tooth and no extra one."""
OWN_TEETH: Final = own("tooth")
OWN_SERVICES: Final = own("service")
PUBLIC_ID: Final = own("public id")
SHA_256: Final = own("sha-256")
TOOTH: Final = own("extension tooth")
PRICE: Final = own("extension price")
VERDICT: Final = own("extension verdict")
SYSTEMS: Final = {
    OWN_TEETH: "teeth that HL7's code system lacks, by our own keys made of words",
    OWN_SERVICES: "short codes of this office's price list",
    PUBLIC_ID: "our own id of a row, as in the tables of this copy",
    SHA_256: "extension: SHA-256 of the attached file, in hexadecimal",
    TOOTH: "extension: the tooth or place that an activity is about",
    PRICE: "extension: price of an option today, taxes included",
    VERDICT: "extension: what the rules said of an option when it was planned",
}

PLAN_STATUS: Final = {
    PlanState.ACCEPTED: "active",
    PlanState.BOOKED: "active",
    PlanState.UNDER_WAY: "active",
    PlanState.FINISHED: "completed",
    PlanState.RESTING: "on-hold",
    PlanState.STOPPED: "revoked",
    PlanState.CHANGED: "revoked",
}
"""CarePlan.status of an accepted plan, by its state."""
ITEM_STATUS: Final = {
    ItemState.TO_DO: "not-started",
    ItemState.WAITING: "not-started",
    ItemState.BOOKED: "scheduled",
    ItemState.DONE: "completed",
    ItemState.DROPPED: "cancelled",
}
"""CarePlan.activity.detail.status of an item, by its state."""
CONSENT_STATUS: Final = {
    ConsentState.NONE: "draft",
    ConsentState.HANDED: "proposed",
    ConsentState.QUESTIONS: "proposed",
    ConsentState.SIGNED: "active",
    ConsentState.WITHDRAWN: "inactive",
    ConsentState.REPLACED: "inactive",
}
"""Consent.status by the state of a consent; see :func:`consent_status`."""


def consent_status(state: ConsentState, choice: Choice | None, *, lapsed: bool = False) -> str:
    """Consent.status: a signed no, or not now, is ``rejected``; a yes that no longer holds is ``inactive``."""
    if state is ConsentState.SIGNED and choice is not None and choice not in CONSENTS:
        return "rejected"
    return "inactive" if lapsed and state is ConsentState.SIGNED else CONSENT_STATUS[state]


def fhir_id(public_id: str) -> str:
    """A public id as FHIR allows ids: letters, digits, ``-`` and ``.``; two ids never become one."""
    return public_id.replace("_", ".")


_ID: Final = re.compile(r"[A-Za-z0-9.-]{1,64}")


def key_of(*parts: str) -> str:
    """One key made of several, such as of an estimate and one of its options; itself an id of FHIR, always the same."""
    whole = ".".join(parts)
    return whole if _ID.fullmatch(fhir_id(whole)) else str(uuid5(_OURS, whole))


def reference(kind: str, key: str, display: str = "") -> Resource:
    """A reference to a resource of the same bundle."""
    found: Resource = {"reference": own(f"{kind} {key}")}
    return found | ({"display": display} if display else {})


def tooth_concept(tooth: Tooth) -> Resource:
    """A tooth: by HL7's code system where that has it, by our own keys where it has not."""
    permanent = not tooth.is_extra and not tooth.kind.value.startswith("primary")
    coding = {"system": HL7_TEETH, "code": tooth.iso} if permanent else {"system": OWN_TEETH, "code": tooth.key}
    return {"coding": [coding], "text": tooth.name}


def money(cents: int, currency: str) -> Resource:
    """An amount; ``currency`` is an ISO 4217 code."""
    return {"value": Decimal(cents).scaleb(-2), "currency": currency}


def instant(at: datetime) -> str:
    """An instant in UTC. Raises ValueError for one without a zone."""
    if at.tzinfo is None:
        raise ValueError("FHIR's instants have a zone: give an aware datetime")
    return at.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def _identified(kind: str, key: str) -> Resource:
    return {
        "resourceType": kind,
        "id": fhir_id(key),
        "identifier": [{"system": PUBLIC_ID, "value": key}],
    }


def organization(key: str, name: str, place: str = "") -> Resource:
    """An office, or a payer."""
    return _identified("Organization", key) | {"name": name} | ({"address": [{"text": place}]} if place else {})


_GENDER: Final = {"woman": "female", "man": "male"}


def patient(key: str, *, name: str, born: date, language: str, office: str, phone: str = "", sex: str = "") -> Resource:
    """A person, named as that person writes the name; ``office`` is the key of the organization."""
    found = _identified("Patient", key) | {
        "name": [{"use": "official", "text": name}],
        "gender": _GENDER.get(sex, "unknown"),
        "birthDate": born.isoformat(),
        "communication": [
            {"language": {"coding": [{"system": "urn:ietf:bcp:47", "code": language}]}, "preferred": True}
        ],
        "managingOrganization": reference("Organization", office),
    }
    return found | ({"telecom": [{"system": "phone", "value": phone}]} if phone else {})


@dataclass(frozen=True, slots=True)
class Activity:
    """One thing that a course would do, or does."""

    words: str
    teeth: tuple[Tooth, ...] = ()
    status: str = "not-started"
    on: date | None = None


def care_plan(
    key: str,
    *,
    of: str,
    status: str,
    intent: str,
    title: str,
    words: str = "",
    activities: Iterable[Activity] = (),
    created: datetime,
    price: Resource | None = None,
    verdict: str = "",
    based_on: str = "",
    author: str = "",
) -> Resource:
    """A course of treatment of the patient ``of``: an ``option`` as planned, or the ``plan`` that was accepted."""
    found = _identified("CarePlan", key) | {
        "status": status,
        "intent": intent,
        "title": title,
        "subject": reference("Patient", of),
        "created": instant(created),
        "activity": [{"detail": _detail(one)} for one in activities],
    }
    extensions = [{"url": PRICE, "valueMoney": price}] if price else []
    extensions += [{"url": VERDICT, "valueCode": verdict}] if verdict else []
    extra = {
        "extension": extensions,
        "description": words,
        "basedOn": [reference("CarePlan", based_on)] if based_on else [],
        "author": {"display": author} if author else {},
    }
    return _without_empty(found | extra)


def _detail(one: Activity) -> Resource:
    teeth = [{"url": TOOTH, "valueCodeableConcept": tooth_concept(tooth)} for tooth in one.teeth]
    found: Resource = {"extension": teeth, "code": {"text": one.words}, "status": one.status}
    if one.on is not None:
        # The two choices of a period and a string exclude each other; a day is a period of one day.
        found["scheduledPeriod"] = {"start": one.on.isoformat(), "end": one.on.isoformat()}
    return _without_empty(found)


@dataclass(frozen=True, slots=True)
class ClaimLine:
    """One line a payer is asked about."""

    code: str
    """The office's own short code."""
    words: str
    teeth: tuple[Tooth, ...]
    quantity: int
    net_cents: int


def coverage(key: str, *, of: str, payer: str, payer_words: str) -> Resource:
    """That a payer covers somebody; ``payer`` is the key of its organization."""
    return _identified("Coverage", key) | {
        "status": "active",
        "beneficiary": reference("Patient", of),
        "payor": [reference("Organization", payer, payer_words)],
    }


def predetermination(
    key: str,
    *,
    of: str,
    office: str,
    coverages: Sequence[str],
    currency: str,
    lines: Sequence[ClaimLine],
    created: datetime,
    option: str = "",
) -> Resource:
    """What payers would be asked before any work: draft, because nothing is sent from here.

    ``coverages`` are keys in the order in which the payers pay. Raises ValueError without one, or without a line.
    """
    if not coverages or not lines:
        raise ValueError("a claim asks somebody about something: give a cover and a line")
    items = []
    for number, line in enumerate(lines, start=1):
        item: Resource = {
            "sequence": number,
            "productOrService": _without_empty(
                {"coding": [{"system": OWN_SERVICES, "code": line.code}] if line.code else [], "text": line.words}
            ),
            "quantity": {"value": line.quantity},
            "net": money(line.net_cents, currency),
        }
        if len(line.teeth) == 1:
            item["bodySite"] = tooth_concept(line.teeth[0])
        elif line.teeth:
            # One line has room for one site: more go beside it.
            item["extension"] = [{"url": TOOTH, "valueCodeableConcept": tooth_concept(one)} for one in line.teeth]
        items.append(_without_empty(item))
    return _without_empty(
        _identified("Claim", key)
        | {
            "status": "draft",
            "type": {"coding": [{"system": "http://terminology.hl7.org/CodeSystem/claim-type", "code": "oral"}]},
            "use": "predetermination",
            "patient": reference("Patient", of),
            "created": instant(created),
            "provider": reference("Organization", office),
            "priority": {
                "coding": [{"system": "http://terminology.hl7.org/CodeSystem/processpriority", "code": "normal"}]
            },
            "insurance": [
                {"sequence": number, "focal": number == 1, "coverage": reference("Coverage", cover)}
                for number, cover in enumerate(coverages, start=1)
            ],
            "item": items,
            "total": money(sum(line.net_cents for line in lines), currency),
            "supportingInfo": _about(option),
        }
    )


def _about(option: str) -> list[Resource]:
    if not option:
        return []
    kind = {"coding": [{"system": "http://terminology.hl7.org/CodeSystem/claiminformationcategory", "code": "info"}]}
    return [{"sequence": 1, "category": kind, "valueString": option}]


def consent(
    key: str,
    *,
    of: str,
    status: str,
    words: str,
    at: datetime | None,
    source: str = "",
    signer: str = "",
    until: date | datetime | None = None,
    office: str,
) -> Resource:
    """A consent to treatment; ``source`` is the key of the document that holds it: the signed copy, or the letter.

    ``until`` is when it ends or ended: the last day on which it holds, or the instant at which it was taken back.
    """
    found = _identified("Consent", key) | {
        "status": status,
        "scope": {"coding": [{"system": "http://terminology.hl7.org/CodeSystem/consentscope", "code": "treatment"}]},
        "category": [{"text": words}],
        "patient": reference("Patient", of),
        "dateTime": instant(at) if at else "",
        "performer": [{"display": signer}] if signer else [],
        "organization": [reference("Organization", office)],
        "sourceReference": reference("DocumentReference", source) if source else {},
        "policyRule": {"text": "Local law of consent to dental treatment"},
    }
    if until is not None:
        end = instant(until) if isinstance(until, datetime) else until.isoformat()
        found["provision"] = {"period": _without_empty({"start": instant(at) if at else "", "end": end})}
    if signer and at:
        found["verification"] = [
            _without_empty({"verified": True, "verifiedWith": {"display": signer}, "verificationDate": instant(at)})
        ]
    return _without_empty(found)


def document(
    key: str,
    *,
    of: str,
    office: str,
    kind: str,
    title: str,
    at: datetime,
    content: bytes,
    content_type: str,
    path: str,
    language: str = "",
    author: str = "",
    current: bool = True,
) -> Resource:
    """A stored file. FHIR's own hash is SHA-1; ours, SHA-256, stands beside it as an extension."""
    sha_1 = hashlib.sha1(content, usedforsecurity=False).digest()
    attachment = {
        "extension": [{"url": SHA_256, "valueString": hashlib.sha256(content).hexdigest()}],
        "contentType": content_type,
        "language": language,
        "url": path,
        "size": len(content),
        "hash": base64.b64encode(sha_1).decode(),
        "title": title,
        "creation": instant(at),
    }
    return _without_empty(
        _identified("DocumentReference", key)
        | {
            "status": "current" if current else "superseded",
            "docStatus": "final",
            "type": {"text": kind},
            "subject": reference("Patient", of),
            "date": instant(at),
            "author": [{"display": author}] if author else [],
            "custodian": reference("Organization", office),
            "content": [{"attachment": _without_empty(attachment)}],
        }
    )


def bundle(resources: Iterable[Resource], *, at: datetime, key: str) -> Resource:
    """The resources of one copy, each once, in their order."""
    entries = {own(f"{one['resourceType']} {one['identifier'][0]['value']}"): one for one in resources}
    return {
        "resourceType": "Bundle",
        "identifier": {"system": PUBLIC_ID, "value": key},
        "type": "collection",
        "timestamp": instant(at),
        "entry": [{"fullUrl": url, "resource": one} for url, one in entries.items()],
    }


def _without_empty(found: Mapping[str, Any]) -> Resource:
    """FHIR knows no empty text, list or object: what is not known is not there."""
    return {name: value for name, value in found.items() if value not in ("", [], {}, None)}


_SAFE_NUMBER: Final = re.compile(r"-?\d+(\.\d+)?")


def written(value: Any) -> str:
    """``value`` as JSON; a Decimal is the number it is, with its decimals, and never passes through binary floats.

    Raises TypeError for what JSON has no form for.
    """
    if isinstance(value, Decimal):
        text = format(value, "f")
        if not _SAFE_NUMBER.fullmatch(text):
            raise TypeError(f"{value} is no number that JSON can say")
        return text
    if isinstance(value, Mapping):
        inside = ",".join(f"{json.dumps(str(name), ensure_ascii=False)}:{written(one)}" for name, one in value.items())
        return f"{{{inside}}}"
    if isinstance(value, (list, tuple)):
        return f"[{','.join(written(one) for one in value)}]"
    if value is None or isinstance(value, (str, bool, int)):
        return json.dumps(value, ensure_ascii=False)
    raise TypeError(f"{type(value).__name__} has no form in JSON")
