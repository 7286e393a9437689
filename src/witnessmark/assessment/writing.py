"""A stated value as it is printed in a field of a form: in the unit of the form, a choice by its meaning."""

from __future__ import annotations

from witnessmark.language import say
from witnessmark.quantities import QuantityError, parse_quantity, parse_unit
from witnessmark.quantities.format import printed
from witnessmark.records.approvals import ApprovalError, parse_approval
from witnessmark.records.base import is_day
from witnessmark.records.forms import Item
from witnessmark.records.sets import FactDefinition

__all__ = ["Unreadable", "written"]


class Unreadable(ValueError):
    """A stated value that is not what the fact asks."""

    def __init__(self, message: str, remedy: str) -> None:
        super().__init__(message)
        self.message, self.remedy = message, remedy


def written(item: Item, definition: FactDefinition, value: str | tuple[str, ...]) -> str:
    """The value in words. Raises `Unreadable` where it cannot be what the fact asks."""
    single = (value,) if isinstance(value, str) else value
    if not single:
        raise Unreadable(say("the list is empty"), say("state at least one"))
    words = [_one(item, definition, text) for text in single]
    return " × ".join(words) if item.kind == "size" else ", ".join(words)


def _one(item: Item, definition: FactDefinition, text: str) -> str:
    if definition.choices:
        if text not in definition.choices:
            raise Unreadable(
                say("'{text}' is none of its words", text=text),
                say("write one of {names}", names=", ".join(definition.choices)),
            )
        return text if item.kind in ("code", "list") else definition.choices[text]
    if definition.approval == "yes":
        try:
            found = parse_approval(text)
        except ApprovalError as fault:
            raise Unreadable(fault.message, fault.remedy) from None
        return say(
            "{number} (in the mark: {mark}, beside {beside})", number=found, mark=found.mark, beside=found.beside
        )
    if definition.day == "yes" and not is_day(text):
        raise Unreadable(say("'{text}' is no day", text=text), say("write it as {example}", example="2026-10-14"))
    return text if definition.unit is None else _quantity(item, definition.unit, text)


def _quantity(item: Item, unit: str, text: str) -> str:
    try:
        found = parse_quantity(text, like=parse_unit(unit), bare=unit == "1")
        if found.bound:
            raise Unreadable(say("'{text}' is a bound and no value", text=text), say("state the value itself"))
        shown = found.to(parse_unit(item.unit)) if item.unit is not None else found
    except QuantityError as fault:
        raise Unreadable(fault.message, fault.remedy) from None
    return printed(shown)
