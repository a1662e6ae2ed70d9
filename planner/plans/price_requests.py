"""When a price was asked for or its visit booked, noted in somebody's name."""

from datetime import date, datetime

from django.db import transaction

from planner.plans.arrangement_models import PriceRequest
from planner.plans.models import Estimate
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.models import Staff
from planner.trail.services import record


def note_request(
    *,
    estimate: Estimate,
    event: str,
    on: date,
    service_on: date | None = None,
    repeated: str = "",
    actor: Staff,
    now: datetime,
) -> PriceRequest:
    """Note it; the newest note of an estimate holds. Raises NotAllowed."""
    require_own(actor, estimate)
    require(actor, Act.CREATE, Thing.ESTIMATE, subject=estimate)
    with transaction.atomic():
        noted = PriceRequest.objects.create(
            office=estimate.office,
            estimate=estimate,
            event=event,
            on=on,
            service_on=service_on,
            repeated=repeated.strip(),
            by=actor,
            at=now,
        )
        content = {"event": str(event), "on": on.isoformat(), "estimate": str(estimate)}
        record(actor=actor, act="estimate.requested", subject=noted, content=content, at=now)
    return noted


def latest_request(estimate: Estimate) -> PriceRequest | None:
    """The note that holds: one query."""
    return estimate.price_requests.order_by("-pk").first()
