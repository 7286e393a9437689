"""A commit of exactly these files, made so that nothing of the folder's own configuration runs.

No hook, filter, monitor or signing program is asked: git works in a throw-away repository with a configuration and
attributes of our own, over the folder's objects and its index. The bytes go in as they lie on disk, the tree is put
together in an index of our own, and the branch moves last, by our own hand. What else is staged stays staged.
"""

from __future__ import annotations

import contextlib
import os
import tempfile
import time
from collections.abc import Iterator, Sequence
from datetime import datetime
from pathlib import Path

from witnessmark.problems import Misuse, Place, Problem
from witnessmark.reading.gitfolder import environment, find_repository, make_throwaway, resolve_head, symbolic_head

from .commit import Author, git, stamp

__all__ = ["blob_at", "blob_at_head", "commit_files", "repository", "settle_index", "unstage"]

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
    stands = symbolic_head(found, Place(".git"))
    if isinstance(stands, Problem):
        raise Misuse(stands)
    branch, head = stands
    chosen = sorted(set(paths))
    if not chosen:
        raise ValueError("nothing to commit")
    with _apart(root, found) as own:

        def run(*arguments: str, given: bytes | None = None, index: Path | None = None) -> str:
            extra = {**own, "GIT_INDEX_FILE": str(index)} if index is not None else own
            return git(root, list(arguments), author, when, given=given, extra=extra).decode().strip()

        names = run("hash-object", "-w", "--no-filters", "--", *chosen).split()
        rows = b"".join(f"100644 {name}\t{path}\0".encode() for name, path in zip(names, chosen, strict=True))
        # The person's index first: where another git holds it, nothing has happened yet.
        run("update-index", "-z", "--add", "--index-info", given=rows)
        index = found.absolute() / f"witnessmark-index.{os.getpid()}"  # git runs in the folder, not here
        try:
            if head is not None:
                run("read-tree", head, index=index)
            run("update-index", "-z", "--add", "--index-info", given=rows, index=index)
            tree = run("write-tree", index=index)
        finally:
            index.unlink(missing_ok=True)
        parents = ("-p", head) if head is not None else ()
        made = run("commit-tree", tree, *parents, "-F", "-", given=message.encode() + b"\n")
    _move(found, branch, head, made, author, when)
    return made


@contextlib.contextmanager
def _apart(root: Path, found: Path) -> Iterator[dict[str, str]]:
    """Variables with which git works on the folder's objects and index, and reads nothing of its configuration.

    Even `update-index` runs a filter that the folder names, when a file is as young as the index: its bytes are then
    compared with what the filter makes of them.
    """
    with tempfile.TemporaryDirectory(prefix="witnessmark-") as name:
        folder = Path(name)
        wrong = make_throwaway(folder, found, None, ())
        if wrong:
            raise Misuse(wrong)
        named = ("GIT_AUTHOR_", "GIT_COMMITTER_")  # Who commits is said elsewhere.
        settings = {"core.bare": "false", "core.splitIndex": "false", "core.untrackedCache": "false"}
        yield {
            **{key: value for key, value in environment(folder).items() if not key.startswith(named)},
            "GIT_WORK_TREE": str(root.resolve()),
            "GIT_OBJECT_DIRECTORY": str((found / "objects").resolve()),
            "GIT_INDEX_FILE": str((found / "index").resolve()),
            "GIT_CONFIG_COUNT": str(len(settings)),
            **{f"GIT_CONFIG_KEY_{n}": key for n, key in enumerate(settings)},
            **{f"GIT_CONFIG_VALUE_{n}": value for n, value in enumerate(settings.values())},
        }


def _move(found: Path, branch: str, before: str | None, made: str, author: Author, when: datetime) -> None:
    """Let the branch (or a detached HEAD) mean the commit `made`, under the lock that git uses too.

    Not by git: a git that moves a branch asks the folder's hooks. Raises Misuse when it is locked or moved meanwhile.
    """
    target = found / branch
    target.parent.mkdir(parents=True, exist_ok=True)
    lock = target.with_name(target.name + ".lock")
    try:
        handle = os.open(lock, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666)
    except FileExistsError:
        raise Misuse(
            Problem(
                "git.refused",
                f"another git holds the branch: .git/{branch}.lock is there",
                "wait until it is done, or delete that file if none is running; then try again",
                Place(".git"),
            )
        ) from None
    try:
        with os.fdopen(handle, "w", encoding="ascii") as stream:
            if symbolic_head(found, Place(".git")) != (branch, before):
                raise Misuse(Problem("git.moved", "another git moved the branch meanwhile", "try again", Place(".git")))
            stream.write(made + "\n")
            stream.flush()
            os.fsync(stream.fileno())
        _log(found, {branch, "HEAD"}, f"{before or '0' * 40} {made}", author, when)
        lock.replace(target)
    except BaseException:
        lock.unlink(missing_ok=True)
        raise


def _log(found: Path, names: set[str], moved: str, author: Author, when: datetime) -> None:
    """A line in the log that git keeps of each branch's moves; where none is kept or it is a link, nothing."""
    line = f"{moved} {author.name} <{author.email}> {stamp(when)}\trecord\n"
    for name in sorted(names):
        file = found / "logs" / name
        steps = [found / "logs" / part for part in (*Path(name).parents, Path(name))]
        if not (found / "logs").is_dir() or any(step.is_symlink() for step in steps):
            continue
        with contextlib.suppress(OSError):  # The log is a help to a person; the branch itself is what counts.
            file.parent.mkdir(parents=True, exist_ok=True)
            with file.open("a", encoding="utf-8", newline="\n") as stream:
                stream.write(line)


def blob_at(root: Path, commit: str, path: str, author: Author, when: datetime) -> bytes:
    """The bytes of a file in a commit. Raises Misuse with git's words when they are not there."""
    with _apart(root, repository(root)) as own:
        return git(root, ["cat-file", "blob", f"{commit}:{path}"], author, when, extra=own)


def blob_at_head(root: Path, path: str, author: Author, when: datetime) -> bytes | None:
    """The bytes of a file in the newest commit; None when it is not in it."""
    head = resolve_head(repository(root), Place(".git"))
    if not isinstance(head, str):
        return None
    try:
        return blob_at(root, head, path, author, when)
    except Misuse:
        return None


def unstage(root: Path, paths: Sequence[str], author: Author, when: datetime) -> None:
    """Take files out of the person's index that the newest commit does not have; where that fails they stay staged."""
    new = [path for path in paths if blob_at_head(root, path, author, when) is None]
    if new:
        with contextlib.suppress(Misuse), _apart(root, repository(root)) as own:
            git(root, ["update-index", "--force-remove", "--", *new], author, when, extra=own)


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
