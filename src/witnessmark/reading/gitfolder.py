"""A look at somebody's `.git` as data, and the throw-away repository that stands in for it.

Nothing here lets git read the folder's own configuration as configuration: it is listed as a file, without includes,
and only to refuse what changes the meaning of the files.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import tempfile
from pathlib import Path
from types import ModuleType

from witnessmark.problems import Place, Problem

__all__ = [
    "ID",
    "environment",
    "find_repository",
    "git_program",
    "gitpython",
    "make_throwaway",
    "resolve_head",
    "shallow_commits",
    "symbolic_head",
]

ID = re.compile(r"[0-9a-f]{40}")
_REF = re.compile(r"refs/[A-Za-z0-9._/@+\-]{1,400}", re.ASCII)
_MAX_REFS = 64 * 1024 * 1024

_CONFIG = """\
[core]
\trepositoryformatversion = 0
\tbare = true
\tfsmonitor = false
\thooksPath = {nowhere}
\tattributesFile = {nowhere}
\texcludesFile = {nowhere}
\tsshCommand = false
\taskPass = false
\tpager = cat
\teditor = false
\tcommitGraph = false
\tquotePath = false
[safe]
\tbareRepository = all
[log]
\tshowSignature = false
\tshowRoot = true
\tmailmap = false
[gpg]
\tprogram = false
[gpg "ssh"]
\tprogram = false
[gpg "x509"]
\tprogram = false
[diff]
\texternal =
\tignoreSubmodules = all
\trenames = false
[credential]
\thelper =
[protocol]
\tallow = never
[protocol "ext"]
\tallow = never
[protocol "file"]
\tallow = never
[submodule]
\trecurse = false
[gc]
\tauto = 0
[maintenance]
\tauto = false
"""
_ATTRIBUTES = "* -filter -diff -text !eol -ident -working-tree-encoding -merge\n"


def git_program() -> str | None:
    """The program git by its whole path, None where there is none.

    Steps of PATH that are empty or relative are passed over: they mean whatever folder one stands in, and a folder that
    somebody gave you may hold a program called git.
    """
    steps = [step for step in os.environ.get("PATH", os.defpath).split(os.pathsep) if os.path.isabs(step)]  # noqa: PTH117 - "" is no path
    for step in steps:
        found = shutil.which(os.path.join(step, "git"))  # noqa: PTH118 - a whole path: nothing else is searched
        if found is not None:
            return found
    return None


def gitpython(program: str) -> ModuleType:
    """GitPython, which starts git once when it is imported: by its whole path, whatever PATH says."""
    name = "GIT_PYTHON_GIT_EXECUTABLE"
    before = os.environ.get(name)
    os.environ[name] = program
    try:
        import git
    finally:
        if before is None:
            del os.environ[name]
        else:
            os.environ[name] = before
    return git


def find_repository(root: Path, place: Place) -> Path | Problem:
    """The repository's folder, a real one in `root` itself, or why it is not taken."""
    program = git_program()
    if program is None:
        return Problem("git.missing", "the program git is not found", "install git", place)
    found = root / ".git"
    if found.is_symlink():
        return Problem("git.link", "'.git' is a link", "use the folder that it leads to, or clone it", place)
    if found.is_file():
        return Problem(
            "git.file",
            "'.git' is a file: this is a second working tree or a submodule",
            "use the main working tree, or clone the repository",
            place,
        )
    if not found.is_dir():
        above = next((str(p.name) or "/" for p in root.resolve().parents if (p / ".git").exists()), None)
        if above:
            message = f"this folder is a part of the repository '{above}', not its top"
            return Problem("git.part", message, "give the workshop a repository of its own", place)
        return Problem("git.none", "this folder has no history", "run `git init`, then commit the files", place)
    for name in ("HEAD", "objects", "refs", "packed-refs", "config", "shallow"):
        if (found / name).is_symlink():
            return Problem("git.link", f"'.git/{name}' is a link", "clone the repository, use the clone", place)
    if not (found / "HEAD").is_file() or not (found / "objects").is_dir():
        return Problem("git.broken", "'.git' is not a repository", "restore it from a backup or a clone", place)
    if (found / "commondir").exists():
        return Problem("git.file", "'.git' belongs to another working tree", "use the main working tree", place)
    if (found / "objects" / "info" / "alternates").exists():
        return Problem(
            "git.borrowed",
            "this repository borrows objects from another folder",
            "run `git repack -a -d`, then delete .git/objects/info/alternates",
            place,
        )
    return _refused_settings(program, found, place) or found


def _refused_settings(program: str, found: Path, place: Place) -> Problem | None:
    """Settings that change what the files mean. Read by git as plain data: no includes, nothing runs."""
    variables = {"PATH": os.environ.get("PATH", ""), "GIT_CONFIG_NOSYSTEM": "1", "GIT_CONFIG_GLOBAL": os.devnull}
    variables |= {name: os.environ[name] for name in ("SYSTEMROOT",) if name in os.environ}
    settings: dict[str, str] = {}
    for name in ("config", "config.worktree"):
        if not (found / name).is_file():
            continue
        # The current folder is the system's temporary one, so that git discovers no repository.
        done = subprocess.run(
            [program, "config", "--file", str((found / name).resolve()), "--no-includes", "--list", "-z"],
            cwd=tempfile.gettempdir(),
            env={**variables, "GIT_DIR": os.devnull, "LC_ALL": "C"},
            stdin=subprocess.DEVNULL,
            capture_output=True,
            timeout=60,
        )
        if done.returncode:
            return Problem("git.config", f"'.git/{name}' cannot be read", "correct it or clone again", place)
        for item in done.stdout.decode("utf-8", "replace").split("\0"):
            key, _, value = item.partition("\n")
            settings[key.lower()] = value
    if "core.worktree" in settings:
        return Problem(
            "git.worktree",
            "the repository's files are said to lie in another folder (core.worktree)",
            "run `git config --unset core.worktree`, or clone",
            place,
        )
    if settings.get("extensions.objectformat", "sha1").lower() != "sha1":
        return Problem(
            "git.format", "the repository uses SHA-256 names, which are not read", "use a repository with SHA-1", place
        )
    if settings.get("extensions.refstorage", "files").lower() != "files":
        return Problem(
            "git.format", "the repository keeps its branches in a form that is not read", "clone it as files", place
        )
    if settings.get("core.bare", "false").lower() in ("true", "yes", "on", "1"):
        return Problem("git.bare", "the repository has no files of its own", "use a clone with files", place)
    return None


def resolve_head(found: Path, place: Place) -> str | Problem | None:
    """The commit that HEAD means; None in a repository without a commit. Reads HEAD, refs and packed-refs itself."""
    ended = _followed(found, place)
    return ended if isinstance(ended, Problem) else ended[1]


def symbolic_head(found: Path, place: Place) -> tuple[str, str | None] | Problem:
    """The name of the branch that HEAD means ("HEAD" itself where it is detached), and the commit there, if any."""
    return _followed(found, place)


def _followed(found: Path, place: Place) -> tuple[str, str | None] | Problem:
    broken = Problem("git.broken", "HEAD leads nowhere", "restore the repository from a clone", place)
    text, at_name = _small(found / "HEAD", 4096), "HEAD"
    for _ in range(5):
        if text is None:
            return broken
        text = text.strip()
        if ID.fullmatch(text):
            return at_name, text
        name = text.removeprefix("ref:").strip()
        if not text.startswith("ref:") or not _REF.fullmatch(name) or ".." in name or "//" in name:
            return broken
        at, at_name = found, name
        for step in name.split("/"):
            at = at / step
            if at.is_symlink():
                return Problem("git.link", f"'.git/{name}' is a link", "clone the repository", place)
        text = _small(at, 4096)
        if text is None:
            for line in (_small(found / "packed-refs", _MAX_REFS) or "").splitlines():
                commit, _, packed = line.partition(" ")
                if packed == name and ID.fullmatch(commit):
                    return name, commit
            return name, None
    return broken


def _small(file: Path, limit: int) -> str | None:
    try:
        if not file.is_file() or file.stat().st_size > limit:
            return None
        return file.read_text("utf-8", "replace")
    except OSError:
        return None


def shallow_commits(found: Path) -> tuple[str, ...]:
    text = _small(found / "shallow", _MAX_REFS) or ""
    return tuple(sorted(line for line in text.split() if ID.fullmatch(line)))


def environment(folder: Path) -> dict[str, str]:
    """Every variable that steers git, ours or empty: nothing is inherited, not even from a git that started us."""
    inherited = {name: "" for name in os.environ if name.startswith("GIT_")}
    return inherited | {
        "GIT_DIR": str(folder),
        "GIT_WORK_TREE": str(folder / "nowhere"),
        "GIT_OBJECT_DIRECTORY": str(folder / "objects"),
        "GIT_ALTERNATE_OBJECT_DIRECTORIES": "",
        "GIT_COMMON_DIR": str(folder),
        "GIT_INDEX_FILE": str(folder / "index"),
        "GIT_SHALLOW_FILE": str(folder / "shallow"),
        "GIT_GRAFT_FILE": str(folder / "nowhere"),
        "GIT_ALLOW_PROTOCOL": "",
        "GIT_NO_LAZY_FETCH": "1",
        "GIT_OPTIONAL_LOCKS": "0",
        "GIT_TERMINAL_PROMPT": "0",
        "GIT_CONFIG_NOSYSTEM": "1",
        "GIT_CONFIG_GLOBAL": os.devnull,
        "GIT_CONFIG_SYSTEM": os.devnull,
        "GIT_CONFIG_COUNT": "0",
        "GIT_CONFIG_PARAMETERS": "",
        "GIT_ATTR_NOSYSTEM": "1",
        "GIT_NO_REPLACE_OBJECTS": "1",
        "GIT_DEFAULT_HASH": "sha1",
        "GIT_PAGER": "cat",
        "LC_ALL": "C",
        "TZ": "UTC",
    }


def make_throwaway(folder: Path, found: Path, head: str | None, shallow: tuple[str, ...]) -> Problem | None:
    """Make of the empty `folder` a repository of our own over the objects in `found`."""
    for name in ("refs/heads", "objects/info", "objects/pack", "info"):
        (folder / name).mkdir(parents=True)
    nowhere = folder / "nowhere"
    (folder / "HEAD").write_text((head or "ref: refs/heads/none") + "\n", "ascii")
    (folder / "config").write_text(_CONFIG.format(nowhere=nowhere.as_posix()), "utf-8")
    (folder / "info" / "attributes").write_text(_ATTRIBUTES, "ascii")
    if shallow:
        (folder / "shallow").write_text("\n".join(shallow) + "\n", "ascii")
    objects = (found / "objects").as_posix()
    if "\n" in objects or objects.startswith(('"', "#")):
        return Problem("git.path", "the folder's path holds a character git cannot take", "move it", Place(".git"))
    (folder / "objects" / "info" / "alternates").write_text(objects + "\n", "utf-8")
    return None
