"""What a form and the case file are sent by somebody who means nothing by it: made-up values from a seed."""

import json
import random
from collections.abc import Iterator, Sequence
from datetime import timedelta
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile

from planner.practice import again
from tests.support import PASSWORD, TODAY
from tests.trust.filling import MARKUP, Filled

BEYOND = str(2**63)
"""One more than a whole number of either database holds."""
WORDS: Sequence[str] = (
    "", " ", "\n\n", "\t", "0", "-1", "1", "7", "99", "1000000", BEYOND, "-" + BEYOND, "9" * 400, "2147483648", "32768",
    "1e5", "1e400", "NaN", "-Infinity", "inf", "0x10", "1_000", "1,5", "1.5", "1.005", ".5", "5.", "١٢", "½", "²",
    "0.00000000000000000000001", "999999999.99", "true", "on", "yes", "no", "None", "null", "[]", "{}", "[[[1,1,1]]]",
    '{"a":', "2026-03-02", "2026-02-30", "0000-00-00", "0001-01-01", "9999-12-31", "10000-01-01", "2026-3-2",
    "02/03/2026", "d-20", "25:61", "24:00", "9:30", "09:30:00.5", "-1:00", "a", "é", "\u0301", "\u202eabc", "\ufeff",
    "\u200b", "👩‍⚕️" * 50, "a\0b", "\0", "\x1b[2J", "\x85", "\ud7ff", "\U0010fffd", "a\r\nX-Planted: 1", "A" * 5000,
    "ß" * 201, MARKUP, "{{ 7|add:42000 }}", "{% now 'Y' %}", "%s%n%(x)s", "${7*6001}", "=1+1", "@SUM(1)", "' OR 1=1--",
    "../../etc/passwd", "C:\\x", "file:///etc/passwd", "//evil.example", "javascript:alert(1)", "11", "21", "1.1", "99",
    "12-22", "sha256", "0" * 64, "f" * 64, "x" * 12, "CAD", "en", "es", "xx", "dentist", "owner", "__class__",
)  # fmt: skip

ASKED = ("q", "after", "state", "on", "day", "page", "from", "to", "kind", "by", "sort", "next", "option", "seen")
"""Names that addresses know as parameters, some of them."""


class Junk:
    """An endless supply, the same for the same seed; ``ids``: of other rows, of this office and of another."""

    def __init__(self, seed: int, ids: Sequence[str]) -> None:
        self.random, self.ids = random.Random(seed), list(ids)

    def word(self) -> str:
        """One value."""
        chosen = self.random.random()
        if chosen < 0.1 and self.ids:
            return self.random.choice(self.ids)
        if chosen < 0.2:
            return str(TODAY + timedelta(days=self.random.randint(-40_000, 40_000)))
        if chosen < 0.3:
            return str(self.random.randint(-(10**6), 10**9))
        if chosen < 0.35:
            many = self.random.randint(1, 60)
            return "".join(chr(self.random.choice((self.random.randint(1, 126), 0x2019, 0x5D0))) for _ in range(many))
        return self.random.choice(WORDS)

    def values(self, form: Filled) -> dict[str, list[str]]:
        """What the form is sent: mostly as it stands, some of it junk, some left out, some twice, some unasked."""
        share = self.random.choice((0.1, 0.3, 0.6, 1.0))
        sent = {name: list(values) for name, values in form.values.items()}
        for name in list(sent):
            if self.random.random() > share:
                continue
            match self.random.randint(0, 9):
                case 0:
                    del sent[name]
                case 1:
                    sent[name] = [self.word() for _ in range(self.random.randint(2, 5))]
                case 2:
                    sent[self.word()[:50]] = [self.word()]
                case _:
                    sent[name] = [self.word()]
        # Without it, nothing that asks for the password again is ever reached, and after five misses nothing at all.
        return sent | {again.FIELD: [PASSWORD]}

    def query(self) -> dict[str, str]:
        """Parameters of an address."""
        return {name: self.word() for name in self.random.sample(ASKED, self.random.randint(1, 4))}

    def case_file(self, facts: Any) -> SimpleUploadedFile:
        """A case file with one to four of its places spoilt, or no such file at all."""
        if self.random.random() < 0.05:
            return SimpleUploadedFile("case.json", self.random.randbytes(self.random.randint(0, 400)))
        spoilt = json.loads(json.dumps(facts))
        for _ in range(self.random.randint(1, 4)):
            holder, key = self.random.choice(list(_places(spoilt)))
            match self.random.randint(0, 6):
                case 0:
                    del holder[key]
                case 1 if isinstance(holder, list):
                    holder.append(holder[key])
                case 1 | 2:
                    holder[key] = self.random.choice(([], {}, None, True, 0, -1, 2**70, 1e308, [None], {"x": 1}))
                case _:
                    holder[key] = self.word()
        text = json.dumps(spoilt, ensure_ascii=self.random.random() < 0.5)
        if self.random.random() < 0.1:
            cut = self.random.randint(0, len(text))
            text = text[:cut] + self.word() + text[cut + self.random.randint(0, 9) :]
        return SimpleUploadedFile("case.json", text.encode("utf-8", "surrogatepass"), content_type="application/json")


def _places(found: Any) -> Iterator[tuple[Any, Any]]:
    """Every place below ``found``, as what holds it and its key; the outermost one last and only when it is alone."""
    inside = list(found.items()) if isinstance(found, dict) else list(enumerate(found))
    for key, value in inside:
        yield found, key
        if isinstance(value, dict | list) and value:
            yield from _places(value)
