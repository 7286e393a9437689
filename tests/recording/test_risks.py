"""A risk analysis: typed row by row, held against what shows its controls, reopened when that lapses."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from witnessmark.assessment.assess import assess
from witnessmark.assessment.model import RiskState
from witnessmark.document.content import sources
from witnessmark.reading.check import check
from witnessmark.reading.workshop import read_workshop

from .conftest import Run
from .test_record import MEASURED

ROWS = """\
what: risks van-07
by: jm
analyses: the circuit
way: judgement
row.1.item: traction bus
row.1.failure: insulation is lost
row.1.cause: water
row.1.effect: somebody can touch high voltage
row.1.severity: "9"
row.1.occurrence: "3"
row.1.detection: "2"
row.1.control.1.does: the bus is insulated
row.1.control.1.sort: prevents
row.1.control.1.shown_by: [isolation]
"""


def _risks(root: Path) -> RiskState:
    found = assess(read_workshop(root, use_cache=False), "van-07").risks
    assert found is not None
    return found


def _alone(root: Path) -> None:
    """The set asks nothing but the measurement, so that one record shows it."""
    area = root / "requirements/mini/bus.yaml"
    text = area.read_text().replace("      picture: {photograph: the set-up}\n", "")
    area.write_text(text.replace("    shown: {all: [value, picture]}\n", "    shown: value\n"))


def test_a_row_is_open_until_what_shows_its_control_conforms_and_open_again_when_it_lapses(
    root: Path, run: Run
) -> None:
    _alone(root)
    assert run("record", "edition", "mini", answers="by: ao\nedition: two\nwhy.isolation: no picture\n").status == 0
    assert assess(read_workshop(root, use_cache=False), "van-07").risks is None
    done = run("record", answers=ROWS)
    assert done.status == 0, done.err
    assert [row.name for row in _risks(root).open_rows] == ["traction-bus-insulation-is-lost"]
    assert run("record", answers=MEASURED).status == 0
    assert not _risks(root).open_rows
    said = json.loads(run("audit", "van-07", "--format", "json").out)
    assert said["risks"]["rows"][0]["shown_by"] == {"isolation": "conforms"}
    opened = run("change", "van-07", "traction-bus", answers="by: jm\nevent: opened\nwhy: a look inside\n")
    assert opened.status == 0, opened.err
    assert _risks(root).open_rows
    workshop = read_workshop(root, use_cache=False)
    made = sources(workshop, assess(workshop, "van-07"))
    assert "One row is open, because what shows a control does not conform today." in "".join(made.data.values())


def test_rows_of_the_analysis_before_can_be_taken_over(root: Path, run: Run) -> None:
    assert run("record", answers=ROWS).status == 0
    first = _risks(root)
    more = ROWS.replace("traction bus", "charge inlet") + "kept: all\n"
    done = run("record", answers=more)
    assert done.status == 0, done.err
    now = _risks(root)
    assert now.code != first.code
    assert [row.risk.item for row in now.rows] == ["traction bus", "charge inlet"]
    assert now.rows[0].risk == first.rows[0].risk


def test_an_edited_analysis_holds_nothing(root: Path, run: Run) -> None:
    assert run("record", answers=ROWS).status == 0
    (path,) = root.glob("evidence/vehicles/van-07/risks/*.yaml")
    path.write_text(path.read_text().replace("water", "nothing"))
    found = _risks(root)
    assert found.unsound and found.open_rows == found.rows


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("row.1.control.1.shown_by: [isolation]", "row.1.control.1.shown_by: [isolatin]", "did you mean isolation"),
        ('row.1.severity: "9"', 'row.1.severity: "11"', "'11' is not among the answers"),
        ("row.1.control.1.does: the bus is insulated\nrow.1.control.1.sort: prevents\n"
         "row.1.control.1.shown_by: [isolation]\n", "", "row.1.control.1.does"),
    ],
    ids=["an unknown requirement", "a rank beyond ten", "severe and without a control"],
)  # fmt: skip
def test_what_cannot_be_a_row_is_refused(root: Path, run: Run, old: str, new: str, words: str) -> None:
    assert old in ROWS
    said = run("record", answers=ROWS.replace(old, new))
    assert said.status == 2 and words in said.err


def test_a_hand_written_analysis_names_its_faults_with_their_place(root: Path) -> None:
    path = root / "evidence/vehicles/van-07/risks/one.yaml"
    path.parent.mkdir()
    row = "item: a\n    failure: b\n    cause: c\n    effect: d\n    severity: 8\n    occurrence: 1\n    detection: 1\n"
    path.write_text(
        "format: 1\nanalyses: all\nway: judgement\nrisks:\n  one:\n    " + row
        + "    controls:\n      it: {does: e, sort: limits, shown_by: [isolation/valu, isolatio]}\n"
        + "stated: 2026-10-14T16:00+02:00\nby: jm\n"
    )  # fmt: skip
    found = [(p.code, p.place.line if p.place else 0) for p in check(root, use_cache=False) if p.severity == "problem"]
    assert found == [("leaf.unknown", 14), ("requirement.unknown", 14)]
    path.write_text(path.read_text().replace("severity: 8", "severity: 11"))
    (problem,) = [p for p in check(root, use_cache=False) if p.severity == "problem"]
    assert problem.remedy == "a rank goes from 1 to 10" and problem.place is not None and problem.place.line == 10
