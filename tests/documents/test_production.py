"""Conformity of production: nothing is claimed that nobody stated, and only what counts stands beside this vehicle."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from witnessmark.assessment.assess import assess
from witnessmark.assessment.model import State
from witnessmark.document.blockdata import as_json, load, plain
from witnessmark.document.blocks import Cell, Note, Table
from witnessmark.document.views import fleet, production
from witnessmark.document.views.book import Book, Chapter
from witnessmark.reading.workshop import read_workshop
from witnessmark.records.acts import Record, Statement
from witnessmark.records.base import Frozen
from witnessmark.records.world import Act, Workshop

ROOT = Path(__file__).parents[2]
CHAPTER = Chapter("conformity-of-production", "Conformity of production", number="25")


@cache
def world() -> Workshop:
    return read_workshop(ROOT)


def book(of: Workshop | None = None) -> Book:
    used = of or world()
    made = Book.of(used, assess(used, "van-07"))
    return made.numbered((CHAPTER,))


def blocks(of: Book) -> dict[str, Any]:
    found = dict(production.page(of, CHAPTER).blocks)
    for block in found.values():
        load(as_json(block))
    return found


def words(cell: Any) -> str:
    return plain(cell.text if isinstance(cell, Cell) else cell)


def sisters(number: int = 1, *, change: Any = lambda act: act) -> Workshop:
    """The workshop with more vans that are built and measured as van-07 was, each a day before the other."""
    one = world()
    vehicles, acts = dict(one.vehicles), list(one.acts)
    for n in range(1, number + 1):
        name = f"van-{70 + n}"
        vehicles[name] = one.vehicles["van-07"].model_copy(update={"file_number": f"SEC-{70 + n}"})
        acts += [change(_moved(act, name, n)) for act in one.acts if _vehicle(act) == "van-07"]
    return replace(one, vehicles=vehicles, acts=tuple(acts))


def _vehicle(act: Act) -> str | None:
    seal = act.body.seal
    return seal.vehicle.id if seal and seal.vehicle else None


def _moved(act: Act, vehicle: str, days: int) -> Act:
    def code(text: str) -> str:
        return f"{text[:4]}{days}{text[5:]}x"

    body: Any = act.body
    seal = body.seal.model_copy(update={"vehicle": body.seal.vehicle.model_copy(update={"id": vehicle})})
    changes: dict[str, Any] = {"seal": seal, "code": code(act.code)}
    for name in ("withdraws", "corrects"):
        if getattr(body, name, None):
            changes[name] = code(getattr(body, name))
    if getattr(body, "retest_of", ()):
        changes["retest_of"] = tuple(code(c) for c in body.retest_of)
    return replace(act, code=code(act.code), body=body.model_copy(update=changes), path=f"{act.path}.{days}")


def test_what_nobody_stated_says_so() -> None:
    found = blocks(book())
    assert {words(row[1]) for row in found["stated"].rows} == {"Not stated."}
    assert "No chosen set says" in words(found["checked"].text)
    titles = [words(row[0]) for row in found["arranged"].rows]
    assert "Persons who work on high voltage are qualified" in titles
    assert isinstance(found["beside"], Note), "the library van is alike, and nothing is measured there"
    assert "SEC-12, nothing measured" in words(found["beside"].text)


@pytest.mark.parametrize(("last", "past"), [("2026-11-23", True), ("2026-11-24", False), ("end of 2027", False)])
def test_a_clearance_that_has_run_out_is_marked(last: str, past: bool) -> None:
    """The file is as of 24 November 2026: a clearance counts through its last day."""
    facts = Frozen(
        {
            "production_clearance": {"value": "OV-C-12", "source": "letter"},
            "production_clearance_until": {"value": last, "source": "letter"},
        }
    )
    tree = {"format": "1", "facts": facts, "stated": "2026-09-07T08:30+02:00", "by": "ao", "code": "cyea22"}
    origin = next(a for a in world().acts if isinstance(a.body, Statement) and _vehicle(a) == "van-07")
    body = Statement.model_validate(tree).model_copy(update={"seal": origin.body.seal})
    used = replace(world(), acts=(*world().acts, replace(origin, code="cyea22", body=body)))
    table = blocks(book(used))["stated"]
    assert words(table.rows[0][1]) == "OV-C-12"
    assert ("has run out" in words(table.rows[1][1])) is past
    assert table.gaps == ((1,) if past else ())


def test_a_sister_stands_beside_with_what_counts_there() -> None:
    found = blocks(book(sisters()))["beside"]
    assert isinstance(found, Table)
    heads = [plain(column.head) for column in found.columns]
    assert heads[2] == "This vehicle" and heads[3].startswith("SEC-71, measured")
    assert heads[4] == "SEC-12, nothing measured"
    assert len(found.rows) > 8
    for row in found.rows:
        assert words(row[2]) == words(row[3]), "built and measured alike"
        assert words(row[4]) == "none"
    heater = next(words(row[3]) for row in found.rows if "Heater bus" in words(row[0]))
    assert "fail" in heater, "a fail is told beside its value"


def test_what_lapsed_or_is_not_sound_there_is_left_out() -> None:
    def broken(act: Act) -> Act:
        mine = isinstance(act.body, Record) and act.body.part == "motor"
        return replace(act, seal_holds=False) if mine else act

    whole, some = (blocks(book(w))["beside"] for w in (sisters(), sisters(change=broken)))
    rows = {words(row[0]): words(row[3]) for row in some.rows}
    before = {words(row[0]) for row in whole.rows}
    gone = before - {name for name, value in rows.items() if value != "none"}
    assert gone and all("Motor" in name for name in gone)


def test_no_more_than_four_and_the_rest_is_counted() -> None:
    like = fleet.alike(book(sisters(6)))
    assert len(like.vehicles) == fleet.MOST == 4 and like.more == 3
    assert all(v.file_number.startswith("SEC-7") for v in like.vehicles), "those with measurements come first"
    assert "3 more are not" in production._how(like)


def test_another_revision_is_another_design() -> None:
    def revised(act: Act) -> Act:
        if not isinstance(act.body, Statement) or not act.body.parts:
            return act
        kinds = dict(act.body.parts)
        listed = kinds["traction-pack"]
        pack = listed.list["traction-pack"].model_copy(update={"design": "pack-p2/A"})
        kinds["traction-pack"] = listed.model_copy(update={"list": Frozen({"traction-pack": pack})})
        return replace(act, body=act.body.model_copy(update={"parts": Frozen(kinds)}))

    assert [v.file_number for v in fleet.alike(book(sisters(change=revised))).vehicles] == ["SEC-12"]


def test_states_of_the_workshop_are_those_of_the_assessment() -> None:
    one = assess(world(), "van-07")
    about = [r for r in one.requirements if r.requirement.about == "workshop"]
    worse = tuple(replace(r, state=State.LAPSED) if r in about else r for r in one.requirements)
    made = Book.of(world(), replace(one, requirements=worse)).numbered((CHAPTER,))
    table = production.page(made, CHAPTER).blocks["arranged"]
    assert isinstance(table, Table) and table.gaps == tuple(range(len(about)))
