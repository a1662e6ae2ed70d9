"""What a machine lacks is named in one list, and only what can be left out whole lets the tests begin."""

import pytest

from tools import need


@pytest.mark.parametrize(
    ("run", "test", "ci", "ended"),
    [
        ((), ("Chromium", "PostgreSQL"), "", 0),
        ((), ("Chromium", "PostgreSQL"), "true", 1),
        ((), ("Chromium", "qpdf"), "", 1),
        (("Pango",), ("Chromium",), "", 1),
        ((), (), "true", 0),
    ],
)
def test_what_is_missing(
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    run: tuple[str, ...],
    test: tuple[str, ...],
    ci: str,
    ended: int,
) -> None:
    monkeypatch.setattr(need.os, "geteuid", lambda: 1000)  # nobody who could install anything
    monkeypatch.setenv("CI", ci)
    for name, missing in (("RUN", run), ("TEST", test)):
        items = [(item[0], lambda there=item[0] not in missing: there, *item[2:]) for item in getattr(need, name)]
        monkeypatch.setattr(need, name, items)
    assert need.main("test") == ended
    told = capsys.readouterr().err
    assert [name for name in run + test if f"  {name}\n" not in told] == []
    assert ("named at the end as not run" in told) is (ended == 0 and bool(test))


def test_only_what_the_tests_name_at_their_end_may_be_left_out() -> None:
    assert set(need.LEFT_OUT) <= {item[0] for item in need.TEST}
