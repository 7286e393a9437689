"""Git for releases: history into a bundle, a bundle into a folder, a tag into the history.

Every command runs on a throw-away repository of our own over the folder's objects, as in `reading.gitfolder`: no hook,
filter, monitor or signing program of the folder is known to it. The tag is written by this module itself.
"""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import subprocess
import tempfile
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import IO

from witnessmark.problems import Misuse, Place, Problem
from witnessmark.reading.files import odd_name
from witnessmark.reading.gitfolder import (
    ID,
    environment,
    find_repository,
    make_throwaway,
    resolve_head,
    shallow_commits,
)
from witnessmark.recording.atomic import sync_folder
from witnessmark.recording.commit import Author, stamp

__all__ = ["HEADER", "Repository", "opened", "restore"]

HEADER = b"# v2 git bundle\n"
"""First line of a bundle (git's own documentation of the format, gitformat-bundle)."""

BRANCH = "refs/heads/main"
_BLOCK = 1 << 16
_REF = re.compile(r"refs/[A-Za-z0-9._/-]{1,400}", re.ASCII)


@dataclass(frozen=True, slots=True)
class Repository:
    """The folder's repository and the throw-away one that stands in for it, as long as `opened` lasts."""

    found: Path
    head: str
    folder: Path

    def run(
        self, *arguments: str, given: bytes = b"", index: Path | None = None, into: IO[bytes] | None = None
    ) -> bytes:
        """One git command; its output, or nothing when it goes `into` a file. Raises Misuse with git's words."""
        # Objects are written where the folder has its own: the throw-away repository is gone a moment later.
        extra = {"GIT_OBJECT_DIRECTORY": str(self.found / "objects")}
        if index is not None:
            extra["GIT_INDEX_FILE"] = str(index)
        return _git(self.folder, arguments, given=given, extra=extra, into=into)

    def tree(self, commit: str | None = None) -> dict[str, tuple[str, str]]:
        """Path (as stored) to mode and object id of everything in a commit (default: HEAD)."""
        out = self.run("ls-tree", "-r", "-z", "--full-tree", commit or self.head)
        found = {}
        for line in out.split(b"\0"):
            about, _, path = line.partition(b"\t")
            parts = about.decode("ascii").split(" ")
            if len(parts) == 3:
                found[path.decode("utf-8", "surrogateescape")] = (parts[0], parts[2])
        return found

    def text(self, path: str, commit: str | None = None) -> bytes | None:
        """The bytes of one file in a commit, None when it is not in it."""
        entry = self.tree(commit).get(path)
        return None if entry is None else self.run("cat-file", "blob", entry[1])

    def contains(self, commit: str) -> bool:
        """Whether a commit is HEAD or one of its ancestors."""
        if not ID.fullmatch(commit):
            return False
        try:
            self.run("merge-base", "--is-ancestor", commit, self.head)
        except Misuse:
            return False
        return True

    def bundle(self, target: Path) -> None:
        """The whole history up to HEAD as a bundle: one thread, and nothing taken over from older packs, so that
        the same history gives the same bytes (of the same git)."""
        with target.open("wb") as stream:
            stream.write(HEADER + f"{self.head} {BRANCH}\n\n".encode())
            stream.flush()
            self.run(
                "pack-objects", "--revs", "--stdout", "--threads=1", "--no-reuse-object", "-q",
                given=f"{self.head}\n".encode(), into=stream,
            )  # fmt: skip

    # ---- writing ----------------------------------------------------------------------------------------------

    def add_tag(
        self, name: str, commit: str, author: Author, when: datetime, message: str, *, key: Path | None = None
    ) -> str:
        """An annotated tag object, signed with an SSH key when one is given; its id. No ref knows it yet."""
        who = f"{author.name} <{author.email}> {stamp(when)}"
        text = f"object {commit}\ntype commit\ntag {name}\ntagger {who}\n\n{message}\n".encode()
        if key is not None:
            text += _signature(text, key)
        return self.run("hash-object", "-t", "tag", "-w", "--stdin", given=text).decode().strip()

    def tag_of(self, name: str) -> str | None:
        """The object that a tag names, loose or packed; None when there is no such tag."""
        return self._read_ref(f"refs/tags/{name}")

    def set_tag(self, name: str, tag: str) -> None:
        """Make a tag; Misuse when it exists."""
        if self.tag_of(name) is not None:
            raise Misuse(Problem("git.tag", f"the tag {name} exists", "it is never moved: choose the next issue"))
        self._write_ref(f"refs/tags/{name}", tag)

    def _read_ref(self, name: str) -> str | None:
        file = self.found / name
        if file.is_file() and not file.is_symlink():
            text = file.read_text("ascii", "replace").strip()
            return text if ID.fullmatch(text) else None
        packed = self.found / "packed-refs"
        if packed.is_file():
            for line in packed.read_text("utf-8", "replace").splitlines():
                value, _, known = line.partition(" ")
                if known == name and ID.fullmatch(value):
                    return value
        return None

    def _write_ref(self, name: str, value: str) -> None:
        """As git does it: `NAME.lock` taken first, then renamed over the ref."""
        file = self.found / name
        at = self.found
        for step in name.split("/")[:-1]:
            at = at / step
            if at.is_symlink():
                raise Misuse(Problem("git.link", f"'.git/{name}' leads over a link", "clone it", Place(".git")))
        lock = file.with_name(file.name + ".lock")
        try:
            file.parent.mkdir(parents=True, exist_ok=True)
        except (FileExistsError, NotADirectoryError):
            above = name.rpartition("/")[0]
            raise Misuse(
                Problem("git.tag", f"'.git/{above}' is in the way", "rename that tag", Place(".git"))
            ) from None
        try:
            handle = os.open(lock, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666)
        except FileExistsError:
            raise Misuse(
                Problem(
                    "git.locked",
                    f"another program is writing '.git/{name}'",
                    f"wait until it is done; when none is running, delete .git/{name}.lock",
                    Place(".git"),
                )
            ) from None
        with os.fdopen(handle, "wb") as stream:
            stream.write(f"{value}\n".encode())
            stream.flush()
            os.fsync(stream.fileno())
        lock.replace(file)
        sync_folder(file.parent)


@contextlib.contextmanager
def opened(root: Path) -> Iterator[Repository]:
    """The repository of the folder `root`, with a commit and its whole history; Misuse that says why not."""
    place = Place(".git")
    found = find_repository(root, place)
    if isinstance(found, Problem):
        raise Misuse(found)
    found = found.resolve()
    head = resolve_head(found, place)
    if isinstance(head, Problem):
        raise Misuse(head)
    if head is None:
        raise Misuse(Problem("git.none", "nothing is committed yet", "commit the files first", place))
    shallow = shallow_commits(found)
    if shallow:
        raise Misuse(
            Problem(
                "git.shallow",
                "this repository holds only the last part of its history",
                "fetch the rest with `git fetch --unshallow`",
                place,
            )
        )
    folder = Path(tempfile.mkdtemp(prefix="witnessmark-"))
    try:
        wrong = make_throwaway(folder, found, head, ())
        if wrong:
            raise Misuse(wrong)
        yield Repository(found, head, folder)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def restore(
    bundle: IO[bytes],
    folder: Path,
    under: Iterable[str],
    *,
    commit: str | None = None,
    sizes: Mapping[str, int] | None = None,
) -> str:
    """Make of an empty folder the tree of a bundle (at `commit`, default its head), with its history; gives the commit.

    `sizes`: what the files have to be, by path; looked at before anything is written out.

    Only regular files below the folders `under` are written, each under a name that every system can hold. Raises
    Misuse for a bundle that is not whole or not one branch, and for a path that leads elsewhere.
    """
    head = _bundle_head(bundle)
    own = folder / ".git"
    for name in ("refs/heads", "objects/info", "objects/pack", "info"):
        (own / name).mkdir(parents=True)
    (own / "config").write_text("[core]\n\trepositoryformatversion = 0\n\tbare = false\n", "ascii")
    (own / "HEAD").write_text(f"ref: {BRANCH}\n", "ascii")
    with tempfile.TemporaryDirectory(prefix="witnessmark-") as name:
        throwaway = Path(name)
        wrong = make_throwaway(throwaway, own, head, ())
        if wrong:
            raise Misuse(wrong)
        repository = Repository(own.resolve(), head, throwaway)
        _git(
            throwaway,
            ("index-pack", "--stdin", "--threads=1"),
            stream=bundle,
            extra={"GIT_OBJECT_DIRECTORY": str(own.resolve() / "objects")},
        )
        at = commit or head
        if not repository.contains(at):
            raise Misuse(Problem("bundle.commit", f"the history does not hold the commit {at[:12]}", "ask for it anew"))
        (own / BRANCH).write_text(f"{at}\n", "ascii")
        wanted = tuple(name.strip("/") + "/" for name in under)
        if sizes is not None:
            _must_have(repository, at, wanted, sizes)
        _write_files(repository, at, folder, wanted)
    return at


def _bundle_head(bundle: IO[bytes]) -> str:
    """The one head in a bundle's lines; the stream then stands at the pack."""
    broken = Problem("bundle.form", "the history is not a whole bundle of one branch", "ask for the release anew")
    if bundle.readline(64) != HEADER:
        raise Misuse(broken)
    line = bundle.readline(600).decode("utf-8", "replace").rstrip("\n")
    commit, _, _name = line.partition(" ")
    # A line with a minus names what the reader must have already: such a bundle is only a part.
    if not ID.fullmatch(commit) or bundle.readline(600) != b"\n":
        raise Misuse(broken)
    return commit


def _must_have(repository: Repository, commit: str, wanted: tuple[str, ...], sizes: Mapping[str, int]) -> None:
    """So that a small pack with huge files in it never fills a disk."""
    for line in repository.run("ls-tree", "-r", "-l", "-z", "--full-tree", commit).split(b"\0"):
        about, _, path = line.partition(b"\t")
        parts = about.split()
        name = path.decode("utf-8", "surrogateescape")
        if len(parts) != 4 or parts[0] not in (b"100644", b"100755") or not name.startswith(wanted):
            continue
        if sizes.get(name) != int(parts[3]):
            raise Misuse(
                Problem(
                    "bundle.inputs",
                    f"'{shown(name)}' has another size in the history",
                    "do not rely on this release; ask the workshop how it came about",
                )
            )


def _write_files(repository: Repository, commit: str, folder: Path, wanted: tuple[str, ...]) -> None:
    chosen = []
    for path, (mode, blob) in repository.tree(commit).items():
        if mode not in ("100644", "100755") or not path.startswith(wanted):
            continue
        steps = path.split("/")
        if any(step in ("", ".", "..") or step.casefold() == ".git" or odd_name(step) for step in steps):
            shown = path.encode("utf-8", "backslashreplace").decode()
            raise Misuse(Problem("bundle.path", f"the path '{shown}' in the history leads elsewhere", "rename it"))
        chosen.append((path, blob))
    if not chosen:
        return
    with tempfile.TemporaryFile() as out:
        names = "".join(f"{blob}\n" for _, blob in chosen).encode()
        repository.run("cat-file", "--batch", "--buffer", given=names, into=out)
        out.seek(0)
        for path, blob in chosen:
            parts = out.readline(200).decode("ascii", "replace").split()
            if len(parts) != 3 or parts[0] != blob:
                raise Misuse(Problem("bundle.missing", f"'{path}' is not whole in the history", "ask for it anew"))
            target = folder / path
            target.parent.mkdir(parents=True, exist_ok=True)
            left = int(parts[2])
            with target.open("xb") as stream:
                while left:
                    block = out.read(min(left, _BLOCK))
                    if not block:
                        raise Misuse(
                            Problem("bundle.missing", f"'{path}' is cut off in the history", "ask for it anew")
                        )
                    stream.write(block)
                    left -= len(block)
            out.read(1)


def shown(path: str) -> str:
    """A stored path as everything else compares it: NFC."""
    return unicodedata.normalize("NFC", path.encode("utf-8", "surrogateescape").decode("utf-8", "backslashreplace"))


def _signature(text: bytes, key: Path) -> bytes:
    """An SSH signature over a tag, in the name space that git checks it in."""
    with tempfile.TemporaryDirectory(prefix="witnessmark-") as name:
        file = Path(name) / "tag"
        file.write_bytes(text)
        try:
            done = subprocess.run(
                ["ssh-keygen", "-Y", "sign", "-n", "git", "-f", str(key.absolute()), str(file)],
                capture_output=True,
                check=False,
            )
        except FileNotFoundError:
            raise Misuse(Problem("sign.program", "ssh-keygen is not installed", "install OpenSSH")) from None
        if done.returncode:
            words = done.stderr.decode("utf-8", "replace").strip()[-300:]
            raise Misuse(Problem("sign.refused", f"ssh-keygen: {words}", "name a private SSH key that can be used"))
        return file.with_name("tag.sig").read_bytes()


def _git(
    folder: Path,
    arguments: Iterable[str],
    *,
    given: bytes = b"",
    stream: IO[bytes] | None = None,
    extra: dict[str, str] | None = None,
    into: IO[bytes] | None = None,
) -> bytes:
    kept = {name: os.environ[name] for name in ("PATH", "SYSTEMROOT", "TEMP", "TMP") if name in os.environ}
    variables = {**kept, **{k: v for k, v in environment(folder).items() if v or k in _NEEDED}, **(extra or {})}
    command = ["git", "--no-pager", f"--git-dir={folder}", *arguments]
    with contextlib.ExitStack() as stack:
        source = stack.enter_context(tempfile.TemporaryFile())
        if stream is not None:
            shutil.copyfileobj(stream, source, _BLOCK)
        else:
            source.write(given)
        source.seek(0)
        done = subprocess.run(
            command,
            cwd=folder,
            env=variables,
            stdin=source,
            stdout=into if into is not None else subprocess.PIPE,
            stderr=subprocess.PIPE,
            check=False,
        )
    if done.returncode:
        words = done.stderr.decode("utf-8", "replace").strip().replace(str(folder), ".git")
        name = command[3]
        raise Misuse(
            Problem("git.refused", f"git {name}: {words[-300:] or 'no'}", "restore it from a clone", Place(".git"))
        )
    return done.stdout or b""


_NEEDED = ("GIT_ALLOW_PROTOCOL", "GIT_ALTERNATE_OBJECT_DIRECTORIES", "GIT_CONFIG_PARAMETERS")
"""Variables that say something by being empty."""
