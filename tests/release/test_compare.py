"""Comparing two releases, and a release with the folder; letters of issues; what a spreadsheet must not start."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from tests.recording.shop import RECORD_TREE
from witnessmark.cli.main import main
from witnessmark.problems import Misuse
from witnessmark.release.compare import same_number
from witnessmark.release.freeze import Frozen
from witnessmark.release.letters import newest, next_letter, place_of
from witnessmark.release.sides import compared

from .yard import NOW, frozen, record, without_document


def test_two_releases_and_the_folder(quickly: Frozen, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    root = Path(shutil.copytree(quickly.folder.parents[2], tmp_path / "yard"))
    readings = {"test_voltage": "500 V", "resistance": "0.4 MΩ"}
    code = record(root, "again", {**RECORD_TREE, "readings": readings, "performed": "2026-10-14T17:00+02:00"})
    with without_document():
        frozen(root, "B", why="measured again")
    first, second = root / "builds/van-07/A", root / "builds/van-07/B/bag"
    before, after, found = compared(first, second)
    assert (before.issue, after.issue) == ("A", "B")
    assert [(d.kind, d.what) for d in found] == [
        ("state", "mini:isolation"), ("result", "mini:isolation/value of traction-bus"),
    ]  # fmt: skip
    assert found[0].now == "nonconforming" and found[1].now.startswith(f"{code}, fail, 4") and "Ω" in found[1].now
    # The folder says what issue B says, and not what A says; a release is the same as itself.
    assert compared(second, root, clock=lambda: NOW)[2] == ()
    assert compared(first, root, clock=lambda: NOW)[2] == found
    assert compared(first, first)[2] == ()
    assert main(["compare", str(first), str(second), "--format", "json"]) == 0
    assert len(json.loads(capsys.readouterr().out)["differences"]) == 2
    assert main(["compare", str(first), str(second)]) == 0
    assert "nonconforming" in capsys.readouterr().out


def test_a_bag_that_is_not_whole_is_not_compared(bag: Path) -> None:
    (bag / "data" / "readings.csv").write_text("spoiled")
    with pytest.raises(Misuse) as caught:
        compared(bag, bag)
    assert "bag.changed" in [p.code for p in caught.value.problems]


def test_letters() -> None:
    """A, B, C … without I, O, Q, S, X, Z: twenty letters, then AA (common practice with revision letters)."""
    letters = [next_letter(None)]
    for _ in range(45):
        letters.append(next_letter(letters[-1]))
    assert "".join(letters[:20]) == "ABCDEFGHJKLMNPRTUVWY"
    assert (letters[20], letters[39], letters[40]) == ("AA", "AY", "BA")
    assert [place_of(letter) for letter in letters] == list(range(1, 47))
    assert newest(["B", "AA", "Y", "no letter"]) == "AA" and newest([]) is None
    for wrong in ("", "I", "a", "AAA"):
        with pytest.raises(ValueError):
            place_of(wrong)


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("1", "1.0", True), ("5.2e6", "5200000", True), ("1", "1.0000000009", True), ("1", "1.0000000011", False),
        ("0", "1e-300", False), ("nan", "nan", True), ("nan", "1", False), ("inf", "1", False), (None, "0", False),
        (True, "1", False), ("pass", "fail", False), ("-0", "0", True),
    ],
)  # fmt: skip
def test_the_same_number(one: object, other: object, same: bool) -> None:
    assert same_number(one, other) is same
