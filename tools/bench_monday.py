"""The Monday page of an office with 2,000 items and with 200,000, as many of them open in both, in one run.

Half of the 2,000 items are open; all others are of plans that were finished and paid years ago, copied row by row
inside PostgreSQL. The page must not read what is over: the larger office may take 1.5 times as long at most; where it
takes longer, its slowest queries are told. Runs on a private cluster that is thrown away.

python tools/bench_monday.py
"""

import os
import sys
import time
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from tools.run_tests import postgres_programs, private_cluster  # noqa: E402
from tools.timing import median_ms  # noqa: E402

PLANS, ITEMS = 20, 5
"""Plans that are made one by one, open and closed each, with so many items each; the others are copies of them."""
SMALL, LARGE = 10, 1990
"""How many times the closed ones are there: 20 x 5 x 10 = 1,000 items, and 199,000."""
MOST = 1.5
STEP = 10_000
"""Copies take the numbers of their rows from so far on, times the number of the copy."""


def main() -> int:
    """Make both offices, time the page of each, print the ratio; 1 when it is too large."""
    programs = postgres_programs()
    if programs is None:
        print("PostgreSQL is not installed here: the Monday page was not timed.")
        return 0
    with private_cluster(programs) as url:
        os.environ |= {
            "DJANGO_SETTINGS_MODULE": "planner.config.settings",
            "DATABASE_URL": url,
            "LEASTWAYS_PLAIN_HTTP": "1",
        }
        import django

        django.setup()
        from django.core.management import call_command
        from django.db import connection

        call_command("migrate", verbosity=0)
        try:
            return _timed()
        finally:
            connection.close()


def _timed() -> int:
    from planner.followup.page import monday_page
    from planner.plans.accepted_models import Item
    from tests.support import NOW

    owner = _office()
    copy(range(1, SMALL), everything=True)
    small, items = _time(lambda: monday_page(actor=owner, now=NOW)), Item.objects.count()
    begun = time.perf_counter()
    copy(range(SMALL, LARGE), everything=False)
    print(f"copied in {time.perf_counter() - begun:.0f} s")
    large, more = _time(lambda: monday_page(actor=owner, now=NOW)), Item.objects.count()
    ratio = large / small
    print(f"the Monday page: {items:,} items {small:.0f} ms, {more:,} items {large:.0f} ms, ratio {ratio:.2f}")
    if ratio > MOST:
        _tell_slowest(lambda: monday_page(actor=owner, now=NOW))
    return int(ratio > MOST)


def _tell_slowest(call: Callable[[], object]) -> None:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    with CaptureQueriesContext(connection) as found:
        call()
    for query in sorted(found, key=lambda one: -float(one["time"]))[:6]:
        print(f"{query['time']} s: {query['sql'][:2000]}")


def _time(call: Callable[[], object]) -> float:
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    # The least of several: what else the machine does only ever adds.
    return min(median_ms(call, 1, warm=number == 0) for number in range(15))


def _office() -> Any:
    """An office with open plans of the last weeks, and others that were finished, paid and kept long ago."""
    from planner.plans.accepted_models import AcceptedPlan, Payment, PaymentKind, Route, StageEarned
    from planner.plans.accepted_rows import write_move
    from planner.rules.plan_states import PlanState
    from planner.visits.models import Chair, Visit
    from tests.followup.sample import patient_of
    from tests.followup.work import accepted
    from tests.pages import priced_office
    from tests.support import NOW, TODAY

    owner = priced_office()
    chair = Chair.objects.create(office=owner.office, name="Chair 1")
    for number in range(PLANS):
        on = TODAY - timedelta(days=3 + number % 40)
        accepted(owner, patient_of(owner, f"Open {number}"), accepted_on=on, deposit=900, items=ITEMS)
    for number in range(PLANS):
        on = date(2022, 1, 10) + timedelta(days=number)
        state = PlanState.FINISHED
        plan = accepted(
            owner, patient_of(owner, f"Closed {number}"), accepted_on=on, items=ITEMS, state=state, done_on=on
        )
        write_move(plan, "under way", state, on, "", owner, NOW)
        who = {"office": owner.office, "by": owner, "at": NOW}
        Payment.objects.create(
            plan=plan, kind=PaymentKind.RECEIPT, cents=5 * 44500, payer="A", route=Route.CARD, on=on, **who
        )
        for item in plan.items.all():
            StageEarned.objects.create(item=item, stage="finished", cents=44500, on=on, **who)
        starts = NOW - timedelta(days=1500 + number)
        Visit.objects.create(
            office=owner.office, patient=plan.patient, plan=plan, clinician=owner, chair=chair, starts=starts,
            ends=starts + timedelta(minutes=30), zone=owner.office.time_zone, minutes=30, kind="work", words="x",
            state="kept", sequence=1, by=owner, at=starts,
        )  # fmt: skip
    assert AcceptedPlan.objects.count() == 2 * PLANS
    return owner


def copy(numbers: range, *, everything: bool) -> None:
    """Copy the plans with all that hangs on them, once for each number; the closed ones only unless ``everything``."""
    from django.db import connection
    from django.db.models import DateField, DateTimeField

    from planner.patients import models as patients
    from planner.plans import accepted_models as accepted
    from planner.plans import models as plans
    from planner.visits.models import Visit

    tables = [
        patients.Patient, patients.Examination, plans.Case, plans.FrozenPlan, plans.Estimate, plans.Showing,
        accepted.AcceptedPlan, accepted.PlanMove, accepted.Payment, accepted.Item, accepted.ItemPrice,
        accepted.StageEarned, Visit,
    ]  # fmt: skip
    closed = _closed(tables)
    first, last = numbers[0], numbers[-1]
    with connection.cursor() as cursor:
        for model in tables:
            names, values = [], []
            for field in model._meta.local_fields:
                column = f't."{field.column}"'
                if field.primary_key or (field.is_relation and field.related_model in tables):
                    column = f"{column} + n * {STEP}"
                elif field.name == "public_id":
                    column = "substr(md5(random()::text), 1, 12)"
                elif model is plans.Estimate and field.name == "number":
                    column = f"{column} + n * {STEP}"
                elif model is Visit and isinstance(field, DateTimeField) and not isinstance(field, DateField):
                    column = f"{column} - n * interval '1 hour'"
                names.append(f'"{field.column}"')
                values.append(column)
            table = model._meta.db_table
            which = "" if everything else f"AND t.id IN ({','.join(map(str, closed[model]))})"
            cursor.execute(  # names of our own tables and columns
                f'INSERT INTO "{table}" ({", ".join(names)}) SELECT {", ".join(values)} FROM "{table}" t, '
                f"generate_series({first}, {last}) n WHERE t.id < {STEP} {which}"
            )


def _closed(tables: list[Any]) -> dict[Any, list[int]]:
    """For each table, the rows that belong to the plans that were made closed."""
    from planner.plans.accepted_models import AcceptedPlan

    plans = list(AcceptedPlan.objects.filter(pk__lt=STEP, state="finished").select_related("estimate", "case"))
    keys = [plan.pk for plan in plans]
    found = {}
    for model in tables:
        name = model.__name__
        if name == "Patient":
            rows = [plan.patient_id for plan in plans]
        elif name == "Examination":
            rows = [plan.case.examination_id for plan in plans]
        elif name == "Case":
            rows = [plan.case_id for plan in plans]
        elif name == "FrozenPlan":
            rows = [plan.frozen_id for plan in plans]
        elif name == "Estimate":
            rows = [plan.estimate_id for plan in plans if plan.estimate_id is not None]
        elif name == "AcceptedPlan":
            rows = keys
        else:
            path = {"Showing": "estimate__accepted_plans", "ItemPrice": "item__plan", "StageEarned": "item__plan"}
            where = {f"{path.get(name, 'plan')}__in": keys}
            rows = list(model.objects.filter(pk__lt=STEP, **where).values_list("pk", flat=True))
        found[model] = rows
    return found


if __name__ == "__main__":
    sys.exit(main())
