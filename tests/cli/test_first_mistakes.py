"""The mistakes of a first checklist: each names the line and what to write instead."""

from __future__ import annotations

from pathlib import Path

import pytest
from command import call

from voicecheck.checklist.blank import blank_airframe, blank_type
from voicecheck.proofreading.cards import Cards

TYPE = blank_type("Plover 12")
AIRFRAME = blank_airframe("Plover 12", "plover-12", "ZZ-PLV", "Hollin Air Ambulance")
BUSES = TYPE[TYPE.index("  battery: {say") : TYPE.index("positions:")]


def validated(folder: Path, text: str | bytes, capsys: pytest.CaptureFixture[str]) -> str:
    """What `validate` says of this type file; one line."""
    (folder / "airframes").mkdir()
    (folder / "airframes" / "zz-plv.yaml").write_text(AIRFRAME, "utf-8")
    content = text.encode() if isinstance(text, str) else text
    (folder / "plover-12.yaml").write_bytes(content)
    status, out, err = call("validate", folder / "plover-12.yaml", capsys=capsys)
    assert "Traceback" not in out + err
    assert (status, out.count("\n")) == (2, 1), out
    return out.replace(f"{folder}/", "")


def place_of(old: str, more: int = 0) -> int:
    """The line of TYPE on which `old` begins, from 1."""
    return TYPE[: TYPE.index(old)].count("\n") + 1 + more


@pytest.mark.parametrize(
    ("old", "new", "more", "words"),
    [
        # White space that nobody sees.
        ("    name: Landing", "\tname: Landing", 0, "use spaces, not tabs"),
        ("    name: Landing", "  \tname: Landing", 0, "use spaces, not tabs"),
        ("          - {caption: LEFT", "\t\t- {caption: LEFT", 0, "use spaces, not tabs"),
        ("    name: Landing", "\u00a0   name: Landing", 0, "indent with the space bar"),
        ("    name: Landing", "   name: Landing", 1, "starts in the same column"),
        ("    say: gear ", "      say: gear ", 0, "starts in the same column"),
        ("        call: horn", "      call: horn", 1, "two spaces for each step"),
        ("          - {caption: LEFT", "        - {caption: LEFT", 0, "every '- ' of a list"),
        ("  gear:       ", "gear:       ", -1, "two spaces further in"),
        # Colons, quotes, braces.
        ("A leg that", "Note: a leg that", 0, 'put the text in quotes: consequence: "Note: a leg'),
        ("title: Plover 12", "title: Plover 12: x", 0, "put the text in quotes: title: "),
        ("name: Landing", "name:Landing", 0, "a space after the colon"),
        ("    expect:    ", "    expect     ", 0, "write 'expect:'"),
        ('call: "# green"', "call: # green", 0, 'text that begins with # needs quotes, "# ..."'),
        ('"# green"', "“# green”", 0, "use the straight quotes"),
        ("role: status}", "role: status", 1, "closing '}' is missing"),
        ("say: nose gear, colour", "say: nose gear colour", 0, "a comma or the closing '}'"),
        ("name: Landing", "name: @Landing", 0, "put the text in quotes"),
        ("name: Landing", "name: *Landing", 0, "begins with * in quotes"),
        ("name: Landing", "name: &Landing", 0, "begins with & in quotes"),
        ("schema: 1", "---\nschema: 1\n---\nschema: 1", 2, "one file, one checklist"),
        # Keys.
        ("    say: gear ", "    says: gear ", 0, "did you mean 'say'?"),
        ("minutes:", "minuts:", 0, "did you mean 'minutes'?"),
        ("title:", "Title:", 0, "did you mean 'title'?"),
        ("colour: green", "color: green", 0, "did you mean 'colour'?"),
        ("    say: gear ", "    say: gear\n    say: gears ", 1, "stands twice (first in line"),
        ("say: nose gear, ", "", 0, "add 'say:' here"),
        ("        kind: aural\n", "", -1, "add 'kind:' and one of: absent, aural"),
        ("kind: aural", "kind: horn", 0, "the kinds are: lamps, aural"),
        ("kind: aural", "kind: Aural", 0, "did you mean 'aural'?"),
        ("      greens:", "      - greens:", 9, "not both"),
        # Buses.
        ("{battery: on,", "{ground: on,", 0, "or add it under 'buses:'"),
        ("{battery: on,", "{batery: on,", 0, "did you mean 'battery'?"),
        (BUSES, "", -1, "two spaces further in"),
        # Words, numbers and truth.
        ("avionics: off}\n", "avionics: no}\n", 0, "write off"),
        ("{battery: on,", "{battery: yes,", 0, "write on"),
        ("{battery: on,", "{battery: true,", 0, "(found 'true'); write on"),
        ("{battery: on,", "{battery: ON,", 0, "in small letters, on"),
        ("call: horn", "call: true", 0, 'put it in quotes, "true"'),
        ("say: gear ", "say: 3 ", 0, 'such as "three"'),
        ("say: nose gear", "say: gear 1", 0, "no digits or punctuation"),
        ("say: nose gear", "say: nose-gear", 0, "no digits or punctuation"),
        ('chapter: "32"', "chapter: 032", 0, 'put it in quotes, "032"'),
        ("title: Plover 12 warning-system test", "title: 12:30", 0, ""),
        ("minutes: 10", "minutes: ten", 0, "in digits, such as 2"),
        ("minutes: 10", "minutes: 1:30", 0, "in digits, such as 2"),
        ("minutes: 10", "minutes: .inf", 0, "in digits, such as 2"),
        ("minutes: 10", "minutes: -1", 0, "write a number greater than 0"),
        ("minutes: 10", 'minutes: "1e999"', 0, "in digits, such as 2"),
        ("colour: green", "colour: grene", 0, "did you mean 'green'?"),
        ("schema: 1", "schema: one", 0, "write 1"),
        ("    name: Landing gear ", "    name: ", 0, "nothing is written after it"),
        # Paths where names belong.
        ("id: plover-12", "id: ../plover-12", 0, "lower-case words joined by hyphens"),
        ("type: Plover 12", "type: Plover 12\nlanguage: ../../en", 1, "a folder of grammars"),
    ],
)  # fmt: skip
def test_a_mistake_in_the_type_file(
    old: str,
    new: str,
    more: int,
    words: str,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert old in TYPE
    if not words:
        # "12:30" is a word in YAML 1.2, as the title of a checklist may be.
        (tmp_path / "plover-12.yaml").write_text(TYPE.replace(old, new, 1), "utf-8")
        assert call("validate", tmp_path / "plover-12.yaml", capsys=capsys)[0] == 0
        return
    line = validated(tmp_path, TYPE.replace(old, new, 1), capsys)
    assert line.startswith(f"plover-12.yaml:{place_of(old, more)}:"), line
    assert words in line


@pytest.mark.parametrize(
    ("content", "line", "words"),
    [
        (b"", 1, "voicecheck new"),
        (b"# nothing yet\n", 1, "voicecheck new"),
        (b"three green\n", 1, "the file holds plain text"),
        (b"- gear\n- fire\n", 1, "the file holds a list"),
        (b"Checklist\nGear: three green\n", 2, "in quotes"),
        (TYPE.encode("utf-16"), 1, "save the file as UTF-8"),
        (TYPE.encode().replace(b"Landing gear", b"Landing \xe9"), 21, "save the file as UTF-8"),
        (TYPE.encode().replace(b"Landing gear", b"Landing \x00"), 21, "remove it"),
    ],
)
def test_a_file_that_is_no_checklist(
    content: bytes, line: int, words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told = validated(tmp_path, content, capsys)
    assert told.startswith(f"plover-12.yaml:{line}:"), told
    assert words in told


def test_windows_line_ends_and_a_byte_order_mark_are_no_mistake(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "airframes").mkdir()
    for path, text in (("plover-12.yaml", TYPE), ("airframes/zz-plv.yaml", AIRFRAME)):
        content = b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode()
        (tmp_path / path).write_bytes(content)
    status, out, _ = call("validate", tmp_path, capsys=capsys)
    assert (status, out.count("\n") - out.count(": note: ")) == (0, 1), out
    (tmp_path / "plover-12.yaml").write_bytes(
        b"\xef\xbb\xbf" + TYPE.replace("say: gear ", "say: 3 ").replace("\n", "\r\n").encode()
    )
    out = call("validate", tmp_path / "plover-12.yaml", capsys=capsys)[1]
    assert f"plover-12.yaml:{place_of('say: gear ')}:" in out, "lines count as an editor counts"


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("checklist: plover-12", "checklist: ../plover-12", "lower-case words joined by hyphens"),
        ("checklist: plover-12", "checklist: plover-13", "correct 'checklist:'"),
        ("registration: ZZ-PLV\n", "", "add 'registration:' here"),
        ("registration: ZZ-PLV", "registration: 12", 'put it in quotes, "12"'),
        ("operator: Hollin", "operator: Hollin: x", "put the text in quotes: operator: "),
    ],
)
def test_a_mistake_in_the_airframe_file(
    old: str, new: str, words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert old in AIRFRAME
    (tmp_path / "airframes").mkdir()
    (tmp_path / "plover-12.yaml").write_text(TYPE, "utf-8")
    file = tmp_path / "airframes" / "zz-plv.yaml"
    file.write_text(AIRFRAME.replace(old, new, 1), "utf-8")
    status, out, _ = call("validate", file, capsys=capsys)
    assert (status, out.count("\n")) == (2, 1), out
    assert words in out
    assert "zz-plv.yaml" in out


def test_the_page_of_cards_tells_what_validate_tells(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A word without pronunciation, an unknown bus of one airframe, and an error of the type."""
    (tmp_path / "airframes").mkdir()
    file = tmp_path / "plover-12.yaml"
    other = AIRFRAME.replace("ZZ-PLV", "ZZ-PLW") + (
        "changes:\n  gear: {because: x, power: {ground: on}}\n"
    )
    (tmp_path / "airframes" / "zz-plv.yaml").write_text(AIRFRAME, "utf-8")
    (tmp_path / "airframes" / "zz-plw.yaml").write_text(other, "utf-8")
    for text in (TYPE.replace("call: horn", "call: xqzrt"), TYPE.replace("name: ", "nane: ", 1)):
        file.write_text(text, "utf-8")
        out = call("validate", file, capsys=capsys)[1]
        problems = Cards([file]).proof("file-1")
        assert problems
        for problem in problems:
            assert problem["text"] in out
            assert f"{problem['file']}:{problem['line']}:" in out
