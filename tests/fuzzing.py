"""What the fuzz tests share: how long they run, a watch on what hangs, and ways to spoil things."""

from __future__ import annotations

import contextlib
import faulthandler
import functools
import os
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Final

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

LONG: Final = os.environ.get("HYPOTHESIS_PROFILE") == "fuzz"
SECONDS: Final = float(os.environ.get("FUZZ_SECONDS", "600"))
HANGS: Final = 150.0 if LONG else 60.0
"""Seconds after which one example counts as hanging; the long runs are last in the queue."""
LEFT: Final = Path(__file__).resolve().parents[1] / ".hypothesis" / "hanging.txt"
"""What hung, and where: the test runner's own output is lost then."""

quick = settings(
    max_examples=200 if LONG else 12,
    deadline=None,
    suppress_health_check=list(HealthCheck),
    print_blob=True,
)


def for_long(test: Callable[..., None]) -> Callable[..., None]:
    """In the profile `fuzz`, again with fresh examples until the time is over."""

    @functools.wraps(test)
    def run(*arguments: Any, **named: Any) -> None:
        end = time.monotonic() + SECONDS
        test(*arguments, **named)
        while LONG and time.monotonic() < end:
            test(*arguments, **named)

    return run


@contextlib.contextmanager
def watched(example: object = None) -> Iterator[None]:
    """Ends the process with every thread's place in LEFT when one example takes for ever."""
    LEFT.parent.mkdir(exist_ok=True)
    with LEFT.open("w", encoding="utf-8", errors="backslashreplace") as file:
        file.write(f"{example!r}\n")
        file.flush()
        faulthandler.dump_traceback_later(HANGS, exit=True, file=file)
        try:
            yield
        finally:
            faulthandler.cancel_dump_traceback_later()


ODD: Final = (
    "", "~", "null", "true", "no", "on", "0", "-1", "1e309", ".nan", ".inf", "0x10", "1:30", "{}",
    "[]", "[[]]", "{a: b}", "- x", "#", "# green", "##", "*a", "&a", "!x", "!!python/name:os",
    "|", ">", "'", '"', "“", "\t", "\x00", "\x85", "\u2028", "\ufeff", "\u202e", "é", "𐍈",
    "../../x", "x" * 5000, "a b c " * 300, "9" * 5000, "%", "@", "`", ": ", ",", "---", "...",
    "<<: {a: b}", "? a", "2026-01-01", "\\", "{{7*7}}", "{say}", "{0.__class__}", "%s", "$x",
)  # fmt: skip
"""Text that has made readers of files stumble."""

odd = st.one_of(st.sampled_from(ODD), st.text(max_size=20))


@st.composite
def spoilt_lines(draw: st.DrawFn, text: str) -> str:
    """A text file with some of its lines changed, dropped, doubled, moved or shifted."""
    lines = text.split("\n")
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(lines) - 1))
        line = lines[at]
        match draw(st.integers(0, 8)):
            case 0:
                del lines[at]
                lines = lines or [""]
            case 1:
                lines.insert(at, line)
            case 2:
                other = draw(st.integers(0, len(lines) - 1))
                lines[at], lines[other] = lines[other], line
            case 3:
                lines[at] = " " * draw(st.integers(0, 6)) + line.lstrip()
            case 4:
                key, colon, _ = line.partition(": ")
                lines[at] = key + colon + draw(odd)
            case 5:
                cut = draw(st.integers(0, len(line)))
                lines[at] = line[:cut] + draw(odd) + line[cut:]
            case 6:
                begin = draw(st.integers(0, len(line)))
                end = draw(st.integers(begin, len(line)))
                lines[at] = line[:begin] + line[end:]
            case 7:
                key, colon, value = line.lstrip().partition(":")
                lines[at] = line[: len(line) - len(line.lstrip())] + draw(odd) + colon + value
            case _:
                lines = lines[: at + 1]
    return draw(
        st.sampled_from(["\n", "\r\n", "\r"]) if draw(st.booleans()) else st.just("\n")
    ).join(lines)


json_odd = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(2**70), 2**70),
    st.floats(allow_nan=False, allow_infinity=False),
    st.sampled_from(ODD),
    st.text(max_size=12),
    st.just([]),
    st.just({}),
    st.just([[[]]]),
    st.just({"a": {"b": []}}),
)


@st.composite
def spoilt_data(draw: st.DrawFn, data: Any) -> Any:
    """A JSON value with one of its parts, somewhere inside, changed, dropped or doubled."""
    if isinstance(data, dict) and data and draw(st.integers(0, 5)):
        key = draw(st.sampled_from(sorted(data)))
        rest = {name: value for name, value in data.items() if name != key}
        match draw(st.integers(0, 7)):
            case 0:
                return rest
            case 1:
                return {**rest, draw(st.text(max_size=8)): data[key]}
            case _:
                return {**rest, key: draw(spoilt_data(data[key]))}
    if isinstance(data, list) and data and draw(st.integers(0, 5)):
        at = draw(st.integers(0, len(data) - 1))
        match draw(st.integers(0, 5)):
            case 0:
                return data[:at] + data[at + 1 :]
            case 1:
                return [*data[:at], data[at], *data[at:]]
            case _:
                return [*data[:at], draw(spoilt_data(data[at])), *data[at + 1 :]]
    return draw(json_odd)


@st.composite
def spoilt_bytes(draw: st.DrawFn, data: bytes) -> bytes:
    """Bytes with some changed, cut out, added or cut off."""
    made = bytearray(data)
    for _ in range(draw(st.integers(1, 5))):
        # Headers are where most can go wrong.
        most = len(made) if draw(st.booleans()) else min(len(made), 80)
        at = draw(st.integers(0, most))
        match draw(st.integers(0, 4)):
            case 0:
                made[at : at + 1] = draw(st.binary(min_size=1, max_size=1))
            case 1:
                made[at : at + 4] = draw(
                    st.sampled_from(
                        [b"\xff" * 4, b"\0" * 4, b"\x7f\xff\xff\xff", b"data", b"fact", b"LIST"]
                    )
                )
            case 2:
                del made[at : at + draw(st.integers(1, 64))]
            case 3:
                made[at:at] = draw(st.binary(max_size=64))
            case _:
                del made[at:]
    return bytes(made)
