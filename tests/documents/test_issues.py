"""Gaps left at each issue: from the acts of the releases to bars whose length is their number."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest

from tests.documents.picture import picture
from tests.release.yard import frozen, without_document, yard
from witnessmark.assessment.assess import assess
from witnessmark.document.content import sources
from witnessmark.document.drawings import IssueBar, Issues
from witnessmark.document.figures import draw, for_screen
from witnessmark.reading.workshop import read_workshop

CHART = Issues(
    (
        IssueBar("A, 2 Mar. 2026", 12, "12 gaps"),
        IssueBar("B, 9 Apr. 2026", 3, "3 gaps"),
        IssueBar("C, 1 May 2026", 0, "no gaps"),
        IssueBar("D, draft", 6, "6 gaps", True),
    )
)


@pytest.mark.parametrize("narrow", [False, True])
def test_a_bar_is_as_long_as_its_number(narrow: bool) -> None:
    drawn = picture(CHART, narrow=narrow)
    filled = [path.box for path in drawn.paths if path.fill == "ink"]
    assert len(filled) == 2  # none for nought, and the issue of this file is hatched
    lengths = [box[2] - box[0] for box in filled]
    assert lengths[0] / lengths[1] == pytest.approx(12 / 3, rel=0.001)
    ((left, _, right, _),) = (path.box for path in drawn.with_width("ink", 1.0))
    assert (right - left) / lengths[0] == pytest.approx(6 / 12, rel=0.001)
    words = [words.words for words in drawn.words]
    assert [w for bar in CHART.bars for w in (bar.label, bar.shown) if w not in words] == []


def test_it_is_drawn_in_the_colours_of_the_page_and_without_paint() -> None:
    """A gap has no paint."""
    assert "var(--ink)" in draw(CHART, for_screen())
    assert "var(--paint)" not in draw(CHART, for_screen())


def test_it_stands_in_the_gap_register_from_the_first_issue_on(tmp_path: Path) -> None:
    root = yard(tmp_path / "shop")
    before = read_workshop(root, as_of=date(2026, 10, 15), use_cache=False)
    assert "issues" not in json.loads(sources(before, assess(before, "van-07")).data["data/gap-register.json"])
    with without_document():
        frozen(root)
    after = read_workshop(root, as_of=date(2026, 10, 15), use_cache=False)
    assessment = assess(after, "van-07")
    made = json.loads(sources(after, assessment).data["data/gap-register.json"])["issues"]
    bars = made["data"]["bars"]
    assert [bar["label"].partition(",")[0] for bar in bars] == ["A", after.vehicles["van-07"].issue]
    assert [bar["gaps"] for bar in bars] == [assessment.gap_count] * 2
    assert bars[-1]["current"] is True
    assert "gap" in made["spoken"]
