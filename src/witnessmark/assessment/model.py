"""What assessment gives: a state and its reasons for every requirement. Plain frozen values, JSON-able by `exports`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum
from typing import NoReturn

from witnessmark.language import Words, declared
from witnessmark.methods.base import Output, Result
from witnessmark.problems import Problem
from witnessmark.quantities.decision import Decision
from witnessmark.records.acts import Claim, Record, RiskAnalysis
from witnessmark.records.forms import FormFile, Item
from witnessmark.records.risks import Control, Risk
from witnessmark.records.sets import Criterion, Leaf, Requirement
from witnessmark.records.world import Act

__all__ = [
    "Applies",
    "Assessment",
    "AuthorityNote",
    "Axes",
    "Cause",
    "ConcessionNote",
    "CriterionResult",
    "Field",
    "FieldGap",
    "FieldState",
    "FieldValue",
    "FilledForm",
    "Gap",
    "JobGroup",
    "LeafState",
    "PartState",
    "RecordResult",
    "RequirementState",
    "Review",
    "Reviewed",
    "RiskControl",
    "RiskRow",
    "RiskState",
    "State",
    "Unused",
    "Verdict",
]


class State(StrEnum):
    """The one word, worst first. It has no truth value: compare with `is`."""

    NONCONFORMING = "nonconforming"
    LAPSED = "lapsed"
    NOT_SHOWN = "not-shown"
    UNDECIDED = "undecided"
    UNDER_CONCESSION = "under-concession"
    CONFORMS = "conforms"
    NOT_APPLICABLE = "not-applicable"

    def __bool__(self) -> NoReturn:
        raise TypeError("a state has no truth value: compare it with is")

    @property
    def words(self) -> str:
        """As a person reads it, in the language of the run."""
        return _STATES[self.value]

    @property
    def is_gap(self) -> bool:
        """Whether it stands in the way of a submission."""
        return self in (State.NONCONFORMING, State.LAPSED, State.NOT_SHOWN, State.UNDECIDED)


_STATES = Words(
    {
        "nonconforming": declared("nonconforming"),
        "lapsed": declared("lapsed"),
        "not-shown": declared("not shown"),
        "undecided": declared("undecided"),
        "under-concession": declared("under concession"),
        "conforms": declared("conforms"),
        "not-applicable": declared("not applicable"),
    }
)


class Verdict(StrEnum):
    """One criterion under the decision rule in force. It has no truth value."""

    PASS = "pass"
    UNDECIDED = "undecided"
    FAIL = "fail"

    def __bool__(self) -> NoReturn:
        raise TypeError("a verdict has no truth value: compare it with is")


class Applies(StrEnum):
    YES = "yes"
    NO = "no"
    NOT_STATED = "not-stated"


@dataclass(frozen=True, slots=True)
class Cause:
    """Why something is not sound, not current or not shown. `key` groups what has one cause (an overdue meter)."""

    code: str
    message: str
    remedy: str
    state: State
    key: str = ""
    group: str = ""
    """When it can be mended (`dead`, `desk`, `live`, `away`); empty: as the leaf's job says."""


@dataclass(frozen=True, slots=True)
class CriterionResult:
    """One criterion on one record: the limit that was used, the statement (None: a finding) and the verdict."""

    leaf: str
    criterion: str
    asked: str
    verdict: Verdict
    statement: str
    decision: Decision | None = None
    spec: Criterion | None = None


@dataclass(frozen=True, slots=True)
class RecordResult:
    """One sealed record, evaluated for one leaf of one requirement, whether or not it governs."""

    act: Act
    record: Record
    claim: Claim
    criteria: tuple[CriterionResult, ...]
    verdict: Verdict | None
    """Of the leaf: passes, fails, undecided; None where nothing could be computed."""
    sound: bool
    current: bool
    causes: tuple[Cause, ...]
    result: Result | None = None
    output: Output | None = None
    """The measurand that the leaf asks."""
    withdrawn: bool = False
    ended: bool = False
    """A fail that a sound retest, withdrawal or correction ended."""

    @property
    def valid(self) -> bool:
        return self.sound and self.current


@dataclass(frozen=True, slots=True)
class LeafState:
    """One leaf for one part. `state` is N, L, S, U or C; `governs` the codes at the newest place."""

    name: str
    leaf: Leaf
    part: str | None
    state: State
    records: tuple[RecordResult, ...]
    governs: tuple[str, ...] = ()
    causes: tuple[Cause, ...] = ()

    @property
    def result(self) -> RecordResult | None:
        """The record that governs, the first of ties."""
        return next((r for r in self.records if r.act.code in self.governs), None)


@dataclass(frozen=True, slots=True)
class Gap:
    """Why a requirement is not shown for one leaf and part, and what to do about it."""

    code: str
    message: str
    remedy: str
    state: State
    part: str | None = None
    leaf: str | None = None
    key: str = ""
    """One cause is one entry in the register, however many requirements it hits."""
    group: str = "desk"
    """When it can be done: `dead`, `desk`, `live` or `away`."""
    minutes: int | None = None
    take: str | None = None
    persons: int | None = None
    records: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ConcessionNote:
    """A concession that names the requirement; `idle` where it covers nothing."""

    code: str
    issuer: str
    number: str
    last_day: str
    terms: str
    idle: bool


@dataclass(frozen=True, slots=True)
class Axes:
    """What stands behind the word."""

    applies: Applies
    valid: bool
    result: State
    concession: bool


@dataclass(frozen=True, slots=True)
class PartState:
    """The requirement for one part (None: the vehicle, or the workshop)."""

    part: str | None
    title: str
    state: State
    leaves: tuple[LeafState, ...]
    facts: Mapping[str, str] = field(default_factory=dict)


class Reviewed(StrEnum):
    """What was done about the figures of a requirement. It has no truth value: compare with `is`."""

    COMPARED = "compared"
    """Held beside the official text, and found alike."""
    DIFFERS = "differs"
    """Held beside the official text, and found to differ."""
    ADOPTED = "adopted"
    """No official text holds it; a person of the workshop answers for it."""
    NOBODY = "nobody"

    def __bool__(self) -> NoReturn:
        raise TypeError("what was done has no truth value: compare it with is")


@dataclass(frozen=True, slots=True)
class Review:
    """How sure the figures of a requirement are, by whom, and in which act."""

    what: Reviewed
    by: str = ""
    on: date | None = None
    official: str = ""
    """The document that was read; for an own requirement the edition that took it in."""
    words: str = ""
    """What differs, or why it was taken in."""
    code: str = ""


@dataclass(frozen=True, slots=True)
class AuthorityNote:
    """What the authority answered about one requirement: accepted, question or refused."""

    code: str
    answer: str
    words: str
    issue: str
    authority: str
    number: str
    dated: date

    @property
    def is_settled(self) -> bool:
        """Whether nothing is left to answer."""
        return self.answer == "accepted"


@dataclass(frozen=True, slots=True)
class RequirementState:
    """One requirement of one chosen set for one vehicle."""

    set_id: str
    area: str
    requirement: Requirement
    state: State
    beneath: State
    """Without any concession."""
    axes: Axes
    parts: tuple[PartState, ...]
    gaps: tuple[Gap, ...]
    concessions: tuple[ConcessionNote, ...] = ()
    why: str = ""
    """For not applicable: the fact, its source and the condition."""
    review: Review = field(default_factory=lambda: Review(Reviewed.NOBODY))
    authority: AuthorityNote | None = None
    """The newest answer of the authority; it moves no state."""

    @property
    def unconfirmed(self) -> bool:
        """Whether nobody has compared its figures with the official text, or adopted what no official text holds."""
        return self.review.what in (Reviewed.NOBODY, Reviewed.DIFFERS)

    @property
    def id(self) -> str:
        return self.requirement.id


@dataclass(frozen=True, slots=True)
class RiskControl:
    """One control of a row, and the state of everything that shows it (None: nothing of this vehicle has that name)."""

    name: str
    control: Control
    shown_by: tuple[tuple[str, State | None], ...]

    @property
    def holds(self) -> bool:
        return all(state is State.CONFORMS for _, state in self.shown_by)


@dataclass(frozen=True, slots=True)
class RiskRow:
    """One row of the analysis; open while one of its controls does not hold."""

    name: str
    risk: Risk
    controls: tuple[RiskControl, ...]

    @property
    def is_open(self) -> bool:
        return any(not control.holds for control in self.controls)


@dataclass(frozen=True, slots=True)
class RiskState:
    """The newest risk analysis of a vehicle. `unsound`: why it does not count, "" where it does."""

    code: str
    analysis: RiskAnalysis
    rows: tuple[RiskRow, ...]
    unsound: str = ""

    @property
    def open_rows(self) -> tuple[RiskRow, ...]:
        """Rows that do not hold; all of them where the analysis is not sound."""
        return tuple(row for row in self.rows if row.is_open or self.unsound)


@dataclass(frozen=True, slots=True)
class Unused:
    """A reverse gap: evidence that no leaf uses, a fact that nothing needs, one picture for two parts."""

    code: str
    message: str
    remedy: str
    path: str = ""
    key: str = ""
    """What it is about, so that the order never depends on words."""


@dataclass(frozen=True, slots=True)
class JobGroup:
    """The next jobs of one kind: gaps with one cause are one entry, with all requirements that it hits."""

    group: str
    title: str
    entries: tuple[tuple[Gap, tuple[str, ...]], ...]
    minutes: int


class FieldState(StrEnum):
    """What stands in one field of a form. It has no truth value."""

    FILLED = "filled"
    EMPTY = "empty"
    """Something is missing: a gap."""
    NOT_APPLICABLE = "not-applicable"
    LEFT = "left"
    """Somebody else fills it by hand."""
    HEADING = "heading"

    def __bool__(self) -> NoReturn:
        raise TypeError("a field's state has no truth value: compare it with is")


@dataclass(frozen=True, slots=True)
class FieldValue:
    """One value in a field, as it is printed. `part` None: of the vehicle."""

    words: str
    part: str | None = None
    source: str = ""
    """Where it was read."""
    code: str = ""
    """The act that states it; empty for what vehicle.yaml and workshop.yaml say."""
    file: str = ""
    """The paper as its record names it, with its digest and pages."""
    sha256: str = ""
    pages: str = ""


@dataclass(frozen=True, slots=True)
class FieldGap:
    """Why a field is empty: what is asked, why, and what to do. `command` can be pasted; empty where there is none."""

    code: str
    question: str
    why: str
    remedy: str
    command: str = ""
    part: str | None = None
    key: str = ""
    """As that of a `Cause`: one cause of several gaps."""


@dataclass(frozen=True, slots=True)
class Field:
    """One item of a form, filled or not. `why`: the fact and its source for which it is not applicable."""

    item: Item
    state: FieldState
    values: tuple[FieldValue, ...] = ()
    gaps: tuple[FieldGap, ...] = ()
    why: str = ""


@dataclass(frozen=True, slots=True)
class FilledForm:
    """One form of a chosen set. `applies` NOT_STATED: `doubts` say why, and it is filled as if it applied."""

    set_id: str
    file: FormFile
    applies: Applies
    fields: tuple[Field, ...] = ()
    doubts: tuple[FieldGap, ...] = ()
    why: str = ""
    """For not applicable: the fact and its source."""

    @property
    def name(self) -> str:
        return f"{self.set_id}:{self.file.id}"

    @property
    def empty(self) -> tuple[Field, ...]:
        """The fields that are empty; none where the form does not apply."""
        return tuple(f for f in self.fields if f.state is FieldState.EMPTY)

    @property
    def asked(self) -> int:
        """How many fields are to be filled: without headings, what does not apply and what others fill."""
        return sum(1 for f in self.fields if f.state in (FieldState.FILLED, FieldState.EMPTY))

    @property
    def filled(self) -> int:
        return sum(1 for f in self.fields if f.state is FieldState.FILLED)

    @property
    def empty_names(self) -> tuple[str, ...]:
        """What is in the way of this form, `set:form/item`; a form of which nobody knows whether it applies first."""
        doubt = (self.name,) if self.doubts else ()
        return (*doubt, *(f"{self.name}/{f.item.number}" for f in self.empty))


@dataclass(frozen=True, slots=True)
class Assessment:
    """All requirements of one vehicle, in the order of the sets."""

    vehicle: str
    as_of: datetime
    requirements: tuple[RequirementState, ...]
    jobs: tuple[JobGroup, ...]
    unused: tuple[Unused, ...]
    problems: tuple[Problem, ...] = ()
    forms: tuple[FilledForm, ...] = ()
    """The authority's forms of the chosen sets, those that do not apply among them."""
    risks: RiskState | None = None

    @property
    def empty_fields(self) -> tuple[str, ...]:
        """Every field of the authority's forms that is empty, `set:form/item`."""
        return tuple(name for form in self.forms for name in form.empty_names if "/" in name)

    @property
    def open_in_forms(self) -> tuple[str, ...]:
        """Those, and each form of which it is not known whether it is to be filled, `set:form`."""
        return tuple(name for form in self.forms for name in form.empty_names)

    @property
    def summary(self) -> Mapping[State, int]:
        """Number of requirements in each state, all seven states, worst first."""
        return {state: sum(1 for r in self.requirements if r.state is state) for state in State}

    @property
    def gap_count(self) -> int:
        return sum(1 for r in self.requirements if r.state.is_gap)
