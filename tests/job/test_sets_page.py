"""docs/sets.md, typed command for command: a set from nothing, its mistakes found, sealed, chosen, shown."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest
from PIL import Image

from . import pages
from .conftest import Ran, run
from .pages import Followed, blocks, follow

PAGE = "sets.md"
PICTURE = "evidence/intake/seal.jpg"


@pytest.fixture(scope="module")
def followed(tmp_path_factory: pytest.TempPathFactory, home: Path) -> Followed:
    """The page, with the picture that the reader is told to bring."""

    def bring_and_run(*words: str, cwd: Path, home: Path, typed: str = "") -> Ran:
        if PICTURE in typed:
            picture = cwd / PICTURE
            picture.parent.mkdir(parents=True, exist_ok=True)
            Image.new("RGB", (640, 480), (90, 110, 90)).save(picture)
        return run(*words, cwd=cwd, home=home, typed=typed)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pages, "run", bring_and_run)
        return follow(PAGE, tmp_path_factory.mktemp("sets"), home)


def test_the_page_has_everything_it_promises() -> None:
    kinds = [kind for kind, _ in blocks(PAGE)]
    assert kinds.count("sh") >= 7 and kinds.count("typed") == 4
    assert kinds.count("yaml") == 3 and kinds.count("change") == 1 and kinds.count("text") == 3


def test_every_command_does_what_the_page_says(followed: Followed) -> None:
    statuses = [ran.status for _, ran in followed.said]
    first = next(n for n, (line, _) in enumerate(followed.said) if line == "witnessmark check")
    assert statuses[first] == 2, "the mistakes are found"
    assert [s for n, s in enumerate(statuses) if n != first] == [0] * (len(statuses) - 1), [
        (line, ran.err) for line, ran in followed.said if ran.status
    ]


def test_mended_the_set_has_no_finding_but_its_missing_edition(followed: Followed) -> None:
    _, mended = followed.ran("witnessmark check")
    assert mended.out.strip() == "No problems, 1 note."
    assert "has no sealed edition" in mended.err


def test_only_what_the_chosen_set_needs_is_asked_with_its_reason(followed: Followed) -> None:
    (stated,) = followed.ran("van-08 facts")
    assert stated.err.count("?\n") == 3, "number, sets, and the one fact"
    assert "Water stands on its lid. On it hangs “Inspection hatch is sealed and joined”." in stated.err


def test_it_conforms_and_nothing_is_left_over(followed: Followed, home: Path) -> None:
    (audit,) = followed.ran("audit")
    assert "  conforms  House rule 1  Inspection hatch is sealed and joined" in audit.out
    left = subprocess.run(["git", "status", "--short"], cwd=followed.folder, capture_output=True, text=True, check=True)
    assert left.stdout == "", "the edition commits the set's files and the facts"
    checked = run("check", cwd=followed.folder, home=home)
    assert (checked.status, checked.out.strip()) == (0, "No problems.")
