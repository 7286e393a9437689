"""Requirement sets as they lie in the folder: files, order of the areas, digest of every requirement."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

from witnessmark.problems import Place, Problem
from witnessmark.records.base import Frozen
from witnessmark.records.canonical import digest_of
from witnessmark.records.sets import FactDefinition, FactsFile, Requirement, RequirementFile, RequirementSet, SetFile

from .forms import is_form, read_forms
from .models import read_model
from .yamltree import Node, as_text, place_of, read_tree

__all__ = ["FACTS", "is_act_of_set", "read_facts", "read_sets"]

FACTS = "requirements/facts.yaml"


def is_act_of_set(path: str) -> bool:
    """Whether the path is that of a sealed edition of a set, or of what people say of its requirements."""
    parts = path.split("/")
    inside = len(parts) == 4 and parts[0] == "requirements" and parts[2] in ("editions", "reviews")
    return inside and path.endswith(".yaml")


def read_facts(data: bytes | None) -> tuple[Mapping[str, FactDefinition], tuple[Problem, ...]]:
    """The definitions of all facts, by key."""
    if data is None:
        return {}, (
            Problem("facts.missing", "the folder has no requirements/facts.yaml",
                    "copy it from the shipped sets, or make a folder with witnessmark start", Place(FACTS)),
        )  # fmt: skip
    return _read_facts(data)


@lru_cache(maxsize=8)
def _read_facts(data: bytes) -> tuple[Mapping[str, FactDefinition], tuple[Problem, ...]]:
    root = read_tree(data, FACTS)
    if isinstance(root, Problem):
        return {}, (root,)
    file, problems = read_model(FactsFile, root, FACTS)
    return (file.facts if file is not None else {}), problems


def read_sets(files: Mapping[str, bytes]) -> tuple[Mapping[str, RequirementSet], tuple[Problem, ...]]:
    """All sets from the YAML files under `requirements/` (path to bytes), by id, and every fault in them.

    An area that cannot be read leaves its requirements out: the set's edition names them, so nothing is forgotten.
    """
    sets: dict[str, RequirementSet] = {}
    problems: list[Problem] = []
    by_set: dict[str, list[str]] = {}
    for path in sorted(files):
        parts = path.split("/")
        if path == FACTS or is_act_of_set(path):
            continue
        if len(parts) != 3 and not is_form(path):
            problems.append(
                Problem("set.stray", "this file belongs to no requirement set",
                        "put it into requirements/SET/ (a form: requirements/SET/forms/), or delete it", Place(path))
            )  # fmt: skip
            continue
        by_set.setdefault(parts[1], []).append(path)
    for name, paths in by_set.items():
        head = f"requirements/{name}/set.yaml"
        if head not in paths:
            problems.append(
                Problem("set.no-head", f"the set '{name}' has no set.yaml", "write one: format, title, short, note",
                        Place(head))
            )  # fmt: skip
            continue
        one, faults = _read_set(name, head, tuple((path, files[path]) for path in paths))
        problems += faults
        if one is not None:
            sets[name] = one
    return sets, tuple(problems)


@lru_cache(maxsize=64)
def _read_set(
    name: str, head: str, files: tuple[tuple[str, bytes], ...]
) -> tuple[RequirementSet | None, tuple[Problem, ...]]:
    """One set from its files. The same bytes are read once: what comes out is immutable and follows from them."""
    problems: list[Problem] = []
    bytes_of = dict(files)
    root = read_tree(bytes_of[head], head)
    if isinstance(root, Problem):
        return None, (root,)
    file, faults = read_model(SetFile, root, head)
    problems += faults
    if file is None:
        return None, tuple(problems)
    read: list[tuple[int, str, RequirementFile, Node]] = []
    forms, faults = read_forms([(path, data) for path, data in files if is_form(path)])
    problems += faults
    for path, data in files:
        if path == head or is_form(path):
            continue
        node = read_tree(data, path)
        if isinstance(node, Problem):
            problems.append(node)
            continue
        area, faults = read_model(RequirementFile, node, path)
        problems += faults
        if area is not None:
            read.append((area.order, path, area, node))
    read.sort(key=lambda row: row[:2])
    requirements: list[Requirement] = []
    area_of: dict[str, str] = {}
    digests: dict[str, str] = {}
    places: dict[str, Place] = {}
    titles: dict[str, str] = {}
    area_places: dict[str, Place] = {}
    for _, path, area, node in read:
        if area.area in titles:
            problems.append(
                Problem("set.doubled-area", f"the area '{area.area}' is in two files", "give one of them another id",
                        place_of(node, ("area",), "", path), related=(area_places[area.area],))
            )  # fmt: skip
        area_places.setdefault(area.area, place_of(node, ("area",), "", path))
        titles.setdefault(area.area, area.title)
        for requirement, below in zip(area.requirements, _items(node), strict=True):
            place = Place(path, below.line, below.column)
            if requirement.id in places:
                problems.append(
                    Problem("set.doubled-requirement", f"the requirement '{requirement.id}' is in the set twice",
                            "give one of them another id", place, related=(places[requirement.id],))
                )  # fmt: skip
                continue
            requirements.append(requirement)
            area_of[requirement.id] = area.area
            digests[requirement.id] = digest_of(as_text(below))
            places[requirement.id] = place
    if not requirements and not problems:
        problems.append(
            Problem("set.empty", f"the set '{name}' has no requirements: it would show nothing",
                    "write its areas, or delete the folder", Place(head, 1, 1))
        )  # fmt: skip
    found = RequirementSet(
        id=name,
        file=file,
        requirements=tuple(requirements),
        areas=tuple(titles.items()),
        area_of=Frozen(area_of),
        digests=Frozen(digests),
        places=Frozen(places),
        forms=forms,
    )
    return found, tuple(problems)


def _items(root: Node) -> tuple[Node, ...]:
    content = root.content
    if isinstance(content, Mapping):
        listed = content["requirements"][1].content
        if isinstance(listed, tuple) and not isinstance(listed, str):
            return listed
    return ()
