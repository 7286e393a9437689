"""Models of everything that claims something: sealed, append-only acts. One file holds one act.

Which act a file holds is told by its keys (`act_model`), not by its folder or name. An act without `seal` is a draft.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any, Literal

from pydantic import Field, model_validator

from witnessmark.quantities import QuantityError, UnitFault, parse_quantity, parse_unit

from .authority import Answer
from .base import (
    Code,
    Count,
    Day,
    Digest,
    FilePath,
    Frozen,
    Ident,
    Instant,
    Key,
    LeafRef,
    MethodId,
    Model,
    Number,
    Phrase,
    Scalar,
    Value,
)
from .release import Release
from .reviews import Adoption, Comparison
from .risks import RiskAnalysis
from .sealed import FileEntry, Seal, Sealable
from .sets import DecisionRule

__all__ = [
    "ACT_KEYS",
    "AccuracyRow",
    "Adoption",
    "Answer",
    "AnyAct",
    "Authorisation",
    "Calibration",
    "CarryOver",
    "Check",
    "Claim",
    "Comparison",
    "Concession",
    "ConcessionTerms",
    "DesignRevision",
    "Event",
    "FactValue",
    "FileEntry",
    "Log",
    "LoggedChannel",
    "PartEntry",
    "PartList",
    "Policy",
    "PolicyTerms",
    "Record",
    "Release",
    "RiskAnalysis",
    "Seal",
    "Sealable",
    "SetEdition",
    "Statement",
    "Withdrawal",
    "act_model",
]

Finding = Literal["meets", "does-not-meet", "undecided"]


class Claim(Model):
    """What a record says of one leaf. Empty for a measurement: its result is computed."""

    finding: Finding | None = None
    photo: FilePath | None = None
    file: FilePath | None = None
    """The report, certificate or drawing that was read."""
    number: Phrase | None = None
    """Number and revision as printed on it."""
    dated: Day | None = None
    """The day that is printed on it."""
    pages: Phrase | None = None
    seen: Phrase | None = None
    """What is seen, in words."""
    by: Ident | None = None
    """Who states the finding; absent: the tester."""
    exemption: Ident | None = None
    """Which of the leaf's exemptions is claimed."""
    shared: Phrase | None = None
    """Why the same picture or the same readings serve more than one part or vehicle."""


_S = parse_unit("s")


class Log(Model):
    """A logged file and how it is to be read."""

    file: FilePath
    channels: Frozen[Key, Value]
    """Channel of the method: column name, a list of them, or a pattern with `*`; with `design`, names of its map."""
    design: Scalar | None = None
    """`id/REVISION` of the design whose channel map names the columns, with their units, ranges and sampling."""
    dbc: FilePath | None = None
    """For a CAN log: the file that says what its frames mean."""
    bus: Scalar | None = None
    """For a CAN log: the bus whose frames count, as the log names it."""
    join: Literal["hold"] | None = None
    """For channels that come at different instants: `hold` takes each as lasting until it comes again."""
    header: Scalar | None = None
    """For text with lines above the names of its columns: the number of the line that holds the names."""
    delimiter: Literal[",", ";", "tab"] | None = None
    decimal: Literal[".", ","] | None = None
    encoding: Literal["utf-8", "cp1252"] | None = None
    units_row: Literal["yes", "no"] | None = None
    start: Scalar | None = None
    """Instant in the log at which the counted time begins, such as the moment of parting: `1.250 s`."""
    options: Frozen[Key, Scalar] = Frozen()
    """Other numbers that say how the method reduces the log, by the method's names, with unit."""


class Record(Sealable):
    """One act that shows something: measurement, inspection, photograph, report, document, trial."""

    shows: Frozen[LeafRef, Claim] = Field(min_length=1)
    part: Ident | None = None
    """Absent: the vehicle as a whole."""
    design: Scalar | None = None
    """For a requirement about a design: `id/REVISION`."""
    performed: Instant
    place: Phrase | None = None
    by: Frozen[Literal["tester", "witness", "judge"], Ident] = Field(min_length=1)
    method: MethodId | None = None
    instruments: Frozen[Key, Ident] = Frozen()
    conditions: Frozen[Key, Scalar] = Frozen()
    readings: Frozen[Key, Value] = Frozen()
    """As read off the instrument, with unit; parsed by the method."""
    log: Log | None = None
    deviations: Phrase | None = None
    retest_of: tuple[Code, ...] = ()
    """The failed records that this one ends, if it passes."""
    cause: Phrase | None = None
    correction: Phrase | None = None

    @property
    def at(self) -> datetime:
        return self.performed

    @model_validator(mode="after")
    def _complete(self) -> Record:
        if "tester" not in self.by:
            raise ValueError("by needs a tester")
        if self.retest_of and not (self.cause and self.correction):
            raise ValueError("a retest says the cause of the fail and the correction made: cause: …, correction: …")
        if (self.readings or self.log) and not self.method:
            raise ValueError("readings need a method, such as method: voltmeter-own-source/1")
        if self.part and self.design:
            raise ValueError("a record is about a part of the vehicle or about a design, not both")
        return self


class FactValue(Model):
    value: Value
    source: Phrase
    """Where it was read: plate, registration document, data sheet with page."""


class PartEntry(Model):
    """A part as stated or fitted. Parts form a tree by `within`."""

    title: Phrase
    serial: Scalar | None = None
    design: Scalar | None = None
    """`id/REVISION` of the design that it is built to."""
    within: Ident | None = None
    members: tuple[Ident, ...] = ()
    """Other parts that a test of this one rests on, such as those joined to a bus."""
    kind: Ident | None = None
    """In the parts of a design: which kind it is. In a vehicle's list the kind stands above the list."""
    facts: Frozen[Key, Value] = Frozen()


class PartList(Model):
    """All parts of one kind. An empty `list` is a statement that there are none."""

    source: Phrase
    list: Frozen[Ident, PartEntry]


class Statement(Sealable):
    """Facts or parts lists stated by a person at a time."""

    facts: Frozen[Key, FactValue] = Frozen()
    parts: Frozen[Ident, PartList] = Frozen()
    """By kind of part."""
    part: Ident | None = None
    """Whose facts they are; absent: the vehicle's."""
    stated: Instant
    by: Ident

    @property
    def at(self) -> datetime:
        return self.stated

    @model_validator(mode="after")
    def _not_empty(self) -> Statement:
        if not self.facts and not self.parts:
            raise ValueError("states nothing: give facts or parts")
        return self


class Change(Model):
    """What was taken out or put in."""

    serial: Scalar | None = None
    design: Scalar | None = None
    title: Phrase | None = None
    kind: Ident | None = None
    within: Ident | None = None
    members: tuple[Ident, ...] = ()
    facts: Frozen[Key, Value] = Frozen()


class Event(Sealable):
    """What happened to a part, and when."""

    event: Literal["fitted", "removed", "replaced", "opened", "changed", "software"]
    event_at: Instant = Field(alias="at")
    by: Ident
    part: Ident
    removed: Change | None = None
    fitted: Change | None = None
    facts: Frozen[Key, FactValue] = Frozen()
    """Facts of the part (or, where `part` is `vehicle`, of the vehicle) that the event changes."""
    why: Phrase | None = None

    @property
    def at(self) -> datetime:
        return self.event_at

    @model_validator(mode="after")
    def _complete(self) -> Event:
        if self.event in ("fitted", "replaced") and not self.fitted:
            raise ValueError(f"{self.event} needs fitted: what is built in now, with its serial")
        if self.event == "fitted" and not (self.fitted and self.fitted.kind and self.fitted.title):
            raise ValueError("fitted needs kind and title of the new part")
        return self


class Withdrawal(Sealable):
    """An act is taken back for good. The record leaves a blank in its place."""

    withdraws: Code
    because: Literal["mistaken", "moved", "set-aside"]
    moved_to: Phrase | None = None
    withdrawn_at: Instant = Field(alias="at")
    by: Ident

    @property
    def at(self) -> datetime:
        return self.withdrawn_at

    @model_validator(mode="after")
    def _moved(self) -> Withdrawal:
        if self.because == "moved" and not self.moved_to:
            raise ValueError("moved needs moved_to: where the record belongs")
        return self


class CarryOver(Sealable):
    """A signed statement that a record still holds although something changed since."""

    carries_over: Code
    event: Code | None = None
    """The event it stands in spite of."""
    against: Digest | None = None
    """Or what it is judged against from now on."""
    carried_at: Instant = Field(alias="at")
    by: Ident

    @property
    def at(self) -> datetime:
        return self.carried_at

    @model_validator(mode="after")
    def _one_cause(self) -> CarryOver:
        if (self.event is None) == (self.against is None):
            raise ValueError("name one cause: event (its code) or against (the digest it is judged against now)")
        return self


class Check(Sealable):
    """A second person has looked at an act, and agrees or not. It stands for the `second` of that act."""

    checks: Code
    agrees: Literal["yes", "no"]
    checked_at: Instant = Field(alias="at")
    by: Ident

    @property
    def at(self) -> datetime:
        return self.checked_at

    @model_validator(mode="after")
    def _reasoned(self) -> Check:
        if self.agrees == "no" and not self.reason:
            raise ValueError("who does not agree says why: reason: …")
        return self


class AccuracyRow(Model):
    """Accuracy of one function of an instrument over one range, as the certificate or the maker gives it."""

    function: Key
    """Such as dc-voltage, resistance, four-wire-resistance, insulation-resistance."""
    low: Scalar
    high: Scalar
    percent_of_reading: Number | None = None
    digits: Count | None = None
    resolution: Scalar | None = None
    """Value of one digit, with unit."""
    fixed: Scalar | None = None
    """A constant part, with unit."""
    certificate_U: Scalar | None = None
    certificate_k: Number | None = None


class Calibration(Sealable):
    """One calibration of one instrument."""

    calibration: Ident
    """The instrument."""
    on: Day
    due: Day
    certificate: Phrase
    laboratory: Phrase
    as_found: Literal["in-tolerance", "out-of-tolerance", "first"]
    """How the instrument was when it arrived: `out-of-tolerance` lapses what it read since the last good one."""
    found: Phrase | None = None
    """What was found, in words."""
    accuracy: tuple[AccuracyRow, ...] = ()
    traits: Frozen[Key, Scalar] = Frozen()
    """Such as input_resistance: 10 MΩ, test_current: 0.2 A."""
    by: Ident


class Authorisation(Sealable):
    """A person may do this work from one day to another."""

    authorises: Ident
    work: tuple[Scalar, ...] = Field(alias="for", min_length=1)
    """Kinds of leaf (`measure`, `inspect`, …), methods by name without version, or `all`."""
    valid_from: Day = Field(alias="from")
    until: Day
    basis: Phrase
    """Training, examination or trade qualification."""
    by: Ident


class ConcessionTerms(Model):
    requirement: Scalar
    leaf: Ident | None = None
    part: Ident | None = None
    vehicle: Ident
    issuer: Phrase
    """The authority or technical service; never the workshop."""
    number: Phrase
    document: FilePath | None = None
    """The letter itself, as a file. Without a hashed document a concession does not hold."""
    issued: Day
    last_day: Day
    terms: Phrase


class Concession(Sealable):
    """An authority's or technical service's documented permission. An overlay, never proof."""

    concession: ConcessionTerms
    by: Ident


class PolicyTerms(Model):
    decision_rule: DecisionRule
    plugins: tuple[Phrase, ...] = ()
    """Installed distributions whose methods are known, each with its version, such as `winding-tools==1.2`."""
    four_eyes_release: Literal["yes", "no"] = "no"


class Policy(Sealable):
    """A dated entry of the workshop's policy."""

    policy: PolicyTerms
    in_force: Day
    by: Ident


class LoggedChannel(Model):
    """One channel as the loggers of a design write it, and what makes it believable."""

    column: Value
    """Name of the column or signal, a list of them, or a pattern with `*`."""
    unit: Scalar
    low: Scalar | None = None
    high: Scalar | None = None
    """Smallest and largest value that can be real, with unit; a log with another is refused."""
    sampling: Scalar | None = None
    """Longest time between two samples, such as `100 ms`."""

    @model_validator(mode="after")
    def _numbers(self) -> LoggedChannel:
        try:
            unit = parse_unit(self.unit)
        except UnitFault as fault:
            raise ValueError(f"unit: {fault}") from None
        for name, text, like in (("low", self.low, unit), ("high", self.high, unit), ("sampling", self.sampling, _S)):
            try:
                if text is not None:
                    parse_quantity(text, like=like)
            except QuantityError as fault:
                raise ValueError(f"{name}: {fault.message}; {fault.remedy}") from None
        return self


class DesignRevision(Sealable):
    """One revision of what several vehicles' parts are built to."""

    design: Ident
    revision: Scalar
    kind: Ident
    title: Phrase
    maker: Phrase | None = None
    changes: Phrase | None = None
    """What differs from the revision before, and what has to be shown again."""
    facts: Frozen[Key, FactValue] = Frozen()
    parts: Frozen[Ident, PartEntry] = Frozen()
    channels: Frozen[Ident, LoggedChannel] = Frozen()
    """What is logged of it, mapped once: name of the channel to column, unit, range and sampling."""
    issued: Day
    by: Ident


class SetEdition(Sealable):
    """A sealed edition of a requirement set: the digest of every requirement in it, and its decision rule."""

    edition: Scalar
    set: Ident
    count: Count
    requirements: Frozen[Ident, Digest]
    decision_rule: DecisionRule | None = None
    """The rule that set.yaml gave when this was sealed; absent: it gave none."""
    changes: Frozen[Ident, Phrase] = Frozen()
    """Why each requirement is added, changed or taken out, beside the edition before."""
    issued: Day
    by: Ident
    """A person, or `shipped` for an edition that came with the tool."""


AnyAct = (
    Record | Statement | Event | Withdrawal | CarryOver | Check | Calibration | Authorisation | Concession | Policy
    | DesignRevision | SetEdition | Comparison | Adoption | Answer | RiskAnalysis | Release
)  # fmt: skip

ACT_KEYS: tuple[tuple[str, type[Sealable]], ...] = (
    ("shows", Record),
    ("release", Release),
    ("event", Event),
    ("withdraws", Withdrawal),
    ("carries_over", CarryOver),
    ("checks", Check),
    ("calibration", Calibration),
    ("authorises", Authorisation),
    ("concession", Concession),
    ("policy", Policy),
    ("edition", SetEdition),
    ("compares", Comparison),
    ("adopts", Adoption),
    ("answers", Answer),
    ("analyses", RiskAnalysis),
    ("revision", DesignRevision),
    ("facts", Statement),
    ("parts", Statement),
)
"""The key that tells which act a file holds; the first that it has counts (`act_model`)."""


def act_model(keys: Mapping[str, Any]) -> type[Sealable] | None:
    """The model of the file with these keys, or None if no key tells."""
    if "carries_over" in keys:
        return CarryOver
    return next((model for key, model in ACT_KEYS if key in keys), None)
