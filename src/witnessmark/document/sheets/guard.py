"""What has to be read for a pass: the limit with the uncertainty of this meter already in it.

The method itself is asked: readings like those last taken with it are moved until the decision rule just says pass.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from witnessmark.assessment.facts import as_quantity
from witnessmark.assessment.instruments import accuracy_for, calibration_in_force
from witnessmark.assessment.judging import World
from witnessmark.assessment.policy import rule_in_force
from witnessmark.document.views.results import passes_from
from witnessmark.document.views.words import plain_name
from witnessmark.methods.base import InputSpec, Method, Output, Reading, Result
from witnessmark.methods.written import readings_as_written
from witnessmark.quantities import Quantity, QuantityError, Unit, parse_quantity, parse_unit
from witnessmark.quantities.accuracy import reading_input
from witnessmark.quantities.decision import Decision, DecisionRule, Limit, decide
from witnessmark.quantities.format import show
from witnessmark.quantities.propagation import Input
from witnessmark.records.acts import Record
from witnessmark.records.sets import Criterion, Leaf
from witnessmark.records.sets import Limit as FromFact
from witnessmark.records.world import Act

from .asked import RowAsked, SheetAsked

__all__ = ["Bench", "Edge", "bench_of", "edges"]

Meter = Callable[[InputSpec, str, Quantity], Input | None]

_SPAN = 40
_HALVINGS = 40


@dataclass(frozen=True, slots=True)
class Edge:
    """One line of "to know at the car": what it is, the limit, what has to be read, and what is added for the meter.

    `must` and `added` are "" where it cannot be said beforehand: then only the limit is known.
    """

    title: str
    limit: str
    must: str = ""
    added: str = ""
    lower: bool = True


@dataclass(frozen=True, slots=True)
class Bench:
    """With what the sheet counts: readings as last taken by this method, and the meters that are calibrated now."""

    method: Method
    readings: Mapping[str, str | tuple[str, ...]]
    instruments: Mapping[str, str]
    due: Mapping[str, date]
    like: str = ""
    """Code of the record that the readings are like."""


def bench_of(world: World, sheet: SheetAsked, day: date) -> Bench | None:
    """Readings and meters for one sheet; None where nothing is measured. Meters out of calibration are passed over."""
    method = sheet.method
    if method is None:
        return None
    acts = [a for a in world.ledger.workshop.acts if isinstance(a.body, Record) and a.body.method == method.id]
    own = [a for a in acts if any(ref.rpartition(":")[2].startswith(f"{sheet.requirement}/") for ref in _shows(a))]
    found = max(own or acts, key=lambda a: (a.appeared if a.appeared is not None else 10**9, a.code), default=None)
    record = found.body if found is not None and isinstance(found.body, Record) else None
    instruments: dict[str, str] = {}
    due: dict[str, date] = {}
    for role in method.roles:
        known = world.ledger.workshop.instruments
        last = record.instruments.get(role.name, "") if record else ""
        able = [i for i in sorted(known) if role.function in known[i].functions]
        for name in ([last] if last else []) + able:
            calibration = calibration_in_force(world.ledger, name, day)
            if calibration is not None and day <= calibration[1].due:
                instruments[role.name], due[role.name] = name, calibration[1].due
                break
    return Bench(method, dict(record.readings) if record else {}, instruments, due, found.code if found else "")


def _shows(act: Act) -> tuple[str, ...]:
    return tuple(act.body.shows) if isinstance(act.body, Record) else ()


def edges(world: World, sheet: SheetAsked, row: RowAsked, bench: Bench, day: date) -> tuple[Edge, ...]:
    """For every criterion of every measured leaf of one row what has to be read, in the order of the set."""
    found: list[Edge] = []
    for name in sheet.measured:
        leaf = sheet.leaf(name)
        several = len(leaf.criteria) > 1
        for criterion_name, criterion in leaf.criteria.items():
            limit = _limit(world, criterion, row.part)
            spec = bench.method.measurand(leaf.measure or "")
            title = spec.title if spec else plain_name(leaf.measure or name)
            if several:
                title += f", {plain_name(criterion_name)}"
            if limit is None:
                words = getattr(criterion.limit, "fact", str(criterion.limit))
                found.append(Edge(title, f"{plain_name(words)}: not stated"))
                continue
            in_force = rule_in_force(
                world.ledger, world.ledger.workshop.sets.get(sheet.set_id), sheet.state.requirement, leaf, day
            )
            found += _edge(world, row, bench, leaf, limit, in_force.decide_by()[0], title, day)
    return tuple(dict.fromkeys(found))


def _limit(world: World, criterion: Criterion, part: str | None) -> Limit | None:
    given = criterion.limit
    if isinstance(given, FromFact):
        quantity = as_quantity(world.facts.fact(given.fact, part).value)
        if quantity is None or quantity.bound or quantity.U is not None:
            return None
    else:
        quantity = given
    return Limit.of(criterion.how, quantity)  # type: ignore[arg-type]  # a criterion has no other comparison


def _edge(
    world: World,
    row: RowAsked,
    bench: Bench,
    leaf: Leaf,
    limit: Limit,
    rule: DecisionRule,
    title: str,
    day: date,
) -> list[Edge]:
    """The line of one limit, and of what else the method yields at that point (the resistance itself, in its unit)."""
    plain = Edge(title, str(limit), lower=limit.lower)
    point = _just_passing(world, row, bench, leaf, limit, rule, day)
    if point is None:
        return [plain]
    result, decision = point
    output = result.output(leaf.measure or "")
    assert output is not None  # it was decided on
    unit = _unit(bench, output, limit)
    like = show(output.value, output.U, unit, choose_prefix=False)
    must = passes_from(decision, like)
    if not must or not like.U:
        return [plain]
    band = like.U
    if rule.probability is not None and decision.acceptance_limit is not None:
        band = show(abs(decision.acceptance_limit - float(limit.si)), None, unit.difference, choose_prefix=False).value
    added = band if like.unit == "1" else f"{band} {like.unit}"
    lines = [replace(plain, must=must, added=added)]
    edge = float(limit.si)
    for other in result.outputs:
        if other.measurand == output.measurand or not edge or not output.value:
            continue
        spec = bench.method.measurand(other.measurand)
        ratio = other.value / output.value
        begin = decision.acceptance_limit if decision.acceptance_limit is not None else edge
        shown = show(begin * ratio, (output.U or 0.0) * abs(ratio), other.unit)
        at_limit = show(edge * ratio, None, parse_unit(shown.unit), significant=3, choose_prefix=False)
        words = f"{str(limit).partition(' ')[0]} {str(limit).split()[1]}"
        lines.append(
            Edge(
                spec.title if spec else plain_name(other.measurand),
                f"{words} {at_limit}",
                _rounded(shown.value, shown.U, limit.lower) + f" {shown.unit}",
                f"{shown.U} {shown.unit}",
                limit.lower,
            )
        )
    return lines


def _rounded(value: str, spread: str, lower: bool) -> str:
    """One step of the last digit to the safe side: what is printed has to pass."""
    places = len(spread.partition(".")[2])
    step = Decimal(1).scaleb(-places)
    number = Decimal(value.replace("\u2212", "-").replace("\u202f", "")) + (step if lower else -step)
    return f"{number:f}".replace("-", "\u2212")


def _unit(bench: Bench, output: Output, limit: Limit) -> Unit:
    """The unit in which a reading of the same kind is written, else that of the limit."""
    for spec in bench.method.inputs:
        quantity = _quantity(bench.readings.get(spec.name, ()), spec)
        if quantity is not None and spec.symbol and quantity.unit.compatible(output.unit):
            return quantity.unit
    return limit.unit


def _quantity(text: str | tuple[str, ...], spec: InputSpec) -> Quantity | None:
    first = text if isinstance(text, str) else (text or ("",))[0]
    if not first or not spec.unit:
        return None
    try:
        return parse_quantity(first, like=parse_unit(spec.unit))
    except QuantityError:
        return None


# ---------------------------------------------------------------- the point at which a pass begins


def _just_passing(
    world: World, row: RowAsked, bench: Bench, leaf: Leaf, limit: Limit, rule: DecisionRule, day: date
) -> tuple[Result, Decision] | None:
    """The result nearest to its limit that is still a pass, when one reading is moved and the others stay."""
    if not bench.readings or set(bench.instruments) < {r.name for r in bench.method.roles if r.required}:
        return None
    facts: dict[str, Quantity | str] = {}
    for wanted in bench.method.facts:
        value = world.facts.fact(wanted.name, row.part).value
        known = as_quantity(value) if wanted.unit else value
        if isinstance(known, (Quantity, str)):
            facts[wanted.name] = known

    def meter(spec: InputSpec, name: str, quantity: Quantity) -> Input | None:
        role = next((r for r in bench.method.roles if r.name == spec.role), None)
        instrument = bench.instruments.get(spec.role, "") if role else ""
        found = calibration_in_force(world.ledger, instrument, day) if instrument else None
        if role is None or found is None:
            return reading_input(name, quantity, None)
        return reading_input(name, quantity, accuracy_for(found[1], role, quantity), instrument)

    readings, faults = readings_as_written(bench.method, bench.readings, None)
    if faults:
        return None
    for moved in reversed([s for s in bench.method.inputs if s.name in readings and not s.choices]):
        if moved.name not in readings or any(r.quantity is None or r.quantity.bound for r in readings[moved.name]):
            continue

        def at(factor: float, moved: InputSpec = moved) -> tuple[Result, Decision] | None:
            tried = {
                name: tuple(
                    _moved(bench, name, n, r, factor if name == moved.name else 1.0, meter)
                    for n, r in enumerate(several, 1)
                )
                for name, several in readings.items()
            }
            done = bench.method.evaluate(tried, facts, None)
            output = done.output(leaf.measure or "") if isinstance(done, Result) else None
            if output is None or not isinstance(done, Result) or output.U is None:
                return None
            return done, decide(output.value, output.U, output.bound, limit, rule, u=output.u, dof=output.dof)

        found = _crossing(at)
        if found is not None:
            return found
    return None


def _moved(bench: Bench, name: str, n: int, reading: Reading, factor: float, meter: Meter) -> Reading:
    spec = bench.method.input(name)
    if reading.quantity is None or spec is None:
        return reading
    quantity = replace(
        reading.quantity, value=Decimal(repr(float(reading.quantity.value) * factor)), U=None, k=None, text=""
    )
    return Reading(quantity, meter(spec, name if n == 1 else f"{name}.{n}", quantity))


def _crossing(at: Callable[[float], tuple[Result, Decision] | None]) -> tuple[Result, Decision] | None:
    """Where passing begins between a hundredth and a hundred times the reading; None when that never changes."""
    steps = [10.0 ** (4.0 * n / _SPAN - 2.0) for n in range(_SPAN + 1)]
    seen = [at(step) for step in steps]
    for n in range(_SPAN):
        here, there = seen[n], seen[n + 1]
        if here is None or there is None or here[1].passes == there[1].passes:
            continue
        low, high = steps[n], steps[n + 1]
        best = here if here[1].passes else there
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            tried = at(middle)
            if tried is None:
                break
            if tried[1].passes:
                best = tried
            if tried[1].passes == here[1].passes:
                low = middle
            else:
                high = middle
        return best
    return None
