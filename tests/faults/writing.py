"""Several people who save and sign at once, what they were told, and whether the database says the same afterwards."""

import itertools
import threading
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from tests.faults.serving import PATIENCE, Browser, GoneError, Server
from tests.support import PASSWORD

LICENCE = "D-4471"
SAVED, SIGNED = "saved", "signed"


@dataclass
class Told:
    """What people were told, and what they never got an answer to; written to by several threads."""

    saved: dict[str, list[str]] = field(default_factory=dict)
    """By case: notes whose saving was answered with success, in order."""
    unanswered: dict[str, list[str]] = field(default_factory=dict)
    """By case: notes to which no answer came."""
    signed: set[str] = field(default_factory=set)
    unsigned: int = 0
    """Signings to which no answer came."""
    refused: int = 0
    """Requests that were told that the database is away or full."""
    odd: list[str] = field(default_factory=list)
    """Answers that are neither success nor what a fault explains."""
    requests: Counter[str] = field(default_factory=Counter)

    @property
    def successes(self) -> int:
        """So many acts were answered with success."""
        return sum(map(len, self.saved.values())) + len(self.signed)

    @property
    def missed(self) -> int:
        """So many acts were asked for and not answered with success."""
        return sum(map(len, self.unanswered.values())) + self.unsigned

    def at_this_moment(self) -> "Told":
        """What people were told so far, kept while they are told more."""
        saved = {case: list(words) for case, words in list(self.saved.items())}
        missed = {case: list(words) for case, words in list(self.unanswered.items())}
        return replace(self, saved=saved, unanswered=missed, signed=set(self.signed), odd=list(self.odd))

    def as_of(self, before: "Told") -> "Told":
        """What may be said of a copy begun at ``before``: all of then is in it, whatever was asked later may be."""
        later = {
            case: [*(word for word in words if word not in before.saved.get(case, ())), *self.unanswered[case]]
            for case, words in self.saved.items()
        }
        missed = {case: sorted(words, key=_number) for case, words in later.items()}
        return replace(before, unanswered=missed, unsigned=self.unsigned, refused=self.refused, odd=self.odd)


@dataclass
class Opened:
    """A form that somebody opened and typed a note into."""

    browser: Browser
    case: str
    values: dict[str, str]

    @property
    def url(self) -> str:
        """Where it was opened, and is sent to."""
        return f"/plans/{self.case}/about/"


class Writers:
    """Threads that each save in a case of their own, and sign letters that no other signs."""

    def __init__(self, server: Server, office: dict[str, Any], told: Told, *, down_says: Sequence[int] = ()) -> None:
        self.server, self.office, self.told = server, office, told
        self.saving, self.signing = 0, 0
        """So many are waiting for the answer to either, about."""
        self.down_says = down_says
        """Statuses that only say that the database is away, while it is."""
        self.end = threading.Event()
        self.threads: list[threading.Thread] = []

    def start(self) -> None:
        """One thread for each case; letters are dealt out among them."""
        cases, consents = list(self.office["cases"]), self.office["consents"]
        for number, case in enumerate(cases):
            mine = consents[number :: len(cases)]
            thread = threading.Thread(target=self._work, args=(case, mine), daemon=True)
            self.threads.append(thread)
            thread.start()

    def stop(self) -> None:
        """Let everybody end after the request they are at."""
        self.end.set()
        for thread in self.threads:
            thread.join(PATIENCE * 3)
            assert not thread.is_alive(), "somebody waits for ever"

    def _work(self, case: str, letters: list[dict[str, str]]) -> None:
        browser, begun, left = Browser(self.server.port), False, list(letters)
        for number in itertools.count():
            if self.end.is_set():
                return
            try:
                if not begun:
                    browser.sign_in(self.down_says)
                    begun = True
                self._save(browser, case)
                if left and number % 4 == 3:
                    self._sign(browser, left[0])
                    left.pop(0)
            except GoneError:
                begun = False
                if self.end.wait(0.1):
                    return
            except Exception as error:  # told in the thread that started all, which fails by it
                self.told.odd.append(f"{type(error).__name__}: {str(error)[:400]}")
                return

    def open(self, case: str) -> Opened:
        """A further person signs in, opens the form of ``case`` and types a note."""
        browser = Browser(self.server.port)
        browser.sign_in(self.down_says)
        return self._open(browser, case)

    def send(self, opened: Opened) -> bool:
        """Whether it was saved; where not, ``opened`` is the form that the answer holds, with what was typed."""
        missed, word = self.told.unanswered[opened.case], opened.values["notes"]
        missed.append(word)
        answer = opened.browser.post(opened.url, opened.values)
        if answer.status == 302:
            missed.remove(word)
            self.told.saved[opened.case].append(word)
            return True
        if answer.status in self.down_says and "Not saved, try again" in answer.text:
            opened.values = _form(answer, opened.url)
        if opened.values["notes"] != word or answer.status not in self.down_says:
            self.told.odd.append(f"{opened.url}: {answer.status} {answer.text[:300]}")
        return False

    def _open(self, browser: Browser, case: str) -> Opened:
        opened = Opened(browser, case, {})
        opened.values = _form(self._asked(lambda: browser.get(opened.url), f"get {opened.url}"), opened.url)
        before = self.told.saved.setdefault(case, [])
        missed = self.told.unanswered.setdefault(case, [])
        opened.values["notes"] = f"note {len(before) + len(missed)} of {case}"
        return opened

    def _save(self, browser: Browser, case: str) -> None:
        opened = self._open(browser, case)
        url, missed, word = opened.url, self.told.unanswered[case], opened.values["notes"]
        self.saving += 1
        try:
            answer = self._asked(lambda: browser.post(url, opened.values), f"post {url}")
        except GoneError:
            missed.append(word)
            raise
        finally:
            self.saving -= 1
        if answer.status == 302:
            self.told.saved[case].append(word)
            return
        missed.append(word)
        self.told.odd.append(f"{url}: {answer.status} {answer.text[:300]}")

    def _sign(self, browser: Browser, letter: dict[str, str]) -> None:
        url = f"/letters/consent/{letter['consent']}/sign/"
        values = {
            "letter": letter["letter"], "basis": "self", "signer": letter["name"], "typed": letter["name"],
            "id_seen": "known in person", "clinician": self.office["dentist"], "talk_on": self.office["day"],
            "licence": LICENCE, "read": "on paper, before this day", "choice": "yes", "copy": "on paper, by hand",
            "understood": "The tip of one tooth comes off, three get wider.", "electronic": "yes",
            "method": "typed name", "tick_photos": "yes", "password_again": PASSWORD,
        }  # fmt: skip
        self.signing += 1
        try:
            answer = self._asked(lambda: browser.post(url, values), f"post {url}")
        except GoneError:
            self.told.unsigned += 1
            raise
        finally:
            self.signing -= 1
        # Led away: signed now, or before an answer that never came.
        if answer.status == 302 and answer.leads.endswith(f"/consent/{letter['consent']}/"):
            self.told.signed.add(letter["consent"])
        else:
            self.told.odd.append(f"{url}: {answer.status} {_words(answer.text)}")

    def _asked(self, ask: Callable[[], Any], what: str) -> Any:
        answer = ask()
        self.told.requests[what.split()[0]] += 1
        if answer.status in self.down_says:
            self.told.refused += 1
            assert "Not saved" in answer.text or what.startswith("get"), f"{what}: {answer.text[:300]}"
            raise GoneError(f"{what}: {answer.status}")
        return answer


def _form(page: Any, url: str) -> dict[str, str]:
    from tests.trust.filling import forms_of

    for form in forms_of(page.text, url):
        if "notes" in form.values:
            return {name: values[-1] for name, values in form.values.items() if values}
    raise AssertionError(f"{url} answered {page.status} without its form: {page.text[:300]}")


def _words(markup: str) -> str:
    import lxml.html

    found = lxml.html.document_fromstring(markup).xpath("//*[contains(@class, 'error') or contains(@class, 'alert')]")
    return " ".join(" ".join(one.text_content().split()) for one in found)[:400] or markup[:300]


def holds(found: dict[str, Any], office: dict[str, Any], told: Told) -> list[str]:
    """Every way in which what is in the database is otherwise than people were told, or half done."""
    wrong = [*found["faults"], *(f"odd: {words}" for words in told.odd)]
    for case, words in told.saved.items():
        row, missed = found["cases"][case], told.unanswered.get(case, [])
        written = [entry for entry in row["entries"] if entry]
        if row["version"] != office["cases"][case] + len(row["entries"]):
            wrong.append(f"case {case} is at version {row['version']} with {len(row['entries'])} entries of saving")
        for word in words:
            if sum(f'"{word}"' in entry.partition('"before"')[0] for entry in written) != 1:
                wrong.append(f'"{word}" was answered with success, and is not once in the record')
        if row["entries"] and f'"{row["notes"]}"' not in written[-1]:
            wrong.append(f'case {case} says "{row["notes"]}", its last entry does not')
        last = words[-1:] + [word for word in missed if not words or _number(word) > _number(words[-1])]
        if (words or row["entries"]) and row["notes"] not in last:
            wrong.append(f'case {case} says "{row["notes"]}", not {last}')
        if len(row["entries"]) > len(words) + len(missed):
            wrong.append(f"case {case} was saved more often than anybody asked")
    signatures = 0
    for consent, row in found["consents"].items():
        whole = {"state": "signed"} | dict.fromkeys(
            ("signatures", "countersigned", "copies", "entries", "copy entries"), 1
        )
        nothing = {"state": "letter handed"} | dict.fromkeys(whole.keys() - {"state"}, 0)
        signatures += row["signatures"]
        if row != whole and (row != nothing or consent in told.signed):
            wrong.append(f"consent {consent}, told signed: {consent in told.signed}, holds {row}")
    if not found["copies"] == found["signatures"] == found["entries"]["sign"] == signatures:
        wrong.append(f"signatures, copies and entries differ: {found['copies']}, {found['signatures']}, {signatures}")
    return wrong


def _number(word: str) -> int:
    return int(word.split()[1])
