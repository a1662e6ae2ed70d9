#!/usr/bin/env python3
"""Bring the catalogues of messages up to date with the code: ``locale/LANGUAGE/LC_MESSAGES/django.po`` and ``.mo``.

Finds every text that a patient reads on a page or paper, adds what is new to each catalogue, takes out what is gone,
keeps what is translated, and compiles. Only Babel is needed, which the program needs anyhow; no gettext tools.

    python tools/write_messages.py           write, and name what has no translation
    python tools/write_messages.py --check   write nothing; exit status 1 when anything is out of date or untranslated
"""

import argparse
import io
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from fnmatch import fnmatch
from pathlib import Path

from babel.messages import Catalog, Message
from babel.messages.extract import extract
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po
from django.utils.translation.template import templatize

ROOT = Path(__file__).resolve().parents[1]
LOCALE = ROOT / "locale"
FOR_PATIENTS = (
    "planner/letters/*.py",
    "templates/letters/*.html",
    "planner/practice/fields.py",
    "planner/records/readme.py",
    "planner/records/tables.py",
    "planner/story/opened.py",
    "templates/story/frame_paper.html",
    "templates/story/opened_paper.html",
    "templates/base.html",
    "templates/practice/part_screen.html",
    "templates/parts/*.html",
    "templates/practice/handed*.html",
)
"""Where texts that a patient reads stand."""
FOR_THE_OFFICE = (
    "planner/letters/consent_forms.py",
    "planner/letters/consent_shown.py",
    "planner/letters/consent_signing.py",
    "planner/letters/consent_standing.py",
    "planner/letters/consent_views.py",
    "planner/letters/consents.py",
    "planner/letters/forms.py",
    "planner/letters/handed_forms.py",
    "planner/letters/ortho_said.py",
    "planner/letters/reading_limit.py",
    "planner/letters/reading_views.py",
    "planner/letters/showing_views.py",
    "planner/letters/sign_views.py",
    "planner/letters/step_sheet*.py",
    "planner/letters/others_views.py",
    "planner/letters/payer_request_said.py",
    "planner/letters/taking_over*.py",
    "planner/letters/views.py",
    "planner/letters/wax_up.py",
    "planner/letters/withdrawing.py",
    "templates/letters/agree*.html",
    "templates/letters/consent.html",
    "templates/letters/consent_act.html",
    "templates/letters/others_agree.html",
    "templates/letters/consents*.html",
    "templates/letters/document_page.html",
    "templates/letters/hand_over.html",
    "templates/letters/ortho_request.html",
    "templates/letters/papers_page*.html",
    "templates/letters/payer_request.html",
    "templates/letters/reading_page.html",
    "templates/letters/show.html",
    "templates/letters/step_sheet.html",
    "templates/letters/take_over.html",
    "templates/letters/wax_up.html",
)
"""What of it only the office or its workshop reads: in English."""
UNDATED = datetime(2026, 1, 1, tzinfo=UTC)
FUNCTIONS = {
    "gettext": None,
    "gettext_lazy": None,
    "_": None,
    "ngettext": (1, 2),
    "pgettext": ((1, "c"), 2),
    "npgettext": ((1, "c"), 2, 3),
}


def messages(root: Path = ROOT) -> Iterator[tuple[str, int, str | tuple[str, ...], str | None]]:
    """Every text in the code that is for a patient: file, line, text (singular and plural), context."""
    for pattern in FOR_PATIENTS:
        for path in sorted(root.glob(pattern)):
            name = path.relative_to(root).as_posix()
            if any(fnmatch(name, office) for office in FOR_THE_OFFICE):
                continue
            source = path.read_text(encoding="utf-8")
            if path.suffix == ".html":
                # What is no text comes back as a row of letters; its indents mean nothing.
                source = "\n".join(line.lstrip() for line in templatize(source, origin=name).splitlines())
            found = extract("python", io.BytesIO(source.encode()), FUNCTIONS, options={"encoding": "utf-8"})
            for line, text, _comments, context in found:
                yield name, line, text, context


def catalogue(language: str, root: Path = ROOT) -> Catalog:
    """The catalogue of ``language`` with exactly the texts that the code has now, translated as far as it was."""
    path = po_path(language)
    known = read_po(io.BytesIO(path.read_bytes()), locale=language) if path.exists() else Catalog(locale=language)
    fresh = Catalog(locale=language, project="Leastways", charset="utf-8", fuzzy=False)
    fresh.header_comment = known.header_comment
    for name, _line, text, context in messages(root):
        before = known.get(text if isinstance(text, str) else text[0], context)
        kept = before.string if before is not None and before.id == text else None
        fresh.add(
            text, kept or ("" if isinstance(text, str) else ("",) * fresh.num_plurals), [(name, 0)], context=context
        )
    fresh.last_translator, fresh.language_team = known.last_translator, known.language_team
    # Two runs write the same bytes; when a text changed is told by the history of the file.
    fresh.creation_date = fresh.revision_date = UNDATED
    return fresh


def untranslated(found: Catalog) -> list[str]:
    """The texts of a catalogue that have no translation."""
    return [str(one.id) for one in found if one.id and not _said(one)]


def _said(message: Message) -> bool:
    texts = message.string
    return bool(texts) if texts is None or isinstance(texts, str) else all(texts)


def po_path(language: str) -> Path:
    """Where the catalogue of ``language`` stands."""
    return LOCALE / language / "LC_MESSAGES" / "django.po"


def po_bytes(found: Catalog) -> bytes:
    """A catalogue as it is kept: in the order of the code, files named without lines, so that little changes."""
    out = io.BytesIO()
    write_po(out, found, width=0, include_lineno=False, omit_header=False, sort_by_file=False)
    return out.getvalue()


def mo_bytes(found: Catalog) -> bytes:
    """A catalogue as the program reads it."""
    out = io.BytesIO()
    write_mo(out, found)
    return out.getvalue()


def main() -> int:
    """Write every catalogue, or with ``--check`` say what is out of date."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--check", action="store_true")
    check = parser.parse_args().check
    wrong = 0
    for folder in sorted(LOCALE.glob("*/LC_MESSAGES")):
        language = folder.parent.name
        found = catalogue(language)
        for path, content in ((po_path(language), po_bytes(found)), (folder / "django.mo", mo_bytes(found))):
            if not path.exists() or path.read_bytes() != content:
                if check:
                    print(f"{path.relative_to(ROOT)} is out of date: run python tools/write_messages.py")
                    wrong = 1
                else:
                    path.write_bytes(content)
        for text in untranslated(found):
            print(f"{language}: not translated: {text}")
            wrong = 1
    return wrong


if __name__ == "__main__":
    sys.exit(main())
