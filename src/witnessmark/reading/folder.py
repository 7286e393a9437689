"""The folder as it lies there: every file read once, each by what it is. No history, no clock, nothing judged."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar

from pydantic import BaseModel

from witnessmark.language import ENGLISH, Language, language_of
from witnessmark.problems import Misuse, Place, Problem
from witnessmark.records.acts import Answer, AnyAct, Concession, Record
from witnessmark.records.sets import FactDefinition, RequirementSet
from witnessmark.records.workshop import InstrumentFile, PersonFile, VehicleFile, WorkshopFile

from .acts import ActText, folder_of_files, read_act
from .files import Entry, Walk, hash_file, read_file, resolve_inside, walk
from .forms import form_problems
from .language import LIMIT, language_file, read_language
from .models import read_model
from .sets import FACTS, is_act_of_set, read_facts, read_sets
from .yamltree import MAX_BYTES, place_of, read_tree

__all__ = [
    "WORKSHOP",
    "Folder",
    "find_root",
    "is_act_path",
    "language_at",
    "named_files",
    "read_folder",
    "unused_files",
]

WORKSHOP = "evidence/workshop.yaml"
M = TypeVar("M", bound=BaseModel)

_DESCRIBED = re.compile(
    r"evidence/(?:workshop|people/(?P<person>[^/]+)|instruments/(?P<instrument>[^/]+)/instrument"
    r"|vehicles/(?P<vehicle>[^/]+)/vehicle)\.yaml"
)
_IDENT = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_PASSED = re.compile(r"evidence/(?:intake/.*|(?:.*/)?README(?:\.[a-z]+)?)")


@dataclass(slots=True)
class Folder:
    """What was read. `texts` are all acts and drafts by path; `problems` grows while more is found out."""

    root: Path
    walk: Walk
    entries: Mapping[str, Entry]
    data: Mapping[str, bytes]
    file: WorkshopFile | None = None
    people: Mapping[str, PersonFile] = field(default_factory=dict)
    instruments: Mapping[str, InstrumentFile] = field(default_factory=dict)
    vehicles: Mapping[str, VehicleFile] = field(default_factory=dict)
    sets: Mapping[str, RequirementSet] = field(default_factory=dict)
    facts: Mapping[str, FactDefinition] = field(default_factory=dict)
    texts: tuple[ActText, ...] = ()
    language: Language = field(default_factory=Language)
    plugins: tuple[str, ...] = ()
    """Distributions whose methods the policy in force names, as it writes them."""
    problems: list[Problem] = field(default_factory=list)
    _hashes: dict[str, str] = field(default_factory=dict)

    def sha256(self, path: str) -> str | None:
        """Digest of a file's bytes as they are now, None if it is not there or cannot be read; hashed once."""
        if path not in self._hashes:
            entry = self.entries.get(path)
            if entry is None:
                return None
            hashed = hash_file(entry.file, path, keep=0)
            if isinstance(hashed, Problem):
                self.problems.append(hashed)
                return None
            self._hashes[path] = hashed.sha256
        return self._hashes[path]


def find_root(start: Path) -> Path | Problem:
    """The workshop's folder: the nearest one from `start` upwards that has evidence/workshop.yaml."""
    at = start.resolve()
    for folder in (at, *at.parents):
        if (folder / WORKSHOP).is_file():
            return folder
    return Problem(
        "workshop.none",
        f"there is no workshop's folder here: none from '{start}' upwards has {WORKSHOP}",
        "go into one, name one with --folder, or make one with witnessmark start",
    )


def is_act_path(path: str) -> bool:
    """Whether a YAML file of this path holds an act: what claims something in `evidence/`, and acts beside a set."""
    if not path.endswith(".yaml") or _PASSED.fullmatch(path):
        return False
    if path.startswith("evidence/"):
        return not _DESCRIBED.fullmatch(path)
    return is_act_of_set(path)


def read_folder(root: Path) -> Folder:
    """Read every YAML file once. Raises Misuse only when there is no workshop's folder at `root`."""
    if not (root / WORKSHOP).is_file():
        raise Misuse(
            Problem(
                "workshop.none", f"the folder has no {WORKSHOP}", "make one with witnessmark start", Place(WORKSHOP)
            )
        )
    found = walk(root, ("evidence", "requirements"), skip=("evidence/intake",))
    entries = {entry.path: entry for entry in found.files}
    data: dict[str, bytes] = {}
    folder = Folder(root, found, entries, data)
    folder.problems += found.problems
    for entry in found.files:
        if entry.path.endswith((".yaml", ".yml")):
            if entry.path.endswith(".yml"):
                folder.problems.append(
                    Problem(
                        "files.ending", "a file ending in .yml is not read", "rename it to .yaml", Place(entry.path)
                    )
                )
                continue
            content = read_file(entry.file, entry.path, limit=4 * MAX_BYTES)
            if isinstance(content, Problem):
                folder.problems.append(content)
            else:
                data[entry.path] = content
    _describe(folder)
    _language(folder)
    folder.facts, faults = read_facts(data.get(FACTS))
    folder.problems += faults
    folder.sets, faults = read_sets({p: d for p, d in data.items() if p.startswith("requirements/")})
    folder.problems += faults
    folder.problems += form_problems(folder.sets, folder.facts, data)
    texts = []
    for path, content in data.items():
        if is_act_path(path):
            text = read_act(content, path)
            folder.problems += text.problems
            texts.append(text)
    folder.texts = tuple(texts)
    return folder


def _describe(folder: Folder) -> None:
    """Workshop, people, instruments, vehicles: the files that claim nothing."""
    people: dict[str, PersonFile] = {}
    instruments: dict[str, InstrumentFile] = {}
    vehicles: dict[str, VehicleFile] = {}
    for path, content in folder.data.items():
        found = _DESCRIBED.fullmatch(path)
        if not found:
            continue
        name = found["person"] or found["instrument"] or found["vehicle"] or ""
        if path == WORKSHOP:
            folder.file = _one(WorkshopFile, path, content, folder.problems)
            if folder.file is not None:
                _zone(folder.file.zone, folder.problems)
            continue
        if not _IDENT.fullmatch(name):
            folder.problems.append(
                Problem("id.form", f"'{name}' cannot be an id", "use a-z, 0-9 and single hyphens", Place(path))
            )
            continue
        if found["person"]:
            person = _one(PersonFile, path, content, folder.problems)
            if person is not None:
                people[name] = person
        elif found["instrument"]:
            instrument = _one(InstrumentFile, path, content, folder.problems)
            if instrument is not None:
                instruments[name] = instrument
        else:
            vehicle = _one(VehicleFile, path, content, folder.problems)
            if vehicle is not None:
                vehicles[name] = vehicle
    folder.people, folder.instruments, folder.vehicles = people, instruments, vehicles


def _one(model: type[M], path: str, content: bytes, problems: list[Problem]) -> M | None:
    root = read_tree(content, path)
    if isinstance(root, Problem):
        problems.append(root)
        return None
    value, faults = read_model(model, root, path)
    problems += faults
    return value


def _language(folder: Folder) -> None:
    """The texts of the workshop's language: one file beside its templates."""
    if folder.file is None:
        return
    tag, place = folder.file.language, Place(WORKSHOP)
    root = read_tree(folder.data[WORKSHOP], WORKSHOP)
    if not isinstance(root, Problem):
        place = place_of(root, ("language",), "", WORKSHOP)
    if tag == ENGLISH and not (folder.root / language_file(tag)).exists():
        return
    data: bytes | Problem | None = None
    if language_of(tag) is not None:
        path = resolve_inside(folder.root, language_file(tag), place=place)
        if isinstance(path, Problem):
            data = path
        elif path.exists():
            data = read_file(path, language_file(tag), limit=LIMIT)
    if isinstance(data, Problem):
        folder.problems.append(data)
        return
    folder.language, faults = read_language(tag, data, place)
    folder.problems += faults


def language_at(start: Path) -> Language:
    """The language of the workshop's folder at `start` or above, for what is printed; English where there is none.

    Whatever is wrong with it is told by who reads the folder.
    """
    root = find_root(start)
    if isinstance(root, Problem):
        return Language()
    content = read_file(root / WORKSHOP, WORKSHOP, limit=4 * MAX_BYTES)
    if isinstance(content, Problem):
        return Language()
    folder = Folder(root, Walk((), ()), {}, {WORKSHOP: content})
    _describe(folder)
    _language(folder)
    return folder.language


def _zone(name: str, problems: list[Problem]) -> None:
    from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        problems.append(
            Problem("workshop.zone", f"'{name}' is no time zone", "write one such as Europe/Stockholm", Place(WORKSHOP))
        )


def named_files(body: AnyAct) -> Iterator[tuple[str, tuple[str | int, ...]]]:
    """Every file that an act names, with the steps to it in the act's text; one may come several times."""
    for number, entry in enumerate(body.files):
        yield entry.name, ("files", number, "name")
    if isinstance(body, Record):
        for leaf, claim in body.shows.items():
            if claim.photo is not None:
                yield claim.photo, ("shows", leaf, "photo")
            if claim.file is not None:
                yield claim.file, ("shows", leaf, "file")
        if body.log is not None:
            yield body.log.file, ("log", "file")
            if body.log.dbc is not None:
                yield body.log.dbc, ("log", "dbc")
    if isinstance(body, Concession) and body.concession.document is not None:
        yield body.concession.document, ("concession", "document")
    if isinstance(body, Answer) and body.document is not None:
        yield body.document, ("document",)


def _is_passed(path: str) -> bool:
    return _PASSED.fullmatch(path) is not None


def unused_files(folder: Folder) -> tuple[str, ...]:
    """Files under `evidence/` that no act and no draft names, and that are not the workshop's mark."""
    mark = folder.file.mark if folder.file is not None else None
    # Named as the mark, a photograph of a vehicle stays one that no act names.
    used: set[str] = {f"evidence/{mark}"} if mark and "/" not in mark else set()
    for text in folder.texts:
        if text.body is not None:
            base = folder_of_files(text.body, text.path)
            used.update(f"{base}/{name}" for name, _ in named_files(text.body))
    return tuple(
        path
        for path in sorted(folder.entries)
        if path.startswith("evidence/") and not path.endswith(".yaml") and path not in used and not _is_passed(path)
    )
