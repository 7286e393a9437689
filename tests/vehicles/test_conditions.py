"""Every comparison in every condition is exercised both ways, by vehicles whose answer was typed from the rules."""

from __future__ import annotations

from tests.sets.loading import SET_FOLDERS, SETS, facts_of_folder, requirements_of
from tests.vehicles.reading import atoms, true_of, typed_vehicles
from witnessmark.records.conditions import Compare, OneOf

VEHICLES = typed_vehicles()
CONDITIONS = [
    (f"{folder.name}:{r.id}", r.each.part if where and r.each else None, atom)
    for folder in SET_FOLDERS
    for r in requirements_of(folder)
    for where, condition in ((False, r.applies), (True, r.each.where if r.each else None))
    for atom in atoms(condition)
]


def ways(reference: str, part: str | None, atom: OneOf | Compare) -> set[bool]:
    """The truths that vehicles with a typed line for this requirement give to the comparison."""
    seen: set[bool | None] = set()
    for vehicle in VEHICLES:
        if reference not in vehicle.asked:
            continue
        of = [vehicle.facts] if part is None else list(vehicle.parts.get(part, {}).values())
        seen |= {true_of(atom, facts) for facts in of}
    return {way for way in seen if way is not None}


def test_there_are_conditions_and_vehicles() -> None:
    assert len(CONDITIONS) >= 150 and len(VEHICLES) >= 6


def test_every_comparison_is_exercised_both_ways() -> None:
    one_way = [f"{ref}: {atom}" for ref, part, atom in CONDITIONS if ways(ref, part, atom) != {True, False}]
    assert one_way == []


def test_every_word_that_a_condition_names_is_stated_by_a_vehicle() -> None:
    """`category is M1 or N1`: one of them M1, one of them N1."""
    said: dict[str, set[str]] = {}
    for vehicle in VEHICLES:
        for facts in (vehicle.facts, *(f for of in vehicle.parts.values() for f in of.values())):
            for key, value in facts.items():
                said.setdefault(key, set()).update(value if isinstance(value, tuple) else (value,))
    missing = {
        f"{a.fact}: {v}" for _, _, a in CONDITIONS if isinstance(a, OneOf) for v in a.values if v not in said[a.fact]
    }
    assert missing == set()


def test_every_choice_of_a_fact_that_a_condition_asks_is_stated_by_a_vehicle() -> None:
    definitions = facts_of_folder(SETS).facts
    asked = {atom.fact for _, _, atom in CONDITIONS}
    said = {
        (k, v)
        for x in VEHICLES
        for f in (x.facts, *(f for of in x.parts.values() for f in of.values()))
        for k, v in f.items()
    }
    missing = {
        f"{fact}: {choice}" for fact in asked for choice in definitions[fact].choices if (fact, choice) not in said
    }
    assert missing == set()


def test_a_comparison_lies_at_its_limit_once() -> None:
    """22 passengers, 1.5 m: the limit itself is where a condition is most often written wrong."""
    at_limit = {
        str(atom)
        for ref, part, atom in CONDITIONS
        if isinstance(atom, Compare)
        for vehicle in VEHICLES
        if ref in vehicle.asked
        for facts in ([vehicle.facts] if part is None else vehicle.parts.get(part, {}).values())
        if facts.get(atom.fact) == str(atom.limit)
    }
    assert {str(atom) for _, _, atom in CONDITIONS if isinstance(atom, Compare)} == at_limit
