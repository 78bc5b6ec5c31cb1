"""What stands: a state read under its checklist. It decides nothing and changes nothing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Final

from voicecheck.checklist.resolved import Checklist, Item, Position
from voicecheck.engine.events import Part
from voicecheck.engine.phases import Phase
from voicecheck.engine.state import Claim, Outcome, Record, Result, SessionState

NOTHING: Final = Record()


class Standing:
    """One state of one checklist."""

    def __init__(self, checklist: Checklist, state: SessionState) -> None:
        self.checklist = checklist
        self.state = state

    @property
    def phase(self) -> Phase:
        """Where the session stands."""
        return self.state.phase

    @property
    def position(self) -> Position | None:
        """Where the selector is, if it is known."""
        here = self.state.position
        return None if here is None else self.checklist.position(here)

    # Results.

    def record(self, item_id: str) -> Record:
        """An item's record, empty when nothing was called yet."""
        return self.state.records.get(item_id, NOTHING)

    def result(self, item_id: str) -> Result | None:
        """An item's standing result."""
        return self.record(item_id).now

    def this_visit(self, item_id: str) -> Result | None:
        """The standing result, if it was called in the present visit."""
        now = self.result(item_id)
        return now if now is not None and now.visit == self.state.visit else None

    def good_here(self, item_id: str) -> bool:
        """Whether the item was called good in the present visit, and that stands."""
        now = self.this_visit(item_id)
        return now is not None and now.outcome is Outcome.SATISFACTORY

    def bad_here(self, item_id: str) -> bool:
        """Whether the item was called bad in the present visit, and that stands."""
        now = self.this_visit(item_id)
        return now is not None and now.outcome is Outcome.UNSATISFACTORY

    def stage_done(self, item: Item, needed: str) -> bool:
        """Whether a stage that must come first was called so that the item can be.

        Good in this visit; but a switch goes back after any throw, good or bad, in any visit.
        """
        if item.put_back:
            return any(self.counted(self.checklist.item(throw)) for throw in item.after)
        return self.good_here(needed)

    def counted(self, item: Item) -> bool:
        """Whether something good or bad stands about the item."""
        now = self.result(item.id)
        return now is not None and now.counted

    # What is left.

    def blocked(self, item: Item) -> bool:
        """Whether an earlier stage failed, so that this one cannot be tested at all.

        A switch that was thrown can always be put back, and after a finding it matters most.
        """
        for needed in () if item.put_back else item.after:
            before = self.result(needed)
            if before is not None and before.outcome is Outcome.UNSATISFACTORY:
                return True
            if self.blocked(self.checklist.item(needed)):
                return True
        return False

    def outstanding(self, position: Position) -> list[Item]:
        """Items of the position that still want a call while the selector is there."""
        again = {
            needed
            for item in position.items
            if item.window is not None and not self.counted(item)
            for needed in item.after
            if self.this_visit(needed) is None
        }
        return [
            item
            for item in position.items
            if item.window is None
            and (item.id in again or not self.counted(item))
            and not self.blocked(item)
        ]

    def open_items(self, position: Position) -> list[Item]:
        """Everything in the position that has no counted result, timed items included."""
        return list(self._open(position))

    def _open(self, position: Position) -> Iterator[Item]:
        return (i for i in position.items if not self.counted(i) and not self.blocked(i))

    def missing(self) -> list[Position]:
        """Positions with open items."""
        return [p for p in self.checklist.positions if any(self._open(p))]

    def next_position(self) -> Position | None:
        """The first position after the current one, either way round, with something to call.

        From off, or from nowhere, it is the first in order. A position whose lamp still runs is
        not proposed for that: to go back would spoil its timing.
        """
        positions = self.checklist.positions[:-1]
        ids = [position.id for position in positions]
        running = {window.item for window in self.state.windows}
        here, step = -1, 1
        if self.state.position in ids:
            here = ids.index(self.state.position)
            came = [ids.index(visited) for visited in self.state.visited if visited in ids]
            step = -1 if came[0] > came[-1] else 1
        for offset in range(1, len(positions) + 1):
            candidate = positions[(here + step * offset) % len(positions)]
            if candidate.id == self.state.position:
                continue
            if any(item.id not in running for item in self.open_items(candidate)):
                return candidate
        rest = self.checklist.positions[-1]
        return rest if self.state.position != rest.id else None

    # Power.

    @property
    def power(self) -> dict[str, str]:
        """Confirmed bus states."""
        return {bus: state for bus, state in self.state.power.items() if state is not None}

    def lacking(self, wanted: Mapping[str, str]) -> dict[str, str]:
        """The needs that are not met: bus to wanted state, unknown ones included."""
        known = self.power
        return {bus: state for bus, state in wanted.items() if known.get(bus) != state}

    @property
    def buses(self) -> str:
        """All buses, as they are spoken."""
        return self.list(bus.say for bus in self.checklist.buses)

    def spoken_power(self, wanted: Mapping[str, str]) -> str:
        """For instance "avionics off, battery on", in the first wording of each bus."""
        words = []
        for bus in self.checklist.buses:
            if bus.id in wanted:
                words.append(bus.on[0] if wanted[bus.id] == "on" else bus.off[0])
        return self.list(words)

    # Words.

    @property
    def place(self) -> str:
        """Where we are, in words: an item of a position that is open, or the position."""
        position = self.position
        if position is None:
            return self.text("place-start")
        left = self.outstanding(position)
        if not left:
            return position.say
        return self.text("place-item", position=position.say, item=left[0].expected)

    @property
    def why_held(self) -> str:
        """Why we hold, in words."""
        part = self.state.held_by
        if part is None:
            return self.text("hold-stand-by")
        return self.text("hold-lost", part=self.part(part))

    def read_back(self, said: Claim) -> str:
        """Words that were called, with the position's name where other positions share them."""
        return self.checklist.placed(said.callout, said.words)

    def part(self, part: Part) -> str:
        """What a part is called."""
        return self.text(f"part-{part}")

    def text(self, key: str, /, **slots: object) -> str:
        """A text of the checklist's language for the record."""
        return self.checklist.record[key].format_map(slots)

    def list(self, entries: Iterable[str]) -> str:
        """Several entries as one text."""
        return self.text("comma").join(entries)
