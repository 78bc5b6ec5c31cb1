"""How a simulated crew behaves, as rates: how often, of the times that it could, it does so.

Each is counted by its name whenever it happens (Account.doings). The presets are invented; only
their being worse than any crew matters.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final


@dataclass(frozen=True, slots=True)
class Manners:
    """All rates from 0 to 1."""

    wrong_airframe: float = 0.0
    """Has started the session with the registration of another airframe."""
    misread: float = 0.0
    """Calls what is not so, and does not notice."""
    misspeak: float = 0.0
    """Calls what is not so, says correction, and calls again."""
    second_look: float = 0.0
    """Calls the same thing once more, unasked."""
    compound: float = 0.3
    """Calls what comes next in the same breath."""
    chatter: float = 0.0
    """Talks to somebody else."""
    forget: float = 0.0
    """Leaves an item out until reminded of it."""
    wrong_order: float = 0.0
    """Takes the positions, or what is in them, in an order of its own."""
    unnamed_move: float = 0.0
    """Calls a result before saying where the selector went."""
    interrupt: float = 0.0
    """Stands by and comes back later."""
    leave_early: float = 0.0
    """Goes elsewhere with the position half done."""
    wrong_power: float = 0.0
    """Switches a bus that nobody asked for."""
    careless: float = 0.0
    """Says yes to whatever was read back."""
    deny: float = 0.0
    """Says no to what was right."""
    ignore: float = 0.0
    """Lets a question of ours pass, or does not answer in time."""
    talk_over: float = 0.0
    """Does not wait for a prompt to end."""
    distracted: float = 0.0
    """Does other things while a lamp is about to go out."""
    command: float = 0.0
    """Asks for a repeat, a read-back, a change of crew, or says disregard, for no reason."""
    stop_short: float = 0.0
    """Calls the test complete too early, and is content with what is missing."""
    abandon: float = 0.0
    """Gives up."""
    unforeseen: float = 0.0
    """Sees or hears something that the checklist does not expect, and calls it."""
    overlook: float = 0.0
    """Takes a dim lamp for a bright one, and does not see a wrong colour or a lamp too many."""
    wrong_selector: float = 0.0
    """Turns the selector elsewhere than it says."""
    inattentive: float = 0.0
    """Does not hear a prompt, or that none came."""
    half_heard: float = 0.0
    """Hears that something was asked or said, and not what."""
    unanswered: float = 0.0
    """Gives neither yes nor no where that was asked."""
    late: float = 0.0
    """Answers after half a minute, or nearly."""
    crossed: float = 0.0
    """Answers yes for no, and no for yes: what it says was meant for somebody else."""
    at_once: float = 0.0
    """The other of two talks at the same time."""
    radio: float = 0.0
    """Says "affirm" or "negative" to somebody on the radio."""
    repeat_position: float = 0.0
    """Does a whole position again."""
    crew_change: float = 0.0
    """Hands over to people who do not know what has been called."""
    long_hold: float = 0.0
    """Stands by for twenty minutes; somebody may touch the cockpit meanwhile."""
    maintenance: float = 0.0
    """Has a fault mended, and tests what it concerned again."""
    silent_switch: float = 0.0
    """Switches a bus and says nothing."""
    bus_lost: float = 0.0
    """Of the aircraft: a bus fails."""
    lamp_fails: float = 0.0
    """Of the aircraft: a lamp goes dark for good."""


@dataclass(frozen=True, slots=True)
class Ears:
    """How well words get through where no sound is made. Rates from 0 to 1 of utterances."""

    unclear: float = 0.0
    """Not understood at all."""
    guessed: float = 0.0
    """Half understood: asked about, rightly."""
    misguessed: float = 0.0
    """Half understood: asked about, wrongly."""
    overheard: float = 0.0
    """Taken for talk to somebody else."""
    chatter_unclear: float = 0.0
    """Of other people's talk: taken for something said to us."""
    touched: float = 0.0
    """Entered by key instead of said."""
    lost: float = 0.0
    """The microphone fails before it, and comes back."""
    misheard: float = 0.0
    """Taken for another callout on offer that sounds like it, and acted on."""
    radio_taken: float = 0.0
    """Of yes and no to others: taken for answers to us."""
    mistouched: float = 0.0
    """Somebody enters a callout by mistake."""
    long_loss: float = 0.0
    """The microphone is away for up to five minutes, and the crew talks on."""
    crash: float = 0.0
    """The program dies and the session is resumed, up to an hour later."""
    revised: float = 0.0
    """Of these: with a crew that has another edition of the checklist from then on."""
    clock_jump: float = 0.0
    """The clock is up to two hours ahead at once, or words are dated too early."""


STEADY: Final = Manners(
    wrong_airframe=0.002,
    misread=0.002,
    misspeak=0.01,
    chatter=0.02,
    forget=0.01,
    talk_over=0.1,
    unforeseen=0.002,
)
UNRULY: Final = Manners(
    wrong_airframe=0.01,
    misread=0.03,
    misspeak=0.06,
    second_look=0.05,
    compound=0.4,
    chatter=0.06,
    forget=0.06,
    wrong_order=0.3,
    unnamed_move=0.03,
    interrupt=0.02,
    leave_early=0.03,
    wrong_power=0.02,
    careless=0.05,
    deny=0.05,
    ignore=0.05,
    talk_over=0.4,
    distracted=0.3,
    command=0.04,
    stop_short=0.003,
    abandon=0.001,
    unforeseen=0.02,
)
CLEAR_EARS: Final = Ears()
POOR_EARS: Final = Ears(
    unclear=0.06,
    guessed=0.06,
    misguessed=0.03,
    overheard=0.02,
    chatter_unclear=0.3,
    touched=0.03,
    lost=0.004,
)
UNKIND: Final = replace(
    UNRULY,
    overlook=0.3,
    wrong_selector=0.01,
    inattentive=0.02,
    half_heard=0.02,
    unanswered=0.03,
    late=0.03,
    crossed=0.005,
    at_once=0.03,
    radio=0.01,
    repeat_position=0.005,
    crew_change=0.003,
    long_hold=0.002,
    maintenance=0.01,
    silent_switch=0.002,
    bus_lost=0.001,
    lamp_fails=0.003,
)
UNKIND_EARS: Final = replace(
    POOR_EARS,
    misheard=0.002,
    radio_taken=0.3,
    mistouched=0.002,
    long_loss=0.002,
    crash=0.002,
    revised=0.3,
    clock_jump=0.002,
)
