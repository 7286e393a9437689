"""Stated facts that cannot both be true (rule 1): each pair is a problem that names both values and both places.

Only what is sure stands here: a pair that is merely unusual is none. To add a check, write a function from the world to
its contradictions and name it in `CHECKS`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from witnessmark.assessment.facts import Fact, as_quantity, told
from witnessmark.assessment.judging import World
from witnessmark.assessment.words import either, key_words
from witnessmark.language import declared, marked, say
from witnessmark.problems import Place, Problem
from witnessmark.quantities import Quantity, parse_unit
from witnessmark.quantities.format import printed

__all__ = ["CHECKED", "contradictions"]

HIGH_VOLTAGE = 60.0
"""V DC: above it a pack is high voltage. Source: UN Regulation No. 100, 03 series, definition of high voltage."""
SEATS_OF_A_CAR = 8
"""Seats beside the driver's, at most in M1 and more in M2 and M3. Source: UN Resolution R.E.3, section 2."""
ROUNDING = 1e-9
CHECKED = frozenset({
    "bus_topology", "category", "cell_temperature_max", "cell_temperature_min", "cell_voltage_max", "cell_voltage_min",
    "cells_in_series", "electrolyte", "engine_drives_on_start", "external_charge", "fuel_cell", "inlet_circuit",
    "nominal_voltage", "open_cells", "pack_voltage", "passengers", "pure_electric", "working_voltage",
})  # fmt: skip
"""Facts that a check here reads: they are needed, whatever the sets ask."""


@dataclass(frozen=True, slots=True)
class Contradiction:
    """Two stated facts that cannot both be true. `against` is None where the other side is a list of parts."""

    code: str
    fact: Fact
    message: str
    against: Fact | None = None
    related: tuple[Place, ...] = ()


def contradictions(world: World) -> Iterator[Problem]:
    """Every pair of facts of the vehicle and its parts that cannot both be true."""
    for check in CHECKS:
        for found in check(world):
            names = [_called(world, found.fact)]
            if found.against is not None and found.against.key != found.fact.key:
                names.append(_called(world, found.against))
            places = _places(world, found.fact)
            others = found.related + (_places(world, found.against) if found.against is not None else ())
            yield Problem(
                found.code,
                found.message,
                say("correct {facts}, whichever is wrong, with a second person", facts=either(names)),
                places[0] if places else None,
                related=tuple(p for p in others if p not in places),
            )


def _called(world: World, fact: Fact) -> str:
    named = world.facts.named(fact.key)
    if not fact.part:
        return say("the {fact}", fact=named)
    return say("the {fact} of {part}", fact=named, part=world.parts.title(fact.part))


def _places(world: World, fact: Fact) -> tuple[Place, ...]:
    acts = world.ledger.by_code.get(fact.code, [])
    return (acts[0].place,) if acts and acts[0].place is not None else ()


def _is(world: World, fact: Fact) -> str:
    """`the pack voltage class of Traction pack is low`."""
    return say("{fact} is {value}", fact=_called(world, fact), value=told(fact.value))


def _number(fact: Fact, unit: str) -> Quantity | None:
    """The fact as a quantity that can be compared with one in `unit`; None when it is not one."""
    found = as_quantity(fact.value)
    return found if found is not None and found.unit.compatible(parse_unit(unit)) else None


def _holders(world: World) -> tuple[str | None, ...]:
    """The vehicle and every part that is there."""
    return (None, *sorted(p for p in world.parts.known if not world.parts.is_removed(p)))


def _pairs(world: World, low: str, high: str, unit: str) -> Iterator[tuple[Fact, Quantity, Fact, Quantity]]:
    """Where both facts are stated of the same thing as quantities of the unit."""
    for part in _holders(world):
        one, other = world.facts.stated(low, part), world.facts.stated(high, part)
        first, second = _number(one, unit), _number(other, unit)
        if first is not None and second is not None:
            yield one, first, other, second


def _nominal_above_working(world: World) -> Iterator[Contradiction]:
    for nominal, low, working, high in _pairs(world, "nominal_voltage", "working_voltage", "V"):
        if low.si > high.si * (1 + ROUNDING):
            yield Contradiction(
                "fact.nominal-voltage",
                nominal,
                say(
                    "{one}, and {other}: the working voltage is the highest that can be",
                    one=_is(world, nominal),
                    other=_is(world, working),
                ),
                working,
            )


def _window_turned_round(world: World) -> Iterator[Contradiction]:
    for what, unit in (("cell_voltage", "V"), ("cell_temperature", "°C")):
        for least, low, most, high in _pairs(world, f"{what}_min", f"{what}_max", unit):
            if low.si >= high.si:
                yield Contradiction(
                    f"fact.{what.replace('_', '-')}-window",
                    least,
                    say(
                        "{one}, and {other}: the lowest has to lie below the highest",
                        one=_is(world, least),
                        other=_is(world, most),
                    ),
                    most,
                )


def _pack_voltages(world: World, pack: str) -> Iterator[tuple[Fact, float, str]]:
    """Voltages that are stated of the pack itself, in V, each with its words."""
    for key in ("working_voltage", "nominal_voltage"):
        fact = world.facts.stated(key, pack)
        voltage = _number(fact, "V")
        if voltage is not None:
            yield fact, voltage.si, _is(world, fact)
    cells, each = world.facts.stated("cells_in_series", pack), world.facts.stated("cell_voltage_max", pack)
    count, highest = _number(cells, "1"), _number(each, "V")
    if count is not None and highest is not None:
        yield (
            each,
            count.si * highest.si,
            say(
                "{n} cells in series of up to {highest} make {voltage} V",
                n=count,
                highest=printed(highest),
                voltage=marked(f"{count.si * highest.si:g}"),
            ),
        )


def _pack_class(world: World) -> Iterator[Contradiction]:
    for pack in world.parts.of_kind("traction-pack").parts:
        stated = world.facts.stated("pack_voltage", pack)
        for fact, voltage, words in _pack_voltages(world, pack):
            # The nominal voltage is not the highest: at 60 V or less it does not make the pack a low one.
            too_high = stated.value == "low" and voltage > HIGH_VOLTAGE * (1 + ROUNDING)
            too_low = stated.value == "high" and voltage <= HIGH_VOLTAGE and fact.key != "nominal_voltage"
            if too_high or too_low:
                beside = declared("{one}, but {other}, above {limit} V")
                if too_low:
                    beside = declared("{one}, but {other}, not above {limit} V")
                yield Contradiction(
                    "fact.pack-voltage",
                    stated,
                    say(beside, one=_is(world, stated), other=words, limit=f"{HIGH_VOLTAGE:g}"),
                    fact,
                )


def _excused_bus(world: World) -> Iterator[Contradiction]:
    for bus in world.parts.of_kind("hv-bus").parts:
        stated, working = world.facts.stated("bus_topology", bus), world.facts.stated("working_voltage", bus)
        voltage = _number(working, "V")
        if stated.value == "low-voltage-tied" and voltage is not None and voltage.si > HIGH_VOLTAGE * (1 + ROUNDING):
            yield Contradiction(
                "fact.excused-bus",
                stated,
                say(
                    "{one}, but {other}: such a bus never has more than {limit} V",
                    one=_is(world, stated),
                    other=_is(world, working),
                    limit=f"{HIGH_VOLTAGE:g}",
                ),
                working,
            )


def _listed(world: World, kind: str) -> tuple[Place, ...]:
    """Where the list of the kind was stated."""
    acts = (act for act, _ in world.facts.lists.get(kind, ()) if not world.ledger.gone(act))
    return tuple(dict.fromkeys(act.place for act in acts if act.place is not None))


def _charging(world: World) -> Iterator[Contradiction]:
    charge = world.facts.stated("external_charge", None)
    if charge.value is None:
        return
    inlets, roof = world.parts.of_kind("charge-inlet"), world.parts.of_kind("roof-charging-contact")
    if charge.value == "none":
        for kind in (inlets, roof):
            for part in kind.parts:
                yield Contradiction(
                    "fact.external-charge",
                    charge,
                    say(
                        "{one}, but {part} is a {kind} of the vehicle",
                        one=_is(world, charge),
                        part=world.parts.title(part),
                        kind=key_words(kind.kind),
                    ),
                    related=_listed(world, kind.kind),
                )
        return
    # A heavy vehicle whose list of roof contacts nobody stated may have one.
    car = world.facts.stated("category", None).value in ("M1", "N1")
    if inlets.stated and not inlets.parts and not roof.parts and (roof.stated or car):
        yield Contradiction(
            "fact.external-charge",
            charge,
            say(
                "{one}, but the list of charge inlets is empty and no contact stands on the roof",
                one=_is(world, charge),
            ),
            related=_listed(world, "charge-inlet"),
        )


def _inlet_circuit(world: World) -> Iterator[Contradiction]:
    charge = world.facts.stated("external_charge", None)
    other = {"ac": "dc-separate", "dc": "ac-separate"}.get(str(charge.value))
    for inlet in world.parts.of_kind("charge-inlet").parts:
        circuit = world.facts.stated("inlet_circuit", inlet)
        if other is not None and circuit.value == other:
            yield Contradiction(
                "fact.inlet-circuit",
                circuit,
                say(
                    "{one}, but {other}: that current does not flow in this circuit",
                    one=_is(world, circuit),
                    other=_is(world, charge),
                ),
                charge,
            )


def _drive(world: World) -> Iterator[Contradiction]:
    pure = world.facts.stated("pure_electric", None)
    if pure.value != "yes":
        return
    for key in ("fuel_cell", "engine_drives_on_start"):
        also = world.facts.stated(key, None)
        if also.value == "yes":
            yield Contradiction(
                "fact.pure-electric",
                pure,
                say(
                    "{one}, and {other}: then the pack is not the only source of power",
                    one=_is(world, pure),
                    other=_is(world, also),
                ),
                also,
            )


def _passengers(world: World) -> Iterator[Contradiction]:
    category, said = world.facts.stated("category", None), world.facts.stated("passengers", None)
    count = _number(said, "1")
    if count is None:
        return
    few = count.si <= SEATS_OF_A_CAR
    if (category.value == "M1" and not few) or (category.value in ("M2", "M3") and few):
        text = declared("{one}, but {other}, which carries more than {n} beside the driver")
        if category.value == "M1":
            text = declared("{one}, but {other}, which carries at most {n} beside the driver")
        yield Contradiction(
            "fact.passengers",
            said,
            say(text, one=_is(world, said), other=_is(world, category), n=SEATS_OF_A_CAR),
            category,
        )


def _open_cells(world: World) -> Iterator[Contradiction]:
    for pack in world.parts.of_kind("traction-pack").parts:
        cells, electrolyte = world.facts.stated("open_cells", pack), world.facts.stated("electrolyte", pack)
        if cells.value == "yes" and electrolyte.value == "non-aqueous":
            yield Contradiction(
                "fact.open-cells",
                cells,
                say(
                    "{one}, but {other}: open cells are those that need water",
                    one=_is(world, cells),
                    other=_is(world, electrolyte),
                ),
                electrolyte,
            )


CHECKS: tuple[Callable[[World], Iterator[Contradiction]], ...] = (
    _nominal_above_working,
    _window_turned_round,
    _pack_class,
    _excused_bus,
    _charging,
    _inlet_circuit,
    _drive,
    _passengers,
    _open_cells,
)
