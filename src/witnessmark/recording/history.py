"""A commit of exactly these files, made so that nothing of the folder's own configuration runs.

No hook, filter, monitor or signing program is asked: the bytes go in as they lie on disk, the tree is put together in
an index of our own, and the branch moves last. What else is staged stays staged.
"""

from __future__ import annotations

import contextlib
import os
import time
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from witnessmark.problems import Misuse, Place, Problem
from witnessmark.reading.gitfolder import find_repository, resolve_head

from .commit import Author, git

__all__ = ["blob_at_head", "commit_files", "repository", "settle_index", "unstage"]

_QUIET = (
    "-c", "core.fsmonitor=false", "-c", f"core.hooksPath={os.devnull}", "-c", f"core.attributesFile={os.devnull}",
    "-c", "core.untrackedCache=false", "-c", "gc.auto=0", "-c", "maintenance.auto=false",
)  # fmt: skip
_MIDWAY = ("MERGE_HEAD", "rebase-merge", "rebase-apply", "CHERRY_PICK_HEAD", "REVERT_HEAD")
STALE_AFTER = 5.0
"""Seconds that a killed git's lock is waited for before a killed recording of ours clears it away."""


def repository(root: Path) -> Path:
    """The folder's own repository; Misuse, with the reason, when there is none that can be used."""
    found = find_repository(root, Place(".git"))
    if isinstance(found, Problem):
        raise Misuse(found)
    return found


def commit_files(root: Path, paths: Sequence[str], author: Author, when: datetime, message: str) -> str:
    """Commit the files at `paths` (from `root`) as they lie on disk; the commit's id.

    Raises Misuse when a merge or rebase is under way, when another git holds the index, or with git's own words.
    """
    found = repository(root)
    midway = [name for name in _MIDWAY if (found / name).exists()]
    if midway:
        raise Misuse(
            Problem(
                "git.midway",
                f"a merge or rebase is under way in this folder ({midway[0]})",
                "finish it or give it up (git status says how), then record again",
                Place(".git"),
            )
        )
    head = resolve_head(found, Place(".git"))
    if isinstance(head, Problem):
        raise Misuse(head)
    chosen = sorted(set(paths))
    if not chosen:
        raise ValueError("nothing to commit")

    def run(*arguments: str, given: bytes | None = None, index: Path | None = None) -> str:
        extra = {"GIT_INDEX_FILE": str(index)} if index is not None else {}
        done = git(root, [*_QUIET, *arguments], author, when, given=given, extra={**extra, "GIT_NO_LAZY_FETCH": "1"})
        return done.decode().strip()

    names = run("hash-object", "-w", "--no-filters", "--", *chosen).split()
    rows = b"".join(f"100644 {name}\t{path}\0".encode() for name, path in zip(names, chosen, strict=True))
    # The person's index first: where another git holds it, nothing has happened yet.
    run("update-index", "-z", "--add", "--index-info", given=rows)
    own = found / f"witnessmark-index.{os.getpid()}"
    try:
        if head is not None:
            run("read-tree", head, index=own)
        run("update-index", "-z", "--add", "--index-info", given=rows, index=own)
        tree = run("write-tree", index=own)
    finally:
        own.unlink(missing_ok=True)
    parents = ("-p", head) if head is not None else ()
    made = run("commit-tree", tree, *parents, "-F", "-", given=message.encode() + b"\n")
    run("update-ref", "-m", "record", "HEAD", made, *((head,) if head is not None else ()))
    return made


def blob_at_head(root: Path, path: str, author: Author, when: datetime) -> bytes | None:
    """The bytes of a file in the newest commit; None when it is not in it."""
    head = resolve_head(repository(root), Place(".git"))
    if not isinstance(head, str):
        return None
    try:
        return git(
            root, [*_QUIET, "cat-file", "blob", f"{head}:{path}"], author, when, extra={"GIT_NO_LAZY_FETCH": "1"}
        )
    except Misuse:
        return None


def unstage(root: Path, paths: Sequence[str], author: Author, when: datetime) -> None:
    """Take files out of the person's index that the newest commit does not have; where that fails they stay staged."""
    new = [path for path in paths if blob_at_head(root, path, author, when) is None]
    if new:
        with contextlib.suppress(Misuse):
            git(root, [*_QUIET, "update-index", "--force-remove", "--", *new], author, when)


def settle_index(root: Path, since: float) -> None:
    """Clear away what a git left that was killed together with a recording begun at `since` (seconds of the clock).

    A git that outlived its parent is waited for; a lock older than our own beginning is somebody else's and stays.
    """
    found = repository(root)
    if time.time() - since < STALE_AFTER:
        time.sleep(0.3)  # A git that outlived the one who started it ends by itself.
    for own in found.glob("witnessmark-index.*"):
        own.unlink(missing_ok=True)
    for lock in (found / "index.lock", found / "HEAD.lock", *(found / "refs" / "heads").rglob("*.lock")):
        while lock.exists():
            try:
                age, begun = time.time() - lock.stat().st_mtime, lock.stat().st_mtime
            except FileNotFoundError:
                break
            if begun < since - 1:
                break
            if age > STALE_AFTER:
                lock.unlink(missing_ok=True)
                break
            time.sleep(0.1)
