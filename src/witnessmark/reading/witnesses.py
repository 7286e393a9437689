"""Commits that a repository remembers beside its history: tags, logs, what a rewriting put aside, other branches.

Read as data by our own hand. They show that a history was rewritten, as far as anything is left that could show it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

__all__ = ["Found", "Witnesses", "witnesses"]

_ID = re.compile(r"[0-9a-f]{40}")
_NONE = "0" * 40
_MOST = 10_000
_LARGEST = 16 * 1024 * 1024
_PASSED = ("refs/stash", "refs/notes/", "refs/replace/", "refs/bisect/")


class Witnesses(StrEnum):
    """Who still knows a text that the history does not."""

    OWN = "own"
    """A tag, the log of this branch, or what a rewriting put aside: it was in this history."""
    BRANCH = "branch"
    """Another branch of this folder."""
    FETCHED = "fetched"
    """Only a branch that was fetched: it may never have been here."""
    LOG = "log"
    """Only the log of where HEAD or another branch stood: a branch that was deleted or moved back."""
    CACHE = "cache"
    """Only what was read on this machine before."""


@dataclass(frozen=True, slots=True)
class Found:
    """Ids by witness; annotated tags by their own id. They may be of commits that are no longer there."""

    own: frozenset[str]
    branches: frozenset[str]
    fetched: frozenset[str]
    logs: frozenset[str]


def witnesses(found: Path, branch: str) -> Found:
    """Everything that the repository's folder `found` remembers; `branch` is the one that HEAD means."""
    own: set[str] = set()
    branches: set[str] = set()
    fetched: set[str] = set()
    logs: set[str] = set()
    for name, ident in _refs(found):
        if name.startswith(_PASSED):
            continue
        kind = branches if name.startswith("refs/heads/") else fetched if name.startswith("refs/remotes/") else own
        kind.add(ident)
    for name, idents in _logs(found):
        if not name.startswith((*_PASSED, "refs/remotes/")):
            (own if name == branch and name != "HEAD" else logs).update(idents)
    return Found(frozenset(own), frozenset(branches), frozenset(fetched), frozenset(logs))


def _refs(found: Path) -> Iterator[tuple[str, str]]:
    for line in _lines(found / "packed-refs"):
        ident, _, name = line.partition(" ")
        if _ID.fullmatch(ident):
            yield name.strip(), ident
    for file in _files(found / "refs"):
        text = next(iter(_lines(file)), "").strip()
        if _ID.fullmatch(text):
            yield file.relative_to(found).as_posix(), text


def _logs(found: Path) -> Iterator[tuple[str, set[str]]]:
    for file in _files(found / "logs"):
        idents: set[str] = set()
        for line in _lines(file):
            idents.update(ident for ident in line.split(" ", 2)[:2] if _ID.fullmatch(ident) and ident != _NONE)
        yield file.relative_to(found / "logs").as_posix(), idents


def _files(folder: Path) -> list[Path]:
    """Regular files below the folder, in order; links are not followed."""
    if folder.is_symlink() or not folder.is_dir():
        return []
    files: list[Path] = []
    folders = [folder]
    while folders and len(files) < _MOST:
        try:
            for path in sorted(folders.pop().iterdir()):
                if path.is_symlink():
                    continue
                if path.is_dir():
                    folders.append(path)
                elif path.is_file():
                    files.append(path)
        except OSError:
            continue
    return sorted(files)


def _lines(file: Path) -> list[str]:
    try:
        if file.is_symlink() or not file.is_file() or file.stat().st_size > _LARGEST:
            return []
        return file.read_text("utf-8", "replace").splitlines()
    except OSError:
        return []
