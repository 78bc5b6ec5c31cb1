"""Whatever is done to a journal or to the logbook shows."""

from __future__ import annotations

import itertools
import random
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
import sqlalchemy as sa
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from invented import place
from typer.testing import CliRunner

from voicecheck.cli.log import app
from voicecheck.errors import VoicecheckError
from voicecheck.journal.chain import canonical, digest
from voicecheck.journal.reader import read, verify
from voicecheck.logbook.signing import (
    BadSignature,
    Signer,
    check_entry,
    check_head,
    make_key,
    signer_from,
)
from voicecheck.logbook.store import tables as t
from voicecheck.logbook.store.actions import Act, Deed, act
from voicecheck.logbook.store.audit import against_anchor, audit
from voicecheck.logbook.store.database import Database
from voicecheck.logbook.store.posting import copy_of, post
from voicecheck.logbook.store.retention import purge_names
from voicecheck.measure.invented_log import Invented, chained, journal_of

START = datetime(2026, 11, 25, 6, 15, tzinfo=UTC)
PATH = Path("journal.jsonl")


def whole(data: bytes) -> bool:
    """What `log verify` would say of these bytes."""
    return verify(PATH, data).ok


@pytest.fixture(scope="module")
def small() -> bytes:
    """A journal of a header, two events and a summary."""
    data, _ = journal_of(Invented("ZZ-HAA", START, bad=(2,)))
    lines = [line for line in map(read_line, data.splitlines()) if line[0] != "event"]
    events = [line for line in map(read_line, data.splitlines()) if line[0] == "event"]
    summary = dict(lines[-1][2])
    made = chained(START, [lines[0], *events[:2], ("summary", 9.0, trimmed(summary))])
    assert whole(made)
    assert len(made) < 4000
    return made


def read_line(data: bytes) -> tuple[str, float, dict[str, object]]:
    import json

    line = json.loads(data)
    own = {"n", "prev", "kind", "utc", "seal"}
    return line["kind"], 1.0, {key: value for key, value in line.items() if key not in own}


def trimmed(fields: dict[str, object]) -> dict[str, object]:
    summary = dict(fields["summary"])  # type: ignore[call-overload]
    summary |= {"items": summary["items"][:1], "findings": []}
    return {"summary": summary}


def test_every_byte_of_a_small_journal(small: bytes) -> None:
    for at in range(len(small)):
        before, byte, after = small[:at], small[at], small[at + 1 :]
        for flip in (0x01, 0x20):
            assert not whole(before + bytes([byte ^ flip]) + after), f"byte {at} changed"
        assert not whole(before + after), f"byte {at} dropped"
        assert not whole(before + b" " + small[at:]), f"byte added at {at}"
        if after and after[0] != byte:
            swapped = before + after[:1] + bytes([byte]) + after[1:]
            assert not whole(swapped), f"bytes {at} and {at + 1} exchanged"
    assert not whole(small + b" ")
    assert not whole(small + b"\n")


def test_every_line_dropped_doubled_or_moved(small: bytes) -> None:
    lines = small.splitlines(keepends=True)
    for order in itertools.permutations(range(len(lines))):
        moved = b"".join(lines[k] for k in order)
        assert whole(moved) == (moved == small)
    for at in range(len(lines)):
        assert not whole(b"".join(lines[:at] + lines[at + 1 :]))
        assert not whole(b"".join(lines[: at + 1] + lines[at:]))


def test_a_sample_of_a_large_journal() -> None:
    lines: list[tuple[str, float, dict[str, object]]] = []
    data, _ = journal_of(Invented("ZZ-HAA", START))
    first, *events, summary = map(read_line, data.splitlines())
    lines = [first, *itertools.chain.from_iterable([events] * 40), summary]
    large = chained(START, lines)
    assert len(large) > 500_000
    assert whole(large)
    chance = random.Random(20261125)
    for at in chance.sample(range(len(large)), 40):
        kind = chance.randrange(3)
        if kind == 0:
            other = bytes([large[at] ^ (1 << chance.randrange(8))])
            changed = large[:at] + other + large[at + 1 :]
        elif kind == 1:
            changed = large[:at] + large[at + 1 :]
        else:
            changed = large[:at] + bytes([chance.randrange(256)]) + large[at:]
        assert not whole(changed), (kind, at)


def test_a_journal_rewritten_from_end_to_end_is_not_the_filed_one(
    lite: Database, log: Path
) -> None:
    one = Invented("ZZ-HAA", START, bad=(3,))
    folder = place(log, one)
    post(lite, copy_of(folder))
    with lite.reading() as connection:
        assert against_anchor(connection, one.id, folder / PATH).startswith("as filed in entry 1")
    place(log, Invented("ZZ-HAA", START))  # the finding is gone, and the chain is whole again
    assert verify(folder / PATH).ok
    with lite.reading() as connection, pytest.raises(VoicecheckError, match="not the journal that"):
        against_anchor(connection, one.id, folder / PATH)
    lite.close()
    result = CliRunner().invoke(app, ["verify", one.id, "--log", str(log)])
    assert result.exit_code == 1
    assert "not the journal that entry 1 of the logbook anchors" in result.stdout
    shown = CliRunner().invoke(app, ["show", one.id, "--log", str(log)])
    assert "what follows is the filed one" in shown.stderr
    assert "lamp 3 dark" in shown.stdout


def test_lines_cut_from_the_end_of_an_unfinished_journal_show_against_the_anchor(
    lite: Database, log: Path
) -> None:
    one = Invented("ZZ-HAA", START, bad=(20,), finished=False)
    folder = place(log, one)
    post(lite, copy_of(folder))
    data = (folder / PATH).read_bytes()
    (folder / PATH).write_bytes(b"".join(data.splitlines(keepends=True)[:10]))
    assert verify(folder / PATH).intact  # the chain alone cannot tell
    with lite.reading() as connection, pytest.raises(VoicecheckError, match="not the journal that"):
        against_anchor(connection, one.id, folder / PATH)


CHANGES = {
    "a finding dropped": "DELETE FROM findings WHERE ordinal = 2",
    "a finding added": "INSERT INTO findings (session_id, airframe_id, ordinal, item, "
    "position_name, what, utc, superseded, text) VALUES (1, 1, 9, 'x', 'x', 'x', "
    "'2026-11-25T06:15:00.000Z', false, 'x')",
    "a finding superseded": "UPDATE findings SET superseded = true",
    "a finding reworded": "UPDATE findings SET text = 'all good'",
    "an outcome": "UPDATE items SET outcome = 'satisfactory' WHERE ordinal = 3",
    "an item dropped": "DELETE FROM items WHERE ordinal = 30",
    "what was expected": "UPDATE checks SET expected = 'one light' WHERE id = 3",
    "a timing": "UPDATE timings SET high = 4.0",
    "a result": "UPDATE sessions SET result = 'no findings'",
    "a zone": "UPDATE sessions SET zone = 'Pacific/Auckland'",
    "a name": "UPDATE crews SET name = 'Somebody Else'",
    "an anchor": "UPDATE sessions SET head = '" + "0" * 64 + "'",
    "a session marked purged": "UPDATE sessions SET purged = '2026-11-25T06:15:00.000Z'",
    "an entry dropped": "DELETE FROM entries WHERE n = 1",
    "the last entry dropped": "DELETE FROM entries WHERE n = 3",
    "entries exchanged": "UPDATE entries SET n = 4 - n",
    "a digest": "UPDATE entries SET digest = '" + "1" * 64 + "' WHERE n = 2",
    "an action dropped": "DELETE FROM actions",
    "who did it": "UPDATE actions SET who = 'nobody'",
    "a due date": "UPDATE actions SET due = '2030-01-01'",
    "an action moved": "UPDATE actions SET finding_id = 2",
    "an action added": "INSERT INTO actions (finding_id, kind, at, who, reference, note, salt) "
    "VALUES (1, 'cleared', '2026-11-26T06:15:00.000Z', 'x', 'x', '', '')",
}


def fill(book: Database, log: Path) -> None:
    one = Invented("ZZ-HAA", START, bad=(3, 4), pilot="A. Wren")
    post(book, copy_of(place(log, one)))
    at = datetime(2026, 11, 25, 8, 0, tzinfo=UTC)
    act(book, f"{one.id}/1", Deed(Act.DEFERRED, who="M. Dipper", reference="TL 1", at=at))
    act(book, f"{one.id}/1", Deed(Act.CORRECTED, who="A. Wren", note="it was lamp 4", at=at))
    with book.reading() as connection:
        assert audit(connection).problems == ()


@pytest.mark.parametrize("what", CHANGES)
def test_any_change_in_the_logbook_shows(lite: Database, log: Path, what: str) -> None:
    fill(lite, log)
    assert change(lite, what)


def test_changes_show_on_either_database(book: Database, log: Path) -> None:
    fill(book, log)
    assert change(book, "a due date")
    assert change(book, "an outcome")


def test_a_purge_of_the_names_excuses_nothing_else(lite: Database, log: Path) -> None:
    fill(lite, log)
    with lite.reading() as connection:
        session = str(connection.execute(sa.select(t.sessions.c.session)).scalar_one())
    assert purge_names(lite, log, [session], None) == [session]
    assert "an action was dropped" in change(lite, "an action dropped")[0]
    with lite.writing() as connection:
        for table in (t.findings, t.items, t.timings, t.journals):
            connection.execute(sa.delete(table))
    assert any("marked purged" in told for told in change(lite, "a session marked purged"))


@pytest.mark.parametrize("table", [t.findings, t.timings, t.sessions])
def test_rows_moved_to_another_airframe_show(lite: Database, log: Path, table: sa.Table) -> None:
    fill(lite, log)
    post(lite, copy_of(place(log, Invented("ZZ-HBB", START, suffix="0001"))))
    with lite.writing() as connection:
        connection.execute(sa.update(table).values(airframe_id=2))
    with lite.reading() as connection:
        told = audit(connection).problems
    assert len(told) == 1
    assert f"the airframe of the {str(table.name).removesuffix('s')}" in told[0]


def change(filed: Database, what: str) -> tuple[str, ...]:
    """Make one of CHANGES; returns what the audit says."""
    with filed.writing() as connection:
        if connection.dialect.name == "sqlite":
            connection.exec_driver_sql("PRAGMA defer_foreign_keys = ON")
        if what == "entries exchanged":
            connection.execute(sa.text("UPDATE entries SET n = n + 100"))
            connection.execute(sa.text("UPDATE entries SET n = 104 - n"))
        else:
            connection.execute(sa.text(CHANGES[what]))
    with filed.reading() as connection:
        return audit(connection).problems


def test_bytes_of_the_filed_journal(lite: Database, log: Path) -> None:
    post(lite, copy_of(place(log, Invented("ZZ-HAA", START))))
    with lite.reading() as connection:
        packed = connection.execute(sa.text("SELECT data FROM journals")).scalar_one()
    for at in random.Random(1).sample(range(len(packed)), 25):
        changed = packed[:at] + bytes([packed[at] ^ 4]) + packed[at + 1 :]
        with lite.writing() as connection:
            connection.execute(sa.text("UPDATE journals SET data = :d"), {"d": changed})
        with lite.reading() as connection:
            assert audit(connection).problems, f"byte {at}"
    for changed in (packed + b"x", packed[:-1]):
        with lite.writing() as connection:
            connection.execute(sa.text("UPDATE journals SET data = :d"), {"d": changed})
        with lite.reading() as connection:
            assert audit(connection).problems


def rfc8032() -> Iterator[tuple[str, str, str, str]]:
    """RFC 8032, 7.1, TEST 1 and TEST 2: secret key, public key, message, signature."""
    yield (
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701c"
        "f9b46bd25bf5f0595bbe24655141438e7a100b",
    )
    yield (
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0"
        "f11d8c387b2eaeb4302aeeb00d291612bb0c00",
    )


@pytest.mark.parametrize("vector", list(rfc8032()))
def test_the_library_signs_as_the_standard_says(vector: tuple[str, str, str, str]) -> None:
    secret, public, message, signature = map(bytes.fromhex, vector)
    key = Ed25519PrivateKey.from_private_bytes(secret)
    assert key.public_key().public_bytes_raw() == public
    assert key.sign(message) == signature


def test_a_signature_holds_for_one_journal_and_no_other(tmp_path: Path) -> None:
    signer = make_key(tmp_path / "keys" / "k.pem")
    again = signer_from(tmp_path / "keys" / "k.pem")
    assert again is not None
    assert again.public == signer.public
    data, _ = journal_of(Invented("ZZ-HAA", START))
    found = read(PATH, data).verification
    text = signer.sign_head("s", found.lines, found.head)
    assert check_head(text, "s", found) == signer.public
    other, _ = journal_of(Invented("ZZ-HAA", START, out=4.1))
    for session, state in (("t", found), ("s", read(PATH, other).verification)):
        with pytest.raises(BadSignature, match="does not fit this journal"):
            check_head(text, session, state)
    for at in range(0, len(text), 7):
        changed = text[:at] + chr(ord(text[at]) ^ 1) + text[at + 1 :]
        try:
            assert check_head(changed, "s", found) == signer.public
        except BadSignature:
            continue
        pytest.fail(f"character {at} of the signature can be changed unseen")


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda path: path.chmod(0o644), "others may read this private key"),
        (lambda path: path.write_text("no key"), "not a private key in PEM form"),
    ],
)
def test_a_key_that_is_none_is_told(
    tmp_path: Path, spoil: Callable[[Path], object], words: str
) -> None:
    path = tmp_path / "k.pem"
    make_key(path)
    spoil(path)
    with pytest.raises(VoicecheckError, match=words):
        signer_from(path)
    with pytest.raises(VoicecheckError, match="cannot be written"):
        make_key(path)


def test_entries_are_signed_and_a_new_chain_without_the_key_shows(
    lite: Database, log: Path
) -> None:
    signer = Signer(Ed25519PrivateKey.generate())
    post(lite, copy_of(place(log, Invented("ZZ-HAA", START))), signer.sign_entry)
    keys = frozenset({signer.public})
    with lite.reading() as connection:
        assert audit(connection, keys).problems == ()
        row = connection.execute(sa.text("SELECT * FROM entries")).one()
        assert check_entry(row.signature, row.hash) == signer.public
    with lite.writing() as connection:  # who has the database but not the key makes a new chain
        plain = {
            name: row._mapping[name] for name in ("n", "at", "kind", "subject", "digest", "prev")
        }
        plain["at"] = "2020-01-01T00:00:00.000Z"
        new = {"at": plain["at"], "h": digest(canonical(plain))}
        connection.execute(sa.text("UPDATE entries SET at = :at, hash = :h"), new)
        connection.execute(sa.text("UPDATE head SET hash = :h"), new)
    with lite.reading() as connection:
        assert audit(connection, keys).problems == (
            "entry 1: the signature does not fit this entry: changed",
        )
