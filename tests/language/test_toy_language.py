"""A language of invented words, end to end: nothing that a person reads is English."""

from __future__ import annotations

import ast
import io
import json
import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
import yaml
from command import call
from pypdf import PdfReader
from toy import GRAMMAR, REGISTRATION, TYPE, ToySession, everything, morning, toy

from voicecheck.checklist.said import network_of
from voicecheck.display.hub import page_texts
from voicecheck.display.reviewing import page
from voicecheck.engine.effects import Say
from voicecheck.language.prompts import PROMPTS
from voicecheck.logbook.captions import captions
from voicecheck.logbook.pages import fleet_page, history_page
from voicecheck.logbook.report import report
from voicecheck.logbook.session_pdf import session_pdf
from voicecheck.logbook.sessions import load
from voicecheck.logbook.store.actions import Act, Deed, act
from voicecheck.logbook.store.database import open_database
from voicecheck.logbook.store.looking import context_of, fleet, history
from voicecheck.logbook.store.reading import of_airframe
from voicecheck.logbook.transcript import transcript
from voicecheck.proofreading.cards import Cards
from voicecheck.session.replay import replay
from voicecheck.session.review import Review
from voicecheck.session.wording import Manner, word
from voicecheck.shipped import grammars_dir
from voicecheck.words import PARTS, VARIABLE, chosen, english, speaking

ENGLISH = grammars_dir() / "en"
PACKAGE = Path(__file__).parents[2] / "voicecheck"

# Not words of a language: names of programs and files, and what stands in a journal as an
# identifier, with the names that this file gives.
NAMES = {"voicecheck", "journal", "jsonl", "html", "utc"}


def texts_of(folder: Path, *parts: str) -> Iterator[str]:
    """Every text of some files of a grammar."""
    for part in parts:
        data = yaml.load((folder / f"{part}.yaml").read_text("utf-8"), Loader=yaml.BaseLoader)
        yield from _strings(data)


def _strings(data: Any) -> Iterator[str]:
    if isinstance(data, str):
        yield data
    elif isinstance(data, dict):
        for value in data.values():
            yield from _strings(value)
    elif isinstance(data, list):
        for value in data:
            yield from _strings(value)


def words_in(text: str) -> set[str]:
    """Words of three letters or more, without what stands in braces."""
    return set(
        re.findall(r"(?<![^\W\d_])[a-z]{3,}(?![^\W\d_])", re.sub(r"{\w+}", " ", text.lower()))
    )


FORBIDDEN = {
    word
    for text in texts_of(ENGLISH, *PARTS, "prompts", "callouts", "commands", "calendar")
    for word in words_in(text)
} - NAMES


class _Read(HTMLParser):
    """What a page shows or reads out, without its markup and its scripts."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self._silent = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._silent += tag in ("style", "script")
        shown = (
            "aria-label",
            "title",
            "alt",
            "placeholder",
            "data-texts",
            "data-day",
            "data-night",
        )
        for name, value in attrs:
            if name == "data-texts" and value:
                self.found += json.loads(value).values()
            elif name in shown and value:
                self.found.append(value)

    def handle_endtag(self, tag: str) -> None:
        self._silent -= tag in ("style", "script")

    def handle_data(self, data: str) -> None:
        if not self._silent:
            self.found.append(data)


def read(html: str) -> str:
    reader = _Read()
    reader.feed(html)
    return "\n".join(reader.found)


def worded(text: str) -> set[str]:
    """The words of a text, without file names, digests, and the keys of callouts and notes."""
    files = r"[\w-]+\.(?:jsonl|json|html|yaml|wav|vtt)|SHA-256|\b[0-9a-f]{64}\b"
    keys = r"\b(?:command|reason|select|selector|power):[\w-]+(?::\w+)?"
    ids = "|".join(re.escape(item.id) for item in reversed(toy().checklist.items))
    ids = rf"\b(?:{ids})(?::[\w-]+)?"
    return words_in(re.sub(f"{files}|{keys}|{ids}|^NOTE ", " ", text, flags=re.M))


@pytest.fixture(scope="module")
def shown(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """Everything that a person may read of some sessions, by where it stands."""
    log = tmp_path_factory.mktemp("toy") / "log"
    found: dict[str, str] = {}
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(VARIABLE, str(GRAMMAR))
        folders = []
        for day in range(7):
            session = ToySession(log, morning() + timedelta(days=day))
            everything(session)
            told = session.end()
            folders.append(session.folder)
        found["screens"] = told
        found["pictures"] = "\n".join(_values(session.eye.pictures))
        broken = ToySession(log, morning() + timedelta(days=9), second=False)
        broken.press("power:qarz:on", "command:affirm", "select:zorb", "zorb.grix:0")
        broken.record.close()
        found["screens of one cut off"] = "\n".join(broken.eye.texts)
        words = session.words
        found["page"] = read(
            bytes(
                page("live.html.j2", words=words, all=json.dumps(page_texts(words))).body
            ).decode()
        )
        found["pairing"] = read(bytes(page("pair.html.j2").body).decode())
        found |= _logbook(log, folders, broken.folder)
        found |= _pages(log)
    return found


def _values(data: Any, key: str = "") -> Iterator[str]:
    """Texts of a picture, without its identifiers."""
    machine = {"kind", "phase", "outcome", "callout", "group", "colour", "how", "who", "id", "item",
               "bus", "state", "keys", "ask", "wanted", "part", "lost"}  # fmt: skip
    if isinstance(data, dict):
        for name, value in data.items():
            if name not in machine or isinstance(value, dict | list):
                yield from _values(value, name)
    elif isinstance(data, list | tuple):
        for value in data:
            yield from _values(value, key)
    elif isinstance(data, str) and key not in ("lacks", "lost"):
        yield data


def _logbook(log: Path, folders: list[Path], broken: Path) -> dict[str, str]:
    now = morning() + timedelta(days=30)
    database = open_database(None, log)
    from voicecheck.logbook.store.delivery import deliver

    deliver(log, database, None)
    with database.reading() as connection:
        names = [entry.name for entry in of_airframe(connection, REGISTRATION)]
    kinds = (Act.DEFERRED, Act.CLEARED, Act.CORRECTED, Act.REOPENED)
    for name, kind in zip(names, (*kinds, *kinds), strict=False):
        category = "B" if kind is Act.DEFERRED else None
        done = Deed(kind, "Qo", morning() + timedelta(days=20), "Q 1", "žŷp", category)
        act(database, name, done)
    found = {}
    with database.reading() as connection:
        context = context_of(connection, REGISTRATION, now, folders[0].name)
        found["history"] = read(history_page(history(connection, REGISTRATION, now)))
        found["fleet"] = read(fleet_page(fleet(connection, now), now))
    database.close()
    for name, folder in (("", folders[0]), (" of one cut off", broken)):
        session = load(folder)
        found[f"transcript{name}"] = transcript(session)
        found[f"captions{name}"] = captions(session)
        found[f"report{name}"] = read(report(session, context))
        printed = PdfReader(io.BytesIO(session_pdf(session, context)))
        found[f"pdf{name}"] = "\n".join(sheet.extract_text() for sheet in printed.pages)
        found[f"title of the pdf{name}"] = str(printed.metadata and printed.metadata.title)
    return found


def _pages(log: Path) -> dict[str, str]:
    review, cards = Review(log), Cards([TYPE])
    listed = review.sessions()
    seen = review.session(str(listed[0]["id"]))
    card = cards.card("file-1", REGISTRATION)
    pages = {
        "sessions": page("sessions.html.j2", sessions=listed),
        "review": page("review.html.j2", words=seen["words"], session=seen),
        "card": page("card.html.j2", words=card["words"], card=card, key="q", watched=True),
        "problem": page("problem.html.j2", problem="Q"),
    }
    return {name: read(bytes(found.body).decode()) for name, found in pages.items()}


def test_no_english_word_is_read(shown: dict[str, str]) -> None:
    wrong = {where: sorted(FORBIDDEN & worded(text)) for where, text in shown.items()}
    assert {where: words for where, words in wrong.items() if words} == {}


def test_every_prompt_is_in_the_language() -> None:
    language = toy().language
    for prompt, slots in PROMPTS.items():
        values = dict.fromkeys(slots, "Qvz 12")
        for manner in (Manner(), Manner("terse")):
            told = word(Say(prompt, values), language, manner)
            for text in (told.shown, *told.spoken):
                assert not FORBIDDEN & words_in(text), prompt


def test_the_lists_of_the_log(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv(VARIABLE, str(GRAMMAR))
    monkeypatch.setenv("COLUMNS", "200")
    session = ToySession(tmp_path / "log", datetime.now(UTC) - timedelta(days=2))
    everything(session)
    session.end()
    log = ("--log", str(tmp_path / "log"))
    call("log", "deliver", *log, capsys=capsys)
    told = []
    for arguments in (("list",), ("show", "latest"), ("open", "--text"), ("fleet",),
                      ("trend", REGISTRATION)):  # fmt: skip
        told.append(call("log", *arguments, *log, capsys=capsys)[1])
    open_ = told[2].split()[0]  # of `open`: the first that stands
    told.append(call("log", "defer", open_, "--by", "Qo", "--reference", "Q 1", "--category", "B",
                     *log, capsys=capsys)[1])  # fmt: skip
    assert all(told)
    found = FORBIDDEN & worded("\n".join(told))
    assert found == set()


def test_a_journal_brings_its_words(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without any grammar of its language a session is read, and replayed, as it was written."""
    session = ToySession(tmp_path, morning())
    everything(session)
    session.end()
    monkeypatch.setenv(VARIABLE, "en")
    assert load(session.folder).words.record == session.words.record
    assert not FORBIDDEN & worded(transcript(load(session.folder)))
    assert replay(session.folder).summary is not None


def keys_used() -> tuple[set[str], set[str]]:
    """Keys that are asked for as they stand, and beginnings of those that are put together."""
    whole, begun = set[str](), set[str]()
    for path in PACKAGE.rglob("*"):
        text = path.read_text("utf-8") if path.suffix in (".py", ".js", ".j2") else ""
        begun |= set(re.findall(r"""[`"'](\w[\w-]*-)(?:\$?{|["'] ~)""", text))
        begun |= {f"{kind}-" for kind in re.findall(r"""(?:named|_word)\(["'](\w+)["']""", text)}
        whole |= set(re.findall(r"""["'`]([a-z][\w-]*)["'`]""", text))
    return whole, begun


def test_every_text_is_used() -> None:
    """Nothing is translated for nobody."""
    whole, begun = keys_used()
    words = english()
    unused = {
        key
        for key in (*words.record, *words.report, *words.page)
        if key not in whole and not any(key.startswith(start) for start in begun)
    }
    assert unused == set()


def test_every_key_that_is_asked_for_is_there() -> None:
    words = english()
    for path in (path for path in PACKAGE.rglob("*.py") if "engine" not in path.parts):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Name)):
                continue
            if node.func.id == "say" and isinstance(node.args[0], ast.Constant):
                key = str(node.args[0].value)
                assert words.has(key), f"{path}:{node.lineno}: {key}"
                given = {word_.arg for word_ in node.keywords}
                wanted = set(re.findall(r"{(\w+)}", words.text(key)))
                assert None in given or wanted <= given, f"{path}:{node.lineno}: {key}"


def test_texts_are_of_the_chosen_language(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(VARIABLE, str(GRAMMAR))
    assert chosen().language == "zul"
    with speaking(english()):
        assert chosen().language == "zul"
    assert "script" not in FORBIDDEN


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("Øtɔj dſə tʉndə ŷm ñøʉž", "zorb.tund:good"),
        ("kød tʉndə gøc", "zorb.tund:good"),
        ("tʉndə ŷm gød ñøʉž", "zorb.tund:bad"),
        ("gəld plənʉ", "select:plen"),
        ("tʉndə", None),
        ("tʉndə ñøʉž", None),
    ],
)
def test_what_is_not_taught_is_understood(text: str, key: str | None) -> None:
    loaded = toy()
    network = network_of(loaded.checklist, loaded.language.sayings)
    assert network.meant(network.words(text), network.ways).key == key
