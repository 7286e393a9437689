"""Small workshops in memory: acts from plain mappings, with a method that only the tests know.

A `Story` is told day by day. Day n is n days after 1 January 2026, at noon UTC; an act is sealed one hour after the
time it speaks of, unless told otherwise. Everything here is invented.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any, cast

from witnessmark.assessment import seals
from witnessmark.assessment.assess import assess
from witnessmark.assessment.model import Assessment, RequirementState, State
from witnessmark.methods.base import Caution, InputSpec, MeasurandSpec, Method, Output, Reading, Result, RoleSpec
from witnessmark.methods.registry import method as registered
from witnessmark.problems import Place
from witnessmark.quantities import Quantity, parse_unit
from witnessmark.records.acts import AnyAct, Record, act_model
from witnessmark.records.base import CODE_ALPHABET, Frozen, text_of_instant
from witnessmark.records.canonical import content_digest, digest_of
from witnessmark.records.sets import FactDefinition, Requirement, RequirementSet, SetFile
from witnessmark.records.workshop import InstrumentFile, PersonFile, VehicleFile, WorkshopFile
from witnessmark.records.world import Act, Draft, FileState, Held, History, Workshop

__all__ = [
    "AS_OF",
    "NA",
    "STEADY",
    "C",
    "K",
    "L",
    "N",
    "S",
    "Story",
    "U",
    "code_of",
    "day",
    "find_method",
    "one_leaf",
    "paper_leaf",
]

N, L, S, U = State.NONCONFORMING, State.LAPSED, State.NOT_SHOWN, State.UNDECIDED
K, C, NA = State.UNDER_CONCESSION, State.CONFORMS, State.NOT_APPLICABLE

AS_OF = 100
START = datetime(2026, 1, 1, 12, 0, tzinfo=UTC)
VIN = "TESTVIN0000000001"
VAN = "van"


def day(number: float) -> datetime:
    return START + timedelta(minutes=round(number * 24 * 60))


def text(number: float) -> str:
    return text_of_instant(day(number))


def date_text(number: float) -> str:
    return day(number).date().isoformat()


def code_of(label: str) -> str:
    """A code for a label such as P1: the same every time."""
    number = int.from_bytes(label.encode(), "big") + 7
    letters = ""
    for _ in range(6):
        number, rest = divmod(number, len(CODE_ALPHABET))
        letters += CODE_ALPHABET[rest]
    return letters


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Mapping[str, Quantity | str], figures: Mapping[str, object]
) -> Result:
    """A reading is its own result: U from its own ±, or from the calibration."""
    reading = readings["value"][0]
    quantity = reading.quantity
    assert quantity is not None
    u = reading.input.u if reading.input is not None else quantity.u_si
    known = u is not None and not quantity.bound
    output = Output(
        "level", quantity.si, parse_unit("V"), u if known else None, math.inf, 2.0 if known else None,
        2 * u if known and u is not None else None, quantity.bound,
    )  # fmt: skip
    return Result("steady/1", (output,), ())


STEADY = Method(
    id="steady/1",
    title="Steady level (for tests only)",
    purpose="A reading that is its own result.",
    source="none, for tests only",
    confidence="own",
    equation="y = x",
    validity="any",
    cautions=(Caution("High voltage can kill. Qualified persons and local codes decide."),),
    inputs=(InputSpec("value", "x", "level", "V", role="meter", bound_allowed=True),),
    measurands=(MeasurandSpec("level", "level", "x", "V"),),
    evaluate_with=_evaluate,
    roles=(RoleSpec("meter", "meter", "dc-voltage", "10 MΩ or more", (("input_resistance", "10 MΩ"),)),),
)


def find_method(name: str) -> Method | None:
    return STEADY if name == "steady/1" else registered(name)


READINGS = {"P": "600 V ± 10 V (k=2)", "U": "500 V ± 10 V (k=2)", "F": "400 V ± 10 V (k=2)"}
FINDINGS = {"P": "meets", "U": "undecided", "F": "does-not-meet"}


def one_leaf(ident: str = "level", **more: Any) -> dict[str, Any]:
    """A requirement with one measured leaf `x` of one criterion."""
    return {
        "id": ident,
        "clause": "1.1",
        "title": "Level",
        "statement": "The level is 500 V or more.",
        "source": {"confidence": "own"},
        "leaves": {"x": {"measure": "level", "criteria": {"c": {"at_least": "500 V"}}}},
        "shown": "x",
        **more,
    }


def paper_leaf(ident: str, leaves: Mapping[str, Any], shown: Any, **more: Any) -> dict[str, Any]:
    """A requirement with leaves and `shown` as given."""
    return one_leaf(ident, leaves=dict(leaves), shown=shown, **more)


def tupled(tree: Any) -> Any:
    """As the reader hands it over: tuples for lists."""
    if isinstance(tree, Mapping):
        return {k: tupled(v) for k, v in tree.items()}
    if isinstance(tree, list | tuple):
        return tuple(tupled(v) for v in tree)
    return tree


class Story:
    """A workshop with one vehicle, as it grows."""

    def __init__(
        self,
        requirements: Sequence[Mapping[str, Any]] = (one_leaf(),),
        *,
        facts: Mapping[str, Any] | None = None,
        parts: Mapping[str, Mapping[str, Any]] | None = None,
        definitions: Mapping[str, Mapping[str, Any]] | None = None,
        edition: bool = True,
        policy: Mapping[str, Any] | None = None,
        bare: bool = False,
    ) -> None:
        self.acts: list[Act] = []
        self.drafts: list[Draft] = []
        self.vehicles = {VAN: VehicleFile(format="1", title="Van", file_number="T-1", issue="A")}
        self.sets: dict[str, RequirementSet] = {}
        self.definitions = {k: FactDefinition.model_validate(tupled(v)) for k, v in (definitions or {}).items()}
        self.figures: dict[str, Mapping[str, Any]] = {}
        self.unused_files: tuple[str, ...] = ()
        self.as_of: float = AS_OF
        self.people = {
            name: PersonFile(format="1", name=name.upper(), role="tester", outside="yes" if name == "ext" else "no")
            for name in ("ann", "bob", "ext")
        }
        self.instruments = {
            name: InstrumentFile(format="1", title=name, serial=name, functions=("dc-voltage",))
            for name in ("m1", "m2")
        }
        self.appeared = 0
        self.put_set("set", requirements)
        if bare:
            return
        if edition:
            self.edition("edition", at=-50)
        self.policy("policy", policy or {"rule": "guarded"}, at=-49)
        self.calibration("cal-m1", "m1", on=-40)
        self.calibration("cal-m2", "m2", on=-40)
        for name in ("ann", "bob"):
            self.authorisation(f"auth-{name}", name)
        self.state_facts("facts", {"vin": VIN, "requirement_sets": ["set"], **(facts or {})}, at=-10)
        for kind, listed in (parts or {}).items():
            self.list_parts(f"parts-{kind}", kind, listed, at=-9)

    # Sets and descriptions.

    def put_set(self, ident: str, requirements: Sequence[Mapping[str, Any]], **more: Any) -> Story:
        """The set as it lies in the folder, unsealed."""
        file = SetFile.model_validate({"format": "1", "title": ident, "short": ident, "note": "for tests", **more})
        self.sets[ident] = RequirementSet(
            ident,
            file,
            tuple(Requirement.model_validate(tupled(r)) for r in requirements),
            (("area", "Area"),),
            Frozen({r["id"]: "area" for r in requirements}),
            Frozen({r["id"]: digest_of(r) for r in requirements}),
            Frozen({r["id"]: Place(f"requirements/{ident}/area.yaml", 1, 1) for r in requirements}),
        )
        return self

    def edition(self, label: str, set_id: str = "set", *, at: float, name: str = "1", **how: Any) -> Story:
        digests = dict(self.sets[set_id].digests)
        tree = {
            "edition": name, "set": set_id, "count": str(len(digests)), "requirements": digests,
            "issued": date_text(at), "by": "ann",
        }  # fmt: skip
        if rule := self.sets[set_id].file.decision_rule:
            tree["decision_rule"] = rule.model_dump(exclude_none=True)
        return self.act(label, tree, at=at, vehicle=False, **how)

    # Acts.

    def act(
        self,
        label: str,
        tree: Mapping[str, Any],
        *,
        at: float,
        sealed: float | None = None,
        commit: bool = True,
        vehicle: bool | str = True,
        files: Mapping[str, str] | None = None,
        by: str = "ann",
        vin: str | None = VIN,
        against: str | None = None,
        found: Mapping[str, str] | None = None,
        members: Mapping[str, str] | None = None,
        seal: bool = True,
    ) -> Story:
        """Seal an act: `files` maps names to digests. What the tool computes is computed, unless given."""
        named = [
            {"name": n, "bytes": "1", "sha256": f"{digest_of(d).removeprefix('sha256:')}"}
            for n, d in (files or {}).items()
        ]
        full: dict[str, Any] = {"format": "1", "code": code_of(label), **dict(tree)}
        if named:
            full["files"] = named
        model = act_model(full)
        assert model is not None
        body = cast("AnyAct", model.model_validate(tupled(full)))
        path = f"evidence/vehicles/{VAN}/{label.lower()}.yaml"
        if not seal:
            self.drafts.append(Draft(path, Place(path), VAN, body))
            return self
        sealing: dict[str, Any] = {"on": text(at + 1 / 24 if sealed is None else sealed), "by": by}
        name = VAN if vehicle is True else vehicle or None
        if isinstance(body, Record) and body.design is not None:
            name = None
        if name:
            sealing["vehicle"] = {"id": name, **({"vin": vin} if vin else {})}
        if isinstance(body, Record):
            now = self.workshop()
            computed = seals.found(now, name, body, code=code_of(label), methods=find_method)
            sealing["found"] = dict(computed if found is None else found)
            sealing["against"] = against or seals.against(now, name, body, methods=find_method)
            sealing["members"] = dict(
                seals.members(now, name, body, methods=find_method) if members is None else members
            )
        full["seal"] = sealing
        sealing["content"] = content_digest(full)
        body = cast("AnyAct", model.model_validate(tupled(full)))
        states = tuple(FileState(f["name"], f["sha256"], f["sha256"]) for f in named)
        order = None
        if commit:
            order, self.appeared = self.appeared, self.appeared + 1
        self.acts.append(Act(code_of(label), body, path, Place(path, 1, 1), full, order, files=states))
        return self

    def rec(
        self,
        label: str,
        *,
        says: str | None = None,
        at: float | None = None,
        leaf: str = "level/x",
        reading: str | None = None,
        names: Sequence[str] = (),
        corrects: str | None = None,
        second: str | None = "bob",
        part: str | None = None,
        design: str | None = None,
        meter: str = "m1",
        tester: str = "ann",
        finding: bool = False,
        claim: Mapping[str, Any] | None = None,
        also: Mapping[str, Mapping[str, Any]] | None = None,
        record: Mapping[str, Any] | None = None,
        **how: Any,
    ) -> Story:
        """A record. `P1` passes and was performed on day 1; `U` is undecided, `F` fails."""
        verdict = says or label[0]
        when = at if at is not None else float(label[1:])
        claims: dict[str, Any] = {leaf: dict(claim or {}), **{k: dict(v) for k, v in (also or {}).items()}}
        tree: dict[str, Any] = {"shows": claims, "performed": text(when), "by": {"tester": tester}}
        if finding:
            claims[leaf].setdefault("finding", FINDINGS[verdict])
        else:
            tree |= {
                "method": "steady/1",
                "instruments": {"meter": meter},
                "readings": {"value": reading or READINGS[verdict]},
            }
        if part:
            tree["part"] = part
        if design:
            tree["design"] = design
        if names:
            tree |= {"retest_of": [code_of(n) for n in names], "cause": "found", "correction": "mended"}
        if corrects:
            tree |= {"corrects": code_of(corrects), "proof": "the sheet"}
            if second:
                tree["second"] = second
        return self.act(label, tree | dict(record or {}), at=when, **how)

    def withdraw(
        self, label: str, what: str, *, at: float, second: str | None = "bob", because: str = "mistaken", **how: Any
    ) -> Story:
        tree = {"withdraws": code_of(what), "because": because, "at": text(at), "by": "ann", "reason": "it was wrong"}
        if because == "moved":
            tree["moved_to"] = "another part"
        if second:
            tree["second"] = second
        return self.act(label, tree, at=at, **how)

    def check(self, label: str, what: str, *, at: float, who: str = "bob", agrees: str = "yes", **how: Any) -> Story:
        """A second person has looked at an act."""
        tree = {"checks": code_of(what), "agrees": agrees, "at": text(at), "by": who, "reason": "looked at the meter"}
        return self.act(label, tree, at=at, **how)

    def event(
        self, label: str, kind: str, part: str, *, at: float, tree: Mapping[str, Any] | None = None, **how: Any
    ) -> Story:
        return self.act(label, {"event": kind, "at": text(at), "by": "ann", "part": part, **(tree or {})}, at=at, **how)

    def carry(
        self,
        label: str,
        what: str,
        *,
        at: float,
        event: str | None = None,
        against: str | None = None,
        second: str | None = "bob",
        **how: Any,
    ) -> Story:
        tree: dict[str, Any] = {"carries_over": code_of(what), "at": text(at), "by": "ann", "reason": "looked at again"}
        if event:
            tree["event"] = code_of(event)
        if against:
            tree["against"] = against
        if second:
            tree["second"] = second
        return self.act(label, tree, at=at, **how)

    def state_facts(
        self,
        label: str,
        facts: Mapping[str, Any],
        *,
        at: float,
        part: str | None = None,
        corrects: str | None = None,
        second: str | None = "bob",
        **how: Any,
    ) -> Story:
        tree: dict[str, Any] = {
            "facts": {k: {"value": v, "source": "the plate"} for k, v in facts.items()},
            "stated": text(at), "by": "ann",
        }  # fmt: skip
        if part:
            tree["part"] = part
        if corrects:
            tree |= {"corrects": code_of(corrects), "reason": "was wrong"} | ({"second": second} if second else {})
        return self.act(label, tree, at=at, **how)

    def list_parts(
        self, label: str, kind: str, listed: Mapping[str, Any], *, at: float, corrects: str | None = None, **how: Any
    ) -> Story:
        entries = {p: {"title": p.upper(), **(e or {})} for p, e in listed.items()}
        tree: dict[str, Any] = {
            "parts": {kind: {"source": "the drawing", "list": entries}},
            "stated": text(at),
            "by": "ann",
        }
        if corrects:
            tree |= {"corrects": code_of(corrects), "reason": "was wrong", "second": "bob"}
        return self.act(label, tree, at=at, **how)

    def calibration(
        self,
        label: str,
        instrument: str,
        *,
        on: float,
        due: float = 300,
        found: str = "in-tolerance",
        traits: Mapping[str, str] | None = None,
        **how: Any,
    ) -> Story:
        tree = {
            "calibration": instrument, "on": date_text(on), "due": date_text(due), "certificate": label,
            "laboratory": "invented laboratory", "as_found": found, "by": "ann",
            "traits": {"input_resistance": "10 MΩ"} if traits is None else dict(traits),
            "accuracy": [{"function": "dc-voltage", "low": "0 V", "high": "1000 V", "percent_of_reading": "0.1"}],
        }  # fmt: skip
        return self.act(label, tree, at=on, vehicle=False, **how)

    def authorisation(
        self,
        label: str,
        person: str,
        *,
        work: Sequence[str] = ("all",),
        since: float = -60,
        until: float = 300,
        at: float = -45,
        **how: Any,
    ) -> Story:
        tree = {
            "authorises": person,
            "for": list(work),
            "from": date_text(since),
            "until": date_text(until),
            "basis": "examination",
            "by": "bob",
        }
        return self.act(label, tree, at=at, vehicle=False, **how)

    def policy(self, label: str, rule: Mapping[str, Any], *, at: float, **how: Any) -> Story:
        return self.act(
            label,
            {"policy": {"decision_rule": dict(rule)}, "in_force": date_text(at), "by": "ann"},
            at=at,
            vehicle=False,
            **how,
        )

    def concession(
        self,
        label: str,
        *,
        at: float,
        leaf: str | None = None,
        part: str | None = None,
        last: float = 200,
        requirement: str = "level",
        issuer: str = "the authority",
        document: bool = True,
        **how: Any,
    ) -> Story:
        terms: dict[str, Any] = {
            "requirement": requirement, "vehicle": VAN, "issuer": issuer, "number": label,
            "issued": date_text(at), "last_day": date_text(last), "terms": "as it is",
        }  # fmt: skip
        terms |= {k: v for k, v in (("leaf", leaf), ("part", part)) if v}
        files = {"letter.pdf": "letter"} if document else {}
        return self.act(label, {"concession": terms, "by": "ann"}, at=at, files=files, **how)

    def revision(
        self,
        label: str,
        design: str,
        revision: str,
        *,
        at: float,
        facts: Mapping[str, str] | None = None,
        parts: Mapping[str, Any] | None = None,
        **how: Any,
    ) -> Story:
        tree: dict[str, Any] = {
            "design": design, "revision": revision, "kind": "pack", "title": design,
            "issued": date_text(at), "by": "ann",
            "facts": {k: {"value": v, "source": "data sheet"} for k, v in (facts or {}).items()},
        }  # fmt: skip
        if parts:
            tree["parts"] = dict(parts)
        return self.act(label, tree, at=at, vehicle=False, **how)

    # What happens to files.

    def _change(self, label: str, **changes: Any) -> Story:
        code = code_of(label)
        assert any(a.code == code for a in self.acts), f"no act {label}"
        self.acts = [replace(a, **changes) if a.code == code else a for a in self.acts]
        return self

    def hold(self, label: str, held: Held) -> Story:
        """The tree no longer holds the text as first committed; UNCHANGED puts it back."""
        return self._change(label, held=held)

    def delete(self, label: str) -> Story:
        return self.hold(label, Held.MISSING)

    def uncommit(self, label: str) -> Story:
        return self._change(label, appeared=None)

    def commit(self, label: str) -> Story:
        self.appeared += 1
        return self._change(label, appeared=self.appeared - 1)

    def lose_files(self, label: str, found: str | None = None) -> Story:
        act = next(a for a in self.acts if a.code == code_of(label))
        return self._change(label, files=tuple(FileState(f.name, f.sha256, found) for f in act.files))

    def keep_files(self, label: str) -> Story:
        act = next(a for a in self.acts if a.code == code_of(label))
        return self._change(label, files=tuple(FileState(f.name, f.sha256, f.sha256) for f in act.files))

    # Asking.

    def workshop(self) -> Workshop:
        return Workshop(
            file=WorkshopFile(format="1", name="Test workshop", place="Nowhere", zone="UTC"),
            as_of=day(self.as_of),
            people=self.people,
            instruments=self.instruments,
            vehicles=self.vehicles,
            sets=self.sets,
            facts=self.definitions,
            acts=tuple(self.acts),
            drafts=tuple(self.drafts),
            figures=self.figures,
            unused_files=self.unused_files,
            history=History(consulted=True, commit="0" * 40),
        )

    def assess(self, vehicle: str = VAN) -> Assessment:
        return assess(self.workshop(), vehicle, methods=find_method)

    def requirement(self, ident: str = "level") -> RequirementState:
        return next(r for r in self.assess().requirements if r.id == ident)

    def state(self, ident: str = "level") -> State:
        return self.requirement(ident).state

    def against_now(self, label: str) -> str:
        """What a record would be judged against now."""
        body = next(a.body for a in self.acts if a.code == code_of(label))
        assert isinstance(body, Record)
        return seals.against(self.workshop(), VAN, body, methods=find_method)

    def codes(self, ident: str = "level") -> set[str]:
        """Codes of all gaps."""
        return {g.code for g in self.requirement(ident).gaps}
