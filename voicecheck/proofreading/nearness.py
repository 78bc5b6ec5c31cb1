"""Taught wordings beside all that may be said: does one word more, less or other sound the same?

What closes an item as good is acted on at once when it is said as it is taught. So nothing that
means another thing, and differs from it by a word, may sound like it, whoever taught it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from voicecheck.checklist.advice import Advice, Severity
from voicecheck.checklist.loader import Loaded
from voicecheck.checklist.said import network_of
from voicecheck.checklist.wordings import Wording, said_together
from voicecheck.meaning.automaton import Automaton


def too_near(loaded: Loaded, near: Callable[[str, str], str | None]) -> Iterator[Advice]:
    """A warning for each good taught wording and each other callout that sounds like it.

    near: why two wordings are too near, or None. Two that are both taught are compared by the
    linter (checklist.wordings), and asked about in a session (speech.close).
    """
    network = network_of(loaded.checklist, loaded.language.sayings)
    told: set[tuple[str, frozenset[str]]] = set()
    for position in loaded.checklist.positions:
        together = said_together(loaded.checklist, position)
        taught = {network.words(wording.phrase) for wording in together}
        machine = network.together(dict.fromkeys(wording.key for wording in together))
        for wording in (w for w in together if w.closes_good):
            around = set(one_word_away(network.words(wording.phrase), machine))
            for words, keys in _others(sorted(around - taught), wording.key, machine):
                why = near(wording.phrase, " ".join(words))
                if why is not None and (wording.phrase, keys) not in told:
                    told.add((wording.phrase, keys))
                    yield _warning(wording, words, [network.ways[k].taught[0] for k in keys], why)


def _others(
    around: Iterable[tuple[str, ...]], key: str, machine: Automaton
) -> Iterator[tuple[tuple[str, ...], frozenset[str]]]:
    """Those that mean something, and not this."""
    for words in around:
        keys = machine.ends(machine.read(words))
        if keys and key not in keys:
            yield words, keys


def _warning(wording: Wording, words: tuple[str, ...], meant: list[str], why: str) -> Advice:
    listed = ", ".join(f"'{text}'" for text in sorted(meant))
    return Advice(
        Severity.WARNING,
        f"'{wording.phrase}' ({wording.meaning}) sounds like '{' '.join(words)}' ({listed}): {why}",
        "call one of them by another name, or take away the name in 'also' that makes it so",
        wording.position,
        wording.item,
    )


def one_word_away(words: tuple[str, ...], machine: Automaton) -> Iterator[tuple[str, ...]]:
    """Wordings of the machine with one word of these more, less or exchanged."""
    for at in range(len(words) + 1):
        before, rest = words[:at], words[at:]
        for word in machine.moves(machine.read(before)):
            yield from ((*before, word, *rest), (*before, word, *rest[1:]))
        if rest:
            yield (*before, *rest[1:])
