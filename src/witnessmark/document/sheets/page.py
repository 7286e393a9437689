"""One sheet as data for print: head, hazard, checklist, blanks in the order of reading, checks, what must be read."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from witnessmark.assessment.judging import World
from witnessmark.assessment.ledger import Ledger, seconds
from witnessmark.assessment.model import Assessment
from witnessmark.document.formulas import math_tree
from witnessmark.document.text import broken, clean, covered, tied
from witnessmark.document.views.areas import each_once
from witnessmark.document.views.words import capital, day, instant, joined, plain_name, sentence, short_day
from witnessmark.language import decimal_mark, say, say_n
from witnessmark.methods.base import InputSpec, Method
from witnessmark.methods.registry import method as registered
from witnessmark.quantities import Quantity, QuantityError, parse_quantity
from witnessmark.quantities.format import written
from witnessmark.records.acts import Record
from witnessmark.records.sets import LeafKind
from witnessmark.records.world import Workshop

from .asked import RowAsked, SheetAsked, last_units
from .drawings import drawing
from .guard import Bench, Edge, bench_of, edges
from .words import AUTHORITY, CHOICES, KINDS, checks, if_one_fails, limit_words, times

__all__ = ["SheetPage", "fit", "pages"]

_BOX = 6.7
_ACROSS = 172.0
_GAP = 2.0
_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


@dataclass(frozen=True, slots=True)
class SheetPage:
    """What one sheet prints, as JSON-able data, and its drawing as SVG ("" for none)."""

    asked: SheetAsked
    data: Mapping[str, Any]
    drawing: str


def pages(workshop: Workshop, assessment: Assessment, sheets: Sequence[SheetAsked], *, every: bool) -> list[SheetPage]:
    """The sheets as they are printed. `every`: rows for all parts, also for those where nothing is missing. Pure."""
    world = World(Ledger(workshop), assessment.vehicle, None, registered)
    dead = [str(n) for n, sheet in enumerate(sheets, 1) if sheet.bus == "dead"]
    return [_page(world, assessment, sheet, n, len(sheets), dead, every=every) for n, sheet in enumerate(sheets, 1)]


def _page(
    world: World, assessment: Assessment, sheet: SheetAsked, number: int, of: int, dead: Sequence[str], *, every: bool
) -> SheetPage:
    workshop = world.ledger.workshop
    vehicle = workshop.vehicles[assessment.vehicle]
    today = assessment.as_of.date()
    bench = bench_of(world, sheet, today)
    units = last_units(workshop, bench.method, sheet.requirement) if bench else {}
    blanks = _blanks(bench, units) if bench else []
    numbers = {blank["name"]: blank["number"] for blank in blanks if blank["number"]}
    rows = sheet.rows if every else sheet.to_do
    lettered = [(_letter(n), row) for n, row in enumerate(rows)]
    voltage = world.facts.fact("working_voltage", None).value
    volts = voltage if isinstance(voltage, str) else ""
    demonstration = workshop.file.demonstration
    requirement = sheet.state.requirement
    found = workshop.sets.get(sheet.set_id)
    data: dict[str, Any] = {
        "workshop": f"{workshop.file.name}, {workshop.file.place}",
        "file": say("technical file {number}", number=vehicle.file_number),
        "stamp": say("demonstration, all invented") if demonstration else "",
        "title": requirement.title,
        "method": _method_words(sheet.method),
        "clause": f"{found.file.short if found else sheet.set_id}, {requirement.clause}",
        "statement": requirement.statement,
        "vehicle": vehicle.title.partition(",")[0],
        "vin": sheet.vin or say("not stated"),
        "code": sheet.code,
        # The page is known to the template only.
        "numbered": say("sheet {number} of {of}, page {page}", number=number, of=of, page="{page}"),
        "made": say(
            "As the vehicle stood on {instant}. Refused once a part, a limit or the question has changed.",
            instant=instant(assessment.as_of),
        ),
        "volts": say("{voltage} DC", voltage=written(volts)) if volts else say("voltage not stated"),
        "bus": say("live") if sheet.bus == "live" else say("prove it dead first"),
        "mark": decimal_mark(),
        "cautions": [*_cautions(sheet), say(AUTHORITY)],
        "before": _before(sheet, bench, dead),
        "hint": sentence(requirement.hint) if requirement.hint else "",
        "blanks": [{k: v for k, v in blank.items() if k != "name"} for blank in blanks],
        "wide": sum(blank["width"] for blank in blanks) + _GAP * max(len(blanks) - 1, 0) > _ACROSS,
        "rows": [_row(world, assessment, sheet, letter, row, every=every) for letter, row in lettered]
        if sheet.measured
        else [],
        "findings": _findings(sheet, lettered, every=every),
        "checks": list(checks(sheet.method, numbers, _volts(volts))) if sheet.method and blanks else [],
        "letters": [letter for letter, _ in lettered],
        "fails": if_one_fails(sheet.method) if sheet.method and blanks else "",
        "edges": _edges(world, sheet, lettered, bench, today) if bench else [],
        "like": say("For readings as last read, {code}; for others U differs.", code=bench.like)
        if bench and bench.like
        else "",
        "causes": [say("Row {row}, cause of the first fail:", row=letter) for letter, row in lettered if row.retest_of],
        "log": bool(sheet.method and sheet.method.channels),
    }
    return SheetPage(sheet, fit(data), drawing(sheet.method.name, numbers) if sheet.method else "")


def _method_words(method: Method | None) -> str:
    return f"{say(method.title)} ({method.id})" if method else say("looked at, probed, tried out or photographed")


def _letter(n: int) -> str:
    return _LETTERS[n % 26] + (str(n // 26 + 1) if n >= 26 else "")


def _volts(text: str) -> float | None:
    try:
        return parse_quantity(text).si if text else None
    except QuantityError:
        return None


def _cautions(sheet: SheetAsked) -> tuple[str, ...]:
    said = [say(c.text) for c in sheet.method.cautions] if sheet.method else []
    said += list(sheet.state.requirement.cautions)
    if not said:
        said = [
            say(
                "High voltage can kill. Prove the bus dead before a hand or a probe goes in; try the tester before and"
                " after."
            )
        ]
    return each_once(said)


# ---------------------------------------------------------------- before the first reading


def _before(sheet: SheetAsked, bench: Bench | None, dead: Sequence[str]) -> list[str]:
    lines: list[str] = []
    if sheet.bus == "live" and len(dead) == 1:
        lines.append(say("sheet {number} (bus dead) is done", number=dead[0]))
    elif sheet.bus == "live" and dead:
        lines.append(say("sheets {first} to {last} (bus dead) are done", first=dead[0], last=dead[-1]))
    if sheet.bus == "dead":
        lines.append(say("switched off, locked out, waiting time over, proved dead at both poles"))
    conditions: dict[str, str] = {}
    for name in sheet.leaves:
        conditions.update(sheet.leaf(name).conditions)
    for spec in sheet.method.conditions if sheet.method else ():
        if spec.must:
            conditions.setdefault(say(spec.title), say(spec.must))
    lines += [f"{plain_name(key)}: {written(value)}" for key, value in conditions.items()]
    lines += _instruments(sheet, bench)
    takes = dict.fromkeys(job.take for n in sheet.leaves if (job := sheet.leaf(n).job) and job.take)
    lines += [say("at hand: {things}", things="; ".join(takes))] if takes else []
    persons = max((job.persons or 1 for n in sheet.leaves if (job := sheet.leaf(n).job)), default=1)
    if persons > 1 or any(sheet.leaf(n).second_person == "yes" for n in sheet.leaves):
        lines.append(say_n("{n} person is here", "{n} persons are here", max(persons, 2)))
    return lines


def _instruments(sheet: SheetAsked, bench: Bench | None) -> list[str]:
    if sheet.method is None or bench is None:
        return []
    lines = []
    for role in sheet.method.roles:
        name = bench.instruments.get(role.name)
        # What no reading of the last record was read on is not needed for this way of measuring.
        if not role.required and not any(s.role == role.name and s.name in bench.readings for s in sheet.method.inputs):
            continue
        if name is None:
            lines.append(say("{role}: none is calibrated now; which: ____________", role=say(role.title)))
            continue
        due, value = short_day(bench.due[role.name]), ", ".join(map(written, _fixed(bench, role.name).values()))
        lines.append(
            say(
                "{role} is {name}, set to {value}, due {day} (or: ____________)",
                role=say(role.title),
                name=name,
                value=value,
                day=due,
            )
            if value
            else say("{role} is {name}, due {day} (or: ____________)", role=say(role.title), name=name, day=due)
        )
    return lines


def _fixed(bench: Bench, role: str = "") -> dict[str, str]:
    """Inputs that are set and not read, such as a known resistor, with the value last used.

    Two settings of one resistor are found while measuring, such as a threshold between them: these are read.
    """
    if sum(spec.role == "resistor" for spec in bench.method.inputs) > 1:
        return {}
    return {
        spec.name: text
        for spec in bench.method.inputs
        if spec.role == "resistor"
        and (not role or spec.role == role)
        and isinstance(text := bench.readings.get(spec.name, ""), str)
        and text
    }


# ---------------------------------------------------------------- blanks


def _blanks(bench: Bench, units: Mapping[str, str]) -> list[dict[str, Any]]:
    """The blanks of one row in the order of reading; without an earlier record those that the method needs."""
    if bench.method.channels:
        return []
    fixed = _fixed(bench)
    found: list[dict[str, Any]] = []
    number = 0
    for spec in sorted((s for s in bench.method.inputs if not s.preset), key=lambda s: s.order):
        given = bench.readings.get(spec.name, ())
        if spec.name in fixed or not (given or (spec.required and not bench.readings)):
            continue
        texts = (given,) if isinstance(given, str) else tuple(given)
        number += 1
        for n in range(max(len(texts), 1)):
            title = say(spec.title) if n == 0 else times(n + 1)
            found.append(
                {
                    "name": spec.name if n == 0 else f"{spec.name}.{n + 1}",
                    "number": str(number) if n == 0 else "",
                    "title": title,
                    "symbol": math_tree(spec.symbol) if spec.symbol and n == 0 else None,
                    "spoken": say(spec.title),
                    **_format(spec, texts[n] if n < len(texts) else "", units.get(spec.name, "")),
                }
            )
    return found


def _format(spec: InputSpec, like: str, unit: str) -> dict[str, Any]:
    """How many boxes stand before and behind the mark, after the last reading or else the largest plausible one."""
    if spec.choices:
        short = [CHOICES.get(choice, choice) for choice in spec.choices]
        width = 7.0 + 1.7 * max(map(len, short))
        return {"choices": short, "unit": "", "before": 0, "behind": 0, "width": round(width, 1)}
    found = re.match(r"\s*[<>]?\s*[+-]?(\d+)(?:[.](\d+))?", like)
    before, behind = len(str(int(spec.high or 999))), 1
    if found:
        before, behind = len(found.group(1)), len(found.group(2) or "")
    # The last reading was a small one, perhaps: what has to be refused must find room as well.
    before, behind = min(max(before, 3 if behind else 4), 6), min(behind, 4)
    width = _BOX * (before + behind) + (2.5 if behind else 0.0)
    return {"choices": [], "unit": "" if unit == "1" else unit, "before": before, "behind": behind, "width": width}


# ---------------------------------------------------------------- rows


def _row(
    world: World, assessment: Assessment, sheet: SheetAsked, letter: str, row: RowAsked, *, every: bool
) -> dict[str, Any]:
    notes = []
    serials = world.parts.serials(
        frozenset({row.part}) if row.part else frozenset(), seconds(assessment.as_of), sound_only=False
    )
    notes += [say("serial {serial}", serial=serial) for serial in serials.values()]
    for spec in sheet.method.facts if sheet.method else ():
        value = world.facts.fact(spec.name, row.part).value
        if isinstance(value, str):
            notes.append(f"{plain_name(spec.name)} {written(value)}")
        elif spec.required:
            notes.append(say("{fact}: not stated", fact=plain_name(spec.name)))
    if row.retest_of:
        notes.append(say("retest of the fail {fails}", fails=_fails(world, row)))
    if every and not row.missing:
        notes.append(say("shown already"))
    return {"letter": letter, "title": _title(row), "notes": notes}


def _title(row: RowAsked) -> str:
    return capital(row.title or say("the vehicle"))


def _fails(world: World, row: RowAsked) -> str:
    words = []
    for code in row.retest_of:
        act = next((a for a in world.ledger.workshop.acts if a.code == code), None)
        record = act.body if act and isinstance(act.body, Record) else None
        words.append(say("{code} of {day}", code=code, day=day(record.performed)) if record else code)
    return joined(words)


def _findings(sheet: SheetAsked, rows: Sequence[tuple[str, RowAsked]], *, every: bool) -> list[dict[str, Any]]:
    """What a person says after looking: for every such leaf and row three boxes and room for the picture's number."""
    out: list[dict[str, Any]] = []
    for name in sheet.leaves:
        leaf = sheet.leaf(name)
        if leaf.kind is LeafKind.MEASURE:
            continue
        asked = [(letter, row) for letter, row in rows if every or name in row.missing or sheet.measured]
        if asked:
            out.append(
                {
                    "kind": KINDS.get(leaf.kind.value, say("See")),
                    "asks": leaf.words,
                    "picture": leaf.kind is LeafKind.PHOTOGRAPH,
                    "rows": [[letter, _title(row)] for letter, row in asked],
                }
            )
    return out


def _edges(
    world: World, sheet: SheetAsked, rows: Sequence[tuple[str, RowAsked]], bench: Bench, today: Any
) -> list[dict[str, Any]]:
    """The limits, once for all rows that have the same."""
    letters: dict[tuple[Any, ...], list[str]] = {}
    known: dict[tuple[str, ...], tuple[Any, ...]] = {}
    for letter, row in rows:
        facts = tuple(str(world.facts.fact(f.name, row.part).value) for f in bench.method.facts)
        named = tuple(
            str(world.facts.fact(getattr(c.limit, "fact", ""), row.part).value)
            for n in sheet.measured
            for c in sheet.leaf(n).criteria.values()
            if not isinstance(c.limit, Quantity)
        )
        key = (*facts, *named)
        if key not in known:
            known[key] = edges(world, sheet, row, bench, today)
        letters.setdefault(known[key], []).append(letter)
    out = []
    for found, which in letters.items():
        for n, edge in enumerate(found):
            label = f"{joined(which)}: {edge.title}" if n == 0 else edge.title
            out.append({"title": label, **_limits(edge), "added": edge.added, "cannot": edge.cannot})
    return out


def _limits(edge: Edge) -> dict[str, str]:
    """What must be read, and the limit: beside "at least 506 Ω/V" one of the same kind needs no words of its own."""
    if not edge.kind:
        return {"must": "", "limit": edge.limit}
    safe = "at_least" if edge.kind in ("at_least", "more_than") else "at_most"
    bare = edge.must and edge.kind == safe
    return {
        "must": edge.must and limit_words(safe, edge.must),
        "limit": edge.limit if bare else limit_words(edge.kind, edge.limit),
    }


def fit(value: Any, name: str = "") -> Any:
    """Every word fit for print. Formulas are trees already."""
    if name == "symbol":
        return value
    if isinstance(value, str):
        return broken(covered(tied(clean(value)), lambda _: None))
    if isinstance(value, list):
        return [fit(item, name) for item in value]
    if isinstance(value, dict):
        return {key: fit(item, key) for key, item in value.items()}
    return value
