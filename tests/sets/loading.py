"""Reads set files the plain way: PyYAML without types, then the models. Independent of the tool's own reader."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import Any

import yaml

from witnessmark.records.conditions import Need, NeedAll, NeedAny, Shown
from witnessmark.records.forms import FormFile
from witnessmark.records.sets import FactsFile, Requirement, RequirementFile, SetFile

ROOT = Path(__file__).resolve().parents[2]
SETS = ROOT / "requirements"
HARDEST = Path(__file__).parent / "hardest"
SET_FOLDERS = sorted(p.parent for p in SETS.glob("*/set.yaml"))


def tree_of(path: Path) -> Any:
    """The file as text, tuples and mappings."""

    def tuples(value: Any) -> Any:
        if isinstance(value, list):
            return tuple(tuples(v) for v in value)
        return {k: tuples(v) for k, v in value.items()} if isinstance(value, dict) else value

    return tuples(yaml.load(path.read_text(encoding="utf-8"), yaml.BaseLoader))


@lru_cache(maxsize=8)
def facts_of_folder(folder: Path) -> FactsFile:
    return FactsFile.model_validate(tree_of(folder / "facts.yaml"))


def set_of(folder: Path) -> SetFile:
    return SetFile.model_validate(tree_of(folder / "set.yaml"))


def areas_of(folder: Path) -> list[RequirementFile]:
    files = [p for p in sorted(folder.glob("*.yaml")) if p.name not in ("set.yaml", "facts.yaml")]
    return sorted((RequirementFile.model_validate(tree_of(p)) for p in files), key=lambda a: a.order)


def forms_of(folder: Path) -> list[FormFile]:
    return [FormFile.model_validate(tree_of(p)) for p in sorted((folder / "forms").glob("*.yaml"))]


@lru_cache(maxsize=32)
def requirements_of(folder: Path) -> tuple[Requirement, ...]:
    return tuple(r for area in areas_of(folder) for r in area.requirements)


def combinations(shown: Shown) -> list[frozenset[Need]]:
    """`shown` multiplied out: each set of needs that would show it. Written apart from the tool."""
    match shown:
        case Need():
            return [frozenset({shown})]
        case NeedAny(parts=parts):
            return [c for part in parts for c in combinations(part)]
        case NeedAll(parts=parts):
            found: list[frozenset[Need]] = [frozenset()]
            for part in parts:
                found = [a | b for a in found for b in combinations(part)]
            return found
