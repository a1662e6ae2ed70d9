"""One-time codes as RFC 6238 makes them from a shared secret and the clock, and recovery codes to keep on paper.

Six digits, thirty seconds, SHA-1: what every app for such codes takes. Nothing here is stored.
"""

import base64
import re
import secrets
from dataclasses import dataclass
from datetime import datetime

import segno
from cryptography.hazmat.primitives.hashes import SHA1
from cryptography.hazmat.primitives.twofactor.hotp import HOTP
from cryptography.hazmat.primitives.twofactor.totp import TOTP
from django.utils.crypto import constant_time_compare
from django.utils.safestring import SafeString

STEP_SECONDS = 30
"""RFC 6238, 5.2."""
DIGITS = 6
_SECRET_BYTES = 20
"""RFC 4226, 4, R6: 160 bits."""
_DRIFT = 1
"""Steps before and after the present one that are taken too: a telephone's clock is never quite right (RFC 6238, 6)."""
RECOVERY_CODES = 8
# No sign that is mistaken for another when it is copied from paper.
_SIGNS = "abcdefghjkmnpqrstuvwxyz23456789"
_RECOVERY_SIGNS = 12


def new_secret() -> bytes:
    """A random secret to be shared between this program and one person's app."""
    return secrets.token_bytes(_SECRET_BYTES)


def in_groups(secret: bytes) -> str:
    """The secret as it is typed into an app by hand: base 32 in groups of four."""
    text = base64.b32encode(secret).decode().rstrip("=")
    return " ".join(text[at : at + 4] for at in range(0, len(text), 4))


def step_of(now: datetime) -> int:
    """The number of the thirty seconds that ``now`` lies in."""
    return int(now.timestamp()) // STEP_SECONDS


def code_at(secret: bytes, step: int) -> str:
    """The code of one step: six digits."""
    return HOTP(secret, DIGITS, SHA1()).generate(step).decode()  # noqa: S303 - the standard's own


def matching_step(secret: bytes, typed: str, now: datetime, *, after: int) -> int | None:
    """The step whose code was typed, if it is near ``now`` and later than ``after``, the last one that was used."""
    digits = re.sub(r"\s", "", typed)
    if not re.fullmatch(rf"[0-9]{{{DIGITS}}}", digits):
        return None
    present = step_of(now)
    found = None
    for step in range(present - _DRIFT, present + _DRIFT + 1):  # all of them, so that the time taken tells nothing
        if constant_time_compare(code_at(secret, step), digits) and step > after and found is None:
            found = step
    return found


def setting_up(secret: bytes, *, name: str, office: str) -> str:
    """The address that an app reads from a picture: whose code it is, and the secret."""
    return TOTP(secret, DIGITS, SHA1(), STEP_SECONDS).get_provisioning_uri(name, office)  # noqa: S303


def picture(address: str, alternative: str) -> SafeString:
    """The address as a code to scan: SVG for the page, without a style or a script."""
    drawn = segno.make_qr(address, error="m").svg_inline(scale=4, border=4, title=alternative, omitsize=True)
    return SafeString(drawn)


# Recovery codes


@dataclass(frozen=True, slots=True)
class RecoveryText:
    """A recovery code in its two parts: which of the sheet it is, and the signs that are secret."""

    number: int
    signs: str

    @property
    def shown(self) -> str:
        """As printed: ``3-abcd-efgh-jkmn``."""
        groups = (self.signs[at : at + 4] for at in range(0, len(self.signs), 4))
        return "-".join((str(self.number), *groups))


def new_recovery_codes() -> tuple[RecoveryText, ...]:
    """A sheet of codes, each good for one sign-in (59 bits each)."""
    return tuple(
        RecoveryText(number, "".join(secrets.choice(_SIGNS) for _ in range(_RECOVERY_SIGNS)))
        for number in range(1, RECOVERY_CODES + 1)
    )


def read_recovery_code(typed: str) -> RecoveryText | None:
    """The recovery code that was typed, with or without its strokes; None for what cannot be one."""
    signs = re.sub(r"[\s-]", "", typed).lower()
    if not re.fullmatch(rf"[1-{RECOVERY_CODES}][{_SIGNS}]{{{_RECOVERY_SIGNS}}}", signs):
        return None
    return RecoveryText(int(signs[0]), signs[1:])
