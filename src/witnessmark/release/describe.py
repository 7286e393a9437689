"""An assessed vehicle as plain JSON values: what a release keeps, what is computed again, what is compared.

Numbers are decimal strings that read back as the same number. States and verdicts are the tokens of the audit.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from witnessmark.assessment.assess import assess
from witnessmark.assessment.ledger import Ledger
from witnessmark.assessment.model import (
    Assessment,
    CriterionResult,
    LeafState,
    PartState,
    RecordResult,
    RequirementState,
    State,
)
from witnessmark.exports.audit import audit_envelope
from witnessmark.exports.calculation import quantity_json
from witnessmark.language import Language, speaking
from witnessmark.methods.base import Method
from witnessmark.methods.registry import method, source_digest
from witnessmark.quantities.format import decimal_string
from witnessmark.records.world import Workshop

__all__ = ["Description", "Json", "describe", "unconfirmed", "used_methods"]

Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Description:
    """`audit` is the audit's envelope, `results` every record with its figures, `built` sets, parts and facts."""

    audit: Json
    results: Json
    built: Json


def describe(workshop: Workshop, assessment: Assessment) -> Description:
    """Everything that is said of one vehicle.

    In English, whatever the workshop speaks: what is kept, computed again and compared hangs on no catalogue.
    """
    if workshop.language != Language():
        workshop = replace(workshop, language=Language())
        assessment = assess(workshop, assessment.vehicle)
    with speaking(workshop.language):
        audit: Json = json.loads(audit_envelope(workshop, assessment))
        return Description(audit, _results(workshop, assessment), _built(workshop, assessment))


def unconfirmed(assessment: Assessment) -> tuple[RequirementState, ...]:
    """Requirements that are used and whose figures nobody has compared with the official text, or adopted by name."""
    return tuple(r for r in assessment.requirements if r.unconfirmed and r.state is not State.NOT_APPLICABLE)


def used_methods(assessment: Assessment) -> tuple[str, ...]:
    """Ids of the methods that the vehicle's records name, sorted."""
    return tuple(sorted({r.record.method for _, _, _, r in _walk(assessment) if r.record.method}))


def _walk(assessment: Assessment) -> Iterator[tuple[RequirementState, PartState, LeafState, RecordResult]]:
    for requirement in assessment.requirements:
        for part in requirement.parts:
            for leaf in part.leaves:
                for record in leaf.records:
                    yield requirement, part, leaf, record


def _results(workshop: Workshop, assessment: Assessment) -> Json:
    methods: Json = {}
    for name in used_methods(assessment):
        found: Method | None = method(name)
        methods[name] = None if found is None else {"title": found.title, "source": source_digest(found)}
    codes = {r.act.code for _, _, _, r in _walk(assessment)}
    return {
        "format": 1,
        "vehicle": assessment.vehicle,
        "as_of": assessment.as_of.isoformat(),
        "methods": methods,
        "records": [_record(requirement, part, leaf, result) for requirement, part, leaf, result in _walk(assessment)],
        "figures": {code: _plain(workshop.figures[code]) for code in sorted(codes) if code in workshop.figures},
    }


def _record(requirement: RequirementState, part: PartState, leaf: LeafState, found: RecordResult) -> Json:
    result = found.result
    return {
        "code": found.act.code,
        "set": requirement.set_id,
        "requirement": requirement.id,
        "part": part.part,
        "leaf": leaf.name,
        "performed": found.record.performed.isoformat(),
        "method": found.record.method,
        "governs": found.act.code in leaf.governs,
        "verdict": None if found.verdict is None else found.verdict.value,
        "sound": found.sound,
        "current": found.current,
        "withdrawn": found.withdrawn,
        "ended": found.ended,
        "measurand": None if found.output is None else found.output.measurand,
        "criteria": [_criterion(c) for c in found.criteria],
        "outputs": [
            {
                "measurand": o.measurand,
                "where": o.where,
                **quantity_json(o),
                "budget": [
                    {
                        "name": row.name,
                        "contribution": decimal_string(row.contribution),
                        "share": decimal_string(row.share),
                        "basis": row.basis,
                    }
                    for row in o.budget
                ],
            }
            for o in (result.outputs if result else ())
        ],
        "steps": [{"words": s.words, "spoken": s.spoken} for s in (result.steps if result else ())],
        "alarms": [{"code": a.code, "message": a.message, "fatal": a.fatal} for a in (result.alarms if result else ())],
    }


def _criterion(found: CriterionResult) -> Json:
    decision = found.decision
    return {
        "criterion": found.criterion,
        "asked": found.asked,
        "verdict": found.verdict.value,
        "statement": found.statement,
        "limit": None if decision is None else str(decision.limit),
        "rule": None if decision is None else str(decision.rule),
    }


def _built(workshop: Workshop, assessment: Assessment) -> Json:
    from witnessmark.assessment.editions import governing_edition
    from witnessmark.document.views.stated import IN_FORCE, facts, parts, world_of

    world = world_of(workshop, assessment)
    ledger = Ledger(workshop)
    lines, none = parts(workshop, assessment, world)
    sets: Json = {}
    for name in dict.fromkeys(r.set_id for r in assessment.requirements):
        found = workshop.sets.get(name)
        sets[name] = {
            "title": found.file.title if found else name,
            "edition": governing_edition(ledger, name).edition,
            "requirements": dict(found.digests) if found else {},
        }
    return {
        "sets": sets,
        "parts": [
            {
                "id": line.id,
                "kind": line.kind,
                "title": line.title,
                "serial": line.serial,
                "design": line.design,
                "removed": bool(line.out),
            }
            for line in sorted(lines, key=lambda one: one.id)
        ],
        "no_parts": sorted(none),
        "facts": [
            {"key": f.key, "part": f.part, "value": f.value, "code": f.code}
            for f in facts(workshop, assessment, world)
            if f.standing == IN_FORCE
        ],
        "acts": sorted(
            act.code
            for act in workshop.acts
            if act.body.seal is not None
            and (act.body.seal.vehicle is None or act.body.seal.vehicle.id == assessment.vehicle)
        ),
    }


def _plain(value: Any) -> Any:
    """As JSON has it: numbers as decimal strings, tuples as lists."""
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, bool) or value is None or isinstance(value, str | int):
        return value
    if isinstance(value, float):
        return decimal_string(value) if value - value == 0 else str(value)
    return str(value)
