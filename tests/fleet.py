"""The shipped fleet, and a crew that speaks to an engine in words."""

from __future__ import annotations

from functools import cache
from typing import Any

from voicecheck.checklist.loader import Loaded, load_checklist
from voicecheck.engine import Engine
from voicecheck.engine.effects import Effect, Finish, Say
from voicecheck.engine.events import Began, Ended, Heard, Passed
from voicecheck.shipped import checklists_dir, grammars_dir

FLEET = {
    "ZZ-HAA": "tarn-40",
    "ZZ-HAB": "tarn-40",
    "ZZ-HAC": "tarn-40",
    "ZZ-HJA": "skerry-j2",
    "ZZ-HJB": "skerry-j2",
    "ZZ-HJC": "skerry-j2",
    "ZZ-HJD": "skerry-j2",
}


@cache
def loaded(registration: str) -> Loaded:
    """One airframe of the shipped fleet."""
    return load_checklist(
        FLEET[registration], registration, shipped=checklists_dir(), grammars=grammars_dir()
    )


fleet = loaded


class Crew:
    """Speaks to a fresh engine; words last 0.8 s and stream time moves with them."""

    def __init__(
        self, registration: str, began: Began | None = None, *, loaded: Loaded | None = None
    ) -> None:
        self.engine = Engine((loaded or fleet(registration)).checklist)
        self.now = 0.0
        self.effects: list[Effect] = []
        self.events: list[Any] = []
        self.feed(began or Began(0.0))

    def feed(self, event: Any) -> list[Effect]:
        """One event; returns its effects."""
        self.events.append(event)
        made = self.engine.handle(event)
        self.effects += made
        return made

    @staticmethod
    def prompts(made: list[Effect]) -> list[str]:
        """The ids of the prompts among effects."""
        return [effect.prompt for effect in made if isinstance(effect, Say)]

    def phrases(self) -> dict[str, str]:
        """Every wording that can be said now, and its callout."""
        return {
            phrase: offer.callout.key
            for offer in self.engine.offers().values()
            for phrase in offer.callout.phrases
        }

    def say(self, *calls: str) -> list[str]:
        """Say callouts one after another; returns the prompts that follow."""
        prompts: list[str] = []
        for words in calls:
            # A question is answered once it has sounded: two things read back take a second.
            self.now += 2.0 if words == "affirm" else 1.0
            key = self.phrases()[words]
            made = self.feed(Heard(key, words, self.now - 0.8, self.now, 0.99))
            prompts += [effect.prompt for effect in made if isinstance(effect, Say)]
        return prompts

    def say_at(self, start: float, words: str) -> list[str]:
        """Say one callout that begins at an exact time."""
        self.now = start + 0.8
        key = self.phrases()[words]
        made = self.feed(Heard(key, words, start, self.now, 0.99))
        return [effect.prompt for effect in made if isinstance(effect, Say)]

    def wait(self, seconds: float) -> list[str]:
        """Let time pass; returns the prompts that follow."""
        self.now += seconds
        made = self.feed(Passed(self.now))
        return [effect.prompt for effect in made if isinstance(effect, Say)]

    def power(self, **buses: str) -> None:
        """Call buses and affirm each."""
        for bus, state in buses.items():
            self.say(f"{bus} {state}", "affirm")

    @property
    def result(self) -> dict[str, Any]:
        """The summary; ends the session if it is still running."""
        if not any(isinstance(effect, Finish) for effect in self.effects):
            self.feed(Ended(self.now, "the test is over"))
        return dict(next(e.summary for e in self.effects if isinstance(e, Finish)))

    def outcome(self, item_id: str) -> str:
        """An item's outcome in the result."""
        return str(self.item(item_id)["outcome"])

    def item(self, item_id: str) -> dict[str, Any]:
        """An item of the result."""
        return next(item for item in self.result["items"] if item["id"] == item_id)

    def findings(self) -> list[dict[str, Any]]:
        """Standing findings of the result."""
        return [finding for finding in self.result["findings"] if not finding["superseded"]]
