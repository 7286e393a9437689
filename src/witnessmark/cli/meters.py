"""Is this meter good enough to decide this limit, and which reading would just pass: before anyone goes to the car."""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from witnessmark.language import declared, say
from witnessmark.problems import Misuse, Problem

from .exits import Exit
from .folder import read
from .show import harmless, progress, put, wrapped

if TYPE_CHECKING:
    from collections.abc import Sequence

    from witnessmark.assessment.ledger import Ledger
    from witnessmark.assessment.model import Assessment, Cause
    from witnessmark.document.sheets.asked import SheetAsked
    from witnessmark.document.sheets.guard import Forecast
    from witnessmark.methods.base import InputSpec, Method, Reading
    from witnessmark.methods.planning import Plan
    from witnessmark.quantities import Quantity, Unit
    from witnessmark.quantities.decision import Decision
    from witnessmark.quantities.propagation import Input
    from witnessmark.records.world import Workshop

__all__ = ["Meters", "answer", "meters_for", "print_meters", "told_for_sheets"]


@dataclass(frozen=True)
class Meters:
    """The instruments of the folder that fill the roles of a method; `causes` say why one would not count today.

    `last` are the readings last taken with the method, for a person who gives none; `like` is the code of that record.
    """

    ledger: Ledger
    method: Method
    instruments: Mapping[str, str]
    day: date
    causes: tuple[Cause, ...]
    last: Mapping[str, tuple[str, ...]]
    like: str

    def input_of(self, spec: InputSpec, name: str, quantity: Quantity) -> Input | None:
        """The uncertainty of one reading, by the calibration in force."""
        from witnessmark.assessment.instruments import meter_of

        return meter_of(self.ledger, self.method, self.instruments, self.day)(spec, name, quantity)

    def readings_for(self, given: list[str]) -> list[str]:
        """The readings as last taken with the method, as arguments, when none of those `given` is a reading."""
        if any(self.method.input(text.partition("=")[0].strip()) for text in given):
            return []
        if self.like:
            progress(
                say("Readings like those of the record {code}, which were the last by this method.", code=self.like)
            )
        return [f"{name}={value}" for name, values in self.last.items() for value in values]

    def plan(
        self,
        readings: Mapping[str, tuple[Reading, ...]],
        facts: Mapping[str, Quantity | str],
        judged: tuple[str, Decision],
    ) -> Plan:
        """What has to be read for a pass and for a fail, with readings like these."""
        from witnessmark.methods.planning import plan

        name, decision = judged
        return plan(self.method, readings, facts, name, decision.limit, decision.rule, self.input_of)


def meters_for(options: argparse.Namespace, method: Method) -> Meters:
    """The meters that `--meter` names, each in the roles that it can fill. Raises Misuse for what there is not."""
    from witnessmark.assessment.instruments import meter_causes
    from witnessmark.assessment.ledger import Ledger
    from witnessmark.records.acts import Record

    _, workshop = read(options)
    ledger = Ledger(workshop)
    instruments: dict[str, str] = {}
    for text in options.meter:
        role, equals, name = text.partition("=")
        role, name = (role, name) if equals else ("", text)
        found = workshop.instruments.get(name)
        if found is None:
            known = ", ".join(sorted(workshop.instruments)) or "none yet"
            raise Misuse(Problem("meter.unknown", f"there is no instrument {name!r}", f"the folder has {known}"))
        able = [r.name for r in method.roles if (r.name == role if role else r.function in found.functions)]
        if not able:
            roles = "; ".join(f"{r.name} ({r.function})" for r in method.roles) or "none: nothing is read off a meter"
            raise Misuse(
                Problem("meter.role", f"{name} fills no role of {method.id}", f"the roles of the method are {roles}")
            )
        instruments |= {one: name for one in able if role or one not in instruments}
    day = workshop.as_of.date()
    records = [a for a in workshop.acts if isinstance(a.body, Record) and a.body.method == method.id]
    newest = max(records, key=lambda a: (a.appeared if a.appeared is not None else 10**9, a.code), default=None)
    last: dict[str, tuple[str, ...]] = {}
    if newest is not None and isinstance(newest.body, Record):
        for one, value in newest.body.readings.items():
            last[one] = (value,) if isinstance(value, str) else tuple(value)
    causes = meter_causes(ledger, method, instruments, day)
    return Meters(ledger, method, instruments, day, causes, last, newest.code if newest is not None else "")


def print_meters(meters: Meters, planned: Plan | None) -> None:
    """The answer in words, below the result."""
    put()
    put(say("Before anyone goes to the car"))
    for role, name in meters.instruments.items():
        title = next((say(r.title) for r in meters.method.roles if r.name == role), role)
        put("  " + say("{instrument} is the {role}.", instrument=harmless(name), role=harmless(title)))
    for unfilled in meters.method.roles:
        if unfilled.required and unfilled.name not in meters.instruments:
            words = say(
                "No meter was named for the {role}; what is written with its readings counts.", role=say(unfilled.title)
            )
            put(f"  {words}")
    for cause in meters.causes:
        for line in wrapped(harmless(_not_today(cause)), indent=2):
            put(line)
    if planned is None:
        words = say(
            "Give {option}, and it is told what would just pass and whether this meter can decide it.", option="--limit"
        )
        put(f"  {words}")
        return
    for line in answer(planned, good=not meters.causes):
        for part in wrapped(harmless(line), indent=2):
            put(part)


def answer(planned: Plan, *, good: bool = True) -> tuple[str, ...]:
    """What can be said of one limit beforehand, in sentences; `good`: whether the meter would count today."""
    from witnessmark.quantities.decision import HOW
    from witnessmark.quantities.format import show

    lines: list[str] = []
    on = planned.at_limit
    if on is not None and on.output.U is not None:
        part = abs(on.output.U / (float(planned.limit.value) * float(planned.limit.unit.scale) or float("inf")))
        result = show(on.output.value, on.output.U, on.output.unit)
        lines.append(
            say(
                "At the limit the result would be {result}, {percent} % of it.",
                result=result,
                percent=f"{100 * part:.2g}",
            )
            if part
            else say("At the limit the result would be {result}.", result=result)
        )
    passing, failing = planned.passing, planned.failing
    if passing is not None:
        other = failing or on
        more = other is None or passing.reading.si > other.reading.si
        reading = _edge(passing.reading.si, passing.reading.unit, up=more)
        edge = _edge(passing.output.value, passing.output.unit, up=planned.limit.lower)
        side = HOW["at_least" if planned.limit.lower else "at_most"]
        if passing.several:
            told = say(
                "A pass needs {edge} ({limit} is asked), with repeats of {name} that scatter like these.",
                edge=f"{side} {edge}",
                limit=planned.limit,
                name=passing.name,
            )
        else:
            text = declared(
                "A pass needs {edge} ({limit} is asked): {name} at {reading} or less, with the other readings as given."
            )
            if more:
                text = declared(
                    "A pass needs {edge} ({limit} is asked): {name} at {reading} or more, "
                    "with the other readings as given."
                )
            told = say(text, edge=f"{side} {edge}", limit=planned.limit, name=passing.name, reading=reading)
        lines.append(told)
    if failing is not None:
        edge = _edge(failing.output.value, failing.output.unit, up=not planned.limit.lower)
        lines.append(say("A fail begins at {edge}; in between nothing is decided.", edge=edge))
    elif passing is not None:
        lines.append(say("No reading like these fails: a bad part would come out as undecided, not as a fail."))
    if planned.cannot and on is None:
        lines.append(say("Nothing can be said: {why}. Give readings that lie nearer to the limit.", why=planned.cannot))
    elif planned.cannot:
        lines.append(
            say("It cannot decide this limit: {why}. Take a better meter, or more of the signal.", why=planned.cannot)
        )
    elif not good:
        lines.append(say("It would be good enough, but it does not count today: see above."))
    else:
        lines.append(say("It can decide this limit."))
    return tuple(lines)


def _edge(si: float, unit: Unit, *, up: bool) -> str:
    """Four digits, rounded to the safe side, so that what is printed has to pass (or to fail)."""
    from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal

    from witnessmark.quantities.format import best_unit, number

    chosen = unit if unit.offset or unit.symbol == "1" else best_unit(si, unit)
    exact = Decimal(repr((si - float(chosen.offset)) / float(chosen.scale)))
    step = Decimal(1).scaleb(min(exact.adjusted() - 3, 0)) if exact else Decimal(1)
    # What was found lies within a part in 10^12 of the edge: that is not a digit of its own.
    exact = exact.quantize(step.scaleb(-6))
    rounded = exact.quantize(step, ROUND_CEILING if up else ROUND_FLOOR)
    return number(rounded) + ("" if chosen.symbol == "1" else f" {chosen.symbol}")


def told_for_sheets(
    workshop: Workshop, assessment: Assessment, sheets: Sequence[SheetAsked], *, as_json: bool = False
) -> int:
    """Each limit of what is to be measured, with the meters that are in calibration: what would just pass, and whether
    they can decide it. Parts of which the same is said stand together. Exit 0."""
    import json

    from witnessmark.document.sheets.guard import forecasts

    found = [(sheet, one) for sheet in sheets for one in forecasts(workshop, assessment, sheet)]
    if as_json:
        rows = [
            {
                "requirement": f"{sheet.set_id}:{sheet.requirement}",
                "part": one.part,
                "leaf": one.leaf,
                "criterion": one.criterion,
                "method": one.bench.method.id,
                "limit": None if one.limit is None else str(one.limit),
                "meters": dict(one.bench.instruments),
                "can_decide": one.can_decide,
                "says": list(_said(one)),
            }
            for sheet, one in found
        ]
        body = {"format": 1, "command": "sheet", "as_of": assessment.as_of.isoformat(), "problems": []}
        put(json.dumps(body | {"vehicle": assessment.vehicle, "meters": rows}, ensure_ascii=False, indent=2))
        return Exit.DONE
    if not found:
        put(say("Nothing is to be measured: no limit to decide."))
    together: dict[tuple[str, ...], list[str]] = {}
    for sheet, one in found:
        limit = one.title if one.limit is None else f"{one.title}: {one.limit}"
        meters = ", ".join(dict.fromkeys(one.bench.instruments.values())) or say("no meter")
        head = (
            sheet.state.requirement.title,
            limit,
            say("{method} with {meters}", method=one.bench.method.id, meters=meters),
        )
        together.setdefault((*head, *_said(one)), []).append(one.part_title or say("the vehicle"))
    for (requirement, limit, means, *lines), parts in together.items():
        put(f"{harmless(requirement)}: {harmless(', '.join(dict.fromkeys(parts)))}")
        for line in (f"{limit}; {means}.", *lines):
            for part in wrapped(harmless(line), indent=2):
                put(part)
        put()
    put(say("High voltage can kill. Local codes and qualified persons decide what may be done, how and by whom."))
    return Exit.DONE


def _not_today(cause: Cause) -> str:
    return say("Not today: {why} Do this: {remedy}.", why=cause.message, remedy=cause.remedy)


def _said(one: Forecast) -> tuple[str, ...]:
    lines = [_not_today(cause) for cause in one.causes]
    lines += [say("No {role} in calibration was found.", role=title) for title in one.missing]
    if one.limit is None:
        lines.append(say("The limit is a fact that is not stated."))
    elif one.plan is not None:
        lines += answer(one.plan, good=not one.causes)
    elif one.bench.method.channels:
        lines.append(say("It reads a log: the uncertainty comes with the samples, and nothing can be said beforehand."))
    elif not one.missing:
        command = "witnessmark calculate --meter"
        lines.append(say("Nobody has taken readings by this method yet: give some to {command}.", command=command))
    return tuple(lines)
