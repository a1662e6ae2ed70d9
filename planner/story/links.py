"""Where the thing stands that an entry of the trail is about."""

from typing import Final

from django.apps import apps
from django.urls import reverse

_PAGES: Final = {
    "patients.patient": "patients:patient",
    "patients.examination": "patients:examination",
    "patients.picturefile": "patients:picture",
    "plans.case": "plans:case",
    "plans.estimate": "plans:estimate",
    "plans.acceptedplan": "plans:accepted",
    "letters.document": "letters:document",
    "letters.consent": "letters:consent",
    "visits.visit": "visits:visit",
    "visits.laboratorycase": "visits:case",
    "practice.staff": "practice:person",
}
_WORDS: Final = {
    "acceptedplan": "accepted plan",
    "chairnote": "chair note",
    "coverversion": "cover",
    "frozenplan": "frozen plan",
    "laboratorycase": "laboratory work",
    "legalproposal": "proposed setting",
    "payerplan": "payer's plan",
    "picturefile": "picture",
    "picturereading": "reading of a picture",
    "plancharge": "charge",
    "stepsheetcopy": "step sheet",
    "stocklot": "lot",
    "trailentry": "entry of the trail",
    "bookversion": "office book",
    "bookfile": "file for the office book",
    "emergencyopening": "emergency opening",
    "problemstep": "step about a problem",
    "countersignature": "countersignature",
}


def page_about(kind: str, public_id: str) -> str:
    """Address of the page of the thing; empty for what has none."""
    return reverse(_PAGES[kind], args=[public_id]) if kind in _PAGES and public_id else ""


def kind_words(kind: str) -> str:
    """What sort of thing it is, in words."""
    name = kind.rpartition(".")[2]
    if not name or name in _WORDS:
        return _WORDS.get(name, "")
    try:
        return str(apps.get_model(kind)._meta.verbose_name)
    except (LookupError, ValueError):
        return name
