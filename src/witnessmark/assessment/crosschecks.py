"""Facts that can be checked against each other and against what was measured (rule 1)."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from witnessmark.assessment.approvals import approval_problems
from witnessmark.assessment.contradictions import contradictions
from witnessmark.assessment.facts import VEHICLE, Fact, as_quantity
from witnessmark.assessment.judging import World
from witnessmark.assessment.ledger import vehicle_of
from witnessmark.language import marked, say
from witnessmark.problems import Problem
from witnessmark.quantities import Quantity, QuantityError, parse_quantity
from witnessmark.quantities.format import printed
from witnessmark.records.acts import Record

__all__ = ["fact_problems"]

SEEN_READINGS: Mapping[str, tuple[str, ...]] = {"voltmeter-own-source": ("ub", "u1", "u2", "u1_loaded", "u2_loaded")}
"""Readings of a method that are voltages of the bus itself."""
SEEN_FIGURES: Mapping[str, tuple[str, ...]] = {"voltage-decay": ("highest_before", "voltage_at_start")}
"""Figures of a log, in volts, that the bus itself had."""
ROUNDING = 1e-9


def fact_problems(world: World) -> Iterator[Problem]:
    """A working voltage below cells × maximum cell voltage, or below what a record or log has seen; facts that
    exclude each other; approval numbers that do not fit what else is stated."""
    yield from _below_cells(world)
    yield from _below_seen(world)
    yield from approval_problems(world)
    yield from contradictions(world)


def _voltage(fact: Fact) -> Quantity | None:
    found = as_quantity(fact.value)
    return found if found is not None and found.unit.dimension == parse_quantity("1 V").unit.dimension else None


def _problem(world: World, fact: Fact, message: str) -> Problem:
    acts = world.ledger.by_code.get(fact.code, [])
    return Problem(
        "fact.working-voltage",
        message,
        say(
            "correct {fact} of {part} with a second person: nothing is judged by too low a voltage",
            fact=fact.key,
            part=fact.part,
        )
        if fact.part
        else say("correct {fact} with a second person: nothing is judged by too low a voltage", fact=fact.key),
        acts[0].place if acts else None,
    )


def _below_cells(world: World) -> Iterator[Problem]:
    for part in sorted(world.parts.known):
        cells = as_quantity(world.facts.stated("cells_in_series", part).value)
        each = _voltage(world.facts.stated("cell_voltage_max", part))
        if cells is None or each is None or cells.unit.symbol != "1":
            continue
        least = float(cells.si_exact * each.si_exact)
        # The vehicle's own figure, and that of every part whose circuit holds this pack.
        holders = [None, *(p for p in sorted(world.parts.known) if part in world.parts.members(p))]
        for holder in holders:
            fact = world.facts.stated("working_voltage", holder)
            voltage = _voltage(fact)
            if voltage is not None and voltage.si < least * (1 - ROUNDING):
                yield _problem(
                    world,
                    fact,
                    say(
                        "the working voltage is stated as {voltage}, but {part} has {cells} cells in series "
                        "of up to {each}: {least} V",
                        voltage=printed(voltage),
                        part=part,
                        cells=cells,
                        each=printed(each),
                        least=marked(f"{least:g}"),
                    ),
                )


def _below_seen(world: World) -> Iterator[Problem]:
    for act, record in world.ledger.of(Record, world.vehicle):
        if record.method is None or world.ledger.gone(act) or vehicle_of(act) is None:
            continue
        name = record.method.partition("/")[0]
        seen: list[tuple[str, float]] = []
        for reading in SEEN_READINGS.get(name, ()):
            texts = record.readings.get(reading, ())
            for text in (texts,) if isinstance(texts, str) else texts:
                try:
                    quantity = parse_quantity(text)
                except QuantityError:
                    continue
                if quantity.unit.dimension == parse_quantity("1 V").unit.dimension:
                    seen.append((say("{reading} is {value}", reading=reading, value=printed(quantity)), quantity.si))
        figures = world.ledger.workshop.figures.get(act.code, {})
        for key in SEEN_FIGURES.get(name, ()):
            number = figures.get(key)
            if isinstance(number, int | float):
                seen.append((say("its log shows {value} V", value=marked(f"{number:g}")), float(number)))
        fact = world.fact(record, "working_voltage")
        voltage = _voltage(fact)
        if voltage is None or not seen:
            continue
        words, highest = max(seen, key=lambda pair: pair[1])
        if highest > voltage.si * (1 + ROUNDING):
            where = record.part if record.part not in (None, VEHICLE) else say("the vehicle")
            yield _problem(
                world,
                fact,
                say(
                    "the working voltage is stated as {voltage}, but {code} at {part} has seen more: {seen}",
                    voltage=printed(voltage),
                    code=act.code,
                    part=where,
                    seen=words,
                ),
            )
