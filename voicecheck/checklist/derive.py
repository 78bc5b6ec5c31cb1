"""From an expectation to items and their readings: what may be called about it.

Good and bad wordings come from the grammar's templates, and so does what a finding says: that
is for the record, and nobody calls it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final

from voicecheck.checklist import model
from voicecheck.checklist.resolved import OFF, Grade, Item, Lamp, Reading, Shows, Window
from voicecheck.language import Language

OTHER: Final = "other"
"""The last part of the id of what nobody has foreseen in a position."""


def items_of(
    position: str, expectation_id: str, expectation: model.Expectation, language: Language
) -> tuple[Item, ...]:
    """The items of one expectation, in the order in which they can be called."""
    base = Item(
        id=f"{position}.{expectation_id}",
        position=position,
        expected="",
        readings=(),
        power=dict(expectation.power),
        consequence=expectation.consequence,
        caution=expectation.caution,
        chapter=expectation.chapter,
        read_back=expectation.read_back,
    )
    return _DERIVE[type(expectation)](base, expectation, language)


def _fill(templates: tuple[str, ...], **slots: str) -> tuple[str, ...]:
    phrases = (" ".join(text.format(**slots).split()) for text in templates)
    return tuple(dict.fromkeys(phrases))


def _good(base: Item, phrases: tuple[str, ...], key: str = "good") -> Reading:
    return Reading(f"{base.id}:{key}", phrases, Grade.GOOD)


def _bad(base: Item, phrases: tuple[str, ...], finding: str, key: str = "bad") -> Reading:
    return Reading(f"{base.id}:{key}", phrases, Grade.BAD, finding)


def _lamps(base: Item, lamps: model.Lamps, language: Language) -> tuple[Item, ...]:
    total = len(lamps.lamps)
    captions = tuple(lamp.caption for lamp in lamps.lamps)
    shown = tuple(Lamp(lamp.caption, lamp.colour) for lamp in lamps.lamps)
    named = language.words("comma").join(captions)
    base = replace(base, reports=named, shows=Shows.LIT, lamps=shown)
    words = language.templates
    if "#" not in lamps.call:
        good = _good(base, _fill(words.lamp_lit, call=lamps.call))
        dark = Reading(
            f"{base.id}:bad",
            _fill(words.lamp_dark, call=lamps.call),
            Grade.BAD,
            language.words("finding-dark", lamps=captions[0]),
            captions,
        )
        return (replace(base, expected=good.phrases[0], readings=(good, dark)),)
    darks = tuple(
        Reading(
            f"{base.id}:dark-{index}",
            _fill(words.lamp_named_dark, lamp=lamp.say),
            Grade.BAD,
            language.words("finding-dark", lamps=lamp.caption),
            (lamp.caption,),
        )
        for index, lamp in enumerate(lamps.lamps)
    )
    counts = tuple(
        _count(base, lamps.call, n, total, captions, language) for n in range(total, -1, -1)
    )
    if total == 1:
        darks = ()
    return (replace(base, expected=counts[0].phrases[0], readings=counts, darks=darks),)


def _count(
    base: Item, call: str, n: int, total: int, captions: tuple[str, ...], language: Language
) -> Reading:
    spoken = call.replace("#", _number_at(call, n, language))
    if n == 1:
        spoken = _singular(spoken, language)
    key = f"{base.id}:{n}"
    if n == total:
        phrases: tuple[str, ...] = (spoken,)
        if total == 2 and call.startswith("#"):
            phrases = (call.replace("#", language.both), spoken)
        return Reading(key, phrases, Grade.GOOD)
    only = _fill(language.templates.group_only, call=spoken) if n else ()
    if n == 0:
        finding = language.words("finding-dark", lamps=base.reports)
        return Reading(key, (spoken,), Grade.BAD, finding, captions)
    finding = language.words("finding-count", n=n, total=total, lamps=base.reports)
    return Reading(key, (spoken, *only), Grade.SHORT, finding)


def _number_at(call: str, n: int, language: Language) -> str:
    # "no fire lights", but "left side none".
    return language.none if n == 0 and call.endswith("#") else language.number(n)


def _singular(spoken: str, language: Language) -> str:
    """As it is called of one: the language says which endings are of several."""
    for several, one in language.singular.items():
        if spoken.endswith(several):
            return spoken.removesuffix(several) + one
    return spoken


def _aural(base: Item, aural: model.Aural, language: Language) -> tuple[Item, ...]:
    words, call = language.templates, aural.call
    base = replace(base, reports=call, shows=Shows.SOUNDS, sound=aural.sound)
    good = _good(base, _fill(words.aural_good, call=call))
    bad = _bad(base, _fill(words.aural_bad, call=call), language.words("finding-silent", call=call))
    sound = replace(base, expected=good.phrases[0], readings=(good, bad))
    if aural.silence == "not-tried":
        return (sound,)
    silenced = _fill(words.aural_silenced, call=call)
    continues = _fill(words.aural_continues, call=call)
    stage = replace(base, id=f"{base.id}-silence", after=(sound.id,))
    if aural.silence == "must-silence":
        ok, wrong = (
            silenced,
            _bad(stage, continues, language.words("finding-not-silenced", call=call)),
        )
    else:
        ok = continues
        wrong = _bad(stage, silenced, language.words("finding-silenced", call=call))
    shows = Shows.FALLS_SILENT if ok is silenced else Shows.SOUNDS_ON
    stage = replace(stage, expected=ok[0], readings=(_good(stage, ok), wrong), shows=shows)
    if not aural.returns:
        return (sound, stage)
    back = replace(base, id=f"{base.id}-returns", after=(stage.id,))
    returns = _good(back, _fill(words.aural_returns, call=call))
    quiet = _bad(
        back,
        _fill(words.aural_stays_quiet, call=call),
        language.words("finding-not-back", call=call),
    )
    back = replace(back, expected=returns.phrases[0], readings=(returns, quiet))
    return (sound, stage, replace(back, shows=Shows.RETURNS))


def _tactile(base: Item, tactile: model.Tactile, language: Language) -> tuple[Item, ...]:
    call = tactile.call
    good = _good(base, _fill(language.templates.tactile_good, call=call))
    bad = _bad(
        base,
        _fill(language.templates.tactile_bad, call=call),
        language.words("finding-not-felt", call=call),
    )
    base = replace(base, reports=call, shows=Shows.FELT)
    return (replace(base, expected=good.phrases[0], readings=(good, bad)),)


def _gauge(base: Item, gauge: model.Gauge, language: Language) -> tuple[Item, ...]:
    good = _good(base, gauge.good)
    bad = tuple(
        _bad(base, (wrong.say,), wrong.finding, key=f"bad-{index}")
        for index, wrong in enumerate(gauge.bad)
    )
    dark = base.position == OFF if gauge.dark is None else gauge.dark
    shows = Shows.NOTHING if dark else Shows.READS
    base = replace(base, reports=language.words("gauge"), shows=shows)
    return (replace(base, expected=gauge.expected, readings=(good, *bad)),)


def _cancel(base: Item, cancel: model.Cancel, language: Language) -> tuple[Item, ...]:
    resets = _fill(language.templates.cancels, call=cancel.call)
    stays = _fill(language.templates.stays, call=cancel.call)
    if cancel.must == "reset":
        ok, wrong = resets, _bad(base, stays, language.words("finding-no-reset", call=cancel.call))
    else:
        ok = stays
        wrong = _bad(base, resets, language.words("finding-reset", call=cancel.call))
    shows = Shows.RESETS if cancel.must == "reset" else Shows.STAYS
    base = replace(base, reports=cancel.call, shows=shows)
    return (replace(base, expected=ok[0], readings=(_good(base, ok), wrong)),)


def _absent(base: Item, absent: model.Absent, language: Language) -> tuple[Item, ...]:
    good = _good(base, _fill(language.templates.absent_good, call=absent.call))
    bad = _bad(
        base,
        _fill(language.templates.absent_bad, call=absent.call),
        language.words("finding-lit", lamp=absent.caption),
    )
    base = replace(base, shows=Shows.DARK, lamps=(Lamp(absent.caption, lit=False),))
    base = replace(base, reports=absent.caption)
    return (replace(base, expected=good.phrases[0], readings=(good, bad)),)


def _throws(base: Item, switch: model.Throws, language: Language) -> tuple[Item, ...]:
    items: list[Item] = []
    for throw in switch.throws:
        item = replace(base, id=f"{base.id}-{throw.id}")
        thrown = {"lamp": switch.caption, "switch": switch.call, "throw": throw.say}
        good = _good(item, _fill(language.templates.throw_lit, throw=throw.say))
        dark = Reading(
            f"{item.id}:bad",
            _fill(language.templates.throw_dark, throw=throw.say),
            Grade.BAD,
            language.words("finding-throw-dark", **thrown),
            (switch.caption,),
        )
        items.append(
            replace(
                item,
                expected=good.phrases[0],
                readings=(good, dark),
                reports=language.words("throw", **thrown),
                shows=Shows.THROWN,
                lamps=(Lamp(switch.caption),),
            )
        )
    return (*items, _put_back(base, switch, tuple(item.id for item in items), language))


def _put_back(
    base: Item, switch: model.Throws, throws: tuple[str, ...], language: Language
) -> Item:
    """The switch goes back, whatever its throws have shown."""
    item, words = replace(base, id=f"{base.id}-back", after=throws), language.templates
    phrases = _fill(words.throw_back, call=switch.call)
    if switch.back is not None:
        phrases = _fill(words.throw_back_to, call=switch.call, back=switch.back)
    good = _good(item, phrases)
    stuck = _bad(
        item,
        _fill(words.throw_stuck, call=switch.call),
        language.words("finding-not-put-back", switch=switch.call),
    )
    return replace(
        item,
        expected=good.phrases[0],
        readings=(good, stuck),
        reports=switch.call,
        shows=Shows.BACK,
        put_back=True,
    )


def other_of(position: str, language: Language) -> Item:
    """Whatever else may be seen or heard in a position, beside what is expected there."""
    item = f"{position}.{OTHER}"
    readings = tuple(
        Reading(f"{item}:{name}", phrases, Grade.BAD, language.words(f"finding-other-{name}"))
        for name, phrases in language.other.items()
    )
    return Item(
        id=item,
        position=position,
        expected=language.words("other-expected"),
        readings=readings,
        reports=language.words("other"),
        unforeseen=True,
    )


def _extinguish(base: Item, lamp: model.Extinguish, language: Language) -> tuple[Item, ...]:
    words, call = language.templates, lamp.call
    good = _good(base, _fill(words.extinguish_out, call=call), key="out")
    bad = _bad(
        base,
        _fill(words.extinguish_stays, call=call),
        language.words("finding-stays-lit", call=call),
    )
    lower, upper = lamp.within.from_, lamp.within.to
    expected = language.said.out_between.format(call=call, lower=f"{lower:g}", upper=f"{upper:g}")
    return (
        replace(
            base,
            expected=expected,
            readings=(good, bad),
            window=Window(lower, upper),
            after=(f"{base.position}.{lamp.lamp}",),
            reports=call,
            shows=Shows.GOES_OUT,
        ),
    )


_DERIVE: Final[dict[type, Callable[..., tuple[Item, ...]]]] = {
    model.Lamps: _lamps,
    model.Aural: _aural,
    model.Tactile: _tactile,
    model.Gauge: _gauge,
    model.Cancel: _cancel,
    model.Absent: _absent,
    model.Throws: _throws,
    model.Extinguish: _extinguish,
}
