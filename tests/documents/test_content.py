"""What the pages say, checked on the blocks before anything is drawn."""

from __future__ import annotations

import dataclasses
import json
from dataclasses import replace
from typing import Any

import pytest

from tests.documents.fixture_assessment import VEHICLE, assessment, workshop
from witnessmark.assessment.model import State
from witnessmark.document.blockdata import load
from witnessmark.document.content import VIEWS, Sources, sources
from witnessmark.document.views import words
from witnessmark.problems import Problem


@pytest.fixture(scope="module")
def made() -> Sources:
    world = workshop()
    return sources(world, assessment(world))


def blocks(made: Sources, page: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(made.data[f"data/{page}.json"])
    return found


def test_every_block_is_one_that_the_engine_takes(made: Sources) -> None:
    count = 0
    for text in made.data.values():
        for data in json.loads(text).values():
            load(data)
            count += 1
    assert count > 60


def test_every_template_exists_and_every_page_has_its_own_name(made: Sources) -> None:
    from witnessmark.shipped import shipped

    names = [target for _, target, _ in made.pages]
    assert len(set(names)) == len(names)
    # The letterhead is no page: pages take it in.
    whole = {view.template for view in VIEWS} | {"letterhead.rst.j2"}
    assert whole == {path.name for path in shipped("templates").glob("*.rst.j2")}


def test_the_cover_answers_first_and_names_the_worst_first(made: Sources) -> None:
    cover = blocks(made, "index")["cover"]
    assert cover["answer"] == "Not yet."
    assert cover["sentence"] == (
        "Six of 9 requirements stand in the way. Five can be closed in this workshop in about two hours; "
        "one waits for somebody else."
    )
    assert [row["state"] for row in cover["gaps"]] == [
        "nonconforming",
        "lapsed",
        "not-shown",
        "not-shown",
        "not-shown",
        "undecided",
    ]
    assert "service has not yet decided" in cover["statement"]
    assert {row["state"]: row["count"] for row in cover["counts"]} == {
        "conforms": 1,
        "nonconforming": 1,
        "undecided": 1,
        "not-shown": 3,
        "lapsed": 1,
        "under-concession": 1,
        "not-applicable": 1,
    }


def test_more_than_nine_gaps_are_counted_and_lead_to_the_register() -> None:
    world = workshop()
    one = assessment(world)
    gap = next(r for r in one.requirements if r.state is State.NOT_SHOWN)
    many = tuple(
        replace(gap, area=f"more-{n % 6}", requirement=gap.requirement.model_copy(update={"id": f"copy-{n}"}))
        for n in range(17)
    )
    cover = blocks(sources(world, replace(one, requirements=(*one.requirements, *many))), "index")["cover"]
    assert 3 <= len(cover["gaps"]) <= 9
    assert cover["more"][0] == f"and {23 - len(cover['gaps'])} more:"
    assert cover["more"][-1]["to"] == "gap-register"


def test_yes_is_said_only_when_nothing_at_all_is_in_the_way() -> None:
    world = workshop()
    one = assessment(world)
    good = tuple(r for r in one.requirements if not r.state.is_gap)
    ready = replace(one, requirements=good, jobs=(), problems=())
    assert blocks(sources(world, ready), "index")["cover"]["answer"] == "Yes."
    assert sources(world, ready).settings.ready
    broken = replace(ready, problems=(Problem("file.broken", "a file cannot be read", "mend it"),))
    nothing = replace(ready, requirements=())
    for spoiled in (broken, nothing):
        assert blocks(sources(world, spoiled), "index")["cover"]["answer"] == "Not yet."
        assert not sources(world, spoiled).settings.ready


def test_a_gap_that_no_job_names_is_in_the_register_all_the_same() -> None:
    world = workshop()
    one = replace(assessment(world), jobs=())
    register = blocks(sources(world, one), "gap-register")["register"]
    entries = [entry for group in register["groups"] for entry in group["entries"]]
    assert len(entries) == one.gap_count


def test_every_requirement_has_a_head_and_a_row_with_its_own_state(made: Sources) -> None:
    world = workshop()
    for state in assessment(world).requirements:
        head = blocks(made, f"area-own-set-{state.area}")[f"{state.id}.head"]
        assert (head["state"], head["word"]) == (state.state.value, state.state.words)
        rows = [row for block in blocks(made, "compliance-matrix").values() for row in block["rows"]]
        row = next(row for row in rows if row["id"] == f"m.own-set.{state.id}")
        assert (row["state"], row["word"]) == (state.state.value, state.state.words)


def test_a_concession_always_says_what_lies_beneath(made: Sources) -> None:
    head = blocks(made, "area-own-set-mass")["rear-axle.head"]
    assert head["beneath"].startswith("nonconforming beneath; Oddmoor Vehicle Office, OV-311")
    row = blocks(made, "concessions")["concessions"]["rows"][0]
    assert row[1]["text"] == "under concession"
    assert row[2] == "nonconforming"
    assert "nonconforming beneath" in blocks(made, "index")["cover"]["concessions"][0]["text"]


def test_no_tab_stands_where_nothing_stands_in_the_way(made: Sources) -> None:
    """A leaf of a route that is not needed, or that is conceded, is said in words and has no mark of a gap."""
    conceded = blocks(made, "area-own-set-mass")["rear-axle.leaves"]["rows"][0]
    assert conceded["word"] == "nonconforming: does not meet; under concession"
    assert "state" not in conceded
    assert "gap" not in conceded
    missing = blocks(made, "area-own-set-contact")["connectors.leaves"]["rows"][1]
    assert (missing["word"], missing["state"], missing["gap"]) == ("not shown", "not-shown", True)
    assert blocks(made, "area-own-set-mass")["handbook.leaves"]["rows"][0]["part"] == "The workshop"


def test_what_nobody_compared_with_the_official_text_says_so(made: Sources) -> None:
    assert (
        "not compared with the official text"
        in blocks(made, "area-own-set-isolation")["isolation-inlet.head"]["source"]
    )


def test_a_withdrawn_record_is_printed_with_who_and_why(made: Sources) -> None:
    row = blocks(made, "area-own-set-contact")["connectors.history"]["rows"][0]
    assert row[0][0]["text"] == "e5u9nb"
    told = "".join(piece if isinstance(piece, str) else piece["text"] for piece in row[4])
    assert told.startswith(
        "Withdrawn on 10 Oct 2026 by S. Thrift with A. Orchis, mistaken: The probe was the wrong one."
    )


def test_a_picture_that_nobody_judged_has_no_finding(made: Sources) -> None:
    photo = blocks(made, "area-own-set-contact")["sign.photo-1"]
    assert photo["finding"] is None
    listed = blocks(made, "photographs-and-logs")["photographs"]
    assert listed["rows"][1][2] == {"text": "nobody has judged it", "strong": True}
    assert listed["gaps"] == [1]


def test_a_photograph_that_changed_is_said_and_not_printed() -> None:
    world = workshop()
    acts = tuple(
        replace(a, files=tuple(replace(f, found=None) for f in a.files)) if a.code == "7k4qxm" else a
        for a in world.acts
    )
    changed = replace(world, acts=acts)
    pages = sources(changed, assessment(changed))
    block = blocks(pages, "area-own-set-isolation")["isolation-joined-bus.photo-1"]
    assert block["kind"] == "note"
    assert block["gap"] is True
    assert not any("001" in photo.file for photo in pages.photos)


def test_a_result_that_does_not_count_never_says_pass_first() -> None:
    world = workshop()
    one = assessment(world)
    first = one.requirements[0]
    part = first.parts[0]
    leaf = part.leaves[0]
    lost = replace(leaf, records=(replace(leaf.records[0], sound=False),))
    spoiled = replace(first, parts=(replace(part, leaves=(lost, *part.leaves[1:])), *first.parts[1:]))
    data = blocks(sources(world, replace(one, requirements=(spoiled, *one.requirements[1:]))), "area-own-set-isolation")
    block = data["isolation-joined-bus.traction-bus.isolation.result"]
    assert block["statement"] == "Does not count."
    assert "When read: pass." in block["sentence"]
    chart = data["chart-1"]["data"]["rows"][0]
    assert chart["passed"] is False
    assert chart["statement"] == "does not count"


def test_the_budget_names_every_reading_by_its_own_symbol(made: Sources) -> None:
    """`u1` and `u1_loaded` are two readings: the budget must not call both by one name."""
    budget = blocks(made, "area-own-set-isolation")["isolation-joined-bus.traction-bus.isolation.budget"]
    symbols = [row["symbol"] for row in budget["rows"]]
    assert len(set(symbols)) == len(symbols) == 4
    assert budget["rows"][0]["symbol"] == r"U_1^{\prime}"
    readings = blocks(made, "area-own-set-isolation")["isolation-joined-bus.traction-bus.isolation.readings"]["rows"]
    assert set(symbols) <= {row.get("symbol", "") for row in readings}


def test_cautions_name_the_voltage_and_who_decides(made: Sources) -> None:
    for area in ("isolation", "contact", "mass"):
        band = blocks(made, f"area-own-set-{area}")["cautions"]
        assert band["voltage"] == "403.2 V DC"
        assert "Local codes and a qualified person decide" in band["authority"]
        assert band["lines"]


def test_without_a_stated_voltage_it_is_taken_as_high() -> None:
    world = workshop()
    silent = replace(world, acts=tuple(a for a in world.acts if a.code != "aaaaa2"))
    band = blocks(sources(silent, assessment(silent)), "area-own-set-isolation")["cautions"]
    assert band["voltage"] == "Voltage not stated: take it as high"


def test_the_same_input_gives_the_same_pages_in_any_order_of_acts(made: Sources) -> None:
    world = workshop()
    turned = replace(world, acts=tuple(reversed(world.acts)))
    again = sources(turned, assessment(turned))
    assert again.data == made.data
    assert [dataclasses.asdict(a) for a in again.attachments] == [dataclasses.asdict(a) for a in made.attachments]


def test_record_text_never_enters_the_structure() -> None:
    """Templates get names and titles; what a template prints is escaped by the engine, the rest travels as data."""
    world = workshop()
    nasty = "x `y`_ {{ 7*7 }} <script> |s| .. raw:: html"
    vehicles = {VEHICLE: world.vehicles[VEHICLE].model_copy(update={"title": nasty})}
    pages = sources(replace(world, vehicles=vehicles), assessment(world))
    from witnessmark.document.templates import render_templates
    from witnessmark.shipped import shipped

    texts, problems = render_templates(
        [shipped("templates")], [{"template": t, "target": n, "context": c} for t, n, c in pages.pages]
    )
    assert not problems
    assert "<script>" not in texts["index"]
    assert ".. raw::" not in texts["index"]


@pytest.mark.parametrize(
    ("text", "first"),
    [
        ("431 Ω/V is less than 500 Ω/V. Moisture was found.", "431 Ω/V is less than 500 Ω/V"),
        ("By J. Marram on 3.5 V. Then", "By J. Marram on 3.5 V"),
        ("One sentence only.", "One sentence only"),
    ],
)
def test_the_first_sentence_ends_where_it_ends(text: str, first: str) -> None:
    assert words.first_sentence(text) == first


def test_numbers_and_times_are_said_as_people_say_them() -> None:
    assert words.duration(80) == "1 h 20 min"
    assert words.effort(170) == "about three hours"
    assert words.effort(80) == "about one and a half hours"
    assert words.joined(["a", "b", "c"]) == "a, b and c"


def test_a_test_report_says_what_iso_17025_asks_of_one(made: Sources) -> None:
    """ISO/IEC 17025:2017, 7.8.2.1 a) to p), as far as a workshop's own file can say it; 7.8.3.1 a), c)."""
    page = blocks(made, "test-reports")
    lead = "".join(p if isinstance(p, str) else p["text"] for p in page["lead"]["text"])
    assert "relates only to the items tested" in lead
    heads = {key.partition(".")[0]: block for key, block in page.items() if key.endswith(".head")}
    assert len(heads) >= 3
    for code, head in heads.items():
        labels = [pair["label"] for pair in head["pairs"]]
        for needed in ("Report", "By", "For", "Item", "Tested on", "Place", "Method", "Deviations", "Authorised by"):
            assert needed in labels
        end = page[f"{code}.end"]["text"]
        assert end.startswith(f"End of report {code}. ") and "only to the items tested" in end  # d) and l)
        table = page[f"{code}.results"]
        if table["kind"] == "table":
            assert all("±" in row[1] or "<" in row[1] or ">" in row[1] for row in table["rows"])
            assert all(row[2] for row in table["rows"]), "7.8.3.1 c): with the coverage factor"
            assert "decision rule" in table["caption"], "7.8.6: which rule a statement is made by"


def test_the_responder_sheet_guesses_nothing(made: Sources) -> None:
    page = blocks(made, "emergency-responders")
    rows = {row[0]["text"]: row[1] for row in page["sheet"]["rows"]}
    assert rows["Fire"]["text"] == "Not stated."
    assert rows["Fire"]["strong"]
    assert page["cautions"]["lines"][0].startswith("High voltage can kill")
