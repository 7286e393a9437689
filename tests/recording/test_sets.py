"""Editions with their reasons, comparisons with the official text, figures adopted by name: acts beside a set."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.workshops import commit_all
from witnessmark.assessment.assess import assess
from witnessmark.assessment.model import RequirementState, Reviewed
from witnessmark.reading.check import check
from witnessmark.reading.workshop import read_workshop

from .conftest import Run
from .shop import git
from .test_record import MEASURED

AREA = "requirements/mini/bus.yaml"
OFFICIAL = "what: comparison mini\nby: ao\nofficial: OJ L 449, page 1\n"


def _state(root: Path) -> RequirementState:
    return assess(read_workshop(root, use_cache=False), "van-07").requirements[0]


def _codes(root: Path) -> list[str]:
    return [p.code for p in check(root, use_cache=False) if p.severity == "problem"]


def _edit(root: Path, old: str, new: str) -> None:
    text = (root / AREA).read_text()
    assert old in text
    (root / AREA).write_text(text.replace(old, new))


def _make_practice(root: Path, run: Run) -> None:
    """The one requirement becomes common practice, in an edition that gives its reason."""
    _edit(root, "confidence: from-memory", "confidence: practice")
    said = run("record", "edition", "mini", answers="by: ao\nedition: two\nwhy.isolation: nothing official holds it\n")
    assert said.status == 0, said.err


def test_who_compares_a_requirement_is_named_until_its_text_changes(root: Path, run: Run) -> None:
    assert _state(root).review.what is Reviewed.NOBODY and _state(root).unconfirmed
    done = run("record", answers=OFFICIAL + "agrees.isolation: yes\n")
    assert done.status == 0, done.err
    review = _state(root).review
    assert (review.what, review.by, review.official) == (Reviewed.COMPARED, "ao", "OJ L 449, page 1")
    assert not _state(root).unconfirmed and not _codes(root)
    again = run("record", answers=OFFICIAL + "agrees.isolation: yes\n")
    assert again.status == 2 and "no requirement of 'mini' waits for this" in again.err
    _edit(root, "at_least: 1 MΩ", "at_least: 2 MΩ")
    assert _state(root).review.what is Reviewed.NOBODY, "another figure is another text"


def test_what_differs_stays_unconfirmed_and_says_what(root: Path, run: Run) -> None:
    missing = run("record", answers=OFFICIAL + "agrees.isolation: no\n")
    assert missing.status == 2 and "differs.isolation" in missing.err
    assert run("record", answers=OFFICIAL + "agrees.isolation: no\ndiffers.isolation: 2 MΩ are asked\n").status == 0
    assert _state(root).review.what is Reviewed.DIFFERS and _state(root).unconfirmed
    said = run("list", "unconfirmed", "mini")
    assert "DIFFERS: 2 MΩ are asked" in said.out
    assert "witnessmark record comparison mini" in said.out
    # Somebody looks again, and finds that it agrees: the newest counts.
    assert run("record", answers=OFFICIAL + "agrees.isolation: yes\n").status == 0
    assert _state(root).review.what is Reviewed.COMPARED


def test_a_difference_hurts_even_when_it_is_not_sound_and_agreement_helps_only_when_it_is(root: Path, run: Run) -> None:
    assert run("record", answers=OFFICIAL + "agrees.isolation: yes\n").status == 0
    (path,) = root.glob("requirements/mini/reviews/*.yaml")
    sealed = path.read_text()
    path.write_text(sealed.replace("OJ L 449, page 1", "OJ L 449, page 2"))
    assert "act.edited" in _codes(root) and _state(root).unconfirmed
    path.write_text(sealed)
    assert not _state(root).unconfirmed
    path.unlink()
    assert _state(root).unconfirmed and "act.missing" in _codes(root)


def test_a_comparison_moves_no_state(root: Path, run: Run) -> None:
    assert run("record", answers=MEASURED).status == 0
    before = _state(root)
    assert run("record", answers=OFFICIAL + "agrees.isolation: no\ndiffers.isolation: it is 2 MΩ\n").status == 0
    after = _state(root)
    assert (before.state, before.gaps, before.parts) == (after.state, after.gaps, after.parts)


def test_nothing_said_is_nothing_kept(root: Path, run: Run) -> None:
    said = run("record", answers=OFFICIAL + "agrees.isolation: stop\n")
    assert said.status == 2 and "nothing was said of any requirement" in said.err
    assert not (root / "requirements/mini/reviews").exists()


def test_common_practice_is_adopted_by_somebody_of_the_workshop(root: Path, run: Run) -> None:
    _make_practice(root, run)
    assert _state(root).review.what is Reviewed.ADOPTED, "changing it in a sealed edition is taking it as one's own"
    assert run("record", answers=OFFICIAL + "agrees.isolation: yes\n").status == 2, "there is no official text"


def test_an_edition_that_came_with_the_tool_adopts_nothing_and_a_person_does(root: Path, run: Run) -> None:
    _edit(root, "confidence: from-memory", "confidence: practice")
    edition = root / "requirements/mini/editions/one.yaml"
    text = edition.read_text()
    workshop = read_workshop(root, use_cache=False)
    digest = dict(workshop.sets["mini"].digests)["isolation"]
    from tests.workshops import seal_by_hand

    draft = f"format: 1\nedition: zero\nset: mini\ncount: 1\nrequirements: {{isolation: {digest}}}\n"
    draft += "issued: 2026-09-02\nby: shipped\n"
    (edition.parent / "zero.yaml").write_text(
        seal_by_hand(draft, "shppd2", on="2026-10-01T10:00+02:00", by="shipped", vehicle=None)
    )
    commit_all(root, "as it came")
    assert edition.read_text() == text and _state(root).review.what is Reviewed.NOBODY
    (root / "evidence/people/hk.yaml").write_text("format: 1\nname: H. K.\nrole: tester\noutside: yes\nfirm: a house\n")
    git(root, "add", "-A")
    git(root, "commit", "-qm", "somebody from outside")
    outside = run("record", answers="what: adoption mini\nby: hk\nadopts.isolation: yes\n")
    assert outside.status == 2 and "from outside the workshop" in outside.err
    assert run("record", answers="what: adoption mini\nby: ao\nadopts.isolation: yes\n").status == 0
    review = _state(root).review
    assert (review.what, review.by) == (Reviewed.ADOPTED, "ao") and not _state(root).unconfirmed


def test_a_change_needs_its_reason_and_the_reason_is_sealed(root: Path, run: Run) -> None:
    same = run("record", "edition", "mini", answers="by: ao\nedition: two\n")
    assert same.status == 2 and "nothing in 'mini' differs from its edition one" in same.err
    assert run("record", answers=MEASURED).status == 0
    _edit(root, "at_least: 1 MΩ", "at_least: 0.5 MΩ")
    without = run("record", "edition", "mini", answers="by: ao\nedition: two\n")
    assert without.status == 2 and "why.isolation" in without.err
    done = run("record", "edition", "mini", "--by", "ao", typed=("two", "old wiring", "", "", "", "keep"))
    assert done.status == 0, done.err
    assert _state(root).state.value == "lapsed"
    assert git(root, "status", "--short") == "", "the changed text went into the same commit"
    assert not _codes(root)
    said = run("list", "sets")
    assert "the team's own" in said.out


def test_what_an_edition_moves_is_told_before_it_is_kept(root: Path, run: Run) -> None:
    _edit(root, "      picture: {photograph: the set-up}\n", "")
    _edit(root, "    shown: {all: [value, picture]}\n", "    shown: value\n")
    assert run("record", "edition", "mini", answers="by: ao\nedition: two\nwhy.isolation: no picture\n").status == 0
    assert run("record", answers=MEASURED).status == 0
    assert _state(root).state.value == "conforms"
    text = (root / AREA).read_text()
    second = text[text.index("  - id:") :].replace("id: isolation", "id: more").replace("Isolation", "More")
    (root / AREA).write_text(text + second)
    done = run("record", "edition", "mini", "--by", "ao", typed=("three", "wanted too", "", "", "", "leave"))
    assert "van-07: 1 requirement goes from conforms to lapsed" in done.out
    assert _state(root).state.value == "conforms", "nothing was kept"


def test_an_edition_without_reasons_is_a_problem_until_a_later_one_gives_them(root: Path, run: Run) -> None:
    _edit(root, "at_least: 1 MΩ", "at_least: 0.5 MΩ")
    digest = dict(read_workshop(root, use_cache=False).sets["mini"].digests)["isolation"]
    path = "requirements/mini/editions/two.yaml"
    draft = f"format: 1\nedition: two\nset: mini\ncount: 1\nrequirements: {{isolation: {digest}}}\n"
    (root / path).write_text(draft + "issued: 2026-10-14\nby: ao\n")
    assert run("record", "--seal", path, "--by", "ao").status == 0
    git(root, "commit", "-qam", "the text of the set")
    assert _codes(root) == ["set.no-reason"]
    done = run("record", "edition", "mini", answers="by: ao\nedition: three\nwhy.isolation: old wiring\n")
    assert done.status == 0, done.err
    assert _codes(root) == []


def test_the_audit_and_the_pages_say_who(root: Path, run: Run) -> None:
    assert run("record", answers=OFFICIAL + "agrees.isolation: yes\n").status == 0
    said: dict[str, Any] = json.loads(run("audit", "van-07", "--format", "json").out)
    review = said["requirements"][0]["review"]
    assert (review["what"], review["by"], review["official"]) == ("compared", "ao", "OJ L 449, page 1")
    assert said["requirements"][0]["unconfirmed"] is False


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("compares: mini\nofficial: x\nrequirements: {}\non: 2026-10-14\nby: ao\n", "model.empty"),
        (
            "compares: mini\nofficial: x\nrequirements: {isolation: {digest: sha256:" + "0" * 64
            + ", agrees: no}}\non: 2026-10-14\nby: ao\n",
            "model.rule",
        ),
        (
            "compares: maxi\nofficial: x\nrequirements: {isolation: {digest: sha256:" + "0" * 64
            + ", agrees: yes}}\non: 2026-10-14\nby: ao\n",
            "set.unknown",
        ),
        ("adopts: mini\nrequirements: {}\non: 2026-10-14\nby: ao\n", "model.empty"),
    ],
    ids=["nothing compared", "a difference without words", "another set", "nothing adopted"],
)  # fmt: skip
def test_faults_have_their_place(root: Path, text: str, code: str) -> None:
    path = root / "requirements/mini/reviews/one.yaml"
    path.parent.mkdir()
    path.write_text("format: 1\n" + text)
    (problem,) = [p for p in check(root, use_cache=False) if p.severity == "problem"]
    assert problem.code == code and problem.place is not None and problem.place.line


def test_a_set_in_which_something_can_never_be_shown_gets_no_edition(root: Path, run: Run) -> None:
    _edit(root, "measure: isolation-resistance", "measure: isolation-resistence")
    said = run("record", "edition", "mini", answers="by: ao\nedition: two\nwhy.isolation: a new test\n")
    assert said.status == 2
    assert "no method that is known yields 'isolation-resistence', so 'value' can never be shown" in said.err
    assert "did you mean 'isolation-resistance'?" in said.err
    assert not (root / "requirements/mini/editions/two.yaml").exists()


def test_an_edition_that_says_it_came_with_the_tool_needs_reasons_all_the_same(root: Path, run: Run) -> None:
    _edit(root, "at_least: 1 MΩ", "at_least: 0.5 MΩ")
    digest = dict(read_workshop(root, use_cache=False).sets["mini"].digests)["isolation"]
    path = "requirements/mini/editions/two.yaml"
    draft = f"format: 1\nedition: two\nset: mini\ncount: 1\nrequirements: {{isolation: {digest}}}\n"
    (root / path).write_text(draft + "issued: 2026-10-14\nby: shipped\n")
    assert run("record", "--seal", path, "--by", "ao").status == 0
    git(root, "commit", "-qam", "the text of the set")
    assert _codes(root) == ["set.no-reason"]
