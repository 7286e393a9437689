"""docs/sets.md, typed command for command: a set from nothing, its mistakes found, sealed, chosen, shown."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

from .conftest import Ran, run
from .pages import Followed, boxes, follow

PAGE = "sets.md"


@pytest.fixture(scope="module")
def followed(tmp_path_factory: pytest.TempPathFactory, home: Path) -> Followed:
    return follow(PAGE, tmp_path_factory.mktemp("sets"), home)


def test_every_command_does_what_the_page_says(followed: Followed) -> None:
    for (line, ran, _), ends in zip(followed.said, followed.ends, strict=True):
        assert ran.status == (0 if ends is None else ends), f"{line}\n{ran.out}{ran.err}"


def _said(followed: Followed, words: str) -> list[Ran]:
    return [ran for line, ran, _ in followed.said if words in line]


def test_the_page_has_everything_it_promises() -> None:
    kinds = [box.kind for box in boxes(PAGE)]
    assert kinds.count("sh") >= 7 and kinds.count("typed") == 4
    assert kinds.count("yaml") == 3 and kinds.count("change") == 1 and kinds.count("text") == 3


def test_mended_the_set_has_no_finding_but_its_missing_edition(followed: Followed) -> None:
    wrong, mended = _said(followed, "witnessmark check")
    assert (wrong.status, mended.status) == (2, 0)
    assert mended.out.strip() == "No problems, 1 note."
    assert "has no sealed edition" in mended.err


def test_only_what_the_chosen_set_needs_is_asked_with_its_reason(followed: Followed) -> None:
    (stated,) = _said(followed, "van-08 facts")
    assert stated.err.count("?\n") == 3, "number, sets, and the one fact"
    assert "Water stands on its lid. On it hangs “Inspection hatch is sealed and joined”." in stated.err


def test_it_conforms_and_nothing_is_left_over(followed: Followed, home: Path) -> None:
    (audit,) = _said(followed, "audit")
    assert audit.status == 0 and "  conforms  House rule 1  Inspection hatch is sealed and joined" in audit.out
    left = subprocess.run(["git", "status", "--short"], cwd=followed.folder, capture_output=True, text=True, check=True)
    assert left.stdout == "", "the edition commits the set's files and the facts"
    checked = run("check", cwd=followed.folder, home=home)
    assert (checked.status, checked.out.strip()) == (0, "No problems.")
