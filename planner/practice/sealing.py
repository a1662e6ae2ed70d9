"""Secrets at rest: sealed with a key that follows from the installation's own secret.

What it protects: a copy of the database, or a backup of it, by itself. Whoever also has the secret (``secret_key`` in
LEASTWAYS_VAR, or LEASTWAYS_SECRET_KEY), or has the running machine, can open what is sealed. With another secret
nothing that was sealed can be opened: people then set up their codes anew.
"""

import base64

from cryptography.fernet import Fernet, InvalidToken, MultiFernet
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from django.conf import settings
from django.utils.encoding import force_bytes

# Ties the key to this one use: the same secret also signs other things.
_USE = b"leastways: secrets of one-time codes"


class CannotOpen(Exception):
    """What was sealed was sealed with another secret, or was changed."""


def seal(secret: bytes) -> str:
    """``secret`` as text that tells nothing without the installation's own secret."""
    return _box().encrypt(secret).decode()


def unseal(sealed: str) -> bytes:
    """What was sealed. Raises CannotOpen."""
    try:
        return _box().decrypt(sealed.encode())
    except InvalidToken:
        raise CannotOpen from None


def _box() -> MultiFernet:
    # The first seals; those before it still open, so that the installation's secret can be changed.
    return MultiFernet([Fernet(_key(secret)) for secret in (settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS)])


def _key(secret: str | bytes) -> bytes:
    """RFC 5869: one key of 32 bytes for one use, from a secret that is random already."""
    return base64.urlsafe_b64encode(HKDF(SHA256(), 32, salt=None, info=_USE).derive(force_bytes(secret)))
