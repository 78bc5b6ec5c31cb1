"""`voicecheck new`: from nothing to a checklist that can be run, as somebody new would do it."""

from __future__ import annotations

import json
import typing
from pathlib import Path

import numpy as np
import pytest
import soundfile
from command import call, refused

from voicecheck.caution import CAUTION
from voicecheck.checklist import model
from voicecheck.checklist.blank import EXAMPLES, blank_type, commented
from voicecheck.checklist.schema import json_schema
from voicecheck.proofreading.cards import Cards

AT = ("--recorded-at", "2026-01-05")

BEEPER = """\
      beeper:
        kind: aural
        call: beeper
        chapter: "32"
"""


@pytest.fixture
def folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    """A type and an airframe, as `new` writes them."""
    made = tmp_path / "my checklists"
    assert call("new", "type", "Plover 12", "--into", made, capsys=capsys)[0] == 0
    status, out, _ = call(
        "new", "airframe", "plover-12", "ZZ-PLV", "--into", made, "--operator", "Hollin: Air",
        capsys=capsys,
    )  # fmt: skip
    assert status == 0
    assert CAUTION in out
    return made


def test_from_nothing_to_a_session(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, out, err = call("validate", folder, capsys=capsys)
    assert err == f"{CAUTION}\n"
    plain = out.count("\n") - out.count(": note: ")
    assert (status, plain) == (0, 1), "sound at once, and nothing to advise"
    assert "ZZ-PLV: 2 positions, 4 items" in out

    file = folder / "plover-12.yaml"
    text = file.read_text("utf-8")
    file.write_text(text.replace("# More positions", BEEPER + "# More positions"), "utf-8")
    status, out, _ = call("validate", file, capsys=capsys)
    assert (status, "ZZ-PLV: 2 positions, 5 items" in out) == (0, True), out

    card = Cards([file]).card("file-1", "ZZ-PLV")
    assert card["operator"] == "Hollin: Air"
    assert "beeper" in [item["expected"] for item in card["positions"][0]["items"]][-1]

    silence = folder / "silence.wav"
    soundfile.write(silence, np.zeros(16000 * 3, np.int16), 16000)
    status, out, err = call(
        "run", file, "--airframe", "ZZ-PLV", "--from", silence, *AT, "--second-listener", "off",
        "--log", folder / "log", "--json", capsys=capsys,
    )  # fmt: skip
    assert status == 3, err
    result = json.loads(out)
    assert {item["outcome"] for item in result["items"]} == {"not tested"}
    assert "gear.beeper" in [item["id"] for item in result["items"]]


def test_every_kind_is_shown_and_can_be_taken_out_of_its_comment(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    kinds = {
        typing.get_args(kind.model_fields["kind"].annotation)[0]
        for kind in typing.get_args(typing.get_args(model.Expectation)[0])
    }
    file = folder / "plover-12.yaml"
    text = file.read_text("utf-8")
    assert {kind for kind in kinds if f"kind: {kind}\n" in text} == kinds
    assert commented(EXAMPLES) in text
    file.write_text(text.replace(commented(EXAMPLES), EXAMPLES), "utf-8")
    status, out, _ = call("validate", folder, capsys=capsys)
    assert (status, out.count("\n") - out.count(": note: ")) == (0, 1), out
    assert "ZZ-PLV: 4 positions" in out


def test_the_airframes_examples_can_be_taken_out_of_their_comments(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = folder / "airframes" / "zz-plv.yaml"
    head, tail = file.read_text("utf-8").split("what applies.\n")
    opened = "".join(line.removeprefix("# ") for line in tail.splitlines(keepends=True))
    file.write_text(head + "what applies.\n" + opened, "utf-8")
    status, out, _ = call("validate", folder, capsys=capsys)
    assert (status, "2 positions, 2 items, 2 not fitted" in out) == (0, True), out


def test_the_first_line_leads_an_editor_to_the_schema(folder: Path) -> None:
    """The comment that the YAML language server reads (its README, "Using inlined schema")."""
    for file, name in (("plover-12.yaml", "type"), ("airframes/zz-plv.yaml", "airframe")):
        first = (folder / file).read_text("utf-8").splitlines()[0]
        mark = "# yaml-language-server: $schema="
        assert first.startswith(mark)
        schema = (folder / file).parent / first.removeprefix(mark)
        assert json.loads(schema.read_text("utf-8")) == json_schema(
            "type" if name == "type" else "airframe"
        )


def test_nothing_is_replaced(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = folder / "plover-12.yaml"
    file.write_text("mine", "utf-8")
    assert "exists already" in refused("new", "type", "plover 12", "--into", folder, capsys=capsys)
    assert file.read_text("utf-8") == "mine"
    file.write_text(blank_type("Plover 12"), "utf-8")
    line = refused("new", "airframe", file, "zz-plv", capsys=capsys)
    assert "zz-plv.yaml: exists already" in line


def test_a_schema_of_ours_is_renewed_another_file_is_kept(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    schema = tmp_path / "schema" / "type.schema.json"
    schema.parent.mkdir()
    schema.write_text('{"title": "TypeFile"}')
    assert call("new", "type", "One", "--into", tmp_path, capsys=capsys)[0] == 0
    assert json.loads(schema.read_text("utf-8")) == json_schema("type")
    schema.write_text("my own notes")
    assert "is not voicecheck's" in refused("new", "type", "Two", "--into", tmp_path, capsys=capsys)
    assert schema.read_text() == "my own notes"


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("type", "../plover"), "leave the folder out (plover)"),
        (("type", "C:\\types\\plover.yaml"), "not a path"),
        (("type", "  "), "write letters and digits"),
        (("type", "???"), "no letter or digit"),
        (("type", "a\nb"), "write letters and digits"),
        (("type", "a" * 61), "at most 60"),
        (("airframe", "plover-12", "ZZ-PLV"), "voicecheck new type NAME"),
        (("airframe", "../plover-12", "ZZ-PLV"), "name one that ends in .yaml"),
        (("airframe", "none.yaml", "ZZ-PLV"), "no such file"),
    ],
)
def test_what_new_refuses(
    arguments: tuple[str, ...],
    words: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    assert words in refused("new", *arguments, capsys=capsys)
    assert list(tmp_path.rglob("*")) == []


@pytest.mark.parametrize(
    ("registration", "words"),
    [("../../x", "letters A to Z"), ("Z" * 17, "1 to 16"), ("--", "letters A to Z")],
)
def test_a_registration_that_is_none(
    registration: str, words: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    arguments = ("new", "airframe", "--into", folder, "--", "plover-12", registration)
    assert words in refused(*arguments, capsys=capsys)
    assert len(list((folder / "airframes").iterdir())) == 1


def test_a_folder_that_cannot_be_made(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "in the way").write_text("a file")
    line = refused("new", "type", "One", "--into", tmp_path / "in the way", capsys=capsys)
    assert "choose another folder with --into" in line


@pytest.mark.parametrize("name", ["On", "null", "12", "1e3", "Été", "A: b", "a # b", '"x"', "- x"])
def test_a_name_stays_what_it_is(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from voicecheck.checklist.loader import read_type

    assert call("new", "type", "--into", tmp_path, "--", name, capsys=capsys)[0] == 0
    (file,) = tmp_path.glob("*.yaml")
    assert read_type(file)[0].type == name
