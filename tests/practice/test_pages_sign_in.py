"""Signing in with a code, a screen that was left, a password that was forgotten: what lets somebody in, what not."""

from collections.abc import Callable, Iterator
from dataclasses import asdict
from datetime import datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.contrib.auth.hashers import make_password
from django.core.management import CommandError, call_command
from django.test import Client
from django.utils import timezone

from planner.practice import codes, one_time, screens, services
from planner.practice.again import FIELD
from planner.practice.handed import KEY as HANDED
from planner.practice.handed import Handed
from planner.practice.models import Staff
from planner.practice.opening import give_password, new_password
from planner.practice.roles import Role
from planner.practice.screen_middleware import FIELD as UNLOCK
from planner.practice.screen_middleware import LOOKED
from planner.practice.sign_in_models import CodeSecret, RecoveryCode, SignedIn
from planner.trail.errors import NotAllowed, Refused
from planner.trail.models import TrailDetail, TrailEntry
from tests.pages import client_of, refusals
from tests.support import NOW, PASSWORD

pytestmark = pytest.mark.django_db
OWN = "a wholly own sentence"


@pytest.fixture
def clock() -> Iterator[time_machine.Traveller]:
    """A clock that the test moves: ``clock.shift(seconds)``."""
    with time_machine.travel(NOW, tick=False) as found:
        yield found


def telephone(staff: Staff) -> bytes:
    """Sets up codes for ``staff``; returns the secret that the app holds."""
    secret = one_time.new_secret()
    at = timezone.now() - timedelta(minutes=5)
    codes.set_up(staff=staff, secret=secret, typed=code(secret, at), now=at)
    return secret


def code(secret: bytes, at: datetime | None = None) -> str:
    return one_time.code_at(secret, one_time.step_of(at or timezone.now()))


def password_said(name: str, password: str = PASSWORD, to: str = "") -> tuple[Client, Any]:
    client = Client()
    return client, client.post("/sign-in/", {"username": name, "password": password, "next": to})


def is_in(client: Client) -> bool:
    return bool(client.get("/account/").status_code == 200)


# Codes


def test_the_password_alone_lets_nobody_in_who_has_codes(owner: Staff, clock: Any) -> None:
    secret = telephone(owner)
    client, answer = password_said("olive", to="/staff/")
    assert answer["Location"] == "/sign-in/code/"
    for url in ("/", "/account/", "/staff/", "/account/codes/", "/account/password/"):
        assert client.get(url)["Location"].startswith("/sign-in/?next="), url
    with refusals() as noted:
        page = client.post("/sign-in/code/", {"code": "000000"}).content.decode()
    assert "does not fit now" in page
    assert noted == ["refused.session.code"]
    assert client.post("/sign-in/code/", {"code": code(secret)})["Location"] == "/staff/"
    assert is_in(client)
    said = TrailDetail.objects.filter(entry__act="session.begin").latest("entry_id").content
    assert said == '{"beside":"one-time code"}'


def test_a_code_is_good_once_also_for_whoever_looked_over_the_shoulder(owner: Staff, clock: Any) -> None:
    secret = telephone(owner)
    seen = code(secret)
    first, _ = password_said("olive")
    assert first.post("/sign-in/code/", {"code": seen}).status_code == 302
    second, _ = password_said("olive")
    assert "was used already" in second.post("/sign-in/code/", {"code": seen}).content.decode()
    clock.shift(30)
    assert second.post("/sign-in/code/", {"code": seen}).status_code == 200, "not in the next half minute either"
    assert second.post("/sign-in/code/", {"code": code(secret)}).status_code == 302


def test_half_way_in_ends_after_ten_minutes_and_with_the_password(owner: Staff, clock: Any) -> None:
    secret = telephone(owner)
    client, _ = password_said("olive")
    clock.shift(600)
    assert client.post("/sign-in/code/", {"code": code(secret)})["Location"] == "/"
    assert not is_in(client)
    client, _ = password_said("olive")
    services.set_password(staff=owner, password=OWN, actor=owner, now=timezone.now())
    client.post("/sign-in/code/", {"code": code(secret)})
    assert not is_in(client)
    assert Client().get("/sign-in/code/")["Location"] == "/", "nobody is half-way in"


def test_codes_cannot_be_tried_through(owner: Staff, clock: Any) -> None:
    secret = telephone(owner)
    client, _ = password_said("olive")
    for number in range(5):
        assert client.post("/sign-in/code/", {"code": f"{number:06}"}).status_code == 200
    answer = client.post("/sign-in/code/", {"code": code(secret)})
    assert answer.status_code == 429
    assert "wait a quarter of an hour" in answer.content.decode()
    # Saying the password once more gives no new tries.
    again, _ = password_said("olive")
    assert again.post("/sign-in/code/", {"code": code(secret)}).status_code == 429
    clock.shift(15 * 60 + 1)
    late, _ = password_said("olive")
    assert late.post("/sign-in/code/", {"code": code(secret)}).status_code == 302


def test_a_screen_taken_back_from_a_patient_asks_for_the_code_as_well(owner: Staff, clock: Any) -> None:
    secret = telephone(owner)
    client = Client()
    session = client.session
    handed = Handed("x", "y", signing="", showing=True, by=owner.public_id, language="en", back="/staff/")
    session[HANDED] = asdict(handed)
    session.save()
    assert client.get("/staff/").status_code == 403
    client.post("/sign-in/", {"username": "olive", "password": PASSWORD})
    for url in ("/staff/", "/", "/account/codes/", "/handed/"):
        assert client.get(url)["Location"] == "/sign-in/code/"
    assert "does not fit now" in client.post("/sign-in/code/", {"code": "000000"}).content.decode()
    assert client.post("/sign-in/code/", {"code": code(secret)})["Location"] == "/staff/"
    assert client.get("/staff/").status_code == 200
    assert client.get("/sign-in/code/")["Location"] == "/", "asked once"


def test_a_recovery_code_lets_in_once_and_is_kept_as_a_hash(owner: Staff, clock: Any) -> None:
    telephone(owner)
    sheet = codes.new_sheet(staff=owner, now=timezone.now())
    stored = list(RecoveryCode.objects.values_list("hash", flat=True))
    assert len(stored) == 8
    assert not any(part in "".join(stored) for shown in sheet for part in shown[2:].split("-"))
    client, _ = password_said("olive")
    assert client.post("/sign-in/code/", {"code": sheet[4].upper()}).status_code == 302
    assert codes.recovery_left(owner) == 7
    other, _ = password_said("olive")
    assert other.post("/sign-in/code/", {"code": sheet[4]}).status_code == 200
    assert other.post("/sign-in/code/", {"code": sheet[0]}).status_code == 302
    codes.new_sheet(staff=owner, now=timezone.now())
    third, _ = password_said("olive")
    assert third.post("/sign-in/code/", {"code": sheet[1]}).status_code == 200, "a new sheet ends the old one"
    assert TrailEntry.objects.filter(act="codes.recovery").count() == 2


def test_whoever_has_power_sets_codes_up_before_anything_else(owner: Staff, clock: Any) -> None:
    client, answer = password_said("olive", to="/staff/")
    assert answer["Location"] == "/staff/"
    for url in ("/", "/staff/", "/patients/", "/account/"):
        assert client.get(url)["Location"] == "/account/codes/"
    page = client.get("/account/codes/")
    assert "<svg" in page.content.decode()
    secret = _written(page)
    assert "is not the code" in client.post("/account/codes/", {"action": "try", "code": "000000"}).content.decode()
    done = client.post("/account/codes/", {"action": "try", "code": code(secret)})
    sheet = done.context["sheet"]
    assert len(sheet) == 8
    assert all(shown in done.content.decode() for shown in sheet)
    assert client.get("/staff/").status_code == 200
    assert secret.hex() not in CodeSecret.objects.get(staff=owner).sealed
    assert one_time.in_groups(secret).replace(" ", "") not in CodeSecret.objects.get(staff=owner).sealed
    # From now on a code is asked for, and the one that set it up is used already.
    again, _ = password_said("olive")
    assert again.post("/sign-in/code/", {"code": code(secret)}).status_code == 200


def _written(page: Any) -> bytes:
    import base64

    return base64.b32decode(page.context["written"].replace(" ", ""))


@pytest.mark.parametrize("role", list(Role))
def test_who_must_have_codes(role: Role, person: Callable[..., Staff]) -> None:
    until = {"access_until": NOW.date() + timedelta(days=4000)} if role is Role.CHECKER else {}
    somebody = person(role, **until)
    assert codes.must_have(somebody) == (role in (Role.MANAGER, Role.OWNER, Role.KEEPER))


def test_others_choose_codes_and_give_them_up_with_the_password(colleague: Staff, owner: Staff, clock: Any) -> None:
    client, answer = password_said("cleo")
    assert answer["Location"] == "/"
    assert client.get("/").status_code == 200
    assert "Password of" in client.post("/account/codes/", {"action": "begin"}).content.decode()
    page = client.post("/account/codes/", {"action": "begin", FIELD: PASSWORD})
    elsewhere = client_of(colleague)
    client.post("/account/codes/", {"action": "try", "code": code(_written(page))})
    assert codes.secret_of(colleague) is not None
    assert is_in(client)
    assert not is_in(elsewhere), "other screens end when the way of signing in changes"
    assert "Password of" in client.post("/account/codes/", {"action": "give up"}).content.decode()
    client.post("/account/codes/", {"action": "give up", FIELD: PASSWORD})
    assert codes.secret_of(colleague) is None
    telephone(owner)
    must = client_of(owner)
    assert must.post("/account/codes/", {"action": "give up", FIELD: PASSWORD}).status_code == 403
    assert codes.secret_of(owner) is not None


def test_a_lost_telephone_is_begun_anew_by_somebody_else_with_a_reason(
    owner: Staff, colleague: Staff, outsider: Staff, person: Callable[..., Staff]
) -> None:
    manager = person(Role.MANAGER)
    for staff in (owner, colleague, manager):
        telephone(staff)
    url = f"/staff/{colleague.public_id}/codes/"
    theirs = client_of(colleague)
    client = client_of(manager)
    assert "Password of" in client.post(url, {"reason": "lost on the beach"}).content.decode()
    client.post(url, {"reason": "", FIELD: PASSWORD})
    assert codes.secret_of(colleague) is not None
    client.post(url, {"reason": "lost on the beach", FIELD: PASSWORD})
    assert codes.secret_of(colleague) is None
    assert not is_in(theirs)
    # Pressed again from a page that was opened before, it leaves what was set up since as it is.
    old = timezone.now().isoformat()
    telephone(colleague)
    again = client.post(url, {"reason": "lost on the beach", "since": old, FIELD: PASSWORD}, follow=True)
    assert "has set up new codes since this page was opened" in again.content.decode()
    assert codes.secret_of(colleague) is not None
    assert TrailEntry.objects.get(act="codes.anew").reason == "lost on the beach"
    for actor, staff in ((manager, owner), (manager, manager), (colleague, owner), (outsider, owner), (owner, owner)):
        with pytest.raises(NotAllowed):
            codes.begin_anew(staff=staff, actor=actor, reason="r", now=NOW)


# A password that was forgotten


def test_a_password_for_one_sign_in_is_good_once_and_for_an_hour(owner: Staff, colleague: Staff, clock: Any) -> None:
    given = give_password(staff=colleague, actor=owner, now=timezone.now()).password
    assert password_said("cleo")[1].status_code == 200, "the old one has ended"
    clock.shift(3600)
    assert password_said("cleo", given)[1].status_code == 200, "an hour later it has ended too"
    given = give_password(staff=colleague, actor=owner, now=timezone.now()).password
    clock.shift(3599)
    client, answer = password_said("cleo", given)
    assert answer["Location"] == "/"
    assert client.get("/")["Location"] == "/account/password/"
    assert password_said("cleo", given)[1].status_code == 200, "it is used up"
    client.post("/account/password/", {"password": OWN, "again": OWN})
    assert is_in(client)
    assert is_in(password_said("cleo", OWN)[0])
    entries = TrailEntry.objects.filter(subject_id=colleague.public_id).exclude(act__startswith="refused.")
    assert list(entries.order_by("sequence").values_list("act", flat=True))[-4:] == [
        "staff.once", "session.begin", "staff.password", "session.begin",
    ]  # fmt: skip


def test_who_may_make_one_and_how_often(owner: Staff, colleague: Staff, outsider: Staff, person: Any) -> None:
    manager = person(Role.MANAGER)
    for actor, staff in ((manager, owner), (manager, manager), (owner, owner), (colleague, manager), (outsider, owner)):
        before = staff.password
        with pytest.raises(NotAllowed):
            give_password(staff=staff, actor=actor, now=NOW)
        assert Staff.objects.get(pk=staff.pk).password == before
    for _number in range(5):
        give_password(staff=colleague, actor=manager, now=NOW)
    with pytest.raises(Refused, match="within the hour"):
        give_password(staff=colleague, actor=owner, now=NOW + timedelta(minutes=59))
    give_password(staff=colleague, actor=owner, now=NOW + timedelta(minutes=61))


def test_it_asks_for_the_managers_password_and_never_shows_it_by_get(owner: Staff, colleague: Staff) -> None:
    client, url = client_of(owner), f"/staff/{colleague.public_id}/password/"
    assert client.get(url)["Location"] == f"/staff/{colleague.public_id}/"
    assert "Password of" in client.post(url).content.decode()
    assert not TrailEntry.objects.filter(act="staff.once").exists()
    assert client_of(colleague).post(f"/staff/{owner.public_id}/password/").status_code == 403


def test_whoever_runs_the_program_lets_the_last_owner_in(owner: Staff, clock: Any, capsys: Any) -> None:
    telephone(owner)
    theirs = client_of(owner)
    call_command("way_in", "Olive", "--reason", "telephone drowned", "--codes")
    given = capsys.readouterr().out.splitlines()[0]
    assert not is_in(theirs)
    client, _ = password_said("olive", given)
    assert client.get("/")["Location"] == "/account/password/"
    client.post("/account/password/", {"password": OWN, "again": OWN})
    assert client.get("/")["Location"] == "/account/codes/"
    entries = TrailEntry.objects.filter(act__in=("staff.once", "codes.anew"))
    assert {(entry.actor, entry.office, entry.reason) for entry in entries} == {
        (None, owner.office, "from the command line: telephone drowned")
    }
    with pytest.raises(CommandError, match="Nobody has"):
        call_command("way_in", "nobody", "--reason", "r")


# Guessing


def test_a_name_that_nobody_has_is_answered_like_a_wrong_password(
    owner: Staff, person: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    telephone(owner)
    services.end_access(staff=person(Role.ASSISTANT, username="gone"), seen=1, reason="left", actor=owner, now=NOW)
    reckoned: list[str] = []

    def counting(password: str | None, *args: Any, **values: Any) -> str:
        reckoned.append(str(password))
        return make_password(password, *args, **values)

    monkeypatch.setattr("planner.practice.backends.make_password", counting)
    pages = []
    for name, password in (("nobody", PASSWORD), ("olive", "wrong"), ("gone", PASSWORD), ("gone", "wrong")):
        page = password_said(name, password)[1]
        assert page.status_code == 200
        pages.append(page.content.decode().replace(f'value="{name}"', ""))
    without = [page.split('name="csrfmiddlewaretoken"')[0] for page in pages]
    assert len(set(without)) == 1
    assert reckoned == [PASSWORD], "a hash is reckoned for a name that nobody has, as for one that somebody has"


def test_capitals_and_blanks_around_a_name_give_no_new_tries(owner: Staff) -> None:
    for name in ("olive", "OLIVE", " olive", "Olive ", "oLive"):
        answer = password_said(name, "wrong")[1]
    assert answer.status_code == 429
    assert password_said("olive")[1].status_code == 429


def test_many_places_at_once_meet_a_limit_of_the_name_alone(
    owner: Staff, colleague: Staff, clock: Any, settings: Any
) -> None:
    settings.MOST_MISSES_EVERYWHERE = 12
    for number in range(12):
        Client(REMOTE_ADDR=f"192.0.2.{number}").post("/sign-in/", {"username": "olive", "password": "wrong"})
    fresh = Client(REMOTE_ADDR="198.51.100.1")
    assert fresh.post("/sign-in/", {"username": "olive", "password": PASSWORD}).status_code == 429
    assert fresh.post("/sign-in/", {"username": "cleo", "password": PASSWORD}).status_code == 302
    clock.shift(15 * 60 + 1)
    again = Client(REMOTE_ADDR="198.51.100.1")
    assert again.post("/sign-in/", {"username": "olive", "password": PASSWORD}).status_code == 302


# Where one is led, and what a browser keeps


@pytest.mark.parametrize(
    "to",
    ["https://elsewhere.example/", "//elsewhere.example/", "/\\elsewhere.example", "javascript:alert(1)", "http:///x.example",
     "https:elsewhere.example", "\thttps://elsewhere.example", "/%0d%0aLocation: https://x.example" "\r\n"],
)  # fmt: skip
def test_nobody_is_led_elsewhere_by_signing_in(to: str, owner: Staff, colleague: Staff, clock: Any) -> None:
    secret = telephone(owner)
    plain = password_said("cleo", to=to)[1]["Location"]
    client, _ = password_said("olive", to=to)
    beside = client.post("/sign-in/code/", {"code": code(secret)})["Location"]
    for led in (plain, beside):
        assert led.startswith("/")
        assert not led.startswith(("//", "/\\"))
        assert "\n" not in led
    assert "elsewhere" not in Client().get("/sign-in/", {"next": to}).context["next"]


def test_the_key_of_the_browser_changes_at_each_step(owner: Staff, clock: Any, settings: Any) -> None:
    secret = telephone(owner)
    client = Client()
    client.get("/sign-in/")
    client.session["planted"] = "x"
    planted = client.session
    planted.save()
    client.cookies[settings.SESSION_COOKIE_NAME] = planted.session_key or ""
    client.post("/sign-in/", {"username": "olive", "password": PASSWORD})
    half = client.session.session_key
    client.post("/sign-in/code/", {"code": code(secret)})
    full = client.session.session_key
    assert len({planted.session_key, half, full}) == 3
    assert is_in(client)
    old = Client()
    for key in (planted.session_key, half):
        old.cookies[settings.SESSION_COOKIE_NAME] = key or ""
        assert not is_in(old)
    client.post("/sign-out/")
    back = Client()
    back.cookies[settings.SESSION_COOKIE_NAME] = full or ""
    assert not is_in(back)


@pytest.mark.parametrize("url", ["/sign-in/", "/sign-in/code/", "/screen/", "/account/codes/", "/account/place/"])
def test_a_forged_form_is_refused(url: str, owner: Staff) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(owner, backend="planner.practice.backends.StaffBackend")
    assert client.post(url, {"username": "olive", "password": PASSWORD, "action": "blank"}).status_code == 403
    row = SignedIn.objects.get(staff=owner)
    assert not row.blank


def test_a_forged_form_is_not_carried_past_a_blank_screen(owner: Staff) -> None:
    """The page that asks for the password has a good mark against forgery: nothing forged may come to stand in it."""
    client = Client(enforce_csrf_checks=True)
    client.force_login(owner, backend="planner.practice.backends.StaffBackend")
    SignedIn.objects.update(blank=True)
    answer = client.post("/staff/add/", {"full_name": "Forged Name"})
    assert answer.status_code == 403
    assert "Forged Name" not in answer.content.decode()
    assert UNLOCK not in answer.content.decode()


# A screen that was left


def test_a_screen_at_the_desk_is_blank_after_three_minutes_and_shows_nothing_else(colleague: Staff, clock: Any) -> None:
    client = client_of(colleague)
    clock.shift(179)
    assert client.get("/patients/").status_code == 200
    clock.shift(180)
    for url in ("/", "/patients/", "/account/", "/office/", "/sign-in/"):
        answer = client.get(url)
        assert answer.status_code == 403
        page = answer.content.decode()
        assert "This screen is blank" in page
        assert "Patients" not in page, "no rooms"
    assert client.get("/health").status_code == 200
    wrong = client.post("/patients/", {UNLOCK: "wrong", LOOKED: "yes"})
    assert "not your password" in wrong.content.decode()
    assert client.get("/patients/").status_code == 403
    right = client.post("/patients/?q=a", {UNLOCK: PASSWORD, LOOKED: "yes"})
    assert (right.status_code, right["Location"]) == (302, "/patients/?q=a")
    assert client.get("/patients/").status_code == 200


def test_what_was_typed_is_sent_on_with_the_password(owner: Staff, clock: Any) -> None:
    client = client_of(owner)
    sent = {"full_name": "Ines <b>Assist", "username": "ines", "roles": ["assistant", "front desk"], "language": "en"}
    clock.shift(181)
    page = client.post("/staff/add/", sent)
    assert page.status_code == 403
    for kept in ('value="Ines &lt;b&gt;Assist"', 'value="assistant"', 'value="front desk"'):
        assert kept in page.content.decode()
    assert not Staff.objects.filter(username="ines").exists()
    assert client.post("/staff/add/", sent | {UNLOCK: "wrong"}).status_code == 403
    client.post("/staff/add/", sent | {UNLOCK: PASSWORD})
    assert Staff.objects.get(username="ines").roles == {Role.ASSISTANT, Role.FRONT_DESK}


def test_a_part_of_a_page_has_the_page_go_blank_and_stay(colleague: Staff, clock: Any) -> None:
    client = client_of(colleague)
    clock.shift(181)
    answer = client.post("/patients/", {"q": "a"}, headers={"HX-Request": "true"})
    assert (answer.status_code, answer.content) == (403, b"")
    assert (answer["HX-Reswap"], answer["HX-Trigger"]) == ("none", "screen-blank")


def test_the_chair_has_twenty_minutes_and_the_place_stays_with_the_screen(colleague: Staff, clock: Any) -> None:
    client = client_of(colleague)
    assert client.post("/account/place/", {"place": "moon"})["Location"] == "/account/"
    assert client.get("/account/").context["limit"] == 3
    client.post("/account/place/", {"place": "chair"})
    assert client.get("/account/").context["limit"] == 20
    clock.shift(20 * 60 - 1)
    assert is_in(client)
    clock.shift(20 * 60)
    assert not is_in(client)
    client.post("/sign-out/")
    client.post("/sign-in/", {"username": "cleo", "password": PASSWORD})
    assert client.get("/account/").context["limit"] == 20
    # A place that nobody said here, but wrote into the browser, is none.
    forged = client_of(colleague)
    forged.cookies["leastways-place"] = "chair"
    client.post("/sign-out/")
    row = SignedIn.objects.latest("pk")
    assert row.place == "desk"


def test_the_page_tells_that_somebody_is_there_and_unlocks_in_place(colleague: Staff, clock: Any) -> None:
    client = client_of(colleague)
    for _minute in range(5):
        clock.shift(100)
        assert client.post("/screen/", {"action": "awake"}).json() == {"open": True, "fault": ""}
    assert is_in(client)
    assert client.post("/screen/", {"action": "blank"}).json()["open"] is False
    assert client.post("/screen/", {"action": "awake"}).json()["open"] is False
    assert client.get("/").status_code == 403
    assert "not your password" in client.post("/screen/", {"action": "unlock", FIELD: "no"}).json()["fault"]
    assert client.post("/screen/", {"action": "unlock", FIELD: PASSWORD}).json() == {"open": True, "fault": ""}
    assert client.get("/").status_code == 200


def test_unlocking_cannot_be_tried_through(colleague: Staff, clock: Any) -> None:
    client = client_of(colleague)
    client.post("/screen/", {"action": "blank"})
    for _number in range(5):
        client.post("/screen/", {"action": "unlock", FIELD: "wrong"})
    assert "wait a quarter" in client.post("/screen/", {"action": "unlock", FIELD: PASSWORD}).json()["fault"]
    page = client.post("/", {UNLOCK: PASSWORD, LOOKED: "yes"})
    assert page.status_code == 429
    assert TrailEntry.objects.filter(act="refused.screen.unlock").count() == 5


def test_a_sign_in_lasts_twelve_hours_whatever_is_done_in_it(colleague: Staff, clock: Any, settings: Any) -> None:
    settings.CHAIR_MINUTES = settings.DESK_MINUTES = 120
    client = client_of(colleague)
    for _hour in range(11):
        clock.shift(3600)
        assert is_in(client)
        session = client.session  # also where the session itself is saved anew all the time
        session["x"] = "y"
        session.save()
    clock.shift(3600)
    assert client.get("/account/")["Location"] == "/sign-in/?next=/account/"
    assert not SignedIn.objects.exists()


def test_changing_password_or_roles_signs_out_everywhere(owner: Staff, colleague: Staff) -> None:
    here, there = client_of(colleague), client_of(colleague)
    here.post("/account/password/", {"current": PASSWORD, "password": OWN, "again": OWN})
    assert (is_in(here), is_in(there)) == (True, False)
    services.change_roles(staff=colleague, seen=1, roles=[Role.MANAGER], reason="promoted", actor=owner, now=NOW)
    assert not is_in(here)
    client, _ = password_said("cleo", OWN)
    assert client.get("/")["Location"] == "/account/codes/", "with the role comes the duty"


def test_one_sees_where_one_is_signed_in_and_ends_the_others(owner: Staff, colleague: Staff) -> None:
    there = Client(headers={"User-Agent": "<i>Another browser"}, REMOTE_ADDR="192.0.2.77")
    there.post("/sign-in/", {"username": "cleo", "password": PASSWORD})
    strange = client_of(owner)
    here = client_of(colleague)
    page = here.get("/account/").content.decode()
    assert "192.0.2.77" in page
    assert "&lt;i&gt;Another browser" in page
    here.post("/account/end-others/")
    assert (is_in(here), is_in(there), is_in(strange)) == (True, False, True)


def test_first_steps_that_were_left_end_the_sign_in(owner: Staff, colleague: Staff, clock: Any) -> None:
    once = give_password(staff=colleague, actor=owner, now=timezone.now()).password
    client, _ = password_said("cleo", once)
    assert client.get("/account/password/").status_code == 200
    clock.shift(181)
    assert client.get("/account/password/")["Location"].startswith("/sign-in/")


def test_signing_in_any_other_way_counts_as_signed_in(owner: Staff) -> None:
    """What a test client does to sign in passes the same place as the pages: one row for one screen."""
    client = client_of(owner)
    assert is_in(client)
    assert SignedIn.objects.get(staff=owner).public_id == client.session[screens.KEY]


def test_new_passwords_are_not_guessed_soon(owner: Staff) -> None:
    for _number in range(20):
        services._check_password(new_password(), owner)
