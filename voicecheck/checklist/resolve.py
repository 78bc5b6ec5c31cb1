"""Apply an airframe's differences to its type and derive the items of one session."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from voicecheck.checklist import darkness, model
from voicecheck.checklist.derive import items_of, other_of
from voicecheck.checklist.meant import with_meaning
from voicecheck.checklist.places import place_in_files
from voicecheck.checklist.resolved import (
    OFF,
    Bus,
    Checklist,
    Item,
    Mel,
    NotFitted,
    Position,
    Reading,
    Timing,
    with_power,
)
from voicecheck.errors import InputError, Place
from voicecheck.language import Language
from voicecheck.yaml_source import Sourced

_ONCE_TIMED: Final = "battery"
"""Id of the bus that `battery_minutes` meant, when files could not yet say which one is timed."""


@dataclass(frozen=True, slots=True)
class _Files:
    """The two files and their sources, for messages with a place."""

    type: model.TypeFile
    type_source: Sourced
    airframe: model.AirframeFile
    airframe_source: Sourced
    language: Language


def resolve(
    type_file: model.TypeFile,
    type_source: Sourced,
    airframe: model.AirframeFile,
    airframe_source: Sourced,
    language: Language,
) -> Checklist:
    """One airframe's checklist. Raises InputError naming the file and line at fault."""
    files = _Files(type_file, type_source, airframe, airframe_source, language)
    _check_references(files)
    absent: list[NotFitted] = []
    positions = [
        built
        for position_id, position in type_file.positions.items()
        if (built := _position(files, position_id, position, absent)) is not None
    ]
    if not positions:
        raise InputError(
            airframe_source.place(("not_fitted",)),
            "every position is marked not fitted",
            "leave at least one position in",
        )
    positions.append(_rest(files, absent))
    positions = [_with_other(files, with_power(position)) for position in positions]
    darkness.require_power(positions, type_source, airframe_source)
    timing = _timing(type_file.timing, airframe.timing)
    checklist = Checklist(
        id=type_file.id,
        title=type_file.title,
        type=airframe.type or type_file.type,
        registration=airframe.registration,
        operator=airframe.operator,
        calendar=airframe.calendar,
        language=language.name,
        buses=_buses(files),
        positions=darkness.with_denied(positions),
        not_fitted=tuple(absent),
        timing=timing,
        commands=dict(language.commands),
        reasons=dict(language.reasons),
        record=dict(language.words.record),
        report=dict(language.words.report),
    )
    _check_phrases(files, checklist)
    return checklist


def _timing(of_type: model.Timing, of_airframe: model.Timing | None) -> Timing:
    """The airframe's settings over its type's: what it leaves out keeps the type's value.

    A default in its place could be narrower, and call a late lamp in time.
    """
    own = {} if of_airframe is None else of_airframe.model_dump(exclude_unset=True)
    return Timing(**{**of_type.model_dump(), **own})


def _buses(files: _Files) -> tuple[Bus, ...]:
    """The buses with their wordings and, of one of them, the minutes that it may be on."""
    minutes = _minutes(files)
    templates = files.language.templates
    return tuple(
        Bus(
            bus_id,
            bus.say,
            bus.label,
            tuple(text.format(call=bus.say) for text in templates.power_on),
            tuple(text.format(call=bus.say) for text in templates.power_off),
            minutes.get(bus_id),
            bus.also,
        )
        for bus_id, bus in files.type.buses.items()
    )


def _minutes(files: _Files) -> Mapping[str, float]:
    """The airframe's own minutes, else its type's. Raises InputError for two timed buses."""
    type_, airframe = files.type, files.airframe
    found = {bus_id: bus.minutes for bus_id, bus in type_.buses.items() if bus.minutes}
    if type_.battery_minutes is not None:
        found.setdefault(_ONCE_TIMED, type_.battery_minutes)
    if airframe.battery_minutes is not None:
        found[_ONCE_TIMED] = airframe.battery_minutes
    found |= airframe.minutes
    if len(found) > 1:
        own = bool(airframe.minutes or airframe.battery_minutes)
        source = files.airframe_source if own else files.type_source
        raise InputError(
            source.place(("minutes",) if own else ("buses",)),
            f"more than one bus is timed: {', '.join(found)}",
            "leave 'minutes' with the one that may run out",
        )
    return found


def _position(
    files: _Files, position_id: str, position: model.Position, absent: list[NotFitted]
) -> Position | None:
    change = files.airframe.changes.get(position_id)
    expect = {**position.expect, **(change.expect if change else {})}
    reason = files.airframe.not_fitted.get(position_id)
    gone = None if reason is None else (reason, position.say)
    items = _fitted(files, (position_id, position.name), expect, absent, gone)
    if reason is not None:
        return None
    power = change.power if change and change.power is not None else position.power
    return Position(
        id=position_id,
        name=position.name,
        say=position.say,
        power=dict(power),
        items=tuple(items),
        select=tuple(t.format(call=position.say) for t in files.language.templates.select),
        caution=(change.caution if change else None) or position.caution,
        also=position.also,
        disregard=tuple(t.format(call=position.say) for t in files.language.templates.disregard),
        changed=change.because if change else None,
    )


def _with_other(files: _Files, position: Position) -> Position:
    """The position with what nobody has foreseen. Raises InputError where its id is taken."""
    other = other_of(position.id, files.language)
    _check_ids(files, position.id, [other, *position.items])
    return replace(position, other=other)


def _rest(files: _Files, absent: list[NotFitted]) -> Position:
    name = files.language.words("selector-off")
    items = _fitted(files, (OFF, name), files.type.rest, absent)
    select = files.language.templates.selector_off
    return Position(OFF, name, select[0], {}, tuple(items), select)


def _fitted(
    files: _Files,
    position: tuple[str, str],
    expect: Mapping[str, model.Expectation],
    absent: list[NotFitted],
    gone: tuple[str, str] | None = None,
) -> list[Item]:
    """The items of a position (id, name), checked; those that are not fitted go to `absent`.

    gone: why the whole position is not fitted, and how it is called. Raises InputError.
    """
    position_id, name = position
    items: list[Item] = []
    for expectation_id, expectation in expect.items():
        derived = _items(files, position_id, expectation_id, expectation)
        why = files.airframe.not_fitted.get(f"{position_id}.{expectation_id}")
        why, say = gone or (why, None)
        if why is None:
            items.extend(with_meaning(derived, expectation, files.language))
            continue
        absent.extend(NotFitted(i.id, position_id, name, i.expected, why, say) for i in derived)
    if gone is None:
        _check_ids(files, position_id, [*items, *absent])
        _check_after(files, position_id, items, expect)
    return items


def _items(
    files: _Files, position_id: str, expectation_id: str, expectation: model.Expectation
) -> tuple[Item, ...]:
    derived = items_of(position_id, expectation_id, expectation, files.language)
    if expectation.mel is None:
        return derived
    found = files.airframe.mel.get(expectation.mel)
    mel = (
        Mel(expectation.mel, found.category, found.title, found.remark, found.days)
        if found
        else None
    )
    return tuple(replace(item, mel=mel) for item in derived)


def _check_references(files: _Files) -> None:
    type_, airframe = files.type, files.airframe
    if OFF in type_.positions:
        raise InputError(
            files.type_source.place(("positions", OFF)),
            "'off' is the selector's rest position",
            "put what is to be seen there under 'rest:'",
        )
    for source, minutes in (
        (files.type_source, type_.battery_minutes),
        (files.airframe_source, airframe.battery_minutes),
    ):
        if minutes is not None and _ONCE_TIMED not in type_.buses:
            raise InputError(
                source.place(("battery_minutes",)),
                f"no bus has the id '{_ONCE_TIMED}', so nothing would be timed",
                f"write 'minutes: {minutes:g}' with the bus that is meant, under 'buses:'",
            )
    _check_names(files)
    for position_id, position in type_.positions.items():
        path = ("positions", position_id)
        _check_buses(files, files.type_source, path, position.power, position.expect)
    for expectation_id, expectation in type_.rest.items():
        rest = ("rest", expectation_id)
        _check_buses(files, files.type_source, rest, expectation.power, {})
    for position_id, change in airframe.changes.items():
        where = ("changes", position_id)
        _check_buses(files, files.airframe_source, where, change.power or {}, change.expect)


def _check_names(files: _Files) -> None:
    """What an airframe changes, or lacks, its type has."""
    type_, airframe = files.type, files.airframe
    for bus in airframe.minutes:
        if bus not in type_.buses:
            _unknown(files.airframe_source, ("minutes", bus), type_.buses)
    for position_id in airframe.changes:
        if position_id not in type_.positions:
            _unknown(files.airframe_source, ("changes", position_id), type_.positions)
    known = [
        *type_.positions,
        *(f"{p}.{e}" for p, position in type_.positions.items() for e in position.expect),
        *(f"{OFF}.{e}" for e in type_.rest),
    ]
    for key in airframe.not_fitted:
        if key not in known:
            _unknown(files.airframe_source, ("not_fitted", key), known)


def _check_buses(
    files: _Files,
    source: Sourced,
    path: tuple[str, ...],
    power: Mapping[str, str],
    expect: Mapping[str, model.Expectation],
) -> None:
    buses = files.type.buses
    for bus in power:
        if bus not in buses:
            _unknown(source, (*path, "power", bus), buses)
    for expectation_id, expectation in expect.items():
        for bus in expectation.power:
            if bus not in buses:
                _unknown(source, (*path, "expect", expectation_id, "power", bus), buses)


def _check_ids(files: _Files, position_id: str, items: Sequence[Item | NotFitted]) -> None:
    """One call must never count for two items, so no two may have one id.

    An expectation may become several items ("horn" and "horn-silence"), and so meet the id of
    another one; or two throws of a switch may have one id.
    """
    seen: set[str] = set()
    for item in items:
        if item.id in seen:
            raise InputError(
                place_in_files(position_id, item.id, files.type_source, files.airframe_source),
                f"two items would both be '{item.id}'",
                "give the expectation or the throw another id",
            )
        seen.add(item.id)


def _check_after(
    files: _Files,
    position_id: str,
    items: list[Item],
    expect: Mapping[str, model.Expectation],
) -> None:
    """What must come first is there, and what must go out is a lamp."""
    ids = {item.id for item in items}
    for item in items:
        for needed in item.after:
            if needed not in ids:
                raise InputError(
                    _lamp_place(files, position_id, item),
                    f"{item.id} needs '{needed}', which this position does not have on "
                    f"{files.airframe.registration}",
                    "name a one-lamp expectation of the same position, or mark "
                    f"'{item.id}' not fitted as well",
                )
            lit = expect.get(needed.split(".", 1)[1])
            if item.window is not None and not (
                isinstance(lit, model.Lamps) and len(lit.lamps) == 1
            ):
                raise InputError(
                    _lamp_place(files, position_id, item),
                    f"{item.id} times '{needed}', which is not one lamp",
                    "name a one-lamp expectation of the same position",
                )


def _lamp_place(files: _Files, position_id: str, item: Item) -> Place:
    """Where a timed item names its lamp: in the airframe's change, or in the type."""
    expectation = item.id.split(".", 1)[1]
    changed = ("changes", position_id, "expect", expectation)
    if changed in files.airframe_source.places:
        return files.airframe_source.place((*changed, "lamp"))
    inside = ("rest",) if position_id == OFF else ("positions", position_id, "expect")
    return files.type_source.place((*inside, expectation, "lamp"))


def _check_phrases(files: _Files, checklist: Checklist) -> None:
    """Two callouts that can be said in one position must not share their words."""
    shared = {phrase: f"command {name}" for name, ps in checklist.commands.items() for phrase in ps}
    for name, wordings in checklist.reasons.items():
        shared |= dict.fromkeys(wordings, f"reason {name}")
    for bus in checklist.buses:
        shared |= dict.fromkeys((*bus.on, *bus.off), f"bus {bus.id}")
    for position in checklist.positions:
        for phrase in position.select:
            _claim(files, shared, phrase, f"position {position.id}", position.id)
    for item in checklist.items:
        if item.window is not None:  # open windows listen from every position
            _claim_readings(files, shared, item, item.readings)
    for position in checklist.positions:
        local = dict(shared)
        for item in position.called:
            _claim_readings(files, local, item, (*item.readings, *item.darks))


def _claim_readings(
    files: _Files, taken: dict[str, str], item: Item, readings: Sequence[Reading]
) -> None:
    for reading in readings:
        for phrase in reading.phrases:
            _claim(files, taken, phrase, f"item {item.id}", item.position)


def _claim(files: _Files, taken: dict[str, str], phrase: str, owner: str, position_id: str) -> None:
    other = taken.setdefault(phrase, owner)
    if other != owner:
        raise InputError(
            files.type_source.place(("positions", position_id)),
            f"'{phrase}' would mean both {other} and {owner}",
            "give one of them another 'call' or 'say'",
        )


def _unknown(source: Sourced, path: tuple[str, ...], known: Iterable[str]) -> None:
    names = list(known)
    close = difflib.get_close_matches(path[-1], names, n=1)
    hint = f"did you mean '{close[0]}'? " if close else ""
    hint += f"known are: {', '.join(names)}"
    if path[-2:-1] == ("power",):
        hint += "; or add it under 'buses:' there"
    raise InputError(source.place(path), f"'{path[-1]}' is not in the type file", hint)
