"""One way to turn plain data into bytes, so that a digest made today can be made again in ten years."""

import hashlib
import json
from typing import Any


def canonical_json(value: Any) -> bytes:
    """``value`` as UTF-8 JSON with sorted keys and no blanks.

    Raises ValueError for a float (it has no single decimal form that two programs agree on) or TypeError for what is
    not plain data.
    """
    _refuse_floats(value)
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False).encode()


def sha256(data: bytes) -> str:
    """SHA-256 of ``data`` as 64 hexadecimal digits."""
    return hashlib.sha256(data).hexdigest()


def _refuse_floats(value: Any) -> None:
    if isinstance(value, float):
        raise ValueError(f"{value!r} is a float: write decimals as text")
    if isinstance(value, dict):
        for key, part in value.items():
            if not isinstance(key, str):
                raise TypeError(f"the key {key!r} is not text")
            _refuse_floats(part)
    elif isinstance(value, (list, tuple)):
        for part in value:
            _refuse_floats(part)
