"""A workshop and an assessment made by hand: every state, every kind of leaf, records that no longer govern.

All of it is invented. Results come from the methods and decisions from the decision rule, so that pages can be checked;
the states are set by hand.
"""

from __future__ import annotations

import hashlib
import io
import json
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

from witnessmark.assessment.model import (
    Applies,
    Assessment,
    Axes,
    Cause,
    ConcessionNote,
    CriterionResult,
    Gap,
    JobGroup,
    LeafState,
    PartState,
    RecordResult,
    RequirementState,
    State,
    Unused,
    Verdict,
)
from witnessmark.methods.base import Reading, Refused, Result
from witnessmark.methods.registry import method
from witnessmark.problems import Place, Problem, Severity
from witnessmark.quantities import parse_quantity
from witnessmark.quantities.decision import DecisionRule, Limit, Statement, decide
from witnessmark.quantities.propagation import Input
from witnessmark.records.acts import Claim, Record, act_model
from witnessmark.records.base import Frozen
from witnessmark.records.sets import Requirement, RequirementSet, SetFile
from witnessmark.records.workshop import InstrumentFile, PersonFile, VehicleFile, WorkshopFile
from witnessmark.records.world import Act, FileState, History, Picture, Workshop

AS_OF = datetime.fromisoformat("2026-11-24T23:59:59+01:00")
VEHICLE = "van-07"
VIN = "SAMPLE7VAN0000007"


def _picture(shade: int) -> bytes:
    """A drawn JPEG that shows nothing."""
    from PIL import Image

    out = io.BytesIO()
    Image.new("RGB", (320, 240), (shade, shade, shade)).save(out, "JPEG")
    return out.getvalue()


PICTURES = {"photos/set-up.jpg": _picture(120), "photos/sign.jpg": _picture(200)}
PHOTO_SHA = hashlib.sha256(PICTURES["photos/set-up.jpg"]).hexdigest()
SIGN_SHA = hashlib.sha256(PICTURES["photos/sign.jpg"]).hexdigest()
SOURCE = {"confidence": "seen"}


def _leaf(**given: Any) -> dict[str, Any]:
    return {"job": {"bus": "dead", "minutes": "15", "take": "meter mo-01"}, **given}


REQUIREMENTS: tuple[tuple[str, dict[str, Any]], ...] = (
    (
        "isolation",
        {
            "id": "isolation-joined-bus",
            "clause": "5.1.3.2",
            "title": "Isolation of the joined buses",
            "statement": "The joined bus has at least 500 Ω of isolation to the chassis per volt of working voltage.",
            "source": SOURCE,
            "each": {"part": "hv-bus"},
            "leaves": {
                "isolation": {"measure": "isolation-per-volt", "criteria": {"full": {"at_least": "500 Ω/V"}}},
                "set-up": {"photograph": "meter, poles and sheet code in one frame"},
            },
            "shown": {"all": ["isolation", "set-up"]},
            "cautions": ["High voltage can kill. Work on a live bus is for two qualified persons."],
        },
    ),
    (
        "isolation",
        {
            "id": "isolation-inlet",
            "clause": "5.1.3.4",
            "title": "Isolation of the charge inlet",
            "statement": "The inlet has at least 500 Ω to the chassis per volt.",
            "source": SOURCE,
            "leaves": {"isolation": {"measure": "isolation-per-volt", "criteria": {"full": {"at_least": "500 Ω/V"}}}},
            "shown": "isolation",
        },
    ),
    (
        "isolation",
        {
            "id": "fuel-cell-monitor",
            "clause": "5.1.3.3",
            "title": "Monitor of a fuel cell",
            "source": SOURCE,
            "statement": "A fuel cell has a monitor.",
            "leaves": {"monitor": {"trial": "the warning comes on"}},
            "shown": "monitor",
        },
    ),
    (
        "contact",
        {
            "id": "connectors",
            "clause": "5.1.1",
            "title": "Finger-safe connectors",
            "source": SOURCE,
            "statement": "No live part can be touched with the jointed finger.",
            "each": {"part": "connector"},
            "leaves": {"probe": _leaf(inspect="the jointed finger touches nothing live")},
            "shown": "probe",
        },
    ),
    (
        "contact",
        {
            "id": "sign",
            "clause": "5.1.1.4",
            "title": "Warning sign on the pack",
            "source": SOURCE,
            "statement": "The pack carries the sign.",
            "leaves": {"sign": {"photograph": "the sign, legible"}},
            "shown": "sign",
        },
    ),
    (
        "contact",
        {
            "id": "bonding-dcdc",
            "clause": "5.1.2.2",
            "title": "Bonding of the DC/DC converter",
            "source": SOURCE,
            "statement": "Less than 0.1 Ω between the case and the chassis.",
            "leaves": {"bonding": {"inspect": "case bonded to the chassis"}},
            "shown": "bonding",
        },
    ),
    (
        "mass",
        {
            "id": "rear-axle",
            "clause": "W-3",
            "title": "Mass on the rear axle",
            "source": {"confidence": "practice"},
            "statement": "The rear axle carries no more than its limit.",
            "leaves": {"weighing": {"report": "ticket of the weighbridge"}},
            "shown": "weighing",
        },
    ),
    (
        "mass",
        {
            "id": "handbook",
            "clause": "W-9",
            "title": "Handbook pages",
            "source": {"confidence": "own"},
            "about": "workshop",
            "statement": "The owner gets the pages about charging.",
            "leaves": {"pages": {"document": "the pages as handed over"}},
            "shown": "pages",
        },
    ),
    (
        "mass",
        {
            "id": "rescue-sheet",
            "clause": "W-10",
            "title": "Rescue sheet",
            "source": {"confidence": "own"},
            "statement": "The sheet lies in the vehicle.",
            "leaves": {"sheet": {"document": "the sheet"}},
            "shown": "sheet",
        },
    ),
)

RECORDS: tuple[dict[str, Any], ...] = (
    {
        "code": "7k4qxm",
        "part": "traction-bus",
        "shows": {
            "isolation-joined-bus/isolation": {},
            "isolation-joined-bus/set-up": {
                "photo": "photos/set-up.jpg",
                "finding": "meets",
                "seen": "Meter, poles and card in one frame",
                "by": "ao",
            },
        },
        "performed": "2026-10-14T16:20+02:00",
        "by": {"tester": "jm", "witness": "ao"},
        "method": "voltmeter-own-source/1",
        "instruments": {"voltmeter": "dmm-02", "resistor": "decade-01"},
        "conditions": {"contactors": "closed", "air": "18 °C"},
        "readings": {
            "ub": "402.9 V",
            "u1": "203.4 V",
            "u2": "199.8 V",
            "ro": "200.0 kΩ",
            "ro_at": "negative",
            "u1_loaded": "96.1 V",
            "u2_loaded": "306.8 V",
        },
        "files": [{"name": "photos/set-up.jpg", "bytes": "12", "sha256": PHOTO_SHA}],
    },
    {
        "code": "2m8wfd",
        "part": "heater-bus",
        "shows": {"isolation-joined-bus/isolation": {}},
        "performed": "2026-10-15T10:00+02:00",
        "by": {"tester": "jm"},
        "method": "voltmeter-own-source/1",
        "instruments": {"voltmeter": "dmm-02", "resistor": "decade-01"},
        "readings": {
            "ub": "402.9 V",
            "u1": "203.4 V",
            "u2": "199.8 V",
            "ro": "200.0 kΩ",
            "ro_at": "negative",
            "u1_loaded": "140.2 V",
            "u2_loaded": "262.7 V",
        },
    },
    {
        "code": "9j3hsn",
        "shows": {"isolation-inlet/isolation": {}},
        "performed": "2026-10-16T10:00+02:00",
        "by": {"tester": "jm"},
        "method": "voltmeter-own-source/1",
        "instruments": {"voltmeter": "dmm-02", "resistor": "decade-01"},
        "readings": {
            "ub": "402.9 V",
            "u1": "203.4 V",
            "u2": "199.8 V",
            "ro": "200.0 kΩ",
            "ro_at": "negative",
            "u1_loaded": "134.9 V",
            "u2_loaded": "268.0 V",
        },
    },
    {
        "code": "f4t8ma",
        "part": "x1",
        "shows": {"connectors/probe": {"finding": "meets", "seen": "no contact, mated and parted"}},
        "performed": "2026-10-09T09:00+02:00",
        "by": {"tester": "st"},
    },
    {
        "code": "e5u9nb",
        "part": "x1",
        "shows": {"connectors/probe": {"finding": "does-not-meet", "seen": "finger reaches pin 2"}},
        "performed": "2026-10-08T09:00+02:00",
        "by": {"tester": "st"},
    },
    {
        "code": "w8q2nc",
        "shows": {"sign/sign": {"photo": "photos/sign.jpg"}},
        "performed": "2026-10-09T11:00+02:00",
        "by": {"tester": "st"},
        "files": [{"name": "photos/sign.jpg", "bytes": "12", "sha256": SIGN_SHA}],
    },
    {
        "code": "r2c6xm",
        "part": "dcdc",
        "shows": {"bonding-dcdc/bonding": {"finding": "meets"}},
        "performed": "2026-10-14T09:00+02:00",
        "by": {"tester": "jm"},
    },
    {
        "code": "v4n7ce",
        "shows": {
            "rear-axle/weighing": {"finding": "does-not-meet", "file": "reports/ticket.pdf", "number": "ticket 311"}
        },
        "performed": "2026-10-20T09:00+02:00",
        "by": {"tester": "ao"},
        "files": [{"name": "reports/ticket.pdf", "bytes": "9", "sha256": "ef" * 32}],
    },
    {
        "code": "k5d7hu",
        "shows": {"handbook/pages": {"finding": "meets", "file": "reports/handbook.pdf"}},
        "performed": "2026-10-21T09:00+02:00",
        "by": {"tester": "ao"},
        "files": [{"name": "reports/handbook.pdf", "bytes": "9", "sha256": "0a" * 32}],
    },
)

OTHERS: tuple[tuple[str, dict[str, Any]], ...] = (
    (
        "vehicles/van-07/facts/identity.yaml",
        {
            "code": "aaaaa2",
            "facts": {
                "vin": {"value": VIN, "source": "plate"},
                "working_voltage": {"value": "403.2 V", "source": "cell data sheet"},
                "requirement_sets": {"value": ("own-set",), "source": "build plan"},
            },
            "parts": {
                "hv-bus": {
                    "source": "drawing 4",
                    "list": {
                        "traction-bus": {"title": "traction bus", "members": ("dcdc",)},
                        "heater-bus": {"title": "heater bus"},
                    },
                },
                "component": {
                    "source": "build sheet",
                    "list": {"dcdc": {"title": "DC/DC converter", "serial": "D-07"}},
                },
                "connector": {
                    "source": "drawing 4",
                    "list": {
                        "x1": {"title": "X1, pack", "within": "traction-bus"},
                        "x8": {"title": "X8, charge inlet"},
                    },
                },
                "fuel-cell": {"source": "build sheet", "list": {}},
            },
            "stated": "2026-09-01T09:00+02:00",
            "by": "jm",
        },
    ),
    (
        "vehicles/van-07/events/dcdc.yaml",
        {
            "code": "aaaaa3",
            "event": "replaced",
            "at": "2026-10-20T09:00+02:00",
            "by": "jm",
            "part": "dcdc",
            "removed": {"serial": "D-07"},
            "fitted": {"serial": "D-19"},
            "why": "no output at cold start",
        },
    ),
    (
        "vehicles/van-07/records/withdrawal.yaml",
        {
            "code": "aaaaa4",
            "withdraws": "e5u9nb",
            "because": "mistaken",
            "at": "2026-10-10T09:00+02:00",
            "by": "st",
            "second": "ao",
            "reason": "the probe was the wrong one",
        },
    ),
    (
        "instruments/dmm-02/calibrations/2026.yaml",
        {
            "code": "aaaaa5",
            "calibration": "dmm-02",
            "on": "2026-03-03",
            "due": "2027-03-03",
            "certificate": "C-1",
            "laboratory": "an invented laboratory",
            "as_found": "in-tolerance",
            "by": "ao",
            "accuracy": [
                {
                    "function": "dc-voltage",
                    "low": "0 V",
                    "high": "600 V",
                    "percent_of_reading": "0.1",
                    "digits": "2",
                    "resolution": "0.1 V",
                }
            ],
        },
    ),
    (
        "people/authorisations/jm.yaml",
        {
            "code": "aaaaa6",
            "authorises": "jm",
            "for": ["all"],
            "from": "2026-01-01",
            "until": "2026-12-31",
            "basis": "trade certificate",
            "by": "ao",
        },
    ),
    (
        "concessions/axle.yaml",
        {
            "code": "aaaaa7",
            "concession": {
                "requirement": "rear-axle",
                "vehicle": VEHICLE,
                "issuer": "Oddmoor Vehicle Office",
                "number": "OV-311",
                "issued": "2026-11-01",
                "last_day": "2027-06-30",
                "terms": "18 kg over, this vehicle only",
            },
            "by": "ao",
        },
    ),
    (
        "policy/2026.yaml",
        {"code": "aaaaa8", "policy": {"decision_rule": {"rule": "guarded"}}, "in_force": "2026-01-01", "by": "ao"},
    ),
)


def frozen(tree: Any) -> Any:
    """Lists as tuples, as the reader hands them to the models."""
    if isinstance(tree, Mapping):
        return {k: frozen(v) for k, v in tree.items()}
    return tuple(frozen(v) for v in tree) if isinstance(tree, list | tuple) else tree


def act(path: str, tree: dict[str, Any], appeared: int) -> Act:
    vehicle = path.startswith("vehicles/")
    seal: dict[str, Any] = {
        "on": "2026-11-02T18:00+01:00",
        "by": "ao",
        "content": hashlib.sha256(path.encode()).hexdigest(),
    }
    if vehicle:
        seal["vehicle"] = {"id": VEHICLE, "vin": VIN}
    whole = frozen({"format": "1", **tree, "seal": seal})
    model = act_model(whole)
    assert model is not None
    body: Any = model.model_validate(whole)
    files = tuple(FileState(f.name, f.sha256, f.sha256) for f in body.files)
    where = f"evidence/{path}"
    return Act(tree["code"], body, where, Place(where), whole, appeared, files=files)


def requirement(ident: str) -> Requirement:
    return next(Requirement.model_validate(frozen(tree)) for _, tree in REQUIREMENTS if tree["id"] == ident)


def evaluated(record: Record) -> Result | None:
    """The result of the record's method with an uncertainty of 0.1 % on each reading; None without a method."""
    found = method(record.method or "")
    if found is None:
        return None
    readings: dict[str, tuple[Reading, ...]] = {}
    for name, text in record.readings.items():
        spec = found.input(name)
        assert spec is not None and isinstance(text, str)
        if spec.choices:
            readings[name] = (Reading(None, word=text),)
        else:
            quantity = parse_quantity(text)
            given = Input(
                name, quantity.si, abs(quantity.si) * 1e-3, shape="rectangular", basis="calibration of the meter"
            )
            readings[name] = (Reading(quantity, given),)
    result = found.evaluate(readings, {"working_voltage": parse_quantity("403.2 V")})
    assert not isinstance(result, Refused), result
    return result


VERDICTS = {Statement.PASS: Verdict.PASS, Statement.FAIL: Verdict.FAIL}


def result_of(act_: Act, requirement_: Requirement, name: str, **how: Any) -> RecordResult:
    record = act_.body
    assert isinstance(record, Record)
    claim: Claim = record.shows[f"{requirement_.id}/{name}"]
    leaf = requirement_.leaves[name]
    criteria: list[CriterionResult] = []
    result, output = None, None
    if leaf.criteria:
        result = evaluated(record)
        assert result is not None
        output = result.output(leaf.words)
        assert output is not None
        for criterion_name, criterion in leaf.criteria.items():
            limit = Limit("at_least", criterion.limit.value, criterion.limit.unit)  # type: ignore[union-attr]  # no fact here
            decision = decide(output.value, output.U, output.bound, limit, DecisionRule.guarded(), u=output.u)
            verdict = VERDICTS.get(decision.statement, Verdict.UNDECIDED)
            criteria.append(
                CriterionResult(
                    name, criterion_name, str(limit), verdict, decision.statement.value, decision, criterion
                )
            )
    else:
        found = {"meets": Verdict.PASS, "does-not-meet": Verdict.FAIL}.get(claim.finding or "", Verdict.UNDECIDED)
        if claim.finding:
            criteria.append(CriterionResult(name, "meets", leaf.words, found, claim.finding))
    verdict_ = criteria[0].verdict if criteria else None
    given: dict[str, Any] = {"sound": True, "current": True, "causes": (), **how}
    return RecordResult(act_, record, claim, tuple(criteria), verdict_, result=result, output=output, **given)


def workshop() -> Workshop:
    acts = [act(f"vehicles/{VEHICLE}/records/{tree['code']}.yaml", tree, n) for n, tree in enumerate(RECORDS)]
    acts += [act(path, tree, 100 + n) for n, (path, tree) in enumerate(OTHERS)]
    areas = dict.fromkeys(area for area, _ in REQUIREMENTS)
    titles = {"isolation": "Isolation", "contact": "Direct contact", "mass": "Mass and papers"}
    found = RequirementSet(
        "own-set",
        SetFile.model_validate({"format": "1", "title": "An invented set", "short": "Set", "note": "for tests only"}),
        tuple(requirement(tree["id"]) for _, tree in REQUIREMENTS),
        tuple((area, titles[area]) for area in areas),
        area_of=Frozen({tree["id"]: area for area, tree in REQUIREMENTS}),
    )
    return Workshop(
        file=WorkshopFile.model_validate(
            {
                "format": "1",
                "name": "Saltmarsh Electric Conversions",
                "place": "Ropewalk Yard, Isle of Oddmoor",
                "zone": "Europe/Stockholm",
                "demonstration": {"as_of": "2026-11-24", "notice": "Demonstration: all data invented"},
            }
        ),
        as_of=AS_OF,
        people={
            "jm": PersonFile.model_validate({"format": "1", "name": "J. Marram", "role": "fitter"}),
            "ao": PersonFile.model_validate({"format": "1", "name": "A. Orchis", "role": "engineer"}),
            "st": PersonFile.model_validate({"format": "1", "name": "S. Thrift", "role": "fitter"}),
        },
        instruments={
            "dmm-02": InstrumentFile.model_validate(
                {"format": "1", "title": "multimeter", "serial": "M-2", "functions": ("dc-voltage",)}
            )
        },
        vehicles={
            VEHICLE: VehicleFile.model_validate(
                {
                    "format": "1",
                    "title": "Postal van 07",
                    "file_number": "SEC-07",
                    "issue": "B",
                    "service": "Oddmoor Vehicle Office",
                }
            )
        },
        sets={"own-set": found},
        facts={},
        acts=tuple(acts),
        pictures={
            f"evidence/vehicles/{VEHICLE}/photos/set-up.jpg": Picture(
                "set-up.jpg", PHOTO_SHA, 40, 30, "2026-10-14 16:14"
            )
        },
        history=History(consulted=False),
    )


def assessment(world: Workshop) -> Assessment:
    """All seven states; `bonding-dcdc` lapsed, `connectors` with a part that has no record and a withdrawn fail."""
    acts = {a.code: a for a in world.acts}

    def leaf(
        ident: str,
        name: str,
        part: str | None,
        state: State,
        *codes: str,
        causes: tuple[Cause, ...] = (),
        withdrawn: tuple[str, ...] = (),
    ) -> LeafState:
        wanted = requirement(ident)
        results = tuple(
            result_of(
                acts[code],
                wanted,
                name,
                current=not causes,
                causes=causes,
                withdrawn=code in withdrawn,
                ended=code in withdrawn,
            )
            for code in codes
        )
        return LeafState(
            name, wanted.leaves[name], part, state, results, tuple(c for c in codes[:1] if c not in withdrawn), causes
        )

    def whole(
        ident: str,
        state: State,
        *parts: PartState,
        gaps: tuple[Gap, ...] = (),
        beneath: State | None = None,
        concessions: tuple[ConcessionNote, ...] = (),
        why: str = "",
    ) -> RequirementState:
        area = next(a for a, tree in REQUIREMENTS if tree["id"] == ident)
        below = state if beneath is None else beneath
        applies = Applies.NO if state is State.NOT_APPLICABLE else Applies.YES
        return RequirementState(
            "own-set",
            area,
            requirement(ident),
            state,
            below,
            Axes(applies, not state.is_gap, below, bool(concessions)),
            parts,
            gaps,
            concessions,
            why,
        )

    replaced = Cause(
        "part.replaced",
        "On 20 October D-07 was replaced by D-19, after the test",
        "Measure bonding of D-19 to the chassis",
        State.LAPSED,
        "event:aaaaa3",
    )
    fail = Gap(
        "result.fail",
        "431 Ω/V is less than 500 Ω/V. Moisture was found in connector X14",
        "Dry and reseal X14, then measure again as a retest of 2m8wfd",
        State.NONCONFORMING,
        "heater-bus",
        "isolation",
        "fail:2m8wfd",
        "live",
        60,
        "dmm-04",
        2,
        ("2m8wfd",),
    )
    close = Gap(
        "result.undecided",
        "The limit of 500 lies inside the interval",
        "Measure again with dmm-04",
        State.UNDECIDED,
        None,
        "isolation",
        "undecided:9j3hsn",
        "live",
        30,
        "dmm-04",
        2,
        ("9j3hsn",),
    )
    missing = Gap(
        "record.none",
        "There is no record for X8, charge inlet",
        "Probe X8 with the jointed finger, parted and mated",
        State.NOT_SHOWN,
        "x8",
        "probe",
        "none:connectors:x8",
        "dead",
        25,
        "jointed finger",
        1,
    )
    unjudged = Gap(
        "finding.none",
        "The photograph of 9 October is here, but nobody has said what it shows",
        "Look at it and state the finding",
        State.NOT_SHOWN,
        None,
        "sign",
        "finding:w8q2nc",
        "desk",
        5,
        None,
        None,
        ("w8q2nc",),
    )
    lapsed = Gap(
        "part.replaced",
        replaced.message,
        replaced.remedy,
        State.LAPSED,
        "dcdc",
        "bonding",
        "event:aaaaa3",
        "dead",
        15,
        "mo-01",
        1,
        ("r2c6xm",),
    )
    waits = Gap(
        "record.none",
        "The rescue sheet has not arrived",
        "Ask for it again",
        State.NOT_SHOWN,
        None,
        "sheet",
        "none:sheet",
        "away",
        5,
    )
    note = ConcessionNote(
        "aaaaa7", "Oddmoor Vehicle Office", "OV-311", "30 June 2027", "18 kg over, this vehicle only", False
    )
    requirements = (
        whole(
            "isolation-joined-bus",
            State.NONCONFORMING,
            PartState(
                "traction-bus",
                "traction bus",
                State.CONFORMS,
                (
                    leaf("isolation-joined-bus", "isolation", "traction-bus", State.CONFORMS, "7k4qxm"),
                    leaf("isolation-joined-bus", "set-up", "traction-bus", State.CONFORMS, "7k4qxm"),
                ),
            ),
            PartState(
                "heater-bus",
                "heater bus",
                State.NONCONFORMING,
                (
                    leaf("isolation-joined-bus", "isolation", "heater-bus", State.NONCONFORMING, "2m8wfd"),
                    leaf("isolation-joined-bus", "set-up", "heater-bus", State.NOT_SHOWN),
                ),
            ),
            gaps=(
                fail,
                Gap(
                    "record.none",
                    "There is no photograph of the set-up",
                    "Take one when it is measured again",
                    State.NOT_SHOWN,
                    "heater-bus",
                    "set-up",
                    "none:set-up",
                    "live",
                    2,
                ),
            ),
        ),
        whole(
            "isolation-inlet",
            State.UNDECIDED,
            PartState(
                None,
                "the vehicle",
                State.UNDECIDED,
                (leaf("isolation-inlet", "isolation", None, State.UNDECIDED, "9j3hsn"),),
            ),
            gaps=(close,),
        ),
        whole("fuel-cell-monitor", State.NOT_APPLICABLE, why="energy_source is battery (build sheet 3, aaaaa2)."),
        whole(
            "connectors",
            State.NOT_SHOWN,
            PartState(
                "x1",
                "X1, pack",
                State.CONFORMS,
                (leaf("connectors", "probe", "x1", State.CONFORMS, "f4t8ma", "e5u9nb", withdrawn=("e5u9nb",)),),
            ),
            PartState("x8", "X8, charge inlet", State.NOT_SHOWN, (leaf("connectors", "probe", "x8", State.NOT_SHOWN),)),
            gaps=(missing,),
        ),
        whole(
            "sign",
            State.NOT_SHOWN,
            PartState(None, "the vehicle", State.NOT_SHOWN, (leaf("sign", "sign", None, State.NOT_SHOWN, "w8q2nc"),)),
            gaps=(unjudged,),
        ),
        whole(
            "bonding-dcdc",
            State.LAPSED,
            PartState(
                "dcdc",
                "DC/DC converter",
                State.LAPSED,
                (leaf("bonding-dcdc", "bonding", "dcdc", State.LAPSED, "r2c6xm", causes=(replaced,)),),
            ),
            gaps=(lapsed,),
        ),
        whole(
            "rear-axle",
            State.UNDER_CONCESSION,
            PartState(
                None,
                "the vehicle",
                State.UNDER_CONCESSION,
                (leaf("rear-axle", "weighing", None, State.NONCONFORMING, "v4n7ce"),),
            ),
            beneath=State.NONCONFORMING,
            concessions=(note,),
        ),
        whole(
            "handbook",
            State.CONFORMS,
            PartState(
                None, "the workshop", State.CONFORMS, (leaf("handbook", "pages", None, State.CONFORMS, "k5d7hu"),)
            ),
        ),
        whole(
            "rescue-sheet",
            State.NOT_SHOWN,
            PartState(None, "the vehicle", State.NOT_SHOWN, (leaf("rescue-sheet", "sheet", None, State.NOT_SHOWN),)),
            gaps=(waits,),
        ),
    )
    jobs = (
        JobGroup("dead", "Bus dead", ((lapsed, ("bonding-dcdc",)), (missing, ("connectors",))), 40),
        JobGroup("desk", "At the desk", ((unjudged, ("sign",)),), 5),
        JobGroup("live", "Bus live", ((fail, ("isolation-joined-bus",)), (close, ("isolation-inlet",))), 90),
        JobGroup("away", "Waits", ((waits, ("rescue-sheet",)),), 5),
    )
    unused = (
        Unused(
            "file.unused",
            "photos/odd.jpg is named by no record",
            "record what it shows, or take it away",
            "photos/odd.jpg",
        ),
    )
    note_ = Problem(
        "history.pinned",
        "the demonstration does not consult history",
        "nothing to do",
        Place("evidence/workshop.yaml"),
        Severity.NOTE,
    )
    return Assessment(VEHICLE, AS_OF, requirements, jobs, unused, (note_,))


def folder(root: Path, world: Workshop) -> Path:
    """The files that a build reads: sealed acts and photographs."""
    for act_ in world.acts:
        path = root / act_.path
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(json.dumps(act_.tree, ensure_ascii=False, indent=1), encoding="utf-8")
    for name, data in PICTURES.items():
        path = root / "evidence" / "vehicles" / VEHICLE / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    return root
