"""What measured leaves demand of a record beside the number: words that the method reads, and prescribed methods."""

from __future__ import annotations

import pytest

from tests.sets.loading import SET_FOLDERS, requirements_of
from witnessmark.methods.base import Method
from witnessmark.methods.registry import method, method_ids
from witnessmark.records.sets import Leaf

METHODS: list[Method] = [m for m in map(method, method_ids()) if m is not None]
MEASURED = {
    f"{folder.name}:{r.id}/{name}": leaf
    for folder in SET_FOLDERS
    for r in requirements_of(folder)
    for name, leaf in r.leaves.items()
    if leaf.measure
}


def usable(leaf: Leaf) -> list[Method]:
    """Methods that yield the measurand, of those that the leaf allows."""
    yields = [m for m in METHODS if leaf.measure in {spec.name for spec in m.measurands}]
    return [m for m in yields if not leaf.methods or m.id in leaf.methods]


@pytest.mark.parametrize("name", MEASURED)
def test_a_method_is_there_and_a_word_that_it_reads_is_one_of_its_choices(name: str) -> None:
    leaf = MEASURED[name]
    assert usable(leaf)
    for key, value in leaf.conditions.items():
        choices = [spec.choices for m in usable(leaf) for spec in m.inputs if spec.name == key and spec.choices]
        assert not choices or any(value in those for those in choices), f"{key}: {value} can never be met"


def test_what_could_be_chosen_to_pass_is_demanded() -> None:
    """A choice that changes the result is not left to whoever measures: class of a shock, form of an energy."""
    demanded = {
        ("shock-lower-margin", "class"), ("shock-lower-margin", "direction"), ("shock-upper-margin", "class"),
        ("shock-upper-margin", "direction"), ("energy-largest", "form"), ("energy-y1", "form"), ("energy-y2", "form"),
    }  # fmt: skip
    seen = set()
    for name, leaf in MEASURED.items():
        for measurand, key in demanded:
            if leaf.measure == measurand:
                assert key in leaf.conditions, name
                seen.add((measurand, key))
    assert seen == demanded
