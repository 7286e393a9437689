"""What is handed over on a route: index, hashes, published photographs; and the recipes as data."""

from __future__ import annotations

import csv
import hashlib
import io
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from tests.documents.fixture_assessment import assessment, workshop
from witnessmark.assessment.model import Assessment
from witnessmark.cli.main import main
from witnessmark.document import submission
from witnessmark.document.build import BuildReport
from witnessmark.document.routes import SOURCES, route, routes
from witnessmark.document.submission import submit
from witnessmark.records.world import Workshop

ROOT = Path(__file__).parents[2]


def test_every_recipe_says_who_brings_what_and_how_well_it_is_known() -> None:
    assert [r.id for r in routes()] == ["individual", "inspector", "un-r100"]
    for one in routes():
        assert one.confidence
        assert len({item.no for item in one.items}) == len(one.items)
        assert {item.by for item in one.items} == {"applicant", "service", "authority"}
        assert all(item.source in SOURCES for item in one.items)
        assert any(item.source == "technical-file" for item in one.items)
        # What a service or an authority adds never comes out of the applicant's folder.
        assert all(not item.source for item in one.items if item.by != "applicant")


def test_the_folder_holds_what_its_index_says_and_the_hashes_are_those_of_the_files(
    good: tuple[Path, BuildReport], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    world = workshop()
    root, built = good

    def as_built(_root: Path, _workshop: Workshop, _assessment: Assessment, out: Path) -> BuildReport:
        shutil.copytree(built.out, out)
        return replace(built, out=out)

    monkeypatch.setattr(submission, "build", as_built)
    recipe = route("un-r100")
    assert recipe is not None
    out = tmp_path / "submission"
    report = submit(root, world, assessment(world), recipe, out)
    assert report.written
    files = {p.relative_to(out).as_posix(): p.read_bytes() for p in out.rglob("*") if p.is_file()}
    listed = dict(line.split("  ", 1)[::-1] for line in files["SHA256SUMS"].decode().splitlines())
    # The format that sha256sum of GNU coreutils reads: digest, two blanks, name.
    assert listed == {n: hashlib.sha256(data).hexdigest() for n, data in files.items() if n != "SHA256SUMS"}
    index = list(csv.DictReader(io.StringIO(files["index.csv"].decode())))
    assert [row["no"] for row in index] == sorted((row["no"] for row in index), key=int)
    for row in index:
        if row["sha256"]:
            assert hashlib.sha256(files[row["file"]]).hexdigest() == row["sha256"]
            assert int(row["bytes"]) == len(files[row["file"]])
        else:
            assert row["file"] == "not in this folder"
    table = list(csv.DictReader(io.StringIO(files["photographs.csv"].decode())))
    assert table
    for row in table:
        assert hashlib.sha256(files[row["published"]]).hexdigest() == row["sha256 of it"]
        assert b"GPS" not in files[row["published"]]
    read_me = files["README.txt"].decode()
    assert "Not ready to submit. 6 of 9 requirements stand in the way" in read_me
    assert "comes from the authority" in read_me
    assert "TO BE ADDED" in read_me
    assert report.missing[0].no == "1"
    assert not list(tmp_path.glob(".handing-*"))


def test_a_route_that_is_not_known_is_refused_with_those_that_are(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["build", "van-07", "--for", "moon", "--folder", str(ROOT)]) == 2
    assert "individual, inspector, un-r100" in capsys.readouterr().err
