"""Case files: one per source, read as text so that no printed digit is lost."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml

PROVENANCES = ("seen", "reference-library", "closed-form", "from-memory", "common-practice")

_CASE_KEYS = {
    "id",
    "title",
    "clause",
    "provenance",
    "call",
    "given",
    "expect",
    "problem",
    "note",
    "notes",
    "verified_by",
}
_SOURCE_KEYS = {"title", "edition", "where", "provenance", "note", "notes", "clause"}


@dataclass(frozen=True)
class Case:
    """One case with what it came from. `fault` says why it cannot be run."""

    id: str
    file: str
    source: str
    provenance: str
    call: str = ""
    given: Mapping[str, Any] | None = None
    expect: Mapping[str, Any] | None = None
    problem: tuple[str, ...] = ()
    fault: str = ""


def load_cases(folder: Path) -> list[Case]:
    """All cases of a folder, or of one file, in the order of files and cases.

    What cannot be read becomes a case with a fault.
    """
    cases: list[Case] = []
    files = sorted([*folder.rglob("*.yaml"), *folder.rglob("*.yml")]) if folder.is_dir() else []
    if folder.is_file():
        files = [folder]
    for path in files:
        name = path.name if path == folder else path.relative_to(folder).as_posix()
        cases += _file(path, name)
    if not cases:
        why = "no case found in" if folder.is_dir() else "there is no folder and no file"
        cases.append(Case("none", str(folder.name), "", "", fault=f"{why} {folder}"))
    seen: set[str] = set()
    for index, case in enumerate(cases):
        if case.id in seen:
            cases[index] = Case(case.id + "-again", case.file, "", "", fault=f"the id {case.id} is used twice")
        seen.add(case.id)
    return cases


def _file(path: Path, name: str) -> list[Case]:
    try:
        # BaseLoader builds text, lists and mappings only: 3.10 keeps its last digit.
        tree = yaml.load(path.read_text(encoding="utf-8"), Loader=yaml.BaseLoader)
    except (yaml.YAMLError, OSError, UnicodeDecodeError) as fault:
        return [Case(name, name, "", "", fault=f"{name} cannot be read: {fault}")]
    if not isinstance(tree, dict) or not isinstance(tree.get("source"), dict) or set(tree) != {"source", "cases"}:
        return [Case(name, name, "", "", fault=f"{name}: a case file has source and cases, and nothing else")]
    source = tree["source"]
    unknown = set(source) - _SOURCE_KEYS
    if unknown or not source.get("title") or source.get("provenance") not in PROVENANCES:
        return [
            Case(
                name,
                name,
                "",
                "",
                fault=f"{name}: source needs title and a provenance of {PROVENANCES}; {unknown or ''}",
            )
        ]
    rows = tree["cases"]
    if not isinstance(rows, list) or not rows:
        return [Case(name, name, source["title"], source["provenance"], fault=f"{name}: no cases")]
    return [_case(row, index, name, source) for index, row in enumerate(rows)]


def _case(row: Any, index: int, name: str, source: Mapping[str, Any]) -> Case:
    title = str(source["title"])
    if not isinstance(row, dict):
        return Case(f"{name}-{index}", name, title, source["provenance"], fault="a case is a mapping")
    id = str(row.get("id") or f"{name}-{index}")
    provenance = str(row.get("provenance") or source["provenance"])

    def broken(why: str) -> Case:
        return Case(id, name, title, provenance if provenance in PROVENANCES else "", fault=why)

    unknown = set(row) - _CASE_KEYS
    if unknown:
        return broken(f"unknown keys {sorted(unknown)}")
    if not row.get("id"):
        return broken("a case needs an id")
    if provenance not in PROVENANCES:
        return broken(f"no provenance is called {provenance!r}")
    if not row.get("call") or not isinstance(row.get("given"), dict):
        return broken("a case needs call and given")
    expect, problem = row.get("expect"), row.get("problem")
    if bool(expect) == bool(problem):
        return broken("a case has either expect or problem, and it is not empty")
    if expect is not None and not isinstance(expect, dict):
        return broken("expect is a mapping of names")
    problems = tuple(problem) if isinstance(problem, list) else (str(problem),) if problem else ()
    return Case(id, name, title, provenance, str(row["call"]), row["given"], expect, problems)
