"""Readings, conditions and channels of a record against what its method declares, each fault at the reading itself."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from witnessmark.problems import Place, Problem
from witnessmark.quantities import QuantityError, parse_quantity, parse_unit
from witnessmark.records.acts import Record

from .acts import ActText, place_in
from .models import nearest

if TYPE_CHECKING:
    from witnessmark.methods.base import InputSpec, Method

__all__ = ["readings_of"]


def readings_of(text: ActText) -> Iterator[Problem]:
    """Every fault in what a record says to its method; nothing without such a method: that is said elsewhere."""
    from witnessmark.methods.registry import method

    body = text.body
    if not isinstance(body, Record) or body.method is None:
        return
    found = method(body.method)
    if found is None:
        return
    mistyped: set[str | None] = set()
    for name, value in body.readings.items():
        spec = found.input(name)
        if spec is None:
            mistyped.add(nearest(name, [s.name for s in found.inputs]))
            yield _not_known(
                "reading.unknown",
                f"{found.id} has no reading '{name}'",
                name,
                [s.name for s in found.inputs],
                place_in(text, "readings", name, key=True),
            )
        elif isinstance(value, str):
            yield from _one(spec, value, place_in(text, "readings", name))
        else:
            yield from _list(text, spec, value)
    yield from _missing(text, body, found, mistyped)
    yield from _names(text, body, found)


def _list(text: ActText, spec: InputSpec, values: tuple[str, ...]) -> Iterator[Problem]:
    place = place_in(text, "readings", spec.name)
    if not spec.repeats and len(values) != 1:
        comma = len(values) == 2 and values[0].lstrip("-+").isdigit() and values[1][:1].isdigit()
        remedy = (
            f"a decimal has a point: {spec.name}: {values[0]}.{values[1]}"
            if comma
            else "keep the one that was read, or make a record for each series"
        )
        yield Problem("reading.repeated", f"'{spec.name}' has {len(values)} readings, and one is taken", remedy, place)
        return
    for number, value in enumerate(values):
        yield from _one(spec, value, place_in(text, "readings", spec.name, number))


def _one(spec: InputSpec, value: str, place: Place) -> Iterator[Problem]:
    if spec.choices:
        if value not in spec.choices:
            near = nearest(value, spec.choices)
            remedy = f"did you mean '{near}'?" if near else "write " + " or ".join(spec.choices)
            yield Problem("reading.choice", f"'{spec.name}' cannot be '{value}'", remedy, place)
        return
    try:
        quantity = parse_quantity(value, like=parse_unit(spec.unit))
    except QuantityError as fault:
        yield Problem(fault.code, f"{spec.name}: {fault.message}", fault.remedy, place)
        return
    if quantity.bound and not spec.bound_allowed:
        yield Problem(
            "reading.bound",
            f"'{spec.name}' is only a bound ({quantity}), and nothing can be computed from it",
            "choose a range of the instrument that shows a number",
            place,
        )


def _missing(text: ActText, body: Record, found: Method, mistyped: set[str | None]) -> Iterator[Problem]:
    place = place_in(text, "readings", key=True) if body.readings else place_in(text, "method", key=True)
    for spec in found.inputs:
        if spec.required and spec.name not in body.readings and spec.name not in mistyped:
            unit = f"… {spec.unit}" if spec.unit else " or ".join(spec.choices)
            yield Problem(
                "reading.missing",
                f"{found.id} needs the reading '{spec.name}' ({spec.title})",
                f"write {spec.name}: {unit}",
                place,
            )
    if found.channels and body.log is None:
        yield Problem(
            "log.missing",
            f"{found.id} is computed from a log, and the record names none",
            "write log: {file: …, channels: …}",
            place_in(text, "method", key=True),
        )


def _names(text: ActText, body: Record, found: Method) -> Iterator[Problem]:
    """Roles and channels must be the method's; a condition may be anything, but a near miss is a mistake."""
    roles = [role.name for role in found.roles]
    for role in body.instruments:
        if role not in roles:
            place = place_in(text, "instruments", role, key=True)
            yield _not_known(
                "instrument.role", f"{found.id} has no place for an instrument called '{role}'", role, roles, place
            )
    if body.log is not None:
        channels = [channel.name for channel in found.channels]
        for name in body.log.channels:
            if name not in channels:
                place = place_in(text, "log", "channels", name, key=True)
                yield _not_known("log.channel", f"{found.id} has no channel '{name}'", name, channels, place)
        for channel in found.channels:
            if channel.required and channel.name not in body.log.channels:
                yield Problem(
                    "log.channel-missing",
                    f"{found.id} needs the channel '{channel.name}' ({channel.title})",
                    f"write {channel.name}: and the name of its column",
                    place_in(text, "log", "channels", key=True),
                )
    conditions = [condition.name for condition in found.conditions]
    for name in body.conditions:
        near = nearest(name, conditions, cutoff=0.8)
        if name not in conditions and near is not None and near not in body.conditions:
            place = place_in(text, "conditions", name, key=True)
            yield Problem(
                "condition.unknown", f"{found.id} asks for no condition '{name}'", f"did you mean '{near}'?", place
            )


def _not_known(code: str, message: str, word: str, known: list[str], place: Place) -> Problem:
    near = nearest(word, known)
    listed = f"leave it out; known are {', '.join(known)}" if known else "leave it out"
    return Problem(code, message, f"did you mean '{near}'?" if near else listed, place)
