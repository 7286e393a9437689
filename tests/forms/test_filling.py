"""How a field is filled, and what leaves it empty: every origin, three-valued applicability, nothing unsound.

What has to come out follows from the rule "only a sound statement fills a field"; no source outside this project.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import pytest

from tests.rules.world import Story, code_of, one_leaf, paper_leaf, tupled
from witnessmark.assessment.model import Applies, Field, FieldState, FilledForm
from witnessmark.exports.audit import audit_envelope
from witnessmark.problems import Place
from witnessmark.records.forms import Form, FormFile
from witnessmark.records.world import Held

DEFINITIONS: Mapping[str, Mapping[str, Any]] = {
    "vin": {"title": "vin", "ask": "Which number?", "why": "Records name it.", "text": "yes"},
    "requirement_sets": {
        "title": "requirement sets",
        "ask": "Which sets?",
        "why": "They are asked.",
        "text": "yes",
        "several": "yes",
    },
    "make": {"title": "make", "ask": "Which make?", "why": "First line.", "text": "yes"},
    "names": {"title": "names", "ask": "Which names?", "why": "To find it.", "text": "yes", "several": "yes"},
    "power": {"title": "power", "ask": "What power?", "why": "R85.", "unit": "kW"},
    "peak": {"title": "peak", "ask": "What peak?", "why": "R85.", "unit": "kW"},
    "drive": {
        "title": "drive",
        "ask": "What drives?",
        "why": "It decides.",
        "choices": {"pure": "battery alone", "mixed": "two sources"},
    },
    "size": {
        "title": "size",
        "ask": "How large?",
        "why": "It is printed.",
        "unit": "mm",
        "several": "yes",
        "of": "pack",
    },
    "sealed": {
        "title": "sealed",
        "ask": "Sealed?",
        "why": "Gas.",
        "choices": {"yes": "sealed cells", "no": "open cells"},
        "of": "pack",
    },
    "rate": {"title": "rate", "ask": "How much gas?", "why": "Gas.", "unit": "%", "of": "pack"},
    "number": {"title": "number", "ask": "Which approval?", "why": "The series.", "approval": "yes", "of": "pack"},
    "tested": {"title": "tested", "ask": "When?", "why": "It decides.", "day": "yes"},
    "cells": {"title": "cells", "ask": "How many?", "why": "It is printed.", "unit": "1", "of": "pack"},
}
PAPER = paper_leaf("drawn", {"sheet": {"document": "the drawing"}}, "sheet")


def form(*items: Mapping[str, Any], **more: Any) -> Form:
    numbered = [{"number": str(n), "title": f"item {n}", **item} for n, item in enumerate(items, 1)]
    tree = {
        "format": "1", "id": "data", "title": "Data", "place": "Annex 1", "order": "1",
        "source": {"confidence": "own"}, "items": numbered, **more,
    }  # fmt: skip
    return Form(FormFile.model_validate(tupled(tree)), Place("requirements/set/forms/data.yaml", 2, 5))


def story(given: Form, requirements: Any = None, **how: Any) -> Story:
    made = Story(requirements or (one_leaf(),), definitions=DEFINITIONS, **how)
    made.sets["set"] = replace(made.sets["set"], forms=(given,))
    return made


def filled(told: Story) -> FilledForm:
    (found,) = told.assess().forms
    return found


def only(told: Story) -> Field:
    (found,) = filled(told).fields
    return found


def words(field: Field) -> list[str]:
    return [value.words for value in field.values]


PACKS = {"pack": {"p1": None, "p2": None}}


@pytest.mark.parametrize(
    ("item", "facts", "printed"),
    [
        ({"fact": "make"}, {"make": "Saltmarsh"}, "Saltmarsh"),
        ({"fact": "names", "kind": "list"}, {"names": ["a", "b"]}, "a, b"),
        ({"fact": "power", "unit": "kW"}, {"power": "80 kW"}, "80 kW"),
        ({"fact": "power", "unit": "kW"}, {"power": "80000 W"}, "80 kW"),
        ({"fact": "power", "unit": "W"}, {"power": "80 kW"}, "80000 W"),
        ({"fact": "power"}, {"power": "80000 W"}, "80000 W"),
        ({"fact": "drive"}, {"drive": "pure"}, "battery alone"),
        ({"fact": "drive", "kind": "code"}, {"drive": "pure"}, "pure"),
        ({"fact": "tested", "kind": "day"}, {"tested": "2026-10-14"}, "2026-10-14"),
    ],
)
def test_a_fact_fills_its_field_in_the_unit_of_the_form(
    item: Mapping[str, Any], facts: Mapping[str, Any], printed: str
) -> None:
    found = only(story(form(item), facts=facts))
    assert found.state is FieldState.FILLED and words(found) == [printed]
    (value,) = found.values
    assert (value.source, value.code, value.part) == ("the plate", code_of("facts"), None)


def test_a_missing_fact_is_a_gap_with_its_question_and_the_command() -> None:
    found = only(story(form({"fact": "make"})))
    (gap,) = found.gaps
    assert found.state is FieldState.EMPTY and found.values == ()
    assert (gap.code, gap.question, gap.why) == ("fact.not-stated", "Which make?", "First line.")
    assert gap.command == "witnessmark record van facts make"


def test_a_statement_that_is_not_sound_fills_nothing() -> None:
    ways: tuple[Callable[[Story], Story], ...] = (
        lambda told: told.hold("later", Held.EDITED),
        lambda told: told.hold("later", Held.UNSEALED),
        lambda told: told.uncommit("later"),
        lambda told: told.withdraw("gone", "later", at=30),
        lambda told: told.state_facts("other", {"make": "Unlike"}, at=5),
        lambda told: told.state_facts("wrong", {"make": "Unlike"}, at=40, corrects="later", second=None),
    )
    for spoil in ways:
        told = story(form({"fact": "make"})).state_facts("later", {"make": "Saltmarsh"}, at=5)
        assert words(only(told)) == ["Saltmarsh"]
        found = only(spoil(told))
        assert found.state is FieldState.EMPTY and not found.values, found
        assert all(gap.remedy for gap in found.gaps)


def test_a_value_that_cannot_be_what_is_asked_fills_nothing() -> None:
    for item, facts in (
        ({"fact": "power", "unit": "kW"}, {"power": "80 V"}),
        ({"fact": "power", "unit": "kW"}, {"power": "much"}),
        ({"fact": "power", "unit": "kW"}, {"power": "> 80 kW"}),
        ({"fact": "drive"}, {"drive": "wind"}),
        ({"fact": "tested"}, {"tested": "2026-02-30"}),
        ({"fact": "names"}, {"names": []}),
    ):
        found = only(story(form(item), facts=facts))
        assert found.state is FieldState.EMPTY and not found.values
        assert found.gaps[0].code == "field.unreadable" and "--correct" in found.gaps[0].command


def test_a_field_of_parts_is_filled_for_each_and_empty_when_one_is_missing() -> None:
    told = story(form({"fact": "size", "kind": "size", "unit": "mm"}), parts=PACKS)
    told.state_facts("one", {"size": ["1.6 m", "300 mm"]}, at=1, part="p1")
    found = only(told)
    assert found.state is FieldState.EMPTY and words(found) == ["1600 mm × 300 mm"]
    (gap,) = found.gaps
    assert (gap.part, gap.command) == ("p2", "witnessmark record van facts p2/size")
    told.state_facts("two", {"size": ["1 m"]}, at=1, part="p2")
    assert [(v.part, v.words) for v in only(told).values] == [("p1", "1600 mm × 300 mm"), ("p2", "1000 mm")]


def test_a_fact_of_the_vehicle_stands_for_a_part_that_has_none_of_its_own() -> None:
    told = story(form({"fact": "power", "of": "pack"}), parts={"pack": {"p1": None}}, facts={"power": "80 kW"})
    assert [(v.part, v.words) for v in only(told).values] == [("p1", "80 kW")]


def test_a_design_states_the_facts_of_what_is_built_to_it() -> None:
    told = story(form({"fact": "cells"}), parts={"pack": {"p1": {"design": "d/A"}}})
    told.revision("rev", "d", "A", at=-20, facts={"cells": "96"})
    (value,) = only(told).values
    assert (value.words, value.code, value.source) == ("96", code_of("rev"), "data sheet")
    assert only(told.hold("rev", Held.EDITED)).state is FieldState.EMPTY


def test_what_list_and_design_say_of_a_part() -> None:
    items = ({"part": "title", "of": "pack"}, {"part": "serial", "of": "pack"}, {"design": "revision", "of": "pack"},
             {"design": "maker", "of": "pack"})  # fmt: skip
    told = story(form(*items), parts={"pack": {"p1": {"design": "d/A", "serial": "0421"}}})
    told.revision("rev", "d", "A", at=-20)
    fields = filled(told).fields
    assert [words(f) for f in fields] == [["P1"], ["0421"], ["A"], []]
    assert fields[3].gaps[0].question == "What is the maker of the design of P1?"
    # An event that does not count says another serial: then neither is believed.
    told.event("swap", "replaced", "p1", at=20, tree={"fitted": {"serial": "0422"}}).uncommit("swap")
    assert filled(told).fields[1].state is FieldState.EMPTY
    told.commit("swap")
    assert words(filled(told).fields[1]) == ["0422"]


def test_a_list_that_nobody_stated_is_a_gap_and_an_empty_one_is_not_applicable() -> None:
    found = only(story(form({"fact": "size"})))
    assert found.gaps[0].command == "witnessmark record van parts pack"
    none = only(story(form({"fact": "size"}), parts={"pack": {}}))
    assert none.state is FieldState.NOT_APPLICABLE and "stated as empty (the drawing" in none.why


def test_whether_a_field_applies_is_three_valued_for_each_part() -> None:
    item = {"fact": "rate", "unit": "%", "applies": {"sealed": "no"}, "otherwise": "not applicable, sealed"}
    told = story(form(item), parts=PACKS)
    asked = only(told)
    assert asked.state is FieldState.EMPTY and {g.question for g in asked.gaps} == {"Sealed?"}
    told.state_facts("a", {"sealed": "yes"}, at=1, part="p1").state_facts("b", {"sealed": "yes"}, at=1, part="p2")
    none = only(told)
    assert none.state is FieldState.NOT_APPLICABLE
    assert "sealed is stated as yes (the plate" in none.why.lower()
    told.uncommit("b")
    assert only(told).state is FieldState.EMPTY, "an unsound fact does not switch a field off"
    opened = story(form(item), parts={"pack": {"p1": {"facts": {"sealed": "no", "rate": "0.95"}}}})
    assert only(opened).gaps[0].code == "field.unreadable", "a fact in a list of parts needs its unit too"
    opened = story(form(item), parts={"pack": {"p1": {"facts": {"sealed": "no", "rate": "95 %"}}}})
    assert words(only(opened)) == ["95 %"]


def test_of_several_facts_one_or_all_are_enough() -> None:
    item = {"fact": ["power", "peak"], "unit": "kW"}
    both = {"power": "80 kW", "peak": "90 kW"}
    assert words(only(story(form(item), facts=both))) == ["power: 80 kW", "peak: 90 kW"]
    one = story(form(item), facts={"power": "80 kW"})
    assert only(one).state is FieldState.EMPTY and words(only(one)) == ["power: 80 kW"]
    enough = only(story(form({**item, "enough": "one"}), facts={"power": "80 kW"}))
    assert enough.state is FieldState.FILLED and not enough.gaps
    assert len(only(story(form({**item, "enough": "one"}))).gaps) == 2


def test_an_approval_is_printed_whole_and_as_in_the_mark() -> None:
    told = story(form({"fact": "number"}), parts={"pack": {"p1": None}})
    told.state_facts("n", {"number": "E4*100R03/01*2492*00"}, at=1, part="p1")
    assert words(only(told)) == ["E4*100R03/01*2492*00 (in the mark: 03 2492, beside 100R)"]
    wrong = story(form({"fact": "number"}), parts={"pack": {"p1": None}})
    wrong.state_facts("n", {"number": "03 2492"}, at=1, part="p1")
    assert only(wrong).state is FieldState.EMPTY and "what stands in the mark" in only(wrong).gaps[0].why


def test_a_paper_counts_only_where_its_leaf_is_shown_by_it() -> None:
    claim = {"file": "sheet.pdf", "number": "E-001 D", "pages": "1 to 4"}
    told = story(form({"leaf": "drawn/sheet"}), [PAPER])
    asked = only(told)
    assert asked.gaps[0].command == "witnessmark record van drawn/sheet" and "the drawing" in asked.gaps[0].question
    told.rec("P5", leaf="drawn/sheet", finding=True, claim=claim, files={"sheet.pdf": "x"})
    (value,) = only(told).values
    assert (value.words, value.file, value.pages, len(value.sha256)) == ("E-001 D", "sheet.pdf", "1 to 4", 64)
    assert only(told.lose_files("P5")).state is FieldState.EMPTY
    assert only(told.keep_files("P5")).state is FieldState.FILLED
    assert only(told.hold("P5", Held.EDITED)).state is FieldState.EMPTY
    told.hold("P5", Held.UNCHANGED).rec("F6", leaf="drawn/sheet", finding=True, claim=claim, files={"sheet.pdf": "y"})
    assert only(told).state is FieldState.EMPTY, "the newer record says that it does not meet"


def test_a_paper_of_a_requirement_that_does_not_apply_is_not_applicable() -> None:
    paper = {**PAPER, "applies": {"drive": "mixed"}}
    found = only(story(form({"leaf": "drawn/sheet"}), [paper], facts={"drive": "pure"}))
    assert found.state is FieldState.NOT_APPLICABLE and "stated as pure" in found.why


def test_what_vehicle_yaml_says_and_does_not_say() -> None:
    fields = filled(story(form({"vehicle": "file_number"}, {"vehicle": "owner"}, {"workshop": "name"}))).fields
    assert [words(f) for f in fields] == [["T-1"], [], ["Test workshop"]]
    assert fields[1].gaps[0].remedy == "write owner: … into evidence/vehicles/van/vehicle.yaml"


def test_what_somebody_else_fills_and_a_heading_are_no_gaps_and_are_not_counted() -> None:
    found = filled(story(form({"left": "authority"}, {"heading": "yes"}, {"index": "papers"}, {"fact": "make"})))
    assert [f.state.value for f in found.fields] == ["left", "heading", "filled", "empty"]
    assert found.fields[0].why == "for the authority"
    assert (found.filled, found.asked) == (1, 2)
    assert found.empty_names == ("set:data/4",)


def test_whether_a_form_is_to_be_filled() -> None:
    asked = form({"fact": "make"}, applies={"drive": "mixed"})
    unsure = filled(story(asked))
    assert unsure.applies is Applies.NOT_STATED and unsure.doubts[0].question == "What drives?"
    assert unsure.empty_names == ("set:data", "set:data/1")
    no = filled(story(asked, facts={"drive": "pure"}))
    assert no.applies is Applies.NO and no.fields == () and no.empty_names == ()
    assert no.why == (f"Drive is stated as pure (the plate, {code_of('facts')}). It applies where drive is mixed.")
    assert filled(story(asked, facts={"drive": "mixed"})).applies is Applies.YES
    doubtful = story(asked).state_facts("later", {"drive": "pure"}, at=1).uncommit("later")
    assert filled(doubtful).applies is Applies.NOT_STATED


def test_a_form_for_one_kind_of_part() -> None:
    asked = form({"fact": "make"}, each={"part": "pack", "where": {"sealed": "no"}})
    assert filled(story(asked)).doubts[0].command == "witnessmark record van parts pack"
    assert "There is no pack" in filled(story(asked, parts={"pack": {}})).why
    told = story(asked, parts=PACKS)
    assert filled(told).applies is Applies.NOT_STATED
    told.state_facts("a", {"sealed": "yes"}, at=1, part="p1")
    assert filled(told).applies is Applies.NOT_STATED
    told.state_facts("b", {"sealed": "yes"}, at=1, part="p2")
    assert filled(told).applies is Applies.NO and "of P2 is stated as yes" in filled(told).why
    one = story(asked, parts=PACKS).state_facts("a", {"sealed": "no"}, at=1, part="p1")
    assert filled(one).applies is Applies.YES, "one such part is enough, whatever the other is"


def test_a_form_never_changes_a_state_and_its_facts_are_needed() -> None:
    plain = Story(definitions=DEFINITIONS, facts={"make": "Saltmarsh"}).rec("P5")
    with_form = story(form({"fact": "make"}, {"fact": "power"}), facts={"make": "Saltmarsh"}).rec("P5")
    assert with_form.assess().summary == plain.assess().summary
    assert with_form.assess().jobs == plain.assess().jobs
    unused = [u.code for u in plain.assess().unused], [u.code for u in with_form.assess().unused]
    assert unused == (["fact.unused"], [])


def test_audit_as_json_says_all_of_it() -> None:
    import json

    import jsonschema

    from witnessmark.exports.audit import audit_schema

    told = story(form({"fact": "make"}, {"fact": "power"}, applies={"drive": "pure"}), facts={"make": "Saltmarsh"})
    document = json.loads(audit_envelope(told.workshop(), told.assess()))
    jsonschema.Draft202012Validator(audit_schema()).validate(document)
    (said,) = document["forms"]
    assert (said["applies"], said["filled"], said["asked"]) == ("not-stated", 1, 2)
    assert said["empty"] == ["set:data", "set:data/2"]
    assert said["fields"][1]["gaps"][0]["command"] == "witnessmark record van facts power"


@pytest.mark.parametrize(
    ("facts", "codes"),
    [
        ({}, []),
        ({"pack_approval": "none"}, []),
        ({"pack_approval": "separate", "pack_approval_number": "E4*100R03/01*2492*00"}, []),
        ({"pack_approval": "separate", "pack_approval_number": "E4*100R04/00*2492*00"}, []),
        ({"pack_approval": "none", "pack_approval_number": "E4*100R03/01*2492*00"}, ["approval.contradicted"]),
        ({"pack_approval": "separate"}, ["approval.no-number"]),
        ({"pack_approval": "separate", "pack_approval_number": "E4*100R02/05*2492*00"}, ["approval.older-series"]),
        ({"pack_approval_number": "E4*100R02/05*2492*00"}, ["approval.older-series"]),
        ({"pack_approval": "separate", "pack_approval_number": "E4*10R05/00*2492*00"}, ["approval.regulation"]),
    ],
)
def test_approval_numbers_are_held_beside_what_else_is_stated(facts: Mapping[str, str], codes: list[str]) -> None:
    choices = {"none": "it has none", "separate": "it has one"}
    definitions = {
        **DEFINITIONS,
        "pack_approval": {"title": "pack approval", "ask": "?", "why": "!", "choices": choices, "of": "traction-pack"},
        "pack_approval_number": {
            "title": "approval number",
            "ask": "?",
            "why": "!",
            "approval": "yes",
            "of": "traction-pack",
        },
    }
    told = Story(definitions=definitions, parts={"traction-pack": {"p1": None}})
    told.put_set("set", (one_leaf(),), short="UN R100", series="03")
    if facts:
        told.state_facts("said", facts, at=1, part="p1")
    found = [p for p in told.assess().problems if p.code.startswith("approval.")]
    assert [p.code for p in found] == codes
    assert all(p.place is not None and p.remedy for p in found)
