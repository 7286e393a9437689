"""A workshop's folder, empty or as a copy of the demonstration with a scripted history."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from witnessmark.problems import Misuse, Problem
from witnessmark.reading.acts import folder_of_files
from witnessmark.reading.files import Entry, walk
from witnessmark.reading.folder import WORKSHOP, named_files
from witnessmark.reading.workshop import Reading, read_everything
from witnessmark.reading.yamltree import as_text, read_tree
from witnessmark.records.base import text_of_instant
from witnessmark.records.world import Act
from witnessmark.shipped import shipped

from .atomic import write_atomically
from .commit import NO_ADDRESS, Author, author_of, commit, git, make_repository, stamp
from .roundtrip import plain_yaml, with_keys
from .seal_file import seal_file

__all__ = ["start", "start_example"]

FIRST_PERSON = "first"
"""Id of the person who starts a folder. The name beside it in people/ is free to edit."""

ATTRIBUTES = b"* -text\n"
"""Git changes no byte: what was hashed when sealing is what is hashed ever after."""

IGNORED = b"""\
builds/*
!builds/README.md
evidence/intake/
.*.tmp
"""

NOTES = {
    "builds/README.md": """\
# Builds

Technical files and releases are written here. Everything in it can be made again, so git ignores it.
""",
    "templates/README.md": """\
# Templates

The pages of the technical file come with the tool. A file put here under the same name takes its place.
""",
}

LATER = b"""\
# What cover, test reports and sheets carry besides. Write it here, or answer: witnessmark record workshop
# address: [Street and number, Postcode and town]
# contact: {telephone: , mail: , web: }
# mark: mark.png
"""
"""Below the keys of a new workshop.yaml: words to be filled in, which nothing prints until they are."""

_IDENT = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")


def start(
    directory: Path,
    *,
    sets: Sequence[str] | None = None,
    name: str = "Name of the workshop",
    vehicle: str = "vehicle-01",
    person: str = "Name of the first person",
    zone: str = "Europe/Stockholm",
    now: datetime | None = None,
) -> tuple[str, ...]:
    """Make a workshop's folder with the chosen requirement sets (default: the usual ones) and a first vehicle.

    The choice of the sets is stated for the vehicle in the person's name, sealed and committed: from then on each
    requirement of theirs that is not shown, and each fact that nobody stated, is a gap.

    Gives the sets. Raises Misuse, before anything is written, for a folder in use, an unknown set or a bad id.
    """
    _must_be_free(directory)
    available = shipped("requirements")
    known = tuple(sorted(p.name for p in available.iterdir() if (p / "set.yaml").is_file()))
    chosen = tuple(dict.fromkeys(sets)) if sets else tuple(s for s in known if _is_usual(available / s))
    unknown = [s for s in chosen if s not in known]
    if unknown:
        raise Misuse(
            *(
                Problem("set.unknown", f"no set '{s}' comes with the tool", f"shipped are {', '.join(known)}")
                for s in unknown
            )
        )
    if not _IDENT.fullmatch(vehicle):
        raise Misuse(
            Problem("id.form", f"'{vehicle}' cannot be an id", "use a-z, 0-9 and single hyphens, such as van-01")
        )
    files = {f"requirements/{e.path}": e.file.read_bytes() for e in _all_files(available) if _chosen(e.path, chosen)}
    files[WORKSHOP] = plain_yaml({"format": 1, "name": name, "place": "Where it is", "zone": zone}) + LATER
    files[f"evidence/vehicles/{vehicle}/vehicle.yaml"] = plain_yaml(
        {"format": 1, "title": "What kind of vehicle it is", "file_number": f"TF-{vehicle}", "issue": "A"}
    )
    files[f"evidence/people/{FIRST_PERSON}.yaml"] = plain_yaml({"format": 1, "name": person, "role": "workshop"})
    files |= {path: text.encode() for path, text in NOTES.items()}
    files |= {".gitattributes": ATTRIBUTES, ".gitignore": IGNORED}
    when = (now or datetime.now(UTC)).astimezone(ZoneInfo(zone)).replace(microsecond=0)
    author = Author(person, f"{FIRST_PERSON}@{NO_ADDRESS}")
    _write(directory, files)
    make_repository(directory, author, when)
    commit(directory, files, author, when, "Start the workshop's folder")
    stated = f"evidence/vehicles/{vehicle}/facts/requirement-sets.yaml"
    choice = {"value": list(chosen), "source": "chosen when the folder was started"}
    statement = {"facts": {"requirement_sets": choice}, "stated": text_of_instant(when), "by": FIRST_PERSON}
    _write(directory, {stated: plain_yaml({"format": 1, **statement})})
    seal_file(directory, stated, FIRST_PERSON, clock=lambda: when)
    return chosen


def start_example(directory: Path) -> int:
    """Copy the demonstration with a history as if it had been worked in: descriptions first, then each sealed act at
    its time, in its person's name. The ids of the commits are the same on every machine. Gives their number.
    """
    _must_be_free(directory)
    evidence, requirements = shipped("evidence"), shipped("requirements")
    files = {f"requirements/{e.path}": e.file.read_bytes() for e in _all_files(requirements)}
    files |= {f"evidence/{e.path}": e.file.read_bytes() for e in _all_files(evidence)}
    files[WORKSHOP] = _with_history(files[WORKSHOP])
    files |= {path: text.encode() for path, text in NOTES.items()}
    files |= {".gitattributes": ATTRIBUTES, ".gitignore": IGNORED}
    _write(directory, files)
    reading = read_everything(directory, use_cache=False, look=False)
    if not isinstance(reading, Reading):
        raise Misuse(*reading.problems)
    sealed = sorted(
        (act for act in reading.workshop.acts if act.body.seal is not None), key=lambda a: (_sealed_on(a), a.path)
    )
    if not sealed:
        raise Misuse(Problem("example.unsealed", "the demonstration holds nothing sealed", "install the tool again"))
    make_repository(directory, _author(sealed[0], reading), _sealed_on(sealed[0]))
    steps = _steps(sealed, files, reading)
    _import(directory, steps, files, reading)
    return len(steps)


Step = tuple[Author, datetime, str, tuple[str, ...]]
"""Who, when, message, paths."""


def _steps(sealed: Sequence[Act], files: dict[str, bytes], reading: Reading) -> list[Step]:
    left = dict.fromkeys(sorted(files))
    late: dict[str, None] = {}
    for act in sealed:
        late[act.path] = None
        base = folder_of_files(act.body, act.path)
        late.update((f"{base}/{name}", None) for name, _ in named_files(act.body))
    first = [path for path in left if path not in late]
    steps: list[Step] = [
        (_author(sealed[0], reading), _sealed_on(sealed[0]), "Start the workshop's folder", tuple(first))
    ]
    done = set(first)
    for act in sealed:
        base = folder_of_files(act.body, act.path)
        named = sorted({f"{base}/{name}" for name, _ in named_files(act.body)})
        paths = tuple(p for p in [act.path, *named] if p in files and p not in done)
        done.update(paths)
        steps.append((_author(act, reading), _sealed_on(act), f"Seal {act.code}: {act.path}", paths))
    return steps


def _author(act: Act, reading: Reading) -> Author:
    """Who sealed it; an edition that came with the tool is adopted by whoever works here first."""
    assert act.body.seal is not None
    people = reading.workshop.people
    by = act.body.seal.by
    return author_of(by if by in people else min(people), people)


def _import(root: Path, steps: Sequence[Step], files: dict[str, bytes], reading: Reading) -> None:
    """All commits in one stream: a commit by hand for each would take a minute."""
    stream: list[bytes] = []
    for number, (author, when, message, paths) in enumerate(steps, start=1):
        stream.append(b"commit refs/heads/main\n" + f"mark :{number}\n".encode())
        for role in ("author", "committer"):
            stream.append(f"{role} {author.name} <{author.email}> {stamp(when)}\n".encode())
        stream.append(_data(message.encode() + b"\n"))
        if number > 1:
            stream.append(f"from :{number - 1}\n".encode())
        for path in paths:
            stream.append(f"M 100644 inline {_quoted(path)}\n".encode() + _data(files[path]))
        stream.append(b"\n")
    author, last = steps[-1][:2]
    git(root, ["fast-import", "--quiet", "--date-format=raw"], author, last, given=b"".join(stream))
    git(root, ["read-tree", "HEAD"], author, last)


def _data(body: bytes) -> bytes:
    return f"data {len(body)}\n".encode() + body + b"\n"


def _quoted(path: str) -> str:
    return '"' + path.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _sealed_on(act: Act) -> datetime:
    assert act.body.seal is not None
    return act.body.seal.on


def _with_history(data: bytes) -> bytes:
    """The demonstration's workshop.yaml, which in a copy is judged by the copy's own history."""
    root = read_tree(data, WORKSHOP)
    assert not isinstance(root, Problem), root
    tree = as_text(root)
    assert isinstance(tree, dict)
    pinned = tree.get("demonstration")
    assert isinstance(pinned, dict), "the demonstration is not pinned"
    return with_keys(data, WORKSHOP, {"demonstration": {**pinned, "history": "consulted"}})


def _all_files(folder: Path) -> tuple[Entry, ...]:
    found = walk(folder, ("",), skip=("intake",))
    if any(p.code == "files.link" for p in found.problems):
        raise Misuse(*found.problems)
    return found.files


def _chosen(path: str, sets: Iterable[str]) -> bool:
    head, _, rest = path.partition("/")
    return head in sets if rest else head == "facts.yaml"


def _is_usual(folder: Path) -> bool:
    """Whether a new folder asks for the set when nobody names one: the set's own word."""
    root = read_tree((folder / "set.yaml").read_bytes(), "set.yaml")
    assert not isinstance(root, Problem), root
    tree = as_text(root)
    return isinstance(tree, dict) and tree.get("usual") == "yes"


def _must_be_free(directory: Path) -> None:
    if directory.is_symlink() or (directory.exists() and not directory.is_dir()):
        raise Misuse(Problem("start.not-a-folder", f"'{directory}' is not a folder", "name one that is not there yet"))
    if directory.is_dir() and any(directory.iterdir()):
        raise Misuse(
            Problem("start.in-use", f"the folder '{directory}' is not empty", "name one that is not there yet")
        )


def _write(directory: Path, files: dict[str, bytes]) -> None:
    for path, data in sorted(files.items()):
        target = directory / path
        target.parent.mkdir(parents=True, exist_ok=True)
        write_atomically(target, data)
