from __future__ import annotations

import stat
from pathlib import Path

import pytest

from voicecheck.errors import VoicecheckError
from voicecheck.logbook.filing import file_text


def test_a_filed_text_is_private(tmp_path: Path) -> None:
    target = tmp_path / "report.html"
    for text in ("first", "sécond"):
        file_text(target, text)
        assert target.read_bytes().decode() == text
        assert stat.S_IMODE(target.stat().st_mode) == 0o600


def test_a_failed_write_leaves_the_old_file_and_nothing_else(tmp_path: Path) -> None:
    target = tmp_path / "report.html"
    target.mkdir()
    with pytest.raises(VoicecheckError, match="cannot be written"):
        file_text(target, "new")
    assert list(tmp_path.iterdir()) == [target]


def test_a_link_is_replaced_not_followed(tmp_path: Path) -> None:
    precious = tmp_path / "precious"
    precious.write_text("keep")
    link = tmp_path / "report.html"
    link.symlink_to(precious)
    file_text(link, "new")
    assert (precious.read_text(), link.read_text(), link.is_symlink()) == ("keep", "new", False)
