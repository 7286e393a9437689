"""Mistakes in a form: each with file, line, column and what to do. Places are counted by hand in the texts below."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.workshops import FILES, make, seal_by_hand
from witnessmark.reading.check import check
from witnessmark.reading.workshop import read_workshop

PATH = "requirements/mini/forms/data.yaml"
HEAD = "format: 1\nid: data\ntitle: Data\nplace: Annex 1\norder: 1\nsource: {confidence: own}\n"
GOOD = HEAD + 'items:\n  - {number: "1.1", title: voltage, kind: quantity, unit: V, fact: working_voltage}\n'
FACTS = FILES["requirements/facts.yaml"] + (
    "  pack_no: {title: number, ask: Which number?, why: It says the series., of: pack, approval: yes}\n"
    "  tested: {title: day, ask: When?, why: It decides., day: yes}\n"
    "  kind: {title: kind, ask: Which?, why: It decides., of: pack, choices: {dry: no gas, wet: gas}}\n"
)


def problems(root: Path, form: str, **more: str) -> list[tuple[str, str, str, str]]:
    make(root, {PATH: form, "requirements/facts.yaml": FACTS, **more})
    found = [p for p in check(root) if p.place and p.place.file in (PATH, *more)]
    return [(str(p.place).removeprefix(PATH), p.code, p.message, p.remedy) for p in found]


def test_a_good_form_has_no_problem_and_keeps_its_order(tmp_path: Path) -> None:
    second = GOOD.replace("id: data", "id: before").replace("order: 1", "order: 0")
    assert problems(tmp_path, GOOD, **{"requirements/mini/forms/other.yaml": second}) == []
    found = read_workshop(tmp_path).sets["mini"].forms
    assert [form.id for form in found] == ["before", "data"]
    assert str(found[1].places["1.1"]) == f"{PATH}:8:14"


@pytest.mark.parametrize(
    ("items", "place", "code", "message", "remedy"),
    [
        ('  - {number: "1", title: a, fact: vin}\n  - {number: "1", title: b, fact: vin}\n', ":9:14",
         "form.doubled-item", "the item 1 is in the form twice",
         "the numbers are the authority's: write the one that the form prints"),
        ('  - {number: "1", title: a, fact: vinn}\n', ":8:35",
         "form.unknown-fact", "the form 'data' asks the fact 'vinn', which requirements/facts.yaml does not define",
         "did you mean 'vin'?"),
        ('  - {number: "1", title: a, leaf: isolation/pictur}\n', ":8:35",
         "form.unknown-leaf", "'isolation' has no leaf 'pictur'", "did you mean 'picture'?"),
        ('  - {number: "1", title: a, leaf: insulation/value}\n', ":8:35",
         "form.unknown-leaf", "the set 'mini' has no requirement 'insulation'", "did you mean 'isolation'?"),
        ('  - {number: "1", title: a, leaf: value}\n', ":8:35",
         "model.value", "'leaf' is 'value', which does not fit",
         "a leaf of the form's own set is named requirement/leaf"),
        ('  - {number: "1", title: a}\n', ":8:5", "model.rule",
         "an item is filled from exactly one of fact, part, design, vehicle, workshop, leaf, index, left, heading",
         "make the two agree"),
        ('  - {number: "1", title: a, fact: vin, left: authority}\n', ":8:5", "model.rule",
         "an item is filled from exactly one of fact, part, design, vehicle, workshop, leaf, index, left, heading",
         "make the two agree"),
        ('  - {number: "1", title: a, part: serial}\n', ":8:5", "model.rule",
         "part needs of, the kind of part that is meant", "write of: traction-pack"),
        ('  - {number: "1", title: a, leaf: isolation/value, of: hv-bus}\n', ":8:5", "model.rule",
         "of belongs to a fact, a part or a design, and not to leaf", "make the two agree"),
        ('  - {number: "1", title: a, heading: yes, applies: {charging: ac}}\n', ":8:5", "model.rule",
         "a heading has no applies, only the items below it have", "make the two agree"),
        ('  - {number: "1 a", title: a, fact: vin}\n', ":8:14",
         "model.value", "'number' is '1 a', which does not fit",
         "an item number is written as the form prints it, such as 3.2.1"),
        ('  - {number: "1", title: a, kind: quantity, fact: vin}\n', ":8:51",
         "form.kind", "the item 1 is a quantity, and 'vin' cannot be stated as one",
         "correct the kind, or the sort of the fact in requirements/facts.yaml"),
        ('  - {number: "1", title: a, kind: approval, fact: vin}\n', ":8:51",
         "form.kind", "the item 1 is an approval, and 'vin' cannot be stated as one",
         "correct the kind, or the sort of the fact in requirements/facts.yaml"),
        ('  - {number: "1", title: a, kind: quantity, unit: A, fact: working_voltage}\n', ":8:60",
         "form.unit", "the item 1 asks A, and 'working_voltage' is stated in V", "take a unit of the same kind"),
        ('  - {number: "1", title: a, fact: pack_no, of: hv-bus}\n', ":8:35",
         "form.fact-of", "'pack_no' is a fact of pack, and the item 1 is filled for hv-bus",
         "write of: pack, or leave of out"),
        ('  - {number: "1", title: a, fact: [pack_no, vin]}\n', ":8:35",
         "form.mixed-facts", "the item 1 takes facts of different things: pack, the vehicle",
         "make it two items, or take facts of one kind of part"),
        ('  - {number: "1", title: a, fact: vin, applies: {kind: dry}}\n', ":8:49",
         "form.fact-of", "'kind' is a fact of pack, and here the vehicle is asked",
         "ask a fact of the same thing; a whole form says each: {part: …, where: …}"),
        ('  - {number: "1", title: a, fact: pack_no, applies: {kind: damp}}\n', ":8:53",
         "form.choice", "'kind' can never be 'damp'", "write one of dry, wet"),
        ('  - {number: "1", title: a, fact: vin, applies: {vin: {more_than: 3 V}}}\n', ":8:49",
         "form.compare", "'vin' is no quantity, so it cannot be compared", "name its words"),
        ('  - {number: "1", title: a, fact: vin, otherwise: none}\n', ":8:5", "model.rule",
         "otherwise is printed where applies does not hold, and there is no applies", "make the two agree"),
    ],
    ids=lambda value: value[:40] if isinstance(value, str) and value.startswith("  -") else "",
)  # fmt: skip
def test_each_mistake_is_told_where_it_is(
    tmp_path: Path, items: str, place: str, code: str, message: str, remedy: str
) -> None:
    assert problems(tmp_path, f"{HEAD}items:\n{items}") == [(place, code, message, remedy)]


def test_a_form_in_a_wrong_place_two_of_one_id_and_no_items(tmp_path: Path) -> None:
    other = "requirements/mini/forms/other.yaml"
    found = problems(tmp_path, GOOD, **{other: GOOD, "requirements/mini/deep/x/forms.yaml": GOOD})
    assert [(p, c) for p, c, _, _ in found] == [
        ("requirements/mini/deep/x/forms.yaml", "set.stray"),
        (f"{other}:2:5", "form.doubled"),
    ]
    ((_, code, message, _),) = problems(tmp_path / "2", HEAD + "items: []\n")
    assert (code, message) == ("model.rule", "a form has at least one item")


def test_what_is_wrong_stays_wrong_for_whoever_only_reads(tmp_path: Path) -> None:
    """The problems are the workshop's own: audit, build and freeze see them, not check alone."""
    make(tmp_path, {PATH: GOOD.replace("working_voltage", "working_voltag")})
    assert [p.code for p in read_workshop(tmp_path).problems if p.code.startswith("form.")] == ["form.unknown-fact"]


def test_a_stated_approval_or_day_that_is_none_is_told_at_its_line(tmp_path: Path) -> None:
    stated = "evidence/vehicles/van-07/facts/later.yaml"
    text = (
        "format: 1\nfacts:\n  tested: {value: 2026-02-30, source: report}\n  pack_no: {value: 03 2492, source: mark}\n"
        "stated: 2026-10-02T09:00+02:00\nby: jm\n"
    )
    found = problems(tmp_path, GOOD, **{stated: seal_by_hand(text, "k7k7k7")})
    assert [(p, c) for p, c, _, _ in found] == [(f"{stated}:4:19", "fact.day"), (f"{stated}:5:20", "fact.approval")]
    assert "E4*100R03/01*2492*00" in found[1][3]


def test_a_fact_has_one_sort(tmp_path: Path) -> None:
    make(
        tmp_path,
        {"requirements/facts.yaml": "format: 1\nfacts:\n  a: {title: a, ask: A?, why: B., approval: yes, day: yes}\n"},
    )
    (found,) = [p for p in check(tmp_path) if p.code == "model.rule"]
    assert found.message == "a fact has exactly one of choices, unit, text, approval and day"
