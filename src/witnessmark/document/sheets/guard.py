"""What has to be read for a pass: the limit with the uncertainty of this meter already in it.

The method itself is asked: readings like those last taken with it are moved until the decision rule just says pass.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from witnessmark.assessment.facts import as_quantity
from witnessmark.assessment.instruments import calibration_in_force, meter_causes, meter_of
from witnessmark.assessment.judging import World
from witnessmark.assessment.ledger import Ledger
from witnessmark.assessment.model import Assessment, Cause
from witnessmark.assessment.policy import rule_in_force
from witnessmark.document.views.results import passes_from
from witnessmark.document.views.words import plain_name
from witnessmark.language import decimal_mark, say
from witnessmark.methods.base import InputSpec, Method, Output
from witnessmark.methods.planning import Plan, plan
from witnessmark.methods.registry import method as registered
from witnessmark.methods.written import readings_as_written
from witnessmark.quantities import Quantity, QuantityError, Unit, parse_quantity, parse_unit
from witnessmark.quantities.decision import DecisionRule, Limit
from witnessmark.quantities.format import number, printed, show
from witnessmark.records.acts import Record
from witnessmark.records.sets import Criterion, Leaf
from witnessmark.records.sets import Limit as FromFact
from witnessmark.records.world import Workshop

from .asked import RowAsked, SheetAsked, last_like

__all__ = ["Bench", "Edge", "Forecast", "bench_of", "edges", "forecasts"]


@dataclass(frozen=True, slots=True)
class Edge:
    """One line of "to know at the car": what it is, the limit, what has to be read, and what is added for the meter.

    `kind` is that of the limit, "" where the limit is not stated and `limit` says so. `must` and `added` are "" where
    it cannot be said beforehand: then only the limit is known.
    """

    title: str
    limit: str
    must: str = ""
    added: str = ""
    kind: str = ""
    cannot: str = ""
    """Why this meter can show no pass at all; "" where it can, or where nobody knows."""


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
    found = last_like(world.ledger.workshop, method, sheet.requirement)
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


@dataclass(frozen=True, slots=True)
class Forecast:
    """One limit of one part, before anyone goes to the car. `causes` say why a meter would not count on that day,
    `missing` which roles no meter fills; `plan` is None where nothing can be said, `limit` where it is not stated."""

    part: str | None
    part_title: str
    leaf: str
    criterion: str
    title: str
    limit: Limit | None
    bench: Bench
    causes: tuple[Cause, ...]
    missing: tuple[str, ...]
    plan: Plan | None

    @property
    def can_decide(self) -> bool:
        """Whether a pass can be shown with these meters on that day."""
        return self.plan is not None and not self.plan.cannot and not self.causes and not self.missing


def forecasts(workshop: Workshop, assessment: Assessment, sheet: SheetAsked) -> tuple[Forecast, ...]:
    """What can be said beforehand of every limit on a sheet, part by part."""
    world = World(Ledger(workshop), assessment.vehicle, None, registered)
    day = assessment.as_of.date()
    bench = bench_of(world, sheet, day)
    if bench is None:
        return ()
    causes = meter_causes(world.ledger, bench.method, bench.instruments, day)
    missing = tuple(r.title for r in bench.method.roles if r.required and r.name not in bench.instruments)
    found: list[Forecast] = []
    for row in sheet.to_do or sheet.rows:
        for name in sheet.measured:
            leaf = sheet.leaf(name)
            spec = bench.method.measurand(leaf.measure or "")
            of_set = workshop.sets.get(sheet.set_id)
            rule = rule_in_force(world.ledger, of_set, sheet.state.requirement, leaf, day).decide_by()[0]
            for criterion_name, criterion in leaf.criteria.items():
                limit = _limit(world, criterion, row.part)
                made = None if limit is None else _planned(world, row.part, bench, leaf, limit, rule, day)
                title = say(spec.title) if spec else plain_name(leaf.measure or name)
                one = Forecast(row.part, row.title, name, criterion_name, title, limit, bench, causes, missing, made)
                found.append(one)
    return tuple(found)


def edges(world: World, sheet: SheetAsked, row: RowAsked, bench: Bench, day: date) -> tuple[Edge, ...]:
    """For every criterion of every measured leaf of one row what has to be read, in the order of the set."""
    found: list[Edge] = []
    for name in sheet.measured:
        leaf = sheet.leaf(name)
        several = len(leaf.criteria) > 1
        for criterion_name, criterion in leaf.criteria.items():
            limit = _limit(world, criterion, row.part)
            spec = bench.method.measurand(leaf.measure or "")
            title = say(spec.title) if spec else plain_name(leaf.measure or name)
            if several:
                title += f", {plain_name(criterion_name)}"
            if limit is None:
                words = getattr(criterion.limit, "fact", str(criterion.limit))
                found.append(Edge(title, say("{fact}: not stated", fact=plain_name(words))))
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
    plain = Edge(title, _plain(limit), kind=limit.kind)
    found = _planned(world, row.part, bench, leaf, limit, rule, day)
    if found is None or found.passing is None:
        return [replace(plain, cannot=found.cannot if found is not None and found.at_limit is not None else "")]
    result, output, decision = found.passing.result, found.passing.output, found.passing.decision
    unit = _unit(bench, output, limit)
    like = show(output.value, output.U, unit, choose_prefix=False)
    must = passes_from(decision, like)
    if not must or not like.U:
        return [plain]
    band = output.U or 0.0
    if rule.probability is not None and decision.acceptance_limit is not None:
        band = abs(decision.acceptance_limit - float(limit.si))
    shown_band = show(band, None, unit.difference, significant=2, choose_prefix=False).value
    added = shown_band if like.unit == "1" else f"{shown_band} {like.unit}"
    lines = [replace(plain, must=must, added=added)]
    edge = float(limit.si)
    for other in result.outputs:
        if other.measurand == output.measurand or not edge or not output.value:
            continue
        spec = bench.method.measurand(other.measurand)
        ratio = other.value / output.value
        begin = decision.acceptance_limit if decision.acceptance_limit is not None else edge
        shown = show(begin * ratio, band * abs(ratio), other.unit)
        at_limit = show(edge * ratio, None, parse_unit(shown.unit), significant=3, choose_prefix=False)
        lines.append(
            Edge(
                say(spec.title) if spec else plain_name(other.measurand),
                str(at_limit),
                _rounded(shown.value, shown.U, limit.lower) + f" {shown.unit}",
                f"{shown.U} {shown.unit}",
                limit.kind,
            )
        )
    return lines


def _plain(limit: Limit) -> str:
    """The limit without the words of its kind."""
    return printed(Quantity(limit.value, limit.unit))


def _rounded(value: str, spread: str, lower: bool) -> str:
    """One step of the last digit to the safe side: what is printed has to pass."""
    mark = decimal_mark()
    step = Decimal(1).scaleb(-len(spread.partition(mark)[2]))
    plain = value.replace("\u2212", "-").replace("\u202f", "").replace(mark, ".")
    return number(Decimal(plain) + (step if lower else -step))


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


def _planned(
    world: World, part: str | None, bench: Bench, leaf: Leaf, limit: Limit, rule: DecisionRule, day: date
) -> Plan | None:
    """What can be said beforehand of one limit, with the readings and meters of the bench; None without either."""
    if not bench.readings or set(bench.instruments) < {r.name for r in bench.method.roles if r.required}:
        return None
    facts: dict[str, Quantity | str] = {}
    for wanted in bench.method.facts:
        value = world.facts.fact(wanted.name, part).value
        known = as_quantity(value) if wanted.unit else value
        if isinstance(known, (Quantity, str)):
            facts[wanted.name] = known
    readings, faults = readings_as_written(bench.method, bench.readings, None)
    if faults:
        return None
    # Another reading will be taken: what was written with the last one says nothing of it.
    plain = {
        name: tuple(replace(r, quantity=r.quantity and replace(r.quantity, U=None, k=None)) for r in several)
        for name, several in readings.items()
    }
    meter = meter_of(world.ledger, bench.method, bench.instruments, day)
    return plan(bench.method, plain, facts, leaf.measure or "", limit, rule, meter)
