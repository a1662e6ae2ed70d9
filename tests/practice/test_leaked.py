"""The list of leaked passwords an office may keep: found on the disk whatever its length, and never passed over."""

import hashlib
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.test import override_settings
from hypothesis import given
from hypothesis import strategies as st

from planner.practice.leaked import NotAList, holds, look
from planner.practice.password_checks import check_leaked_list


def _list(folder: Path, passwords: set[str], *, small: bool = False, end: str = "\n") -> Path:
    hashes = sorted(hashlib.sha1(word.encode()).hexdigest() for word in passwords)
    lines = [
        f"{found if small else found.upper()}{f':{7 * number}' * (number % 2)}" for number, found in enumerate(hashes)
    ]
    path = folder / "leaked.txt"
    path.write_bytes((end.join(lines) + end * bool(lines)).encode())
    return path


@given(st.integers(0, 60), st.integers(0, 10**6), st.booleans())
def test_it_finds_what_is_there_and_nothing_else(many: int, start: int, small: bool) -> None:
    there, others = {f"ä{start + n}" for n in range(many)}, {f"ä{start - n}" for n in range(1, 20)}
    with TemporaryDirectory() as folder:
        path = _list(Path(folder), there, small=small, end="\r\n" if small else "\n")
        assert all(holds(path, word) for word in there)
        assert not any(holds(path, word) for word in others)


def test_the_hash_is_that_of_fips_180(tmp_path: Path) -> None:
    """SHA-1 of "abc": NIST, FIPS 180-2, appendix A.1 (the example is in that edition)."""
    path = tmp_path / "one.txt"
    path.write_text("A9993E364706816ABA3E25717850C26C9CD0D89D:3\n")
    assert holds(path, "abc")
    assert not holds(path, "abd")


def test_a_password_on_the_list_is_taken_for_nobody(tmp_path: Path) -> None:
    word = "paraguas lento violeta"
    validate_password(word)
    with override_settings(LEAKED_PASSWORDS=_list(tmp_path, {word, "another", "third"})):
        with pytest.raises(ValidationError, match="stolen somewhere"):
            validate_password(word)
        validate_password(f"{word} y mar")


def test_no_password_is_taken_while_the_list_cannot_be_asked(tmp_path: Path) -> None:
    for path, words in ((tmp_path / "none.txt", None), (tmp_path / "page.txt", "<html>\n")):
        if words:
            path.write_text(words)
        with override_settings(LEAKED_PASSWORDS=path), pytest.raises(ValidationError, match="cannot be asked now"):
            validate_password("paraguas lento violeta")


def test_what_is_no_list_is_said_at_the_start(tmp_path: Path) -> None:
    path = _list(tmp_path, {"one", "two", "three"})
    assert look(path) == ""
    lines = path.read_text().splitlines()
    path.write_text("\n".join(reversed(lines)) + "\n")
    assert "do not ascend" in look(path)
    path.write_text("password\n")
    assert "byte 0" in look(path)
    with pytest.raises(NotAList):
        holds(path, "password")
    with override_settings(LEAKED_PASSWORDS=tmp_path / "none.txt"):
        (fault,) = check_leaked_list()
    assert "cannot be read" in fault.msg
    assert check_leaked_list() == []
