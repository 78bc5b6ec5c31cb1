"""Load the grammar files of one language and render its prompts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from voicecheck.errors import InputError, Place, VoicecheckError
from voicecheck.language.model import (
    CalendarFile,
    CalloutsFile,
    CommandsFile,
    PromptsFile,
    Said,
    SpeechFile,
    Templates,
)
from voicecheck.language.prompts import PROMPTS, check_slots
from voicecheck.language.sayings import SayingsFile, read_sayings
from voicecheck.words import Words, read_words
from voicecheck.yaml_source import Sourced, check_model, read_yaml

COMMANDS: Final = (
    "affirm",
    "negative",
    "say-again",
    "stand-by",
    "resume",
    "correction",
    "disregard",
    "read-back",
    "complete",
    "abandon",
    "crew-change",
    "power-wrong",
)
"""Every command the engine knows; the grammar of each language must word them all."""


@dataclass(frozen=True, slots=True)
class Language:
    """The words of one language."""

    name: str
    numbers: tuple[str, ...]
    both: str
    none: str
    singular: Mapping[str, str]
    templates: Templates
    other: Mapping[str, tuple[str, ...]]
    said: Said
    commands: Mapping[str, tuple[str, ...]]
    reasons: Mapping[str, tuple[str, ...]]
    preamble: str
    prompts: Mapping[str, str]
    speech: SpeechFile
    terse: Mapping[str, str]
    more: str
    calendar: CalendarFile
    words: Words
    sayings: SayingsFile | None = None

    def day(self, month: int, day: int) -> str:
        """A day of the year; month: 1 to 12."""
        return self.calendar.day.format(day=day, month=self.calendar.months[month - 1])

    def number(self, n: int) -> str:
        """The word for a small count; beyond the list, the digits."""
        return self.numbers[n] if 0 <= n < len(self.numbers) else str(n)

    def render(self, prompt: str, values: Mapping[str, str]) -> str:
        """The words of a prompt. Raises VoicecheckError for an unknown prompt or slot."""
        return self._filled(self.prompts, prompt, values)

    def render_terse(self, prompt: str, values: Mapping[str, str]) -> str:
        """The same in the terse wording, where there is one; also of the preamble."""
        spoken = {**self.prompts, "preamble": self.preamble, **self.terse}
        return self._filled(spoken, prompt, values)

    def _filled(self, prompts: Mapping[str, str], prompt: str, values: Mapping[str, str]) -> str:
        try:
            return " ".join(prompts[prompt].format_map(values).split())
        except KeyError as missing:
            raise VoicecheckError(
                f"grammars/{self.name}/prompts.yaml: prompt '{prompt}' needs {missing}; "
                "add it to the file"
            ) from None


def load_language(folder: Path) -> Language:
    """Read the YAML files of ``grammars/<name>``. Raises InputError or VoicecheckError."""
    callouts_source = read_yaml(folder / "callouts.yaml")
    commands_source = read_yaml(folder / "commands.yaml")
    prompts_source = read_yaml(folder / "prompts.yaml")
    callouts = check_model(CalloutsFile, callouts_source)
    commands = check_model(CommandsFile, commands_source)
    prompts = check_model(PromptsFile, prompts_source)
    speech = check_model(SpeechFile, read_yaml(folder / "speech.yaml"))
    _require_words("command", COMMANDS, commands.commands, "[words]", commands_source)
    for command in commands.commands:
        if command not in COMMANDS:
            raise InputError(
                commands_source.place(("commands", command)),
                f"unknown command '{command}'",
                f"the commands are: {', '.join(COMMANDS)}",
            )
    _check_prompts(prompts, prompts_source)
    return Language(
        name=folder.name,
        numbers=callouts.numbers,
        both=callouts.both,
        none=callouts.none,
        singular=callouts.singular,
        templates=callouts.templates,
        other=dict(callouts.other),
        said=callouts.said,
        commands=commands.commands,
        reasons=commands.reasons,
        preamble=prompts.preamble,
        prompts=prompts.prompts,
        speech=speech,
        terse=prompts.terse,
        more=prompts.more,
        calendar=check_model(CalendarFile, read_yaml(folder / "calendar.yaml")),
        words=read_words(folder),
        sayings=read_sayings(folder / "sayings.yaml", COMMANDS),
    )


def _require_words(
    kind: str, wanted: Iterable[str], given: Mapping[str, object], example: str, source: Sourced
) -> None:
    """Every command or prompt that a session may need is there, in the part named after it."""
    for key in wanted:
        if key not in given:
            raise InputError(
                source.place((f"{kind}s",)),
                f"the {kind} '{key}' has no words",
                f"add '{key}: {example}'",
            )


def _check_prompts(prompts: PromptsFile, source: Sourced) -> None:
    """Every prompt has words, and they no slot that nobody fills: a session would stop there."""
    _require_words("prompt", PROMPTS, prompts.prompts, "words", source)
    spoken = {**PROMPTS, "preamble": ()}
    texts = [("prompts", PROMPTS, *entry) for entry in prompts.prompts.items()]
    texts += [("terse", spoken, *entry) for entry in prompts.terse.items()]
    for part, known, key, text in texts:
        place = source.place((part, key))
        if key not in known:
            raise InputError(place, f"no prompt '{key}'", "remove it, or correct the name")
        _check(text, known[key], place, f"prompt '{key}'")
    _check(prompts.more, ("listed", "n"), source.place(("more",)), "'more'")
    if "{listed}" not in prompts.more or "{n}" not in prompts.more:
        raise InputError(source.place(("more",)), "lacks a slot", "use {listed} and {n} in it")


def _check(text: str, slots: tuple[str, ...], place: Place, what: str) -> None:
    try:
        check_slots(text, slots)
    except ValueError as error:
        problem, _, remedy = str(error).partition("; ")
        raise InputError(place, f"{what}: {problem}", remedy) from None
