"""The words of the sets: every requirement helps whoever does the work, and the files can be read in an editor."""

from __future__ import annotations

import re

import pytest

from tests.sets.loading import SET_FOLDERS, SETS, requirements_of
from witnessmark.records.sets import Requirement

EVERY = [(f"{folder.name}:{r.id}", r) for folder in SET_FOLDERS for r in requirements_of(folder)]
BY_NAME = dict(EVERY)


def _own(requirement: Requirement) -> str:
    """The words that are read as sentences."""
    return f"{requirement.statement} {requirement.hint or ''}"


@pytest.mark.parametrize("name", BY_NAME)
def test_each_has_a_hint_its_cautions_and_a_job_for_every_leaf(name: str) -> None:
    found = BY_NAME[name]
    assert found.hint and len(found.hint) >= 20
    assert any("kill" in caution for caution in found.cautions), "what is dangerous is said, and to whom it defers"
    assert any("qualified persons" in caution for caution in found.cautions)
    for leaf in found.leaves.values():
        assert leaf.job is not None and leaf.job.minutes, "what it takes, for the next jobs and the test sheet"


@pytest.mark.parametrize("name", BY_NAME)
def test_it_is_short_and_in_plain_words(name: str) -> None:
    found = BY_NAME[name]
    assert len(found.statement) <= 280
    assert all(len(leaf.words) <= 220 for leaf in found.leaves.values())
    legal = re.findall(r"\b(shall|herein|thereof|pursuant|aforementioned|hereinafter|notwithstanding)\b", _own(found))
    assert legal == []


def test_what_works_on_a_live_bus_says_so() -> None:
    """A leaf with the bus live stands in a requirement whose cautions speak of it, or of driving on closed ground."""
    silent = [
        name
        for name, found in EVERY
        if any(leaf.job and leaf.job.bus == "live" for leaf in found.leaves.values())
        and not any("live" in caution or "closed ground" in caution for caution in found.cautions)
    ]
    assert silent == []


def test_no_line_of_a_set_file_is_too_long_to_read() -> None:
    long = [
        f"{path.relative_to(SETS)}:{number}"
        for path in sorted(SETS.glob("*/*.yaml"))
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1)
        if len(line) > 175
    ]
    assert long == []
