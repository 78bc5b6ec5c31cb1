"""A picture in words for a screen of text: what stands where, as plain styled lines.

Pure: from the picture alone. Signs and words say what colour would; no line needs colour.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from rich.text import Text

BOLD: Final = "bold"
INVERSE: Final = "bold reverse"
_ANSWERS: Final = ("command:affirm", "command:negative")
PHASES: Final = {
    "starting": "Starting",
    "between": "Between positions",
    "testing": "Testing",
    "at-rest": "Selector off",
    "held": "HOLDING",
    "finished": "Session ended",
}
HEARD: Final = {
    "heard": "✓ heard and accepted",
    "touched": "✓ touched",
    "keyed": "✓ by key",
    "unclear": "✗ not understood, say again",
    "refused": "✗ not taken",
}


def standing(item: Mapping[str, Any]) -> tuple[str, str]:
    """Sign and word of an item."""
    outcome = item["outcome"]
    told = {
        "satisfactory": ("✓", "as expected"),
        "unsatisfactory": ("✗", f"FINDING: {item['called']}"),
        "void": ("↺", "void, call again"),
    }
    if item["which_dark"]:
        return "?", "which one is dark?"
    if item["read_back"]:
        return "…", "read back"
    if outcome in told:
        return told[outcome]
    if item["blocked"]:
        return "–", "cannot be tested"
    if item["lacks"]:
        return "○", "needs " + ", ".join(f"{bus} {want}" for bus, want in item["lacks"].items())
    if item["timed"]:
        return "◷", "after leaving"
    return ("·", "then") if item["waits"] else ("○", "expected")


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
        return {
            "claims": f"{', '.join(question['words'])}. Affirm?",
            "complete": "Some positions are not tested. End without them?",
            "abandon": "Abandon the test? Why?",
        }[str(question["ask"])]
    if state.get("phase") == "held":
        return f"Holding: {state['held']}" if state.get("held") else "Holding"
    return ""


def head(picture: Mapping[str, Any]) -> Text:
    """Whose checklist, and the phase."""
    state = picture["state"]
    text = Text()
    text.append(str(state.get("registration", "voicecheck")), BOLD)
    text.append(f"  {state.get('title', '')}   ")
    text.append(PHASES.get(str(state["phase"]), str(state["phase"])), BOLD)
    return text


def cockpit(picture: Mapping[str, Any]) -> Text:
    """What a simulated aircraft shows, or empty: lamps that are lit or looked at here, the rest."""
    panel, text = picture["cockpit"], Text()
    items = picture["state"].get("items", ())
    here_ = {lamp["caption"] for item in items for lamp in item["lamps"]}
    if panel is None:
        return text
    text.append("Simulated aircraft  ", BOLD)
    for lamp in panel["lamps"]:
        if lamp["lit"]:
            text.append(f" {_lit(lamp)} ", INVERSE)
        elif lamp["caption"] in here_:
            text.append(f"({_nonbreaking(lamp['caption'] + ' dark')})")
        else:
            continue
        text.append(" ")
    buses = [f"{bus} {'live' if live else 'dead'}" for bus, live in panel["buses"].items()]
    heard = [f"{sound} sounds" for sound in panel["sounds"]]
    heard += [f"{felt} felt" for felt in panel["felt"]]
    rest = [*buses, *(heard or ["silent"]), *panel["gauges"], panel["done"]]
    text.append("\n" + "; ".join(filter(None, rest)))
    return text


def _lit(lamp: Mapping[str, Any]) -> str:
    return _nonbreaking(f"{lamp['caption']} {lamp['colour'] or 'lit'}")


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
        text.append(f"LOST: {', '.join(state['lost'])}\n", INVERSE)
    if question := asked(state):
        text.append(f"{question}\n", INVERSE)
    if at is not None and at["caution"]:
        text.append(f"Caution: {at['caution']}\n", BOLD)
    aim = current(state)
    for item in state.get("items", ()):
        _item(text, item, aim=item is aim)
    if at is not None and aim is None and state.get("next"):
        text.append(f"Next: {state['next']['say']}\n", BOLD)
    return text


def _place(text: Text, state: Mapping[str, Any]) -> None:
    """Where the selector is, or what comes first or next."""
    at = state.get("position")
    silent = [bus["label"] for bus in state.get("power", ()) if not (bus["state"] or bus["asked"])]
    if at is not None:
        text.append(f"Position {at['number']} of {at['of']}\n")
        text.append(f"{at['name']}\n", INVERSE)
    elif silent:
        text.append("First\n")
        text.append(f"Call power: {', '.join(silent)}\n", INVERSE)
    elif state.get("next"):
        text.append("Next\n")
        text.append(f"{state['next']['say']}\n", INVERSE)


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
        return f"({lamp['caption']} stays dark)"
    if lamp["dark"]:
        return f"[{lamp['caption']} DARK]"
    colour = f" {lamp['colour']}" if lamp["colour"] else ""
    return f"[{lamp['caption']}{colour}{' ✓' if outcome == 'satisfactory' else ''}]"


def _result(state: Mapping[str, Any]) -> Text:
    text = Text("All positions covered\n" if state["complete"] else "Not complete\n", BOLD)
    for one in state["findings"]:
        text.append(f"✗ {one['position']}: {one['what']}\n", BOLD)
    left = [position["name"] for position in state["positions"] if position["left"]]
    if left:
        text.append(f"○ not tested: {', '.join(left)}\n")
    text.append("Advisory only.\n")
    return text


def side(picture: Mapping[str, Any], now: float, level: float, *, speaking: bool) -> Text:
    """What was heard and said, the running time, power, what is left, findings.

    now: stream time of this moment in seconds; level: input peak in dBFS.
    """
    state, text = picture["state"], Text()
    last = picture["heard"]
    if last is None:
        text.append("Nothing heard yet\n\n")
    else:
        text.append(f"{last['words'] or '—'}\n", BOLD)
        text.append(f"{HEARD[last['how']]}\n")
    text.append(f"{_bar(level)} {'hearing you' if speaking else ''}\n")
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
        known = "asked…" if bus["asked"] else (bus["state"] or "not called").upper()
        text.append(f"{bus['bus']} {known}", BOLD)
        if bus["wanted"]:
            met = bus["wanted"] == bus["state"]
            text.append(
                f"  {'✓' if met else '✗'} needs {bus['wanted'].upper()}", "" if met else INVERSE
            )
        text.append("\n")


def _left(text: Text, state: Mapping[str, Any]) -> None:
    positions = state.get("positions", ())
    left = sum(1 for position in positions if position["left"])
    if positions:
        text.append(f"\n{left} of {len(positions)} positions left\n", BOLD)
        for number, position in enumerate(positions, start=1):
            sign = "✗" if position["findings"] else "○" if position["left"] else "✓"
            is_here = (state.get("position") or {}).get("id") == position["id"]
            text.append(f"{number}{sign}", "reverse" if is_here else "")
            text.append(" ")
        text.append("\n")
    found = state.get("findings", ())
    text.append(f"Findings: {len(found)}\n", BOLD)
    for one in found[-3:]:
        text.append(f"✗ {one['what']}\n")


def _running(window: Mapping[str, Any], now: float) -> str:
    ran = max(0.0, now - window["anchor"])
    if ran < window["lower"]:
        word = f"in {window['lower'] - ran:.0f} s"
    elif ran < window["upper"]:
        word = f"now: {window['upper'] - ran:.0f} s left"
    else:
        word = "time is over"
    filled = min(20, round(20 * ran / (window["upper"] * 1.25)))
    return f"{'█' * filled}{'░' * (20 - filled)} {ran:.1f} s {word}"


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
        for key, what in (("g", "go to…"), ("p", "power…")):
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
