"""Files copied, text sealed and written, all committed: one act under the lock, whole or not at all.

`prepare` does everything in memory and writes nothing: it is also what shows a result before anybody keeps it.
`keep` does it again under the lock, with a journal, so that a kill at any moment leaves nothing half-made.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from witnessmark.problems import Misuse, Place, Problem, Severity
from witnessmark.reading.acts import read_act
from witnessmark.reading.check import problems_of
from witnessmark.reading.files import Entry, Hashed, hash_file
from witnessmark.reading.workshop import Reading, now, read_everything
from witnessmark.records.world import Act, FileState, Held, Workshop

from .atomic import locked, write_atomically
from .commit import author_of
from .copying import copy_in, free_name, hashed_source
from .history import commit_files
from .journal import Journal, begin, end, recover, undo
from .roundtrip import plain_yaml
from .seal import Sealed, seal
from .seal_file import must_take_records, recorders_clock

__all__ = [
    "Entered",
    "Kept",
    "Prepared",
    "carry_out",
    "keep",
    "keep_draft",
    "keep_plain",
    "open_workshop",
    "prepare",
    "recovered",
    "restore",
]


@dataclass(frozen=True, slots=True)
class Entered:
    """One act as it was answered: its text tree without seal, where it goes, and which files it brings.

    `files` maps a path as the tree names it (relative to `base`) to the file that is copied there.
    """

    path: str
    tree: Mapping[str, Any]
    base: str
    files: Mapping[str, Path] = field(default_factory=dict)
    beside: tuple[str, ...] = ()
    """Files of the folder that go into the same commit as they lie there, such as the text of a set."""


@dataclass(frozen=True, slots=True)
class Prepared:
    """A sealed act that is not written yet, and the workshop as it would be with it."""

    entered: Entered
    draft: bytes
    sealed: Sealed
    act: Act
    workshop: Workshop
    sources: Mapping[str, Path]
    """Path from the root to the file that is copied there."""


@dataclass(frozen=True, slots=True)
class Kept:
    """What is in the history now. `told`: what an interrupted recording had left, in words."""

    code: str
    path: str
    commit: str
    told: str = ""


def open_workshop(root: Path, clock: Callable[[], datetime] = now) -> Reading:
    """The folder as recording needs it; Misuse when nothing can be recorded in it."""
    reading = read_everything(root, clock=clock)
    if not isinstance(reading, Reading):
        raise Misuse(*reading.problems)
    must_take_records(reading)
    return reading


def prepare(reading: Reading, entered: Entered, by: str, when: datetime, code: str | None = None) -> Prepared:
    """Seal in memory, under `code` where one is given. Raises Misuse with every reason why it cannot be sealed."""
    entered, sources, hashes = _named(reading, entered)
    draft = plain_yaml(_without_nothing({"format": 1, **entered.tree}), entered.path)
    if entered.path in reading.folder.data:
        raise Misuse(Problem("record.taken", f"there is a file '{entered.path}'", "try again", Place(entered.path)))
    with_draft = _with(reading, entered.path, draft, hashes, sources)
    text = read_act(draft, entered.path)
    if text.problems or text.body is None:
        raise Misuse(*text.problems)
    hard = [
        p for p in problems_of(with_draft)
        if p.severity is Severity.PROBLEM and p.place is not None and p.place.file == entered.path
    ]  # fmt: skip
    if hard:
        raise Misuse(*hard)
    done = seal(with_draft, entered.path, on=when, by=by, now=when, code=code)
    whole = read_act(done.data, entered.path)
    assert whole.body is not None and whole.code is not None
    states = tuple(
        FileState(f.name, f.sha256.removeprefix("sha256:"), f.sha256.removeprefix("sha256:")) for f in whole.body.files
    )
    appeared = max((a.appeared for a in reading.workshop.acts if a.appeared is not None), default=-1) + 1
    act = Act(
        whole.code, whole.body, entered.path, whole.place, whole.tree, appeared, Held.UNCHANGED, whole.holds,
        files=states,
    )  # fmt: skip
    workshop = replace(reading.workshop, acts=(*reading.workshop.acts, act))
    workshop = _with_figures(with_draft, workshop, act)
    return Prepared(entered, draft, done, act, workshop, sources)


def keep(
    root: Path,
    entered: Entered,
    by: str,
    message: Callable[[str], str],
    *,
    clock: Callable[[], datetime] = now,
    code: str | None = None,
    refuse: Callable[[Prepared], tuple[Problem, ...]] = lambda prepared: (),
) -> Kept:
    """Copy, seal, write and commit one act. `message` makes the commit's sentence from the code; `code` is the one
    under which it was shown before.

    `refuse` sees the act as it is about to be kept and gives reasons against it. Raises Misuse, or OSError for a full
    disk; then everything is as it was.
    """
    with locked(root):
        told = recovered(root)
        reading = open_workshop(root, clock)
        when = recorders_clock(reading, clock)
        prepared = prepare(reading, entered, by, when, code)
        reasons = refuse(prepared)
        if reasons:
            raise Misuse(*reasons)
        author = author_of(by, reading.workshop.people)
        copies, there = _told_apart(root, prepared)
        journal = Journal(
            texts={prepared.sealed.path: prepared.sealed.data.decode()},
            before={prepared.sealed.path: None},
            drafts={prepared.sealed.path: prepared.draft.decode()},
            copies=copies,
            kept={**there, **{path: hashed_source(root / path).sha256 for path in entered.beside}},
            message=message(prepared.sealed.code),
            name=author.name,
            email=author.email,
            when=when.isoformat(),
            begun=time.time(),
        )
        commit = carry_out(root, journal, {path: prepared.sources[path] for path in copies})
        return Kept(prepared.sealed.code, prepared.sealed.path, commit, told)


def keep_plain(
    root: Path, path: str, tree: Mapping[str, Any], by: str, message: str, *, clock: Callable[[], datetime] = now
) -> Kept:
    """Write and commit a file that describes and claims nothing: a person, an instrument."""
    with locked(root):
        told = recovered(root)
        reading = open_workshop(root, clock)
        if path in reading.folder.data:
            raise Misuse(Problem("record.taken", f"there is a file '{path}'", "edit it by hand", Place(path)))
        data = plain_yaml(_without_nothing({"format": 1, **tree}), path)
        _must_be_read(root, path, data)
        author = author_of(by, reading.workshop.people)
        when = recorders_clock(reading, clock)
        text = data.decode()
        journal = Journal(
            {path: text}, {path: None}, {path: text}, {}, {}, message, author.name, author.email, when.isoformat(),
            time.time(),
        )  # fmt: skip
        return Kept("", path, carry_out(root, journal, {}), told)


def keep_draft(root: Path, entered: Entered) -> str:
    """Leave it as a draft, with its files, not sealed and not committed: it counts for nothing. Gives its path."""
    with locked(root):
        recovered(root)
        reading = open_workshop(root)
        entered, sources, _ = _named(reading, entered)
        for path, source in sources.items():
            copy_in(source, root, path, hashed_source(source).sha256)
        (root / entered.path).parent.mkdir(parents=True, exist_ok=True)
        write_atomically(root / entered.path, plain_yaml(_without_nothing({"format": 1, **entered.tree}), entered.path))
        return entered.path


def restore(root: Path, path: str, *, clock: Callable[[], datetime] = now) -> tuple[str, str]:
    """Put the sealed text of the act at `path` (or the code that is given) back as first committed: code and path.

    Where the newest commit holds another text, that the text was put back is committed too.
    """
    from .commit import Author
    from .history import blob_at_head

    with locked(root):
        recovered(root)
        reading = open_workshop(root, clock)
        act = _meant(reading, path)
        known = reading.known.get(act.code)
        if known is None or not act.by_commit:
            raise Misuse(Problem("restore.unknown", f"the history holds no sealed text of {act.code}", "", act.place))
        when = recorders_clock(reading, clock)
        by = act.body.seal.by if act.body.seal else ""
        author = author_of(by, reading.workshop.people) if by in reading.workshop.people else Author("Witnessmark", "")
        first = _blob(root, act.by_commit, known.path, author, when)
        target = act.path
        if read_act(first, target).digest != known.digest:
            raise Misuse(Problem("restore.unlike", f"the history's text of {act.code} is not the sealed one", "", None))
        (root / target).parent.mkdir(parents=True, exist_ok=True)
        write_atomically(root / target, first)
        if blob_at_head(root, target, author, when) != first:
            commit_files(root, [target], author, when, f"Put the sealed text of {act.code} back: {target}")
        return act.code, target


def _meant(reading: Reading, path: str) -> Act:
    of_path = {t.path: t.code for t in reading.folder.texts}
    code = of_path.get(path) or path
    found = [a for a in reading.workshop.acts if a.code == code or a.path == path]
    if not found:
        known = [t for t in reading.known.values() if t.path == path]
        found = [a for a in reading.workshop.acts if known and a.code == known[0].code]
    if not found:
        raise Misuse(
            Problem("restore.none", f"no sealed act is known as '{path}'", "give the path of its file, or its code")
        )
    return found[0]


def _blob(root: Path, commit: str, path: str, author: Any, when: datetime) -> bytes:
    from .history import blob_at

    return blob_at(root, commit, path, author, when)


# ---- in memory ----------------------------------------------------------------------------------------------


def _named(reading: Reading, entered: Entered) -> tuple[Entered, dict[str, Path], dict[str, Hashed]]:
    """The act with the names that its files get in the folder, and the sources by path from the root."""
    root = reading.folder.root
    sources: dict[str, Path] = {}
    hashes: dict[str, Hashed] = {}
    renamed: dict[str, str] = {}
    for name, source in entered.files.items():
        hashed = hashed_source(source)
        path = free_name(root, f"{entered.base}/{name}", hashed.sha256)
        if path in sources and hashes[path].sha256 != hashed.sha256:
            raise Misuse(Problem("file.twice", f"two files would be called '{path}'", "rename one of them first"))
        renamed[name] = path.removeprefix(entered.base + "/")
        sources[path] = source
        hashes[path] = hashed
    tree = _with_names(entered.tree, renamed)
    return replace(entered, tree=tree, files={renamed[n]: s for n, s in entered.files.items()}), sources, hashes


FILE_KEYS = frozenset({"photo", "file", "document", "name"})


def _with_names(value: Any, renamed: Mapping[str, str], key: str = "") -> Any:
    if isinstance(value, Mapping):
        return {k: _with_names(v, renamed, str(k)) for k, v in value.items()}
    if isinstance(value, tuple | list):
        return [_with_names(v, renamed, key) for v in value]
    return renamed.get(value, value) if key in FILE_KEYS else value


def _with(
    reading: Reading, path: str, draft: bytes, hashes: Mapping[str, Hashed], sources: Mapping[str, Path]
) -> Reading:
    """The reading as it would be with the draft and its files in the folder."""
    folder = reading.folder
    entries = dict(folder.entries)
    for name, source in sources.items():
        entries[name] = Entry(name, source, hashes[name].size)
    return replace(
        reading,
        folder=replace(
            folder,
            data={**folder.data, path: draft},
            texts=(*folder.texts, read_act(draft, path)),
            entries=entries,
            problems=list(folder.problems),
        ),
    )


def _with_figures(reading: Reading, workshop: Workshop, act: Act) -> Workshop:
    from witnessmark.reading.acts import folder_of_files
    from witnessmark.reading.figures import Wanted, figures_of
    from witnessmark.records.acts import Record

    if not isinstance(act.body, Record) or act.body.log is None:
        return workshop
    log = f"{folder_of_files(act.body, act.path)}/{act.body.log.file}"
    found = figures_of(reading.folder, [Wanted(act.code, act.body, log, act.place)])
    return replace(workshop, figures={**workshop.figures, **found})


def _without_nothing(tree: Mapping[str, Any]) -> dict[str, Any]:
    """Keys that were asked and left blank are left out."""
    found: dict[str, Any] = {}
    for key, value in tree.items():
        inner = _without_nothing(value) if isinstance(value, Mapping) else value
        if inner is not None and inner != "":
            found[str(key)] = inner
    return found


# ---- on disk ------------------------------------------------------------------------------------------------


def recovered(root: Path) -> str:
    """What a killed run left is settled first. A folder without history is refused later, with its reason."""
    if not (root / ".git").is_dir():
        return ""
    return recover(root)


def _told_apart(root: Path, prepared: Prepared) -> tuple[dict[str, str], dict[str, str]]:
    """Digests of the files that have to be copied, and of those that lie there already."""
    body = prepared.act.body
    copies: dict[str, str] = {}
    there: dict[str, str] = {}
    for path, entry in zip(prepared.sealed.files, sorted(body.files, key=lambda f: f.name), strict=True):
        digest = entry.sha256.removeprefix("sha256:")
        chosen = copies if path in prepared.sources and not (root / path).exists() else there
        chosen[path] = digest
    return copies, there


def carry_out(root: Path, journal: Journal, sources: Mapping[str, Path]) -> str:
    """Write down what is about to be done, copy, write and commit; the commit's id. Undone where it cannot be done."""
    begin(root, journal)
    try:
        for path, source in sorted(sources.items()):
            copy_in(source, root, path, journal.copies[path])
        for path, digest in sorted(journal.kept.items()):
            hashed = hash_file(root / path, path, keep=0)
            if not isinstance(hashed, Hashed) or hashed.sha256 != digest:
                raise Misuse(
                    Problem("file.changed", f"'{path}' changed while it was sealed", "record it again", Place(path))
                )
        for path, text in sorted(journal.texts.items()):
            (root / path).parent.mkdir(parents=True, exist_ok=True)
            write_atomically(root / path, text.encode())
        commit = commit_files(root, journal.paths, journal.author, journal.at, journal.message)
    except Exception:
        undo(root, journal)
        raise
    end(root)  # Interrupted by the person, the journal stays, and the next run finishes or undoes.
    return commit


def _must_be_read(root: Path, path: str, data: bytes) -> None:
    from witnessmark.reading.models import read_model
    from witnessmark.reading.yamltree import read_tree
    from witnessmark.records.workshop import InstrumentFile, PersonFile, VehicleFile

    models: dict[str, type[InstrumentFile | PersonFile | VehicleFile]] = {
        "instrument.yaml": InstrumentFile, "vehicle.yaml": VehicleFile,
    }  # fmt: skip
    model = models.get(path.rpartition("/")[2], PersonFile)
    node = read_tree(data, path)
    if isinstance(node, Problem):
        raise Misuse(node)
    _, faults = read_model(model, node, path)
    if faults:
        raise Misuse(*faults)
