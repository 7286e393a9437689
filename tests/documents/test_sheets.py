"""Test sheets: what they ask, their codes, and when a sheet is stale. On the demonstration van, which is invented."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from witnessmark.assessment.assess import assess
from witnessmark.assessment.model import Assessment
from witnessmark.document.sheets.asked import SheetAsked, asked_by, code_of, sheet_code, sheet_of_code
from witnessmark.problems import Problem
from witnessmark.reading.workshop import read_workshop
from witnessmark.records.acts import Event
from witnessmark.records.base import CODE_ALPHABET
from witnessmark.records.world import Workshop

ROOT = Path(__file__).parents[2]
BONDING = ("un-r100-03", "bonding-resistance")


@pytest.fixture(scope="module")
def van() -> tuple[Workshop, Assessment]:
    workshop = read_workshop(ROOT)
    return workshop, assess(workshop, "van-07")


def one(van: tuple[Workshop, Assessment], requirement: str, bus: str = "dead") -> SheetAsked:
    return next(s for s in asked_by(*van) if s.requirement == requirement and s.bus == bus)


def test_dead_tests_come_before_live_ones_and_every_part_has_its_row(van: tuple[Workshop, Assessment]) -> None:
    sheets = asked_by(*van)
    assert [s.bus for s in sheets] == sorted(s.bus for s in sheets)
    assert len({s.code for s in sheets}) == len(sheets)
    bonding = one(van, "bonding-resistance")
    assert bonding.references == ("un-r100-03:bonding-resistance/bonding",)
    assert bonding.method is not None
    assert bonding.method.id == "bonding-four-wire/1"
    assert len(bonding.rows) == 6
    assert [row.title for row in bonding.to_do] == ["Charger on board", "DC/DC converter"]
    isolation = one(van, "isolation-joined-bus", "live")
    assert [(row.part, row.missing, row.retest_of) for row in isolation.to_do] == [
        ("heater-bus", ("isolation",), ("2m8wfd",))
    ]


def test_a_code_is_found_however_it_is_typed_and_nothing_shown_changes_it(van: tuple[Workshop, Assessment]) -> None:
    workshop, assessment = van
    bonding = one(van, "bonding-resistance")
    assert set(bonding.code) <= {*CODE_ALPHABET, "-"}
    for typed in (bonding.code, bonding.code.upper(), bonding.code.replace("-", " "), bonding.code.replace("-", "")):
        assert sheet_of_code(workshop, assessment, typed) == bonding
    assert sheet_code(workshop, assessment, *BONDING, ["bonding"]) == bonding.code
    assert sheet_code(workshop, assessment, *BONDING, ["no-such-leaf"]) is None
    # Without the newest record of the same requirement other rows are to do, and the sheet is the same.
    shown = next(r.act for p in bonding.state.parts for leaf in p.leaves for r in leaf.records if p.part == "inverter")
    less = replace(workshop, acts=tuple(a for a in workshop.acts if a.code != shown.code))
    again = assess(less, "van-07")
    assert sheet_code(less, again, *BONDING, ["bonding"]) == bonding.code


def test_a_part_that_was_replaced_makes_its_sheet_stale_and_no_other(van: tuple[Workshop, Assessment]) -> None:
    workshop, assessment = van
    before = replace(
        workshop,
        acts=tuple(a for a in workshop.acts if not (isinstance(a.body, Event) and a.body.part == "dcdc")),
    )
    earlier = assess(before, "van-07")
    old = sheet_code(before, earlier, *BONDING, ["bonding"])
    assert old is not None
    stale = sheet_of_code(workshop, assessment, old)
    assert isinstance(stale, Problem)
    assert stale.code == "sheet.stale"
    assert "serials" in stale.message
    assert "fact" not in stale.message
    inlet = ("un-r100-03", "isolation-inlet", ["isolation"])
    assert sheet_code(before, earlier, *inlet) == sheet_code(workshop, assessment, *inlet)


@pytest.mark.parametrize(
    ("typed", "code"),
    [("k3p9", "sheet.code"), ("0000-0000-0000", "sheet.code"), ("", "sheet.code"), ("2222-2222-2222", "sheet.unknown")],
)
def test_what_is_no_code_says_so(van: tuple[Workshop, Assessment], typed: str, code: str) -> None:
    found = sheet_of_code(*van, typed)
    assert isinstance(found, Problem)
    assert found.code == code


def test_each_group_follows_its_own_contents_only() -> None:
    first = code_of({"a": 1}, {"serial": "D-07"}, {"voltage": "403.2 V"}).split("-")
    other = code_of({"a": 1}, {"serial": "D-19"}, {"voltage": "403.2 V"}).split("-")
    assert [x == y for x, y in zip(first, other, strict=True)] == [True, False, True]
