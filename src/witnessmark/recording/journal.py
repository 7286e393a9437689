"""What one recording is about to do, written down before it is done: a killed one is finished or undone by the next.

The journal lies in the repository's own folder, so that it goes where the workshop goes. It holds the sealed texts
themselves and the digests of the files that were to be copied. With all files whole, the recording is finished: the
texts are written and committed. Otherwise it is undone, and the text is kept as a draft where nothing reads it.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from witnessmark.problems import Misuse, Place, Problem
from witnessmark.reading.files import Hashed, hash_file

from .atomic import clear_leftovers, write_atomically
from .commit import Author
from .history import blob_at_head, commit_files, repository, settle_index, unstage

__all__ = ["INTAKE", "Journal", "begin", "end", "recover", "undo"]

NAME = "witnessmark-journal.json"
INTAKE = "evidence/intake"
"""Not read and not committed: what was typed and not recorded waits here."""


@dataclass(frozen=True, slots=True)
class Journal:
    """One recording. Paths are from the workshop's folder."""

    texts: dict[str, str]
    """Path to the whole new text."""
    before: dict[str, str | None]
    """Path to the text that was there, None where there was none."""
    drafts: dict[str, str]
    """Path to the text without a seal, for the case that it cannot be finished."""
    copies: dict[str, str]
    """Path of each copied file to its SHA-256; files that were there already are not among them."""
    kept: dict[str, str]
    """Path of each file that the texts name and that was there already, to its SHA-256."""
    message: str
    name: str
    email: str
    when: str
    begun: float

    @property
    def paths(self) -> tuple[str, ...]:
        """Everything that belongs into the commit."""
        return tuple(sorted({*self.texts, *self.copies, *self.kept}))

    @property
    def author(self) -> Author:
        return Author(self.name, self.email)

    @property
    def at(self) -> datetime:
        return datetime.fromisoformat(self.when)


def _place(root: Path) -> Path:
    return repository(root) / NAME


def begin(root: Path, journal: Journal) -> None:
    """Write it down; it has reached the disk when this returns."""
    write_atomically(_place(root), json.dumps({"format": 1, **asdict(journal)}, ensure_ascii=False).encode())


def end(root: Path) -> None:
    """The recording is in the history, or was undone."""
    _place(root).unlink(missing_ok=True)


def recover(root: Path) -> str:
    """Finish or undo what a killed recording left, while the lock is held; what was done, in words ('' for nothing)."""
    clear_leftovers(root / "evidence")
    found = repository(root)
    for leftover in found.glob(f".{NAME}.*.tmp"):
        leftover.unlink(missing_ok=True)
    place = found / NAME
    if place.is_symlink() or not place.is_file():
        return ""
    journal = _read(place)
    settle_index(root, journal.begun)
    foreign = [path for path in journal.texts if _is_foreign(root, journal, path)]
    if foreign:
        raise Misuse(
            Problem(
                "record.edited-meanwhile",
                f"a recording was interrupted, and '{foreign[0]}' was changed by somebody since",
                f"move '{foreign[0]}' away; then run the command again, and it finishes the recording",
                Place(foreign[0]),
            )
        )
    if all(_digest(root / path) == digest for path, digest in {**journal.copies, **journal.kept}.items()):
        return _finish(root, journal)
    return _undo(root, journal)


def _finish(root: Path, journal: Journal) -> str:
    for path, text in sorted(journal.texts.items()):
        (root / path).parent.mkdir(parents=True, exist_ok=True)
        write_atomically(root / path, text.encode())
    missing = [
        path for path in journal.paths
        if blob_at_head(root, path, journal.author, journal.at) != (root / path).read_bytes()
    ]  # fmt: skip
    if missing:
        commit_files(root, journal.paths, journal.author, journal.at, journal.message)
    end(root)
    return f"An interrupted recording was finished: {', '.join(sorted(journal.texts))}."


def _undo(root: Path, journal: Journal) -> str:
    kept = []
    for path, draft in sorted(journal.drafts.items()):
        aside = root / INTAKE / f"unfinished-{Path(path).name}"
        aside.parent.mkdir(parents=True, exist_ok=True)
        write_atomically(aside, draft.encode())
        kept.append(f"{INTAKE}/{aside.name}")
    undo(root, journal)
    return (
        f"An interrupted recording was undone, since its files had not been copied whole: {', '.join(journal.texts)}. "
        f"What was typed lies in {', '.join(kept)}; record it again."
    )


def undo(root: Path, journal: Journal) -> None:
    """Put back what was there, delete what was copied. Only what this recording wrote is touched."""
    for path, before in sorted(journal.before.items()):
        if before is not None:
            write_atomically(root / path, before.encode())
        elif (root / path).is_file() and (root / path).read_bytes() == journal.texts[path].encode():
            (root / path).unlink()
    for path, digest in sorted(journal.copies.items()):
        if _digest(root / path) == digest:
            (root / path).unlink()
    unstage(root, journal.paths, journal.author, journal.at)
    end(root)


def _is_foreign(root: Path, journal: Journal, path: str) -> bool:
    target = root / path
    if target.is_symlink() or (target.exists() and not target.is_file()):
        return True
    if not target.exists():
        return False
    return target.read_bytes() not in {
        text.encode() for text in (journal.texts[path], journal.before.get(path)) if text is not None
    }


def _digest(path: Path) -> str | None:
    if path.is_symlink() or not path.is_file():
        return None
    hashed = hash_file(path, path.name, keep=0)
    return hashed.sha256 if isinstance(hashed, Hashed) else None


def _read(place: Path) -> Journal:
    try:
        found: dict[str, Any] = json.loads(place.read_bytes())
        if found.pop("format") != 1:
            raise ValueError("another format")
        journal = Journal(**found)
        if any(_leads_out(path) for path in (*journal.paths, *journal.drafts, *journal.before)):
            raise ValueError("a path that leads out of the folder")
    except (ValueError, KeyError, TypeError, AttributeError) as fault:
        raise Misuse(
            Problem(
                "record.journal",
                f"what an interrupted recording left cannot be read: {fault}",
                f"look at the folder with git status, then delete .git/{NAME}",
                Place(f".git/{NAME}"),
            )
        ) from None
    return journal


def _leads_out(path: str) -> bool:
    steps = path.split("/")
    inside = steps[0] in ("evidence", "requirements")
    return not inside or any(step in ("", ".", "..") or "\\" in step or "\0" in step for step in steps)
