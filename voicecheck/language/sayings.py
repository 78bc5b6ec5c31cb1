"""sayings.yaml: how people say what a callout means, beyond the wordings that are taught.

Each meaning has patterns (voicecheck.meaning.pattern) with the callout's own names as rules:
``<it>``, ``<n>`` and so on, see MEANS.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Final, Literal

from pydantic import BaseModel, ConfigDict, Field

from voicecheck.errors import InputError, Place, VoicecheckError
from voicecheck.meaning.pattern import Pattern, parse, rules_in
from voicecheck.yaml_source import Sourced, check_model, read_yaml

_LAMP: Final = ("it", "colour")
_COUNT: Final = ("it", "one", "n", "total", "lamps", "colour")
MEANS: Final[Mapping[str, tuple[str, ...]]] = {
    "lit": _LAMP,
    "dark": _LAMP,
    "named-dark": ("it", "which", "colour"),
    "all": _COUNT,
    "both": _COUNT,
    "some": _COUNT,
    "one": _COUNT,
    "one-dark": _COUNT,
    "none": _COUNT,
    "neither": _COUNT,
    "side-all": _COUNT,
    "side-some": _COUNT,
    "side-one-dark": _COUNT,
    "side-none": _COUNT,
    "sounds": ("it",),
    "silent": ("it",),
    "stops": ("it",),
    "goes-on": ("it",),
    "returns": ("it",),
    "stays-quiet": ("it",),
    "felt": ("it",),
    "not-felt": ("it",),
    "reads": ("it", "reads"),
    "resets": ("it",),
    "stays": ("it",),
    "thrown-lit": ("it",),
    "thrown-dark": ("it",),
    "back": ("it",),
    "goes-out": ("it",),
    "stays-lit": ("it",),
    "select": ("it",),
    "selector-off": (),
    "on": ("it",),
    "off": ("it",),
}
"""What a callout may mean, and the names that its patterns may use as rules. A count of N lamps is
`all` (and `both` of two), `none` (and `neither` of two), else `some`, with `one` where one is lit
and `one-dark` where one is not; `side-` where the number stands last ("left side three")."""

RESERVED: Final = frozenset({"at", "before", "after", "after-good", "after-bad"}).union(
    *MEANS.values()
)
"""Rules that are not the file's: what stands around a callout, and the names of what is called."""


class Carriers(BaseModel):
    """What may be said around a callout and changes no meaning; each a pattern.

    place: names of the position, as <at>, around what is said there. good, bad: said
    after what is as it should be, and after what is not.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)
    before: str = ""
    after: str = ""
    good: str = ""
    bad: str = ""
    place: str = ""


class SayingsFile(BaseModel):
    """Contents of sayings.yaml."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    schema_: Literal[1] = Field(alias="schema")
    listeners: tuple[Literal["pocketsphinx", "vosk"], ...] = Field(
        (), description="listeners that are given all of this; the others hear what is taught"
    )
    split: tuple[str, ...] = Field((), description="endings that are words of their own: 's")
    neutral: tuple[str, ...] = Field(
        (), description="words that are left out wherever they stand; none denies, doubts or counts"
    )
    same: dict[str, str] = Field(
        default_factory=dict, description="words to those that stand for them: isn't to is not"
    )
    denials: tuple[str, ...] = Field(
        (), description="words that the nearest meaning never passes over: not, no, only"
    )
    nouns: tuple[str, ...] = Field((), description="what a lamp may be called after its name")
    plural: str = Field("", description="ending of several")
    colours: dict[str, str] = Field(default_factory=dict, description="colour to its pattern")
    carriers: Carriers = Field(default_factory=Carriers)
    bare: str = Field("", description="a name alone: a question")
    rules: dict[str, str] = Field(default_factory=dict)
    means: dict[str, tuple[str, ...]] = Field(default_factory=dict)
    elided: dict[str, tuple[str, ...]] = Field(
        default_factory=dict, description="what is said of nothing, by its meaning: a question"
    )
    commands: dict[str, tuple[str, ...]] = Field(default_factory=dict)


def read_sayings(path: Path, commands: tuple[str, ...]) -> SayingsFile | None:
    """The file, checked, or None where a language has none. Raises InputError."""
    if not path.exists():
        return None
    source = read_yaml(path)
    sayings = check_model(SayingsFile, source)
    own = {name: _parsed(source, ("rules", name), text) for name, text in sayings.rules.items()}
    for name in own:
        if name in RESERVED:
            raise InputError(
                source.place(("rules", name)), f"<{name}> is made elsewhere", "name it otherwise"
            )
        _check_rules(source, ("rules", name), own, name)
    for part in ("before", "after", "good", "bad"):
        text = getattr(sayings.carriers, part)
        _known(source, ("carriers", part), _parsed(source, ("carriers", part), text), own)
    place = _parsed(source, ("carriers", "place"), sayings.carriers.place)
    _known(source, ("carriers", "place"), place, {*own, "at"})
    _known(source, ("bare",), _parsed(source, ("bare",), sayings.bare), {*own, "it"})
    _check_means(source, "means", sayings.means, own)
    _check_means(source, "elided", sayings.elided, own)
    for command, texts in sayings.commands.items():
        if command not in commands:
            _unknown(source.place(("commands", command)), f"no command '{command}'", commands)
        for text in texts:
            _known(source, ("commands", command), _parsed(source, ("commands", command), text), own)
    return sayings


def _check_means(
    source: Sourced, part: str, means: Mapping[str, tuple[str, ...]], own: Mapping[str, Pattern]
) -> None:
    for meaning, texts in means.items():
        place = (part, meaning)
        if meaning not in MEANS:
            _unknown(source.place(place), f"no meaning '{meaning}'", MEANS)
        for text in texts:
            _known(source, place, _parsed(source, place, text), {*own, *MEANS[meaning]})


def _parsed(source: Sourced, path: tuple[str, ...], text: str) -> Pattern:
    try:
        return parse(text)
    except VoicecheckError as error:
        problem, _, remedy = str(error).rpartition("; ")
        raise InputError(source.place(path), problem, remedy) from None


def _known(
    source: Sourced,
    path: tuple[str, ...],
    pattern: Pattern,
    known: Mapping[str, object] | set[str],
) -> None:
    for name in sorted(rules_in(pattern) - set(known)):
        _unknown(source.place(path), f"no rule <{name}>", sorted(known))


def _check_rules(
    source: Sourced, path: tuple[str, ...], rules: Mapping[str, Pattern], first: str
) -> None:
    """Every rule that this one asks for is there, and none asks for itself."""
    waiting: list[tuple[str, ...]] = [(first,)]
    while waiting:
        trail = waiting.pop()
        for name in sorted(rules_in(rules[trail[-1]])):
            if name not in rules:
                _unknown(source.place(path), f"no rule <{name}>", sorted(rules))
            if name in trail:
                raise InputError(
                    source.place(path), f"<{name}> asks for itself", "write it out, or use *"
                )
            waiting.append((*trail, name))


def _unknown(place: Place, problem: str, known: Iterable[str]) -> None:
    raise InputError(place, problem, f"known are: {', '.join(known)}")
