"""A new folder is usable at once; the copy of the demonstration has the same history everywhere and the same states."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from witnessmark.assessment.assess import assess
from witnessmark.assessment.model import State
from witnessmark.problems import Misuse, Severity
from witnessmark.reading.check import check
from witnessmark.reading.workshop import read_workshop
from witnessmark.recording.start import start, start_example
from witnessmark.records.world import Held
from witnessmark.shipped import shipped


def _git(root: Path, *arguments: str) -> str:
    return subprocess.run(["git", *arguments], cwd=root, check=True, capture_output=True, text=True).stdout.strip()


def test_a_new_folder(tmp_path: Path) -> None:
    root = tmp_path / "shop"
    assert start(root, sets=["un-r100-03"], name="A: yard, #1", vehicle="van-01") == ("un-r100-03",)
    assert [p for p in check(root, use_cache=False) if p.severity is Severity.PROBLEM] == []
    workshop = read_workshop(root, use_cache=False)
    assert workshop.file.name == "A: yard, #1"
    assert list(workshop.vehicles) == ["van-01"]
    assert list(workshop.sets) == ["un-r100-03"]
    assert workshop.history.uncommitted == 0
    assert _git(root, "status", "--porcelain") == ""
    assert (root / ".gitattributes").read_text() == "* -text\n"
    # The edition that came with the set and the choice of the set are sealed and known.
    assert [act.held for act in workshop.acts] == [Held.UNCHANGED, Held.UNCHANGED]
    assert [act.appeared for act in workshop.acts] == [0, 1]
    assessed = assess(workshop, "van-01")
    assert assessed.requirements
    assert not any(r.state is State.CONFORMS for r in assessed.requirements)


def test_without_a_choice_only_the_usual_sets_are_asked_for(tmp_path: Path) -> None:
    usual = ("conversion-practice", "practice-high-voltage", "practice-vehicle", "un-r100-03")
    assert start(tmp_path / "shop") == usual


@pytest.mark.parametrize(
    ("what", "arguments", "code"),
    [
        ("an unknown set", {"sets": ["un-r999"]}, "set.unknown"),
        ("a bad id", {"vehicle": "Van 1"}, "id.form"),
    ],
)
def test_refused_before_anything_is_written(tmp_path: Path, what: str, arguments: dict[str, object], code: str) -> None:
    with pytest.raises(Misuse) as caught:
        start(tmp_path / "shop", **arguments)  # type: ignore[arg-type]  # a test passes what it pleases
    assert [p.code for p in caught.value.problems] == [code]
    assert not (tmp_path / "shop").exists()


def test_a_folder_in_use_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("mine", encoding="utf-8")
    for make in (start, start_example):
        with pytest.raises(Misuse) as caught:
            make(tmp_path)
        assert [p.code for p in caught.value.problems] == ["start.in-use"]
    assert [p.name for p in tmp_path.iterdir()] == ["mine.txt"]


@pytest.fixture(scope="module")
def example(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = tmp_path_factory.mktemp("example") / "copy"
    start_example(root)
    return root


def test_the_copy_is_committed_act_by_act_in_each_persons_name(example: Path) -> None:
    workshop = read_workshop(example, use_cache=False)
    assert workshop.history.consulted
    assert workshop.history.uncommitted == 0
    assert _git(example, "status", "--porcelain") == ""
    acts = workshop.acts
    assert acts
    assert [act.appeared for act in acts] == list(range(len(acts)))
    assert all(act.held is Held.UNCHANGED and act.seal_holds and not act.clash for act in acts)
    assert int(_git(example, "rev-list", "--count", "HEAD")) == len(acts) + 1
    for act in acts[:: max(1, len(acts) // 8)]:
        assert act.body.seal is not None
        name, when = _git(example, "log", "--diff-filter=A", "--format=%an|%at", "--", act.path).split("|")
        person = workshop.people.get(act.body.seal.by)
        names = {p.name for p in workshop.people.values()}
        assert name == person.name if person else name in names
        assert int(when) == int(act.body.seal.on.timestamp())


def test_the_copy_says_the_same_as_the_demonstration(example: Path) -> None:
    ours = read_workshop(shipped("evidence").parent, use_cache=False)
    theirs = read_workshop(example, use_cache=False)
    assert [(a.code, a.path, a.tree) for a in theirs.acts] == [(a.code, a.path, a.tree) for a in ours.acts]
    assert theirs.as_of == ours.as_of
    assert theirs.file.demonstration is not None


def test_the_same_commits_without_any_setting_of_git(example: Path, tmp_path: Path) -> None:
    """In an empty environment: no home, no configuration, no name."""
    code = (
        "import sys; from pathlib import Path; from witnessmark.recording.start import start_example;"
        "start_example(Path(sys.argv[1]))"
    )
    source = Path(__file__).parents[3] / "src"
    subprocess.run(
        [sys.executable, "-c", code, str(tmp_path / "copy")],
        env={"PATH": os.environ["PATH"], "PYTHONPATH": str(source)},
        check=True,
        capture_output=True,
    )
    assert _git(tmp_path / "copy", "rev-parse", "HEAD") == _git(example, "rev-parse", "HEAD")
