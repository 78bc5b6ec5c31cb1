"""Things said in a cockpit that are no callouts, and words that near misses are made with.

None of the sentences stands in a grammar's own list of chatter: that the recogniser knows.
"""

from __future__ import annotations

from typing import Final

CHATTER: Final = (
    "did you sign the tech log",
    "I left my headset in the car",
    "the fuel slip is in the door pocket",
    "have you seen the torch",
    "it is going to rain again",
    "ask the engineer about the seat belt",
    "good morning everybody",
    "we need ten minutes more",
    "that is what I thought",
    "can you move the chocks",
    "ground from apron three how do you read",
    "request start up stand seven",
    "information delta is current",
    "runway two seven left in use",
    "wind calm visibility ten kilometres",
    "I will call you back after the flight",
    "the stretcher is locked in place",
    "oxygen is on the left side",
    "who has the keys",
    "mind your head on the wing",
    "where did you put the checklist",
    "no I have not been there",
    "yes that would be fine",
    "all right then",
    "let us wait for the doctor",
    "the light in the hangar is broken",
    "turn the heater up please",
    "my phone battery is dead",
    "they closed the gate at four",
    "the horn of that truck is loud",
    "one of the two went home",
    "we go to the test flight tomorrow",
    "it was green when I looked",
    "how far is it to the stand",
    "did the bell ring for lunch",
    "never mind",
)
"""Some use the callouts' own words, as people do."""

SIMILAR: Final = (
    ("bell", "belt", "ball", "bill"),
    ("horn", "corn", "warm", "hand"),
    ("tone", "town", "ton", "phone"),
    ("green", "grain", "clean", "screen", "cream"),
    ("red", "rod", "ready", "wet"),
    ("light", "flight", "right", "line"),
    ("lights", "flights", "lines", "slides"),
    ("lit", "left", "lift", "little"),
    ("fire", "tyre", "wire", "higher"),
    ("gear", "beer", "hear", "year"),
    ("stall", "store", "stool", "small"),
    ("battery", "factory", "pattern", "better"),
    ("cabin", "captain", "coffin", "camera"),
    ("test", "rest", "text", "best"),
    ("back", "bag", "pack", "black"),
    ("again", "a gain", "against", "a pen"),
    ("stand", "stamp", "band", "send"),
    ("both", "boat", "booth", "most"),
    ("three", "free", "tree house", "tea"),
    ("two", "new", "true", "to do"),
    ("one", "won ton", "wine", "when"),
    ("no", "now", "know how", "low"),
    ("dark", "dock", "bark", "talk"),
    ("sounding", "standing", "sanding", "surrounding"),
    ("silenced", "licensed", "sirens", "silence it"),
    ("selector", "director", "collector", "protector"),
    ("select", "collect", "elect", "delete"),
    ("avionics", "economics", "harmonics", "a phone exam"),
    ("overspeed", "overseas", "over seat", "offer speed"),
    ("correction", "connection", "collection", "direction"),
    ("affirm", "a firm", "a farm", "alarm"),
    ("negative", "native", "narrative", "relative"),
    ("complete", "compete", "concrete", "compute"),
    ("pointer", "painter", "printer", "poster"),
    ("master", "faster", "monster", "after"),
)
"""A word of the callouts and words that sound somewhat like it but mean nothing there."""

UNRELATED: Final = (
    *("window", "coffee", "ladder", "engine", "pressure", "tanker", "button", "handle"),
    *("seven", "yellow", "northern", "paper", "broken", "missing", "empty", "heavy"),
    *("door", "wheel", "brake", "radio", "pump", "valve", "seat", "torch"),
)
"""Words of the same world that no shipped callout has at that place."""

EMPTY: Final = frozenset({"to", "the", "of", "is", "a", "and", "only", "going"})
"""Words that a wording can lose without meaning anything else."""
