"""What a test sheet asks, and its code: whoever types a filled sheet in says the code, and a stale sheet is refused.

A sheet is one trip: the leaves of one requirement that are shown with the bus in one state, for all its parts, by one
method. Its code has three groups of four characters: what is asked (leaves, edition, method, decision rule), of what
(vehicle, VIN, parts with the serials that are built in), and with which limits (facts). It does not say what has been
shown already, so that a sheet that was typed in by half is not stale.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from witnessmark.assessment.against import NOT_STATED, leaf_text
from witnessmark.assessment.facts import words_of
from witnessmark.assessment.judging import World
from witnessmark.assessment.ledger import Ledger, seconds
from witnessmark.assessment.model import Applies, Assessment, PartState, RequirementState, State, Verdict
from witnessmark.assessment.policy import rule_in_force
from witnessmark.methods.base import Method
from witnessmark.methods.registry import method as registered
from witnessmark.methods.registry import newest_ids
from witnessmark.problems import Problem
from witnessmark.quantities import QuantityError, parse_quantity
from witnessmark.records.acts import Record
from witnessmark.records.base import CODE_ALPHABET
from witnessmark.records.sets import Leaf, LeafKind, Limit
from witnessmark.records.world import Act, Workshop

__all__ = ["RowAsked", "SheetAsked", "asked_by", "code_of", "sheet_code", "sheet_of_code"]

AT_THE_VEHICLE = ("dead", "live")


@dataclass(frozen=True, slots=True)
class RowAsked:
    """One row: a part (None: the vehicle), with the leaves that are still to be shown for it; none when all are."""

    part: str | None
    title: str
    missing: tuple[str, ...]
    retest_of: tuple[str, ...] = ()
    """Codes of fails that nothing has ended."""


@dataclass(frozen=True, slots=True)
class SheetAsked:
    """One sheet: requirement, leaves, method (None: nothing is measured), rows for every part, and its code."""

    vehicle: str
    vin: str
    set_id: str
    requirement: str
    bus: str
    leaves: tuple[str, ...]
    method: Method | None
    rows: tuple[RowAsked, ...]
    code: str
    state: RequirementState
    rules: Mapping[str, str] = field(default_factory=dict)
    """The decision rule of each measured leaf, in words."""

    @property
    def references(self) -> tuple[str, ...]:
        """The leaves as a record names them, `set:requirement/leaf`."""
        return tuple(f"{self.set_id}:{self.requirement}/{leaf}" for leaf in self.leaves)

    @property
    def to_do(self) -> tuple[RowAsked, ...]:
        """The rows in which something is missing."""
        return tuple(row for row in self.rows if row.missing)

    @property
    def measured(self) -> tuple[str, ...]:
        """The leaves that are measured."""
        return tuple(n for n in self.leaves if self.state.requirement.leaves[n].kind is LeafKind.MEASURE)

    def leaf(self, name: str) -> Leaf:
        return self.state.requirement.leaves[name]


def asked_by(workshop: Workshop, assessment: Assessment) -> tuple[SheetAsked, ...]:
    """Every sheet that can be made for the vehicle, dead before live, then in the order of the sets.

    Pure. Requirements that do not apply, and leaves at the desk or that wait for somebody else, have no sheet.
    """
    world = World(Ledger(workshop), assessment.vehicle, None, registered)
    used = _used(workshop)
    found = [
        sheet
        for state in assessment.requirements
        if state.requirement.about == "vehicle" and state.axes.applies is not Applies.NO
        for sheet in _sheets(world, assessment, state, used)
    ]
    return tuple(sorted(found, key=lambda sheet: AT_THE_VEHICLE.index(sheet.bus)))


def sheet_code(
    workshop: Workshop, assessment: Assessment, set_id: str, requirement: str, leaves: Iterable[str]
) -> str | None:
    """The code that a sheet for these leaves of a requirement has now; None when there is no such sheet. Pure."""
    wanted = set(leaves)
    return next(
        (
            sheet.code
            for sheet in asked_by(workshop, assessment)
            if (sheet.set_id, sheet.requirement) == (set_id, requirement) and wanted <= set(sheet.leaves)
        ),
        None,
    )


def sheet_of_code(workshop: Workshop, assessment: Assessment, code: str) -> SheetAsked | Problem:
    """The sheet that has this code now; else the reason why it is stale, as a problem. Pure.

    The code may be typed with or without hyphens and spaces, in any case.
    """
    groups = _groups(code)
    if groups is None:
        return Problem(
            "sheet.code",
            f"{code!r} is no code of a sheet: it has three groups of four characters, such as k3p9 tm4w 2c7e",
            "type it as it is printed below the square code",
        )
    sheets = asked_by(workshop, assessment)
    alike = [sheet for sheet in sheets if _groups(sheet.code)[:1] == groups[:1]]  # type: ignore[index]  # ours is whole
    for sheet in alike:
        if _groups(sheet.code) == groups:
            return sheet
    if not alike:
        if any(_groups(sheet.code)[1:] == groups[1:] for sheet in sheets):  # type: ignore[index]  # ours is whole
            return _stale(code, "what is asked has changed since it was printed: requirement, edition, method or rule")
        return Problem(
            "sheet.unknown",
            f"no sheet of {assessment.vehicle} has the code {code}",
            "look at the vehicle on the sheet; if it is this one, its requirements have changed: print it anew",
        )
    theirs = _groups(alike[0].code)
    assert theirs is not None
    reasons = []
    if all((_groups(s.code) or ("",) * 3)[1] != groups[1] for s in alike):
        reasons.append("VIN, parts or serials are not those of the sheet any more")
    if all((_groups(s.code) or ("",) * 3)[2] != groups[2] for s in alike):
        reasons.append("a fact that its limits rest on has another value now")
    return _stale(code, " and ".join(reasons) or "it was made for something else")


def code_of(asks: Any, of_what: Any, limits: Any) -> str:
    """Three groups of four characters, each from the SHA-256 of one of the three, as canonical JSON."""
    return "-".join(_four(value) for value in (asks, of_what, limits))


def _stale(code: str, why: str) -> Problem:
    return Problem(
        "sheet.stale",
        f"the sheet {code} is stale: {why}",
        "print the sheet anew (witnessmark sheet) and look whether its readings still hold; a reading from before the "
        "change is recorded without the sheet, with the time at which it was taken",
    )


def _four(value: Any) -> str:
    text = json.dumps(value, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    number = int.from_bytes(hashlib.sha256(text.encode("utf-8")).digest()[:8], "big")
    out = ""
    for _ in range(4):
        number, rest = divmod(number, len(CODE_ALPHABET))
        out += CODE_ALPHABET[rest]
    return out


def _groups(code: str) -> tuple[str, str, str] | None:
    plain = re.sub(r"[\s-]+", "", code).lower()
    if len(plain) != 12 or any(char not in CODE_ALPHABET for char in plain):
        return None
    return plain[:4], plain[4:8], plain[8:]


# ---------------------------------------------------------------- what belongs together


def _used(workshop: Workshop) -> dict[str, str]:
    """The method last used for each leaf of each requirement, by `requirement/leaf`."""
    found: dict[str, str] = {}
    for act in sorted(workshop.acts, key=lambda a: (a.appeared is None, a.appeared or 0, a.code)):
        if isinstance(act.body, Record) and act.body.method:
            for reference in act.body.shows:
                found[reference.rpartition(":")[2]] = act.body.method
    return found


def _method(state: RequirementState, name: str, leaf: Leaf, used: Mapping[str, str]) -> Method | None:
    """The method of one measured leaf: the one last used here, if it fits; else the first that does, logs last."""
    able = [m for i in (leaf.methods or newest_ids()) if (m := registered(i)) and m.measurand(leaf.measure or "")]
    last = used.get(f"{state.id}/{name}")
    return next((m for m in able if m.id == last), None) or min(able, key=lambda m: bool(m.channels), default=None)


def last_like(workshop: Workshop, method: Method, requirement: str) -> Act | None:
    """The newest record by this method, of this requirement where there is one: what a sheet is laid out after."""
    acts = [a for a in workshop.acts if isinstance(a.body, Record) and a.body.method == method.id]
    own = [a for a in acts if any(ref.rpartition(":")[2].startswith(f"{requirement}/") for ref in _shows(a))]
    return max(own or acts, key=lambda a: (a.appeared if a.appeared is not None else 10**9, a.code), default=None)


def _shows(act: Act) -> tuple[str, ...]:
    return tuple(act.body.shows) if isinstance(act.body, Record) else ()


def last_units(workshop: Workshop, method: Method, requirement: str) -> dict[str, str]:
    """The unit that is printed at the blanks of each input: that of the last reading, else the method's own.

    It is part of the code: a number from a sheet is never taken for one in another unit.
    """
    found = last_like(workshop, method, requirement)
    readings = found.body.readings if found is not None and isinstance(found.body, Record) else {}
    units: dict[str, str] = {}
    for spec in method.inputs:
        if spec.choices or spec.preset:
            continue
        given = readings.get(spec.name, ())
        first = given if isinstance(given, str) else next(iter(given), "")
        try:
            units[spec.name] = parse_quantity(first).unit.symbol if first else spec.unit
        except QuantityError:
            units[spec.name] = spec.unit
    return units


def _sheets(
    world: World, assessment: Assessment, state: RequirementState, used: Mapping[str, str]
) -> Iterable[SheetAsked]:
    leaves = state.requirement.leaves
    for bus in AT_THE_VEHICLE:
        names = [n for n, leaf in leaves.items() if leaf.job and leaf.job.bus == bus]
        measured: dict[tuple[str, str], list[str]] = {}
        methods: dict[str, Method] = {}
        for name in names:
            leaf = leaves[name]
            if leaf.kind is not LeafKind.MEASURE:
                continue
            method = _method(state, name, leaf, used)
            if method is None:
                continue
            methods[method.id] = method
            # One log gives all its leaves at once; a reading off a meter that comes after a wait is a trip of its own.
            wait = "" if method.channels or leaf.after is None else name
            measured.setdefault((method.id, wait), []).append(name)
        looked = [n for n in names if leaves[n].kind is not LeafKind.MEASURE]
        if not measured and looked:
            yield _sheet(world, assessment, state, bus, tuple(looked), None)
        for n, ((method_id, _), group) in enumerate(measured.items()):
            with_it = tuple(name for name in leaves if name in group or (n == 0 and name in looked))
            yield _sheet(world, assessment, state, bus, with_it, methods[method_id])


def _sheet(
    world: World,
    assessment: Assessment,
    state: RequirementState,
    bus: str,
    names: tuple[str, ...],
    method: Method | None,
) -> SheetAsked:
    requirement, ledger = state.requirement, world.ledger
    vin = world.facts.vins()[0] or ""
    rules = {
        n: rule_in_force(
            ledger, ledger.workshop.sets.get(state.set_id), requirement, leaf, assessment.as_of.date()
        ).words
        for n in names
        if (leaf := requirement.leaves[n]).kind is LeafKind.MEASURE
    }
    parts = tuple(part.part for part in state.parts)
    at = seconds(assessment.as_of)
    built = {part or "": world.parts.serials(world.parts.members(part), at, sound_only=False) for part in parts}
    keys = {f.name for f in method.facts} if method else set()
    keys |= {c.limit.fact for n in names for c in requirement.leaves[n].criteria.values() if isinstance(c.limit, Limit)}
    limits = {part or "": {key: _value(world, key, part) for key in sorted(keys)} for part in parts}
    asks = {
        "set": state.set_id,
        "edition": world.references.editions[state.set_id].edition,
        "requirement": state.id,
        "bus": bus,
        "leaves": {n: leaf_text(requirement.leaves[n]) for n in names},
        "method": method.id if method else "",
        "rules": rules,
        "units": last_units(ledger.workshop, method, state.id) if method else {},
    }
    code = code_of(asks, {"vehicle": assessment.vehicle, "vin": vin, "parts": built}, limits)
    rows = tuple(_row(part, names) for part in state.parts)
    return SheetAsked(assessment.vehicle, vin, state.set_id, state.id, bus, names, method, rows, code, state, rules)


def _value(world: World, key: str, part: str | None) -> str:
    """A fact's value as the code takes it, the same in every language."""
    value = world.facts.fact(key, part).value
    return NOT_STATED if value is None else words_of(value)


def _row(part: PartState, names: tuple[str, ...]) -> RowAsked:
    leaves = [leaf for leaf in part.leaves if leaf.name in names]
    missing = tuple(leaf.name for leaf in leaves if leaf.state.is_gap) if part.state is not State.CONFORMS else ()
    fails = {
        r.act.code: r.record.performed
        for leaf in leaves
        for r in leaf.records
        if r.verdict is Verdict.FAIL and not r.ended and not r.withdrawn
    }
    return RowAsked(part.part, part.title, missing, tuple(sorted(fails, key=lambda c: (fails[c], c))))
