"""What git history says about a folder, without running anything that the folder's own `.git` could name.

A folder that somebody gave you brings a `.git` whose configuration can start programs: hooks, filters, monitors, text
conversions, signing programs, lazy fetches, included files. None of it is read by git here. A temporary folder is the
repository: a HEAD that we resolved ourselves, a configuration of our own, attributes that switch every driver off, and
the folder's objects by reference. An object that is missing is an error, never a download.

What a history can prove: that a text was committed, and in which order texts appeared. Objects are addressed by SHA-1
and every text that is given out is checked against its name. A rewritten history can be told from a true one
only where something remembers the other: `lost_texts`.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import shutil
import tempfile
import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, NamedTuple, Self

from witnessmark.problems import Place, Problem, in_order
from witnessmark.reading.files import cache_folder, hash_file, resolve_inside, walk
from witnessmark.reading.gitfolder import (
    ID,
    environment,
    find_repository,
    git_program,
    gitpython,
    make_throwaway,
    shallow_commits,
    symbolic_head,
)
from witnessmark.reading.witnesses import Witnesses, witnesses

if TYPE_CHECKING:
    import git

__all__ = ["FirstText", "History", "LostText", "blob_id", "open_history"]

MAX_TEXT = 1_000_000
_CACHE_VERSION = 2


class FirstText(NamedTuple):
    """One distinct text as it first came into history: its path then (NFC), bytes, commit, and position from 0."""

    path: str
    data: bytes
    commit: str
    position: int


class LostText(NamedTuple):
    """A text that was committed and is not in the history up to HEAD; `source` says who still knows it."""

    path: str
    data: bytes
    commit: str
    source: Witnesses


class _GitFault(Exception):
    """A git command failed: what it said. Never leaves this module."""


def blob_id(data: bytes) -> str:
    """Git's name for these bytes: SHA-1 over `blob`, the length and the bytes."""
    return hashlib.sha1(b"blob %d\0" % len(data) + data, usedforsecurity=False).hexdigest()


def open_history(root: Path, *, cache: Path | None = None, use_cache: bool = True) -> History | Problem:
    """The history of the folder `root`, which must be the top of its repository; or why there is none.

    `cache`: where to keep the pass over the history (default: the user's cache folder). `use_cache=False` neither reads
    nor writes it. The result is a context manager: it holds a temporary folder and a git process.
    """
    place = Place(".git")
    found = find_repository(root, place)
    if isinstance(found, Problem):
        return found
    stands = symbolic_head(found, place)
    if isinstance(stands, Problem):
        return stands
    branch, head = stands
    notes: list[Problem] = []
    shallow = shallow_commits(found)
    if shallow:
        notes.append(
            Problem(
                "git.shallow",
                "this repository holds only the last part of its history: a fail that was deleted before it "
                "would not be seen, so nothing can be believed",
                "fetch the rest with `git fetch --unshallow`",
                place,
            )
        )
    folder = Path(tempfile.mkdtemp(prefix="witnessmark-"))
    history = History(folder, found, branch, head, shallow, (cache or cache_folder()) if use_cache else None, notes)
    try:
        wrong = history._prepare()
    except BaseException:
        history.close()
        raise
    if wrong:
        history.close()
        return wrong
    return history


class History:
    """A repository's past, up to HEAD. Close it, or use it in a `with`."""

    def __init__(
        self,
        folder: Path,
        found: Path,
        branch: str,
        head: str | None,
        shallow: Sequence[str],
        cache: Path | None,
        problems: list[Problem],
    ) -> None:
        self._folder = folder
        self._found = found.resolve()
        self._shallow = tuple(shallow)
        self._cache = cache
        self._problems = problems
        self._repo: git.Repo | None = None
        self._tree: dict[str, str] | None = None
        self._branch = branch
        self._program = git_program() or "git"
        self._before: tuple[FirstText, ...] = ()
        self.head = head
        self.commits_read = self.texts_read = 0
        """How much of the past was read from git, and not from the cache."""

    @property
    def problems(self) -> tuple[Problem, ...]:
        """What was found wrong so far, and notes on what cannot be known."""
        return in_order(self._problems)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Ends the git processes and deletes the temporary folder. Safe to call twice."""
        repo, self._repo = self._repo, None
        if repo is not None:
            repo.close()
        shutil.rmtree(self._folder, ignore_errors=True)

    # ---- what is asked --------------------------------------------------------------------------------------------

    def tree(self) -> dict[str, str]:
        """Path (NFC, `/`) to blob id of every regular file in HEAD, in order of path."""
        if self._tree is None:
            self._tree = dict(sorted(self._read_tree())) if self.head else {}
        return self._tree

    def committed(self, path: str, data: bytes) -> bool:
        """Whether HEAD holds exactly these bytes at this path: other line ends are other bytes."""
        return self.tree().get(unicodedata.normalize("NFC", path)) == blob_id(data)

    def precedes(self, earlier: str, later: str) -> bool:
        """Whether one commit is an ancestor of another one, not that commit itself; False too where git cannot say."""
        if earlier == later:
            return False
        try:
            self._run("merge-base", "--is-ancestor", earlier, later)
        except _GitFault:
            return False
        return True

    def dirty_count(
        self,
        root: Path,
        under: Iterable[str] = ("evidence", "requirements"),
        *,
        skip: Iterable[str] = (),
        read: Mapping[str, bytes] | None = None,
    ) -> int:
        """How many files under the folders differ from HEAD: the length of `differing`."""
        return len(self.differing(root, under, skip=skip, read=read))

    def differing(
        self,
        root: Path,
        under: Iterable[str] = ("evidence", "requirements"),
        *,
        skip: Iterable[str] = (),
        read: Mapping[str, bytes] | None = None,
    ) -> tuple[str, ...]:
        """Files under the folders that differ from HEAD: changed, not committed or gone, by their bytes.

        `skip`: folders that are not counted, as `evidence/intake`. `read`: files whose bytes are at hand already.
        """
        under, skip = tuple(name.strip("/") for name in under), tuple(name.strip("/") for name in skip)
        tree = self.tree()
        found: list[str] = []
        seen = set()
        for entry in walk(root, under, skip=skip).files:
            seen.add(entry.path)
            known = tree.get(entry.path)
            data = (read or {}).get(entry.path)
            if known is None or known != (_blob_id_of(entry.file, entry.path) if data is None else blob_id(data)):
                found.append(entry.path)
        for path in tree:
            inside = any(not name or path.startswith(name + "/") for name in under)
            skipped = any(path == name or path.startswith(name + "/") for name in skip)
            if inside and not skipped and path not in seen:
                # Gone, or passed over by the walk (a hidden file): the bytes tell.
                file = resolve_inside(root, path)
                if isinstance(file, Problem) or tree[path] != _blob_id_of(file, path):
                    found.append(path)
        return tuple(found)

    def ask(self, root: Path, *arguments: str, given: bytes | None = None) -> bytes | None:
        """One git command that reads the person's index and working tree, with our own settings; None if it fails."""
        exclude = self._found / "info" / "exclude"
        if exclude.is_file() and not exclude.is_symlink():
            shutil.copyfile(exclude, self._folder / "info" / "exclude")
        variables = {"GIT_INDEX_FILE": str(self._found / "index"), "GIT_WORK_TREE": str(root.resolve())}
        bare = {"GIT_CONFIG_COUNT": "1", "GIT_CONFIG_KEY_0": "core.bare", "GIT_CONFIG_VALUE_0": "false"}
        try:
            return self._run(*arguments, given=given, env=variables | bare, cwd=root.resolve())
        except _GitFault:
            return None

    def first_texts(self, prefixes: Iterable[str]) -> tuple[FirstText, ...]:
        """Every distinct text of a `*.yaml` file under the prefixes as it first appeared, oldest first.

        Deleted, edited and renamed files are in it: what was once committed stays known. The order is that of the
        commits, then of the paths: parents before children, and what a merge brought in after the line that took it in.
        Dates, which anybody can set, play no part. One pass; from the cache where that surely gives the same. Texts
        that are missing or too large are in `problems`.
        """
        wanted = tuple(sorted({name.strip("/") for name in prefixes}))
        if self.head is None:
            return ()
        kept = self._load(wanted)
        if kept and kept[0] == self.head:
            return kept[1]
        base: str | None = None
        texts: list[FirstText] = []
        try:
            if kept and self._extends(kept[0]):
                base, texts = kept[0], list(kept[1])
            elif kept:
                self._before = (*self._before, *kept[1])
            before = len(self._problems)
            self._append(texts, wanted, base)
        except _GitFault as fault:
            self._problems.append(self._broken(fault))
            return ()
        result = tuple(texts)
        here = {blob_id(text.data) for text in result}
        self._before = tuple({blob_id(t.data): t for t in self._before if blob_id(t.data) not in here}.values())
        if len(self._problems) == before:
            self._save(wanted, result)
        return result

    def lost_texts(self, prefixes: Iterable[str], texts: Sequence[FirstText]) -> tuple[LostText, ...]:
        """Texts of `*.yaml` files that were committed once and are not among `texts`, the history up to HEAD.

        Known by what git keeps beside the history (tags, its logs, what a rewriting put aside, other branches) and by
        what was read on this machine before. What was cleared away everywhere, or cloned afterwards, cannot be known.
        """
        wanted = tuple(sorted({name.strip("/") for name in prefixes}))
        here = {blob_id(text.data) for text in texts}
        found: dict[str, LostText] = {}
        kinds = witnesses(self._found, self._branch)
        for source, commits in (
            (Witnesses.OWN, kinds.own), (Witnesses.BRANCH, kinds.branches), (Witnesses.FETCHED, kinds.fetched),
            (Witnesses.LOG, kinds.logs),
        ):  # fmt: skip
            if not commits or self.head is None:
                continue
            try:
                new: list[tuple[str, str, str]] = []
                for commit, path, blob in self._changes(None, sorted(commits)):
                    if blob not in here and blob not in found and path.endswith(".yaml") and _under(path, wanted):
                        new.append((path, blob, commit))
                data = self._blobs(list(dict.fromkeys(blob for _, blob, _ in new)))
            except _GitFault:
                continue  # What is left of it cannot be read: it is no part of the history.
            for path, blob, commit in new:
                if blob in data and blob not in found:
                    found[blob] = LostText(path, data[blob], commit, source)
        for text in self._before:
            blob = blob_id(text.data)
            if blob not in here and blob not in found and _under(text.path, wanted):
                found[blob] = LostText(text.path, text.data, text.commit, Witnesses.CACHE)
        return tuple(sorted(found.values()))

    # ---- the pass -------------------------------------------------------------------------------------------------

    def _append(self, texts: list[FirstText], wanted: Sequence[str], base: str | None) -> None:
        seen = {blob_id(text.data) for text in texts}
        new: list[tuple[str, str, str]] = []
        for commit, path, blob in self._changes(base):
            if blob not in seen and path.endswith(".yaml") and _under(path, wanted):
                seen.add(blob)
                new.append((path, blob, commit))
        found = self._blobs([blob for _, blob, _ in new])
        self.texts_read += len(new)
        for path, blob, commit in new:
            data = found.get(blob)
            if data is None:
                self._problems.append(
                    Problem(
                        "git.text",
                        f"a text of '{path}' from commit {commit[:10]} is missing, damaged or larger than "
                        f"{MAX_TEXT} bytes",
                        "restore the repository from a complete clone",
                        Place(path),
                    )
                )
            else:
                texts.append(FirstText(path, data, commit, len(texts)))

    def _changes(self, base: str | None, beside: Sequence[str] = ()) -> Iterator[tuple[str, str, str]]:
        """(commit, path, blob) of every regular file that a commit adds or changes against one of its parents.

        No path is given to git: it would leave out branches whose changes a merge dropped. `-m` compares a merge with
        each parent, so what only the merge brought in is seen too. `beside`: what these commits have, and HEAD has not.
        """
        out = self._run(
            "log",
            "--format=%x01%H",
            "--raw",
            "-z",
            "-m",
            "--no-abbrev",
            "--no-renames",
            "--no-ext-diff",
            "--no-textconv",
            "--no-show-signature",
            "--no-notes",
            "--no-color",
            "--ignore-submodules=all",
            "--topo-order",
            "--reverse",
            *(["--ignore-missing", "--stdin"] if beside else [f"^{base}"] if base else []),
            *([] if beside else [str(self.head), "--"]),
            given=_lines([*beside, f"^{self.head}"]) if beside else None,
        )
        commit = ""
        fields = iter(out.split(b"\0"))
        for field in fields:
            field = field.lstrip(b"\n")
            if field.startswith(b"\x01"):
                commit = field[1:41].decode("ascii")
                self.commits_read += 1
            elif field.startswith(b":"):
                mode, blob = field.split(b" ")[1], field.split(b" ")[3].decode("ascii")
                path = next(fields)
                if mode in (b"100644", b"100755"):
                    yield commit, _shown(path), blob

    def _blobs(self, names: Sequence[str]) -> dict[str, bytes]:
        """The texts of these blobs, checked against their names; missing, too large or false ones are left out."""
        if not names:
            return {}
        small = []
        for line in self._run("cat-file", "--batch-check", "--buffer", given=_lines(names)).split(b"\n"):
            parts = line.split(b" ")
            if len(parts) == 3 and parts[1] == b"blob" and int(parts[2]) <= MAX_TEXT:
                small.append(parts[0].decode("ascii"))
        if not small:
            return {}
        out = self._run("cat-file", "--batch", "--buffer", given=_lines(small))
        found, at = {}, 0
        for _ in small:
            end = out.index(b"\n", at)
            parts = out[at:end].split(b" ")
            at = end + 1
            if len(parts) != 3:  # `NAME missing`: it vanished between the two calls.
                continue
            size = int(parts[2])
            data = out[at : at + size]
            at += size + 1
            name = parts[0].decode("ascii")
            if blob_id(data) == name:
                found[name] = data
        return found

    def _read_tree(self) -> Iterator[tuple[str, str]]:
        try:
            out = self._run("ls-tree", "-r", "-z", "--full-tree", str(self.head))
        except _GitFault as fault:
            self._problems.append(self._broken(fault))
            return
        for line in out.split(b"\0"):
            about, _, path = line.partition(b"\t")
            parts = about.split(b" ")
            if len(parts) == 3 and parts[0] in (b"100644", b"100755"):
                yield _shown(path), parts[2].decode("ascii")

    # ---- the cache ------------------------------------------------------------------------------------------------

    def _extends(self, base: str) -> bool:
        """Whether a pass that ended at `base` is surely the beginning of the pass that ends at HEAD.

        It is when every commit since has `base` among its ancestors: then all of them come after all of its own.
        """
        try:
            self._run("cat-file", "-e", base + "^{commit}")
            self._run("merge-base", "--is-ancestor", base, str(self.head))
            among = self._run("rev-list", "--count", f"{base}..{self.head}")
            after = self._run("rev-list", "--count", "--ancestry-path", f"{base}..{self.head}")
        except _GitFault:
            return False
        return among == after

    def _cache_file(self, wanted: Sequence[str]) -> Path | None:
        if self._cache is None:
            return None
        key = json.dumps([_CACHE_VERSION, str(self._found), list(wanted), list(self._shallow)])
        return self._cache / "history" / (hashlib.sha256(key.encode()).hexdigest()[:32] + ".json")

    def _load(self, wanted: Sequence[str]) -> tuple[str, tuple[FirstText, ...]] | None:
        file = self._cache_file(wanted)
        try:
            if file is None or not file.is_file():
                return None
            kept = json.loads(file.read_bytes())
            head, texts, before = kept["head"], _unpacked(kept["texts"]), _unpacked(kept["before"])
            if not ID.fullmatch(head) or kept["place"] != self._place():
                return None
            self._before = before
            return head, texts
        except (OSError, ValueError, KeyError, TypeError):
            return None  # Damaged: as if it were not there.

    def _place(self) -> list[int]:
        """Which folder it is: another one made later under the same name knows nothing of what was here before."""
        status = self._found.stat()
        return [status.st_dev, status.st_ino]

    def _save(self, wanted: Sequence[str], texts: Sequence[FirstText]) -> None:
        file = self._cache_file(wanted)
        if file is None:
            return
        kept = {"head": self.head, "place": self._place(), "texts": _packed(texts), "before": _packed(self._before)}
        body = json.dumps(kept)
        with contextlib.suppress(OSError):  # A cache that cannot be written is no fault.
            file.parent.mkdir(parents=True, exist_ok=True)
            handle, name = tempfile.mkstemp(prefix=".history.", suffix=".tmp", dir=file.parent)
            with os.fdopen(handle, "w", encoding="ascii") as stream:
                stream.write(body)
            Path(name).replace(file)

    # ---- git ------------------------------------------------------------------------------------------------------

    def _prepare(self) -> Problem | None:
        """Build the throw-away repository and see whether HEAD can be read with it."""
        git = gitpython(self._program)
        wrong = make_throwaway(self._folder, self._found, self.head, self._shallow)
        if wrong:
            return wrong
        self._repo = git.Repo(self._folder)
        self._repo.git.update_environment(**environment(self._folder))
        if self.head is None:
            return None
        try:
            self._run("cat-file", "-e", self.head + "^{tree}")
        except _GitFault as fault:
            return self._broken(fault)
        return None

    def _run(
        self, *arguments: str, given: bytes | None = None, env: Mapping[str, str] | None = None, cwd: Path | None = None
    ) -> bytes:
        """One git command on the throw-away repository; its standard output. `given` becomes its input."""
        import git

        assert self._repo is not None, "the history is closed"
        options: dict[str, Any] = {"stdout_as_string": False, "strip_newline_in_stdout": False}
        if env is not None:
            options["env"] = dict(env)
        # Input by a file and not by a pipe: both ends of a pipe could wait for each other.
        with tempfile.TemporaryFile() as stream:
            stream.write(given or b"")
            stream.seek(0)
            words = ["--no-pager", f"--git-dir={self._folder}", *arguments]
            try:
                out = self._repo.git.execute(
                    [self._program, *(["-C", str(cwd)] if cwd else []), *words], istream=stream, **options
                )
            except git.GitCommandError as error:
                raise _GitFault(str(error.stderr).strip()[:300]) from None
        if not isinstance(out, bytes):
            raise _GitFault("git gave no bytes")
        return out

    def _broken(self, fault: _GitFault) -> Problem:
        shown = str(fault).replace(str(self._folder), ".git").replace(str(self._found), ".git")
        return Problem(
            "git.broken",
            f"the history cannot be read: {shown or 'an object is missing'}",
            "restore the repository from a complete clone",
            Place(".git"),
        )


def _packed(texts: Iterable[FirstText]) -> list[list[str]]:
    return [[text.path, text.data.decode("latin-1"), text.commit, blob_id(text.data)] for text in texts]


def _unpacked(rows: Iterable[Sequence[str]]) -> tuple[FirstText, ...]:
    """Raises ValueError when a text is not what its name says."""
    texts = []
    for index, (path, text, commit, blob) in enumerate(rows):
        data = text.encode("latin-1")
        if blob_id(data) != blob or not ID.fullmatch(commit):
            raise ValueError(path)
        texts.append(FirstText(path, data, commit, index))
    return tuple(texts)


def _lines(names: Iterable[str]) -> bytes:
    return "".join(name + "\n" for name in names).encode("ascii")


def _shown(path: bytes) -> str:
    return unicodedata.normalize("NFC", path.decode("utf-8", "backslashreplace"))


def _under(path: str, wanted: Sequence[str]) -> bool:
    return any(not name or path.startswith(name + "/") for name in wanted)


def _blob_id_of(file: Path, shown: str) -> str | None:
    """Blob id of a file on disk; None when it cannot be read, which counts as different."""
    hashed = hash_file(file, shown)
    if isinstance(hashed, Problem):
        return None
    if hashed.data is not None:
        return blob_id(hashed.data)
    digest, size = hashlib.sha1(b"blob %d\0" % hashed.size, usedforsecurity=False), 0
    with file.open("rb") as stream:
        while block := stream.read(1 << 16):
            digest.update(block)
            size += len(block)
    return digest.hexdigest() if size == hashed.size else None
