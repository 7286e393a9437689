"""A workshop's folder as a list of regular files with safe names, and every odd thing in it as a problem.

Paths are shown and compared relative to the folder, with `/`, in NFC. Links, devices and names that another system
cannot hold are refused, not followed. What is hashed is what is used: the digest is that of the bytes that come back.
"""

from __future__ import annotations

import hashlib
import os
import re
import stat
import sys
import unicodedata
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from witnessmark.problems import Place, Problem, Severity, in_order

__all__ = ["Entry", "Hashed", "Walk", "cache_folder", "hash_file", "odd_name", "read_file", "resolve_inside", "walk"]

MAX_DEPTH = 16
MAX_FILES = 200_000
MAX_NAME = 200
KEEP = 4_000_000
_BLOCK = 1 << 16

_RESERVED = re.compile(r"(?i)(con|prn|aux|nul|com[0-9¹²³]|lpt[0-9¹²³])(\..*)?")
_FORBIDDEN = re.compile('[\0-\x1f\x7f-\x9f<>:"\\\\|?*\u2028-\u202e\u200e\u200f\u2066-\u2069\ufeff\ud800-\udfff]')
_CONFLICTED = re.compile(r"(?i)conflicted copy|\.sync-conflict-|\.orig$|\.rej$")
# Written by editors and systems beside what a person works on; nothing of theirs is evidence.
_PASSED = re.compile(
    r"\..*\.tmp|\.gitignore|\.gitattributes|\.gitkeep|\.DS_Store|\._.*|Thumbs\.db|desktop\.ini|.*~|\.#.*|#.*#|\..*\.sw[a-z]"
)
_MARKERS = re.compile(rb"(?m)^(<<<<<<<|>>>>>>>)( |\r?$)")
_POINTER = b"version https://git-lfs.github.com/spec/"
_ANNEXED = "/annex/objects/"
_STANDS_IN = "this is a stand-in for a large file, not the file itself"
_ANNEX_REMEDY = "fetch the file and put it here itself (git annex get, then git annex unlock), then commit it"


@dataclass(frozen=True, order=True, slots=True)
class Entry:
    """One regular file: path relative to the folder (NFC, `/`), where it is on disk, size in bytes when listed."""

    path: str
    file: Path
    size: int


@dataclass(frozen=True, slots=True)
class Walk:
    """What a folder holds: files in order of path, and what is wrong with the others."""

    files: tuple[Entry, ...]
    problems: tuple[Problem, ...]


@dataclass(frozen=True, slots=True)
class Hashed:
    """SHA-256 (lower-case hex) and size in bytes of one file; `data` are these same bytes, None for a large file."""

    sha256: str
    size: int
    data: bytes | None


def walk(root: Path, under: Iterable[str] = ("evidence", "requirements"), *, skip: Iterable[str] = ()) -> Walk:
    """All regular files below the folders `under` (relative; "" for the root itself), without those in `skip`.

    A folder that is not there holds nothing: whether it must be there is the caller's question.
    """
    files: list[Entry] = []
    problems: list[Problem] = []
    skipped = {name.strip("/") for name in skip}
    for name in under:
        folder = resolve_inside(root, name) if name else root
        if isinstance(folder, Problem):
            problems.append(folder)
        elif folder.is_dir():
            _descend(folder, unicodedata.normalize("NFC", name.strip("/")), skipped, files, problems, 0)
    files.sort()
    problems.extend(_twins(files))
    return Walk(tuple(files), in_order(problems))


def _descend(
    folder: Path, prefix: str, skipped: set[str], files: list[Entry], problems: list[Problem], depth: int
) -> None:
    if depth > MAX_DEPTH:
        problems.append(
            _problem("files.depth", f"folders are nested more than {MAX_DEPTH} deep", "move them up", prefix)
        )
        return
    try:
        with os.scandir(folder) as scan:
            found = sorted(scan, key=lambda entry: entry.name)
    except OSError as error:
        problems.append(_unreadable(error, prefix))
        return
    for entry in found:
        path = f"{prefix}/{entry.name}" if prefix else entry.name
        shown = unicodedata.normalize("NFC", path).encode("utf-8", "backslashreplace").decode()
        if shown in skipped or (not prefix and entry.name == ".git"):
            continue
        if _PASSED.fullmatch(entry.name) and not entry.is_dir(follow_symlinks=False):
            continue
        problem = _wrong_with(entry, shown)
        if problem:
            problems.append(problem)
        elif entry.is_dir(follow_symlinks=False):
            _descend(folder / entry.name, shown, skipped, files, problems, depth + 1)
        elif len(files) >= MAX_FILES:
            problems.append(_problem("files.many", f"more than {MAX_FILES} files", "move some elsewhere", prefix))
            return
        else:
            files.append(Entry(shown, folder / entry.name, entry.stat(follow_symlinks=False).st_size))
            if _CONFLICTED.search(entry.name):
                problems.append(
                    _problem(
                        "files.conflicted-copy",
                        "this is a copy that a synchronising or merging program put aside",
                        "compare it with the original, keep one, delete the other",
                        shown,
                    )
                )


def _wrong_with(entry: os.DirEntry[str], shown: str) -> Problem | None:
    if _is_link(Path(entry.path)):
        if _ANNEXED in _target(Path(entry.path)):
            return _problem("files.annex", _STANDS_IN, _ANNEX_REMEDY, shown)
        return _problem("files.link", "this is a link; links are not followed", "put the file itself here", shown)
    folder = entry.is_dir(follow_symlinks=False)
    if not folder and not entry.is_file(follow_symlinks=False):
        return _problem("files.special", "this is neither a file nor a folder", "delete it", shown)
    odd = odd_name(entry.name)
    if odd:
        return _problem("files.name", f"the name {odd}", "give it another name", shown)
    if entry.name == ".git":
        return _problem("files.repository", "there is a repository inside the folder", "move it elsewhere", shown)
    if entry.name.startswith("."):
        return _problem(
            "files.hidden",
            "a hidden file or folder is not read",
            "delete it, or give it a name without the dot",
            shown,
            Severity.NOTE,
        )
    return None


def odd_name(name: str) -> str | None:
    """Why a file of this name cannot live on every system (`ends in a dot` …), or None."""
    bad = _FORBIDDEN.search(name)
    if bad:
        return f"holds the character U+{ord(bad[0]):04X}, which some systems cannot hold or show"
    if name.endswith((".", " ")) or name.startswith(" "):
        return "begins or ends in a blank, or ends in a dot"
    if _RESERVED.fullmatch(name):
        return "is reserved on Windows"
    if len(name.encode()) > MAX_NAME:
        return f"is longer than {MAX_NAME} bytes"
    return None


def _twins(files: Iterable[Entry]) -> Iterator[Problem]:
    """Two paths that are one on a system that knows no case (or no composed letters)."""
    seen: dict[str, Entry] = {}
    for entry in files:
        key = unicodedata.normalize("NFC", entry.path.casefold())
        first = seen.setdefault(key, entry)
        if first is not entry:
            yield Problem(
                "files.twin",
                f"this path and '{first.path}' are one and the same on other systems",
                "rename one of the two",
                Place(entry.path),
                related=(Place(first.path),),
            )


def resolve_inside(root: Path, relative: str, *, place: Place | None = None) -> Path | Problem:
    """The path of `relative` (with `/`) inside `root`, or why it is refused. The file need not exist.

    Refused: absolute paths, `..`, backslashes, odd names, any link on the way. `place` is where the path is written.
    """

    def refuse(why: str, remedy: str = "write a path inside the folder, such as photos/meter.jpg") -> Problem:
        shown = relative[:120].encode("utf-8", "backslashreplace").decode()
        return Problem("files.path", f"the path '{shown}' {why}", remedy, place or Place(shown))

    if not relative or relative.startswith(("/", "~")) or re.match(r"[A-Za-z]:", relative):
        return refuse("is empty" if not relative else "is absolute")
    parts = relative.rstrip("/").split("/")
    at = root
    for part in parts:
        if part in ("", ".", ".."):
            return refuse("steps out of the folder" if part == ".." else "has an empty step")
        odd = odd_name(part)
        if odd:
            return refuse(f"has a step whose name {odd}", "rename it")
        if part == ".git":
            return refuse("points into the repository")
        at = _existing(at, part)
        if _is_link(at):
            return refuse("leads over a link; links are not followed", "put the file itself there")
    return at


def _existing(folder: Path, name: str) -> Path:
    """The file of this name; where the disk holds it in another composition of letters, that one."""
    exact = folder / name
    if name.isascii() or os.path.lexists(exact):
        return exact
    wanted = unicodedata.normalize("NFC", name)
    try:
        same = sorted(found.name for found in folder.iterdir() if unicodedata.normalize("NFC", found.name) == wanted)
    except OSError:
        return exact
    return folder / same[0] if same else exact


def _target(link: Path) -> str:
    try:
        return link.readlink().as_posix()
    except OSError:
        return ""


def _is_link(path: Path) -> bool:
    junction = getattr(os.path, "isjunction", None)  # From Python 3.12 on; only Windows has any.
    return path.is_symlink() or bool(junction and junction(path))


def read_file(file: Path, shown: str, *, limit: int = KEEP) -> bytes | Problem:
    """The bytes of one regular file of at most `limit` bytes; conflict markers and stand-ins are refused."""
    hashed = hash_file(file, shown, keep=limit)
    if isinstance(hashed, Problem):
        return hashed
    if hashed.data is None:
        message = f"the file has {hashed.size} bytes; at most {limit} are read here"
        return _problem("files.size", message, "make it smaller", shown)
    return hashed.data


def hash_file(file: Path, shown: str, *, keep: int = KEEP) -> Hashed | Problem:
    """SHA-256 of one regular file, in one pass over it; up to `keep` bytes these bytes come back too.

    A link, a device or a pipe is a problem: the file is opened without following a link and looked at afterwards.
    """
    flags = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    try:
        if _is_link(file):
            return _problem("files.link", "this is a link; links are not followed", "put the file itself here", shown)
        with open(os.open(file, flags), "rb", buffering=0) as stream:  # noqa: PTH123 - a descriptor, not a path
            status = os.fstat(stream.fileno())
            if not stat.S_ISREG(status.st_mode):
                return _problem("files.special", "this is not a regular file", "put a file here", shown)
            digest, size, kept, head = hashlib.sha256(), 0, bytearray(), b""
            keeping = status.st_size <= keep
            while block := stream.read(_BLOCK):
                digest.update(block)
                size += len(block)
                head = head or block
                keeping = keeping and size <= keep
                if keeping:
                    kept += block
    except OSError as error:
        return _unreadable(error, shown)
    data = bytes(kept) if keeping else None
    return _stand_in(head, data, shown) or Hashed(digest.hexdigest(), size, data)


def _stand_in(head: bytes, data: bytes | None, shown: str) -> Problem | None:
    """`head` is the beginning of the file, `data` all of it, where it was kept."""
    if head.startswith(b"/annex/objects/") and len(head) < 1000:
        return _problem("files.annex", _STANDS_IN, _ANNEX_REMEDY, shown)
    if head.startswith(_POINTER):
        return _problem(
            "files.pointer",
            _STANDS_IN,
            "fetch the large files (git lfs pull), then try again",
            shown,
        )
    if data is not None and shown.endswith((".yaml", ".csv", ".txt", ".dbc")):
        marker = _MARKERS.search(data)
        if marker:
            line = data.count(b"\n", 0, marker.start()) + 1
            return Problem(
                "files.conflict",
                "the file holds the two sides of a merge that was not finished",
                "keep one side and delete the lines with <<<<<<<, ======= and >>>>>>>",
                Place(shown, line, 1, 7),
            )
    return None


def cache_folder() -> Path:
    """The user's cache folder for this program. It may be deleted at any time; no release believes what is in it."""
    if sys.platform == "win32":
        base = os.environ.get("LOCALAPPDATA") or str(Path.home() / "AppData" / "Local")
    elif sys.platform == "darwin":
        base = str(Path.home() / "Library" / "Caches")
    else:
        base = os.environ.get("XDG_CACHE_HOME") or ""
        base = base if os.path.isabs(base) else str(Path.home() / ".cache")  # noqa: PTH117 - "" is no path
    return Path(base) / "witnessmark"


def _problem(code: str, message: str, remedy: str, shown: str, severity: Severity = Severity.PROBLEM) -> Problem:
    return Problem(code, message, remedy, Place(shown), severity)


def _unreadable(error: OSError, shown: str) -> Problem:
    if isinstance(error, FileNotFoundError):
        return _problem("files.missing", "there is no such file", "put it there, or correct the path", shown)
    return _problem("files.unreadable", f"cannot be read: {error.strerror}", "look at its rights and its disk", shown)
