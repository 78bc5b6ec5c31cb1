"""What must hold in every state and on every step, told from outside the engine.

cause       nothing is satisfactory without cause (witness.py)
loss        what has cause is satisfactory
miss        what was last called bad, and not made void, is unsatisfactory
finding     nothing is unsatisfactory without cause (witness.py)
place       a prompt names no item but of this position, a running window, the open question, or
            one that has just become void
complete    complete only with every item satisfactory, unsatisfactory, not fitted, or impossible
            to test because a stage before it is unsatisfactory
listed      what was found, or is not tested, is read out by name, and the test ends after a yes
silence     nothing is offered or said after the end, and a call not on offer changes nothing
time        time never runs backwards; after time has passed no wake is left in the past
spoken      what is said to be set is set, and what is said to be taken back was called last;
            "say again" says again
way out     from every state some callouts lead to the end (graph.py)
way on      ... without abandoning, and to a complete test (graph.py)
merge       states taken for one lead to the same states (graph.py)
replay      the same events give the same effects and state (graph.py)
crash       no event raises
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from voicecheck.checklist.resolved import Checklist, position_of
from voicecheck.engine import Engine
from voicecheck.engine.effects import Effect, Finish, Say
from voicecheck.engine.events import Event, Heard, KeyPressed, Passed
from voicecheck.engine.phases import Phase
from voicecheck.engine.state import (
    Affirmed,
    CalledAgain,
    Differed,
    FirstCalled,
    ItemCalled,
    LastAct,
    Outcome,
    Record,
    Result,
    SessionState,
)
from voicecheck.oracle.plan import Plan
from voicecheck.oracle.witness import Word
from voicecheck.oracle.witnessing import Witness

Problem = tuple[str, str]
"""Name of the invariant, and what is wrong."""

_GENERAL = frozenset({"preamble", "begin", "not-fitted", "call-power", "not-put-back"})
_AT_THE_END = frozenset({"end-found", "end-untested"})
_TAKEN_BACK = frozenset({"corrected", "disregarded"})
_TAKING_BACK = frozenset({"command:correction", "command:negative", "command:disregard"})
_YES = "command:affirm"


@dataclass(frozen=True, slots=True)
class Step:
    """One event and what it did. before: the state before it; offered: what could be said."""

    event: Event
    before: SessionState
    offered: Collection[str]
    effects: Sequence[Effect]
    engine: Engine
    witness: Witness


class Texts:
    """Which items a spoken text may be about."""

    def __init__(self, checklist: Checklist) -> None:
        self._owners: dict[str, set[str]] = {}
        for item in (*checklist.items, *checklist.others):
            texts = [item.expected]
            texts += [text for r in (*item.readings, *item.darks) for text in r.phrases]
            for text in texts:
                self._owners.setdefault(text, set()).add(item.id)
        self._known: dict[str, tuple[frozenset[str], ...]] = {}

    def about(self, text: str) -> tuple[frozenset[str], ...]:
        """For each item text inside `text`, the items that it may mean."""
        if text not in self._known:
            parts = [text] if text in self._owners else text.split(", ")
            self._known[text] = tuple(
                frozenset(self._owners[part]) for part in parts if part in self._owners
            )
        return self._known[text]


def take(
    plan: Plan,
    texts: Texts,
    engine: Engine,
    witness: Witness,
    offered: Collection[str],
    event: Event,
) -> tuple[Step | None, list[Problem]]:
    """Let the engine and the witness take an event; the step, None if something is wrong."""
    before = engine.state
    try:
        effects = engine.handle(event)
    except Exception as error:
        return None, [("crash", f"{type(error).__name__}: {error}")]
    if not isinstance(event, Heard | KeyPressed) or event.callout in offered:
        witness = witness.after(event, prompts_of(effects))
    step = Step(event, before, offered, effects, engine, witness)
    wrong = list(problems(plan, texts, step))
    return (None if wrong else step), wrong


def prompts_of(effects: Iterable[Effect]) -> set[str]:
    """Ids of the prompts that an event brought."""
    return {effect.prompt for effect in effects if isinstance(effect, Say)}


def problems(plan: Plan, texts: Texts, step: Step) -> Iterator[Problem]:
    """Everything that is wrong with one step and the state it leads to."""
    yield from _items(step)
    yield from _time(step)
    yield from _prompts(plan, texts, step)
    if isinstance(step.event, Heard | KeyPressed) and step.event.callout not in step.offered:
        after = replace(step.engine.state, now=step.before.now)
        if after != step.before:
            yield "silence", f"{step.event.callout} is not on offer and changes the state"
    if step.engine.phase is Phase.FINISHED:
        yield from _finished(plan, step)
    elif step.engine.state.complete:
        yield "complete", "complete before the end"


def _items(step: Step) -> Iterator[Problem]:
    records = step.engine.state.records
    for item, word in step.witness.words.items():
        record = records.get(item)
        now = record.now if record is not None else None
        wrong = _good(item, word, now) or _finding(item, word, now)
        if wrong is not None:
            yield wrong
        if now is not None and now.withdrawn is not None:
            yield "cause", f"{item} stands although it was withdrawn"


def _good(item: str, word: Word, now: Result | None) -> Problem | None:
    outcome = now.outcome if now is not None else None
    if outcome is Outcome.SATISFACTORY and not word.good:
        return ("miss" if word.bad else "cause"), f"{item} is satisfactory"
    if word.good and outcome is not Outcome.SATISFACTORY:
        return "loss", f"{item} was called good and is {outcome}"
    if word.good and now is not None and now.start != word.start:
        return "cause", f"{item} is satisfactory by another call"
    return None


def _finding(item: str, word: Word, now: Result | None) -> Problem | None:
    outcome = now.outcome if now is not None else None
    if word.found and outcome is not Outcome.UNSATISFACTORY:
        return "miss", f"{item} was called bad and is {outcome}"
    if outcome is Outcome.UNSATISFACTORY and not word.found:
        return "finding", f"{item} is unsatisfactory"
    return None


def _time(step: Step) -> Iterator[Problem]:
    now, wake = step.engine.state.now, step.engine.wake
    if now < step.before.now:
        yield "time", f"from {step.before.now} back to {now}"
    if isinstance(step.event, Passed) and wake is not None and wake <= now:
        yield "time", f"wake at {wake} is left in the past at {now}"


def _prompts(plan: Plan, texts: Texts, step: Step) -> Iterator[Problem]:
    said = [effect for effect in step.effects if isinstance(effect, Say)]
    key = step.event.callout if isinstance(step.event, Heard | KeyPressed) else ""
    if key == "command:say-again":
        yield from _said_again(step.before.last_said, said)
        return
    here = _current(plan, step.before) | _current(plan, step.engine.state)
    here |= _made_void(step)
    if key in _TAKING_BACK:
        here |= _last_called(step.before.last)
    for prompt in said:
        if prompt.prompt in _GENERAL:
            continue
        if prompt.prompt in _AT_THE_END:
            yield from _listed(plan, step, prompt)
            continue
        if prompt.prompt in _TAKEN_BACK:
            yield from _taken_back(step.before, prompt.values["words"])
            continue
        yield from _elsewhere(texts, prompt, here)
        if prompt.prompt == "missing":
            yield from _missing(plan, step, prompt.values["positions"])
        if prompt.prompt == "power-set":
            yield from _set(plan, step.engine.state, prompt.values["claims"])


def _said_again(before: Sequence[Say], said: Sequence[Say]) -> Iterator[Problem]:
    """The same once more; an open question may follow."""
    again, more = said[: len(before)], said[len(before) :]
    if before and (list(again) != list(before) or not all(map(_is_question, more))):
        yield "spoken", "say again says something else"


def _taken_back(before: SessionState, said: str) -> Iterator[Problem]:
    """The last call, wherever it was made, or what was asked about it."""
    last = before.last.words if before.last is not None else ""
    if said != (last or ", ".join(claim.words for claim in before.claims)):
        yield "spoken", f"{said} is said to be taken back and was not called last"


def _is_question(prompt: Say) -> bool:
    return prompt.prompt.startswith("confirm")


def _elsewhere(texts: Texts, prompt: Say, here: set[str]) -> Iterator[Problem]:
    for text in prompt.values.values():
        for owners in texts.about(text):
            if not owners & here:
                yield "place", f"{prompt.prompt} speaks of {text}, not current"


def _current(plan: Plan, state: SessionState) -> set[str]:
    items = {window.item for window in state.windows}
    if state.position is not None:
        here = plan.positions[state.position].called
        items |= {item.id for item in here} | {other for item in here for other in item.dark_of}
    claims = state.question.claims if state.question is not None else ()
    for key in (claim.callout for claim in claims):
        if key in plan.readings:
            items.add(plan.readings[key].item.id)
        # One yes can move the selector twice, when that is what was asked about.
        place = position_of(key)
        items |= {i.id for i in plan.positions[place].items} if place in plan.positions else set()
    return items


def _made_void(step: Step) -> set[str]:
    """Items that this step made void: the crew hears of them wherever the selector is."""
    before, after = step.before.records, step.engine.state.records
    return {
        item
        for item, record in after.items()
        if any(result.outcome is Outcome.VOID for result in _new(record, before.get(item)))
    }


def _new(record: Record, before: Record | None) -> Iterator[Result]:
    """The results that a step brought: one that is void can be disregarded by the same yes."""
    known = () if before is None else (before.now, *before.past)
    yield from (result for result in (record.now, *record.past) if result and result not in known)


def _last_called(act: LastAct | None) -> set[str]:
    """The items of the last call: what stands of one is told where it is taken back."""
    if isinstance(act, Affirmed):
        return set().union(*map(_last_called, act.acts))
    return (
        {act.item} if isinstance(act, ItemCalled | CalledAgain | FirstCalled | Differed) else set()
    )


def _listed(plan: Plan, step: Step, prompt: Say) -> Iterator[Problem]:
    """The list at the end: every finding that stands, every item of which nothing stands."""
    words, named = step.witness.words, plan.checklist.named
    for item_id, item in plan.items.items():
        position, found = plan.positions[item.position], words[item_id].found
        now = step.engine.state.records[item_id].now if found else None
        if prompt.prompt == "end-found":
            name = named(position, str(now.reason) if now else "")
            if now is not None and name not in prompt.values["found"]:
                yield "listed", f"{item_id} was found and is not read out"
        elif not (found or words[item_id].good or item.unforeseen):
            names = prompt.values["untested"].split(", ")
            if not {position.say, named(position, item.expected)} & set(names):
                yield "listed", f"{item_id} is not tested and not read out"


def _missing(plan: Plan, step: Step, said: str) -> Iterator[Problem]:
    records = step.engine.state.records
    for position in plan.positions.values():
        results = [records[i.id].now if i.id in records else None for i in position.items]
        is_open = any(result is None or not result.counted for result in results)
        if position.say in said.split(", ") and not is_open:
            yield "place", f"{position.id} is read out as missing and is not"


def _set(plan: Plan, state: SessionState, said: str) -> Iterator[Problem]:
    for bus in plan.checklist.buses:
        for words, wanted in ((bus.on[0], "on"), (bus.off[0], "off")):
            known = state.power.get(bus.id)
            if words in said.split(", ") and (known != wanted):
                yield "spoken", f"{words} is said to be set and is not"


def _finished(plan: Plan, step: Step) -> Iterator[Problem]:
    if step.engine.offers() or step.engine.wake is not None:
        yield "silence", "something is offered or due after the end"
    ends = [effect for effect in step.effects if isinstance(effect, Finish)]
    if len(ends) != 1:
        yield "silence", f"{len(ends)} summaries at the end"
    else:
        yield from _summary(plan, step, ends[0].summary)


def _summary(plan: Plan, step: Step, summary: Mapping[str, Any]) -> Iterator[Problem]:
    witness = step.witness
    outcomes = {item["id"]: item["outcome"] for item in summary["items"]}
    for item, word in witness.words.items():
        if outcomes.get(item) == Outcome.SATISFACTORY.value and not word.good:
            yield ("miss" if word.bad else "cause"), f"{item} is satisfactory in the summary"
    yield from _yes_to_the_list(plan, step, summary)
    if not summary["complete"]:
        return
    for item, outcome in outcomes.items():
        if outcome in ("satisfactory", "unsatisfactory", "not fitted"):
            continue
        if not _impossible(plan, outcomes, item):
            yield "complete", f"complete with {item} {outcome}"


def _yes_to_the_list(plan: Plan, step: Step, summary: Mapping[str, Any]) -> Iterator[Problem]:
    told = [finding for finding in summary["findings"] if not finding["superseded"]]
    key = step.event.callout if isinstance(step.event, Heard | KeyPressed) else _YES
    if told and key not in {_YES, *plan.others}:
        yield "listed", "ended with findings and without a yes to them"


def _impossible(plan: Plan, outcomes: Mapping[str, str], item: str) -> bool:
    """Whether a stage before it, directly or not, is unsatisfactory. A switch can go back."""
    stages = () if plan.items[item].put_back else plan.items[item].after
    return any(
        outcomes[s] == Outcome.UNSATISFACTORY.value or _impossible(plan, outcomes, s)
        for s in stages
    )
