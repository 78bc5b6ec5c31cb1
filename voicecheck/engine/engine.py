"""The checklist engine: events in, effects out. No I/O, no clock, no threads.

Rules of operation, in the order in which they are applied:

1. Only a callout that is on offer can do anything; any other is noted and left.
2. Time comes with each event and never runs backwards; a deadline is only acted on when
   nothing that began before it is still undecided (the Passed event).
3. A bus call (on, off) counts once it has been read back and affirmed, from the moment its
   words were spoken. Until then the bus is unknown.
4. A call about an item counts only under the power that the item needs and after the stages
   that must come first. Otherwise it is kept as void and the crew is told. A timed item needs
   its power from when the selector leaves until it is called. Where the call of another position
   was half understood, no later call counts before the crew has said yes or no to it, or where
   the selector is.
5. A power change makes the results of the present visit that need the old state void, unless
   the position has items for both states, so that it is switched there on purpose.
6. Bad news always counts: where rule 4 refuses it, an earlier good is void; half understood,
   asked about and not answered, it leaves the item open. Good news after bad news in the same
   visit needs a yes.
7. A later result supersedes an earlier one; nothing is erased. A bad call taken back leaves the
   item open: it never brings an earlier good one back. A repeat that tells nothing leaves a
   finding as it is.
8. With two crew, a marked item is good only when both have called it alike; where they
   differ, both are asked to look again.
9. Leaving a position starts its windows. A window is judged only when the whole measured
   interval lies on one side of its limits; otherwise it is to be repeated. Words that were
   not understood may have been the leaving or the closing call, and widen the interval.
10. The session completes only with the selector at off and nothing left to test, or after a
   yes to the list of what is missing, and then it is not complete.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Final

from voicecheck.callouts import Callout
from voicecheck.checklist.resolved import Checklist
from voicecheck.engine import doubt, observe, power, selecting, timed, unclear, whereabouts
from voicecheck.engine.commands import COMMANDS, give_reason, hold, place, resume
from voicecheck.engine.effects import Effect, Finish, Listen, Note, Say, Show, Wake
from voicecheck.engine.events import (
    Began,
    Ended,
    Event,
    Heard,
    KeyPressed,
    Lost,
    Overheard,
    Passed,
    Prompted,
    Restored,
    Unclear,
    time_of,
)
from voicecheck.engine.offers import (
    CloseWindow,
    Command,
    GiveReason,
    NameDark,
    Observe,
    Offer,
    Select,
    SelectNotFitted,
    SetPower,
    offers,
)
from voicecheck.engine.phases import Phase, PhaseKeeper
from voicecheck.engine.state import (
    Ask,
    Claim,
    LastAct,
    SessionState,
)
from voicecheck.engine.summary import closing_words, summarise
from voicecheck.engine.turn import Turn
from voicecheck.engine.view import view_of

TIMEKEEPERS: Final = ("microphone", "session")
"""Parts without which nothing that runs can be timed: the session holds until they are back."""
GOES_ON: Final = ("complete", "abandon", "crew-change")
"""Commands that leave an open question unanswered."""
MAX_REMINDERS: Final = 2


class Engine:
    """One session of one checklist."""

    def __init__(self, checklist: Checklist) -> None:
        self.checklist = checklist
        self._items = {item.id: item for item in checklist.items}
        self.state = SessionState()
        self._phases = PhaseKeeper()
        self._offered: tuple[Callout, ...] = ()
        self._known_offers: dict[object, tuple[dict[str, Offer], tuple[Callout, ...]]] = {}
        self._wake: float | None = None

    @property
    def phase(self) -> Phase:
        """Where the session stands."""
        return self._phases.phase

    @property
    def wake(self) -> float | None:
        """Stream time at which the next Passed event is wanted, if any."""
        return self._wake

    def offers(self) -> Mapping[str, Offer]:
        """What can be said now."""
        return self._offers_now()[0]

    def _offers_now(self) -> tuple[dict[str, Offer], tuple[Callout, ...]]:
        """The offers and their callouts: all that they depend on, and what it led to before."""
        state = self.state
        asks = None if state.question is None else state.question.ask
        running = tuple(sorted(window.item for window in state.windows))
        what = (self.phase, state.position, running, asks)
        found = self._known_offers.get(what)
        if found is None:
            made = offers(self.checklist, self.phase, state)
            found = self._known_offers[what] = made, tuple(o.callout for o in made.values())
        return found

    def look(self) -> Turn:
        """A turn in which nothing happens: the present state under the engine's own rules."""
        return Turn(self.checklist, self._items, self._phases, self.state, self.state.now)

    def handle(self, event: Event) -> list[Effect]:
        """Take one event; return what follows from it, in order."""
        if self.phase is Phase.FINISHED:
            return []
        now = max(self.state.now, time_of(event))
        turn = Turn(self.checklist, self._items, self._phases, self.state, now)
        turn.set(now=now)
        self._dispatch(turn, event)
        if turn.phase is Phase.FINISHED:
            doubt.lapse(turn)
        said = tuple(effect for effect in turn.effects if isinstance(effect, Say))
        if said and not _repeats(event):
            turn.set(last_said=said)
        self.state = turn.state
        return [*turn.effects, *self._closing(turn)]

    def fork(self) -> Engine:
        """A second engine in the same state, to try things on."""
        other = Engine(self.checklist)
        other._take_over(self.state, self.phase, self._offered, self._wake)
        return other

    def would(self, event: Event) -> list[Effect]:
        """What `handle` would return; nothing changes."""
        before = (self.state, self.phase, self._offered, self._wake)
        try:
            return Engine.handle(self, event)  # not an heir's, which may keep what it makes
        finally:
            self._take_over(*before)

    def _take_over(
        self, state: SessionState, phase: Phase, offered: tuple[Callout, ...], wake: float | None
    ) -> None:
        self.state, self._offered, self._wake = state, offered, wake
        self._phases.set(phase)

    def _dispatch(self, turn: Turn, event: Event) -> None:
        match event:
            case Began():
                turn.set(second=event.second, channels=event.channels)
                self._begin(turn)
            case Heard():
                self._called(turn, event.callout, event.start, event.end, event.channel)
            case KeyPressed():
                self._called(turn, event.callout, event.at, event.at, 0)
            case Unclear():
                unclear.speech(turn, event, self.offers())
            case Passed():
                self._passed(turn)
            case Overheard():
                timed.missed(turn, event.start, event.end)
            case Prompted():
                turn.set(quiet_from=max(turn.state.quiet_from, event.end))
            case Lost():
                self._lost(turn, event)
            case Restored():
                self._restored(turn, event)
            case Ended():
                turn.set(ended=event.reason)
                turn.phases.move("finish")

    def _begin(self, turn: Turn) -> None:
        turn.phases.move("begin")
        checklist = self.checklist
        turn.ask("preamble")
        gone = dict.fromkeys(n.say for n in checklist.not_fitted if n.say is not None)
        turn.ask("begin", title=checklist.title, registration=checklist.registration)
        if gone:
            turn.ask("not-fitted", positions=", ".join(gone))
        turn.ask("call-power", buses=", ".join(bus.say for bus in checklist.buses))

    def _called(self, turn: Turn, key: str, start: float, end: float, channel: int) -> None:
        offer = self.offers().get(key)
        if offer is None:
            turn.note("not-on-offer", callout=key)
            return
        # What is read back is what will be recorded, in the callout's own words.
        said = Claim(key, offer.callout.phrases[0], start, end, channel)
        turn.set(
            unclear=0,
            reminders=0,
            quiet_from=max(turn.state.quiet_from, said.end),
            heard_count=turn.state.heard_count + 1,
        )
        if isinstance(offer.action, Command) and offer.action.name == "affirm":
            self._affirm(turn, channel)
            return
        self._act(turn, offer, said, affirmed=False)

    def _affirm(self, turn: Turn, channel: int) -> None:
        question = turn.state.question
        COMMANDS["affirm"](turn)
        if question is None or question.ask is not Ask.CLAIMS:
            return
        whereabouts.affirmed(turn, question.claims)
        for claim in question.claims:
            offer = offers(self.checklist, turn.phase, turn.state).get(claim.callout)
            if offer is not None:
                # Whoever says yes vouches for it: nobody can read back in the other one's name.
                self._act(turn, offer, replace(claim, channel=channel), affirmed=True)
        if any(claim.callout.startswith("power:") for claim in question.claims):
            turn.say("power-set", claims=", ".join(claim.words for claim in question.claims))
            selecting.remind_of_power(turn)

    def _act(self, turn: Turn, offer: Offer, said: Claim, *, affirmed: bool) -> None:
        if not isinstance(offer.action, Command):
            doubt.lapse(turn)
            turn.set(last=LastAct("none", "", said.words))
        elif offer.action.name in GOES_ON:
            doubt.lapse(turn)
        match offer.action:
            case Observe(item, reading):
                self._at_position(
                    turn, lambda: observe.observe(turn, item, reading, said, affirmed=affirmed)
                )
            case NameDark(item, reading):
                self._at_position(turn, lambda: observe.name_dark(turn, item, reading, said))
            case CloseWindow(item, reading):
                observe.drop_question(turn)
                timed.close(turn, item, reading, said)
            case Select(position):
                whereabouts.called(turn, said)  # no question about a place outlives it
                observe.drop_question(turn)
                selecting.select(turn, position, said)
            case SelectNotFitted(name, reason):
                observe.drop_question(turn)
                turn.say("position-not-fitted", position=name, reason=reason)
            case SetPower() if affirmed:
                power.affirm(turn, offer.action, said)
            case SetPower():
                power.claim(turn, offer.action, said)
            case Command(name):
                COMMANDS[name](turn)
            case GiveReason(reason):
                give_reason(turn, reason)

    def _at_position(self, turn: Turn, act: Callable[[], None]) -> None:
        position = turn.position
        before = bool(position and observe.outstanding(turn, position))
        act()
        if not turn.state.maybe_at:
            turn.set(missed_from=None)  # a call about something here: the selector is still here
        if position is not None and before:
            observe.after_call(turn)

    def _passed(self, turn: Turn) -> None:
        timed.deadlines(turn)
        limit = self.checklist.battery_minutes
        since = turn.state.battery_from
        due = limit and since is not None and turn.now >= since + limit * 60
        if due and not turn.state.battery_warned:
            turn.set(battery_warned=True)
            turn.warn("battery-time", minutes=f"{limit:g}")
            turn.note("battery-time", minutes=limit)
        if turn.phase is not Phase.HELD and turn.now >= self._reminder_at(turn.state):
            self._remind(turn)

    def _remind(self, turn: Turn) -> None:
        turn.set(reminders=turn.state.reminders + 1, quiet_from=turn.now)
        if turn.state.question is not None:
            if turn.state.question.ask is Ask.CLAIMS:
                power.ask(turn)
            return
        position = turn.position
        left = observe.outstanding(turn, position) if position else []
        if left:
            turn.say("outstanding", items=", ".join(item.expected for item in left))
        elif (ahead := observe.next_position(turn)) is not None:
            turn.say("next", next=ahead.select[0])

    def _reminder_at(self, state: SessionState) -> float:
        if state.reminders >= MAX_REMINDERS:
            return float("inf")
        return state.quiet_from + self.checklist.timing.silence

    def _lost(self, turn: Turn, event: Lost) -> None:
        if event.part in turn.state.lost:
            return
        turn.set(lost=(*turn.state.lost, event.part))
        turn.note("lost", part=event.part)
        if event.part in TIMEKEEPERS:
            timed.missed(turn, event.at, event.at)
            timed.lose_timing(turn, f"the {event.part} was lost while it was timed")
            if turn.phase in (Phase.BETWEEN, Phase.TESTING, Phase.AT_REST):
                hold(turn, f"{event.part} lost")
        turn.warn("part-lost", part=event.part)

    def _restored(self, turn: Turn, event: Restored) -> None:
        if event.part not in turn.state.lost:
            return
        turn.set(lost=tuple(part for part in turn.state.lost if part != event.part))
        turn.note("restored", part=event.part)
        turn.say("part-restored", part=event.part)
        why = turn.state.held_reason or ""
        gone = set(TIMEKEEPERS) & set(turn.state.lost)
        if turn.phase is Phase.HELD and why.endswith(" lost") and not gone:
            resume(turn)
        elif turn.phase is Phase.HELD and not why.endswith(" lost"):
            # A "resume" may have been lost with it: who talks on now must know that we wait.
            turn.ask("holding", place=place(turn))

    def _closing(self, turn: Turn) -> list[Effect]:
        """What every event ends with: the view, the new offers, the next deadline, the end."""
        effects: list[Effect] = []
        if self.phase is Phase.FINISHED:
            self._wake = None
            summary = summarise(self.checklist, self.state)
            effects.append(Note("finished", turn.now, {"reason": self.state.ended}))
            effects.append(closing_words(summary))
            effects += [Show(view_of(turn)), Listen(()), Wake(None), Finish(summary)]
            return effects
        effects.append(Show(view_of(turn)))
        callouts = self._offers_now()[1]
        if callouts != self._offered:
            self._offered = callouts
            effects.append(Listen(callouts))
        wake = self._next_deadline()
        if wake != self._wake:
            self._wake = wake
            effects.append(Wake(wake))
        return effects

    def _next_deadline(self) -> float | None:
        times = [timed.due(self.state, window) for window in self.state.windows]
        if self.phase is not Phase.HELD:
            times.append(self._reminder_at(self.state))
        limit = self.checklist.battery_minutes
        if limit and self.state.battery_from is not None and not self.state.battery_warned:
            times.append(self.state.battery_from + limit * 60)
        soonest = min(times, default=float("inf"))
        return None if soonest == float("inf") else soonest


def _repeats(event: Event) -> bool:
    key = event.callout if isinstance(event, Heard | KeyPressed) else ""
    return key == "command:say-again"
