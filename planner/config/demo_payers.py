"""An invented payer of the invented office, and the lead patient's cover under it, told by phone before the talk."""

from collections.abc import Callable
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from planner.patients import payers
from planner.patients.models import Patient
from planner.patients.payer_models import PayerPlan
from planner.practice.models import Staff
from planner.rules.benefit_plans import Basis, BenefitPlan, Cover, Used

At = Callable[[int, int], datetime]
"""The instant at which the office's clock shows that hour, days from day zero."""

ASKED = -6
"""The day of the call, in days from day zero; the estimate was shown in the afternoon."""
FEES = {"build-up": 318, "small-addition": 190, "wing-bridge": 2300, "crown": 1400}
PAYS_NOTHING = ("wax-up", "index", "try-on", "reshape", "slenderise", "whitening-both", "whitening-one")


def load_cover(patient: Patient, desk: Staff, zero: date, at: At) -> None:
    """One plan of one payer, the patient's cover, what is used of the year, and a question still open."""
    if PayerPlan.objects.filter(office=patient.office).exists():
        return
    day = zero + timedelta(days=ASKED)
    who: dict[str, Any] = {"actor": desk, "now": at(ASKED, 14)}
    phone = Basis(told="phone", by="Mr Ferris, Saltmarsh Mutual", on=day)
    plan = BenefitPlan(
        payer="Saltmarsh Mutual",
        name="Staff plan B",
        currency="CAD",
        yearly_maximum_cents=Decimal(1000),
        deductible_cents=Decimal(75),
        looks_only_excluded=True,
        classes=_CLASSES,
        services=_services(),
        basis=phone,
    )
    row = payers.add_plan(office=patient.office, plan=plan, reason="Asked on the phone before the talk.", **who)
    cover = Cover(begins=day.replace(year=day.year - 6, month=9, day=1), done_before=(), basis=phone)
    held = payers.add_cover(patient=patient, plan=row, cover=cover, reason="Card seen, confirmed by phone.", **who)
    year = plan.year_of(day)
    used = Used(year_begins=year, maximum_cents=Decimal(120), deductible_cents=Decimal(0), basis=phone)
    payers.tell_used(cover=held, used=used, **who)
    asked = "Is a tooth replaced that was missing before cover began?"
    payers.ask_payer(cover=held, words=asked, due=zero + timedelta(days=8), **who)


_CLASSES: Any = ({"key": "fillings", "percent": 80}, {"key": "bridges and crowns", "percent": 50})


def _services() -> Any:
    paid = [
        {
            "service": service,
            "benefit_class": "bridges and crowns" if service in ("wing-bridge", "crown") else "fillings",
            "fee_cents": fee,
        }
        for service, fee in FEES.items()
    ]
    return (*paid, *({"service": service} for service in PAYS_NOTHING))
