"""The first file of somebody's own aircraft: a small checklist that is sound, with comments.

It has one position to try things on. Every other kind of expectation stands below it as a
comment, ready to be taken out of it. All words in it are invented.
"""

from __future__ import annotations

import json
import re
import textwrap
import unicodedata
from collections.abc import Mapping
from pathlib import Path
from typing import Final

from pydantic import TypeAdapter, ValidationError

from voicecheck.caution import CAUTION
from voicecheck.checklist.model import ID_PATTERN, REGISTRATION_PATTERN, Registration
from voicecheck.errors import VoicecheckError

LONGEST: Final = 60
"""Characters of a name; longer ones do not fit a report's heading."""

EXAMPLES: Final = """\
  stall:
    name: Stall warning
    say: stall
    power: {battery: on}
    caution: Hands clear of the control column.   # spoken when the position is selected
    expect:
      pointer:                    # a gauge: its good words, and each bad reading by name
        kind: gauge
        expected: pointer at stall
        good: [pointer at stall]
        bad:
          - {say: pointer low, finding: pointer short of the stall mark}
      shaker:                     # something that is felt
        kind: tactile
        call: shaker
  overheat:
    name: Overheat and anti-skid
    say: overheat
    power: {battery: on, avionics: on}
    expect:
      heat:                       # a caption in each throw of a switch, which then goes back
        kind: switch
        call: windshield heat
        back: off                 # or normal, auto: as it is spoken
        caption: W/S OVHT
        throws:
          - {id: low, say: low heat}
          - {id: high, say: high heat}
      master:                     # pressed to reset: must it reset, or stay?
        kind: cancel
        call: master
        must: reset
      door:                       # a lamp that must stay dark
        kind: absent
        call: door caption
        caption: DOOR
      skid:
        kind: lamps
        call: anti skid
        lamps:
          - {caption: ANTI-SKID, say: anti skid, colour: amber, role: caution}
      skid-out:                   # goes out 2 to 6 seconds after the selector leaves
        kind: extinguish
        lamp: skid
        call: anti skid
        within: {from: 2, to: 6}
"""
"""Every kind that the one position does not show."""

_TYPE: Final = """\
# yaml-language-server: $schema=schema/type.schema.json
# The warning-system test of one aircraft type. The line above gives an editor that knows
# YAML completion and explanations, without a network.
#
@CAUTION@
#
# Replace what is invented here by what the aircraft's own documents say. Indent by spaces,
# two for each step; put text that contains ": " or " #" in "quotes". After every change:
#   voicecheck validate @FILE@
schema: 1                         # version of this kind of file
id: @ID@
title: @TITLE@
type: @NAME@
buses:                            # what the crew calls on or off
  battery: {say: battery, label: battery bus, minutes: 10}   # a warning when on so long
  avionics: {say: avionics, label: avionics bus}
positions:                        # of the test selector, in the order of the checklist
  gear:                           # its id: small letters, digits and hyphens
    name: Landing gear            # as it stands in the report
    say: gear                     # as the crew says it: "going to gear"
    power: {battery: on, avionics: off}
    expect:                       # everything that must be called here
      greens:
        kind: lamps
        call: "# green"           # "#" stands for the number: "three green"
        lamps:
          - {caption: NOSE, say: nose gear, colour: green, role: status}
          - {caption: LEFT, say: left gear, colour: green, role: status}
          - {caption: RIGHT, say: right gear, colour: green, role: status}
        chapter: "32"             # for maintenance
        consequence: A leg that is down and locked would not show it.
      horn:
        kind: aural
        call: horn
        silence: must-silence     # or must-not-silence, or not-tried
        chapter: "32"
        consequence: A landing with the gear up could go unannounced.
# More positions, one for each other kind of expectation: take the "# " away.
@EXAMPLES@rest:                             # with the selector back at off
  panel:
    kind: gauge                   # right when nothing at all is lit
    expected: panel dark
    power: {battery: on}          # with no power every panel is dark
    good: [panel dark]
    bad:
      - {say: light still showing, finding: something is lit with the selector back at off}
    consequence: A light that stays lit hides the warning it belongs to.
"""

_AIRFRAME: Final = """\
# yaml-language-server: $schema=@SCHEMA@
# One airframe: what is fitted, and what differs from its type.
#
@CAUTION@
schema: 1
registration: @REGISTRATION@
checklist: @ID@
operator: @OPERATOR@
# Take the "# " away from what applies.
# type: @NAME@ (modified)         # a variant's name
# not_fitted:                     # a position, or position.expectation, and why
#   gear.horn: horn removed by modification
# changes:                        # what differs in a position, and why
#   gear:
#     because: avionics on throughout
#     power: {battery: on, avionics: on}
# mel:                            # reference data; what it allows is not decided here
#   32-04: {category: B, title: Landing gear position light}
"""


def commented(text: str) -> str:
    """Every line as a comment in the same column, as an editor's command for it would do."""
    return "".join(
        f"{line[: len(line) - len(line.lstrip())]}# {line.lstrip()}"
        for line in text.splitlines(keepends=True)
    )


def type_id(name: str) -> str:
    """The id, and so the file name, of a type with this name. Raises VoicecheckError."""
    _name("type", name)
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    made = "-".join(re.findall(r"[a-z0-9]+", plain))
    if not re.fullmatch(ID_PATTERN, made):
        raise VoicecheckError(f"'{name}': no letter or digit a to z, 0 to 9 in it; add one")
    return made


def blank_type(name: str) -> str:
    """The text of a type file that is sound as it stands. Raises VoicecheckError."""
    made = type_id(name)
    return _filled(
        _TYPE,
        {
            "FILE": f"{made}.yaml",
            "ID": _quoted(made),
            "TITLE": _quoted(f"{name.strip()} warning-system test"),
            "NAME": _quoted(name.strip()),
            "EXAMPLES": commented(EXAMPLES),
        },
    )


def blank_airframe(name: str, checklist: str, registration: str, operator: str) -> str:
    """The text of an airframe file. Raises VoicecheckError.

    name: of its type; checklist: the type's id.
    """
    _name("operator", operator)
    airframe_file(registration)
    return _filled(
        _AIRFRAME,
        {
            "SCHEMA": "../schema/airframe.schema.json",
            "REGISTRATION": _quoted(registration),
            "ID": _quoted(checklist),
            "OPERATOR": _quoted(operator.strip()),
            "NAME": " ".join(name.split()),
        },
    )


def airframe_file(registration: str) -> str:
    """The name of an airframe's file. Raises VoicecheckError."""
    _name("registration", registration)
    try:
        TypeAdapter(Registration).validate_python(registration)
    except ValidationError:
        raise VoicecheckError(
            f"'{registration}': no registration; write 1 to 16 characters, as on the hull "
            f"(the pattern is {REGISTRATION_PATTERN})"
        ) from None
    plain = "-".join(re.findall(r"[^\W_]+", registration.lower()))
    if not plain:
        raise VoicecheckError(f"'{registration}': no letter or digit in it; add one")
    return f"{plain}.yaml"


def _name(what: str, name: str) -> None:
    if "/" in name or "\\" in name:
        raise VoicecheckError(
            f"'{name}': a {what} is a name, not a path; leave the folder out "
            f"({Path(name.replace(chr(92), '/')).name or 'a name'}) and give it with --into"
        )
    if not name.strip() or not name.isprintable():
        raise VoicecheckError(f"{name!r}: is no {what}; write letters and digits")
    if len(name) > LONGEST:
        raise VoicecheckError(
            f"'{name[:LONGEST]}...': {len(name)} characters; a {what} has at most {LONGEST}"
        )


def _quoted(text: str) -> str:
    """A name as a YAML scalar, bare where that is safe: a JSON string is one, too."""
    bare = re.fullmatch(r"[A-Za-z][\w-]*( [\w-]+)*", text, re.ASCII)
    words = ("true", "false", "null", "yes", "no", "on", "off", "y", "n")
    return text if bare and text.lower() not in words else json.dumps(text, ensure_ascii=False)


def _filled(text: str, values: Mapping[str, str]) -> str:
    lines = textwrap.wrap(CAUTION, 90, initial_indent="# ", subsequent_indent="# ")
    every = {"CAUTION": "\n".join(lines), **values}
    return re.sub(r"@([A-Z]+)@", lambda found: every[found[1]], text)
