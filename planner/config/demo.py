"""The invented office of the demonstration, loaded through the same services as the pages.

Days are counted from day zero, the day the demonstration is first loaded; each act carries the instant it would have
happened at, so that guards, trail and hashes are there as in a real office. What is there already is left alone: a
second run adds nothing, also on a later day.
"""

import json
from collections.abc import Callable, Iterable
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import transaction

from planner.config.demo_letters import Ahead
from planner.config.demo_payers import load_cover
from planner.config.demo_shelf import load_shelf, load_timings
from planner.config.demo_tales import LETTERS, is_told, tell_tale
from planner.config.demo_teller import Teller
from planner.letters import consent, wax_up
from planner.letters.consent_models import Channel as HandedBy
from planner.letters.consent_models import Consent
from planner.letters.consents import hand_letter, newer_than
from planner.letters.models import Document
from planner.letters.papers import kinds_of
from planner.letters.services import issue_of, render_papers
from planner.patients.services import change_patient
from planner.plans.casefiles import import_case_file
from planner.plans.checking import check_case
from planner.plans.estimates import answer_estimate, compute_plan, draft_estimate, show_estimate
from planner.plans.models import Answer, Case, Channel, Estimate, State
from planner.practice import books, codes, one_time, services
from planner.practice.models import Office, Staff
from planner.practice.opening import new_password
from planner.practice.roles import Role
from planner.practice.sealing import unseal
from planner.practice.sign_in_models import CodeSecret
from planner.rules.book import OfficeBook, PriceList
from planner.rules.bookfile import load_book
from planner.rules.casefile import parse_case, resolve_days, validate_case
from planner.rules.results import sha256

BOOK = Path(settings.BASE_DIR) / "fixtures" / "books" / "tern_row.toml"
CASES = Path(settings.BASE_DIR) / "fixtures" / "cases"
OFFICE = "Tern Row Dental"
OPENED_DAYS_AGO = 240
"""The office begins with a price list that the one of d-120 replaced at the same prices."""
LIST_DAYS_AGO, FIRST_LIST = 120, 6

Step = Callable[[str], AbstractContextManager[None]]
"""Tells a step that may take a while: ``with step("Making the papers"): ...``."""


class NotTheDemo(Exception):
    """This database holds an office that is not the invented one; nothing is loaded beside it."""


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who works in the invented office."""

    username: str
    full_name: str
    roles: tuple[Role, ...]


OWNER = Person("imke", "Dr Imke Sorrel", (Role.OWNER, Role.DENTIST))
STAFF = (
    Person("devraj", "Devraj Lund", (Role.DESK_LEAD,)),
    Person("oona", "Oona Castellane", (Role.MANAGER,)),
    Person("bastian", "Dr Bastian Achterberg", (Role.DENTIST,)),
    Person("chair1", "Chair 1", (Role.ASSISTANT,)),
    Person("hester", "Hester Quill", (Role.KEEPER,)),
)


@dataclass(frozen=True, slots=True)
class Story:
    """One patient of the demonstration: the case file and what happened since, in days from day zero."""

    file: str
    sorted_by: str
    phone: str
    taken_in: int
    shown: int | None
    """The day the estimate was shown; None for a case that is still being thought over."""
    letter: int | None = None
    """The day the consent letter of the recommended option was handed over."""
    declined: int | None = None
    """The day on which no treatment was chosen. Of a yes, :mod:`planner.config.demo_tales` tells."""
    options: tuple[str, ...] = ()
    """What was handed over, where that is something else than all that may be offered."""
    earlier: int = 0
    """By so many days everything in the case file lies further back."""


LEAD = Story("lead.json", "brightwater anselm", "555 0142", taken_in=-6, shown=-6, letter=-2)
OTHERS = (
    Story("zhenya.json", "holloway zhenya", "555 0133", taken_in=-30, shown=-27),
    Story("cormac.json", "adeyemi-rusk cormac", "555 0151", taken_in=-40, shown=-38),
    Story("linnea.json", "vantongeren linnea", "555 0117", taken_in=-10, shown=-10),
    Story("lisbet.json", "vantongeren lisbet", "555 0118", taken_in=-55, shown=-54),
    Story(
        "marguerite.json",
        "osei-thorn marguerite",
        "555 0166",
        taken_in=-92,
        shown=-88,
        # Whitening waits until the crowns are sealed; she was shown what both would come to.
        options=("crown", "whiten-then-crown"),
    ),
    Story("rafael.json", "quennell rafael", "555 0189", taken_in=-72, shown=-70),
    Story("ottoline.json", "brask ottoline", "555 0124", taken_in=-2, shown=None),
    Story("nikhil.json", "sandoval nikhil", "555 0195", taken_in=-31, shown=-30),
    Story("petra.json", "lindqvist-amadi petra", "555 0171", taken_in=-66, shown=-62, declined=-50),
    Story("hamish.json", "oyelaran hamish", "555 0178", taken_in=-210, shown=-210, earlier=200),
    Story("wanjiru.json", "delacroix wanjiru", "555 0109", taken_in=-31, shown=-30),
)


@dataclass(frozen=True, slots=True)
class Loaded:
    """What is there after loading."""

    lead: Estimate
    papers: tuple[Document, ...]
    """The papers of the lead case."""


Passwords = tuple[tuple[Staff, str], ...]
"""New passwords in the clear, to be shown this once."""


def open_if_empty(now: datetime) -> Passwords:
    """Open the invented office where there is none at all, and return its people's passwords; else nothing."""
    return () if Office.objects.exists() else _open(now)


def load(step: Step) -> Loaded:
    """Load what is not there yet into the invented office. Raises NotTheDemo when another office lives here."""
    owner = _owner()
    if owner is None:
        named = ", ".join(f'"{office.name}"' for office in Office.objects.order_by("pk")[:3])
        raise NotTheDemo(
            f"This database holds {named}, which is not the invented office. Nothing was loaded. "
            "Point LEASTWAYS_VAR or DATABASE_URL at an empty place for the demo."
        )
    office, zero = owner.office, day_zero(owner.office)
    with step(f"Case {LEAD.file.removesuffix('.json')}"):
        lead = _tell(LEAD, owner, office, zero)
    assert lead is not None  # it was shown
    ahead = Ahead()
    told = {LEAD.file: lead}
    for story in OTHERS:
        with step(f"Case {story.file.removesuffix('.json')}"):
            if (estimate := _tell(story, owner, office, zero)) is None:
                continue
            told[story.file] = estimate
            if story.file in LETTERS and not is_told(estimate):
                option, day = LETTERS[story.file]
                ahead.begin(estimate, option, zero + timedelta(days=day))
    with step("The shelf and past timings"):
        load_shelf(owner, zero, _clock(office, zero))
        load_timings(owner, zero, _clock(office, zero))
    desk, assistant = (Staff.objects.get(office=office, username=person.username) for person in (STAFF[0], STAFF[3]))
    tell = Teller(owner, desk, assistant, zero, ahead)
    with step("Yeses, letters, payments, visits and calls"):
        for file, estimate in told.items():
            tell_tale(tell, file, estimate)
    for moved in tell.moved:
        with step(f"  {moved}"):
            pass
    with step("Making the papers of the lead case"):
        papers = _papers(LEAD, lead, owner, office, zero)
        _hand(LEAD, lead, papers, desk, tell)
    ahead.close()
    return Loaded(lead, papers)


def _owner() -> Staff | None:
    found = Staff.objects.select_related("office").filter(office__name=OFFICE, username=OWNER.username)
    return found.first() if Office.objects.count() == 1 else None


def day_zero(office: Office) -> date:
    """The day the demonstration was first loaded."""
    return office.created_at.astimezone(office.zone).date() + timedelta(days=OPENED_DAYS_AGO)


def new_passwords(now: datetime) -> Passwords:
    """Give everybody of the invented office a new password. Raises NotTheDemo when there is no such office."""
    owner = _owner()
    if owner is None:
        raise NotTheDemo("The invented office is not loaded here: run the demo first.")
    known = [OWNER.username, *(person.username for person in STAFF)]
    made = []
    for staff in Staff.objects.filter(office=owner.office, username__in=known).order_by("pk"):
        password = new_password()
        services.set_password(staff=staff, password=password, actor=owner, now=now)
        made.append((staff, password))
    return tuple(made)


def write_files(loaded: Loaded, folder: Path) -> tuple[Path, ...]:
    """Write the papers of the lead case, its case file and its frozen plan into ``folder``; returns the paths."""
    folder.mkdir(parents=True, exist_ok=True)
    frozen = loaded.lead.frozen
    assert frozen is not None  # by the database's constraint on checked estimates
    files = {f"{paper.kind}.pdf": bytes(paper.content) for paper in loaded.papers}
    files["case-plan.json"] = bytes(frozen.content)
    facts = json.loads(bytes(frozen.content))["facts"]
    files["case-file.json"] = (json.dumps(facts, indent=1, sort_keys=True, ensure_ascii=False) + "\n").encode()
    for name, content in files.items():
        (folder / name).write_bytes(content)
    return tuple(folder / name for name in files)


@transaction.atomic
def _open(now: datetime) -> Passwords:
    # All of it or nothing: passwords of half an office would be lost.
    text = BOOK.read_text(encoding="utf-8")
    zone = ZoneInfo(load_book(text, now.date()).time_zone)
    zero = now.astimezone(zone).date()
    opened_on = zero - timedelta(days=OPENED_DAYS_AGO)
    opened = datetime.combine(opened_on, time(8, 0), zone)
    password = new_password()
    _office, owner = services.first_run(
        name=OFFICE,
        book=_first_book(load_book(text, zero), opened_on),
        effective=opened_on,
        owner_username=OWNER.username,
        owner_full_name=OWNER.full_name,
        owner_password=password,
        owner_roles=OWNER.roles,
        now=opened,
    )
    given = [(owner, password)]
    for person in STAFF:
        password = new_password()
        added = services.add_staff(
            username=person.username,
            full_name=person.full_name,
            password=password,
            roles=person.roles,
            actor=owner,
            now=opened,
        )
        given.append((added, password))
    for staff, _password in given:
        if codes.must_have(staff):
            _set_up_codes(staff, opened)
    listed_on = zero - timedelta(days=LIST_DAYS_AGO)
    books.change_book(
        office=owner.office,
        book=_with_list(load_book(text, zero), opened_on),
        effective=listed_on,
        reason="The price list for the new year of the office; prices stay.",
        actor=owner,
        now=datetime.combine(listed_on - timedelta(days=1), time(17, 0), zone),
    )
    return tuple(given)


def _set_up_codes(staff: Staff, at: datetime) -> None:
    """Set up one-time codes as somebody with a telephone would; :func:`code_now` then stands for the telephone."""
    secret = one_time.new_secret()
    codes.set_up(staff=staff, secret=secret, typed=one_time.code_at(secret, one_time.step_of(at)), now=at)


@dataclass(frozen=True, slots=True)
class ShownCode:
    """What the telephone of an invented person shows."""

    code: str
    secret: str
    """In letters, to be typed into an app."""


def code_now(username: str, now: datetime) -> ShownCode:
    """The code that lets somebody of the invented office in now. Raises NotTheDemo without such an office or person.

    Where the code of this half minute was used already, the next one, which is taken as well.
    """
    owner = _owner()
    found = owner and CodeSecret.objects.filter(staff__office=owner.office, staff__username=username).first()
    if not found:
        raise NotTheDemo(f'Nobody called "{username}" has one-time codes in the invented office here.')
    secret = unseal(found.sealed)
    step = max(one_time.step_of(now), found.last_step + 1)
    return ShownCode(one_time.code_at(secret, step), one_time.in_groups(secret))


def _first_list(book: OfficeBook, opened_on: date) -> PriceList:
    """The price list before the first of the book, at its prices."""
    return book.price_lists[0].model_copy(update={"version": FIRST_LIST, "effective": opened_on})


def _first_book(book: OfficeBook, opened_on: date) -> OfficeBook:
    """The book as it was when the office began: with the price list before the first of ``book`` alone."""
    return book.model_copy(update={"price_lists": (_first_list(book, opened_on),)})


def _with_list(book: OfficeBook, opened_on: date) -> OfficeBook:
    """``book`` with the price list before its first, which nothing may be left out of once it was in force."""
    return book.model_copy(update={"price_lists": (_first_list(book, opened_on), *book.price_lists)})


def _clock(office: Office, zero: date) -> Callable[[int, int], datetime]:
    """Tells the instant at which the office's clock shows an hour, days from day zero."""

    def at(days: int, hour: int) -> datetime:
        return datetime.combine(zero + timedelta(days=days), time(hour, 0), office.zone)

    return at


def _tell(story: Story, owner: Staff, office: Office, zero: date) -> Estimate | None:
    """Everything that happened in one story; what has happened already is left as it is."""
    at = _clock(office, zero)
    case = _case(story, owner, at(story.taken_in, 14), zero)
    if story is LEAD:
        load_cover(case.patient, Staff.objects.get(office=office, username=STAFF[0].username), zero, at)
    if story.shown is None:
        return None
    estimate = Estimate.objects.filter(case=case).order_by("pk").first()
    if estimate is None:
        plan, _book = compute_plan(case, at(story.shown, 15))
        seen = sha256(plan.to_json())
        if story.options:
            draft_estimate(case=case, options=story.options, actor=owner, now=at(story.shown, 15))
        estimate = check_case(case=case, seen_plan=seen, actor=owner, now=at(story.shown, 15))
    if estimate.state == State.CHECKED:
        estimate = show_estimate(
            estimate=estimate,
            seen=estimate.version,
            to=case.patient.name,
            channel=Channel.IN_PERSON,
            actor=owner,
            now=at(story.shown, 16),
        )
    if estimate.state == State.SHOWN and story.declined is not None:
        answer_estimate(
            estimate=estimate,
            seen=estimate.version,
            answer=Answer.NO_TREATMENT,
            by=case.patient.name,
            actor=owner,
            now=at(story.declined, 11),
        )
    return Estimate.objects.select_related("office", "case__patient", "frozen", "book", "checked_by").get(
        pk=estimate.pk
    )


def _case(story: Story, owner: Staff, now: datetime, zero: date) -> Case:
    data = resolve_days(parse_case((CASES / story.file).read_bytes()), zero - timedelta(days=story.earlier))
    facts = validate_case(data, now.date())
    known = Case.objects.filter(office=owner.office, name=facts.case, patient__name=facts.patient.name)
    if (case := known.select_related("office", "patient", "examination").first()) is not None:
        return case
    case = import_case_file(facts=facts, sorted_by=story.sorted_by, actor=owner, now=now).case
    changes = {"phone": story.phone, "contact_consent": True}
    change_patient(patient=case.patient, seen=case.patient.version, changes=changes, actor=owner, now=now)
    return case


def _papers(story: Story, estimate: Estimate, owner: Staff, office: Office, zero: date) -> tuple[Document, ...]:
    """Option sheet, estimate and wax-up order of the day they are shown, the consent letter on its own day."""
    frozen = estimate.frozen
    assert frozen is not None
    assert story.letter is not None
    assert story.shown is not None
    made: list[Document] = []
    for kind in kinds_of(bytes(frozen.content), issue_of(estimate)):
        day = zero + timedelta(days=story.letter if kind == consent.KEY else story.shown)
        issue = issue_of(estimate, handed_on=day, dentist_role="dentist")
        if kind == wax_up.KEY:
            issue = replace(issue, ordered_by=owner.full_name)
        made += render_papers(
            frozen=frozen,
            kinds=[kind],
            issue=issue,
            actor=owner,
            estimate=estimate,
            now=datetime.combine(day, time(16, 30), office.zone),
        )
    return tuple(made)


def _hand(story: Story, estimate: Estimate, papers: Iterable[Document], desk: Staff, tell: Teller) -> None:
    """The consent letter among ``papers`` is handed over on its day; what was handed over since is left."""
    (letter,) = [paper for paper in papers if paper.kind == consent.KEY]
    if Consent.objects.filter(estimate=estimate).exists() or newer_than(letter) is not None:
        return
    assert story.letter is not None
    to, now = estimate.case.patient.name, tell.at(story.letter, 16, 30)
    hand_letter(document=letter, to=to, channel=HandedBy.PAPER, actor=desk, now=now)
