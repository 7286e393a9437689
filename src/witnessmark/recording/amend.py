"""Changing a file that describes and claims nothing, with the files that it brings: whole and committed, or not at all.

What a person wrote between the changed keys stays. Nothing is sealed: such a file may be edited by hand as well.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

from witnessmark.problems import Misuse, Place, Problem, Severity
from witnessmark.reading.files import Entry, Hashed
from witnessmark.reading.folder import WORKSHOP, Folder
from witnessmark.reading.letterhead import read_mark
from witnessmark.reading.models import read_model
from witnessmark.reading.workshop import Reading, now
from witnessmark.reading.yamltree import as_text, read_tree
from witnessmark.records.workshop import WorkshopFile

from .atomic import locked
from .commit import author_of
from .copying import free_name, hashed_source
from .journal import Journal
from .keep import Kept, carry_out, open_workshop, recovered
from .roundtrip import with_keys
from .seal_file import recorders_clock

__all__ = ["amend_workshop", "faults_of_workshop"]


def amend_workshop(
    root: Path,
    changes: Mapping[str, Any],
    files: Mapping[str, Path],
    by: str,
    message: str,
    *,
    clock: Callable[[], datetime] = now,
) -> Kept:
    """Set keys of `workshop.yaml` and commit it. `files`: path in the folder of what is copied there, to its source.

    Raises Misuse with every reason against it, also that the mark cannot be printed; then everything is as it was.
    """
    with locked(root):
        told = recovered(root)
        reading = open_workshop(root, clock)
        text, sources, hashes = _made(reading, changes, files)
        faults = _faults(reading.folder, text, sources, hashes)
        if faults:
            raise Misuse(*faults)
        before = reading.folder.data[WORKSHOP]
        copies = {path: found.sha256 for path, found in hashes.items() if not (root / path).exists()}
        there = {path: found.sha256 for path, found in hashes.items() if path not in copies}
        if text == before and not hashes:
            raise Misuse(Problem("record.same", "nothing differs from what is there", "nothing is to be kept"))
        author = author_of(by, reading.workshop.people)
        when = recorders_clock(reading, clock)
        journal = Journal(
            texts={WORKSHOP: text.decode()},
            before={WORKSHOP: before.decode()},
            drafts={WORKSHOP: text.decode()},
            copies=copies,
            kept=there,
            message=message,
            name=author.name,
            email=author.email,
            when=when.isoformat(),
            begun=time.time(),
        )
        return Kept("", WORKSHOP, carry_out(root, journal, {path: sources[path] for path in copies}), told)


def faults_of_workshop(reading: Reading, changes: Mapping[str, Any], files: Mapping[str, Path]) -> tuple[Problem, ...]:
    """What `amend_workshop` would refuse; nothing is written."""
    try:
        text, sources, hashes = _made(reading, changes, files)
    except Misuse as misuse:
        return misuse.problems
    return _faults(reading.folder, text, sources, hashes)


def _made(
    reading: Reading, changes: Mapping[str, Any], files: Mapping[str, Path]
) -> tuple[bytes, dict[str, Path], dict[str, Hashed]]:
    """The new text, and what is copied, by the path that is free for it."""
    folder = reading.folder
    changed = dict(changes)
    sources: dict[str, Path] = {}
    hashes: dict[str, Hashed] = {}
    for wanted, source in files.items():
        hashed = hashed_source(source)
        path = free_name(folder.root, wanted, hashed.sha256)
        sources[path], hashes[path] = source, hashed
        name = wanted.removeprefix("evidence/")
        changed = {key: path.removeprefix("evidence/") if value == name else value for key, value in changed.items()}
    data = folder.data[WORKSHOP]
    node = read_tree(data, WORKSHOP)
    assert not isinstance(node, Problem)
    tree = as_text(node)
    assert isinstance(tree, dict)
    differing = {key: value for key, value in changed.items() if _as_read(value) != tree.get(key)}
    return (with_keys(data, WORKSHOP, differing) if differing else data), sources, hashes


def _as_read(value: Any) -> Any:
    return tuple(value) if isinstance(value, list) else value


def _faults(
    folder: Folder, text: bytes, sources: Mapping[str, Path], hashes: Mapping[str, Hashed]
) -> tuple[Problem, ...]:
    node = read_tree(text, WORKSHOP)
    if isinstance(node, Problem):
        return (node,)
    file, faults = read_model(WorkshopFile, node, WORKSHOP)
    if file is None:
        return faults
    entries = dict(folder.entries)
    for path, source in sources.items():
        entries[path] = Entry(path, source, hashes[path].size)
    data = {**folder.data, WORKSHOP: text}
    changed = replace(folder, file=file, data=data, entries=entries, problems=[], _hashes={})
    read_mark(changed, use_cache=False)
    # The place is that of a text which nobody has written yet.
    hard = (p for p in changed.problems if p.severity is Severity.PROBLEM)
    return tuple(replace(p, place=Place(WORKSHOP), related=()) for p in hard)
