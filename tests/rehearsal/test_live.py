"""One whole session in real time: a simulated crew at a sound card made of software."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from fleet import loaded
from soundcard import REAL_TIME

from voicecheck.rehearsal.aloud import play_live
from voicecheck.rehearsal.cast import MANNERS
from voicecheck.rehearsal.manners import CLEAR_EARS
from voicecheck.rehearsal.proof import Terms
from voicecheck.session.options import HearingOptions
from voicecheck.session.places import cache_dir

pytestmark = REAL_TIME


def test_a_simulated_crew_finds_a_dark_lamp_in_real_time() -> None:
    """The shortest of the shipped airframes; its left fire lamp is in two positions."""
    brisk = replace(MANNERS["perfect"][0], talk_over=1.0, compound=0.8)
    terms = Terms("lamp-dark:FIRE L", brisk, CLEAR_EARS, seed=4, two_crew=0.0)
    outcome = play_live(loaded("ZZ-HAC"), 1, terms, HearingOptions(), Path(cache_dir()))
    assert outcome.complete
    judged = outcome.judgement
    assert (judged.dangerous, judged.careless, judged.false_findings) == ((), (), ())
    assert judged.called_bad == judged.found == 2
    assert outcome.length > outcome.ideal * 0.8, "real time cannot be outrun"
