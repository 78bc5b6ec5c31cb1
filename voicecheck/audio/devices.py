"""Which microphones and loudspeakers there are, and which one a name means."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from voicecheck.audio.portaudio import library, locked
from voicecheck.errors import VoicecheckError

_NO_MICROPHONE: Final = (
    "no microphone found; plug one in and see `voicecheck audio`, or use --from FILE.wav or --deaf"
)
_NO_LOUDSPEAKER: Final = (
    "no loudspeaker found; plug one in and see `voicecheck audio`; a session can run without"
)


@dataclass(frozen=True, slots=True)
class Device:
    """One sound device as PortAudio sees it.

    number: changes when devices come and go, so it is never stored; inputs, outputs: most
    channels each way; rate: its own rate in hertz; system: the sound system it belongs to.
    """

    number: int
    name: str
    system: str
    inputs: int
    outputs: int
    rate: int
    default_input: bool
    default_output: bool
    preferred: bool
    """Belongs to the default sound system; the others often list the same device again."""


def devices() -> list[Device]:
    """All devices, in PortAudio's order; empty on a machine without sound."""
    audio = library()
    with locked():
        systems = audio.query_hostapis()
        inputs = {system["default_input_device"] for system in systems[:1]}
        outputs = {system["default_output_device"] for system in systems[:1]}
        chosen_in, chosen_out = audio.default.device
        if chosen_in >= 0:
            inputs = {chosen_in}
        if chosen_out >= 0:
            outputs = {chosen_out}
        found = list(audio.query_devices())
    home = {found[n]["hostapi"] for n in inputs | outputs if 0 <= n < len(found)}
    return [
        Device(
            number=number,
            name=str(info["name"]),
            system=str(systems[info["hostapi"]]["name"]),
            inputs=int(info["max_input_channels"]),
            outputs=int(info["max_output_channels"]),
            rate=round(info["default_samplerate"]),
            default_input=number in inputs,
            default_output=number in outputs,
            preferred=info["hostapi"] in home,
        )
        for number, info in enumerate(found)
    ]


def find_microphone(name: str | int | None = None) -> Device:
    """By number, by name or part of it, or the default. Raises VoicecheckError."""
    usable = [device for device in devices() if device.inputs]
    return _find(usable, name, [d for d in usable if d.default_input], _NO_MICROPHONE)


def find_loudspeaker(name: str | int | None = None) -> Device:
    """By number, by name or part of it, or the default. Raises VoicecheckError."""
    usable = [device for device in devices() if device.outputs]
    return _find(usable, name, [d for d in usable if d.default_output], _NO_LOUDSPEAKER)


def _find(usable: list[Device], name: str | int | None, default: list[Device], none: str) -> Device:
    if not usable:
        raise VoicecheckError(none)
    if name is None or name == "":
        return (default or usable)[0]
    matches = _matching(usable, name)
    if len(matches) == 1:
        return matches[0]
    listed = "; ".join(f"{device.number} {device.name}" for device in matches or usable)
    told = f"{name!r} fits several devices" if matches else f"no device fits {name!r}"
    raise VoicecheckError(f"{told}; name one of: {listed}")


def _matching(usable: list[Device], name: str | int) -> list[Device]:
    if isinstance(name, int) or name.isdecimal():
        return [device for device in usable if device.number == int(name)]
    return _named(usable, name)


def _named(usable: list[Device], name: str) -> list[Device]:
    """Exact names go before parts of names, the default sound system before others."""
    wanted = name.casefold().strip()
    matches = [device for device in usable if device.name.casefold() == wanted]
    matches = matches or [device for device in usable if wanted in device.name.casefold()]
    return [device for device in matches if device.preferred] or matches
