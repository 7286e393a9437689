"""The states of all requirements as JSON: one envelope, states as tokens, numbers as decimal strings.

The form is described by `audit.schema.json` beside this module. Keys are only ever added.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from datetime import date, datetime
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from witnessmark.assessment.model import (
    Assessment,
    Field,
    FieldGap,
    FilledForm,
    Gap,
    LeafState,
    PartState,
    RequirementState,
    Unused,
)
from witnessmark.methods.base import Output
from witnessmark.problems import Problem, in_order
from witnessmark.quantities.format import decimal_string
from witnessmark.records.world import Workshop

if TYPE_CHECKING:
    from witnessmark.document.build import BuildReport

__all__ = ["audit_envelope", "audit_schema", "build_envelope", "fleet_envelope", "problems_envelope"]


def audit_schema() -> dict[str, Any]:
    """The JSON Schema (2020-12) of what `audit_envelope` gives."""
    text = files("witnessmark.exports").joinpath("audit.schema.json").read_text("utf-8")
    schema: dict[str, Any] = json.loads(text)
    return schema


def audit_envelope(workshop: Workshop, assessment: Assessment) -> str:
    """`audit VEHICLE --format json`."""
    problems = (*workshop.problems, *assessment.problems)
    return _text({**_head("audit", assessment.as_of, problems), **_assessment(assessment)})


def fleet_envelope(workshop: Workshop, assessments: Iterable[Assessment]) -> str:
    """`audit --format json`: every vehicle under `vehicles`, each as in `audit_envelope`."""
    found = list(assessments)
    problems = (*workshop.problems, *(p for a in found for p in a.problems))
    return _text({**_head("audit", workshop.as_of, problems), "vehicles": [_assessment(a) for a in found]})


def build_envelope(workshop: Workshop, assessment: Assessment, report: BuildReport) -> str:
    """`build VEHICLE --format json`: what was written, and the states it shows."""
    problems = (*workshop.problems, *assessment.problems, *report.problems)
    return _text(
        {
            **_head("build", assessment.as_of, problems),
            "vehicle": assessment.vehicle,
            "summary": {state.value: n for state, n in assessment.summary.items()},
            "written": report.written,
            "files": list(report.files),
            "not_attached": [{"name": name, "why": why} for name, why in report.left_out],
        }
    )


def problems_envelope(command: str, problems: Iterable[Problem], *, as_of: date | datetime | None) -> str:
    """The envelope of a command that gives nothing but problems."""
    return _text(_head(command, as_of, problems))


def _text(document: dict[str, Any]) -> str:
    return json.dumps(document, ensure_ascii=False, indent=2, allow_nan=False)


def _head(command: str, as_of: date | datetime | None, problems: Iterable[Problem]) -> dict[str, Any]:
    return {
        "format": 1,
        "command": command,
        "as_of": None if as_of is None else as_of.isoformat(),
        "problems": [_problem(p) for p in in_order(problems)],
    }


def _problem(problem: Problem) -> dict[str, Any]:
    place = problem.place
    return {
        "code": problem.code,
        "place": None if place is None else {"file": place.file, "line": place.line, "column": place.column},
        "message": problem.message,
        "remedy": problem.remedy,
        "severity": problem.severity.value,
    }


def _assessment(assessment: Assessment) -> dict[str, Any]:
    return {
        "vehicle": assessment.vehicle,
        "summary": {state.value: n for state, n in assessment.summary.items()},
        "requirements": [_requirement(state) for state in assessment.requirements],
        "jobs": [
            {
                "group": job.group,
                "title": job.title,
                "minutes": job.minutes,
                "entries": [{"gap": _gap(gap), "requirements": list(hits)} for gap, hits in job.entries],
            }
            for job in assessment.jobs
        ],
        "unused": [_unused(row) for row in assessment.unused],
        "forms": [_form(form) for form in assessment.forms],
        "risks": None
        if assessment.risks is None
        else {
            "code": assessment.risks.code,
            "unsound": assessment.risks.unsound,
            "rows": [
                {
                    "name": row.name,
                    "open": row in assessment.risks.open_rows,
                    "shown_by": {
                        ref: None if state is None else state.value for c in row.controls for ref, state in c.shown_by
                    },
                }
                for row in assessment.risks.rows
            ],
        },
    }


def _form(form: FilledForm) -> dict[str, Any]:
    return {
        "set": form.set_id,
        "id": form.file.id,
        "title": form.file.title,
        "place": form.file.place,
        "applies": form.applies.value,
        "why": form.why,
        "asked": form.asked,
        "filled": form.filled,
        "empty": list(form.empty_names),
        "doubts": [_field_gap(gap) for gap in form.doubts],
        "fields": [_field(field) for field in form.fields],
    }


def _field(field: Field) -> dict[str, Any]:
    return {
        "number": field.item.number,
        "title": field.item.title,
        "state": field.state.value,
        "values": [
            {"words": v.words, "part": v.part, "code": v.code, "source": v.source, "file": v.file, "sha256": v.sha256}
            for v in field.values
        ],
        "gaps": [_field_gap(gap) for gap in field.gaps],
        "why": field.why,
    }


def _field_gap(gap: FieldGap) -> dict[str, Any]:
    return {
        "code": gap.code,
        "question": gap.question,
        "why": gap.why,
        "remedy": gap.remedy,
        "command": gap.command,
        "part": gap.part,
        "key": gap.key,
    }


def _requirement(state: RequirementState) -> dict[str, Any]:
    return {
        "id": state.id,
        "set": state.set_id,
        "area": state.area,
        "clause": state.requirement.clause,
        "title": state.requirement.title,
        "state": state.state.value,
        "beneath": state.beneath.value,
        "axes": {
            "applies": state.axes.applies.value,
            "valid": state.axes.valid,
            "result": state.axes.result.value,
            "concession": state.axes.concession,
        },
        "why": state.why,
        "unconfirmed": state.unconfirmed,
        "review": {
            "what": state.review.what.value,
            "by": state.review.by,
            "on": state.review.on.isoformat() if state.review.on else None,
            "official": state.review.official,
            "words": state.review.words,
            "code": state.review.code,
        },
        "authority": None
        if state.authority is None
        else {
            "code": state.authority.code,
            "answer": state.authority.answer,
            "words": state.authority.words,
            "issue": state.authority.issue,
            "authority": state.authority.authority,
            "number": state.authority.number,
            "dated": state.authority.dated.isoformat(),
        },
        "gaps": [_gap(gap) for gap in state.gaps],
        "leaves": [_leaf(part, leaf) for part in state.parts for leaf in part.leaves],
        "concessions": [
            {
                "code": c.code,
                "issuer": c.issuer,
                "number": c.number,
                "last_day": c.last_day,
                "terms": c.terms,
                "idle": c.idle,
            }
            for c in state.concessions
        ],
    }


def _gap(gap: Gap) -> dict[str, Any]:
    return {
        "code": gap.code,
        "message": gap.message,
        "remedy": gap.remedy,
        "state": gap.state.value,
        "part": gap.part,
        "leaf": gap.leaf,
        "key": gap.key,
        "group": gap.group,
        "minutes": gap.minutes,
        "take": gap.take,
        "persons": gap.persons,
        "records": list(gap.records),
    }


def _leaf(part: PartState, leaf: LeafState) -> dict[str, Any]:
    governing = leaf.result
    return {
        "name": leaf.name,
        "part": part.part,
        "state": leaf.state.value,
        "records": [
            {
                "code": r.act.code,
                "performed": r.record.performed.isoformat(),
                "verdict": None if r.verdict is None else r.verdict.value,
                "governs": r.act.code in leaf.governs,
                "sound": r.sound,
                "current": r.current,
                "withdrawn": r.withdrawn,
                "ended": r.ended,
                "causes": [c.code for c in r.causes],
            }
            for r in leaf.records
        ],
        "result": None if governing is None or governing.output is None else quantity(governing.output),
    }


def quantity(output: Output) -> dict[str, Any]:
    """A result in its printing unit: decimal strings, null where nothing is known."""
    unit = output.unit
    return {
        "measurand": output.measurand,
        "value": decimal_string((output.value - float(unit.offset)) / float(unit.scale)),
        "unit": unit.symbol,
        "U": None if output.U is None else decimal_string(output.U / float(unit.scale)),
        "k": None if output.k is None else decimal_string(output.k),
        "dof": None if output.dof == float("inf") else decimal_string(output.dof),
        "bound": output.bound,
    }


def _unused(row: Unused) -> dict[str, Any]:
    return {"code": row.code, "message": row.message, "remedy": row.remedy, "path": row.path}
