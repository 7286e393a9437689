"""Kill `record` and `change` at each point where they write, and look at what is left.

`python -m tests.recording.kills` does all of them.

The child counts every call that changes the disk (a file opened for writing, synced, renamed, deleted, a git started)
and kills itself with SIGKILL at the n-th, before or after it.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from .shop import BASE, git, shop

__all__ = ["ACTS", "SOURCE", "after_a_kill", "points", "prepared"]

SOURCE = Path(__file__).parents[2] / "src"
ACTS = {"record": f"{BASE}/records/isolation.yaml", "change": f"{BASE}/events/opened.yaml"}
PHOTO = f"{BASE}/photos/meter.jpg"

CHILD = r"""
import os, signal, subprocess, sys
from pathlib import Path

root, photo, stop, what = Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3]), sys.argv[4]
count = 0

def counted(name, real, writes=lambda *a, **k: True):
    def call(*a, **k):
        global count
        if not writes(*a, **k):
            return real(*a, **k)
        count += 1
        if count == stop:
            os.kill(os.getpid(), signal.SIGKILL)
        return real(*a, **k)
    return call

from tests.recording.shop import BASE, NOW, RECORD_TREE
from witnessmark.recording.keep import Entered, keep
import witnessmark.recording.commit as committing
import tempfile

act = Entered(
    BASE + "/records/isolation.yaml",
    {**RECORD_TREE, "shows": {
        "isolation/value": {}, "isolation/picture": {"photo": "photos/meter.jpg", "finding": "meets"},
    }},
    BASE, {"photos/meter.jpg": photo},
)
if what == "change":
    act = Entered(
        BASE + "/events/opened.yaml",
        {"event": "opened", "at": "2026-10-14T17:00+02:00", "by": "jm", "part": "traction-bus", "why": "a new grommet"},
        BASE,
    )
if stop == -2:
    print(keep(root, act, "jm", lambda c: "Record " + c, clock=lambda: NOW).told)
    raise SystemExit
os.fsync = counted("fsync", os.fsync)
Path.replace = counted("replace", Path.replace)
Path.unlink = counted("unlink", Path.unlink)
Path.mkdir = counted("mkdir", Path.mkdir, lambda p, *a, **k: str(root) in str(p) and not p.exists())
tempfile.mkstemp = counted("mkstemp", tempfile.mkstemp)
inner = subprocess.run
writing = ("hash-object", "update-index", "read-tree", "write-tree", "commit-tree")
committing.subprocess.run = counted(
    "git", inner, lambda args, *a, **k: Path(args[0]).stem == "git" and any(w in args for w in writing)
)
keep(root, act, "jm", lambda c: "Record " + c, clock=lambda: NOW)
print(count)
"""


def prepared(folder: Path) -> tuple[Path, Path]:
    """A workshop, and a photograph outside it."""
    from PIL import Image

    photo = folder / "camera" / "meter.jpg"
    photo.parent.mkdir(parents=True)
    Image.new("RGB", (40, 30), (1, 200, 3)).save(photo)
    return shop(folder / "shop"), photo


def _child(root: Path, photo: Path, stop: int, what: str, cache: Path) -> subprocess.CompletedProcess[str]:
    environment = {
        **os.environ, "PYTHONPATH": f"{SOURCE}{os.pathsep}{SOURCE.parent}", "XDG_CACHE_HOME": str(cache)
    }  # fmt: skip
    return subprocess.run(
        [sys.executable, "-c", CHILD, str(root), str(photo), str(stop), what],
        env=environment,
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )


def points(base: tuple[Path, Path], scratch: Path, what: str = "record") -> int:
    """How many points a whole `record` or `change` has."""
    root, photo = base
    copy = scratch / f"whole-{what}"
    shutil.copytree(root, copy)
    done = _child(copy, photo, -1, what, scratch / "cache")
    assert done.returncode == 0, done.stderr
    return int(done.stdout)


def after_a_kill(base: tuple[Path, Path], scratch: Path, stop: int, what: str = "record") -> str:
    """Kill at the point `stop`, look, run again, look again. Says in a word what the next run had to do."""
    from witnessmark.problems import Misuse
    from witnessmark.reading.acts import read_act
    from witnessmark.reading.check import check
    from witnessmark.recording.atomic import locked
    from witnessmark.recording.journal import recover

    root, photo = base
    act = ACTS[what]
    copy = scratch / f"killed-{what}-{stop}"
    shutil.copytree(root, copy)
    before = git(copy, "rev-parse", "HEAD")
    killed = _child(copy, photo, stop, what, scratch / "cache")
    assert killed.returncode == -9, (killed.returncode, killed.stderr)
    if (copy / act).exists():
        assert read_act((copy / act).read_bytes(), act).holds, "a file that is no whole sealed act"
    if (copy / PHOTO).exists():
        assert (copy / PHOTO).read_bytes() == photo.read_bytes(), "half a photograph under its final name"
    committed = git(copy, "rev-parse", "HEAD") != before
    try:
        with locked(copy):
            told = recover(copy)
    except Misuse as fault:
        raise AssertionError(f"point {stop}: {fault}") from fault
    recorded = (copy / act).exists()
    assert recorded or not committed, "what was recorded is gone"
    assert git(copy, "status", "--porcelain") in ("", "?? evidence/intake/"), git(copy, "status", "--porcelain")
    left = [p.name for p in copy.rglob(".*.tmp")] + [p.name for p in (copy / ".git").glob("*witnessmark*")]
    assert not left, left
    if not recorded:
        again = _child(copy, photo, -2, what, scratch / "cache")
        assert again.returncode == 0, again.stderr
    faults = [p for p in check(copy, use_cache=False) if p.severity == "problem"]
    assert faults == [], (stop, told, faults)
    assert git(copy, "log", "--format=%H", f"{before}..HEAD").count("\n") == 0, "recorded twice"
    assert git(copy, "fsck", "--strict") == ""
    shutil.rmtree(copy)
    return "undone" if "was undone" in told else "finished" if "was finished" in told else "nothing"


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        scratch = Path(name)
        base = prepared(scratch / "base")
        for what in ACTS:
            whole = points(base, scratch, what)
            for stop in range(1, whole + 1):
                sys.stdout.write(f"{what}, {stop} of {whole}: {after_a_kill(base, scratch, stop, what)}\n")
                sys.stdout.flush()


if __name__ == "__main__":
    main()
