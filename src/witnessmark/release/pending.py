"""A freeze that has begun to be seen: what is left to do, written down first, so that a killed one is finished.

Everything that takes long is made beside, in `builds/VEHICLE/.freezing-LETTER`, where nobody takes it for a release;
killed there, the next run deletes it. Then this journal is written, and four steps follow that can each be done again:
the rename to `builds/VEHICLE/LETTER`, the sealed `releases/LETTER.yaml`, its commit, the tag. The next run does those
that are missing.
"""

from __future__ import annotations

import json
import re
import shutil
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path

from witnessmark.problems import Misuse, Place, Problem
from witnessmark.reading.folder import WORKSHOP
from witnessmark.recording import journal as recording
from witnessmark.recording.atomic import sync_folder, write_atomically
from witnessmark.recording.commit import Author
from witnessmark.recording.history import blob_at_head, commit_files, repository, settle_index

from .bag import TAG_MANIFEST, digest_of
from .gitwork import opened
from .letters import FORM

__all__ = ["Pending", "begin", "complete", "is_pending", "recover", "release_path", "staging"]

NAME = "witnessmark-freeze.json"
_STAGING = ".freezing-"
_IDENT = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_HEX = re.compile(r"[0-9a-f]{40}")


@dataclass(frozen=True, slots=True)
class Pending:
    """What the last four steps need."""

    vehicle: str
    issue: str
    manifest: str
    """Digest of the bag's tag manifest, `sha256:…`."""
    text: str
    """Of the sealed release."""
    message: str
    tag: str
    """The tag's object, which is in the repository already and which no name leads to."""
    name: str
    email: str
    when: str
    begun: float

    @property
    def path(self) -> str:
        return release_path(self.vehicle, self.issue)

    @property
    def tag_name(self) -> str:
        return f"{self.vehicle}/{self.issue}"

    @property
    def author(self) -> Author:
        return Author(self.name, self.email)

    @property
    def at(self) -> datetime:
        return datetime.fromisoformat(self.when)


def release_path(vehicle: str, issue: str) -> str:
    """Where the sealed release lies."""
    return f"evidence/vehicles/{vehicle}/releases/{issue}.yaml"


def staging(root: Path, vehicle: str, issue: str) -> Path:
    """Where an issue is made before it is one."""
    return root / "builds" / vehicle / f"{_STAGING}{issue}"


def begin(root: Path, pending: Pending) -> None:
    """Write down what is about to be done. From here on the release is finished by this run or by the next."""
    write_atomically(repository(root) / NAME, json.dumps({"format": 1, **asdict(pending)}, ensure_ascii=False).encode())


def is_pending(root: Path) -> bool:
    """Whether an interrupted freeze waits to be finished."""
    return (root / ".git" / NAME).is_file()


def complete(root: Path, pending: Pending) -> str:
    """The four steps, each only where it is missing; what could not be done, in words.

    Raises Misuse, and leaves the journal, when somebody put another file in the release's place.
    """
    target, beside = root / "builds" / pending.vehicle / pending.issue, staging(root, pending.vehicle, pending.issue)
    if not target.exists() and beside.is_dir():
        beside.replace(target)
        sync_folder(target.parent)
    path = root / pending.path
    committed = blob_at_head(root, pending.path, pending.author, pending.at)
    if committed is None:
        if path.is_symlink() or (path.exists() and path.read_bytes() != pending.text.encode()):
            raise Misuse(
                Problem(
                    "freeze.foreign",
                    f"a freeze was interrupted, and another '{pending.path}' lies there since",
                    "move it away; then run the command again, and it finishes the release",
                    Place(pending.path),
                )
            )
        path.parent.mkdir(parents=True, exist_ok=True)
        write_atomically(path, pending.text.encode())
        commit_files(root, [pending.path], pending.author, pending.at, pending.message)
    told = _tag(root, pending)
    (repository(root) / NAME).unlink(missing_ok=True)
    return told


def _tag(root: Path, pending: Pending) -> str:
    with opened(root) as repository_:
        there = repository_.tag_of(pending.tag_name)
        if there is None:
            repository_.set_tag(pending.tag_name, pending.tag)
        elif there != pending.tag:
            return f"The tag {pending.tag_name} exists and was not moved."
    return ""


def recover(root: Path) -> str:
    """Finish or undo what was interrupted, recording or release, while the lock is held; what was done, in words."""
    found = repository(root)
    told = recording.recover(root)
    for leftover in found.glob(f".{NAME}.*.tmp"):
        leftover.unlink(missing_ok=True)
    place = found / NAME
    pending = _read(place) if place.is_file() and not place.is_symlink() else None
    kept = None
    if pending is not None:
        settle_index(root, pending.begun)
        for lock in (found / "refs" / "tags" / pending.vehicle).glob(f"{pending.issue}.lock"):
            lock.unlink(missing_ok=True)
        kept = staging(root, pending.vehicle, pending.issue)
    for leftover in sorted((root / "builds").glob(f"*/{_STAGING}*")):
        if leftover != kept and not leftover.is_symlink():
            shutil.rmtree(leftover)
    if pending is None:
        return told
    return " ".join(filter(None, [told, _settled(root, pending)]))


def _settled(root: Path, pending: Pending) -> str:
    target = root / "builds" / pending.vehicle / pending.issue
    whole = [
        place for place in (target, staging(root, pending.vehicle, pending.issue))
        if digest_of(place / "bag" / TAG_MANIFEST) == pending.manifest
    ]  # fmt: skip
    name = f"issue {pending.issue} of {pending.vehicle}"
    if not whole and blob_at_head(root, pending.path, pending.author, pending.at) is None:
        shutil.rmtree(staging(root, pending.vehicle, pending.issue), ignore_errors=True)
        path = root / pending.path
        if path.is_file() and path.read_bytes() == pending.text.encode():
            path.unlink()
        (repository(root) / NAME).unlink(missing_ok=True)
        return f"An interrupted freeze of {name} was undone, since its bag is not there any more."
    told = complete(root, pending)
    return " ".join(filter(None, [f"An interrupted freeze was finished: {name}.", told]))


def _read(place: Path) -> Pending:
    try:
        found = json.loads(place.read_bytes())
        if found.pop("format") != 1:
            raise ValueError("another format")
        pending = Pending(**found)
        if not (_IDENT.fullmatch(pending.vehicle) and FORM.fullmatch(pending.issue) and _HEX.fullmatch(pending.tag)):
            raise ValueError("a name that is none")
        if not isinstance(pending.begun, float) or pending.at.tzinfo is None:
            raise ValueError("a time that is none")
    except (ValueError, KeyError, TypeError, AttributeError) as fault:
        raise Misuse(
            Problem(
                "freeze.journal",
                f"what an interrupted freeze left cannot be read: {fault}",
                f"look at the folder with git status, then delete .git/{NAME}",
                Place(WORKSHOP),
            )
        ) from None
    return pending
