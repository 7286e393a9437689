"""Kills, full disks, folders without rights, two at once, files that change: nothing is lost, nothing half-made."""

from __future__ import annotations

import errno
import json
import os
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from witnessmark.problems import Misuse
from witnessmark.reading.check import check
from witnessmark.reading.files import Hashed
from witnessmark.reading.workshop import read_workshop
from witnessmark.recording import copying, journal
from witnessmark.recording.atomic import locked
from witnessmark.recording.keep import Entered, keep

from .kills import SOURCE, after_a_kill, points, prepared
from .shop import BASE, NOW, RECORD_TREE, git, shop

CI_POINTS = 6

NOBODY = """
import os, sys
from pathlib import Path
from tests.recording.test_faults import _act, _keep
from witnessmark.recording.keep import open_workshop, prepare
from tests.recording.shop import NOW
root = Path(sys.argv[1])
act = _act("a")
prepare(open_workshop(root, lambda: NOW), act, "jm", NOW)  # Everything is imported while all may be read.
if os.geteuid() == 0:
    os.setgid(65534)
    os.setuid(65534)
os.environ["XDG_CACHE_HOME"] = str(root.parent / "nobody")
try:
    _keep(root, act)
except OSError as fault:
    print(type(fault).__name__, Path(fault.filename).parent.relative_to(root).as_posix())
"""


def _act(name: str, files: Mapping[str, Path] | None = None, **changed: Any) -> Entered:
    return Entered(f"{BASE}/records/{name}.yaml", {**RECORD_TREE, **changed}, BASE, files or {})


def _keep(root: Path, entered: Entered) -> str:
    return keep(root, entered, "jm", lambda code: f"Record {code}", clock=lambda: NOW).code


def _same(root: Path, before: str) -> None:
    """Nothing was written, nothing is staged, nothing lies about."""
    assert git(root, "rev-parse", "HEAD") == before
    assert git(root, "status", "--porcelain") == ""
    assert not list(root.rglob(".*.tmp"))
    assert not list((root / ".git").glob("*witnessmark*"))


@pytest.fixture
def photo(tmp_path: Path) -> Path:
    from PIL import Image

    file = tmp_path / "camera" / "meter.jpg"
    file.parent.mkdir()
    Image.new("RGB", (40, 30), (9, 9, 9)).save(file)
    return file


def test_killed_at_each_write_nothing_is_torn_and_the_next_run_cleans_up(tmp_path: Path) -> None:
    base = prepared(tmp_path / "base")
    whole = points(base, tmp_path)
    assert whole >= 20, "fewer points than the recording has writes: the count sees too little"
    chosen = sorted({1 + round(n * (whole - 1) / (CI_POINTS - 1)) for n in range(CI_POINTS)})
    found = {after_a_kill(base, tmp_path, stop) for stop in chosen}
    assert found == {"nothing", "undone", "finished"}, "each of the three ways to come out has to be seen"
    fewer = points(base, tmp_path, "change")
    assert {after_a_kill(base, tmp_path, stop, "change") for stop in (fewer // 2, fewer - 1)} <= {"finished", "nothing"}


def test_a_lock_that_a_killed_git_left_is_cleared_and_an_older_one_is_not(tmp_path: Path) -> None:
    root = shop(tmp_path / "shop")
    lock = root / ".git/index.lock"
    lock.touch()
    os.utime(lock, (time.time() - 60, time.time() - 60))
    before = git(root, "rev-parse", "HEAD")
    with pytest.raises(Misuse) as caught:
        _keep(root, _act("a"))
    assert "index.lock" in caught.value.problems[0].message
    assert lock.exists(), "somebody else's lock was taken away"
    lock.unlink()
    _same(root, before)
    # A recording begun before the lock: it was killed together with its git.
    begun = time.time() - 30
    text = "format: 1\nname: N. New\nrole: helper\n"
    path = "evidence/people/nn.yaml"
    journal.begin(
        root,
        journal.Journal(
            {path: text}, {path: None}, {path: text}, {}, {}, "Add nn", "J. Marram", "jm@example.invalid",
            NOW.isoformat(), begun,
        ),
    )  # fmt: skip
    lock.touch()
    os.utime(lock, (begun + 10, begun + 10))
    with locked(root):
        assert "finished" in journal.recover(root)
    assert git(root, "log", "-1", "--format=%s") == "Add nn"
    assert git(root, "status", "--porcelain") == ""


@pytest.mark.parametrize("what", ["journal", "copy", "text"])
def test_a_full_disk_leaves_everything_as_it_was(
    tmp_path: Path, photo: Path, monkeypatch: pytest.MonkeyPatch, what: str
) -> None:
    root = shop(tmp_path / "shop")
    before = git(root, "rev-parse", "HEAD")
    real = os.fsync
    seen: list[str] = []

    def full(handle: int) -> None:
        name = str(Path(f"/proc/self/fd/{handle}").readlink()) if Path("/proc/self/fd").exists() else ""
        seen.append(name)
        marks = {"journal": "journal.json", "copy": "meter.jpg", "text": "full.yaml"}
        if marks[what] in name and name.endswith(".tmp"):
            raise OSError(errno.ENOSPC, "No space left on device")
        real(handle)

    monkeypatch.setattr(os, "fsync", full)
    shows = {"isolation/picture": {"photo": "photos/meter.jpg", "finding": "meets"}}
    with pytest.raises(OSError, match="No space left"):
        _keep(root, _act("full", {"photos/meter.jpg": photo}, shows=shows, readings={}, method=None, instruments={}))
    monkeypatch.undo()
    _same(root, before)
    assert photo.is_file()
    assert _keep(root, _act("full"))


def test_a_file_that_changes_while_it_is_copied_is_refused(
    tmp_path: Path, photo: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    root = shop(tmp_path / "shop")
    before = git(root, "rev-parse", "HEAD")
    real = copying.copy_in

    def growing(source: Path, *rest: Any) -> None:
        source.write_bytes(source.read_bytes() + b"more")
        real(source, *rest)

    monkeypatch.setattr("witnessmark.recording.keep.copy_in", growing)
    shows = {"isolation/picture": {"photo": "photos/meter.jpg", "finding": "meets"}}
    with pytest.raises(Misuse) as caught:
        _keep(root, _act("a", {"photos/meter.jpg": photo}, shows=shows, readings={}, method=None, instruments={}))
    assert [p.code for p in caught.value.problems] == ["copy.changed"]
    _same(root, before)


def test_a_link_an_empty_file_and_a_missing_one_are_no_evidence(tmp_path: Path, photo: Path) -> None:
    link, empty = tmp_path / "link.jpg", tmp_path / "empty.jpg"
    link.symlink_to(photo)
    empty.touch()
    for source, code in ((link, "file.missing"), (empty, "file.empty"), (tmp_path / "no.jpg", "file.missing")):
        with pytest.raises(Misuse) as caught:
            copying.hashed_source(source)
        assert caught.value.problems[0].code == code
    assert isinstance(copying.hashed_source(photo), Hashed)


def test_two_at_once_are_both_recorded_once(tmp_path: Path) -> None:
    root = shop(tmp_path / "shop")
    codes: list[str] = []
    threads = [
        threading.Thread(
            target=lambda n=n: codes.append(_keep(root, _act(f"r{n}", performed=f"2026-10-14T16:2{n}+02:00")))
        )
        for n in range(3)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(set(codes)) == 3
    acts = [a for a in read_workshop(root, use_cache=False).acts if a.code in codes]
    assert len({a.appeared for a in acts}) == 3
    assert git(root, "status", "--porcelain") == ""


def test_a_folder_without_rights_is_refused() -> None:
    """An administrator may write everywhere: for one, the folder and the child belong to nobody (user 65534)."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)  # Not pytest's own: it is closed to everybody else.
        root = shop(folder / "shop")
        before = git(root, "rev-parse", "HEAD")
        all_of_it = (folder, *folder.rglob("*"))
        closed = root / BASE / "records"
        closed.mkdir()
        closed.chmod(0o500)
        if os.geteuid() == 0:
            for path in (*all_of_it, closed):
                os.chown(path, 65534, 65534)
        environment = {**os.environ, "XDG_CACHE_HOME": str(folder / "cache"), "GIT_CONFIG_GLOBAL": os.devnull}
        done = subprocess.run(
            [sys.executable, "-c", NOBODY, str(root)],
            env=environment, cwd=SOURCE.parent, capture_output=True, text=True, check=False,
        )  # fmt: skip
        if os.geteuid() == 0:
            for path in (folder, *folder.rglob("*")):
                os.chown(path, 0, 0)
        assert done.stdout == f"PermissionError {BASE}/records\n", done.stderr[-2000:]
        closed.rmdir()
        _same(root, before)


def test_a_journal_that_leads_out_of_the_folder_is_not_believed(tmp_path: Path) -> None:
    root = shop(tmp_path / "shop")
    outside = tmp_path / "outside.yaml"
    bad = {
        "format": 1, "texts": {"evidence/../../outside.yaml": "x"}, "before": {}, "drafts": {}, "copies": {},
        "kept": {}, "message": "m", "name": "n", "email": "e", "when": NOW.isoformat(), "begun": 0.0,
    }  # fmt: skip
    (root / ".git/witnessmark-journal.json").write_text(json.dumps(bad), encoding="utf-8")
    with locked(root), pytest.raises(Misuse) as caught:
        journal.recover(root)
    assert caught.value.problems[0].code == "record.journal"
    assert not outside.exists()


def test_nothing_in_the_folder_is_run(tmp_path: Path) -> None:
    """Hooks, filters, a monitor and a signing program, each planted so that it would leave a mark."""
    root = shop(tmp_path / "shop")
    mark = tmp_path / "mark"
    evil = tmp_path / "evil"
    evil.write_text(f"#!/bin/sh\necho ran >> {mark}\ncat\n", encoding="utf-8")
    evil.chmod(0o755)
    hooks = root / ".git/hooks"
    hooks.mkdir(exist_ok=True)
    for name in ("pre-commit", "commit-msg", "post-commit", "reference-transaction", "post-index-change"):
        (hooks / name).write_bytes(evil.read_bytes())
        (hooks / name).chmod(0o755)
    for key in ("core.fsmonitor", "filter.x.clean", "filter.x.smudge", "gpg.program", "core.editor"):
        git(root, "config", key, str(evil))
    git(root, "config", "commit.gpgsign", "true")
    (root / ".git/info").mkdir(exist_ok=True)
    (root / ".git/info/attributes").write_text("* filter=x\n", encoding="utf-8")
    mark.unlink(missing_ok=True)  # The commands above are git's own, and may have run some of it.
    _keep(root, _act("a"))
    assert not mark.exists()
    assert [p for p in check(root, use_cache=False) if p.severity == "problem"] == []
    assert not mark.exists()
