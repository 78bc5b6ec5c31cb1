"""Every callout has a code, and no code begins another."""

from __future__ import annotations

from fleet import Crew
from hypothesis import given
from hypothesis import strategies as st

from voicecheck.display.keys import COMMANDS, keys_for, typed_so_far
from voicecheck.language.language import COMMANDS as KNOWN

names = st.text(st.characters(codec="ascii", categories=("Ll",)), min_size=1, max_size=4)
callouts = st.lists(
    st.one_of(
        st.builds(lambda item, reading: f"{item}:{reading}", names, names),
        st.builds(
            lambda group, place: f"{group}:{place}",
            st.sampled_from(["select", "power", "command", "reason", "one-item"]),
            st.integers(0, 80),
        ),
        st.sampled_from(sorted(COMMANDS)),
    ),
    unique=True,
    max_size=150,
)


def assert_complete_and_unambiguous(keys: list[str]) -> None:
    codes = keys_for(keys)
    assert sorted(codes.values()) == sorted(keys)
    for code in codes:
        assert not any(other != code and other.startswith(code) for other in codes)


@given(callouts)
def test_codes_are_complete_and_none_begins_another(keys: list[str]) -> None:
    assert_complete_and_unambiguous(keys)
    assert keys_for(keys) == keys_for(list(keys))


def test_every_offer_of_the_fleet_has_a_code_of_at_most_three_keys() -> None:
    for registration in ("ZZ-HAB", "ZZ-HJD"):
        crew = Crew(registration)
        for position in crew.engine.checklist.positions:
            crew.say(position.select[0])
            offers = list(crew.engine.offers())
            assert_complete_and_unambiguous(offers)
            assert max(map(len, keys_for(offers))) <= 3


def test_every_command_has_a_letter_of_its_own() -> None:
    assert {name.removeprefix("command:") for name in COMMANDS} == set(KNOWN)
    assert len(set(COMMANDS.values())) == len(COMMANDS)


def test_typing_completes_waits_or_is_dropped() -> None:
    codes = {"a": "affirm", "11": "three green", "12": "two green"}
    assert typed_so_far(codes, "a") == ("", "affirm")
    assert typed_so_far(codes, "1") == ("1", None)
    assert typed_so_far(codes, "12") == ("", "two green")
    assert typed_so_far(codes, "13") == ("", None)
    assert typed_so_far(codes, "z") == ("", None)
