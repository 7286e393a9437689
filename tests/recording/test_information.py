"""What only the information document needs is asked by `record`, and says which item hangs on it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from .conftest import Run
from .shop import git

FORM = """\
format: 1
id: data
title: Data of the vehicle
place: Annex 1
order: 1
source: {confidence: own, note: invented}
items:
  - {number: "1.1", title: make, fact: make}
  - {number: "1.2", title: approval, kind: approval, fact: approved}
  - {number: "1.3", title: tested on, kind: day, fact: tested}
  - {number: "1.4", title: size of a bus, fact: bus_size, kind: size, unit: mm}
"""
FACTS = """\
  make: {title: make, ask: Which make?, why: It is the first line., text: yes}
  approved: {title: approval, ask: Which approval?, why: It says the series., approval: yes}
  tested: {title: day of the test, ask: When was it tested?, why: It decides., day: yes}
  bus_size: {title: size, ask: How large?, why: It is printed., unit: mm, lowest: 1, highest: 9000, several: yes,
    of: hv-bus}
"""


@pytest.fixture
def asked(root: Path) -> Path:
    """The small workshop with a form and the facts that it asks."""
    (root / "requirements/mini/forms").mkdir()
    (root / "requirements/mini/forms/data.yaml").write_text(FORM, encoding="utf-8")
    facts = root / "requirements/facts.yaml"
    facts.write_text(facts.read_text(encoding="utf-8") + FACTS, encoding="utf-8")
    git(root, "add", "--all")
    git(root, "commit", "--quiet", "-m", "a form")
    return root


def audited(run: Run) -> dict[str, str]:
    """What stands in the fields of the form, by number."""
    document = json.loads(run("audit", "van-07", "--format", "json").out)
    return {f["number"]: "; ".join(v["words"] for v in f["values"]) for f in document["forms"][0]["fields"]}


def test_the_facts_of_the_form_are_asked_by_their_own_word(asked: Path, run: Run) -> None:
    answers = (
        "what: form\nstated: 2026-10-15 07:00\nfact.make: Saltmarsh\nsource.make: plate\n"
        "fact.approved: E4*100R03/01*2492*00\nsource.approved: certificate\n"
        "fact.tested: 14.10.2026\nsource.tested: report\n"
        "each:\n  traction-bus:\n    stated: 2026-10-15 07:00\n    fact.bus_size: [1.2 m, 300]\n"
        "    source.bus_size: tape\n"
    )
    kept = run("record", "van-07", "form", "--by", "jm", answers=answers)
    assert kept.status == 0, kept.err
    assert len(kept.recorded) == 2
    assert audited(run) == {
        "1.1": "Saltmarsh",
        "1.2": "E4*100R03/01*2492*00 (in the mark: 03 2492, beside 100R)",
        "1.3": "2026-10-14",
        "1.4": "1200 mm × 300 mm",
    }


@pytest.mark.parametrize(
    ("answers", "words"),
    [
        ("fact.approved: 03 2492\n", "is what stands in the mark"),
        ("fact.approved: e4*100R03/01*2492*00\n", "begins with a small e"),
        ("fact.tested: 30.02.2026\n", "is not a day"),
    ],
)
def test_what_is_no_approval_and_no_day_is_refused(asked: Path, run: Run, answers: str, words: str) -> None:
    said = run("record", "van-07", "facts", "--by", "jm", answers=f"stated: 2026-10-15 07:00\n{answers}")
    assert said.status == 2 and words in said.err
    assert audited(run)["1.2"] == ""


def test_one_fact_can_be_named_and_a_mistyped_one_is_told(asked: Path, run: Run) -> None:
    answers = "stated: 2026-10-15 07:00\nfact.make: Saltmarsh\nsource.make: plate\n"
    assert run("record", "van-07", "facts", "make", "--by", "jm", answers=answers).status == 0
    again = run("record", "van-07", "facts", "make", "--by", "jm", answers=answers)
    assert again.status == 2 and "no fact of 'make' is missing" in again.err
    wrong = run("record", "van-07", "facts", "traction-bus/bus_siz", "--by", "jm", answers=answers)
    assert wrong.status == 2 and "did you mean traction-bus/bus_size?" in wrong.err


def test_the_question_says_which_item_hangs_on_it(asked: Path, run: Run) -> None:
    said = run("record", "van-07", "form", "--by", "jm", typed=("", "", "?"))
    assert "item 1.1 of Data of the vehicle" in said.out + said.err


def test_the_menu_offers_the_facts_of_the_form(asked: Path, run: Run) -> None:
    said = run("record", "van-07", "--by", "jm", typed=("nothing",))
    assert "for the information document" in said.out + said.err
