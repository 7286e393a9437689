"""What one record says of one leaf: a measured result against its criteria, or a finding that a named person states.

One small function per kind of leaf, in one table. What is computed here is what a record is worth if it is valid;
whether it is, `soundness` says.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import cast

from witnessmark.assessment.facts import Fact, Facts, as_quantity
from witnessmark.assessment.instruments import accuracy_for, calibration_in_force, range_fault
from witnessmark.assessment.ledger import Ledger, vehicle_of
from witnessmark.assessment.model import Cause, CriterionResult, State, Verdict
from witnessmark.assessment.parts import Parts
from witnessmark.assessment.policy import InForce, rule_in_force
from witnessmark.assessment.references import References
from witnessmark.assessment.truth import worse_verdict
from witnessmark.assessment.words import either
from witnessmark.language import Words, declared, say
from witnessmark.methods.base import InputSpec, Method, Output, Reading, Result
from witnessmark.methods.written import readings_as_written
from witnessmark.problems import Problem
from witnessmark.quantities import Quantity, parse_quantity, parse_unit
from witnessmark.quantities.accuracy import reading_input
from witnessmark.quantities.decision import HOW, Decision, LimitKind, Statement, decide
from witnessmark.quantities.decision import Limit as ToleranceLimit
from witnessmark.quantities.format import printed
from witnessmark.quantities.propagation import Input
from witnessmark.records.acts import Claim, Record
from witnessmark.records.sets import VERDICT_CRITERION, Criterion, Leaf, LeafKind, Limit, Requirement, RequirementSet
from witnessmark.records.world import Act

__all__ = ["JUDGES", "Asked", "FindMethod", "Judged", "World"]

FindMethod = Callable[[str], Method | None]
VERDICT_OF: Mapping[Statement, Verdict] = {
    Statement.PASS: Verdict.PASS,
    Statement.FAIL: Verdict.FAIL,
    Statement.CONDITIONAL_PASS: Verdict.UNDECIDED,
    Statement.CONDITIONAL_FAIL: Verdict.UNDECIDED,
    Statement.UNDECIDED: Verdict.UNDECIDED,
}
FINDING_WORDS = Words(
    {
        "does-not-meet": declared("does not meet"),
        "meets": declared("meets"),
        "undecided": declared("undecided"),
    }
)
FINDING_OF = {"meets": Verdict.PASS, "does-not-meet": Verdict.FAIL, "undecided": Verdict.UNDECIDED}


@dataclass(frozen=True, slots=True)
class Judged:
    """Criteria with their verdicts, and the causes for which they cannot help."""

    criteria: tuple[CriterionResult, ...] = ()
    causes: tuple[Cause, ...] = ()
    result: Result | None = None
    output: Output | None = None

    @property
    def verdicts(self) -> dict[str, Verdict]:
        return {c.criterion: c.verdict for c in self.criteria}


@dataclass(frozen=True, slots=True)
class Asked:
    """One leaf as one record answers it."""

    set: RequirementSet | None
    requirement: Requirement
    name: str
    leaf: Leaf
    ref: str
    claim: Claim


@dataclass(frozen=True, slots=True)
class _Evaluated:
    method: Method | None
    result: Result | None
    causes: tuple[Cause, ...]
    faults: tuple[Problem, ...] = ()


class World:
    """Everything that judging one vehicle's records needs; the same for all of them."""

    def __init__(self, ledger: Ledger, vehicle: str, sets: tuple[str, ...] | None, methods: FindMethod) -> None:
        self.ledger = ledger
        self.vehicle = vehicle
        self.facts = Facts(ledger, vehicle)
        self.parts = Parts(ledger, self.facts)
        self.methods = methods
        everything = tuple(sorted(ledger.workshop.sets))
        self.everywhere = References(ledger, everything)
        chosen = self.chosen() if sets is None else sets
        self.references = References(ledger, chosen)
        self._evaluated: dict[int, _Evaluated] = {}
        self._against: dict[int, str] = {}

    def against_now(self, act: Act, record: Record) -> str:
        """The digest of what the record would be judged against if it were sealed now; computed once."""
        found = self._against.get(id(record))
        if found is None:
            from witnessmark.assessment.against import against_digest

            found = against_digest(self, record, of_vehicle=vehicle_of(act) is not None)
            self._against[id(record)] = found
        return found

    def chosen(self) -> tuple[str, ...]:
        """The sets that the vehicle is assessed by; every one ever named where the choice is not stated."""
        return tuple(dict.fromkeys(self.facts.several("requirement_sets") or self.facts.ever_said("requirement_sets")))

    def scope(self, record: Record, of_vehicle: bool) -> References:
        """Where the references of a record are looked up: the vehicle's sets, or all for designs and the workshop."""
        return self.references if of_vehicle else self.everywhere

    def fact(self, record: Record, key: str) -> Fact:
        """A fact as a record's calculation takes it: of its design, its part, or the vehicle."""
        if record.design is not None:
            return self.facts.of_design(key, record.design)
        return self.facts.fact(key, record.part)

    def rule(self, record: Record, asked: Asked) -> InForce:
        return rule_in_force(self.ledger, asked.set, asked.requirement, asked.leaf, record.performed.date())

    def judge(self, record: Record, code: str | None, asked: Asked) -> Judged:
        """What the record says of the leaf."""
        return JUDGES[asked.leaf.kind](self, record, code, asked)

    def evaluated(self, record: Record, code: str | None) -> _Evaluated:
        """The method's result for the record, computed once."""
        found = self._evaluated.get(id(record))
        if found is None:
            found = _evaluate(self, record, code)
            self._evaluated[id(record)] = found
        return found


def _cannot(code: str, message: str, remedy: str) -> Cause:
    return Cause(code, message, remedy, State.NOT_SHOWN)


def _evaluate(world: World, record: Record, code: str | None) -> _Evaluated:
    if record.method is None:
        return _Evaluated(
            None,
            None,
            (_cannot("method.none", say("The record names no method."), say("correct the record with its method")),),
        )
    method = world.methods(record.method)
    if method is None:
        cause = _cannot(
            "method.unknown",
            say("There is no method {method}.", method=record.method),
            say("correct the record with a method that is listed"),
        )
        return _Evaluated(None, None, (cause,))
    causes: list[Cause] = []
    readings, found = readings_as_written(
        method, record.readings, lambda spec, _, quantity: _input(world, record, method, spec, quantity, causes)
    )
    faults = [problem for _, problem in found]
    for spec in method.inputs:
        if spec.preset and spec.name not in readings:
            quantity = parse_quantity(spec.preset, like=parse_unit(spec.unit))
            readings[spec.name] = (Reading(quantity, _input(world, record, method, spec, quantity, [])),)
    facts: dict[str, Quantity | str] = {}
    for wanted in method.facts:
        fact = world.fact(record, wanted.name)
        if fact.value is None:
            if wanted.required:
                causes += fact.causes
            continue
        value = as_quantity(fact.value) if wanted.unit else fact.value
        if value is not None and not isinstance(value, tuple):
            facts[wanted.name] = value
    figures = world.ledger.workshop.figures.get(code or "")
    if not faults:
        done = method.evaluate(readings, facts, cast("Mapping[str, object] | None", figures))
        if isinstance(done, Result):
            causes += [_cannot(a.code, a.message, a.remedy) for a in done.alarms if a.fatal]
            return _Evaluated(method, done, tuple(causes))
        # A fact that is not stated has its cause already.
        faults += [f for f in done.faults if not (f.code == "fact.missing" and causes)]
    causes += [_cannot(f.code, f"{f.message}.", f.remedy) for f in faults]
    return _Evaluated(method, None, tuple(causes), tuple(faults))


def _input(
    world: World, record: Record, method: Method, spec: InputSpec, quantity: Quantity, causes: list[Cause]
) -> Input | None:
    """The uncertainty of one reading as the calibration in force gives it; what is outside its range is a cause."""
    role = next((r for r in method.roles if r.name == spec.role), None)
    instrument = record.instruments.get(spec.role, "") if role else ""
    found = calibration_in_force(world.ledger, instrument, record.performed.date()) if instrument else None
    if role is None or found is None:
        return reading_input(spec.name, quantity, None)
    fault = range_fault(found[1], role, spec, quantity, instrument)
    if fault is not None:
        causes.append(fault)
    return reading_input(spec.name, quantity, accuracy_for(found[1], role, quantity), instrument)


def _measure(world: World, record: Record, code: str | None, asked: Asked) -> Judged:
    leaf = asked.leaf
    causes: list[Cause] = []
    if leaf.methods and record.method not in leaf.methods:
        prescribed = _cannot(
            "method.not-prescribed",
            say(
                "The clause prescribes {methods}; the record used {method}.",
                methods=either(leaf.methods),
                method=record.method,
            ),
            say("measure with {methods}", methods=either(leaf.methods)),
        )
        causes.append(prescribed)
    done = world.evaluated(record, code)
    causes += done.causes
    if record.log is not None:
        causes += _hashed(record, record.log.file, _LOG)
        if record.log.dbc is not None:
            causes += _hashed(record, record.log.dbc, _DBC)
    if done.result is None:
        return Judged((), tuple(causes))
    output = done.result.output(leaf.measure or "")
    if output is None:
        causes.append(
            _cannot(
                "method.measurand",
                say("{method} does not yield {measure}.", method=record.method, measure=leaf.measure),
                say("measure {measure} with a method that yields it", measure=leaf.measure),
            )
        )
        return Judged((), tuple(causes), done.result)
    rules = world.rule(record, asked)
    criteria: list[CriterionResult] = []
    for name, criterion in leaf.criteria.items():
        limit, missing = _limit(world, record, criterion, output)
        if limit is None:
            causes += missing
            given = criterion.limit
            asked_words = f"{HOW[criterion.how]} {printed(given) if isinstance(given, Quantity) else given.fact}"
            criteria.append(
                CriterionResult(
                    asked.name, name, asked_words, Verdict.UNDECIDED, say("the limit is not stated"), None, criterion
                )
            )
            continue
        decisions = [
            decide(output.value, output.U, output.bound, limit, rule, u=output.u, dof=output.dof)
            for rule in rules.decide_by()
        ]
        verdict, decision = _worst(decisions)
        criteria.append(
            CriterionResult(asked.name, name, str(limit), verdict, decision.statement.words, decision, criterion)
        )
    return Judged(tuple(criteria), tuple(causes), done.result, output)


def _worst(decisions: list[Decision]) -> tuple[Verdict, Decision]:
    verdict, decision = VERDICT_OF[decisions[0].statement], decisions[0]
    for other in decisions[1:]:
        theirs = VERDICT_OF[other.statement]
        if worse_verdict(verdict, theirs) is not verdict:
            verdict, decision = theirs, other
    return verdict, decision


def _limit(
    world: World, record: Record, criterion: Criterion, output: Output
) -> tuple[ToleranceLimit | None, tuple[Cause, ...]]:
    """The limit of a criterion, from its figure or from a stated fact; None with the causes."""
    given = criterion.limit
    if isinstance(given, Limit):
        fact = world.fact(record, given.fact)
        quantity = as_quantity(fact.value)
        if fact.value is None:
            return None, fact.causes
        if quantity is None or quantity.bound:
            return None, (
                _cannot(
                    "limit.not-a-quantity",
                    say("{fact} is no quantity.", fact=given.fact),
                    say("correct {fact}", fact=given.fact),
                ),
            )
    else:
        quantity = given
    if not quantity.unit.compatible(output.unit) or quantity.bound or quantity.unit.kind != output.unit.kind:
        return None, (
            _cannot(
                "limit.unit",
                say("The limit {quantity} does not fit a result in {unit}.", quantity=quantity, unit=output.unit),
                say("mend the requirement, or state the fact in a unit that fits"),
            ),
        )
    return ToleranceLimit(cast("LimitKind", criterion.how), quantity.value, quantity.unit), ()


def _found_by_person(world: World, record: Record, asked: Asked, causes: list[Cause]) -> Judged:
    """The finding that the record states, whatever kind it is of."""
    claim, leaf = asked.claim, asked.leaf
    if claim.finding is None:
        name = claim.photo or claim.file
        what = say("The photograph {name}", name=name) if claim.photo else name or say("The record")
        causes.append(
            Cause(
                "finding.missing",
                say(
                    "{what} is here, but no person has said what it shows. Until somebody has looked, it "
                    "proves nothing.",
                    what=what,
                ),
                say(
                    "look at {file} and record {meets} or {fails}, with your name",
                    file=name,
                    meets="meets",
                    fails="does-not-meet",
                )
                if name
                else say(
                    "look at it and record {meets} or {fails}, with your name", meets="meets", fails="does-not-meet"
                ),
                State.NOT_SHOWN,
                "",
                "desk",
            )
        )
        return Judged((), tuple(causes))
    if claim.finding == "meets" and leaf.exemptions and claim.exemption not in leaf.exemptions:
        causes.append(
            _cannot(
                "finding.exemption",
                say("The finding names none of the exemptions: {names}.", names=", ".join(leaf.exemptions)),
                say("record the finding with exemption: one of them"),
            )
        )
    verdict = FINDING_OF[claim.finding]
    words = FINDING_WORDS[claim.finding]
    return Judged((CriterionResult(asked.name, VERDICT_CRITERION, leaf.words, verdict, words),), tuple(causes))


@dataclass(frozen=True, slots=True)
class _Rest:
    """What a record rests on that it does not name, and what to do about it."""

    none: str
    remedy: str


_LOG = _Rest(declared("The record names no log."), declared("record it with its log"))
_DBC = _Rest(declared("The record names no DBC."), declared("record it with its DBC"))
_FILE = _Rest(declared("The record names no file."), declared("record it with its file"))
_PHOTOGRAPH = _Rest(declared("The record names no photograph."), declared("record it with its photograph"))
_DOCUMENT = _Rest(declared("The record names no document."), declared("record it with its document"))


def _hashed(record: Record, name: str | None, rest: _Rest) -> list[Cause]:
    """The file that the claim rests on was named and hashed."""
    if name is None:
        return [_cannot("file.none", say(rest.none), say(rest.remedy))]
    if not any(f.name == name for f in record.files):
        return [
            _cannot(
                "file.not-hashed",
                say("{name} is named, but was not sealed with the record.", name=name),
                say("record it anew with its file"),
            )
        ]
    return []


def _any_file(record: Record, claim: Claim) -> list[Cause]:
    return [c for name in (claim.photo, claim.file) if name is not None for c in _hashed(record, name, _FILE)]


def _inspect(world: World, record: Record, code: str | None, asked: Asked) -> Judged:
    return _found_by_person(world, record, asked, _any_file(record, asked.claim))


def _photograph(world: World, record: Record, code: str | None, asked: Asked) -> Judged:
    return _found_by_person(world, record, asked, _hashed(record, asked.claim.photo, _PHOTOGRAPH))


def _paper(world: World, record: Record, code: str | None, asked: Asked) -> Judged:
    return _found_by_person(world, record, asked, _hashed(record, asked.claim.file, _DOCUMENT))


JUDGES: Mapping[LeafKind, Callable[[World, Record, str | None, Asked], Judged]] = {
    LeafKind.MEASURE: _measure,
    LeafKind.INSPECT: _inspect,
    LeafKind.PHOTOGRAPH: _photograph,
    LeafKind.TRIAL: _inspect,
    LeafKind.REPORT: _paper,
    LeafKind.DOCUMENT: _paper,
}
