"""Patterns and their rules as JSGF 1.0, for a listener that takes it."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence

from voicecheck.meaning.pattern import OneOf, Pattern, rules_in, without, written


def jsgf_rules(
    patterns: Sequence[Pattern], rules: Mapping[str, Pattern], public: str, missing: Collection[str]
) -> str:
    """One rule for each that is asked for, and `public` for all patterns after <before>.

    missing: words that the listener lacks; what needs them is left out. Empty for no wording.
    """
    kept: dict[str, Pattern] = {}
    gone: set[str] = set()
    names = ["before", *(name for pattern in patterns for name in rules_in(pattern))]
    for name in _in_order(names, rules):
        left = without(rules[name], missing, gone)
        if left is None:
            gone.add(name)
        else:
            kept[name] = left
    whole = without(OneOf(tuple(patterns)), missing, gone)
    if whole is None or "before" in gone:
        return ""
    lines = [f"<{name}> = {written(pattern)};" for name, pattern in sorted(kept.items())]
    return "\n".join([*lines, f"<{public}> = <before> {written(whole)};"])


def _in_order(names: Iterable[str], rules: Mapping[str, Pattern]) -> list[str]:
    """These rules and all that they ask for, each after those that it asks for."""
    found: dict[str, None] = {}

    def add(name: str) -> None:
        if name not in found:
            for needed in sorted(rules_in(rules[name])):
                add(needed)
            found[name] = None

    for name in names:
        add(name)
    return list(found)
