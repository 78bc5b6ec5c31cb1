"""A picture in words for a screen of text: what stands where, as plain styled lines.

Pure: from the picture alone. Signs and words say what colour would; no line needs colour.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from rich.text import Text

from voicecheck.words import say

BOLD: Final = "bold"
INVERSE: Final = "bold reverse"
_ANSWERS: Final = ("command:affirm", "command:negative")


def standing(item: Mapping[str, Any]) -> tuple[str, str]:
    """Sign and word of an item."""
    outcome = item["outcome"]
    told = {
        "satisfactory": ("✓", say("item-good")),
        "unsatisfactory": ("✗", say("item-finding", called=item["called"])),
        "void": ("↺", say("item-void")),
    }
    if item["which_dark"]:
        return "?", say("item-which-dark")
    if item["read_back"]:
        return "…", say("item-read-back")
    if outcome in told:
        return told[outcome]
    if item["blocked"]:
        return "–", say("item-blocked")
    if item["lacks"]:
        needs = (say("bus-state", bus=bus, state=say(w)) for bus, w in item["lacks"].items())
        return "○", say("item-needs", needs=say("comma").join(needs))
    if item["timed"]:
        return "◷", say("item-timed")
    return ("·", say("item-then")) if item["waits"] else ("○", say("item-open"))


def current(state: Mapping[str, Any]) -> Mapping[str, Any] | None:
    """The item a glance should land on: asked about, else the first one open."""
    items: Sequence[Mapping[str, Any]] = state.get("items", ())
    for item in items:
        if item["which_dark"] or item["read_back"]:
            return item
    return next((item for item in items if _open(item)), None)


def _open(item: Mapping[str, Any]) -> bool:
    counted = item["outcome"] in ("satisfactory", "unsatisfactory")
    return not counted and not item["blocked"] and not item["timed"]


def asked(state: Mapping[str, Any]) -> str:
    """The open question in words, or that we hold; empty when neither."""
    question = state.get("question")
    if question is not None:
        return say(f"ask-{question['ask']}", words=say("comma").join(question["words"]))
    if state.get("phase") == "held":
        return say("ask-held-why", why=state["held"]) if state.get("held") else say("ask-held")
    return ""


def head(picture: Mapping[str, Any]) -> Text:
    """Whose checklist, and the phase."""
    state = picture["state"]
    text = Text()
    text.append(str(state.get("registration", "voicecheck")), BOLD)
    text.append(f"  {state.get('title', '')}   ")
    text.append(say(f"phase-{state['phase']}"), BOLD)
    return text


def cockpit(picture: Mapping[str, Any]) -> Text:
    """What a simulated aircraft shows, or empty: lamps that are lit or looked at here, the rest."""
    panel, text = picture["cockpit"], Text()
    items = picture["state"].get("items", ())
    here_ = {lamp["caption"] for item in items for lamp in item["lamps"]}
    if panel is None:
        return text
    text.append(f"{say('aircraft')}  ", BOLD)
    for lamp in panel["lamps"]:
        if lamp["lit"]:
            text.append(f" {_lit(lamp)} ", INVERSE)
        elif lamp["caption"] in here_:
            dark = _nonbreaking(_is(lamp, say("lamp-out")))
            text.append(f"({dark})")
        else:
            continue
        text.append(" ")
    buses = [
        say("bus-live" if live else "bus-dead", bus=bus) for bus, live in panel["buses"].items()
    ]
    heard = [say("sounds", sound=sound) for sound in panel["sounds"]]
    heard += [say("felt", sound=felt) for felt in panel["felt"]]
    rest = [*buses, *(heard or [say("silent")]), *panel["gauges"], panel["done"]]
    text.append("\n" + "; ".join(filter(None, rest)))
    return text


def _lit(lamp: Mapping[str, Any]) -> str:
    colour = lamp["colour"]
    return _nonbreaking(_is(lamp, say(f"colour-{colour}") if colour else say("lamp-lit")))


def _is(lamp: Mapping[str, Any], word: str) -> str:
    return say("lamp-is", caption=lamp["caption"], word=word)


def _nonbreaking(words: str) -> str:
    return words.replace(" ", chr(0xA0))


def here(picture: Mapping[str, Any]) -> Text:
    """The position, what is asked, and its items with their lamps."""
    state = picture["state"]
    at = state.get("position")
    text = Text()
    if state["phase"] == "finished":
        return _result(state)
    _place(text, state)
    if state.get("lost"):
        text.append(say("ask-lost", parts=_parts(state["lost"])) + "\n", INVERSE)
    if question := asked(state):
        text.append(f"{question}\n", INVERSE)
    if at is not None and at["caution"]:
        text.append(say("caution-of", text=at["caution"]) + "\n", BOLD)
    aim = current(state)
    for item in state.get("items", ()):
        _item(text, item, aim=item is aim)
    if at is not None and aim is None and state.get("next"):
        text.append(say("next-say", say=state["next"]["say"]) + "\n", BOLD)
    return text


def _place(text: Text, state: Mapping[str, Any]) -> None:
    """Where the selector is, or what comes first or next."""
    at = state.get("position")
    silent = [bus["label"] for bus in state.get("power", ()) if not (bus["state"] or bus["asked"])]
    if at is not None:
        text.append(say("position-of", number=at["number"], all=at["of"]) + "\n")
        text.append(f"{at['name']}\n", INVERSE)
    elif silent:
        text.append(say("first") + "\n")
        text.append(say("call-power-of", buses=say("comma").join(silent)) + "\n", INVERSE)
    elif state.get("next"):
        text.append(say("next") + "\n")
        text.append(f"{state['next']['say']}\n", INVERSE)


def _parts(lost: Sequence[str]) -> str:
    return say("comma").join(say(f"part-{part}") for part in lost)


def _item(text: Text, item: Mapping[str, Any], *, aim: bool) -> None:
    sign, word = standing(item)
    style = BOLD if aim else ""
    text.append(f"{'▶' if aim else ' '} {sign} {item['expected']}  ", style)
    text.append(f"{word}\n", style)
    if item["lamps"]:
        lamps = "  ".join(_lamp(lamp, item["outcome"]) for lamp in item["lamps"])
        text.append(f"      {lamps}\n", style)


def _lamp(lamp: Mapping[str, Any], outcome: str | None) -> str:
    if not lamp["lit"]:
        return f"({_is(lamp, say('lamp-stays-dark'))})"
    if lamp["dark"]:
        return f"[{_is(lamp, say('lamp-dark'))}]"
    colour = lamp["colour"]
    caption = _is(lamp, say(f"colour-{colour}")) if colour else lamp["caption"]
    return f"[{caption}{' ✓' if outcome == 'satisfactory' else ''}]"


def _result(state: Mapping[str, Any]) -> Text:
    text = Text(say("covered" if state["complete"] else "not-complete") + "\n", BOLD)
    for one in state["findings"]:
        told = say("finding-of", position=one["position"], what=one["what"])
        text.append(f"✗ {told}\n", BOLD)
    left = [position["name"] for position in state["positions"] if position["left"]]
    if left:
        told = say("result-untested-list", positions=say("comma").join(left))
        text.append(f"○ {told}\n")
    text.append(say("advisory") + "\n")
    return text


def side(picture: Mapping[str, Any], now: float, level: float, *, speaking: bool) -> Text:
    """What was heard and said, the running time, power, what is left, findings.

    now: stream time of this moment in seconds; level: input peak in dBFS.
    """
    state, text = picture["state"], Text()
    last = picture["heard"]
    if last is None:
        text.append(say("heard-nothing") + "\n\n")
    else:
        text.append(f"{last['words'] or '—'}\n", BOLD)
        how = "unclear-long" if last["how"] == "unclear" else last["how"]
        text.append(say(f"heard-{how}") + "\n")
    text.append(f"{_bar(level)} {say('ear-hearing') if speaking else ''}\n")
    said = [line for line in picture["lines"] if line["who"] in ("voice", "note")]
    if said:
        text.append(f"{said[-1]['text']}\n", BOLD if said[-1]["warning"] else "")
    for window in state.get("windows", ()):
        text.append(f"\n{_running(window, now)}\n", INVERSE)
        text.append(f"“{window['call']}”\n")
    text.append("\n")
    _power(text, state)
    _left(text, state)
    return text


def _power(text: Text, state: Mapping[str, Any]) -> None:
    for bus in state.get("power", ()):
        state_ = say(f"bus-{bus['state']}") if bus["state"] else say("bus-not-called-short")
        known = say("bus-asked") if bus["asked"] else state_
        text.append(f"{bus['bus']} {known}", BOLD)
        if bus["wanted"]:
            met = bus["wanted"] == bus["state"]
            needs = say("bus-needs", state=say(f"bus-{bus['wanted']}"))
            text.append(f"  {'✓' if met else '✗'} {needs}", "" if met else INVERSE)
        text.append("\n")


def _left(text: Text, state: Mapping[str, Any]) -> None:
    positions = state.get("positions", ())
    left = sum(1 for position in positions if position["left"])
    if positions:
        told = say("positions-left", n=left, all=len(positions))
        text.append(f"\n{told}\n", BOLD)
        for number, position in enumerate(positions, start=1):
            sign = "✗" if position["findings"] else "○" if position["left"] else "✓"
            is_here = (state.get("position") or {}).get("id") == position["id"]
            text.append(f"{number}{sign}", "reverse" if is_here else "")
            text.append(" ")
        text.append("\n")
    found = state.get("findings", ())
    text.append(say("findings-count", n=len(found)) + "\n", BOLD)
    for one in found[-3:]:
        text.append(f"✗ {one['what']}\n")


def _running(window: Mapping[str, Any], now: float) -> str:
    ran = max(0.0, now - window["anchor"])
    if ran < window["lower"]:
        word = say("window-in", seconds=f"{window['lower'] - ran:.0f}")
    elif ran < window["upper"]:
        word = say("window-now", seconds=f"{window['upper'] - ran:.0f}")
    else:
        word = say("window-over")
    filled = min(20, round(20 * ran / (window["upper"] * 1.25)))
    return f"{'█' * filled}{'░' * (20 - filled)} {say('window-ran', seconds=_tenths(ran))} {word}"


def _tenths(seconds: float) -> str:
    return f"{seconds:.1f}".replace(".", say("decimal"))


def _bar(level: float) -> str:
    filled = max(0, min(10, round((level + 60) / 6)))
    return f"[{'=' * filled}{' ' * (10 - filled)}]"


def calls(picture: Mapping[str, Any], typed: str) -> Text:
    """What can be called now: by the keys typed so far, else about the current item."""
    offers = picture["offers"]
    text = Text()
    for offer in _shown(offers, picture["state"], typed):
        text.append(f" {offer['keys']} ", "reverse")
        text.append(f" {_nonbreaking(offer['words'])}   ")
    if not typed and any(offer["group"] == "select" for offer in offers):
        for key, what in (("g", say("keys-go-to")), ("p", say("keys-power"))):
            text.append(f" {key} ", "reverse")
            text.append(f" {_nonbreaking(what)}   ")
    return text


def _shown(
    offers: Sequence[Mapping[str, Any]], state: Mapping[str, Any], typed: str
) -> list[Mapping[str, Any]]:
    if typed:
        return [offer for offer in offers if offer["keys"].startswith(typed)]
    aim = current(state)
    groups = {window["item"] for window in state.get("windows", ())}
    if aim is not None:
        groups.add(aim["id"])
    shown = [o for o in offers if o["callout"] in _ANSWERS or o["group"] in groups]
    return shown + [o for o in offers if o["group"] in ("command", "reason") and o not in shown]
