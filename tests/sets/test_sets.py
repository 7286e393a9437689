"""The shipped requirement sets: they validate, carry every row that they were written from, and ask nothing in vain."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.sets import table
from tests.sets.loading import (
    HARDEST,
    SET_FOLDERS,
    SETS,
    areas_of,
    combinations,
    requirements_of,
    set_of,
    tree_of,
)
from witnessmark.assessment.needs import all_methods
from witnessmark.problems import Problem, in_order
from witnessmark.reading.set_linter import lint
from witnessmark.reading.sets import FACTS, read_facts, read_sets
from witnessmark.records.acts import act_model
from witnessmark.records.conditions import facts_of
from witnessmark.records.sets import Requirement

HERE = Path(__file__).parent
ALL_FOLDERS = [*SET_FOLDERS, HARDEST]


def _every() -> list[tuple[str, Requirement]]:
    return [(folder.name, r) for folder in ALL_FOLDERS for r in requirements_of(folder)]


EVERY = _every()
IDS = [f"{name}:{r.id}" for name, r in EVERY]
BY_NAME = dict(zip(IDS, (r for _, r in EVERY), strict=True))


def test_there_is_something_to_test() -> None:
    assert {f.name for f in SET_FOLDERS} == {
        "un-r100-03",
        "un-r100-03-reess",
        "un-r100-02",
        "un-r100-02-reess",
        "conversion-practice",
        "practice-high-voltage",
        "practice-vehicle",
        "post-crash",
        "workshop-duties",
        "national-routes",
    }
    assert len(requirements_of(SETS / "un-r100-03")) >= 30


@pytest.mark.parametrize("folder", ALL_FOLDERS, ids=lambda f: f.name)
def test_a_set_validates_and_its_ids_are_unique(folder: Path) -> None:
    assert set_of(folder).note
    areas = areas_of(folder)
    assert len({a.order for a in areas}) == len(areas) and len({a.area for a in areas}) == len(areas)
    ids = [r.id for r in requirements_of(folder)]
    assert len(set(ids)) == len(ids)


def test_every_row_of_the_working_tables_is_carried_or_has_its_reason() -> None:
    """Counted by row: table.yaml was generated from the tables, rows.yaml answers for each of its entries once."""
    table = [f"{row['clause']} | {row['title']}" for row in tree_of(HERE / "table.yaml")]
    rows = tree_of(HERE / "rows.yaml")
    assert len(set(table)) == len(table)
    assert [row["row"] for row in rows] == table, "a row that nobody answered for, or one that no table has"
    answered: dict[str, set[str]] = {}
    for row in rows:
        name = row.get("set", "un-r100-03")
        have = {r.id: r for r in requirements_of(SETS / name)}
        assert sum(key in row for key in ("carried", "within", "reason")) == 1, row["row"]
        assert ("how" in row) == ("within" in row), row["row"]
        ids = row.get("carried", ()) + row.get("within", ())
        assert ids or len(row["reason"]) > 40, row["row"]
        clause = row["row"].split(" ")[0]
        for ident in row.get("carried", ()):
            assert clause.startswith(have[ident].clause) or have[ident].clause.startswith(clause), (row["row"], ident)
        assert set(row.get("leaves", ())) <= {leaf for ident in ids for leaf in have[ident].leaves}, row["row"]
        answered.setdefault(name, set()).update(ids)
    for name, ids in answered.items():
        assert ids == {r.id for r in requirements_of(SETS / name)}, "a requirement that comes from no row"


@pytest.mark.parametrize(
    ("name", "whole"), [("practice", ("practice-high-voltage", "practice-vehicle")), ("routes", ("national-routes",))]
)
def test_every_row_of_practice_and_routes_is_carried_or_has_its_reason(name: str, whole: tuple[str, ...]) -> None:
    table = [row["title"] for row in tree_of(HERE / f"table-{name}.yaml")]
    rows = tree_of(HERE / f"rows-{name}.yaml")
    assert [row["row"] for row in rows] == table, "a row that nobody answered for, or one that no table has"
    answered: set[str] = set()
    for row in rows:
        assert ("carried" in row) != ("reason" in row), row["row"]
        found = {ref: BY_NAME[ref] for ref in row.get("carried", ())}
        assert set(row.get("leaves", ())) <= {leaf for r in found.values() for leaf in r.leaves}, row["row"]
        answered |= set(found)
    beside = set(tree_of(HERE / "beside.yaml"))
    have = {ref for ref in BY_NAME if ref.partition(":")[0] in whole}
    assert have - answered <= beside, "a requirement that comes from no row"


def _linted(folder: Path, name: str) -> list[Problem]:
    """What the linter finds in the sets beneath the folder, or in the one that the folder is (with its own facts)."""
    lead = f"requirements/{name}/" if name else "requirements/"
    data = {f"{lead}{p.relative_to(folder).as_posix()}": p.read_bytes() for p in sorted(folder.rglob("*.yaml"))}
    data[FACTS] = (folder / "facts.yaml").read_bytes()
    data.pop(f"{lead}facts.yaml" if name else "", None)
    sets, problems = read_sets(data)
    facts, faults = read_facts(data[FACTS])
    assert sets and not problems and not faults
    return list(in_order(lint(sets, facts, data, all_methods(), used=("category", "external_charge") if name else ())))


def test_the_linter_has_nothing_to_say_about_the_shipped_sets() -> None:
    """Not even a note: each condition can be answered and turns something, each leaf can be shown and is needed, each
    limit fits its measurand, each fact is asked by somebody; every requirement warns, and says how to go about it."""
    assert _linted(SETS, "") == []


def test_the_linter_has_nothing_to_say_about_the_hardest_rows() -> None:
    """But what they leave out on purpose: methods for rare tests, and words for the test sheet."""
    codes = {p.code for p in _linted(HARDEST, "hardest")}
    assert codes <= {"set.unknown-measurand", "set.no-hint", "set.no-note"}


def test_nobody_is_said_to_have_compared_or_adopted_a_shipped_set() -> None:
    assert not [p for folder in SET_FOLDERS for p in folder.glob("reviews/*")]


def test_the_ten_likely_errors_are_avoided() -> None:
    """Figures and choices that are most often written wrong, as the working tables list them."""
    new = {r.id: r for r in requirements_of(SETS / "un-r100-03")}
    old = {r.id: r for r in requirements_of(SETS / "un-r100-02")}
    assert new["warning-sign-pack"].clause == "5.1.1.4.1" and old["warning-sign-pack"].clause == "5.1.1.5.1"
    assert new["isolation-inlet"].leaves["isolation"].measure == "isolation-per-volt"
    text = " ".join(p.read_text(encoding="utf-8") for p in (SETS / "un-r100-03").glob("[!s]*.yaml"))
    assert "0.2 Ω" not in text and "3600" not in text and " J" not in text
    joined = new["isolation-joined-bus"]
    reduced = [w for w in combinations(joined.shown) if any(n.criterion == "reduced" for n in w)]
    assert reduced and all(any(n.leaf == "ac-protected" for n in w) for w in reduced)
    hardest = {r.id: r for r in requirements_of(HARDEST)}
    assert str(hardest["propagation-warning"].leaves["lead"].criteria["five-minutes"].limit) == "5 min"
    assert "category" in facts_of(hardest["crush-press"].applies)
    assert {"category", "external_charge"} <= set(facts_of(hardest["overcurrent"].applies))
    assert "leakage" not in " ".join(hardest["fire-resistance"].leaves)


def _asked(requirement: Requirement) -> object:
    """What a requirement asks, apart from its words: clause, parts, facts, leaves, criteria, way of showing."""
    leaves = {
        n: (x.kind, x.measure, x.criteria, x.methods, x.conditions, tuple(x.exemptions), x.after)
        for n, x in requirement.leaves.items()
    }
    return (requirement.clause, requirement.about, requirement.each, requirement.applies, leaves, requirement.shown)


@pytest.mark.parametrize(("pair", "new_name"), [("un-r100", "un-r100-03"), ("un-r100-reess", "un-r100-03-reess")])
def test_02_and_03_stand_side_by_side_under_the_same_ids(pair: str, new_name: str) -> None:
    known = tree_of(HERE / "series.yaml")[pair]
    new = {r.id: r for r in requirements_of(SETS / new_name)}
    old = {r.id: r for r in requirements_of(SETS / new_name.replace("03", "02"))}
    assert set(old) <= set(new)
    assert set(new) - set(old) == set(known["only_03"])
    assert {i for i in old if _asked(old[i]) != _asked(new[i])} == set(known["differs"])


def test_the_figures_of_the_02_series_are_its_own() -> None:
    old = {r.id: r for r in requirements_of(SETS / "un-r100-02")}
    inlet = old["isolation-inlet"].leaves["isolation"]
    assert inlet.measure == "isolation-resistance" and str(inlet.criteria["megohm"].limit) == "1 MΩ"
    pack = {r.id: r for r in requirements_of(SETS / "un-r100-02-reess")}
    new = {r.id: r for r in requirements_of(SETS / "un-r100-03-reess")}
    for ident in ("vibration", "thermal-cycling", "fire-resistance", "short-circuit"):
        assert "50 %" in pack[ident].leaves["charged"].words and "95 %" in new[ident].leaves["charged"].words
    assert "1 h" in pack["short-circuit"].leaves["settled"].words
    assert "2 h" in new["short-circuit"].leaves["settled"].words
    assert "twice the rated capacity" in pack["overcharge"].leaves["limit"].words
    assert "30 min" in pack["shock-result"].leaves["no-fire"].words
    assert "60 min" in new["shock-result"].leaves["no-fire"].words


def test_a_series_says_when_it_is_in_force_and_until_when_it_was_accepted() -> None:
    """In force from 9 June 2021; from 1 September 2025 no duty to accept older series (transitional clauses of 03)."""
    for name in ("un-r100-03", "un-r100-03-reess"):
        found = set_of(SETS / name)
        assert (str(found.in_force), found.accepted_until) == ("2021-06-09", None)
    for name in ("un-r100-02", "un-r100-02-reess"):
        assert str(set_of(SETS / name).accepted_until) == "2025-08-31"


def test_the_hardest_rows_are_all_there() -> None:
    assert {r.clause for r in requirements_of(HARDEST)} >= {
        "5.1.3.3", "5.1.4", "5.4.3", "5.4.4", "6.2", "6.3", "6.4.1.3", "6.4.2.2", "6.5", "6.10", "6.15.1",
    }  # fmt: skip


def test_a_set_file_is_no_act() -> None:
    for folder in ALL_FOLDERS:
        for path in folder.glob("*.yaml"):
            if path.name not in ("facts.yaml",):
                assert act_model(tree_of(path)) is None, path


def test_the_list_in_the_manual_is_up_to_date() -> None:
    assert table.PAGE.read_text(encoding="utf-8") == table.page(), "run: python -m tests.sets.table"


def test_the_list_in_the_manual_has_every_requirement_once() -> None:
    rows = [line for line in table.PAGE.read_text(encoding="utf-8").splitlines() if line.startswith("| ")]
    found = [line.split("`")[1] for line in rows if "`" in line]
    assert sorted(found) == sorted(r.id for folder in SET_FOLDERS for r in requirements_of(folder))
    assert all(line.count(" | ") == 3 for line in rows)
