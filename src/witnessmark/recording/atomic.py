"""Writing so that a file is the old one or the new one, never half of either; and one writer at a time per folder."""

from __future__ import annotations

import contextlib
import hashlib
import os
import stat
import tempfile
from collections.abc import Iterator
from pathlib import Path

from witnessmark.problems import Misuse, Place, Problem
from witnessmark.reading.files import cache_folder

__all__ = ["clear_leftovers", "locked", "sync_folder", "usual_mode", "write_atomically"]


def write_atomically(path: Path, data: bytes) -> bool:
    """Make `path` hold `data`; True when it was written, False when it held just that already.

    The bytes go to `.name.xxxx.tmp` in the same folder, reach the disk, and then take the name; the folder's own entry
    reaches the disk too. An existing file keeps its mode. A link is refused with Misuse: it would be replaced, or lead
    elsewhere. Killed at any moment, the old file or the new one is there, and perhaps a leftover `.name.xxxx.tmp`.
    """
    try:
        before = path.lstat()
    except FileNotFoundError:
        before = None
    if before is not None and not stat.S_ISREG(before.st_mode):
        raise Misuse(
            Problem("write.not-a-file", f"'{path.name}' is not a regular file", "move it away", Place(path.name))
        )
    if before is not None and before.st_size == len(data) and path.read_bytes() == data:
        return False
    handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".tmp", dir=path.parent)
    temporary = Path(name)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        # mkstemp makes a private file: an old file keeps its mode, a new one gets what the user's mask allows.
        temporary.chmod(stat.S_IMODE(before.st_mode) if before else usual_mode())
        temporary.replace(path)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise
    sync_folder(path.parent)
    return True


def usual_mode() -> int:
    """Rights of a new file by the user's mask, which can only be read by setting it: both calls follow at once."""
    mask = os.umask(0o077)
    os.umask(mask)
    return 0o666 & ~mask


def sync_folder(folder: Path) -> None:
    """Let the new name reach the disk. Windows cannot open a folder for that, and does not need it."""
    with contextlib.suppress(PermissionError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def clear_leftovers(root: Path) -> tuple[Path, ...]:
    """Delete what killed writers left (`.*.tmp`) below `root`, only while the lock is held. Says what it deleted."""
    gone = []
    for folder, folders, names in os.walk(root):
        folders[:] = sorted(name for name in folders if name != ".git")
        for name in sorted(names):
            path = Path(folder) / name
            if name.startswith(".") and name.endswith(".tmp") and name.count(".") >= 3 and not path.is_symlink():
                path.unlink(missing_ok=True)
                gone.append(path)
    return tuple(gone)


@contextlib.contextmanager
def locked(root: Path, *, seconds: float = 10.0) -> Iterator[None]:
    """Hold the one lock of this folder; Misuse when another process holds it longer than `seconds`.

    The lock lies in the user's cache folder, named by the folder's resolved path; it frees itself when its holder dies.
    Whether it holds between two machines on a network drive is not promised.
    """
    from filelock import FileLock, Timeout

    resolved = root.resolve()
    folder = cache_folder() / "locks"
    folder.mkdir(parents=True, exist_ok=True)
    lock = FileLock(folder / (hashlib.sha256(os.fsencode(resolved)).hexdigest()[:32] + ".lock"), timeout=seconds)
    try:
        lock.acquire()
    except Timeout:
        raise Misuse(
            Problem(
                "write.locked",
                f"another witnessmark is writing into '{resolved.name}'",
                "wait until it is done, or end it; then try again",
                Place(resolved.name),
            )
        ) from None
    try:
        yield
    finally:
        lock.release()
