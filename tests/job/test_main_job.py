"""The main job as its user does it: start, check, audit, build, each as a command in an empty environment."""

from __future__ import annotations

import filecmp
import json
import subprocess
from collections import Counter
from pathlib import Path

import jsonschema
import pytest

from witnessmark.exports.audit import audit_schema

from .conftest import ROOT, run

STATES = ["nonconforming", "lapsed", "not-shown", "undecided", "under-concession", "conforms", "not-applicable"]


def test_example_has_a_history_under_its_peoples_names(example: Path) -> None:
    log = subprocess.run(
        ["git", "log", "--format=%an|%ae|%aI"], cwd=example, capture_output=True, text=True, check=True
    ).stdout.splitlines()
    assert len(log) > 10
    authors = {line.split("|")[0] for line in log}
    people = {p.stem for p in (example / "evidence" / "people").glob("*.yaml")}
    assert 1 < len(authors) <= len(people)
    status = subprocess.run(["git", "status", "--porcelain"], cwd=example, capture_output=True, text=True, check=True)
    assert status.stdout == ""


def test_check_finds_the_example_clean(example: Path, home: Path) -> None:
    checked = run("check", cwd=example, home=home)
    assert checked.status == 0, checked.err
    assert checked.out.startswith("No problems")


def test_audit_as_json_keeps_its_schema_and_counts(example: Path, home: Path) -> None:
    audited = run("audit", "van-07", "--format", "json", cwd=example, home=home)
    assert audited.status == 1, audited.err
    document = json.loads(audited.out)
    jsonschema.Draft202012Validator(audit_schema()).validate(document)
    assert document["command"] == "audit"
    assert document["vehicle"] == "van-07"
    assert list(document["summary"]) == STATES
    counted = Counter(r["state"] for r in document["requirements"])
    assert {s: counted[s] for s in STATES} == document["summary"]
    for requirement in document["requirements"]:
        shown = requirement["state"] in ("conforms", "not-applicable")
        assert bool(requirement["gaps"]) is not shown, requirement["id"]


def test_demonstration_has_gaps_of_every_kind(example: Path, home: Path) -> None:
    document = json.loads(run("audit", "van-07", "--format", "json", cwd=example, home=home).out)
    assert all(document["summary"][state] for state in STATES), document["summary"]
    conforming = document["summary"]["conforms"]
    gaps = sum(document["summary"][s] for s in STATES[:4])
    assert conforming > 2 * gaps, "the van is nearly finished"
    begun = json.loads(run("audit", "library-02", "--format", "json", cwd=example, home=home).out)
    assert begun["summary"]["not-shown"] > begun["summary"]["conforms"]


def test_the_repository_itself_is_the_demonstration(home: Path, example: Path) -> None:
    """The same states in the repository, where history is not consulted, as in the copy with its real history."""
    here = json.loads(run("audit", "van-07", "--format", "json", cwd=ROOT, home=home).out)
    there = json.loads(run("audit", "van-07", "--format", "json", cwd=example, home=home).out)
    assert [(r["id"], r["state"]) for r in here["requirements"]] == [
        (r["id"], r["state"]) for r in there["requirements"]
    ]


def test_build_writes_pdf_and_html(built: Path) -> None:
    assert (built / "technical-file.pdf").read_bytes().startswith(b"%PDF-")
    index = (built / "html" / "index.html").read_text(encoding="utf-8")
    assert "Not yet." in index
    assert "DRAFT" in index.upper()


def test_build_is_the_same_in_another_folder_zone_and_locale(
    built: Path, example: Path, home: Path, tmp_path: Path
) -> None:
    clone = tmp_path / "elsewhere" / "deeper"
    subprocess.run(["git", "clone", "--quiet", str(example), str(clone)], check=True, capture_output=True)
    other = tmp_path / "second"
    done = run(
        "build",
        "van-07",
        "--output",
        str(other),
        cwd=clone,
        home=tmp_path,
        TZ="Asia/Tokyo",
        LC_ALL="C",
        PYTHONHASHSEED="7",
    )
    assert done.status == 0, done.err
    first = sorted(p.relative_to(built) for p in built.rglob("*") if p.is_file())
    assert first == sorted(p.relative_to(other) for p in other.rglob("*") if p.is_file())
    different = [str(p) for p in first if not filecmp.cmp(built / p, other / p, shallow=False)]
    assert not different


def test_part_of_a_history_builds_nothing(example: Path, home: Path, tmp_path: Path) -> None:
    """In a shallow clone a fail that was deleted earlier could not be seen."""
    clone = tmp_path / "shallow"
    subprocess.run(["git", "clone", "--quiet", "--depth", "1", f"file://{example}", str(clone)], check=True)
    for command in (("check",), ("audit", "van-07"), ("build", "van-07")):
        said = run(*command, cwd=clone, home=home)
        assert said.status == 2, command
        assert "git fetch --unshallow" in said.err
    assert not (clone / "builds" / "van-07").exists()


def test_bare_start_lists_each_unanswered_fact_as_a_gap(home: Path, tmp_path: Path) -> None:
    folder = tmp_path / "empty"
    started = run("start", str(folder), "--vehicle", "car-01", cwd=tmp_path, home=home)
    assert started.status == 0, started.err
    assert run("check", cwd=folder, home=home).status == 0
    audited = run("audit", "car-01", "--format", "json", cwd=folder, home=home)
    assert audited.status == 1, audited.err
    document = json.loads(audited.out)
    assert document["requirements"], "the chosen sets are asked"
    assert document["summary"]["conforms"] == 0
    assert any(g["code"].startswith("fact") for r in document["requirements"] for g in r["gaps"])


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("audit", "van-70"), "there is no vehicle 'van-70'"),
        (("build", "van-70"), "there is no vehicle 'van-70'"),
        (("calculate", "voltmetre/1", "ub=4 V"), "there is no method"),
        (("calculate", "voltmeter-own-source/1", "ub=402,9 V"), "comma"),
        (("check", "no-such-file.yaml"), "no-such-file.yaml"),
    ],
)
def test_wrong_input_is_status_2_with_a_reason(
    example: Path, home: Path, arguments: tuple[str, ...], words: str
) -> None:
    said = run(*arguments, cwd=example, home=home)
    assert said.status == 2
    assert words in said.err
    assert "Do this:" in said.err
    assert "Traceback" not in said.err


def test_outside_a_workshop_folder_it_says_how_to_make_one(home: Path, tmp_path: Path) -> None:
    said = run("audit", cwd=tmp_path, home=home)
    assert said.status == 2
    assert "witnessmark start" in said.err
