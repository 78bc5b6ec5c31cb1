from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from voicecheck.journal.chain import canonical
from voicecheck.journal.reader import verify


def test_canonical_sorts_packs_and_keeps_letters() -> None:
    assert canonical({"b": (1, 2.5), "a": "Å"}) == '{"a":"Å","b":[1,2.5]}'.encode()


@pytest.mark.parametrize("value", [float("nan"), float("inf"), "\ud800"])
def test_canonical_refuses_what_json_cannot_hold(value: object) -> None:
    with pytest.raises(ValueError, match=r"."):
        canonical({"x": value})


@pytest.mark.parametrize("value", [{1: "x"}, {"x": {None: 1}}, {"x": b"bytes"}])
def test_canonical_refuses_keys_and_values_of_other_kinds(value: object) -> None:
    with pytest.raises(TypeError):
        canonical(value)


def test_canonical_refuses_nesting_without_end() -> None:
    value: list[object] = []
    for _ in range(100_000):
        value = [value]
    with pytest.raises(ValueError, match="deep"):
        canonical(value)


_json = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=False, allow_infinity=False)
    # no surrogates: UTF-8 cannot hold them
    | st.text(st.characters(exclude_categories=["Cs"])),
    lambda inner: (
        st.lists(inner) | st.dictionaries(st.text(st.characters(exclude_categories=["Cs"])), inner)
    ),
    max_leaves=12,
)


@given(_json)
def test_canonical_survives_its_own_reading(value: object) -> None:
    data = canonical(value)
    assert b"\n" not in data
    assert canonical(json.loads(data)) == data
    assert json.loads(data) == value


def test_the_chain_by_hand(finished: Path) -> None:
    """Every hash computed again with hashlib and json alone."""
    lines = finished.read_bytes().split(b"\n")
    assert lines.pop() == b""
    prev = "0" * 64
    for n, line in enumerate(lines):
        found = json.loads(line)
        assert (found["n"], found["prev"]) == (n, prev)
        prev = hashlib.sha256(line).hexdigest()
    last = json.loads(lines[-1])
    stated = last.pop("seal")
    unsealed = json.dumps(last, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    assert stated == hashlib.sha256(unsealed.encode()).hexdigest()
    found = verify(finished)
    assert (found.head, found.lines) == (prev, len(lines))
