"""Signatures: Ed25519 (RFC 8032) over the head of a journal's chain, and over logbook entries.

The chain shows that a journal is as it was; a signature shows besides that it was closed on a
machine that holds the key. Without a key nothing is signed and nothing else changes.
"""

from __future__ import annotations

import base64
import json
import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from voicecheck.errors import VoicecheckError
from voicecheck.journal.chain import canonical
from voicecheck.journal.reader import Verification, open_plain
from voicecheck.journal.storage import make_private, sync_folder

if TYPE_CHECKING:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

SIGNATURE: Final = "journal.sig"
_JOURNAL: Final = b"voicecheck journal head\n"
_ENTRY: Final = b"voicecheck logbook entry\n"


class BadSignature(VoicecheckError):
    """A signature that is there and does not hold."""


@dataclass(frozen=True, slots=True)
class Signature:
    """A signature and the public key that it belongs to, both base64."""

    key: str
    value: str

    def as_text(self) -> str:
        """As it is filed."""
        return json.dumps({"algorithm": "Ed25519", "key": self.key, "signature": self.value})


class Signer:
    """Holds the private key of this machine."""

    def __init__(self, key: Ed25519PrivateKey) -> None:
        self._key = key
        self.public = base64.b64encode(key.public_key().public_bytes_raw()).decode()

    def sign_head(self, session: str, lines: int, head: str) -> str:
        """Sign the end of a journal; returns the text of `journal.sig`."""
        return self._sign(_statement(session, lines, head))

    def sign_entry(self, entry_hash: str) -> str:
        """Sign one entry of the logbook's chain."""
        return self._sign(_ENTRY + entry_hash.encode())

    def _sign(self, statement: bytes) -> str:
        value = base64.b64encode(self._key.sign(statement)).decode()
        return Signature(self.public, value).as_text()


def signer_from(path: Path) -> Signer | None:
    """The signer whose private key stands at `path`; None where there is no such file.

    Raises VoicecheckError for a file that others can read, or that holds no Ed25519 key.
    """
    if not path.exists() and not path.is_symlink():
        return None
    from cryptography.exceptions import UnsupportedAlgorithm
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    with open_plain(path) as file:
        if os.fstat(file.fileno()).st_mode & 0o077:
            raise VoicecheckError(f"{path}: others may read this private key; chmod 600 it")
        data = file.read()
    try:
        key = load_pem_private_key(data, None)
    except (ValueError, TypeError, UnsupportedAlgorithm) as error:
        raise VoicecheckError(
            f"{path}: not a private key in PEM form without a password; "
            "make one with `voicecheck log key`"
        ) from error
    if not isinstance(key, Ed25519PrivateKey):
        raise VoicecheckError(f"{path}: not an Ed25519 key; make one with `voicecheck log key`")
    return Signer(key)


def make_key(path: Path) -> Signer:
    """A new private key at `path`, readable by the user alone. Raises VoicecheckError."""
    from cryptography.hazmat.primitives import serialization as form
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    key = Ed25519PrivateKey.generate()
    data = key.private_bytes(form.Encoding.PEM, form.PrivateFormat.PKCS8, form.NoEncryption())
    try:
        make_private(path.parent)
        fd = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o600)
        with os.fdopen(fd, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(fd)
        sync_folder(path.parent)
    except OSError as error:
        raise VoicecheckError(
            f"{path}: the key cannot be written ({error.strerror}); an existing one is kept"
        ) from error
    return Signer(key)


def check_head(text: str, session: str, found: Verification) -> str:
    """The public key that signed this journal's end. Raises BadSignature."""
    return _check(text, _statement(session, found.lines, found.head), "journal")


def check_entry(text: str, entry_hash: str) -> str:
    """The public key that signed this entry. Raises BadSignature."""
    return _check(text, _ENTRY + entry_hash.encode(), "entry")


def _statement(session: str, lines: int, head: str) -> bytes:
    return _JOURNAL + canonical({"session": session, "lines": lines, "head": head})


def _check(text: str, statement: bytes, what: str) -> str:
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    try:
        stated = json.loads(text)
        if stated.get("algorithm") != "Ed25519":
            raise ValueError("unknown algorithm")
        key = base64.b64decode(stated["key"], validate=True)
        value = base64.b64decode(stated["signature"], validate=True)
        Ed25519PublicKey.from_public_bytes(key).verify(value, statement)
    except InvalidSignature as error:
        raise BadSignature(f"the signature does not fit this {what}: changed") from error
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError) as error:
        raise BadSignature(f"the signature of the {what} cannot be read: changed") from error
    return base64.b64encode(key).decode()
