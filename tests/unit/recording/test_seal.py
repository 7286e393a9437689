"""Sealing: what the tool writes, what it refuses, and that a sealed act is in the history at once.

Digests are checked with hashlib over the canonical form written out by hand; commits with git itself.
"""

from __future__ import annotations

import hashlib
import json
import subprocess
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from tests.workshops import RECORD, commit_all, make, seal_by_hand
from witnessmark.problems import Misuse
from witnessmark.reading.check import check
from witnessmark.reading.workshop import Reading, read_everything, read_workshop
from witnessmark.reading.yamltree import Node, as_text, read_tree
from witnessmark.recording.seal import new_code, seal, unsealed
from witnessmark.recording.seal_file import seal_file
from witnessmark.records.acts import Record
from witnessmark.records.base import CODE_ALPHABET

BASE = "evidence/vehicles/van-07/"
PATH = BASE + "records/isolation.yaml"
FACTS = BASE + "facts/first.yaml"
ON = datetime.fromisoformat("2026-10-14T18:05+02:00")
NOW = datetime.fromisoformat("2026-10-15T08:00+02:00")


def _reading(root: Path) -> Reading:
    reading = read_everything(root, use_cache=False)
    assert isinstance(reading, Reading)
    return reading


def _refused(root: Path, *, on: datetime = ON, by: str = "jm") -> list[str]:
    with pytest.raises(Misuse) as caught:
        seal(_reading(root), PATH, on=on, by=by, now=NOW)
    return [p.code for p in caught.value.problems]


def test_what_is_written(tmp_path: Path) -> None:
    photo = b"not looked at here"
    draft = RECORD.replace("isolation/value: {}", "isolation/value: {photo: photos/meter.dat}")
    root = make(tmp_path, {PATH: draft, BASE + "photos/meter.dat": photo})
    make(root, {FACTS: seal_by_hand((root / FACTS).read_text(), "facts2", on="2026-10-01T10:00+02:00")})
    commit_all(root)
    done = seal(_reading(root), PATH, on=ON, by="jm", now=NOW)
    root_node = read_tree(done.data, PATH)
    assert isinstance(root_node, Node)
    tree = as_text(root_node)
    assert isinstance(tree, dict)
    assert list(tree)[:2] == ["format", "code"]
    assert tree["code"] == done.code
    assert tree["files"] == (
        {"name": "photos/meter.dat", "bytes": str(len(photo)), "sha256": hashlib.sha256(photo).hexdigest()},
    )
    written = tree["seal"]
    assert isinstance(written, dict)
    assert written["on"] == "2026-10-14T18:05+02:00"
    assert written["by"] == "jm"
    assert written["vehicle"] == {"id": "van-07", "vin": "SAMPLE7VAN0000007"}
    # The canonical form, by hand: JSON with sorted keys, no blanks, without the digest itself.
    bare = {**tree, "seal": {k: v for k, v in written.items() if k != "content"}}
    canonical = json.dumps(bare, ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode()
    assert written["content"] == "sha256:" + hashlib.sha256(canonical).hexdigest()
    assert done.files == (BASE + "photos/meter.dat",)
    assert unsealed(done.data, PATH).decode() == draft.replace("format: 1\n", f"format: 1\ncode: {done.code}\n")
    assert (root / PATH).read_text() == draft, "sealing itself writes nothing"


def test_a_code_that_is_given_is_kept_and_a_new_one_is_free() -> None:
    picks = iter("aaaaaa" + "bbbbbb")
    assert new_code({"aaaaaa"}, lambda letters: next(picks)) == "bbbbbb"
    code = new_code(())
    assert len(code) == 6
    assert set(code) <= set(CODE_ALPHABET)


@pytest.mark.parametrize(
    ("what", "draft", "changed", "codes"),
    [
        ("does not fit its model", RECORD.replace("shows:", "show:"), {}, ["act.unknown"]),
        ("cannot be read", RECORD + "\t: [", {}, ["yaml.tab"]),
        ("ahead of the clock", RECORD, {"on": datetime.fromisoformat("2026-10-16T08:00+02:00")}, ["seal.ahead"]),
        ("sealed before it was done", RECORD, {"on": datetime.fromisoformat("2026-10-14T12:00+02:00")}, ["seal.order"]),
        ("a person whom nobody knows", RECORD, {"by": "xx"}, ["person.unknown"]),
        ("a code that history knows", RECORD.replace("format: 1", "format: 1\ncode: kn2wnc"), {}, ["seal.known-code"]),
        ("sealed already", seal_by_hand(RECORD, "7k4qxm"), {}, ["seal.twice"]),
        (
            "a file that is not there",
            RECORD.replace("isolation/value: {}", "isolation/value: {photo: photos/no.jpg}"),
            {},
            ["file.missing"],
        ),
        (
            "two reasons at once",
            RECORD,
            {"by": "xx", "on": datetime(2030, 1, 1, tzinfo=UTC)},
            ["person.unknown", "seal.ahead"],
        ),
    ],
)
def test_what_is_refused(tmp_path: Path, what: str, draft: str, changed: dict[str, Any], codes: list[str]) -> None:
    known = BASE + "records/known.yaml"
    root = make(tmp_path, {PATH: draft, known: seal_by_hand(RECORD, "kn2wnc")})
    commit_all(root)
    (root / known).unlink()  # Known by history alone.
    assert _refused(root, **changed) == codes, what


def test_seal_file_commits_in_the_name_of_the_person(tmp_path: Path) -> None:
    root = make(tmp_path, {PATH: RECORD})
    make(root, {FACTS: seal_by_hand((root / FACTS).read_text(), "facts2", on="2026-10-01T10:00+02:00")})
    commit_all(root)
    (root / "unrelated.txt").write_text("stays as it is", encoding="utf-8")
    done = seal_file(root, PATH, "jm", clock=lambda: NOW)

    def git(*arguments: str) -> str:
        return subprocess.run(["git", *arguments], cwd=root, check=True, capture_output=True, text=True).stdout.strip()

    assert git("rev-parse", "HEAD") == done.commit
    assert git("log", "-1", "--format=%an|%cn|%aI|%cI") == "J. Marram|J. Marram" + 2 * "|2026-10-15T08:00:00+02:00"
    assert git("show", "--name-only", "--format=", "HEAD") == PATH
    assert git("status", "--porcelain") == "?? unrelated.txt"
    act = next(a for a in read_workshop(root, use_cache=False).acts if a.code == done.sealed.code)
    assert act.appeared is not None
    assert act.seal_holds
    assert isinstance(act.body, Record)
    assert [p for p in check(root, use_cache=False) if p.severity == "problem"] == []


def test_when_git_refuses_the_draft_is_as_it_was(tmp_path: Path) -> None:
    root = make(tmp_path, {PATH: RECORD})
    commit_all(root)
    (root / ".git/index.lock").touch()
    with pytest.raises(Misuse) as caught:
        seal_file(root, PATH, "jm", clock=lambda: NOW)
    assert "index.lock" in caught.value.problems[0].message
    assert (root / PATH).read_text() == RECORD


def test_nothing_is_recorded_without_history_or_in_the_demonstration(tmp_path: Path) -> None:
    root = make(tmp_path / "a", {PATH: RECORD})
    with pytest.raises(Misuse) as caught:
        seal_file(root, PATH, "jm", clock=lambda: NOW)
    assert [p.code for p in caught.value.problems] == ["git.none"]
    pinned = (
        "format: 1\nname: A\nplace: B\nzone: Europe/Stockholm\ndemonstration: {as_of: 2026-11-24, notice: Invented.}\n"
    )
    root = make(tmp_path / "b", {PATH: RECORD, "evidence/workshop.yaml": pinned})
    with pytest.raises(Misuse) as caught:
        seal_file(root, PATH, "jm", clock=lambda: NOW)
    assert [p.code for p in caught.value.problems] == ["record.demonstration"]
