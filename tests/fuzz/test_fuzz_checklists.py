"""Whatever stands in a type, airframe or grammar file: it serves, or one line says what to mend."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from fuzzing import for_long, quick, spoilt_bytes, spoilt_lines, watched
from hypothesis import given
from hypothesis import strategies as st

from voicecheck.checklist.blank import EXAMPLES, blank_airframe, blank_type, commented
from voicecheck.checklist.loader import Loaded, load_checklist
from voicecheck.checklist.resolved import Item
from voicecheck.engine import Engine
from voicecheck.engine.events import Began, Ended, KeyPressed, Passed
from voicecheck.errors import InputError, VoicecheckError
from voicecheck.language import load_language
from voicecheck.proofreading.advised import advised
from voicecheck.proofreading.cards import Cards
from voicecheck.shipped import checklists_dir, grammars_dir

TYPE = blank_type("Plover 12").replace(commented(EXAMPLES), EXAMPLES)
SHIPPED = (checklists_dir() / "skerry-j2.yaml").read_text("utf-8")
AIRFRAME = blank_airframe("Plover 12", "plover-12", "ZZ-PLV", "Hollin Air Ambulance") + (
    "not_fitted:\n  gear.horn: removed\nchanges:\n  stall:\n    because: modified\n"
    "    power: {battery: on, avionics: on}\nmel:\n"
    "  32-04: {category: B, title: Landing gear position light}\n"
)
GRAMMAR = sorted((grammars_dir() / "en").glob("*.yaml"))


@pytest.fixture(scope="module")
def folder() -> Iterator[Path]:
    with tempfile.TemporaryDirectory() as name:
        (Path(name) / "checklists" / "airframes").mkdir(parents=True)
        yield Path(name)


def load(folder: Path, type_: bytes, airframe: bytes) -> Loaded | None:
    file = folder / "checklists" / "plover-12.yaml"
    file.write_bytes(type_)
    (folder / "checklists" / "airframes" / "zz-plv.yaml").write_bytes(airframe)
    try:
        return load_checklist(
            str(file), "ZZ-PLV", shipped=checklists_dir(), grammars=grammars_dir()
        )
    except VoicecheckError as error:
        told(error, folder)
        return None


def told(error: VoicecheckError, folder: Path) -> None:
    """One readable line that leads somewhere."""
    text = str(error)
    assert len(text.splitlines()) == 1, text
    assert "; " in text, text
    assert len(text) < 2000 + len(str(folder)), text
    if isinstance(error, InputError) and error.place.line is not None:
        lines = Path(error.place.file).read_bytes().decode("utf-8-sig", "replace")
        assert 1 <= error.place.line <= len(lines.splitlines()) + 1, text


def runs(found: Loaded) -> None:
    """A checklist that is taken can be advised upon and run without a surprise."""
    list(advised(found))
    engine = Engine(found.checklist)
    engine.handle(Began(0.0))
    for now in range(1, 12):
        offers = list(engine.offers().values())
        if not offers:
            break
        engine.handle(KeyPressed(offers[now * 7 % len(offers)].callout.key, now * 3.0))
        engine.handle(Passed(now * 3.0 + 1))
    engine.handle(Ended(60.0, "the script ended"))
    assert all(isinstance(item, Item) for item in found.checklist.items)


@for_long
@quick
@given(st.data())
def test_a_spoilt_type_file(folder: Path, data: st.DataObject) -> None:
    text = data.draw(spoilt_lines(data.draw(st.sampled_from([TYPE, SHIPPED]))))
    with watched():
        found = load(folder, text.encode("utf-8", "surrogatepass"), AIRFRAME.encode())
        if found is not None:
            runs(found)
        cards = Cards([folder / "checklists" / "plover-12.yaml"])
        assert isinstance(cards.keys(), list)


@for_long
@quick
@given(st.data())
def test_a_spoilt_airframe_file(folder: Path, data: st.DataObject) -> None:
    text = data.draw(spoilt_lines(AIRFRAME))
    with watched():
        found = load(folder, TYPE.encode(), text.encode("utf-8", "surrogatepass"))
        if found is not None:
            runs(found)


@for_long
@quick
@given(st.one_of(st.binary(max_size=300), spoilt_bytes(TYPE.encode())))
def test_bytes_for_a_type_file(folder: Path, content: bytes) -> None:
    with watched():
        load(folder, content, AIRFRAME.encode())


@for_long
@quick
@given(st.data())
def test_a_spoilt_grammar(folder: Path, data: st.DataObject) -> None:
    spoilt = data.draw(st.sampled_from(GRAMMAR))
    text = data.draw(spoilt_lines(spoilt.read_text("utf-8")))
    own = folder / "grammars" / "en"
    shutil.rmtree(own, ignore_errors=True)
    shutil.copytree(grammars_dir() / "en", own)
    (own / spoilt.name).write_bytes(text.encode("utf-8", "surrogatepass"))
    try:
        with watched():
            try:
                load_language(own)
            except VoicecheckError as error:
                told(error, folder)
                return
            found = load(folder, TYPE.encode(), AIRFRAME.encode())
            if found is not None:
                runs(found)
    finally:
        shutil.rmtree(folder / "grammars")
