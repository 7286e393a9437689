"""The decision rule that a set gives itself is sealed with it: one that is put in afterwards helps nothing."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from witnessmark.assessment.assess import assess
from witnessmark.problems import Misuse
from witnessmark.reading.check import check
from witnessmark.reading.workshop import Reading, read_everything, read_workshop
from witnessmark.recording.editions import edition_draft

from .conftest import Run
from .shop import git
from .test_record import MEASURED

HEAD = "requirements/mini/set.yaml"
RULE = "decision_rule: {rule: simple, cap: 100 %}\n"


def _leaf(root: Path) -> str:
    part = assess(read_workshop(root, use_cache=False), "van-07").requirements[0].parts[0]
    return next(leaf.state.value for leaf in part.leaves if leaf.name == "value")


def test_a_rule_put_into_the_set_shows_and_helps_nothing_until_it_is_sealed(root: Path, run: Run) -> None:
    assert run("record", answers=MEASURED).status == 0
    assert _leaf(root) == "conforms"
    (root / HEAD).write_text((root / HEAD).read_text() + RULE)
    git(root, "commit", "-qam", "another rule")
    (problem,) = [p for p in check(root, use_cache=False) if p.severity == "problem"]
    assert (problem.code, str(problem.place)) == ("set.rule", f"{HEAD}:1:1")
    assert _leaf(root) == "lapsed"
    reading = read_everything(root, use_cache=False)
    assert isinstance(reading, Reading)
    path, draft = edition_draft(reading, "mini", edition="two", issued=date(2026, 10, 14), by="jm")
    assert b"rule: simple" in draft and b"cap: 100 %" in draft
    with pytest.raises(Misuse):
        edition_draft(reading, "mini", edition="one", issued=date(2026, 10, 14), by="jm")
    (root / path).write_bytes(draft)
    sealed = run("record", "--seal", path, "--by", "jm")
    assert sealed.status == 0, sealed.err
    assert [p for p in check(root, use_cache=False) if p.severity == "problem"] == []
    again = run("record", answers=MEASURED.replace("16:20", "16:30"))
    assert again.status == 0, again.err
    assert _leaf(root) == "conforms"
