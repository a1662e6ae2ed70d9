"""One-time codes and password hashes against published numbers, and what is sealed at rest."""

from datetime import UTC, datetime

import pytest
from argon2.low_level import Type, core, ffi, lib
from cryptography.hazmat.primitives.hashes import SHA1, SHA256, SHA512, HashAlgorithm
from cryptography.hazmat.primitives.kdf.argon2 import Argon2id
from cryptography.hazmat.primitives.twofactor.totp import TOTP
from django.contrib.auth.hashers import Argon2PasswordHasher
from django.core.exceptions import ValidationError
from django.utils.encoding import force_bytes

from planner.practice import one_time
from planner.practice.password_checks import LONGEST, NotTooLong, SoonGuessed
from planner.practice.sealing import CannotOpen, seal, unseal

SECRET = b"12345678901234567890"
"""The secret of RFC 4226, appendix D, and of RFC 6238, appendix B."""


@pytest.mark.parametrize(
    ("counter", "code"),
    list(enumerate("755224 287082 359152 969429 338314 254676 287922 162583 399871 520489".split())),  # noqa: SIM905
)
def test_codes_by_counter_are_those_of_rfc_4226_appendix_d(counter: int, code: str) -> None:
    assert one_time.code_at(SECRET, counter) == code


@pytest.mark.parametrize(
    ("seconds", "sha1", "sha256", "sha512"),
    [
        (59, "94287082", "46119246", "90693936"),
        (1111111109, "07081804", "68084774", "25091201"),
        (1111111111, "14050471", "67062674", "99943326"),
        (1234567890, "89005924", "91819424", "93441116"),
        (2000000000, "69279037", "90698825", "38618901"),
        (20000000000, "65353130", "77737706", "47863826"),
    ],
)
def test_codes_by_clock_are_those_of_rfc_6238_appendix_b(seconds: int, sha1: str, sha256: str, sha512: str) -> None:
    now = datetime.fromtimestamp(seconds, UTC)
    # Six digits are the last six of the eight that the appendix prints.
    assert one_time.code_at(SECRET, one_time.step_of(now)) == sha1[-6:]
    assert one_time.matching_step(SECRET, sha1[-6:], now, after=0) == seconds // 30
    # And the library as a whole, with the longer secrets of the errata.
    kinds: list[tuple[HashAlgorithm, int, str]] = [(SHA1(), 20, sha1), (SHA256(), 32, sha256), (SHA512(), 64, sha512)]
    for kind, length, code in kinds:
        secret = (b"1234567890" * 7)[:length]
        assert TOTP(secret, 8, kind, 30).generate(seconds) == code.encode()  # type: ignore[arg-type]


def test_a_code_is_taken_once_and_near_its_time_only() -> None:
    now = datetime(2026, 3, 2, 15, 0, 10, tzinfo=UTC)
    step = one_time.step_of(now)
    for off, taken in ((-2, False), (-1, True), (0, True), (1, True), (2, False)):
        code = one_time.code_at(SECRET, step + off)
        assert one_time.matching_step(SECRET, code, now, after=0) == (step + off if taken else None)
    code = one_time.code_at(SECRET, step)
    assert one_time.matching_step(SECRET, code, now, after=step) is None
    assert one_time.matching_step(SECRET, code, now, after=step + 1) is None
    assert one_time.matching_step(SECRET, f" {code[:3]} {code[3:]} ", now, after=step - 1) == step
    for wrong in ("", "12345", f"{code}0", "abcdef", "١٢٣٤٥٦", code[:-1] + "\x00"):
        assert one_time.matching_step(SECRET, wrong, now, after=0) is None


def test_what_an_app_reads_from_the_picture() -> None:
    address = one_time.setting_up(SECRET, name="imke", office="Tern Row & Sons")
    # RFC 4648: the secret of the appendix in base 32; the rest is what such apps read (common practice, no source).
    assert "secret=GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ" in address
    assert address.startswith("otpauth://totp/Tern%20Row%20%26%20Sons:imke?")
    assert one_time.in_groups(SECRET) == "GEZD GNBV GY3T QOJQ GEZD GNBV GY3T QOJQ"
    drawn = one_time.picture(address, "A <code>")
    assert "<title>A &lt;code&gt;</title>" in drawn
    for forbidden in ("style", "<script", "href"):
        assert forbidden not in drawn


def test_recovery_codes_are_read_as_they_are_copied() -> None:
    sheet = one_time.new_recovery_codes()
    assert [code.number for code in sheet] == list(range(1, 9))
    assert len({code.signs for code in sheet}) == 8
    third = sheet[2]
    for typed in (third.shown, third.shown.upper(), third.shown.replace("-", " "), f"3{third.signs}"):
        assert one_time.read_recovery_code(typed) == third
    for wrong in (
        "",
        "123456",
        f"9{third.signs}",
        f"0{third.signs}",
        third.signs,
        f"3{third.signs}a",
        "3-1l0o-aaaa-aaaa",
    ):
        assert one_time.read_recovery_code(wrong) is None


def test_what_is_sealed_opens_with_the_same_secret_only(settings: object) -> None:
    sealed = seal(SECRET)
    assert SECRET.decode() not in sealed
    assert seal(SECRET) != sealed, "twice the same is not told"
    assert unseal(sealed) == SECRET
    before = settings.SECRET_KEY  # type: ignore[attr-defined]
    settings.SECRET_KEY = "another" * 10  # type: ignore[attr-defined]
    with pytest.raises(CannotOpen):
        unseal(sealed)
    settings.SECRET_KEY_FALLBACKS = [before]  # type: ignore[attr-defined]
    assert unseal(sealed) == SECRET
    with pytest.raises(CannotOpen):
        unseal(sealed[:-4] + "AAA=")


# Hashes of passwords

RFC_9106 = {
    "password": b"\x01" * 32, "salt": b"\x02" * 16, "secret": b"\x03" * 8, "ad": b"\x04" * 12,
    "tag": "0d640df58d78766c08c037a34a8b53c9d01ef0452d75b65eb52520e96b01e659",
}  # fmt: skip
"""RFC 9106, 5.3: Argon2id, 32 KiB, three passes, four lanes."""


def test_the_hash_of_passwords_is_that_of_rfc_9106() -> None:
    vector = {name: value for name, value in RFC_9106.items() if isinstance(value, bytes)}
    kept = {name: ffi.new("uint8_t[]", value) for name, value in vector.items()}
    tag = ffi.new("uint8_t[]", 32)
    context = ffi.new(
        "argon2_context *",
        {
            "out": tag, "outlen": 32, "version": 0x13, "t_cost": 3, "m_cost": 32, "lanes": 4, "threads": 4,
            "pwd": kept["password"], "pwdlen": 32, "salt": kept["salt"], "saltlen": 16,
            "secret": kept["secret"], "secretlen": 8, "ad": kept["ad"], "adlen": 12,
            "allocate_cbk": ffi.NULL, "free_cbk": ffi.NULL, "flags": lib.ARGON2_DEFAULT_FLAGS,
        },
    )  # fmt: skip
    assert core(context, Type.ID.value) == lib.ARGON2_OK
    assert bytes(ffi.buffer(tag)).hex() == RFC_9106["tag"]


def test_a_stored_password_is_what_another_library_computes() -> None:
    hasher = Argon2PasswordHasher()
    found = hasher.decode(hasher.encode("correct horse battery staple", hasher.salt()))
    assert (found["variety"], found["version"]) == ("argon2id", 19)
    # OWASP ASVS 5.0, appendix C: Argon2id with at least 19 MiB at two passes (or 46 MiB at one).
    assert found["time_cost"] >= 2
    assert found["memory_cost"] >= 19 * 1024
    other = Argon2id(
        salt=found["salt"].encode(),
        length=len(_unpadded(found["hash"])),
        iterations=found["time_cost"],
        lanes=found["parallelism"],
        memory_cost=found["memory_cost"],
    )
    assert other.derive(b"correct horse battery staple") == _unpadded(found["hash"])


def _unpadded(text: str) -> bytes:
    import base64

    return base64.b64decode(force_bytes(text) + b"=" * (-len(text) % 4))


# What a password must not be


@pytest.mark.parametrize(
    "password",
    [
        "password1234",
        "Password2026!",
        "qwertyuiop12",
        "iloveyou1987",
        "aaaaaaaaaaaaaaaa",
        "123456789012",
        "leastways2026",
    ],
)
def test_what_is_guessed_soon_is_refused(password: str) -> None:
    with pytest.raises(ValidationError, match="guessed soon"):
        SoonGuessed().validate(password)


@pytest.mark.parametrize(
    "password", ["correct horse battery staple", "paraguas lento violeta", "correct horse battery staple " * 6]
)
def test_what_is_not_is_taken_whatever_signs_it_is_made_of(password: str) -> None:
    SoonGuessed().validate(password)
    NotTooLong().validate(password)


def test_a_password_may_be_long_but_not_without_end() -> None:
    NotTooLong().validate("ä" * LONGEST)
    with pytest.raises(ValidationError, match="at most 200"):
        NotTooLong().validate("a" * (LONGEST + 1))
