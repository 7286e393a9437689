"""Faults while a release is made: killed, no room, two at once. Either no release or a whole one."""

from __future__ import annotations

import errno
import shutil
from pathlib import Path
from unittest.mock import patch

import pytest

from witnessmark.problems import Misuse
from witnessmark.recording.atomic import locked
from witnessmark.release.freeze import Frozen
from witnessmark.release.pending import recover

from . import kills
from .yard import BASE, frozen, git, without_document, yard

LAST = 17
"""So many points lie between the journal, from which on a release is finished, and the end."""


def test_killed_at_some_points(tmp_path: Path) -> None:
    """All points: python -m tests.release.kills."""
    base = kills.prepared(tmp_path / "base")
    whole, manifest = kills.points(base, tmp_path)
    chosen = {whole // 2: "nothing", whole - LAST + 4: "finished", whole - 2: "finished"}
    for stop, word in chosen.items():
        assert kills.after_a_kill(base, tmp_path, stop, manifest) == word, (stop, whole)


def test_no_room_for_the_bag(tmp_path: Path) -> None:
    root = yard(tmp_path / "yard")
    head = git(root, "rev-parse", "HEAD")
    full = OSError(errno.ENOSPC, "No space left on device")
    with without_document(), patch("witnessmark.release.freeze.sync_tree", side_effect=full), pytest.raises(OSError):
        frozen(root)
    assert git(root, "rev-parse", "HEAD") == head and git(root, "tag", "-l") == ""
    assert not list((root / "builds").rglob("*.txt")) and not (root / BASE / "releases").exists()
    with without_document():
        assert frozen(root).folder.is_dir()


def test_no_room_for_the_commit(tmp_path: Path) -> None:
    """The bag is there and the journal says so: the next run finishes it, with the same digest."""
    root = yard(tmp_path / "yard")
    full = OSError(errno.ENOSPC, "No space left on device")
    with (
        without_document(),
        patch("witnessmark.release.pending.commit_files", side_effect=full),
        pytest.raises(OSError),
    ):
        frozen(root)
    assert git(root, "tag", "-l") == ""
    assert "was finished" in recover(root)
    assert git(root, "tag", "-l") == "van-07/A" and git(root, "status", "--porcelain") == ""


def test_somebody_took_the_bag_away(tmp_path: Path) -> None:
    root = yard(tmp_path / "yard")
    full = OSError(errno.ENOSPC, "No space left on device")
    with (
        without_document(),
        patch("witnessmark.release.pending.commit_files", side_effect=full),
        pytest.raises(OSError),
    ):
        frozen(root)
    shutil.rmtree(root / "builds" / "van-07" / "A")
    assert "was undone" in recover(root)
    assert git(root, "status", "--porcelain") == "" and git(root, "tag", "-l") == ""


def test_a_full_disk_is_no_fault_of_ours(quickly: Frozen, capsys: pytest.CaptureFixture[str]) -> None:
    from witnessmark.cli.main import main

    full = OSError(errno.ENOSPC, "No space left on device")
    with patch("witnessmark.release.freeze.freeze", side_effect=full):
        assert main(["freeze", "van-07", "--issue", "B", "--by", "jm", "--folder", str(quickly.folder.parents[2])]) == 2
    told = capsys.readouterr().err
    assert "No space left on device" in told and "Nothing was frozen." in told


def test_two_at_once(quickly: Frozen) -> None:
    root = quickly.folder.parents[2]
    with locked(root), patch("witnessmark.release.freeze.locked", lambda r: locked(r, seconds=0.1)):
        with pytest.raises(Misuse) as caught:
            frozen(root, "B", why="x")
        assert caught.value.problems[0].code == "write.locked"


def test_a_journal_that_is_none(tmp_path: Path) -> None:
    root = yard(tmp_path / "yard")
    (root / ".git" / "witnessmark-freeze.json").write_text('{"format": 1, "vehicle": "../../x"}')
    with pytest.raises(Misuse) as caught:
        frozen(root)
    assert caught.value.problems[0].code == "freeze.journal"
