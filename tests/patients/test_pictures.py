"""Pictures on file: kept as they came, shown as copies, read by a named reader, and seen by those who may."""

import io
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import IntegrityError, transaction
from PIL import Image

from planner.patients import pictures
from planner.patients.models import Patient, PictureContent, PictureFile, PictureReading
from planner.patients.pictures import add_picture, erase_picture, original_of, record_picture, set_aside
from planner.patients.services import register_patient
from planner.practice.models import Staff
from planner.practice.roles import Role
from planner.rules.mouth import Picture
from planner.rules.results import sha256
from planner.trail.errors import NotAllowed, Refused
from planner.trail.models import TrailDetail, TrailEntry
from planner.trail.services import verify_chain
from tests.pages import client_of, queries_of, refusals
from tests.patients.test_images import SECRET, saved, with_everything
from tests.support import NOW, PASSWORD, TODAY, guards_lifted

pytestmark = pytest.mark.django_db

TAKEN = TODAY - timedelta(days=20)


@pytest.fixture
def patient(owner: Staff) -> Patient:
    return register_patient(name=f"Anselm {SECRET}", birth_date=TODAY.replace(year=1978), actor=owner, now=NOW)


def dots(shade: int = 90) -> bytes:
    return saved(Image.new("L", (400, 300), shade), "PNG")


def keep(patient: Patient, owner: Staff, content: bytes = b"", **more: Any) -> PictureFile:
    given = {"kind": "small film", "on": TAKEN} | more
    return add_picture(patient=patient, content=content or dots(), actor=owner, now=NOW, **given)


# ---------------------------------------------------------------- keeping


def test_the_original_stays_byte_for_byte_beside_the_copy(patient: Patient, owner: Staff) -> None:
    content = with_everything()
    picture = keep(patient, owner, content, kind="photo", about={"shows": "full smile", "mirrored": True})
    kept = PictureContent.objects.get(file=picture)
    assert bytes(kept.original) == content
    assert picture.sha256 == sha256(content)
    assert picture.shown_sha256 == sha256(bytes(kept.shown))
    assert SECRET.encode() in content
    assert SECRET.encode() not in bytes(kept.shown) + bytes(kept.small)
    assert (picture.format, picture.size, picture.mirrored, picture.with_scale) == ("JPEG", len(content), True, None)
    detail = TrailDetail.objects.get(entry=TrailEntry.objects.get(act="picture.add"))
    assert picture.sha256 in detail.content
    assert SECRET not in detail.content


def test_the_same_file_is_not_taken_twice_nor_into_two_files(patient: Patient, owner: Staff) -> None:
    other = register_patient(name="Wanda Other", birth_date=TODAY.replace(year=1990), actor=owner, now=NOW)
    picture = keep(patient, owner)
    with pytest.raises(Refused, match="here already, as small film of"):
        keep(patient, owner)
    with pytest.raises(Refused, match="lies in another person's file") as refusal:
        keep(other, owner)
    assert "Anselm" not in refusal.value.sentence
    # What lay in the wrong file is set aside there, and may then go where it belongs.
    set_aside(picture=picture, reason="Shows another person's mouth.", actor=owner, now=NOW)
    assert keep(other, owner).sha256 == picture.sha256


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"on": TODAY + timedelta(days=1)}, "lies in the future"),
        ({"on": TODAY.replace(year=1950)}, "before the birth date"),
        ({"kind": "painting"}, "no kind of picture"),
        ({"content": b"%PDF-1.7"}, "a PDF, not a picture"),
    ],
)
def test_what_cannot_be_kept_leaves_nothing_behind(
    more: dict[str, Any], words: str, patient: Patient, owner: Staff
) -> None:
    with pytest.raises(Refused, match=words):
        keep(patient, owner, **more)
    assert not PictureFile.objects.exists()
    assert not PictureContent.objects.exists()


def test_taking_the_original_is_recorded_and_a_changed_one_is_found(patient: Patient, owner: Staff) -> None:
    picture = keep(patient, owner)
    assert original_of(picture=picture, actor=owner, now=NOW) == dots()
    assert TrailEntry.objects.filter(act="picture.original", subject_id=picture.public_id).count() == 1
    with guards_lifted():
        PictureContent.objects.filter(file=picture).update(original=dots(91))
    with pytest.raises(Refused, match="its hash differs"):
        original_of(picture=picture, actor=owner, now=NOW)


def test_erasing_needs_a_picture_set_aside_and_leaves_the_fact_and_the_hash(
    patient: Patient, owner: Staff, colleague: Staff
) -> None:
    picture = keep(patient, owner)
    with pytest.raises(Refused, match="set it aside first"):
        erase_picture(picture=picture, reason="Asked for.", actor=owner, now=NOW)
    with pytest.raises(IntegrityError), transaction.atomic():
        PictureContent.objects.filter(file=picture).delete()
    with pytest.raises(Refused, match="needs a reason"):
        set_aside(picture=picture, reason=" ", actor=owner, now=NOW)
    set_aside(picture=picture, reason="Of no use.", actor=owner, now=NOW)
    with pytest.raises(Refused, match="set aside before"):
        set_aside(picture=picture, reason="Again.", actor=owner, now=NOW)
    with pytest.raises(NotAllowed):
        erase_picture(picture=picture, reason="Asked for.", actor=colleague, now=NOW)
    erase_picture(picture=picture, reason="Request of 1 March.", actor=owner, now=NOW)
    assert not PictureContent.objects.exists()
    assert PictureFile.objects.get().sha256 == sha256(dots())
    with pytest.raises(Refused, match="erased before"):
        erase_picture(picture=picture, reason="Request of 1 March.", actor=owner, now=NOW)
    assert verify_chain().faults == ()


# ---------------------------------------------------------------- reading


def reading(**more: Any) -> Picture:
    given = {"kind": "small film", "on": TAKEN, "reader": "Dr Imke Sorrel", "reading": "12 absent."} | more
    return Picture.model_validate(given)


def test_a_reading_is_added_later_and_points_at_its_picture(patient: Patient, owner: Staff) -> None:
    picture = keep(patient, owner)
    first = record_picture(patient=patient, facts=reading(), file=picture, actor=owner, now=NOW)
    second = record_picture(
        patient=patient,
        facts=reading(reading="12 absent, 53 short."),
        file=picture,
        corrects=first,
        actor=owner,
        now=NOW,
    )
    assert [row.pk for row in picture.readings.order_by("pk")] == [first.pk, second.pk]
    with pytest.raises(IntegrityError), transaction.atomic():
        PictureReading.objects.filter(pk=first.pk).update(reading="other")


@pytest.mark.parametrize(
    ("more", "words"),
    [({"kind": "panoramic"}, "one of the two is a slip"), ({"on": TODAY}, "one of the two is a slip")],
)
def test_a_reading_of_another_kind_or_day_is_refused(
    more: dict[str, Any], words: str, patient: Patient, owner: Staff
) -> None:
    with pytest.raises(Refused, match=words):
        record_picture(patient=patient, facts=reading(**more), file=keep(patient, owner), actor=owner, now=NOW)


def test_nothing_is_read_in_what_was_set_aside_or_is_anothers(patient: Patient, owner: Staff) -> None:
    picture = keep(patient, owner)
    other = register_patient(name="Wanda Other", birth_date=TODAY.replace(year=1990), actor=owner, now=NOW)
    with pytest.raises(Refused, match="another person's file"):
        record_picture(patient=other, facts=reading(), file=picture, actor=owner, now=NOW)
    set_aside(picture=picture, reason="Of no use.", actor=owner, now=NOW)
    with pytest.raises(Refused, match="counts no more"):
        record_picture(patient=patient, facts=reading(), file=picture, actor=owner, now=NOW)


# ---------------------------------------------------------------- pages


def sent(content: bytes, name: str = "x.png", **more: str) -> dict[str, Any]:
    given = {
        "kind": "small film",
        "on": "10 February 2026",
        "with_scale": "yes",
        "mirrored": "",
        "taken_by": "",
        "shows": "",
    }
    return given | more | {"file": SimpleUploadedFile(name, content, "image/png")}


def test_from_upload_to_reading_on_the_pages(patient: Patient, owner: Staff) -> None:
    client, base = client_of(owner), f"/patients/{patient.public_id}/pictures/"
    answer = client.post(f"{base}take-in/", sent(dots(), name=f"{SECRET} 12.png"))
    picture = PictureFile.objects.get()
    assert answer["Location"] == f"/patients/pictures/{picture.public_id}/"
    assert picture.with_scale is True
    page = client.get(answer["Location"]).content.decode()
    for part in (picture.sha256, "PNG, 400 × 300 dots", "Nobody has written down yet", f"?of={picture.public_id}"):
        assert part in page, part
    form = client.get(f"{base}new/?of={picture.public_id}")
    assert form.context["form"]["on"].initial == TAKEN
    # Kind and day are the picture's own: what a form sends for them changes nothing.
    done = client.post(
        f"{base}new/?of={picture.public_id}",
        {"kind": "photo", "on": "1 January 2020", "reader": "Dr Imke Sorrel", "reading": "12 absent.", "absent": "12",
         "roots_of": "", "numbering": "iso"},
    )  # fmt: skip
    assert done["Location"] == base
    row = PictureReading.objects.get()
    assert (row.file_id, row.kind, row.on) == (picture.pk, "small film", TAKEN)
    listed = client.get(base).content.decode()
    assert "12 absent." in listed
    assert f"/patients/pictures/{picture.public_id}/small/" in listed
    for size in ("large", "small"):
        shown = client.get(f"/patients/pictures/{picture.public_id}/{size}/")
        assert shown["Content-Type"] == "image/png"
        assert shown["X-Content-Type-Options"] == "nosniff"
        assert Image.open(io.BytesIO(shown.content)).size == ((400, 300) if size == "large" else (320, 240))
    original = f"/patients/pictures/{picture.public_id}/original/"
    assert "Your password once more" in client.get(original).content.decode()
    assert not TrailEntry.objects.filter(act="picture.original").exists()
    file = client.post(original, {"password_again": PASSWORD})
    assert file.content == dots()
    assert file["Content-Disposition"] == f'attachment; filename="picture-{picture.public_id}.png"'
    assert file["Cache-Control"] == "no-store"
    assert TrailEntry.objects.filter(act="picture.original").count() == 1


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"file": SimpleUploadedFile("a.png", b"%PDF-1.7", "image/png")}, "a PDF, not a picture"),
        ({"file": SimpleUploadedFile("a.png", b"", "image/png")}, "The file is empty"),
        ({"file": ""}, "This is missing"),
        ({"on": "1 January 2999"}, "lies in the future"),
        ({"kind": "painting"}, "painting"),
    ],
)
def test_a_wrong_upload_keeps_what_was_typed(
    change: dict[str, Any], words: str, patient: Patient, owner: Staff
) -> None:
    url = f"/patients/{patient.public_id}/pictures/take-in/"
    page = client_of(owner).post(url, sent(dots(), shows="full smile") | change).content.decode()
    assert words in page
    assert 'value="full smile"' in page
    assert "choose it again" in page
    assert not PictureFile.objects.exists()


def test_who_sees_pictures_large_small_or_not_at_all(
    patient: Patient, owner: Staff, outsider: Staff, person: Callable[..., Staff]
) -> None:
    picture = keep(patient, owner)
    base = f"/patients/pictures/{picture.public_id}/"
    urls = (base, f"{base}small/", f"{base}large/", f"{base}original/", f"{base}set-aside/", f"{base}erase/")
    expected = {
        Role.FRONT_DESK: (200, 200, 403, 403, 403, 403),
        Role.DESK_LEAD: (200, 200, 200, 200, 403, 403),
        Role.ASSISTANT: (200, 200, 200, 200, 200, 403),
        Role.KEEPER: (403,) * 6,
    }
    for role, statuses in expected.items():
        client = client_of(person(role))
        for url, status in zip(urls, statuses, strict=True):
            with refusals() as noted:
                assert client.get(url).status_code == status, (role, url)
            assert len(noted) == (status == 403)
    desk = client_of(person(Role.FRONT_DESK, username="desk")).get(base).content.decode()
    assert f"{base}small/" in desk
    assert f"{base}large/" not in desk
    assert f"{base}original/" not in desk
    theirs = client_of(outsider)
    assert {theirs.get(url).status_code for url in urls} == {404}
    assert client_of(None).get(f"{base}small/").status_code == 302


def test_nobody_sees_what_was_set_aside(patient: Patient, owner: Staff) -> None:
    picture, client = keep(patient, owner), client_of(owner)
    base = f"/patients/pictures/{picture.public_id}/"
    done = client.post(f"{base}set-aside/", {"reason": "Lies in the wrong file."})
    assert done["Location"] == f"/patients/{patient.public_id}/pictures/"
    assert [client.get(f"{base}{size}/").status_code for size in ("small", "large", "original")] == [404] * 3
    page = client.get(base).content.decode()
    assert "Lies in the wrong file." in page
    assert "<img" not in page
    assert "<img" not in client.get(done["Location"]).content.decode()
    client.post(f"{base}erase/", {"reason": "Request of 1 March."})
    assert "Its bytes are erased" in client.get(base).content.decode()


def test_no_address_of_a_picture_says_whose_it_is(patient: Patient, owner: Staff) -> None:
    picture = keep(patient, owner)
    page = client_of(owner).get(f"/patients/{patient.public_id}/pictures/").content.decode()
    addresses = [part.split('"')[0] for part in page.split('src="')[1:]]
    assert f"/patients/pictures/{picture.public_id}/small/" in addresses
    assert not [address for address in addresses if "anselm" in address.casefold() or SECRET.casefold() in address]


def test_the_page_of_pictures_asks_the_same_of_the_database_however_many(patient: Patient, owner: Staff) -> None:
    client, url = client_of(owner), f"/patients/{patient.public_id}/pictures/"
    picture = keep(patient, owner)
    record_picture(patient=patient, facts=reading(), file=picture, actor=owner, now=NOW)
    few = queries_of(client, url)
    for shade in range(5):
        another = keep(patient, owner, dots(shade))
        record_picture(patient=patient, facts=reading(), file=another, actor=owner, now=NOW)
    set_aside(picture=picture, reason="Of no use.", actor=owner, now=NOW)
    assert queries_of(client, url) == few


def test_every_kind_of_the_form_is_kept_in_its_own_way() -> None:
    from planner.patients.picture_forms import KINDS

    assert {key for key, _words in KINDS} == set(pictures.XRAYS + pictures.PHOTOGRAPHS)
