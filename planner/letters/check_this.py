"""What a paper says of itself: from which data it was made, and how anybody can check that it is the real one.

Where the office has an address, a code to scan leads to its own page for that; else the paper says how to check by
hand.
"""

from dataclasses import dataclass
from urllib.parse import urlsplit

import segno
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from planner.letters.carried import WHOLE, Carried

ROOM = "verify/"
"""Below the office's address, where the page for checking is."""
_MODULE_MM = 0.45
"""Edge of one square of the code (common practice for print read by a telephone, no source)."""
_QUIET = 4
"""Empty squares around the code (ISO/IEC 18004)."""
_NONE = SafeString("")


@dataclass(frozen=True, slots=True)
class HowToCheck:
    """What the foot of every paper says about checking it."""

    sha256: str
    """Of the frozen data."""
    file: str
    """Name of the file that the paper carries."""
    whole: bool
    """Whether that file is the frozen data itself, so that its own hash must be the one printed."""
    url: str = ""
    """Address of the page about this very data; empty where the office has none."""
    page: str = ""
    """Where somebody without a camera types the number, without scheme."""
    code: SafeString = _NONE
    """The code to scan, as SVG with its text alternative."""


def address_of(base: str, sha256: str) -> str:
    """Address of the page about the data with this hash, below the office's ``base``."""
    return f"{base.rstrip('/')}/{ROOM}{sha256}/"


def how_to_check(base: str, sha256: str, carries: Carried) -> HowToCheck:
    """How a paper that carries ``carries`` is checked; ``base`` is the office's address, or empty."""
    whole = carries is WHOLE
    if not base:
        return HowToCheck(sha256, carries.name, whole)
    url = address_of(base, sha256)
    parts = urlsplit(base)
    page = f"{parts.netloc}{parts.path}".rstrip("/") + f"/{ROOM}"
    alternative = _("A code to scan. It leads to %(page)s and on to the number printed beside it.") % {"page": page}
    return HowToCheck(sha256, carries.name, whole, url, page, _code(url, alternative))


def _code(url: str, alternative: str) -> SafeString:
    # Error correction M: a fold or a stain is forgiven, and the code stays small (ISO/IEC 18004).
    code = segno.make_qr(url, error="m", boost_error=False)
    drawn = code.svg_inline(scale=_MODULE_MM, unit="mm", border=_QUIET, title=alternative, svgclass="", lineclass="")
    return SafeString(drawn)  # segno escapes the title
