"""The golden document: sources byte for byte. Renewed by `python -m tests.documents.golden`, and reviewed as a diff.

These are pins of our own output: they say that nothing changed unseen. What is right is checked elsewhere; only the
states, and what is hostile in the record's words, are checked here against what a person expects.
"""

from __future__ import annotations

import difflib

import pytest

from tests.documents.golden.rendering import KEPT, assessed, rendered

EXPECTED = {"bonding": "nonconforming", "sign": "conforms", "inlet": "not-applicable", "papers": "not-shown"}
"""By hand: 142 mΩ is over the limit of 0.1 Ω; a person has seen the sign; nothing is charged; no paper is there."""


def test_the_small_workshop_is_sound_and_says_what_a_person_expects() -> None:
    workshop, assessment = assessed()
    assert workshop.problems == ()
    assert {r.id: r.state.value for r in assessment.requirements} == EXPECTED
    parts = {p.part: p.state.value for r in assessment.requirements if r.id == "bonding" for p in r.parts}
    assert parts == {"inverter": "conforms", "dc-dc": "lapsed", "heater": "nonconforming"}


def test_the_sources_are_those_that_are_kept() -> None:
    kept = {p.relative_to(KEPT).as_posix(): p.read_text(encoding="utf-8") for p in KEPT.rglob("*") if p.is_file()}
    ours = rendered()
    assert len(kept) > 30
    different = [name for name in sorted(kept.keys() | ours.keys()) if kept.get(name) != ours.get(name)]
    if different:
        name = different[0]
        old, new = (text.get(name, "").splitlines() for text in (kept, ours))
        diff = "\n".join(list(difflib.unified_diff(old, new, "kept", "rendered", lineterm="", n=1))[:40])
        pytest.fail(
            f"{len(different)} sources differ: {', '.join(different[:8])}\n{diff}\n\n"
            "If that is what you wanted: python -m tests.documents.golden, and look at the diff before you commit it."
        )


def test_words_of_records_are_data_and_never_markup() -> None:
    """The record of the sign holds marks of every markup; they stand in the data and in no page."""
    ours = rendered()
    assert any("*not* `hidden` | by <anything>" in text for name, text in ours.items() if name.endswith(".json"))
    assert not [name for name, text in ours.items() if name.endswith(".rst") and "anything" in text]
