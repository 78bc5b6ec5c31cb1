"""A second account of the rules of operation, to hold the engine against.

It is written from the documented rules (the list at the top of engine/rules.py, README.md,
DEVELOPERS.md), not from the engine's code, and is built the other way round. The engine keeps
a state and changes it; this keeps a list of facts, to which every event only ever adds, and
answers every question ("is a bus on?", "what is the outcome of this item?") by searching the
whole list anew. Nothing is undone: taking back a call is one more fact about that call.
The list and the searching are in engine/facts.py; here is what each event adds. Slow and plain
on purpose. Times are stream seconds.
"""

from __future__ import annotations

from dataclasses import replace

from engine.facts import BAD, COUNTED, GOOD, OPEN, TOUCH, VOID, Call, Fact, Facts, Result

from voicecheck.checklist.resolved import OFF, Grade, Item, Reading
from voicecheck.engine import events as e

QUESTION_MARGIN = 1.0
USUAL_CALL = 0.9
"""Seconds between the last possible in-time call of a lamp and the question about it."""
ANSWER_TIME = 8.0
"""Seconds after that question in which silence becomes the finding."""
MAX_UNCLEAR = 3
GAP = 60.0
"""Seconds of a hold after which nothing is known any more."""


class Reference(Facts):
    """What must be so after the events given to `take`."""

    def take(self, event: e.Event) -> None:
        """One more event."""
        if self.finished:
            return
        times = [getattr(event, name, self.now) for name in ("now", "end", "at")]
        self.now = max(self.now, *times)
        self.log.append(event)
        match event:
            case e.Began():
                self.began = event
            case e.Heard(key, _, start, end, _, channel) if key in self.sayable():
                self.add("quiet", None, end)
                self.called(Call(key, start, end, channel, self.visit))
            case e.KeyPressed(key, at) if key in self.sayable():
                self.add("quiet", None, at)
                self.called(Call(key, at, at, TOUCH, self.visit))
            case e.Prompted(start, end):
                self.add("quiet", None, end)
                if self.question and start < self.asked_at < end:
                    self.add("put", None, end)
            case e.Overheard(start, end):
                self.add("missed", value=(start, end))
            case e.Unclear(start, end, guess, channel):
                self.add("missed", value=(start, end))
                self.add("quiet", None, end)
                self.unclear([Call(key, start, end, channel, self.visit) for key in guess])
            case e.Passed():
                self.silence()
                self.remind()
            case e.Lost(part, _):
                self.lost(part)
            case e.Restored(part, _) if self.is_so("lost", "restored", part):
                self.add("restored", part)
                why = self.last("held")
                gone = [p for p in ("microphone", "session") if self.is_so("lost", "restored", p)]
                if self.held and why and why.about == "lost" and not gone:
                    self.go_on()
            case e.Ended(_, reason):
                self.unanswered()
                self.add("finished", False, reason)
        if self.finished:
            self.cancel(*self.windows)

    def remind(self) -> None:
        """After a silence the open question is put again, twice at the most."""
        quiet = max((f.value for f in self.facts if f.kind == "quiet"), default=0.0)
        reminded = sum(fact.kind == "reminded" for fact in self.since("understood"))
        if reminded < 2 and not self.held and self.now >= quiet + self.checklist.timing.silence:
            self.add("reminded")
            self.add("quiet", None, self.now)
            self.put_again()

    def put_again(self) -> None:
        """The open question is asked once more."""
        if self.question is not None and self.question.about != "abandon":
            self.add("put", None, self.now)

    def lost(self, part: str) -> None:
        """Without the microphone or the session's own time nothing can be timed."""
        new = not self.is_so("lost", "restored", part)
        self.add("lost", part)
        if part == "session":
            self.add("cut off")
            for bus in self.checklist.buses:
                self.add("bus", bus.id, None)
        if part in ("microphone", "session"):
            self.add("missed", value=(self.log[-1].at, self.log[-1].at))
            self.cancel(*self.windows)
            if new and not self.held:
                self.add("held", "lost")
            if self.held:
                self.add("hold-clock", None, self.now)
                self.add("cut")

    def go_on(self) -> None:
        """A hold is over. After a gap nobody knows power or place until somebody says so."""
        clock = self.last("hold-clock")
        began = clock.value if clock else self.now
        gap = self.now - began > GAP or any(f.kind == "cut" for f in self.since("resumed"))
        self.add("resumed")
        if gap:
            self.forget_context(began)
        self.put_again()

    def forget_context(self, began: float) -> None:
        """Everything that was known is asked about, unless the session itself was cut off."""
        since = max(began, self.now - GAP)
        self.unanswered()
        self.add("missed", value=(began, began))
        claims = []
        for claim in self.question.value if self.question else ():
            if claim.key.startswith("power:") and claim.start >= since:
                claims.append(claim)
            elif claim.key.startswith("power:") and self.airframe:
                claims.append(Call(claim.key, self.now, self.now, 0, self.visit))
        for bus, state in self.power.items():
            called = self.last("bus-called", about=bus)
            if called is None or called.value < since:
                self.add("bus", bus, None)
                claims.append(Call(f"power:{bus}:{state}", self.now, self.now, 0, self.visit))
        if self.position is not None and self.airframe:
            self.add("gap")
            claims.append(self.call_of_here())
        elif self.position is not None:
            self.add("unselected")
        self.add("answered")
        if claims:
            self.ask("claims", *claims)

    def call_of_here(self) -> Call:
        """The call of the position at which the selector was."""
        assert self.position is not None
        return Call(self.select_key(self.position), self.now, self.now, 0, self.visit, stays=True)

    def ask_of_gap(self) -> None:
        """Ask where the selector is, and about power where that is open."""
        claims = list(self.question.value) if self.question else []
        if not any(self.asked_of_place(claim) for claim in claims):
            powers = [claim for claim in claims if claim.key.startswith("power:")]
            claims = [*powers, self.call_of_here()]
        self.add("asked", "claims", claims)
        self.add("put", None, self.now)

    def unclear(self, guess: list[Call]) -> None:
        """Somebody spoke. A guess is asked about, unless something is being asked already."""
        self.add("unclear")
        since = list(self.since("understood"))
        tired = sum(fact.kind == "unclear" for fact in since) > MAX_UNCLEAR
        known = all(c.key in self.live() for c in guess)
        known = known and len({c.key[: c.key.rindex(":")] for c in guess}) == len(guess)
        for call in guess:
            if call.key.startswith("select"):
                self.add("half-placed", call.key, call)
            if call.key in self.bus_calls():
                self.half_heard_bus(call)
            item, reading = self.readings.get(call.key, (None, None))
            if item and reading and reading.grade is not Grade.GOOD:
                self.half_call_over(item)
        if guess and known and not (tired or self.held or self.question):
            placed = not (self.maybe_at or self.place_lost)
            placed = placed or any(self.asked_of_place(call) for call in guess)
            if placed or not any(self.seen_here(call) for call in guess):
                self.ask("claims", *guess)
                return
            for call in guess:
                self.doubted(call)
            self.ask_where()
            return
        if self.question and self.question.about == "claims" and not (tired or self.held):
            self.put_again()
        asked = self.question.value if self.question else ()
        for call in guess:
            if call.key not in [claim.key for claim in asked]:
                self.doubted(call)

    def ask_where(self) -> None:
        """Ask about the latest half-understood position, or the one before a gap."""
        if self.maybe_at:
            self.ask("claims", self.maybe_at[-1])
        else:
            self.ask_of_gap()
            self.add("correctable", "question")

    def seen_here(self, call: Call) -> bool:
        """Whether a call is about something that is seen only while the selector is there."""
        item, _ = self.readings.get(call.key, (None, None))
        return item is not None and item.window is None

    def ask(self, what: str, *claims: Call) -> None:
        """A question of ours is open; the one before it is not any more."""
        self.add("asked", what, claims)
        self.add("put", None, self.now)
        self.add("correctable", "question")

    def unanswered(self) -> None:
        """A question about bad news gets neither yes nor no: what it doubts is not good."""
        question = self.question
        for claim in question.value if question and question.about == "claims" else ():
            self.doubted(claim)

    def doubted(self, claim: Call) -> None:
        """Bad news that may have been called: a good call of that item does not stand."""
        item, reading = self.readings.get(claim.key, (None, None))
        bad = reading is not None and reading.grade is not Grade.GOOD
        if bad and item and self.outcome(item.id) == GOOD:
            self.add("reopened", item.id)

    def lapse(self) -> None:
        """Another callout came instead of an answer. Power that was called stays in question."""
        if (question := self.question) is not None:
            stays = [c.key.startswith("power:") or self.asked_of_place(c) for c in question.value]
            kept = [c for c, stay in zip(question.value, stays, strict=True) if stay]
            self.add("asked", "claims", kept) if kept else self.add("answered")

    def called(self, call: Call) -> None:
        """A callout that can be said now."""
        self.add("understood")
        kind, _, name = call.key.partition(":")
        if kind == "command":
            self.command(name, call)
        elif kind == "reason":
            self.unanswered()
            self.add("finished", False, f"abandoned by the crew: {name}")
        else:
            self.act(call, affirmed=False)

    def act(self, call: Call, *, affirmed: bool) -> None:
        """A callout about the aircraft, or a yes to it."""
        if not affirmed:
            self.unanswered()
        self.add("correctable", "nothing")
        kind, _, name = call.key.partition(":")
        if call.stays:
            self.add("correctable", "position")
            self.add("still-here")
        elif kind == "power" and not affirmed:
            bus = name.split(":")[0]
            claims = self.question.value if self.question else ()
            others = [c for c in claims if c.key.startswith("power:")]
            others = [c for c in others if not c.key.startswith(f"power:{bus}:")]
            self.add("bus", bus, None)
            places = [c for c in claims if c.stays]
            self.ask("claims", *others, call, *places)
        elif kind == "power":
            bus, state = name.split(":")
            self.switched(bus, state, call)
        elif call.key in self.readings:
            self.lapse()
            item, reading = self.readings[call.key]
            if item.window is None:
                self.thrown_again(item)
            good = reading.grade is Grade.GOOD
            if item.window is not None and self.place_lost and item.id not in self.windows:
                self.after_gap(item, bad=good)
            elif item.window is not None:
                self.timed(item, reading, call, affirmed=affirmed)
            elif any(place.start < call.start for place in self.maybe_at):
                self.of_unknown_place(item, reading)
            elif self.place_lost:
                self.after_gap(item, bad=not good)
            else:
                self.observed(item, reading, call, affirmed=affirmed)
                if not self.maybe_at and (affirmed or not self.shared(call.key)):
                    self.add("still-here")
        elif kind == "disregard":
            self.lapse()
            self.disregarded(name)
        elif (place := OFF if kind == "selector" else name) in {
            position.id for position in self.checklist.positions
        }:
            self.add("place-affirmed", (), call.start)
            self.lapse()
            self.select(place, call)
            self.add("still-here")
        else:
            self.lapse()  # a position that this airframe does not have

    def command(self, name: str, said: Call) -> None:
        """A spoken command. A yes makes what was asked about the call of whoever says it."""
        question = self.question
        if name in ("complete", "abandon", "crew-change"):
            self.unanswered()
        if name == "affirm" and question is not None and not self.answers(said):
            self.put_again()
        elif name == "affirm" and question is not None:
            self.add("answered")
            if question.about == "complete":
                told = self.last("listed")
                self.end(told.value if told else [])
            if any(c.key.startswith("power:") for c in question.value):
                self.add("airframe")
            places = [c for c in question.value if self.asked_of_place(c)]
            if places:
                self.add("place-affirmed", [c.key for c in places], max(c.start for c in places))
            done = []
            for claim in question.value:
                if claim.key in self.live():
                    self.act(replace(claim, channel=said.channel), affirmed=True)
                    done.append(self.last("correctable"))
            if len(done) > 1:
                self.add("correctable", "several", done)
        elif name == "say-again" and "command:affirm" in self.sayable():
            self.put_again()
        elif name in ("negative", "disregard") and question:
            self.denied()
        elif name in ("negative", "correction", "disregard"):
            self.take_back()
        elif name == "stand-by":
            self.add("held", "crew")
            self.add("hold-clock", None, self.now)
        elif name == "resume":
            self.go_on()
        elif name == "power-wrong":
            self.power_wrong()
        elif name == "abandon":
            self.ask("abandon")
        elif name == "crew-change":
            for fact in ("answered", "half-call-over"):
                self.add(fact)
            self.add("correctable", "nothing")
        elif name == "complete" and self.position == OFF:
            self.end([])

    def end(self, agreed: list[object]) -> None:
        """The end, if the list of what was found and what is not tested is empty or agreed to."""
        listed = self.listed()
        if self.maybe_at or self.place_lost:
            self.ask_where()
        elif not self.windows and listed not in ([], agreed):
            self.add("listed", value=listed)
            self.ask("complete")
        elif not self.windows:
            why = "ended by the crew with items not tested" if self.missing() else None
            self.add("finished", why is None, why)

    def denied(self) -> None:
        """No to the open question: what a bus is that was asked about is not known."""
        for claim in self.question.value if self.question else ():
            if claim.key.startswith("power:"):
                self.add("bus", claim.key.split(":")[1], None)
            if claim.stays:
                self.add("unselected")
            self.add("place-denied", claim.key)
        self.add("answered")

    def take_back(self) -> None:
        """The last callout, and no other, is taken back; what stood before it stands again.

        But a good call that a bad one had replaced does not."""
        self.undo(self.last("correctable"))
        self.add("correctable", "nothing")

    def undo(self, last: Fact | None) -> None:
        """One act is taken back, or several that one yes had settled, the latest first."""
        what = last.about if last else "nothing"
        if what == "several" and last:
            for act in reversed(last.value):
                self.undo(act)
        elif what == "question":
            self.denied()
        elif what == "half-call":
            self.add("half-call-over")
        elif what == "differed" and last:
            self.add("withdrawn", last.value)
        elif what == "result" and last:
            taken = self.facts[last.value].value
            self.add("withdrawn", last.value)
            item = self.items[self.facts[last.value].about]
            if taken.outcome != GOOD and self.outcome(item.id) == GOOD:
                self.add("reopened", item.id)  # good once, then doubted: look again
            if item.window is not None and item.position != self.position:
                self.cancel(item.id)  # when the lamp went out is now past finding out
        elif what == "bus" and last:
            self.add("bus", last.value, None)
        elif what == "position":
            self.cancel(*self.windows)
            self.add("unselected")

    def after_gap(self, item: Item, *, bad: bool) -> None:
        """Nobody knows where the selector is: no call counts, and bad news leaves nothing good."""
        if bad:
            self.half_call_over(item)
            if self.outcome(item.id) == GOOD:
                self.add("reopened", item.id)
        self.ask_of_gap()

    def disregarded(self, position: str) -> None:
        """Nothing that was called at a position counts; what was bad there stays told."""
        if self.position == position:
            self.cancel(*self.windows)
            self.add("unselected")
        self.cancel(*[i for i in self.windows if self.items[i].position == position])
        for item in self.items.values():
            if item.position == position:
                self.half_call_over(item)
                kind = "reopened" if self.outcome(item.id) == GOOD else "set-aside"
                self.add(kind, item.id)

    # Power.

    def power_wrong(self) -> None:
        """No bus was as called: nothing that needs one counts, and none is known."""
        self.unanswered()
        for fact in ("answered", "half-call-over"):
            self.add(fact)
        self.add("correctable", "nothing")
        for bus in self.checklist.buses:
            self.add("bus", bus.id, None)
        for item in [i for i in self.items if self.needs(i)]:
            result = self.standing(item)
            if result is not None and self.outcome(item) in COUNTED:
                self.add("voided", result.number)
            self.add("all-void", item, (None, 0.0))

    def bus_calls(self) -> set[str]:
        """Every call of a bus."""
        return {f"power:{b.id}:{s}" for b in self.checklist.buses for s in ("on", "off")}

    def half_heard_bus(self, call: Call) -> None:
        """Nobody knows what the bus is now, so nothing called since then counts."""
        bus = call.key.split(":")[1]
        self.add("bus", bus, None)
        for item in self.items:
            result = self.standing(item)
            since = result is not None and result.start >= call.start
            if bus in self.needs(item):
                self.add("all-void", item, (None, call.start))
            if result and since and bus in self.needs(item) and self.outcome(item) in COUNTED:
                self.add("voided", result.number)

    def switched(self, bus: str, state: str, call: Call) -> None:
        """A bus was affirmed; it has been so since it was called."""
        self.add("bus", bus, state)
        self.add("correctable", "bus", bus)
        self.add("bus-called", bus, call.end)
        for item in [i for i in self.items if self.needs(i).get(bus) not in (None, state)]:
            result = self.standing(item)
            if item in self.windows:
                self.add("stopped", item)
                self.result(item, VOID, call, beside=self.outcome(item) == BAD)
            elif result is not None and self.outcome(item) in COUNTED:
                of_visit = result.visit == call.visit
                changed = of_visit and not self.both_states_wanted(item, bus)
                if changed or result.start >= call.start:
                    self.add("voided", result.number)
            visit = None if self.both_states_wanted(item, bus) else call.visit
            self.add("all-void", item, (visit, call.start))
            if self.half_called and self.half_called[0] == item:
                self.add("half-call-over")

    # Items.

    def result(
        self, item: str, outcome: str, call: Call, lamps: tuple[str, ...] = (), beside: bool = False
    ) -> None:
        """A result from now on; `beside` when it is only kept and something better stands."""
        number = len(self.facts)
        named = frozenset(lamps)
        made = Result(item, outcome, call.key, named, self.visit, call.start, number, beside)
        self.add("result", item, made)

    def spoken(self, item: str, outcome: str, call: Call, lamps: tuple[str, ...] = ()) -> None:
        """A result that came from a callout, so that it can be taken back."""
        self.result(item, outcome, call, lamps)
        self.add("correctable", "result", len(self.facts) - 1)

    def counts(self, item: Item, call: Call, *, bad: bool = False) -> bool:
        """Right power and all earlier stages good in this visit; a void attempt is kept.

        Bad news that does not count leaves nothing good standing.
        """
        doubted = bad and self.outcome(item.id) == GOOD
        if not self.powered(item.id) or not self.airframe:
            if self.question and self.question.about == "claims":
                self.put_again()
            if self.outcome(item.id) in COUNTED and not doubted:
                self.result(item.id, VOID, call, beside=True)
            else:
                if doubted:
                    self.add("reopened", item.id)
                self.spoken(item.id, VOID, call)
            return False
        if not self.stages_good(item) and doubted:
            self.add("reopened", item.id)
            self.spoken(item.id, VOID, call)
        return self.stages_good(item)

    def stages_good(self, item: Item) -> bool:
        """Whether every earlier stage was called good in this visit.

        A switch goes back once any throw of it was called at all.
        """
        if item.put_back:
            return any(self.outcome(throw) in COUNTED for throw in item.after)
        stages = [self.here(stage) for stage in item.after]
        return all(stage is not None and stage.outcome == GOOD for stage in stages)

    def of_unknown_place(self, item: Item, reading: Reading) -> None:
        """The selector may be elsewhere: no call counts, and bad news leaves nothing good."""
        if reading.grade is not Grade.GOOD:
            self.half_call_over(item)
            if self.outcome(item.id) == GOOD:
                self.add("reopened", item.id)
        self.add("asked", "claims", [self.maybe_at[-1]])
        self.add("put", None, self.now)

    def thrown_again(self, throw: Item) -> None:
        """A throw is called: the switch is not any more where it was called back."""
        for item in self.items.values():
            if throw.id in self.thrown_of(item.id):
                self.half_call_over(item)
                if self.outcome(item.id) == GOOD:
                    self.add("reopened", item.id)

    def anything_else(self, item: Item, call: Call) -> None:
        """What nobody has foreseen: a finding beside all that was so called there before."""
        gone = {fact.about for fact in self.facts if fact.kind == "withdrawn"}
        told = [f.value for f in self.facts if f.kind == "result" and f.about == item.id]
        for other in self.checklist.position(item.position).items:
            if item.id in other.dark_of:
                self.half_call_over(other)
                if self.outcome(other.id) == GOOD:
                    self.add("reopened", other.id)
        if call.key not in [result.key for result in told if result.number not in gone]:
            self.spoken(item.id, BAD, call)

    def observed(self, item: Item, reading: Reading, call: Call, *, affirmed: bool) -> None:
        """A reading of an item in the position, or one lamp of it named dark."""
        good = reading.grade is Grade.GOOD
        if item.unforeseen:
            self.anything_else(item, call)
            return
        if not self.counts(item, call, bad=not good):
            if not good:
                self.half_call_over(item)
            return
        earlier = self.here(item.id)
        timed = [i for i in item.dark_of if i in self.windows]
        if good and timed:
            for running in timed:  # that it is out may have been meant
                self.add("may-be-called", running, call.start)
            return
        needs_yes = good and not affirmed and not self.of_the_other(item, call)
        if reading in item.darks:
            known = earlier.lamps if earlier and earlier.outcome == BAD else frozenset()
            self.half_call_over(item)
            self.spoken(item.id, BAD, call, (*known, *reading.lamps))
        elif (
            good
            and self.found_before(item.id)
            and not affirmed
            and not self.of_the_other(item, call)
        ) or (not (earlier and earlier.key == call.key) and needs_yes and self.lit_elsewhere(item)):
            self.ask("claims", call)
        elif earlier and earlier.key == call.key:
            if good:
                self.add("correctable", "result", earlier.number)
            else:  # only the repeat can be taken back, and the finding stands without it
                self.half_call_over(item)
        elif good and not affirmed and self.missed_here() and self.shared(call.key):
            self.ask("claims", call)
        elif not (item.read_back and self.began.second) or self.both_agree(item, reading, call):
            self.half_call_over(item)
            self.spoken(item.id, GOOD if good else BAD, call, () if good else reading.lamps)

    def lit_elsewhere(self, item: Item) -> bool:
        """Whether something was called lit that must be dark for this to be good."""
        return any(self.called_lit(other) for other in item.dark_of)

    def half_call_over(self, item: Item) -> None:
        """Whatever one crew member called before is of no more use."""
        if self.half_called and self.half_called[0] == item.id:
            self.add("half-call-over")

    def of_the_other(self, item: Item, call: Call) -> bool:
        """Whether the other, at a microphone of their own, has called the item good and waits."""
        half = self.half_called
        waits = half is not None and half[0] == item.id and self.began.channels > 1
        voices = TOUCH not in (call.channel, half[1].channel if half else TOUCH)
        return bool(waits and voices and half and half[1].channel != call.channel)

    def both_agree(self, item: Item, reading: Reading, call: Call) -> bool:
        """Good needs both crew members; bad needs one, unless the other just called it good.

        Then it is written down, but the item is open until they agree.
        """
        good = reading.grade is Grade.GOOD
        half = self.half_called
        first = half[1] if half and half[0] == item.id else None
        touched = first and TOUCH in (call.channel, first.channel)
        same_voice = first and self.began.channels > 1 and call.channel == first.channel
        if first is None or same_voice or touched:
            if good:
                if first is None or call.channel != TOUCH:
                    self.add("half-called", item.id, call)
                self.add("correctable", "half-call")
            return not good
        if not good:
            self.add("half-call-over")
            if self.outcome(item.id) == GOOD:
                self.add("reopened", item.id)  # one of them does not see it: no longer good
            number, lamps = len(self.facts), frozenset(reading.lamps)
            found = Result(item.id, BAD, call.key, lamps, self.visit, call.start, number)
            self.add("differed", item.id, found)
            self.add("correctable", "differed", number)
        return good

    # The selector and its windows.

    def select(self, position: str, call: Call) -> None:
        """The selector goes to a position: what is timed where it was begins to run."""
        left = self.position
        for item in self.items.values():
            gone = item.id in self.windows and item.position == position
            if gone:
                self.cancel(item.id)
            if item.window is None or item.position != left or left == position:
                continue
            early = self.standing(item.id)
            judged = early and early.visit == self.visit and early.outcome in (BAD, OPEN)
            if self.stages_good(item) and not judged and self.counts(item, call):
                unheard = self.missed_here()
                begun = call.start + max(USUAL_CALL, self.checklist.timing.hand_before)
                self.add("may-have-left", item.id, min([call.end, begun, *unheard]))
                self.add("runs", item.id, call.end)
        self.add("half-call-over")
        self.add("selected", position, call.start)
        self.add("correctable", "position")

    def missed_here(self) -> list[float]:
        """Ends of all words not understood since the selector was last known to be here."""
        return [fact.value[1] for fact in self.since("still-here") if fact.kind == "missed"]

    def maybe_called(self, item: str) -> list[float]:
        """Starts of all words not understood since a lamp began to run."""
        starts = []
        for fact in reversed(self.facts):
            if fact.kind == "runs" and fact.about == item:
                break
            starts += [fact.value[0]] if fact.kind == "missed" else []
            if fact.kind == "may-be-called" and fact.about == item:
                starts.append(fact.value)
        return starts

    def cancel(self, *items: str) -> None:
        """These cannot be judged any more."""
        for item in items:
            self.add("stopped", item)
            call, found = Call("", self.now, self.now, 0), self.outcome(item) == BAD
            self.result(item, OPEN, call, beside=found)  # a finding outlives a spoilt repeat

    def seconds(self, item: Item) -> tuple[float, float, float, float]:
        """Lower and upper limit, lag of the calls, and half the width of a measured time."""
        window, timing = item.window, self.checklist.timing
        assert window is not None
        hand = (timing.hand_before + timing.hand_after) / 2
        squares = hand**2 + timing.reaction_spread**2 + 2 * timing.word_error**2
        lag = timing.reaction + timing.hand_after - hand
        return window.lower, window.upper, lag, squares**0.5

    def was_asked(self, item: str) -> float | None:
        """When the crew was asked about a running lamp, if it was."""
        fact = self.last("runs", "asked-about", about=item)
        return fact.value if fact is not None and fact.kind == "asked-about" else None

    def timed(self, item: Item, reading: Reading, call: Call, *, affirmed: bool) -> None:
        """A call about a lamp that must go out after the selector has left."""
        good = reading.grade is Grade.GOOD
        if item.id not in self.windows:
            if self.counts(item, call, bad=good) and good:
                # Out while the selector is still there, unless it left unheard.
                self.spoken(item.id, OPEN if self.missed_here() else BAD, call)
            return
        if not self.powered(item.id):
            self.add("stopped", item.id)
            self.counts(item, call, bad=not good)
            return
        lower, upper, reaction, half = self.seconds(item)
        anchor, left = self.windows[item.id], self.last("may-have-left", about=item.id)
        assert left is not None
        first = min([call.start, *self.maybe_called(item.id)]) if good else call.start
        low = first - reaction - anchor - half
        high = call.start - reaction - left.value + half
        late = low > upper
        asked = self.was_asked(item.id) is not None
        if late or (asked and not good):
            outcome = BAD
        elif not good:
            return  # still lit, and still time
        elif asked:
            outcome = OPEN  # an answer to a question is no timing
        elif high < lower:
            outcome = BAD
        else:
            outcome = GOOD if lower <= low and high <= upper else OPEN
        if outcome == GOOD and not affirmed and self.found_before(item.id):
            self.ask("claims", call)
            return
        self.add("stopped", item.id)
        if outcome == OPEN and self.outcome(item.id) == BAD:
            self.result(item.id, OPEN, call, beside=True)
        else:
            self.spoken(item.id, outcome, call)

    def due(self, item: str) -> float:
        """When a running lamp is next asked about, or given up."""
        # A call of it that awaits a yes is no silence.
        claims = self.question.value if self.question else ()
        answers = [c.end + ANSWER_TIME for c in claims if c.key.rpartition(":")[0] == item]
        _, upper, reaction, half = self.seconds(self.items[item])
        time = self.windows[item] + upper + reaction + half + QUESTION_MARGIN
        if (asked := self.was_asked(item)) is not None:
            time = asked + ANSWER_TIME
        return max([time, *answers])

    def silence(self) -> None:
        """Time passed in which nothing was said."""
        for item in self.windows:
            if self.now < self.due(item) - 1e-9:
                continue
            if self.was_asked(item) is None:
                self.add("asked-about", item, self.now)
            else:
                unheard, found = self.maybe_called(item), self.outcome(item) == BAD
                self.add("stopped", item)
                call = Call("", self.now, self.now, 0)
                if unheard:  # its call may have been among them
                    self.result(item, OPEN, call, beside=found)
                else:
                    self.result(item, BAD, call)
