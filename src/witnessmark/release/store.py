"""A bag as files, in a folder or in a zip, looked at without unpacking: every name first, then bytes as they are asked.

Nothing is written, nothing is followed, nothing runs. What cannot be listed safely is a problem and is not opened.
"""

from __future__ import annotations

import os
import stat
import unicodedata
import zipfile
from collections.abc import Iterable, Iterator
from contextlib import AbstractContextManager
from pathlib import Path
from typing import IO, Protocol, Self, cast

from witnessmark.problems import Misuse, Place, Problem, in_order
from witnessmark.reading.files import odd_name

from .bag import BAGIT, PAYLOAD

__all__ = ["FolderStore", "Store", "ZipStore", "open_store"]

MAX_FILES = 400_000
MAX_BYTES = 64 * 1024**3
"""Of all files of a zip together, as its directory says and as they are read: more is not unpacked."""


class Store(Protocol):
    """Files by path with `/`, and what is wrong with the others."""

    label: str
    files: dict[str, int]
    problems: tuple[Problem, ...]

    def open(self, path: str) -> AbstractContextManager[IO[bytes]]: ...

    def close(self) -> None: ...


def _problem(code: str, path: str, message: str) -> Problem:
    shown = path.encode("utf-8", "backslashreplace").decode()
    return Problem(code, message, "ask whoever gave you the release for it anew", Place(shown))


def safe(path: str) -> str | None:
    """Why this path may not stand in a bag, or None."""
    steps = path.split("/")
    if path.startswith("/") or "\\" in path or any(step in ("", ".", "..") for step in steps):
        return "the path leads out of the bag"
    for step in steps:
        odd = odd_name(step)
        if odd:
            return f"a name {odd}"
    return None


def twins(paths: Iterable[str]) -> Iterator[Problem]:
    """Paths that are one and the same on a system that knows no case, or no composed letters."""
    seen: dict[str, str] = {}
    for path in sorted(paths):
        key = unicodedata.normalize("NFC", unicodedata.normalize("NFC", path).casefold())
        first = seen.setdefault(key, path)
        if first != path:
            yield _problem("bag.twin", path, f"this path and '{first}' are one and the same on other systems")


class FolderStore:
    """A bag that lies unpacked."""

    def __init__(self, root: Path) -> None:
        self.label = root.name
        self._root = root
        self.files: dict[str, int] = {}
        found: list[Problem] = []
        self._descend(root, "", found)
        found += twins(self.files)
        self.problems = in_order(found)

    def _descend(self, folder: Path, prefix: str, found: list[Problem]) -> None:
        try:
            with os.scandir(folder) as scan:
                entries = sorted(scan, key=lambda e: e.name)
        except OSError as error:
            found.append(_problem("bag.unreadable", prefix, f"cannot be read: {error.strerror}"))
            return
        for entry in entries:
            path = f"{prefix}{entry.name}"
            status = entry.stat(follow_symlinks=False)  # of the link itself
            wrong = safe(path)
            if entry.is_symlink() or bool(getattr(os.path, "isjunction", lambda _: False)(entry.path)):
                found.append(_problem("bag.link", path, "this is a link; a bag holds none"))
            elif wrong:
                found.append(_problem("bag.path", path, wrong))
            elif stat.S_ISDIR(status.st_mode):
                self._descend(Path(entry.path), f"{path}/", found)
            elif not stat.S_ISREG(status.st_mode):
                found.append(_problem("bag.special", path, "this is neither a file nor a folder"))
            elif len(self.files) >= MAX_FILES:
                found.append(_problem("bag.many", path, f"there are more than {MAX_FILES} files"))
                return
            else:
                self.files[path] = status.st_size

    def open(self, path: str) -> AbstractContextManager[IO[bytes]]:
        flags = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0)
        return open(os.open(self._root / path, flags), "rb")  # noqa: PTH123 - a descriptor, not a path

    def close(self) -> None:
        """Nothing is held open."""


class ZipStore:
    """A bag in a zip: one folder at its top, as RFC 8493 (4.) asks of a serialised bag, or the bag itself."""

    def __init__(self, path: Path) -> None:
        self.label = path.name
        try:
            self._zip = zipfile.ZipFile(path)
        except (zipfile.BadZipFile, OSError, NotImplementedError) as fault:
            raise Misuse(
                Problem("bag.zip", f"'{path.name}' is not a zip: {fault}", "name a bag or a zip of one")
            ) from None
        self._names: dict[str, zipfile.ZipInfo] = {}
        self.files: dict[str, int] = {}
        found: list[Problem] = []
        infos = self._zip.infolist()
        if len(infos) > MAX_FILES or sum(i.file_size for i in infos) > MAX_BYTES:
            self._zip.close()
            raise Misuse(Problem("bag.zip", f"'{path.name}' is too large to be a bag", "name a bag or a zip of one"))
        top = _top(infos)
        for info in infos:
            name = info.filename
            if name.endswith("/") and not info.file_size:
                if safe(name.rstrip("/")):
                    found.append(_problem("bag.path", name, "the path leads out of the bag"))
                continue
            wrong = safe(name)
            mode = info.external_attr >> 16
            inside = name.removeprefix(top)
            if stat.S_IFMT(mode) not in (0, stat.S_IFREG):
                found.append(_problem("bag.link", name, "this is a link or a device; a bag holds none"))
            elif info.flag_bits & 0x1:
                found.append(_problem("bag.zip", name, "the file is encrypted"))
            elif wrong or (top and not name.startswith(top)):
                found.append(_problem("bag.path", name, wrong or "the file lies beside the bag"))
            elif inside in self._names:
                found.append(_problem("bag.doubled", name, "the zip holds two files of this name"))
            else:
                self._names[inside] = info
                self.files[inside] = info.file_size
        found += twins(self.files)
        self.problems = in_order(found)

    def open(self, path: str) -> AbstractContextManager[IO[bytes]]:
        return cast("AbstractContextManager[IO[bytes]]", self._zip.open(self._names[path]))

    def close(self) -> None:
        self._zip.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def _top(infos: list[zipfile.ZipInfo]) -> str:
    """The folder, with its slash, in which the bag lies; "" when it lies at the top."""
    names = [info.filename for info in infos]
    if BAGIT in names:
        return ""
    holders = sorted(
        {name[: -len(BAGIT)] for name in names if name.endswith(f"/{BAGIT}") and f"/{PAYLOAD}" not in name}
    )
    return holders[0] if len(holders) == 1 else ""


def open_store(path: Path) -> tuple[Store, Path | None]:
    """The bag at `path` (a bag, the folder of an issue with `bag/` in it, or a zip), and that folder, if it is one.

    Raises Misuse when there is no bag.
    """
    if path.is_file():
        if not zipfile.is_zipfile(path):
            raise Misuse(Problem("bag.none", f"'{path.name}' is neither a bag nor a zip", "name a bag or a zip of one"))
        return ZipStore(path), None
    if not path.is_dir():
        raise Misuse(Problem("bag.none", f"there is no '{path}'", "name a bag, or a zip of one"))
    # Where the declaration is gone, the rest still tells: then its absence is a finding, not a wrong command.
    if (path / "bag").is_dir() and not (path / BAGIT).exists():
        return FolderStore(path / "bag"), path
    if not (path / BAGIT).exists() and not (path / "data").is_dir():
        raise Misuse(Problem("bag.none", f"'{path}' holds no bag", "name a bag, or a zip of one"))
    return FolderStore(path), None
