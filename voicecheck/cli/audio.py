"""``voicecheck audio``: which devices there are, how loud the crew is, whether both work."""

from __future__ import annotations

import dataclasses
import json
import time
from collections.abc import Callable, Iterator
from typing import Annotated, Any

import numpy as np
import typer
from rich.console import Console
from rich.live import Live
from rich.table import Table

from voicecheck.audio.devices import devices, find_loudspeaker, find_microphone
from voicecheck.audio.echo import measure_echo
from voicecheck.audio.level import NOTHING_BELOW, TOO_QUIET_BELOW, Level, LevelMeter
from voicecheck.audio.microphone import Microphone
from voicecheck.audio.player import Player
from voicecheck.audio.source import RATE, Block, Samples, SourceLost
from voicecheck.cli.sound import Device
from voicecheck.cli.whole_session import ResultAsJson
from voicecheck.errors import VoicecheckError
from voicecheck.session.settings import load_settings, settings_file
from voicecheck.session.settings import remember as remember_settings

_SHOWN_SECONDS = 0.5
_LONGEST_SECONDS = 600.0
_THRESHOLDS = (
    f"too quiet: speech below {TOO_QUIET_BELOW:.0f} dBFS; nothing: peak below "
    f"{NOTHING_BELOW:.0f} dBFS; clipping: 3 samples in a row at full scale"
)


def audio(
    meter: Annotated[
        float | None,
        typer.Option(metavar="SECONDS", help="Show for so long how loud the microphone is."),
    ] = None,
    check: Annotated[
        float | None,
        typer.Option(metavar="SECONDS", help="Record for so long, tell the level, play it back."),
    ] = None,
    echo: Annotated[
        bool,
        typer.Option("--echo", help="Play a sweep: headset, or does our voice come back?"),
    ] = False,
    remember: Annotated[
        bool,
        typer.Option(
            "--remember",
            help="Keep the devices that are named and, with --echo, its result, for sessions.",
        ),
    ] = False,
    microphone: Device = None,
    loudspeaker: Device = None,
    as_json: ResultAsJson = False,
) -> None:
    """List sound devices, watch the microphone's level, play back, or test for echo.

    Devices that are not named are those remembered, else the system's own choice.

    Exit status 2: no microphone, or another thing that the one line of error text names.
    """
    screen = Console(stderr=as_json)
    if (meter is not None) + (check is not None) + echo > 1:
        raise VoicecheckError("--meter, --check and --echo are tests; give one at a time")
    settings = load_settings()
    inward, outward = microphone or settings.microphone, loudspeaker or settings.loudspeaker
    if meter is not None:
        result = _meter(screen, _seconds(meter, "--meter"), inward)
    elif check is not None:
        result = _check(screen, _seconds(check, "--check"), inward, outward)
    elif echo:
        result = _echo(screen, inward, outward)
    else:
        result = _list(screen, inward, outward)
    if remember:
        _remember(screen, microphone, loudspeaker, result)
    if as_json:
        typer.echo(json.dumps(result, ensure_ascii=False, sort_keys=True))


def _list(screen: Console, microphone: str | None, loudspeaker: str | None) -> dict[str, Any]:
    found = devices()
    if microphone is not None:
        screen.print(f"microphone: {find_microphone(microphone).name}", markup=False)
    if loudspeaker is not None:
        screen.print(f"loudspeaker: {find_loudspeaker(loudspeaker).name}", markup=False)
    table = Table("no.", "name", "in", "out", "Hz", "default for", "system")
    for device in found:
        roles = [
            role
            for role, default in (
                ("microphone", device.default_input),
                ("loudspeaker", device.default_output),
            )
            if default
        ]
        cells = (device.number, device.name, device.inputs, device.outputs, device.rate)
        table.add_row(*(str(cell) for cell in cells), ", ".join(roles), device.system)
    if found:
        screen.print(table)
    else:
        screen.print("no sound devices; sessions run with --from FILE.wav, or by key with --deaf")
    return {"schema": 1, "devices": [dataclasses.asdict(device) for device in found]}


def _meter(screen: Console, seconds: float, name: str | None) -> dict[str, Any]:
    whole, recent = LevelMeter(), LevelMeter()
    with Microphone(name) as source, Live(console=screen, auto_refresh=False) as live:
        shown = 0
        for count, samples in _counted(_sound(source, seconds)):
            whole.add(samples)
            recent.add(samples)
            if count - shown >= _SHOWN_SECONDS * RATE:
                live.update(_bar(recent.level()), refresh=True)
                recent.clear()
                shown = count
    return _told(screen, source, whole.level())


def _check(
    screen: Console, seconds: float, name: str | None, loudspeaker: str | None
) -> dict[str, Any]:
    with Microphone(name) as source:
        # Opened before recording: a crew that has just spoken should not learn it late.
        player = Player(loudspeaker)
        try:
            screen.print(f"speak now, for {seconds:g} s ...", markup=False)
            heard = np.concatenate(list(_sound(source, seconds)))
            meter = LevelMeter()
            meter.add(heard)
            result = _told(screen, source, meter.level())
            screen.print(f"playing it back through {player.name} ...", markup=False)
            played = _played(player, heard)
        finally:
            player.close()
    if not played:
        raise VoicecheckError("the loudspeaker was lost while playing; check its plug and cable")
    screen.print("played back; if you heard yourself, both work")
    return {**result, "loudspeaker": player.name, "played_s": len(heard) / RATE}


def _echo(screen: Console, name: str | None, loudspeaker: str | None) -> dict[str, Any]:
    screen.print("a sweep will sound; be quiet for 4 s ...")
    with Microphone(name) as source:
        player = Player(loudspeaker, source.now)
        try:
            found = measure_echo(source, player)
        finally:
            player.close()
    screen.print(f"{source.name}, {player.name}", markup=False)
    screen.print(found.in_words(), markup=False)
    return {
        "schema": 1,
        "microphone": source.name,
        "loudspeaker": player.name,
        "cockpit": "speaker" if found.heard else "headset",
        "delay_s": round(found.delay, 3),
        "echo_tail_s": found.tail,
        "above_room_db": round(found.above, 1),
        "likeness": round(found.likeness, 3),
    }


def _remember(
    screen: Console, microphone: str | None, loudspeaker: str | None, result: dict[str, Any]
) -> None:
    """Names, never numbers: those shift when devices come and go."""
    changes: dict[str, Any] = {}
    if microphone is not None:
        changes["microphone"] = find_microphone(microphone).name
    if loudspeaker is not None:
        changes["loudspeaker"] = find_loudspeaker(loudspeaker).name
    if "cockpit" in result:
        changes["cockpit"] = result["cockpit"]
        if result["cockpit"] == "speaker":
            changes["echo_tail"] = result["echo_tail_s"]
    if not changes:
        raise VoicecheckError(
            "--remember keeps --microphone, --loudspeaker or the result of --echo; give one of them"
        )
    remember_settings(**changes)
    screen.print(f"remembered in {settings_file()}", markup=False, soft_wrap=True)


def _sound(source: Microphone, seconds: float) -> Iterator[Samples]:
    """So many seconds of sound; VoicecheckError if the microphone goes away meanwhile."""
    left = round(seconds * RATE)
    for item in source.blocks():
        if isinstance(item, SourceLost):
            raise VoicecheckError(f"{item.reason}; check its plug and try again")
        if isinstance(item, Block):
            yield item.samples[:left]
            left -= len(item)
        if left <= 0:
            return


def _counted(parts: Iterator[Samples]) -> Iterator[tuple[int, Samples]]:
    count = 0
    for part in parts:
        count += len(part)
        yield count, part


def _played(player: Player, heard: Samples) -> bool:
    """Play to the end; False if some of it ran while the loudspeaker was away."""
    playback = player.play(heard)
    over = playback.wait(len(heard) / RATE + 5)
    _until(lambda: not player.audible or player.lost, 2.0)
    return over and not playback.unheard


def _until(true: Callable[[], bool], seconds: float) -> None:
    deadline = time.monotonic() + seconds
    while not true() and time.monotonic() < deadline:
        time.sleep(0.02)


def _bar(level: Level) -> str:
    filled = round(max(0.0, min(1.0, 1 + level.peak / 60)) * 30)
    return f"{'#' * filled:<30} {level.in_words()}"


def _told(screen: Console, source: Microphone, level: Level) -> dict[str, Any]:
    screen.print(f"{source.name}: {level.in_words()}", markup=False)
    screen.print(_THRESHOLDS, markup=False, style="dim")
    return {
        "schema": 1,
        "microphone": source.name,
        "level": level.loudness.value,
        "speech_dbfs": round(level.speech, 1),
        "peak_dbfs": round(level.peak, 1),
        "clipped": level.clipped,
        "overflows": source.overflows,
    }


def _seconds(value: float, option: str) -> float:
    if not 0 < value <= _LONGEST_SECONDS:
        raise VoicecheckError(f"{option} {value:g}: give more than 0, up to {_LONGEST_SECONDS:g} s")
    return value
