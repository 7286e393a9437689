"""Words from records that look like markup arrive as words, and nothing that they say happens."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

from tests.documents.fixture_assessment import VEHICLE, assessment, folder, workshop
from witnessmark.document.build import build

NASTY = (
    "<script>alert(1)</script> `x`_ {{ 7*7 }} {% include 'x' %} |s| .. raw:: html *star _a_ #panic() $x$ @ref \\input "
    "& \u202e \u0007 =1+1 <https://example.invalid> https://example.invalid/x"
)


def test_hostile_words_in_every_field_stay_words(tmp_path: Path) -> None:
    world = workshop()
    one = assessment(world)
    vehicles = {VEHICLE: world.vehicles[VEHICLE].model_copy(update={"title": f"Van {NASTY}", "owner": NASTY})}
    people = {key: person.model_copy(update={"name": f"{key} {NASTY}"}) for key, person in world.people.items()}
    states = []
    for state in one.requirements:
        gaps = tuple(replace(gap, message=f"M {NASTY}", remedy=f"R {NASTY}", take=NASTY) for gap in state.gaps)
        parts = []
        for part in state.parts:
            leaves = []
            for leaf in part.leaves:
                records = tuple(
                    replace(r, claim=r.claim.model_copy(update={"seen": f"S {NASTY}"}) if r.claim.seen else r.claim)
                    for r in leaf.records
                )
                leaves.append(replace(leaf, records=records))
            parts.append(replace(part, title=f"P {NASTY}", leaves=tuple(leaves)))
        requirement = state.requirement.model_copy(update={"title": f"T {NASTY}", "statement": f"W {NASTY}"})
        states.append(replace(state, requirement=requirement, gaps=gaps, parts=tuple(parts), why=NASTY))
    nasty_world = replace(world, vehicles=vehicles, people=people)
    report = build(folder(tmp_path, world), nasty_world, replace(one, requirements=tuple(states)))
    assert [p for p in report.problems if p.severity.value == "problem"] == []
    assert report.written
    for page in sorted((report.out / "html").glob("*.html")):
        text = page.read_text(encoding="utf-8")
        assert "<script>alert" not in text, page.name
        assert 'href="https://example.invalid' not in text, page.name
        assert "49" not in text.partition("&lt;script&gt;alert(1)")[2][:60], page.name
        assert "\u202e" not in text, page.name
        assert "\u0007" not in text, page.name
    area = (report.out / "html" / "area-own-set-contact.html").read_text(encoding="utf-8")
    assert "&lt;script&gt;alert(1)&lt;/script&gt; `x`_ {{ 7*7 }}" in area


def test_a_vehicle_without_anything_still_makes_a_file_that_says_not_yet(tmp_path: Path) -> None:
    world = replace(workshop(), acts=(), pictures={})
    empty = replace(assessment(workshop()), requirements=(), jobs=(), unused=(), problems=())
    report = build(tmp_path, world, empty)
    assert report.written
    text = (report.out / "html" / "index.html").read_text(encoding="utf-8")
    assert "Not yet." in text
    assert "Yes." not in text
    assert json.dumps([p.code for p in report.problems if p.severity.value == "problem"]) == "[]"
