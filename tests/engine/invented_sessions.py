"""Sessions that hypothesis invents, given to the engine, the reference account and the oracle.

The crew mostly behaves, so that sessions get deep; sometimes it does not.
"""

from __future__ import annotations

from typing import Any

from engine.reference import Reference
from fleet import loaded
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, precondition, rule

from voicecheck.checklist.resolved import OFF, Item
from voicecheck.engine import Engine, effects
from voicecheck.engine import events as e
from voicecheck.oracle.heard import delivered
from voicecheck.oracle.plan import Plan
from voicecheck.oracle.witnessing import Witness

# Steps and pauses are no round numbers, so that no sum of them falls exactly on a limit, where
# the last bit of the arithmetic would decide.
PAUSES = st.integers(0, 60).map(lambda n: round(0.1037 + n * 0.25, 4))
CHANNELS = st.integers(0, 1)
ROUND_A_DEADLINE = st.sampled_from([-0.05, 0.05, 0.5, 3.0])
THEN = ["limit", "wait", "guess", "late", "hold", "lose", "nothing"]
"""What may happen while a lamp is being timed."""
PARTS = st.sampled_from(["microphone", "session", "voice"])


class Sessions(RuleBasedStateMachine):
    """One session; every event goes to both, and both are compared after each."""

    def __init__(self, registration: str) -> None:
        super().__init__()
        self.checklist = loaded(registration).checklist
        self.engine = Engine(self.checklist)
        self.model = Reference(self.checklist)
        self.witness = Witness.fresh(Plan(self.checklist))
        self.summary: Any = None
        self.now = 0.0

    @initialize(
        data=st.data(),
        second=st.booleans(),
        channels=st.integers(1, 2),
        timed=st.sampled_from([None, "limit", "wait", "guess", "lose"]),
    )
    def begin(self, data: st.DataObject, second: bool, channels: int, timed: str | None) -> None:
        self.feed(e.Began(0.0, second, channels))
        if timed is not None:
            self.start_a_window(data, timed)

    def feed(self, event: e.Event) -> None:
        made = self.engine.handle(event)
        for effect in made:
            if isinstance(effect, effects.Finish):
                self.summary = effect.summary
        self.model.take(event)
        step = delivered(event, made)
        if made and step.heeded:
            self.witness = self.witness.after(event, step.said)
        says = self.engine_says()
        assert says == self.model_says(), "\n".join(map(str, self.model.log))
        for item, word in self.witness.words.items():
            stands = word.good, word.found
            outcome = says["outcomes"][item]
            assert stands == (outcome == "satisfactory", outcome == "unsatisfactory"), item

    def engine_says(self) -> dict[str, Any]:
        state = self.engine.state
        now = {item: record.now for item, record in state.records.items() if record.now}
        outcomes = dict.fromkeys(self.model.items, "not tested")
        says: dict[str, Any] = {
            "outcomes": outcomes | {item: result.outcome.value for item, result in now.items()},
            "findings": {
                item: frozenset(result.dark)
                for item, result in now.items()
                if result.outcome.value == "unsatisfactory"
            },
            "finished": self.engine.phase.value == "finished",
            "complete": state.complete,
            "power": {bus: s for bus, s in state.power.items() if s is not None},
            "windows": sorted(window.item for window in state.windows),
            "offers": set(self.engine.offers()),
        }
        if self.summary is not None:
            items = self.summary["items"]
            uncalled = {item.id: "not tested" for item in self.checklist.others}
            says["outcomes"] = uncalled | {i["id"]: i["outcome"] for i in items}
            says["void"] = self.summary["void"]
            says["not tested"] = [entry["id"] for entry in self.summary["not_tested"]]
            says["findings"] = {
                finding["item"]: frozenset(filter(None, (finding["lamp"] or "").split(", ")))
                for finding in self.summary["findings"]
                if not finding["superseded"]
            }
        return says

    def model_says(self) -> dict[str, Any]:
        model = self.model
        outcomes = {item: model.outcome(item) for item in model.items}
        says: dict[str, Any] = {
            "outcomes": outcomes,
            "findings": model.findings(),
            "finished": model.finished,
            "complete": model.complete,
            "power": model.power,
            "windows": sorted(model.windows),
            "offers": model.sayable(),
        }
        if model.finished:
            gone = {item.id: "not fitted" for item in self.checklist.not_fitted}
            says["void"] = [item for item, outcome in outcomes.items() if outcome == "void"]
            expected = [item.id for item in self.checklist.items]
            says["not tested"] = [item for item in expected if outcomes[item] == "not tested"]
            says["outcomes"] = outcomes | gone
            says["findings"] = model.findings_told()
        return says

    def say(self, key: str, channel: int = 0, pause: float = 0.1037) -> None:
        # Mostly a yes comes once the question has sounded; a key is pressed at once below.
        start = self.now + (1.6037 if key == "command:affirm" else pause)
        self.now = start + 0.6011
        self.feed(e.Heard(key, "", start, self.now, 0.99, channel))

    def live(self) -> bool:
        return not self.model.finished

    # The crew that behaves.

    def duty(self) -> str:
        """What a crew that means to get to the end would say now."""
        model = self.model
        if model.question is not None and "command:affirm" in model.sayable():
            return "command:affirm"
        if model.held:
            return "command:resume"
        if model.position is None:
            return model.select_key(self.checklist.positions[0].id)
        missing = model.missing()
        for item in self.checklist.position(model.position).items:
            if item.window is not None:
                continue
            timed = [i for i in self.checklist.items if i.window and item.id in i.after]
            relit = any(i.id in missing for i in timed) and model.here(item.id) is None
            if item.id in missing or relit:
                for bus, state in model.needs(item.id).items():
                    if model.power.get(bus) != state:
                        return f"power:{bus}:{state}"
                again = [i for i in item.after if model.here(i) is None]
                stage = model.items[again[0]] if again else item
                return stage.readings[0].key
        if not model.windows:
            rest = self.checklist.positions[-1].id
            for position in self.checklist.positions:
                wanted = [i.id for i in position.items if i.id in missing]
                if wanted and position.id not in (rest, model.position):
                    return model.select_key(position.id)
            if model.position == rest:
                return "command:complete"
        return "selector:off"

    @rule(steps=st.integers(1, 12), channel=CHANNELS)
    @precondition(live)
    def carry_on(self, steps: int, channel: int) -> None:
        self.go_on(steps, channel)

    def go_on(self, steps: int, channel: int) -> None:
        for step in range(steps):
            for item in self.model.windows:
                lower, upper, reaction, _ = self.model.seconds(self.model.items[item])
                start = self.model.windows[item] + (lower + upper) / 2 + reaction
                if start > self.now:
                    key = self.model.items[item].readings[0].key
                    self.say(key, channel, start - self.now)
            if self.model.finished:
                return
            self.say(self.duty(), (channel + step) % 2)

    # What goes otherwise.

    @rule(data=st.data(), channel=CHANNELS, pause=PAUSES)
    @precondition(live)
    def say_anything(self, data: st.DataObject, channel: int, pause: float) -> None:
        self.say(data.draw(st.sampled_from(sorted(self.model.sayable()))), channel, pause)

    @rule(data=st.data(), channel=CHANNELS)
    @precondition(lambda self: self.live() and self.model.position and not self.model.held)
    def call_here(self, data: st.DataObject, channel: int) -> None:
        items = self.checklist.position(self.model.position or OFF).items
        item = data.draw(st.sampled_from(items))
        self.say(data.draw(st.sampled_from([*item.readings, *item.darks])).key, channel)

    @rule(data=st.data(), channel=CHANNELS)
    @precondition(lambda self: self.live() and self.model.position and not self.model.held)
    def call_what_nobody_foresaw(self, data: st.DataObject, channel: int) -> None:
        other = self.checklist.position(self.model.position or OFF).other
        assert other is not None
        self.say(data.draw(st.sampled_from(other.readings)).key, channel)

    @rule(data=st.data(), channel=CHANNELS)
    @precondition(lambda self: self.live() and not self.model.held)
    def call_at_rest(self, data: st.DataObject, channel: int) -> None:
        """What is seen at off, whatever runs or was called lit."""
        if self.model.position != OFF:
            self.say("selector:off", channel)
        for item in self.checklist.positions[-1].items:
            if data.draw(st.booleans()):
                self.put_power_right(item.id)
            self.say(data.draw(st.sampled_from(item.readings)).key, channel)
            if data.draw(st.booleans()):
                self.say("command:affirm", channel)

    @rule(data=st.data(), channel=CHANNELS)
    @precondition(lambda self: self.live() and not self.model.held)
    def throw_a_switch(self, data: st.DataObject, channel: int) -> None:
        """Throws and going back, good and bad, in any order."""
        switches = [item for item in self.checklist.items if item.put_back]
        if not switches:
            return
        back = data.draw(st.sampled_from(switches))
        if self.model.position != back.position:
            self.say(self.model.select_key(back.position), channel)
        self.put_power_right(back.id)
        throws = [self.model.items[throw] for throw in back.after]
        for item in data.draw(st.lists(st.sampled_from([*throws, back, back]), max_size=6)):
            self.say(data.draw(st.sampled_from(item.readings)).key, channel)

    @rule(name=st.sampled_from(["correction", "disregard", "negative", "affirm", "stand-by"]))
    @precondition(live)
    def command(self, name: str) -> None:
        self.say(f"command:{name}")

    @rule(data=st.data())
    @precondition(live)
    def call_power(self, data: st.DataObject) -> None:
        """On, off, and a yes or none."""
        bus = data.draw(st.sampled_from(self.checklist.buses))
        state = data.draw(st.sampled_from(["on", "off"]))
        self.say(f"power:{bus.id}:{state}")
        if data.draw(st.booleans()) and self.live():
            self.say("command:affirm")

    @rule(steps=st.integers(1, 4), bus=st.integers(0, 1), state=st.sampled_from(["on", "off"]))
    @precondition(lambda self: self.live() and not self.model.held)
    def change_power_after_calls(self, steps: int, bus: int, state: str) -> None:
        if self.model.position in (None, OFF):
            self.say(self.model.select_key(self.checklist.positions[0].id))
        self.go_on(steps, 0)
        for key in (f"power:{self.checklist.buses[bus].id}:{state}", "command:affirm"):
            self.say(key)

    @rule(data=st.data())
    @precondition(lambda self: self.live() and not self.model.held)
    def go_anywhere(self, data: st.DataObject) -> None:
        position = data.draw(st.sampled_from(self.checklist.positions))
        self.say(self.model.select_key(position.id))

    @rule(data=st.data(), then=st.sampled_from(THEN))
    @precondition(lambda self: self.live() and not self.model.held)
    def start_a_window(self, data: st.DataObject, then: str) -> None:
        """The lamp that must go out is called lit and left; then something of interest."""
        for item in self.checklist.items:
            if item.window is None:
                continue
            self.say("command:negative")
            self.put_power_right(item.id)
            self.say(self.model.select_key(item.position))
            self.say(self.model.items[item.after[0]].readings[0].key)
            self.say("selector:off")
            if then == "limit":
                self.call_near_a_limit(data)
            elif then == "wait":
                self.wait_for_the_deadline(data.draw(st.sampled_from([0.05, 0.5])))
                if data.draw(st.booleans()):
                    self.wait_for_the_deadline(data.draw(ROUND_A_DEADLINE))
                self.call_near_a_limit(data)
            elif then == "guess":
                self.guess_and_wait(item)
            elif then == "late":
                self.guess_at_the_end(item, data.draw(ROUND_A_DEADLINE))
            elif then == "hold":
                self.say("command:stand-by")
            elif then == "lose":
                self.lose_or_find("microphone", False)

    def guess_and_wait(self, item: Item) -> None:
        """Out in time, but half heard, and affirmed only after the crew was asked."""
        lower, upper, reaction, _ = self.model.seconds(item)
        start = self.model.windows[item.id] + (lower + upper) / 2 + reaction
        self.now = start + 0.6011
        self.feed(e.Unclear(start, self.now, (item.readings[0].key,)))
        self.wait_for_the_deadline(0.05)
        self.say("command:affirm")

    def guess_at_the_end(self, item: Item, off: float) -> None:
        """Half heard after the crew was asked, and affirmed when the time for it is over."""
        self.wait_for_the_deadline(0.05)
        self.now = max(self.now, self.model.due(item.id) - 0.5)
        self.feed(e.Unclear(self.now - 0.4, self.now, (item.readings[0].key,)))
        self.now += 0.5 + off
        self.feed(e.Passed(self.now))
        self.say("command:affirm")

    def put_power_right(self, item: str) -> None:
        for bus, state in self.model.needs(item).items():
            if self.model.power.get(bus) != state:
                self.say(f"power:{bus}:{state}")
                self.say("command:affirm")

    @rule(data=st.data())
    @precondition(lambda self: self.live() and self.model.windows)
    def call_near_a_limit(self, data: st.DataObject) -> None:
        if not self.model.windows:
            return
        item = self.model.items[data.draw(st.sampled_from(sorted(self.model.windows)))]
        lower, upper, reaction, half = self.model.seconds(item)
        limit = data.draw(st.sampled_from([lower, upper])) + data.draw(
            st.sampled_from([-half, half])
        )
        off = data.draw(st.sampled_from([-0.002, 0.002, -0.03, 0.03, -0.7, 0.7]))
        start = max(self.now + 0.1037, self.model.windows[item.id] + limit + off + reaction)
        reading = item.readings[data.draw(st.sampled_from([0, 0, 1]))]
        self.say(reading.key, 0, start - self.now)

    @rule(data=st.data(), calls=st.lists(st.tuples(CHANNELS, st.booleans()), max_size=4))
    @precondition(lambda self: self.live() and not self.model.held)
    def call_a_marked_item(self, data: st.DataObject, calls: list[tuple[int, bool]]) -> None:
        """An item that both crew members must call, by whomever and alike or not."""
        item = data.draw(st.sampled_from([i for i in self.checklist.items if i.read_back]))
        self.say("command:negative")
        self.put_power_right(item.id)
        if self.model.position != item.position:
            self.say(self.model.select_key(item.position))
        for channel, good in calls:
            readings = [item.readings[0]] if good else [*item.readings, *item.darks]
            self.say(data.draw(st.sampled_from(readings)).key, channel)

    @rule(data=st.data(), seconds=st.sampled_from([20.0371, 61.0371, 95.0371]))
    @precondition(lambda self: self.live() and not self.model.held)
    def hold_for_long(self, data: st.DataObject, seconds: float) -> None:
        """Bus calls before it is over, and after it a yes or no, or calls without one."""
        self.say("command:stand-by")
        early, late = data.draw(st.booleans()), data.draw(st.booleans())
        if early:
            self.call_power(data)
        self.now += seconds
        if late:
            self.call_power(data)
        self.say("command:resume")
        if self.model.position and data.draw(st.booleans()):
            self.call_here(data, 0)
        if data.draw(st.booleans()):
            self.say(data.draw(st.sampled_from(["command:affirm", "command:negative"])))

    @rule(sure=st.integers(0, 9).map(lambda n: n == 7))
    @precondition(lambda self: self.live() and not self.model.held)
    def stop_short(self, sure: bool) -> None:
        for key in ("selector:off", "command:complete", "command:affirm"):
            if self.live() and (sure or key != "command:affirm"):
                self.say(key)

    @rule(off=ROUND_A_DEADLINE)
    @precondition(lambda self: self.live() and self.engine.wake is not None)
    def wait_for_the_deadline(self, off: float) -> None:
        due = min(map(self.model.due, self.model.windows), default=self.engine.wake or 0.0)
        self.now = max(self.now, due + off)
        self.feed(e.Passed(self.now))

    @rule()
    @precondition(lambda self: self.live() and self.engine.wake is not None)
    def wake_when_asked(self) -> None:
        """At the very moment that the engine asked to be woken."""
        self.now = max(self.now, self.engine.wake or 0.0)
        self.feed(e.Passed(self.now))

    @rule(pause=PAUSES)
    @precondition(live)
    def wait(self, pause: float) -> None:
        self.now += pause
        self.feed(e.Passed(self.now))

    @rule(data=st.data(), channel=CHANNELS)
    @precondition(live)
    def mumble(self, data: st.DataObject, channel: int) -> None:
        known = sorted(self.model.sayable())
        guess = data.draw(st.lists(st.sampled_from(known), max_size=2, unique=True))
        self.now += 1.1037
        self.feed(e.Unclear(self.now - 0.8, self.now, tuple(guess), channel))

    @rule(pause=PAUSES)
    @precondition(live)
    def talk_to_somebody_else(self, pause: float) -> None:
        self.now += pause + 0.8011
        self.feed(e.Overheard(self.now - 0.8011, self.now))

    @rule(part=PARTS, back=st.booleans())
    @precondition(live)
    def lose_or_find(self, part: str, back: bool) -> None:
        self.now += 0.3037
        self.feed(e.Restored(part, self.now) if back else e.Lost(part, self.now))

    @rule(data=st.data())
    @precondition(live)
    def press_a_key(self, data: st.DataObject) -> None:
        self.now += 0.2037
        keys = sorted(set(self.model.readings) | self.model.sayable())
        self.feed(e.KeyPressed(data.draw(st.sampled_from(keys)), self.now))

    @rule(pause=PAUSES)
    @precondition(lambda self: self.model.finished)
    def nothing_follows_the_end(self, pause: float) -> None:
        self.now += pause
        for event in (e.Heard("selector:off", "", self.now, self.now, 1.0), e.Passed(self.now)):
            assert self.engine.handle(event) == []
            self.feed(event)

    def teardown(self) -> None:
        if self.model.log:
            self.feed(e.Ended(self.now, "the source ended"))
            assert self.model.finished
