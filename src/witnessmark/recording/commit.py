"""Commits in the name of a person from `people/`: by the environment, never by git's configuration."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from witnessmark.problems import Misuse, Place, Problem
from witnessmark.reading.gitfolder import git_program
from witnessmark.records.workshop import PersonFile

__all__ = ["Author", "author_of", "commit", "git", "make_repository", "quiet_environment"]

NO_ADDRESS = "witnessmark.invalid"
"""Domain of the address of a person who has none: reserved, never in use (RFC 2606, 2)."""


@dataclass(frozen=True, slots=True)
class Author:
    """Who a commit names."""

    name: str
    email: str


def author_of(ident: str, people: Mapping[str, PersonFile]) -> Author:
    """The person, with a made-up address where none is written."""
    person = people.get(ident)
    if person is None:
        return Author("Witnessmark", f"{ident}@{NO_ADDRESS}")
    clean = "".join(c for c in person.name if c not in "<>\n")
    return Author(clean, person.email or f"{ident}@{NO_ADDRESS}")


def stamp(instant: datetime) -> str:
    """The instant as git reads it without asking any zone: seconds and the difference to UTC."""
    return f"{int(instant.timestamp())} {instant.strftime('%z')[:5]}"


def quiet_environment(author: Author, when: datetime) -> dict[str, str]:
    """Git's environment for one commit; no configuration of the user or the machine is read."""
    environment = {k: v for k, v in os.environ.items() if not k.startswith("GIT_")}
    return environment | {
        "GIT_AUTHOR_NAME": author.name,
        "GIT_AUTHOR_EMAIL": author.email,
        "GIT_AUTHOR_DATE": stamp(when),
        "GIT_COMMITTER_NAME": author.name,
        "GIT_COMMITTER_EMAIL": author.email,
        "GIT_COMMITTER_DATE": stamp(when),
        "GIT_TERMINAL_PROMPT": "0",
        "LC_ALL": "C.UTF-8",
        "GIT_CONFIG_NOSYSTEM": "1",
        "GIT_CONFIG_GLOBAL": os.devnull,
        "HOME": os.devnull,
    }


def make_repository(root: Path, author: Author, when: datetime) -> None:
    """An empty repository in the folder, on the branch main, with nothing of the user's templates in it."""
    git(root, ["init", "--quiet", "--template=", "--initial-branch=main", "--object-format=sha1"], author, when)


def commit(root: Path, paths: Iterable[str], author: Author, when: datetime, message: str) -> str:
    """Commit just these paths (from the root) in a repository that we made ourselves, and give the commit's id.

    In a repository that may hold anything, `history.commit_files` is the way. Raises Misuse with git's words.
    """
    chosen = sorted(set(paths))
    if not chosen:
        raise ValueError("nothing to commit")
    quiet = ["-c", "commit.gpgsign=false", "-c", f"core.hooksPath={os.devnull}"]
    git(root, [*quiet, "add", "--force", "--", *chosen], author, when)
    git(root, [*quiet, "commit", "--quiet", "--no-verify", "-m", message, "--only", "--", *chosen], author, when)
    return git(root, ["rev-parse", "HEAD"], author, when).decode().strip()


def git(
    root: Path,
    arguments: list[str],
    author: Author,
    when: datetime,
    *,
    given: bytes | None = None,
    extra: Mapping[str, str] | None = None,
) -> bytes:
    """One git command in the folder; its output. `extra` are more variables of its environment.

    Raises Misuse with git's own words when it fails or is not there.
    """
    program = git_program()
    if program is None:
        raise Misuse(
            Problem("git.program", "git is not installed, and without it nothing can be committed", "install git")
        )
    done = subprocess.run(
        [program, "--literal-pathspecs", *arguments],
        cwd=root,
        env={**quiet_environment(author, when), **(extra or {})},
        input=given,
        capture_output=True,
        check=False,
    )
    if done.returncode:
        words = (done.stderr or done.stdout).decode("utf-8", "replace").strip()
        raise Misuse(
            Problem(
                "git.refused",
                f"git {arguments[0]}: {words[-400:]}",
                "mend what git says, then try again",
                Place(".git"),
            )
        )
    return done.stdout
