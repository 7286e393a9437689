"""Models of the authority's forms: which fields a form has, and where each is filled from. Plain data beside a set.

Item numbers are the authority's: they are never renumbered, and a form does not need to have all of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Annotated, Literal

from pydantic import model_validator

from witnessmark.problems import Place

from .base import Count, Format, Frozen, Ident, Key, Model, Phrase, Scalar, text_form
from .conditions import ConditionField, facts_of
from .sets import Each, RequirementSet, Source

__all__ = ["Form", "FormFile", "Item", "facts_of_form", "facts_of_item", "forms_ask"]

OwnLeaf = Annotated[
    str,
    *text_form(
        r"[a-z0-9]+(?:-[a-z0-9]+)*/[a-z0-9]+(?:-[a-z0-9]+)*",
        "a leaf of the form's own set is named requirement/leaf",
    ),
]
ItemNumber = Annotated[
    str,
    *text_form(
        r"[0-9]{1,3}(?:\.[0-9]{1,3}){0,5}[a-z]?",
        "an item number is written as the form prints it, such as 3.2.1",
    ),
]

_FROM = ("fact", "part", "design", "vehicle", "workshop", "leaf", "index", "left", "heading")


class Item(Model):
    """One field of a form. Exactly one of the last nine keys says where it is filled from."""

    number: ItemNumber
    """As the authority counts it."""
    title: Phrase
    """In own words, as a person says it."""
    kind: Literal["text", "list", "code", "party", "number", "quantity", "size", "day", "approval", "paper"] = "text"
    """What is filled in; `size` are measures with × between, `paper` is a drawing, picture or other paper."""
    unit: Scalar | None = None
    """The unit that the form asks; a value in another one is converted."""
    of: Ident | None = None
    """The kind of part it is filled for, one by one; absent: the vehicle, or the kind that the fact is of."""
    applies: ConditionField | None = None
    """Over the facts of the part, or of the vehicle; where it does not hold, the field is not applicable."""
    otherwise: Phrase | None = None
    """What is printed where it does not hold, such as `not applicable, sealed`."""
    enough: Literal["all", "one"] = "all"
    """Of several facts: whether each has to be stated, or one of them."""
    source: Source | None = None
    """Where it differs from the source of the form."""
    fact: Key | tuple[Key, ...] | None = None
    part: Literal["title", "serial", "design"] | None = None
    """What the list of parts says."""
    design: Literal["title", "maker", "revision"] | None = None
    """What the design says that the part is built to."""
    vehicle: Literal["title", "file_number", "issue", "owner", "service"] | None = None
    workshop: Literal["name", "place", "address"] | None = None
    """What workshop.yaml says; the address in one line, or the place where it has none."""
    leaf: OwnLeaf | tuple[OwnLeaf, ...] | None = None
    """The paper that shows it: number, pages and file of the record that governs there."""
    index: Literal["papers"] | None = None
    """The index of the package."""
    left: Literal["authority", "service", "applicant"] | None = None
    """Who fills it by hand; the line stays empty, and that is no gap."""
    heading: Literal["yes"] | None = None
    """Only a heading above the items below it."""

    @model_validator(mode="after")
    def _one_origin(self) -> Item:
        given = [name for name in _FROM if getattr(self, name) is not None]
        if len(given) != 1:
            raise ValueError(f"an item is filled from exactly one of {', '.join(_FROM)}")
        if given[0] in ("part", "design") and self.of is None:
            raise ValueError(f"{given[0]} needs of, the kind of part that is meant, such as of: traction-pack")
        if self.of is not None and given[0] not in ("fact", "part", "design"):
            raise ValueError(f"of belongs to a fact, a part or a design, and not to {given[0]}")
        if self.unit is not None and given[0] != "fact":
            raise ValueError("unit belongs to a fact")
        if self.otherwise is not None and self.applies is None:
            raise ValueError("otherwise is printed where applies does not hold, and there is no applies")
        if self.applies is not None and given[0] == "heading":
            raise ValueError("a heading has no applies, only the items below it have")
        return self

    @property
    def facts(self) -> tuple[str, ...]:
        """The facts that fill it."""
        return () if self.fact is None else (self.fact,) if isinstance(self.fact, str) else self.fact

    @property
    def leaves(self) -> tuple[str, ...]:
        """The leaves whose papers fill it, `requirement/leaf`."""
        return () if self.leaf is None else (self.leaf,) if isinstance(self.leaf, str) else self.leaf


class FormFile(Model):
    """`requirements/SET/forms/NAME.yaml`: one form of the authority."""

    format: Format
    id: Ident
    title: Phrase
    place: Phrase
    """Where the rule has it, such as `Annex 1, Appendix 2`."""
    order: Count
    """Place of this form among those of the set."""
    source: Source
    applies: ConditionField | None = None
    """Over the facts of the vehicle."""
    each: Each | None = None
    """The form is filled where there is such a part."""
    note: Phrase | None = None
    items: tuple[Item, ...]

    @model_validator(mode="after")
    def _some(self) -> FormFile:
        if not self.items:
            raise ValueError('a form has at least one item, such as items: [{number: "1", title: make, fact: make}]')
        return self


@dataclass(frozen=True, slots=True)
class Form:
    """One form as it lies in the folder. `places` maps item numbers to their place in the file."""

    file: FormFile
    place: Place
    places: Frozen[str, Place] = field(default_factory=Frozen)

    @property
    def id(self) -> str:
        return self.file.id


def facts_of_item(item: Item) -> tuple[str, ...]:
    """Every fact that an item asks, for its value or to know whether it applies."""
    return tuple(dict.fromkeys((*item.facts, *facts_of(item.applies))))


def facts_of_form(file: FormFile) -> Iterator[str]:
    """Every fact that a form asks."""
    yield from facts_of(file.applies)
    yield from facts_of(file.each.where) if file.each else ()
    for item in file.items:
        yield from facts_of_item(item)


def forms_ask(sets: Iterable[RequirementSet]) -> frozenset[str]:
    """Every fact that a form of these sets asks."""
    return frozenset(key for one in sets for form in one.forms for key in facts_of_form(form.file))
