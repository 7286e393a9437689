"""Applicability of every requirement for six invented vehicles, against lines that were typed from the rules."""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path

import pytest

from tests.demonstration.reseal import reseal
from tests.sets.loading import ROOT, SET_FOLDERS, requirements_of, tree_of
from witnessmark.assessment.assess import assess
from witnessmark.assessment.model import Applies, Assessment, RequirementState, State
from witnessmark.reading.workshop import read_workshop
from witnessmark.records.conditions import OneOf

HERE = Path(__file__).parent
VEHICLES = sorted(p.name.removesuffix(".facts.yaml") for p in HERE.glob("*.facts.yaml"))
CODES = ("vehaaa", "vehbbb", "vehccc", "vehddd", "veheee", "vehfff")


@pytest.fixture(scope="module")
def assessed(tmp_path_factory: pytest.TempPathFactory) -> Mapping[str, Assessment]:
    """One small workshop with the shipped sets and the six vehicles, of which nothing but the facts is known."""
    root = tmp_path_factory.mktemp("vehicles")
    shutil.copytree(ROOT / "evidence" / "people", root / "evidence" / "people")
    shutil.copy(ROOT / "evidence" / "workshop.yaml", root / "evidence")
    shutil.copytree(ROOT / "requirements", root / "requirements")
    rows = []
    for name, code in zip(VEHICLES, CODES, strict=True):
        folder = root / "evidence" / "vehicles" / name
        (folder / "facts").mkdir(parents=True)
        title = f"format: 1\ntitle: {name}\nfile_number: SEC-{name}\nissue: A\n"
        (folder / "vehicle.yaml").write_text(title, encoding="utf-8")
        shutil.copy(HERE / f"{name}.facts.yaml", folder / "facts" / "all.yaml")
        path = f"evidence/vehicles/{name}/facts/all.yaml"
        rows.append({"path": path, "code": code, "on": "2026-09-07T10:00+02:00", "by": "jm"})
    reseal(root, rows)
    workshop = read_workshop(root, use_cache=False)
    return {name: assess(workshop, name) for name in VEHICLES}


@lru_cache(maxsize=8)
def expected(name: str) -> Mapping[str, Mapping[str, Mapping[str, object]]]:
    tree: Mapping[str, Mapping[str, Mapping[str, object]]] = tree_of(HERE / f"{name}.expected.yaml")
    return tree


def asked(state: RequirementState) -> object:
    """`no`, `yes`, or the parts, as the lines say it. A fact that is missing has no place here."""
    assert state.axes.applies is not Applies.NOT_STATED, state.id
    if state.axes.applies is Applies.NO or state.state is State.NOT_APPLICABLE:
        assert state.why, state.id
        return "no"
    return "yes" if state.requirement.each is None else tuple(p.part for p in state.parts)


@pytest.mark.parametrize("name", VEHICLES)
def test_each_requirement_is_asked_where_the_rules_say_so(name: str, assessed: Mapping[str, Assessment]) -> None:
    lines = {f"{s}:{i}": line["asked"] for s, of_set in expected(name).items() for i, line in of_set.items()}
    found = {f"{r.set_id}:{r.id}": asked(r) for r in assessed[name].requirements}
    assert found == lines
    assert not any(g.code.startswith(("fact.", "parts.")) for r in assessed[name].requirements for g in r.gaps)


@pytest.mark.parametrize("name", VEHICLES)
def test_what_is_stated_of_it_does_not_contradict_itself(name: str, assessed: Mapping[str, Assessment]) -> None:
    assert [p.message for p in assessed[name].problems if p.code.startswith("fact.")] == []


@pytest.mark.parametrize("name", VEHICLES)
def test_every_line_has_its_reason(name: str) -> None:
    for of_set in expected(name).values():
        assert all(len(str(line["why"])) > 5 for line in of_set.values())


def test_every_shipped_set_is_chosen_by_one_of_them() -> None:
    assert {s for name in VEHICLES for s in expected(name)} == {folder.name for folder in SET_FOLDERS}


def test_each_route_is_a_choice_of_its_fact_and_none_is_left_over() -> None:
    facts = tree_of(ROOT / "requirements" / "facts.yaml")["facts"]
    routes: set[str] = set()
    for requirement in requirements_of(ROOT / "requirements" / "national-routes"):
        assert isinstance(requirement.applies, OneOf) and requirement.applies.fact == "approval_route"
        routes |= set(requirement.applies.values)
    assert routes | {"type-approval", "other"} == set(facts["approval_route"]["choices"])
