"""What the index of a submission says has changed since the issue before: held against a real history."""

from __future__ import annotations

import csv
import shutil
from pathlib import Path
from typing import Any

import pytest

from witnessmark.assessment.assess import assess
from witnessmark.document import submission
from witnessmark.document.attachments import plan
from witnessmark.document.build import BuildReport
from witnessmark.document.routes import route
from witnessmark.document.submission import submit
from witnessmark.document.views.book import Book
from witnessmark.problems import Misuse
from witnessmark.reading.workshop import read_workshop
from witnessmark.release.freeze import Frozen
from witnessmark.release.handing import hand_over

from .yard import frozen, git, record, without_document, yard


def _handed(root: Path, out: Path, monkeypatch: pytest.MonkeyPatch) -> dict[str, dict[str, str]]:
    """The rows of the index by file. The document itself is left out: two files stand for it."""
    workshop = read_workshop(root, use_cache=False)
    assessment = assess(workshop, "van-07")

    def quick(_root: Path, _workshop: Any, _assessment: Any, place: Path) -> BuildReport:
        attached = place / "html" / "attached"
        attached.mkdir(parents=True)
        (place / "technical-file.pdf").write_bytes(b"%PDF-1.7 stands for the document\n")
        (place / "html" / "index.html").write_text("stands for the document", encoding="utf-8")
        for planned in plan(Book.of(workshop, assessment)):
            (attached / planned.name).write_text(planned.text or planned.path, encoding="utf-8")
        return BuildReport(True, place, (), (), ())

    monkeypatch.setattr(submission, "build", quick)
    recipe = route("un-r100")
    assert recipe is not None
    assert submit(root, workshop, assessment, recipe, out).written
    with (out / "index.csv").open(encoding="utf-8", newline="") as stream:
        return {row["file"]: row for row in csv.DictReader(stream)}


def _said(row: dict[str, str]) -> tuple[str, str]:
    return row["change"], row["reason"]


def test_new_unchanged_and_revised_are_told_from_the_commits(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    root = yard(tmp_path / "yard")
    first = next(a.code for a in read_workshop(root).acts if a.path.endswith("isolation.yaml"))
    before = _handed(root, tmp_path / "one", monkeypatch)
    assert _said(before["technical-file.pdf"]) == ("new", "")
    assert _said(before[f"data/{first}.yaml"]) == ("new", "")

    with without_document():
        frozen(root, as_of=None)
    second = record(root, "again", {"performed": "2026-10-14T17:20+02:00"})
    after = _handed(root, tmp_path / "two", monkeypatch)
    assert _said(after["technical-file.pdf"]) == ("revised", "takes the place of that of issue A")
    assert _said(after[f"data/{first}.yaml"]) == ("unchanged", "since issue A")
    assert _said(after[f"data/{first}.csv"]) == ("unchanged", "since issue A")
    assert _said(after[f"data/{second}.yaml"]) == ("new", "")
    page = (tmp_path / "two" / "index.html").read_text(encoding="utf-8")
    history = page.partition("<h2>History</h2>")[2]
    assert "<td>A</td>" in history
    assert "first issue; issued with gaps: the service asked to see the state of the work" in history
    assert "since issue A" in history
    assert "J. Marram" in history


def test_what_came_by_a_branch_that_was_merged_later_is_new(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its commit is older than the issue, by the clock and in the order of history; it was not in what was frozen."""
    root = yard(tmp_path / "yard")
    main = git(root, "rev-parse", "--abbrev-ref", "HEAD")
    git(root, "checkout", "-qb", "side")
    late = record(root, "late", {"performed": "2026-10-14T17:20+02:00"})
    git(root, "checkout", "-q", main)
    with without_document():
        frozen(root)
    git(root, "merge", "-q", "--no-edit", "side")
    rows = _handed(root, tmp_path / "out", monkeypatch)
    assert _said(rows[f"data/{late}.yaml"]) == ("new", "")
    assert _said(rows["technical-file.pdf"])[0] == "revised"


def test_an_issue_that_was_edited_afterwards_is_none(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    root = yard(tmp_path / "yard")
    with without_document():
        frozen(root)
    release = root / "evidence/vehicles/van-07/releases/A.yaml"
    release.write_text(release.read_text(encoding="utf-8").replace("by: jm", "by: ao"), encoding="utf-8")
    rows = _handed(root, tmp_path / "out", monkeypatch)
    assert {row["change"] for row in rows.values() if row["sha256"]} == {"new"}


def test_a_frozen_issue_is_handed_over_as_it_was_frozen(released: Frozen, tmp_path: Path) -> None:
    root = Path(shutil.copytree(released.folder.parents[2], tmp_path / "yard"))
    folder = root / "builds" / "van-07" / "A"
    recipe = route("individual")
    assert recipe is not None
    workshop = read_workshop(root, use_cache=False)
    record(root, "later", {"performed": "2026-10-14T17:20+02:00"})
    report = hand_over(root, workshop, "van-07", "A", recipe, tmp_path / "out")
    assert report.written
    handed = tmp_path / "out"
    assert (handed / "technical-file.pdf").read_bytes() == (folder / "technical-file.pdf").read_bytes()
    said = (handed / "README.txt").read_text(encoding="utf-8")
    assert "issue A, released" in said
    assert "draft" not in said
    codes = {row.code for row in report.handed if row.code}
    later = next(a.code for a in read_workshop(root, use_cache=False).acts if a.path.endswith("later.yaml"))
    assert codes and later not in codes

    with pytest.raises(Misuse) as caught:
        hand_over(root, workshop, "van-07", "B", recipe, tmp_path / "none")
    assert [p.code for p in caught.value.problems] == ["submission.issue"]
    (folder / "bag" / "data" / "readings.csv").write_text("other readings", encoding="utf-8")
    with pytest.raises(Misuse) as caught:
        hand_over(root, workshop, "van-07", "A", recipe, tmp_path / "none")
    assert [p.code for p in caught.value.problems] == ["submission.differs"]
    shutil.rmtree(folder)
    with pytest.raises(Misuse) as caught:
        hand_over(root, workshop, "van-07", "A", recipe, tmp_path / "none")
    assert [p.code for p in caught.value.problems] == ["submission.gone"]
    assert not (tmp_path / "none").exists()
