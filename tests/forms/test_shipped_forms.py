"""The shipped forms: the numbers are the authority's, nothing is in vain, and each says how sure it is."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.sets.loading import SETS, facts_of_folder, forms_of, tree_of
from witnessmark.quantities import parse_unit
from witnessmark.records.forms import FormFile

TYPED = tree_of(Path(__file__).with_name("items.yaml"))
OF_SET = {
    "un-r100-03": ("chassis-tied-circuits", "communication", "essential-characteristics"),
    "un-r100-02": ("chassis-tied-circuits", "communication", "essential-characteristics"),
    "un-r100-03-reess": ("communication-pack", "essential-characteristics-pack", "papers"),
    "un-r100-02-reess": ("communication-pack", "essential-characteristics-pack"),
}
ALL = [(name, form) for name in OF_SET for form in forms_of(SETS / name)]
IDS = [f"{name}:{form.id}" for name, form in ALL]


def test_the_sets_of_the_regulation_have_their_forms_and_no_other_set_has_any() -> None:
    found = {p.parent.name: tuple(f.id for f in forms_of(p.parent)) for p in SETS.glob("*/set.yaml")}
    assert {name: forms for name, forms in found.items() if forms} == OF_SET


@pytest.mark.parametrize(("name", "form"), ALL, ids=IDS)
def test_the_item_numbers_are_those_that_were_typed(name: str, form: FormFile) -> None:
    typed = TYPED[form.id]
    assert [i.number for i in form.items if not i.heading] == list(typed["items"])
    assert [i.number for i in form.items if i.heading] == list(typed["headings"])


@pytest.mark.parametrize(("name", "form"), ALL, ids=IDS)
def test_a_form_says_that_it_is_from_memory_and_was_compared_by_nobody(name: str, form: FormFile) -> None:
    assert form.source.confidence == "from-memory" and form.source.note


@pytest.mark.parametrize(("name", "form"), ALL, ids=IDS)
def test_units_are_those_of_the_table(name: str, form: FormFile) -> None:
    """Units as the table remembers them: kW, V, Ah, A, mm and %."""
    defined = facts_of_folder(SETS).facts
    for item in form.items:
        for key in item.facts:
            unit = defined[key].unit
            assert (item.unit is None) is (unit in (None, "1")), (item.number, key)
            if item.unit is not None:
                assert unit is not None and parse_unit(item.unit).compatible(parse_unit(unit)), item.number
        assert item.unit in (None, "kW", "V", "Ah", "A", "mm", "%"), item.number


@pytest.mark.parametrize("ident", ["essential-characteristics", "chassis-tied-circuits", "communication"])
def test_the_forms_of_both_series_ask_the_same(ident: str) -> None:
    new, old = ({f.id: f for f in forms_of(SETS / name)}[ident] for name in ("un-r100-03", "un-r100-02"))
    assert old.items == new.items
    assert (old.applies, old.each, old.order, old.place) == (new.applies, new.each, new.order, new.place)


@pytest.mark.parametrize("ident", ["essential-characteristics-pack", "communication-pack"])
def test_the_packs_forms_of_both_series_ask_the_same(ident: str) -> None:
    new, old = ({f.id: f for f in forms_of(SETS / name)}[ident] for name in ("un-r100-03-reess", "un-r100-02-reess"))
    assert old.items == new.items


def test_the_packs_form_is_that_of_the_vehicle_counted_from_one() -> None:
    vehicle = {f.id: f for f in forms_of(SETS / "un-r100-03")}["essential-characteristics"]
    pack = {f.id: f for f in forms_of(SETS / "un-r100-03-reess")}["essential-characteristics-pack"]
    rows = {"1" + i.number[1:]: i for i in vehicle.items if i.number.partition(".")[0] == "3"}
    for item in pack.items:
        if item.number != "1.9":
            assert item.model_copy(update={"number": ""}) == rows[item.number].model_copy(update={"number": ""})
    assert {i.number for i in pack.items} - set(rows) == {"1.9"}


def test_every_fact_that_only_a_form_asks_says_why() -> None:
    defined = facts_of_folder(SETS).facts
    asked = {key for _, form in ALL for item in form.items for key in item.facts}
    assert len(asked) > 40
    for key in asked:
        assert defined[key].title and defined[key].why.endswith("."), key
        assert defined[key].ask.rstrip(".").endswith(("?", "does", "are", "has it")) or "?" in defined[key].ask, key
