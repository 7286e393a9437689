"""The small vehicles: what each is asked, against lines that were typed from the rules."""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from typing import Any

import pytest
import yaml

from tests.demonstration.reseal import reseal
from tests.sets.loading import ROOT
from tests.vehicles.reading import small
from witnessmark.assessment.assess import assess
from witnessmark.assessment.model import Applies, Assessment, State
from witnessmark.reading.workshop import read_workshop

LETTERS = "abcdefghjkmnpqrstuvwxyz"


def _facts(entry: Mapping[str, Any], number: int) -> str:
    """Its facts file, as a person would have written it."""
    facts = {"vin": f"SAMPLE0SMALL{number:05d}", **entry["facts"]}
    said = {key: {"value": list(v) if isinstance(v, tuple) else v, "source": "invented"} for key, v in facts.items()}
    parts = {
        kind: {
            "source": "invented",
            "list": {p: {"title": p.replace("-", " ").capitalize(), "facts": dict(f or {})} for p, f in of.items()},
        }
        for kind, of in entry["parts"].items()
    }
    tree = {"format": "1", "facts": said, "stated": "2026-09-07T09:00+02:00", "by": "jm"} | (
        {"parts": parts} if parts else {}
    )
    return yaml.safe_dump(tree, allow_unicode=True, sort_keys=False)


@pytest.fixture(scope="module")
def assessed(tmp_path_factory: pytest.TempPathFactory) -> Mapping[str, Assessment]:
    """One small workshop with the shipped sets and all of them, of which nothing but the facts is known."""
    root = tmp_path_factory.mktemp("small")
    shutil.copytree(ROOT / "evidence" / "people", root / "evidence" / "people")
    shutil.copy(ROOT / "evidence" / "workshop.yaml", root / "evidence")
    shutil.copytree(ROOT / "requirements", root / "requirements")
    rows = []
    for number, entry in enumerate(small()):
        name = entry["name"]
        folder = root / "evidence" / "vehicles" / name
        (folder / "facts").mkdir(parents=True)
        title = f"format: 1\ntitle: {name}\nfile_number: SEC-{number}\nissue: A\n"
        (folder / "vehicle.yaml").write_text(title, encoding="utf-8")
        (folder / "facts" / "all.yaml").write_text(_facts(entry, number), encoding="utf-8")
        path = f"evidence/vehicles/{name}/facts/all.yaml"
        rows.append({"path": path, "code": "sma" + LETTERS[number] * 3, "on": "2026-09-07T10:00+02:00", "by": "jm"})
    reseal(root, rows)
    workshop = read_workshop(root, use_cache=False)
    return {entry["name"]: assess(workshop, entry["name"]) for entry in small()}


@pytest.mark.parametrize("entry", small(), ids=lambda e: e["name"])
def test_what_was_typed_is_what_is_asked(entry: Mapping[str, Any], assessed: Mapping[str, Assessment]) -> None:
    states = {f"{r.set_id}:{r.id}": r for r in assessed[entry["name"]].requirements}
    wrong = []
    for line in entry["expected"]:
        for reference in line["of"]:
            state = states[reference]
            assert state.axes.applies is not Applies.NOT_STATED, reference
            if state.axes.applies is Applies.NO or state.state is State.NOT_APPLICABLE:
                found: object = "no"
            else:
                found = "yes" if state.requirement.each is None else tuple(sorted(str(p.part) for p in state.parts))
            if found != line["asked"]:
                wrong.append((reference, line["asked"], found))
    assert wrong == []


@pytest.mark.parametrize("entry", small(), ids=lambda e: e["name"])
def test_what_is_stated_does_not_contradict_itself(
    entry: Mapping[str, Any], assessed: Mapping[str, Assessment]
) -> None:
    assert [p.message for p in assessed[entry["name"]].problems if p.code.startswith("fact.")] == []


@pytest.mark.parametrize("entry", small(), ids=lambda e: e["name"])
def test_every_line_has_its_reason_and_stands_once(entry: Mapping[str, Any]) -> None:
    references = [ref for line in entry["expected"] for ref in line["of"]]
    assert references and len(set(references)) == len(references)
    assert all(len(line["why"]) > 5 for line in entry["expected"])
