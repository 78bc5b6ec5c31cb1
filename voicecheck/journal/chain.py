"""The chain: canonical JSON, and the hash by which each line vouches for the one before.

Canonical means one spelling per value: keys sorted, no spaces, no escapes that UTF-8 does
not need. A line that is not in this spelling was not written by the writer, so not even
a change without meaning (a space, a key twice) goes unseen.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import Final

FIRST: Final = "0" * 64
"""`prev` of line 0, which has none before it."""


def canonical(value: object) -> bytes:
    """The value as canonical JSON in UTF-8, without a newline.

    Raises ValueError or TypeError for what JSON cannot hold: not-a-number, infinity,
    half a surrogate pair, keys that are not text, nesting without end.
    """
    try:
        text = json.dumps(
            _plain(value),
            sort_keys=True,
            separators=(",", ":"),
            ensure_ascii=False,
            allow_nan=False,
        )
    except RecursionError as error:
        raise ValueError("nested too deeply for the journal") from error
    return text.encode("utf-8")


def digest(data: bytes) -> str:
    """SHA-256 as 64 lower-case hexadecimal digits."""
    return hashlib.sha256(data).hexdigest()


def seal(line: Mapping[str, object]) -> str:
    """What a summary line says of itself.

    Every other line is vouched for by the `prev` of the next; the last has no next, so
    it carries the digest of its own canonical JSON without the field `seal`.
    """
    return digest(canonical({key: value for key, value in line.items() if key != "seal"}))


def _plain(value: object) -> object:
    """Mappings as dicts and sequences as lists; refuses keys that are not text."""
    if isinstance(value, Mapping):
        for key in value:
            if not isinstance(key, str):
                raise TypeError(f"a journal key must be text, not {key!r}")
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    return value
