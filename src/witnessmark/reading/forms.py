"""The authority's forms as they lie beside the sets, and what in them names nothing that there is."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache

from witnessmark.problems import Place, Problem
from witnessmark.quantities import QuantityError, parse_unit
from witnessmark.records.base import Frozen
from witnessmark.records.conditions import AllOf, AnyOf, Compare, Condition, Not, OneOf
from witnessmark.records.forms import Form, FormFile, Item
from witnessmark.records.sets import FactDefinition, RequirementSet

from .models import nearest, read_model
from .yamltree import Node, place_of, read_tree

__all__ = ["form_problems", "is_form", "read_forms"]


def is_form(path: str) -> bool:
    """Whether the path is that of a form of a set."""
    parts = path.split("/")
    return len(parts) == 4 and parts[0] == "requirements" and parts[2] == "forms" and path.endswith(".yaml")


@lru_cache(maxsize=64)
def _tree(data: bytes, path: str) -> Node | Problem:
    return read_tree(data, path)


def read_forms(files: Sequence[tuple[str, bytes]]) -> tuple[tuple[Form, ...], tuple[Problem, ...]]:
    """The forms of one set in their order, and every fault in them."""
    found: list[Form] = []
    problems: list[Problem] = []
    for path, data in files:
        root = _tree(data, path)
        if isinstance(root, Problem):
            problems.append(root)
            continue
        file, faults = read_model(FormFile, root, path)
        problems += faults
        if file is None:
            continue
        places: dict[str, Place] = {}
        for number, item in enumerate(file.items):
            place = place_of(root, ("items", number, "number"), "value", path)
            if item.number in places:
                problems.append(
                    Problem("form.doubled-item", f"the item {item.number} is in the form twice",
                            "the numbers are the authority's: write the one that the form prints", place,
                            related=(places[item.number],))
                )  # fmt: skip
                continue
            places[item.number] = place
        head = place_of(root, ("id",), "value", path)
        other = next((form for form in found if form.id == file.id), None)
        if other is not None:
            problems.append(
                Problem("form.doubled", f"the form '{file.id}' is in two files", "give one of them another id", head,
                        related=(other.place,))
            )  # fmt: skip
            continue
        found.append(Form(file, head, Frozen(places)))
    found.sort(key=lambda form: (form.file.order, form.id))
    return tuple(found), tuple(problems)


def form_problems(
    sets: Mapping[str, RequirementSet], facts: Mapping[str, FactDefinition], data: Mapping[str, bytes]
) -> Iterator[Problem]:
    """Facts, leaves and units that a form names and that there are not. `data` are the files, for the places.

    Nothing is said where the facts could not be read at all: that has been told.
    """
    if not facts:
        return
    for one in sets.values():
        for form in one.forms:
            root = _tree(data[form.place.file], form.place.file)
            if isinstance(root, Node):
                yield from _Names(one, form, facts, root).problems()


class _Names:
    """What one form names."""

    def __init__(self, found: RequirementSet, form: Form, facts: Mapping[str, FactDefinition], root: Node) -> None:
        self.set, self.form, self.facts, self.root = found, form, facts, root

    def at(self, *steps: str | int) -> Place:
        return place_of(self.root, steps, "value", self.form.place.file)

    def problems(self) -> Iterator[Problem]:
        file = self.form.file
        yield from self.condition(file.applies, None, self.at("applies"))
        if file.each is not None:
            yield from self.condition(file.each.where, file.each.part, self.at("each", "where"))
        for number, item in enumerate(file.items):
            yield from self.item(item, ("items", number))

    def item(self, item: Item, steps: tuple[str | int, ...]) -> Iterator[Problem]:
        known = [self.facts[key] for key in item.facts if key in self.facts]
        for number, key in enumerate(item.facts):
            place = self.at(*steps, "fact") if isinstance(item.fact, str) else self.at(*steps, "fact", number)
            yield from self.fact(key, item, place)
        kinds = {definition.of for definition in known}
        if len(kinds) > 1:
            yield Problem(
                "form.mixed-facts",
                f"the item {item.number} takes facts of different things: "
                f"{', '.join(sorted(kind or 'the vehicle' for kind in kinds))}",
                "make it two items, or take facts of one kind of part",
                self.at(*steps, "fact"),
            )
        kind = item.of or next((definition.of for definition in known if definition.of), None)
        yield from self.condition(item.applies, kind, self.at(*steps, "applies"))
        for number, ref in enumerate(item.leaves):
            place = self.at(*steps, "leaf") if isinstance(item.leaf, str) else self.at(*steps, "leaf", number)
            yield from self.leaf(ref, place)

    def fact(self, key: str, item: Item, place: Place) -> Iterator[Problem]:
        definition = self.facts.get(key)
        if definition is None:
            yield self.unknown(key, place)
            return
        if item.of is not None and definition.of not in (None, item.of):
            yield Problem(
                "form.fact-of",
                f"'{key}' is a fact of {definition.of}, and the item {item.number} is filled for {item.of}",
                f"write of: {definition.of}, or leave of out",
                place,
            )
        wanted = {"approval": definition.approval == "yes", "day": definition.day == "yes"}.get(item.kind, True)
        if item.kind in ("quantity", "size", "number") or item.unit is not None:
            wanted = definition.unit is not None
        if not wanted:
            article = "an" if item.kind == "approval" else "a"
            yield Problem(
                "form.kind",
                f"the item {item.number} is {article} {item.kind}, and '{key}' cannot be stated as one",
                "correct the kind, or the sort of the fact in requirements/facts.yaml",
                place,
            )
        elif item.unit is not None and definition.unit is not None:
            try:
                same = parse_unit(item.unit).compatible(parse_unit(definition.unit))
            except QuantityError as fault:
                yield Problem(fault.code, fault.message, fault.remedy, place)
                return
            if not same:
                yield Problem(
                    "form.unit",
                    f"the item {item.number} asks {item.unit}, and '{key}' is stated in {definition.unit}",
                    "take a unit of the same kind",
                    place,
                )

    def unknown(self, key: str, place: Place) -> Problem:
        near = nearest(key, self.facts)
        return Problem(
            "form.unknown-fact",
            f"the form '{self.form.id}' asks the fact '{key}', which requirements/facts.yaml does not define",
            f"did you mean '{near}'?" if near else "define it there: ask, why, and choices, unit or text",
            place,
        )

    def condition(self, condition: Condition | None, kind: str | None, place: Place) -> Iterator[Problem]:
        for test in _tests(condition):
            definition = self.facts.get(test.fact)
            if definition is None:
                yield self.unknown(test.fact, place)
            elif definition.of not in (None, kind):
                yield Problem(
                    "form.fact-of",
                    f"'{test.fact}' is a fact of {definition.of}, and here {kind or 'the vehicle'} is asked",
                    "ask a fact of the same thing; a whole form says each: {part: …, where: …}",
                    place,
                )
            elif isinstance(test, OneOf) and (strange := [v for v in test.values if v not in definition.choices]):
                near = nearest(strange[0], definition.choices)
                yield Problem(
                    "form.choice",
                    f"'{test.fact}' can never be '{strange[0]}'",
                    f"did you mean '{near}'?" if near else f"write one of {', '.join(definition.choices)}",
                    place,
                )
            elif isinstance(test, Compare) and definition.unit is None:
                yield Problem(
                    "form.compare", f"'{test.fact}' is no quantity, so it cannot be compared", "name its words", place
                )

    def leaf(self, ref: str, place: Place) -> Iterator[Problem]:
        name, _, leaf = ref.partition("/")
        requirement = self.set.requirement(name)
        if requirement is None:
            near = nearest(name, [r.id for r in self.set.requirements])
            yield Problem(
                "form.unknown-leaf",
                f"the set '{self.set.id}' has no requirement '{name}'",
                f"did you mean '{near}'?" if near else "name requirement/leaf of the form's own set",
                place,
            )
        elif leaf not in requirement.leaves:
            near = nearest(leaf, requirement.leaves)
            yield Problem(
                "form.unknown-leaf",
                f"'{name}' has no leaf '{leaf}'",
                f"did you mean '{near}'?" if near else f"its leaves are {', '.join(requirement.leaves)}",
                place,
            )


def _tests(condition: Condition | None) -> Iterator[OneOf | Compare]:
    match condition:
        case OneOf() | Compare():
            yield condition
        case Not(part=part):
            yield from _tests(part)
        case AllOf(parts=parts) | AnyOf(parts=parts):
            for one in parts:
                yield from _tests(one)
