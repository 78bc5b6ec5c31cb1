"""The sub-word tokens of a neural listener, read from the list that comes with its weights.

The list alone defines the splitting: two neighbouring pieces are joined when they make a piece of
the list, the piece that stands first in it before all others (byte-pair encoding as in
SentencePiece). The work itself is done by the `tokenizers` library.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

from voicecheck.errors import VoicecheckError

BYTES: Final = range(3, 259)
"""Numbers of the 256 pieces that are one byte each; before them: unknown, begin, end."""
SPACE: Final = "\N{LOWER ONE EIGHTH BLOCK}"


class Pieces:
    """Text to piece numbers and back."""

    def __init__(self, pieces: Sequence[bytes]) -> None:
        from tokenizers import Tokenizer, decoders, models, normalizers

        numbers: dict[str, int] = {}
        for number, piece in enumerate(pieces):
            byte = number - BYTES.start
            written = f"<0x{byte:02X}>" if number in BYTES else piece.decode("utf-8", "replace")
            numbers.setdefault(written, number)
        joins = [
            (number, piece[:at], piece[at:])
            for piece, number in numbers.items()
            if number >= BYTES.stop
            for at in range(1, len(piece))
            if piece[:at] in numbers and piece[at:] in numbers
        ]
        merges = [(left, right) for _, left, right in sorted(joins, key=lambda join: join[0])]
        model = models.BPE(numbers, merges, unk_token="<unk>", fuse_unk=True, byte_fallback=True)
        self._tokenizer: Any = Tokenizer(model)
        self._tokenizer.normalizer = normalizers.Sequence(
            [normalizers.Prepend(SPACE), normalizers.Replace(" ", SPACE)]
        )
        self._tokenizer.decoder = decoders.Sequence(
            [decoders.Replace(SPACE, " "), decoders.ByteFallback(), decoders.Fuse()]
        )

    def encode(self, text: str) -> list[int]:
        """Piece numbers, without a beginning or an end."""
        return list(self._tokenizer.encode(text, add_special_tokens=False).ids)

    def decode(self, numbers: Sequence[int]) -> str:
        """The text of piece numbers."""
        return str(self._tokenizer.decode(list(numbers))).strip()


def read_pieces(path: Path) -> Pieces:
    """From a file of pieces, each after its length: one byte, or two from 128 on.

    Raises VoicecheckError when it cannot be read or is no such file.
    """
    try:
        data = path.read_bytes()
    except OSError as error:
        raise VoicecheckError(
            f"{path}: cannot be read ({error.strerror}); copy it again"
        ) from error
    pieces = []
    at = 0
    while at < len(data):
        length, at = data[at], at + 1
        if length >= 128 and at < len(data):
            length, at = length - 128 + 128 * data[at], at + 1
        pieces.append(data[at : at + length])
        at += length
    if at != len(data) or len(pieces) <= BYTES.stop:
        raise VoicecheckError(f"{path}: not a list of a model's tokens; copy it again")
    return Pieces(pieces)
