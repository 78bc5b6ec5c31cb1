"""What all rules have in common: a number, and what a reader wants to know of each."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One rule, as docs/rules.md shows it.

    number: of the rule that it belongs to (engine.rules), and its place in it. when: what must
    be so. stands: what stands after it. says: prompts that it may speak. proof: tests that show
    it, as "file::test" in tests/engine.
    """

    number: str
    when: str
    stands: str
    says: tuple[str, ...] = ()
    proof: tuple[str, ...]
