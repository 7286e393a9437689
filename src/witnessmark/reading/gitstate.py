"""What is odd between the files and git although each alone looks right; each kind with its own remedy.

Evidence that is in no commit, or that git is told to ignore; files that git is told not to look at; files that differ
by their line ends only; paths in a commit that are one and the same file elsewhere.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator

from witnessmark.problems import Place, Problem

from .acts import folder_of_files
from .files import read_file
from .folder import Folder, named_files
from .githistory import History, blob_id

__all__ = ["git_state"]

_UNDER = ("evidence/", "requirements/")


def git_state(history: History, folder: Folder, differing: Iterable[str]) -> tuple[Problem, ...]:
    """All of it. `differing`: the files that differ from the newest commit."""
    changed = tuple(differing)
    return (
        *_hidden(history, folder),
        *_not_in_history(history, folder, changed),
        *_line_ends(history, folder, changed),
        *_twins(history, folder),
    )


def _hidden(history: History, folder: Folder) -> Iterator[Problem]:
    """Marks in the index that make git pass over a file: a change to it is neither shown nor committed."""
    if not (folder.root / ".git" / "index").is_file():
        return
    out = history.ask(folder.root, "ls-files", "-v", "-z")
    if out is None:
        yield Problem(
            "git.index",
            "git's index cannot be read, so nobody can say which files git passes over",
            "make it anew: delete .git/index, then run git reset",
            Place(".git/index"),
        )
        return
    for row in out.split(b"\0"):
        mark, _, name = row.decode("utf-8", "backslashreplace").partition(" ")
        path = unicodedata.normalize("NFC", name)
        if not path.startswith(_UNDER):
            continue
        if mark.upper() == "S":
            yield Problem(
                "git.skip-worktree",
                "git is told to leave this file out (skip-worktree): a change to it is not shown and not committed",
                f"git update-index --no-skip-worktree '{path}', or git sparse-checkout disable",
                Place(path),
            )
        elif mark.islower():
            yield Problem(
                "git.assume-unchanged",
                "git is told that this file does not change (assume-unchanged): a change to it is not shown",
                f"git update-index --no-assume-unchanged '{path}'",
                Place(path),
            )


def _not_in_history(history: History, folder: Folder, changed: tuple[str, ...]) -> Iterator[Problem]:
    """Sealed acts and the files that they name, where no commit holds them."""
    if history.head is None:
        return
    tree, absent = history.tree(), set(changed)
    wanted: dict[str, str | None] = {}
    for text in folder.texts:
        if not text.sealed or text.body is None:
            continue
        if text.path not in tree:
            wanted.setdefault(text.path, None)
        base = folder_of_files(text.body, text.path)
        for name, _ in named_files(text.body):
            path = f"{base}/{name}"
            if path in absent and path not in tree and path in folder.entries:
                # With the act itself not committed that is what has to be done, and it is said of the act.
                wanted.setdefault(path, text.code if text.path in tree else None)
    ignored = _ignored(history, folder, sorted(wanted))
    for path, code in sorted(wanted.items()):
        if path in ignored:
            yield Problem(
                "git.ignored",
                f"this is evidence, but git is told to ignore it ({ignored[path]}), so it is in no commit",
                f"take that line out, then git add '{path}' and commit",
                Place(path),
            )
        elif code is not None:
            yield Problem(
                "git.untracked",
                f"{code} is committed, but this file of its own is in no commit: a clone would not have it",
                f"git add '{path}', then commit",
                Place(path),
            )


def _ignored(history: History, folder: Folder, paths: list[str]) -> dict[str, str]:
    """Which of the paths a rule excludes, with file, line and pattern of the rule."""
    if not paths:
        return {}
    given = b"".join(path.encode() + b"\0" for path in paths)
    out = history.ask(folder.root, "check-ignore", "--no-index", "-v", "-z", "--stdin", given=given)
    if not out:
        return {}
    fields = out.decode("utf-8", "backslashreplace").split("\0")
    found: dict[str, str] = {}
    for source, line, pattern, path in zip(fields[0::4], fields[1::4], fields[2::4], fields[3::4], strict=False):
        if pattern and not pattern.startswith("!"):
            where = source if source.endswith(".gitignore") else ".git/info/exclude"
            found[unicodedata.normalize("NFC", path)] = f"'{pattern}' in {where}, line {line}"
    return found


def _line_ends(history: History, folder: Folder, changed: tuple[str, ...]) -> Iterator[Problem]:
    tree = history.tree()
    for path in changed:
        entry = folder.entries.get(path)
        known = tree.get(path)
        if entry is None or known is None:
            continue
        data = folder.data.get(path) or read_file(entry.file, path)
        if isinstance(data, Problem):
            continue
        plain = data.replace(b"\r\n", b"\n")
        here = "CR LF here, LF there" if plain != data else "LF here, CR LF there"
        if known in (blob_id(plain), blob_id(plain.replace(b"\n", b"\r\n"))):
            yield Problem(
                "git.line-ends",
                f"the file differs from the committed one by its line ends only ({here})",
                "write `* -text` into .gitattributes, so that git changes no byte; then "
                f"git rm --cached -q '{path}' and git checkout HEAD -- '{path}'",
                Place(path),
            )


def _twins(history: History, folder: Folder) -> Iterator[Problem]:
    """Paths in the newest commit of which another system can hold one only. Where both lie here, the walk says it."""
    seen: dict[str, str] = {}
    for path in history.tree():
        if not path.startswith(_UNDER):
            continue
        first = seen.setdefault(unicodedata.normalize("NFC", path.casefold()), path)
        if first != path and not (first in folder.entries and path in folder.entries):
            yield Problem(
                "git.twin",
                f"the commit holds this path and '{first}', which are one and the same on other systems",
                f"rename one of the two: git mv '{path}' to another name",
                Place(path),
                related=(Place(first),),
            )
