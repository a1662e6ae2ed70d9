"""Resources of HL7 FHIR, release 4B: made by us, read by the package ``fhir.resources``, codes held against the
standard's own lists.

The lists below are the required value sets of FHIR 4.3.0 (http://hl7.org/fhir/R4B/), written down from memory and held
against the code lists that the package carries; teeth are held against HL7 Terminology's file in ``tests/data``.
"""

import base64
import hashlib
import json
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import pytest
from fhir.resources.R4B.bundle import Bundle
from fhir.resources.R4B.careplan import CarePlan, CarePlanActivityDetail
from fhir.resources.R4B.claim import Claim
from fhir.resources.R4B.consent import Consent
from fhir.resources.R4B.documentreference import DocumentReference
from fhir.resources.R4B.organization import Organization
from fhir.resources.R4B.patient import Patient
from hypothesis import given
from hypothesis import strategies as st

from planner.rules import fhir, teeth
from planner.rules.consent_states import ConsentState
from planner.rules.item_states import ItemState
from planner.rules.plan_states import PlanState
from planner.rules.signing import CONSENTS, Choice
from planner.rules.teeth import Tooth
from tests.rules.test_numbering_cases import oral_sites

_PLAIN = st.none() | st.booleans() | st.integers() | st.text()
AT = datetime(2026, 3, 2, 15, 0, tzinfo=UTC)

PLAN_STATUSES = {"draft", "active", "on-hold", "revoked", "completed", "entered-in-error", "unknown"}
DETAIL_STATUSES = {
    "not-started", "scheduled", "in-progress", "on-hold", "completed", "cancelled", "stopped", "unknown",
    "entered-in-error",
}  # fmt: skip
CONSENT_STATUSES = {"draft", "proposed", "active", "rejected", "inactive", "entered-in-error"}


def codes(model: Any, name: str) -> set[str]:
    """The code list that the package has for a field."""
    return set(model.model_fields[name].json_schema_extra["enum_values"])


def a_patient(**changes: Any) -> fhir.Resource:
    given: dict[str, Any] = {"name": "Ana O'Dell", "born": date(1979, 3, 2), "language": "es", "office": "off"}
    return fhir.patient("pat_1", **given | changes)


def a_claim(**changes: Any) -> fhir.Resource:
    lines = [
        fhir.ClaimLine("BND", "Build-up", (Tooth.from_iso("11"),), 1, 42275),
        fhir.ClaimLine("WBR", "Wing bridge", (Tooth.from_iso("12"), Tooth.from_iso("53")), 1, 218000),
        fhir.ClaimLine("", "Mould", (), 1, 7001),
    ]
    said: dict[str, Any] = {"of": "p", "office": "o", "coverages": ["c1", "c2"], "currency": "CAD", "lines": lines}
    return fhir.predetermination("cl_1", **said | {"created": AT, "option": "Bonding"} | changes)


class TestCodes:
    def test_lists_written_here_are_those_of_the_package(self) -> None:
        assert codes(CarePlan, "status") == PLAN_STATUSES
        assert codes(CarePlanActivityDetail, "status") == DETAIL_STATUSES
        assert codes(Consent, "status") == CONSENT_STATUSES

    def test_every_state_has_a_code_of_its_list(self) -> None:
        assert set(fhir.PLAN_STATUS) == set(PlanState)
        assert set(fhir.PLAN_STATUS.values()) <= PLAN_STATUSES
        assert set(fhir.ITEM_STATUS) == set(ItemState)
        assert set(fhir.ITEM_STATUS.values()) <= DETAIL_STATUSES
        assert set(fhir.CONSENT_STATUS) == set(ConsentState)
        assert set(fhir.CONSENT_STATUS.values()) <= CONSENT_STATUSES

    @pytest.mark.parametrize("choice", Choice)
    def test_only_a_yes_that_stands_is_active(self, choice: Choice) -> None:
        status = fhir.consent_status(ConsentState.SIGNED, choice)
        assert status == ("active" if choice in CONSENTS else "rejected")
        assert fhir.consent_status(ConsentState.WITHDRAWN, choice) == "inactive"
        lapsed = fhir.consent_status(ConsentState.SIGNED, choice, lapsed=True)
        assert lapsed == ("inactive" if choice in CONSENTS else "rejected")


class TestTeeth:
    @pytest.mark.parametrize("tooth", teeth.PERMANENT, ids=lambda one: one.iso)
    def test_a_permanent_tooth_goes_by_the_published_code(self, tooth: Tooth) -> None:
        (coding,) = fhir.tooth_concept(tooth)["coding"]
        assert coding["system"] == "http://terminology.hl7.org/CodeSystem/ex-tooth"
        arch, side = ("Upper" if tooth.upper else "Lower"), ("Right" if tooth.side == "right" else "Left")
        assert oral_sites()[coding["code"]].startswith(f"{arch} {side} Tooth {tooth.position} ")

    @pytest.mark.parametrize("iso", ["51", "53", "65", "75", "85"])
    def test_a_baby_tooth_goes_by_our_own_key_and_by_no_published_code(self, iso: str) -> None:
        tooth = Tooth.from_iso(iso)
        (coding,) = fhir.tooth_concept(tooth)["coding"]
        assert coding == {"system": fhir.OWN_TEETH, "code": tooth.key}
        assert iso not in oral_sites()
        assert Tooth.from_key(coding["code"]) == tooth

    def test_an_extra_tooth_goes_by_our_own_key(self) -> None:
        tooth = Tooth.from_universal("58")
        (coding,) = fhir.tooth_concept(tooth)["coding"]
        assert tooth.is_extra
        assert coding["system"] == fhir.OWN_TEETH


class TestResources:
    def test_a_patient_is_read_back(self) -> None:
        read = Patient.model_validate(a_patient(phone="555 0100", sex="woman"))
        assert read.name[0].text == "Ana O'Dell"
        assert read.gender == "female"
        assert read.birthDate == date(1979, 3, 2)
        assert read.communication[0].language.coding[0].code == "es"
        assert read.id == "pat.1"
        assert read.identifier[0].value == "pat_1"

    def test_who_did_not_say_is_unknown_and_has_no_empty_telephone(self) -> None:
        made = a_patient()
        assert made["gender"] == "unknown"
        assert "telecom" not in made

    def test_a_claim_asks_before_any_work_and_adds_up(self) -> None:
        made = a_claim()
        read = Claim.model_validate(json.loads(fhir.written(made)))
        assert (read.use, read.status, read.type.coding[0].code) == ("predetermination", "draft", "oral")
        assert read.use in codes(Claim, "use")
        assert [one.sequence for one in read.insurance] == [1, 2]
        assert [one.focal for one in read.insurance] == [True, False]
        assert sum(one.net.value for one in read.item) == read.total.value == Decimal("2672.76")
        assert {one.net.currency for one in read.item} == {"CAD"}
        assert read.item[0].bodySite.coding[0].code == "11"
        sites = [one.valueCodeableConcept.coding[0].system for one in read.item[1].extension]
        assert sites == [fhir.HL7_TEETH, fhir.OWN_TEETH]
        assert read.item[2].productOrService.coding is None

    @pytest.mark.parametrize("missing", ["coverages", "lines"])
    def test_a_claim_without_payer_or_work_is_refused(self, missing: str) -> None:
        with pytest.raises(ValueError, match="asks somebody about something"):
            a_claim(**{missing: []})

    def test_a_plan_says_option_status_price_and_teeth(self) -> None:
        made = fhir.care_plan(
            "e.bonding",
            of="p",
            status="draft",
            intent="option",
            title="Bonding",
            activities=[fhir.Activity("Build-up", (Tooth.from_iso("22"),), "scheduled", date(2026, 3, 9))],
            created=AT,
            price=fhir.money(161825, "CAD"),
            verdict="offer",
            based_on="e.other",
        )
        read = CarePlan.model_validate(json.loads(fhir.written(made)))
        assert read.intent in codes(CarePlan, "intent")
        assert read.extension[0].valueMoney.value == Decimal("1618.25")
        detail = read.activity[0].detail
        assert (detail.status, detail.scheduledPeriod.start) == ("scheduled", date(2026, 3, 9))
        assert detail.extension[0].valueCodeableConcept.coding[0].code == "22"

    def test_a_consent_has_patient_and_policy_as_its_invariants_want(self) -> None:
        made = fhir.consent(
            "c", of="p", status="active", words="Consent", at=AT, source="d", signer="A. B.", office="o"
        )
        read = Consent.model_validate(made)
        # FHIR R4B, Consent: ppc-1 wants a policy or a rule; ppc-5 wants a patient where the scope is treatment.
        assert read.policyRule.text
        assert read.patient.reference == fhir.own("Patient p")
        assert read.scope.coding[0].code == "treatment"
        assert read.sourceReference.reference == fhir.own("DocumentReference d")
        assert read.verification[0].verified is True

    def test_a_consent_that_is_over_says_when_it_ended(self) -> None:
        said: dict[str, Any] = {
            "of": "p",
            "words": "Consent",
            "at": AT,
            "source": "d",
            "signer": "A. B.",
            "office": "o",
        }
        lapsed = Consent.model_validate(fhir.consent("c", status="inactive", until=date(2026, 8, 29), **said))
        # FHIR R4B, Consent.provision.period: "inactive" is a consent that "has been terminated".
        assert (lapsed.status, lapsed.provision.period.end) == ("inactive", date(2026, 8, 29))
        taken_back = Consent.model_validate(fhir.consent("c", status="inactive", until=AT, **said))
        assert taken_back.provision.period.end == AT
        assert Consent.model_validate(fhir.consent("c", status="active", **said)).provision is None

    def test_a_document_has_the_standards_hash_and_ours(self) -> None:
        content = b"%PDF-1.7 abc"
        made = fhir.document(
            "d", of="p", office="o", kind="estimate", title="Estimate 1", at=AT, content=content,
            content_type="application/pdf", path="papers/estimate-d.pdf", language="en", author="Dr A", current=False,
        )  # fmt: skip
        found = DocumentReference.model_validate(made)
        read = found.content[0].attachment
        # FHIR R4B, Attachment.hash: SHA-1 of the data, in base64 (from memory, not read again in the standard).
        assert base64.b64decode(made["content"][0]["attachment"]["hash"]) == hashlib.sha1(content).digest()
        assert read.extension[0].valueString == hashlib.sha256(content).hexdigest()
        assert (read.size, read.language) == (len(content), "en")
        assert found.status == "superseded"

    def test_a_bundle_resolves_inside_itself_and_has_each_once(self) -> None:
        office = fhir.organization("off", "Test office", "Testing")
        made = fhir.bundle([office, a_patient(office="off"), office], at=AT, key="b")
        Bundle.model_validate(json.loads(fhir.written(made)))
        Organization.model_validate(office)
        urls = [entry["fullUrl"] for entry in made["entry"]]
        assert len(urls) == len(set(urls)) == 2
        assert made["entry"][1]["resource"]["managingOrganization"]["reference"] in urls


class TestWriting:
    @given(st.integers(min_value=-(10**15), max_value=10**15))
    def test_money_is_written_to_the_cent(self, cents: int) -> None:
        text = fhir.written(fhir.money(cents, "CAD"))
        assert json.loads(text, parse_float=Decimal, parse_int=Decimal)["value"] * 100 == cents
        assert "e" not in text.split(",")[0].lower().removeprefix('{"value"')

    @given(st.recursive(_PLAIN, lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner)))
    def test_what_is_written_is_what_json_reads(self, value: Any) -> None:
        assert json.loads(fhir.written(value)) == value

    @pytest.mark.parametrize("value", [1.5, {1, 2}, Decimal("NaN"), b"x"])
    def test_what_has_no_form_is_refused(self, value: Any) -> None:
        with pytest.raises(TypeError):
            fhir.written(value)

    @given(st.lists(st.text(alphabet="ab_-9", min_size=1, max_size=12), min_size=2, max_size=2, unique=True))
    def test_two_ids_never_become_one(self, ids: list[str]) -> None:
        assert fhir.fhir_id(ids[0]) != fhir.fhir_id(ids[1])

    @given(st.text(min_size=1, max_size=90))
    def test_a_key_of_several_parts_is_an_id_whatever_the_parts(self, option: str) -> None:
        found = fhir.fhir_id(fhir.key_of("Abc_def-12", option))
        # FHIR R4B, datatype id: 1 to 64 letters, digits, hyphens and points.
        assert len(found) <= 64
        assert all(sign.isascii() and (sign.isalnum() or sign in "-.") for sign in found)

    def test_an_instant_has_a_zone(self) -> None:
        assert fhir.instant(AT) == "2026-03-02T15:00:00.000Z"
        with pytest.raises(ValueError, match="zone"):
            fhir.instant(AT.replace(tzinfo=None))
