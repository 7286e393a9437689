"""Kill a freeze at each point where it writes, and look at what is left. `python -m tests.release.kills` does all.

The child counts every call that changes the workshop's folder (a folder made, files copied or synced, a name given or
taken, a git that writes) and kills itself with SIGKILL at the n-th, before it. The document is left out: it is built
beside, in the system's temporary folder.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from .yard import BASE, NOW, git, yard

__all__ = ["after_a_kill", "points", "prepared"]

SOURCE = Path(__file__).parents[2] / "src"
ISSUE = "builds/van-07/A"
SEALED = f"{BASE}/releases/A.yaml"

CHILD = r"""
import os, shutil, signal, subprocess, sys, tempfile
from pathlib import Path

root, stop = Path(sys.argv[1]), int(sys.argv[2])
count = 0

def counted(real, writes=lambda *a, **k: True):
    def call(*a, **k):
        global count
        if writes(*a, **k):
            count += 1
            if count == stop:
                os.kill(os.getpid(), signal.SIGKILL)
        return real(*a, **k)
    return call

def inside(path, *a, **k):
    return str(path).startswith(str(root))

from tests.release.yard import frozen, without_document
import witnessmark.recording.commit as committing
import witnessmark.release.freeze as freezing
import witnessmark.release.gitwork as working

freezing.sync_tree = counted(freezing.sync_tree)
freezing.close_bag = counted(freezing.close_bag)
shutil.copytree = counted(shutil.copytree, lambda a, b, *c, **k: inside(b))
shutil.copyfile = counted(shutil.copyfile, lambda a, b, *c, **k: inside(b))
os.fsync = counted(os.fsync)
Path.replace = counted(Path.replace, inside)
Path.unlink = counted(Path.unlink, inside)
Path.mkdir = counted(Path.mkdir, lambda p, *a, **k: inside(p) and not p.exists())
tempfile.mkstemp = counted(tempfile.mkstemp)
writing = ("hash-object", "update-index", "read-tree", "write-tree", "commit-tree", "update-ref")
asks = lambda args, *a, **k: args[0] == "git" and any(w in args for w in writing)
committing.subprocess.run = counted(subprocess.run, asks)
with without_document():
    done = frozen(root)
print(count, done.manifest)
"""


def prepared(folder: Path) -> Path:
    """A workshop that can be frozen."""
    return yard(folder / "yard")


def _child(root: Path, stop: int, cache: Path) -> subprocess.CompletedProcess[str]:
    environment = {
        **os.environ, "PYTHONPATH": f"{SOURCE}{os.pathsep}{SOURCE.parent}", "XDG_CACHE_HOME": str(cache)
    }  # fmt: skip
    return subprocess.run(
        [sys.executable, "-c", CHILD, str(root), str(stop)],
        env=environment,
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )


def points(base: Path, scratch: Path) -> tuple[int, str]:
    """How many points a whole freeze has, and the digest of its bag."""
    copy = scratch / "whole"
    shutil.copytree(base, copy)
    done = _child(copy, -1, scratch / "cache")
    assert done.returncode == 0, done.stderr
    number, manifest = done.stdout.split()
    return int(number), manifest


def after_a_kill(base: Path, scratch: Path, stop: int, manifest: str) -> str:
    """Kill at the point `stop`, look, run again, look again. Says in a word what the next run had to do."""
    from witnessmark.release.pending import recover
    from witnessmark.release.verify import verify

    copy = scratch / f"killed-{stop}"
    shutil.copytree(base, copy)
    before = git(copy, "rev-parse", "HEAD")
    killed = _child(copy, stop, scratch / "cache")
    assert killed.returncode == -9, (killed.returncode, killed.stderr)
    if (copy / ISSUE).exists():
        assert verify(copy / ISSUE, here=Path("/"), clock=lambda: NOW, manifest=manifest).good, "half a release"
    if git(copy, "tag", "-l") or git(copy, "rev-parse", "HEAD") != before:
        assert (copy / ISSUE).exists(), "released without its bag"
    told = recover(copy)
    left = [p.name for p in copy.rglob(".freezing-*")] + [p.name for p in (copy / ".git").glob("*witnessmark*")]
    left += [p.name for p in copy.rglob(".*.tmp")] + [p.name for p in (copy / ".git").rglob("*.lock")]
    assert not left, left
    parts = ((copy / ISSUE).exists(), (copy / SEALED).exists(), bool(git(copy, "tag", "-l")))
    assert parts in ((True,) * 3, (False,) * 3), f"a part of a release: {parts}"
    assert git(copy, "status", "--porcelain") == "", git(copy, "status", "--porcelain")
    if not parts[0]:
        assert git(copy, "rev-parse", "HEAD") == before
        again = _child(copy, -1, scratch / "cache")
        assert again.returncode == 0, again.stderr
    assert git(copy, "log", "--format=%H", f"{before}..HEAD").count("\n") == 0, "released twice"
    found = verify(copy / ISSUE, here=copy, clock=lambda: NOW)
    assert found.good and found.origin.shown is True, found.origin.words
    assert json.loads((copy / ISSUE / "bag/data/release.json").read_text("utf-8"))["commit"] == before
    assert git(copy, "fsck", "--strict", "--no-dangling") == ""
    shutil.rmtree(copy)
    return "finished" if "was finished" in told else "undone" if "was undone" in told else "nothing"


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        scratch = Path(name)
        base = prepared(scratch / "base")
        whole, manifest = points(base, scratch)
        for stop in range(1, whole + 1):
            sys.stdout.write(f"{stop} of {whole}: {after_a_kill(base, scratch, stop, manifest)}\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main()
