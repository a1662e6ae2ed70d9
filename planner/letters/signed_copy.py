"""The signed copy: the letter's own pages with a signature sheet behind them, and the letter itself inside, untouched.

The pages of the letter are taken over as they are stored; nothing of them is made again. The file carries the letter
byte for byte beside the text that was signed, so that both hashes printed on the sheet can be checked by anybody.
"""

import io
from typing import Any

import pikepdf
from django.template.loader import render_to_string
from django.utils import translation
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from pikepdf import AttachedFileSpec, Name, OutlineItem

from planner.letters.carried import WHOLE
from planner.letters.models import Document
from planner.letters.pdf import Job
from planner.letters.sheet import Kind
from planner.letters.wording import without_corners
from planner.practice.access import Act, Thing
from planner.rules.results import sha256

KEY = "signed-letter"
LETTER_INSIDE, WORDS_INSIDE = "letter.pdf", "signature.json"


def _never(_sheet: object) -> str:
    return _("A signed copy comes of signing, and of nothing else.")


SIGNED_COPY = Kind(
    KEY, gettext_lazy("Signed letter"), "letters/signature_sheet.html", lambda _sheet: {},
    made_by=(Act.RUN, Thing.LETTER), seen_by=(Act.VIEW, Thing.LETTER), carries=WHOLE, why_not=_never,
)  # fmt: skip


def sheet_job(letter: Document, context: dict[str, Any]) -> Job:
    """The signature sheet as a paper to be rendered, in the letter's own language and print size."""
    with translation.override(letter.language):
        html = render_to_string(
            SIGNED_COPY.template, {"language": letter.language, "points": letter.points} | context
        )  # fmt: skip
    return Job(without_corners(html), (), letter.paper)  # type: ignore[arg-type]


def signed_copy(letter: bytes, sheet: bytes, words: str) -> tuple[bytes, int]:
    """The letter with its sheet as one tagged file that carries ``letter`` and ``words``, and its number of pages."""
    with pikepdf.open(io.BytesIO(letter)) as pdf, pikepdf.open(io.BytesIO(sheet)) as more:
        first = len(pdf.pages)
        pdf.pages.extend(more.pages)
        _join_structure(pdf, more, first)
        with pdf.open_outline() as outline:
            outline.root.append(OutlineItem(_("Signature sheet"), first))
        for name, content, mime, about in (
            (LETTER_INSIDE, letter, "application/pdf", _("The letter that was signed, byte for byte")),
            (WORDS_INSIDE, words.encode(), "application/json", _("Everything stated at the signing")),
        ):
            spec = AttachedFileSpec(
                pdf, content, filename=name, mime_type=mime, description=about, relationship=Name.Source
            )
            pdf.attachments[name] = spec
            pdf.Root.AF.append(spec.obj)
        made = io.BytesIO()
        pdf.save(made, deterministic_id=True, fix_metadata_version=False)
        return made.getvalue(), len(pdf.pages)


def faults_of_copy(content: bytes, letter_sha256: str, words: str) -> tuple[str, ...]:
    """What is wrong with the file of a signed copy, one sentence each."""
    try:
        with pikepdf.open(io.BytesIO(content)) as pdf:
            inside = {name: pdf.attachments[name].get_file().read_bytes() for name in pdf.attachments}
    except pikepdf.PdfError as error:
        return (f"the file cannot be read ({error}).",)
    faults = []
    if sha256(inside.get(LETTER_INSIDE, b"")) != letter_sha256:
        faults.append("the letter inside is not the one that was signed.")
    if inside.get(WORDS_INSIDE) != words.encode():
        faults.append("what was stated at the signing is not what stands inside.")
    return tuple(faults)


def _join_structure(pdf: pikepdf.Pdf, more: pikepdf.Pdf, first: int) -> None:
    """Hang the structure of the added pages behind that of the letter, so that a reader hears them too."""
    tree = pdf.Root.StructTreeRoot
    numbers = tree.ParentTree.Nums
    shift = 1 + max(int(number) for number in list(numbers)[::2])
    for page in list(pdf.pages)[first:]:
        page.obj.StructParents = int(page.obj.StructParents) + shift
    # Pages were copied first, so that what points at them points at the copies.
    added = pdf.copy_foreign(more.Root.StructTreeRoot)
    whole, rest = tree.K, added.K
    whole = whole[0] if isinstance(whole, pikepdf.Array) else whole
    rest = rest[0] if isinstance(rest, pikepdf.Array) else rest
    for child in list(rest.K):
        child.P = whole
        whole.K.append(child)
    pairs = list(added.ParentTree.Nums)
    for number, parents in zip(pairs[::2], pairs[1::2], strict=True):
        numbers.append(int(number) + shift)
        numbers.append(parents)
