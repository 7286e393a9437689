"""The authority's answers to an issue: acts of the vehicle that stand beside the states and move none of them."""

from __future__ import annotations

import io
import shutil
from pathlib import Path

import pytest

from witnessmark.assessment.assess import assess
from witnessmark.assessment.model import RequirementState
from witnessmark.cli.main import main
from witnessmark.document.content import sources
from witnessmark.reading.check import check
from witnessmark.reading.workshop import read_workshop
from witnessmark.release.freeze import Frozen

from .yard import BASE, git

LETTER = (
    "what: answer van-07\nby: jm\nanswers: {issue}\nauthority: Oddmoor Vehicle Office\nnumber: OV-{number}\n"
    "dated: {dated}\n"
)
REFUSED = LETTER.format(issue="A", number=77, dated="2026-10-15") + (
    "document: {file}\nrefused: [isolation]\nwords.isolation: the picture is missing\n"
)


@pytest.fixture
def copy(quickly: Frozen, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The workshop with issue A frozen."""
    root = Path(shutil.copytree(quickly.folder.parents[2], tmp_path / "yard"))
    monkeypatch.chdir(root)
    monkeypatch.setattr("sys.stdin", io.StringIO(""))
    return root


def record(root: Path, answers: str) -> int:
    file = root.parent / "answers.yaml"
    letter = root.parent / "letter.pdf"
    letter.write_bytes(b"%PDF-1.4 invented\n")
    file.write_text(answers.replace("{file}", str(letter)), encoding="utf-8")
    return main(["record", "--answers", str(file), "--yes"])


def state(root: Path) -> RequirementState:
    return assess(read_workshop(root, use_cache=False), "van-07").requirements[0]


def test_a_refusal_stands_beside_the_state_until_a_later_letter_accepts(copy: Path) -> None:
    before = state(copy)
    assert before.authority is None
    assert record(copy, REFUSED) == 0
    now = state(copy)
    assert now.authority is not None
    assert (now.authority.answer, now.authority.issue, now.authority.words) == (
        "refused",
        "A",
        "the picture is missing",
    )
    assert (now.state, now.gaps, now.parts) == (before.state, before.gaps, before.parts)
    assert sorted(p.name for p in (copy / BASE / "answers").iterdir()) == ["2026-10-15.yaml", "letter.pdf"]
    assert not [p for p in check(copy, use_cache=False) if p.severity == "problem"]
    later = LETTER.format(issue="A", number=78, dated="2026-10-15") + "accepted: [isolation]\n"
    assert record(copy, later) == 0
    settled = state(copy).authority
    assert settled is not None and settled.is_settled and settled.number == "OV-78"


def test_an_acceptance_that_is_not_sound_settles_nothing(copy: Path) -> None:
    assert record(copy, REFUSED) == 0
    later = LETTER.format(issue="A", number=78, dated="2026-10-15") + "accepted: [isolation]\n"
    assert record(copy, later) == 0
    path = copy / BASE / "answers" / "2026-10-15-2.yaml"
    path.write_text(path.read_text().replace("OV-78", "OV-79"))
    found = state(copy).authority
    assert found is not None and found.answer == "refused", "the acceptance was edited after it was sealed"
    (copy / BASE / "answers" / "2026-10-15.yaml").unlink()
    found = state(copy).authority
    assert found is not None and found.answer == "refused", "a refusal that is deleted still counts"


def test_the_next_issue_shows_what_was_answered(copy: Path) -> None:
    assert record(copy, REFUSED) == 0
    workshop = read_workshop(copy, use_cache=False)
    made = sources(workshop, assess(workshop, "van-07"))
    text = "\n".join(made.data.values())
    assert "Oddmoor Vehicle Office answered: 1 refused" in text
    assert "The picture is missing." in text
    assert "has not yet decided anything" not in text


def test_what_cannot_be_an_answer_is_refused(copy: Path, capsys: pytest.CaptureFixture[str]) -> None:
    head = git(copy, "rev-parse", "HEAD")
    for answers, words in (
        (REFUSED.replace("answers: A", "answers: B"), "'B' is not among the answers"),
        (REFUSED.replace("words.isolation: the picture is missing\n", ""), "words.isolation"),
        (REFUSED.replace("refused: [isolation]\n", "").replace("words.isolation: the picture is missing\n", ""),
         "the letter says nothing of any requirement"),
    ):  # fmt: skip
        assert record(copy, answers) == 2
        assert words in capsys.readouterr().err
    assert git(copy, "rev-parse", "HEAD") == head


def test_nobody_can_have_answered_before_an_issue_was_frozen(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from .yard import yard

    root = yard(tmp_path / "yard")
    monkeypatch.chdir(root)
    assert record(root, REFUSED) == 2
    assert "no issue of van-07 was frozen yet" in capsys.readouterr().err


def test_a_letter_about_an_unknown_issue_or_requirement_has_its_place(copy: Path) -> None:
    path = copy / BASE / "answers" / "one.yaml"
    path.parent.mkdir()
    path.write_text(
        "format: 1\nanswers: C\nauthority: O\nnumber: 1\ndated: 2026-10-15\n"
        "requirements:\n  isolatin: {answer: accepted}\nby: jm\n"
    )
    found = [(p.code, p.place.line if p.place else 0) for p in check(copy, use_cache=False) if p.severity == "problem"]
    assert found == [("issue.unknown", 2), ("requirement.unknown", 7)]
