"""From text as a person wrote it to the readings and facts that a method takes; each fault with its name."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from witnessmark.methods.base import InputSpec, Method, Reading
from witnessmark.problems import Problem
from witnessmark.quantities.propagation import Input
from witnessmark.quantities.quantity import Quantity, QuantityError, parse_quantity
from witnessmark.quantities.units import parse_unit

__all__ = ["Fault", "InputOf", "facts_as_written", "readings_as_written"]

Fault = tuple[str, Problem]
"""The name of the reading or fact, and what is wrong with it (without a place: the caller knows where it stands)."""

InputOf = Callable[[InputSpec, str, Quantity], Input | None]
"""Gives the uncertainty of one reading, by spec and by a name of its own (`u1`, or `resistance.2` for a repeat)."""


def readings_as_written(
    method: Method, texts: Mapping[str, str | Iterable[str]], input_of: InputOf | None = None
) -> tuple[dict[str, tuple[Reading, ...]], tuple[Fault, ...]]:
    """The readings of one record in the order of taking, and every fault. Names that the method does not know are left
    in, as words, so that `Method.evaluate` refuses them."""
    readings: dict[str, tuple[Reading, ...]] = {}
    faults: list[Fault] = []
    for name, given in texts.items():
        values = (given,) if isinstance(given, str) else tuple(given)
        spec = method.input(name)
        if spec is None or spec.choices:
            readings[name] = tuple(Reading(None, word=value) for value in values)
            continue
        kept = []
        for number, value in enumerate(values, start=1):
            try:
                quantity = parse_quantity(value, like=parse_unit(spec.unit) if spec.unit else None)
            except QuantityError as fault:
                faults.append((name, Problem(fault.code, f"{name}: {fault.message}", fault.remedy)))
                continue
            own_name = name if len(values) == 1 else f"{name}.{number}"
            kept.append(Reading(quantity, input_of(spec, own_name, quantity) if input_of else None))
        readings[name] = tuple(kept)
    return readings, tuple(faults)


def facts_as_written(method: Method, texts: Mapping[str, str]) -> tuple[dict[str, Quantity | str], tuple[Fault, ...]]:
    """The facts that the method declares, parsed in their unit, and every fault. Others are passed over."""
    facts: dict[str, Quantity | str] = {}
    faults: list[Fault] = []
    for spec in method.facts:
        text = texts.get(spec.name)
        if text is None:
            continue
        if not spec.unit:
            facts[spec.name] = text
            continue
        try:
            facts[spec.name] = parse_quantity(text, like=parse_unit(spec.unit))
        except QuantityError as fault:
            faults.append((spec.name, Problem(fault.code, f"{spec.name}: {fault.message}", fault.remedy)))
    return facts, tuple(faults)
