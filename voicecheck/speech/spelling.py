"""One spelling for what several listeners write: lower case, numbers in words, no marks."""

from __future__ import annotations

import re
from typing import Final

WORDS: Final = (
    *("zero", "one", "two", "three", "four", "five", "six"),
    *("seven", "eight", "nine", "ten", "eleven", "twelve"),
)
NUMBERS: Final = {str(value): word for value, word in enumerate(WORDS)}


def spelled(text: str) -> str:
    """Free text of a neural listener in our spelling; a repeated phrase stands once."""
    words = re.findall(r"[a-z]+(?:'[a-z]+)?|\d+", text.lower())
    words = [NUMBERS.get(word, word) for word in words]
    return " ".join(_once(words))


def _once(words: list[str]) -> list[str]:
    """A short window can make the model stutter: "one grain one grain one gr", "a b c a b"."""
    last = len(words) - 1
    for period in range(1, len(words) - 1):
        if period > len(words) // 2 and last - period < 1:
            break  # one word said again at the end may be meant
        again = range(period, last)
        cut = words[last - period].startswith(words[last])  # the limit may cut the last word
        if cut and all(words[at] == words[at - period] for at in again):
            return words[:period]
    return words
