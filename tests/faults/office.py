"""Fill a database with an office whose letters wait to be signed, or tell what is in it; each in a process of its own.

DATABASE_URL=... python -m tests.faults.office fill CASES LETTERS     prints who signs in, cases and consents
DATABASE_URL=... python -m tests.faults.office read                   prints what was saved and signed
"""

import io
import json
import os
import sys
from datetime import timedelta
from typing import Any

import django

from tests.faults.serving import DENTIST

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "planner.config.settings")

DAYS_AGO = timedelta(days=3)
"""So long ago letters were handed over: the time to think them over is past."""


def fill(cases: int, letters: int) -> dict[str, Any]:
    """A dentist, so many cases to save in, and so many more whose letter was handed over."""
    from django.conf import settings
    from django.utils import timezone

    from planner.letters.consent_models import Channel
    from planner.letters.consents import hand_letter
    from planner.letters.services import issue_of, render_papers
    from planner.plans import estimates
    from planner.plans.casefiles import import_case_file
    from planner.plans.checking import check_case
    from planner.plans.models import Channel as Shown
    from planner.practice import services
    from planner.practice.roles import Role
    from planner.rules.bookfile import load_book
    from planner.rules.casefile import parse_case, resolve_days, validate_case
    from planner.rules.results import sha256
    from tests.letters.consents import quick
    from tests.support import PASSWORD

    now = timezone.now() - DAYS_AGO
    day = now.date()
    book = (settings.BASE_DIR / "fixtures/books/tern_row.toml").read_text(encoding="utf-8")
    _office, owner = services.open_office(
        name="Test office", book=load_book(book, day), effective=day - timedelta(days=60), owner_username="olive",
        owner_full_name="Olive Owner", owner_password=PASSWORD, owner_roles=(Role.OWNER, Role.DENTIST), now=now,
    )  # fmt: skip
    dentist = services.add_staff(
        username=DENTIST,
        full_name="Dora Dentist",
        password=PASSWORD,
        roles=[Role.DENTIST, Role.FRONT_DESK],
        actor=owner,
        now=now,
    )
    facts = (settings.BASE_DIR / "fixtures/cases/lead.json").read_bytes()
    by: dict[str, Any] = {"actor": dentist, "now": now}
    saved, consents = {}, []
    for number in range(cases + letters):
        data: Any = resolve_days(parse_case(facts), day)
        data["patient"]["name"] = name = f"Anselm {'ABCDEFGHIJ'[number // 10 % 10]}{'abcdefghij'[number % 10]}nders"
        case = import_case_file(facts=validate_case(data, day), **by).case
        if number < cases:
            saved[case.public_id] = case.version
            continue
        seen = sha256(estimates.compute_plan(case, now)[0].to_json())
        estimate = check_case(case=case, seen_plan=seen, **by)
        estimate = estimates.show_estimate(
            estimate=estimate, seen=estimate.version, to=name, channel=Shown.IN_PERSON, **by
        )
        assert estimate.frozen is not None
        (letter,) = render_papers(
            frozen=estimate.frozen, kinds=["consent-letter"], issue=issue_of(estimate, handed_on=day),
            estimate=estimate, points=11, language="en", make=quick, **by,
        )  # fmt: skip
        consent = hand_letter(document=letter, to=name, channel=Channel.PAPER, **by)
        consents.append({"consent": consent.public_id, "letter": letter.sha256, "name": name})
    return {"dentist": dentist.public_id, "day": day.isoformat(), "cases": saved, "consents": consents}


def read() -> dict[str, Any]:
    """What does not verify; each case's version, notes and entries; each consent with all that a signature leaves; and
    how many rows each table has.
    """
    from django.core.management import CommandError, call_command
    from django.db import connection

    from planner.letters.consent_models import Consent, Countersignature, Signature
    from planner.letters.models import Document
    from planner.plans.models import Case
    from planner.trail.models import TrailDetail, TrailEntry

    faults = []
    for command in ("verify_trail", "verify_letters"):
        try:
            call_command(command, stdout=io.StringIO())
        except CommandError as error:
            faults.append(str(error))
    signed = TrailEntry.objects.filter(act="consent.sign").values_list("subject_id", flat=True)
    made = TrailEntry.objects.filter(act="document.make").values_list("subject_id", flat=True)
    rows = {}
    for consent in Consent.objects.all():
        signatures = list(Signature.objects.filter(consent=consent).select_related("copy"))
        rows[consent.public_id] = {
            "state": consent.state,
            "signatures": len(signatures),
            "countersigned": Countersignature.objects.filter(signature__in=signatures).count(),
            "copies": sum(one.copy is not None for one in signatures),
            "entries": sum(list(signed).count(one.public_id) for one in signatures),
            "copy entries": sum(list(made).count(one.copy.public_id) for one in signatures if one.copy),
        }
    noted = dict(TrailDetail.objects.filter(entry__act="case.change").values_list("entry_id", "content"))
    entries: dict[str, list[Any]] = {}
    for entry in TrailEntry.objects.filter(act="case.change").order_by("sequence"):
        entries.setdefault(entry.subject_id, []).append(noted.get(entry.pk))
    counted = {}
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names():
            cursor.execute(f"SELECT count(*) FROM {connection.ops.quote_name(table)}")
            counted[table] = cursor.fetchone()[0]
    return {
        "faults": faults,
        "rows": counted,
        "cases": {
            case.public_id: {"version": case.version, "notes": case.notes, "entries": entries.get(case.public_id, [])}
            for case in Case.objects.all()
        },
        "consents": rows,
        "copies": Document.objects.filter(kind="signed-letter").count(),
        "signatures": Signature.objects.count(),
        "entries": {"sign": len(signed)},
    }


if __name__ == "__main__":
    django.setup()
    asked, *numbers = sys.argv[1:]
    found = fill(int(numbers[0]), int(numbers[1])) if asked == "fill" else read()
    print(json.dumps(found, default=str))
