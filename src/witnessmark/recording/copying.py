"""Bringing a file into the evidence: hashed before, copied, read back and compared. The original stays untouched."""

from __future__ import annotations

import hashlib
import os
import tempfile
from pathlib import Path

from witnessmark.problems import Misuse, Place, Problem
from witnessmark.reading.files import Hashed, hash_file

from .atomic import sync_folder, usual_mode

__all__ = ["copy_in", "free_name", "hashed_source"]

_BLOCK = 1 << 20


def hashed_source(source: Path) -> Hashed:
    """Digest and size of a file that is to be copied; Misuse when it is not a regular file that can be read."""
    if source.is_symlink() or not source.is_file():
        what = "is a link" if source.is_symlink() else "is not a file" if source.exists() else "is not there"
        raise Misuse(Problem("file.missing", f"'{source}' {what}", "give the path of the file itself"))
    hashed = hash_file(source, source.name, keep=0)
    if isinstance(hashed, Problem):
        raise Misuse(hashed)
    if not hashed.size:
        raise Misuse(Problem("file.empty", f"'{source}' is empty", "copy it from the camera or instrument again"))
    return hashed


def free_name(root: Path, wanted: str, sha256: str) -> str:
    """`wanted` (from `root`), or with -2, -3 … where another file has that name; the same file is taken as it is."""
    stem, dot, ending = wanted.rpartition(".")
    number = 1
    while True:
        name = wanted if number == 1 else f"{stem}-{number}{dot}{ending}" if dot else f"{wanted}-{number}"
        target = root / name
        if not target.exists() and not target.is_symlink():
            return name
        if target.is_file() and not target.is_symlink():
            hashed = hash_file(target, name, keep=0)
            if isinstance(hashed, Hashed) and hashed.sha256 == sha256:
                return name
        number += 1


def copy_in(source: Path, root: Path, path: str, sha256: str) -> None:
    """Copy `source` to `path` (from `root`), whole or not at all.

    Raises Misuse when what lies there afterwards is not what was hashed before: the file changed while it was copied,
    or the disk did not keep it. OSError (a full disk, no rights) is the caller's.
    """
    target = root / path
    if target.is_file() and not target.is_symlink():
        hashed = hash_file(target, path, keep=0)
        if isinstance(hashed, Hashed) and hashed.sha256 == sha256:
            return
    if target.exists() or target.is_symlink():
        raise Misuse(Problem("file.taken", f"'{path}' is there already, with other bytes", "give another name"))
    target.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(prefix=f".{target.name}.", suffix=".tmp", dir=target.parent)
    temporary = Path(name)
    try:
        with os.fdopen(handle, "wb") as out, source.open("rb") as given:
            while block := given.read(_BLOCK):
                out.write(block)
            out.flush()
            os.fsync(out.fileno())
        if _digest(temporary) != sha256:
            raise Misuse(
                Problem(
                    "copy.changed",
                    f"'{source.name}' changed while it was copied, or was not kept whole by the disk",
                    "wait until the instrument or camera has written it, then record again",
                    Place(path),
                )
            )
        temporary.chmod(usual_mode())
        temporary.replace(target)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise
    sync_folder(target.parent)


def _digest(path: Path) -> str:
    digest = hashlib.sha256()
    with path.open("rb") as file:
        while block := file.read(_BLOCK):
            digest.update(block)
    return digest.hexdigest()
