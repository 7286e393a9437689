"""Models of requirement sets: what is to be shown. Plain files of the team's own, under `requirements/`."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from functools import cached_property
from typing import TYPE_CHECKING, Literal

from pydantic import Field, model_validator

from witnessmark.problems import Place
from witnessmark.quantities import Quantity, QuantityError, parse_quantity
from witnessmark.quantities.decision import DecisionRule as Rule

from .base import Count, Day, Digest, Format, Frozen, Ident, Key, MethodId, Misfits, Model, Number, Phrase, Scalar, Size
from .conditions import ConditionField, ShownField, compared, leaves_of

if TYPE_CHECKING:
    from .forms import Form

__all__ = [
    "VERDICT_CRITERION",
    "After",
    "Criterion",
    "DecisionRule",
    "Each",
    "FactDefinition",
    "FactsFile",
    "Job",
    "Leaf",
    "LeafKind",
    "Limit",
    "Requirement",
    "RequirementFile",
    "RequirementSet",
    "SetFile",
    "Source",
]

VERDICT_CRITERION = "meets"
"""Name of the one criterion of a leaf that a person judges: the stated finding is `meets`."""


class LeafKind(StrEnum):
    """How a leaf is shown. `MEASURE` has criteria on a computed result; of the others a person states a finding."""

    MEASURE = "measure"
    INSPECT = "inspect"
    PHOTOGRAPH = "photograph"
    TRIAL = "trial"
    REPORT = "report"
    DOCUMENT = "document"


class DecisionRule(Model):
    """How a number decides against a limit. Source: ILAC-G8:09/2019; JCGM 106:2012 clause 8."""

    rule: Literal["guarded", "simple"]
    """`guarded`: guard band as wide as U (95 %). `simple`: each side counts as it lies."""
    cap: Scalar | None = None
    """Largest U allowed relative to the limit, such as `5 %`; `simple` needs it."""
    probability: Scalar | None = None
    """`guarded` only: make the guard band for this conformance probability instead, such as `99 %`; 95 % at least."""

    @model_validator(mode="after")
    def _capped(self) -> DecisionRule:
        if self.rule == "simple" and self.cap is None:
            raise ValueError("simple needs a cap on U relative to the limit, such as cap: 5 %")
        if self.probability is not None:
            if self.rule != "guarded":
                raise ValueError("probability belongs to guarded; simple has its cap")
            Rule.guarded(self.conformance)  # raises for what is not from 95 % to below 100 %
        return self

    @property
    def conformance(self) -> Decimal | None:
        """The conformance probability as a part of 1; None where the rule states none."""
        if self.probability is None:
            return None
        try:
            stated = parse_quantity(self.probability, bare=True)
        except QuantityError as fault:
            raise ValueError(f"probability: {fault}") from fault
        if stated.bound or stated.U is not None or stated.unit.symbol not in ("1", "%"):
            raise ValueError(f"probability: {self.probability} is no plain number or percentage; write 99 %")
        part = stated.si_exact
        return Decimal(part.numerator) / Decimal(part.denominator)


class Limit(Model):
    """A limit taken from a stated fact, such as the cell maker's highest voltage."""

    fact: Key


class Criterion(Model):
    """One acceptance criterion: exactly one comparison with a quantity or a fact."""

    at_least: Size | Limit | None = None
    more_than: Size | Limit | None = None
    at_most: Size | Limit | None = None
    less_than: Size | Limit | None = None

    @model_validator(mode="after")
    def _one(self) -> Criterion:
        if len(self.comparisons) != 1:
            raise ValueError(
                "a criterion needs exactly one of at_least, more_than, at_most, less_than, such as at_least: 1 MΩ"
            )
        return self

    @property
    def comparisons(self) -> tuple[tuple[str, Quantity | Limit], ...]:
        named = (
            ("at_least", self.at_least),
            ("more_than", self.more_than),
            ("at_most", self.at_most),
            ("less_than", self.less_than),
        )
        return tuple((how, limit) for how, limit in named if limit is not None)

    @property
    def how(self) -> str:
        return self.comparisons[0][0]

    @property
    def limit(self) -> Quantity | Limit:
        return self.comparisons[0][1]

    @property
    def words(self) -> str:
        """`at least 500 Ω/V`; a limit taken from a fact is named by the fact's key."""
        limit = self.limit
        return compared(self.how, limit.fact if isinstance(limit, Limit) else limit)


class After(Model):
    """The leaf counts only when performed this long after the newest record of another leaf."""

    leaf: Ident
    wait: Size


class Job(Model):
    """What the work needs, for sorting the next jobs and for the test sheet."""

    bus: Literal["dead", "live", "desk", "away"]
    """`dead`, `live`: at the vehicle, high voltage off or on; `desk`: without it; `away`: waits for somebody else."""
    minutes: Count | None = None
    take: Phrase | None = None
    """What to bring: instrument, probe, drawing."""
    persons: Count | None = None


class Leaf(Model):
    """One named demonstration inside a requirement. Exactly one of the six kinds names it."""

    measure: Key | None = None
    """The measurand, by the name that methods declare."""
    inspect: Phrase | None = None
    photograph: Phrase | None = None
    trial: Phrase | None = None
    """A function tried out, such as a warning that must come on."""
    report: Phrase | None = None
    """A laboratory's or technical service's test report."""
    document: Phrase | None = None
    """A certificate, drawing, statement or analysis."""
    criteria: Frozen[Ident, Criterion] = Frozen()
    """For `measure`: alternatives on the same result, by name."""
    methods: tuple[MethodId, ...] = ()
    """Only where a clause prescribes them."""
    decision_rule: DecisionRule | None = None
    conditions: Frozen[Key, Scalar] = Frozen()
    """What the record's `conditions` must say, such as `contactors: closed`."""
    exemptions: Frozen[Ident, Phrase] = Frozen()
    """The finding must name one of these, with its words."""
    after: After | None = None
    second_person: Literal["yes", "no"] = "no"
    """Whether somebody other than the tester must stand in the record's `by`."""
    job: Job | None = None

    @model_validator(mode="after")
    def _kind_and_criteria(self) -> Leaf:
        given = [kind for kind in LeafKind if getattr(self, kind.value) is not None]
        if len(given) != 1:
            raise ValueError(f"a leaf needs exactly one of {', '.join(LeafKind)}")
        if given[0] is LeafKind.MEASURE and not self.criteria:
            raise ValueError(
                "measure without criteria has no limit and shows nothing, such as criteria: {limit: {at_least: 1 MΩ}}"
            )
        if given[0] is not LeafKind.MEASURE and (self.criteria or self.methods or self.decision_rule):
            raise ValueError("criteria, methods and decision_rule belong to measure; here a person states the finding")
        return self

    @cached_property
    def kind(self) -> LeafKind:
        return next(kind for kind in LeafKind if getattr(self, kind.value) is not None)

    @property
    def words(self) -> str:
        """What is asked: the measurand's name or the words of the requirement."""
        return str(getattr(self, self.kind.value))

    @property
    def criterion_names(self) -> tuple[str, ...]:
        return tuple(self.criteria) if self.kind is LeafKind.MEASURE else (VERDICT_CRITERION,)


class Source(Model):
    """Where the wording and the figures of a requirement come from, and how sure that is.

    Whether somebody has compared them with the official text, or adopted them, stands in acts of its own (`reviews`).
    """

    confidence: Literal["seen", "seen-summary", "seen-family-text", "from-memory", "mixed", "practice", "own"]
    note: Phrase | None = None

    @property
    def without_official_text(self) -> bool:
        """Whether no official text holds it: common practice, or the team's own."""
        return self.confidence in ("practice", "own")


class Each(Model):
    """The parts that the requirement is shown for, one by one."""

    part: Ident
    """The kind of part, as the parts list states it."""
    where: ConditionField | None = None
    """Over the facts of the part."""


class Requirement(Model):
    """One thing to be shown."""

    id: Ident
    clause: Scalar
    title: Phrase
    statement: Phrase
    """In own words, short, understandable to a mechanic."""
    source: Source
    about: Literal["vehicle", "design", "workshop"] = "vehicle"
    each: Each | None = None
    applies: ConditionField | None = None
    leaves: Frozen[Ident, Leaf] = Field(min_length=1)
    shown: ShownField
    decision_rule: DecisionRule | None = None
    cautions: tuple[Phrase, ...] = ()
    hint: Phrase | None = None
    """For the test sheet: how to go about it, what to photograph."""

    @model_validator(mode="after")
    def _needs_exist(self) -> Requirement:
        wrong: list[tuple[tuple[str, ...], str, str]] = []
        used = leaves_of(self.shown)
        have = ", ".join(self.leaves)
        for need in used:
            leaf = self.leaves.get(need.leaf)
            if leaf is None:
                message = f"'shown' names the leaf '{need.leaf}', which is not among the leaves"
                wrong.append((("shown",), message, f"name one of {have}, or write the leaf"))
            elif need.criterion and need.criterion not in leaf.criterion_names:
                message = f"'shown' names {need}, and the leaf '{need.leaf}' has no such criterion"
                wrong.append((("shown",), message, f"its criteria are {', '.join(leaf.criterion_names)}"))
            elif not need.criterion and len(leaf.criterion_names) > 1:
                names = " or ".join(f"{need.leaf}/{name}" for name in leaf.criterion_names)
                message = f"'shown' does not say which criterion of '{need.leaf}' it means"
                wrong.append((("shown",), message, f"write {names}"))
        for name, leaf in self.leaves.items():
            if name not in {u.leaf for u in used}:
                message = f"the leaf '{name}' is used nowhere in 'shown', so nobody needs it"
                wrong.append((("leaves", name), message, f"write {name} into shown, or take the leaf out"))
                continue
            wrong += [
                (
                    ("leaves", name, "criteria", c),
                    f"the criterion {name}/{c} is used nowhere in 'shown', so nobody needs it",
                    f"write {name}/{c} into shown, or take the criterion out",
                )
                for c in leaf.criterion_names
                if not any(u.leaf == name and u.criterion in ("", c) for u in used)
            ]
        for name, leaf in self.leaves.items():
            if leaf.after and leaf.after.leaf not in self.leaves:
                message = f"'{name}' waits for the leaf '{leaf.after.leaf}', which is not among the leaves"
                wrong.append((("leaves", name, "after", "leaf"), message, f"name one of {have}"))
        if self.about == "workshop" and self.each:
            wrong.append((("each",), "a workshop requirement has no parts", "leave each out"))
        if self.about == "design" and not self.each:
            message = "a design requirement needs the kind of part whose design is judged"
            wrong.append((("about",), message, "write each: {part: …}"))
        if wrong:
            raise Misfits(*wrong)
        return self


class RequirementFile(Model):
    """`requirements/SET/AREA.yaml`: the requirements of one area, in the order of the set."""

    format: Format
    area: Ident
    title: Phrase
    """Heading of the chapter, such as `Isolation`."""
    order: Count
    """Place of this area in the set."""
    requirements: tuple[Requirement, ...] = Field(min_length=1)


class SetFile(Model):
    """`requirements/SET/set.yaml`: what the set is. Its claims stand in sealed editions beside it."""

    format: Format
    title: Phrase
    short: Phrase
    """How a clause of it is quoted, such as `UN R100`."""
    series: Phrase | None = None
    supplement: Phrase | None = None
    in_force: Day | None = None
    """First day on which an approval to this edition could be given."""
    accepted_until: Day | None = None
    """Last day on which an approval to this edition had to be accepted; absent: no such day is known."""
    usual: Literal["yes", "no"] = "no"
    """Whether a new folder asks for it when nobody names a set."""
    note: Phrase
    """How it was compiled, and what it must not be taken for."""
    decision_rule: DecisionRule | None = None


class FactDefinition(Model):
    """What a fact is: how it is asked, and what may be answered."""

    title: Phrase
    """How people name it in a sentence, such as `cable run`."""
    ask: Phrase
    why: Phrase
    """Why it is asked: what hangs on it."""
    choices: Frozen[Scalar, Phrase] = Frozen()
    """For a fact that is one of several words: each with its meaning."""
    unit: Scalar | None = None
    """For a quantity; `1` for a count."""
    lowest: Number | None = None
    highest: Number | None = None
    """Plausible range in `unit`; outside is a problem."""
    text: Literal["yes", "no"] = "no"
    """Free words."""
    approval: Literal["yes", "no"] = "no"
    """The number of an approval to a UN Regulation, in its long form."""
    day: Literal["yes", "no"] = "no"
    """A day, such as 2026-10-14."""
    several: Literal["yes", "no"] = "no"
    """Whether a list may be stated."""
    of: Ident | None = None
    """The kind of part it is asked of; absent: the vehicle."""
    field: Phrase | None = None
    """Of the vehicle: its field in the registration document, such as `P.2`."""
    was: Key | None = None
    """The fact that says the same of the base vehicle, before the conversion; the two are printed side by side."""

    @model_validator(mode="after")
    def _one_sort(self) -> FactDefinition:
        flags = (self.text, self.approval, self.day)
        if (bool(self.choices) + (self.unit is not None) + sum(flag == "yes" for flag in flags)) != 1:
            raise ValueError("a fact has exactly one of choices, unit, text, approval and day, such as text: yes")
        return self


class FactsFile(Model):
    """`requirements/facts.yaml`: the facts that all sets ask."""

    format: Format
    facts: Frozen[Key, FactDefinition]


@dataclass(frozen=True, slots=True)
class RequirementSet:
    """One set as it lies in the folder: its files read, and the digest of each requirement's text.

    `digests` maps requirement id to the digest of its text tree; `areas` keeps (area id, title) in order;
    `area_of`, `places` map requirement id to its area and its place.
    """

    id: str
    file: SetFile
    requirements: tuple[Requirement, ...]
    areas: tuple[tuple[str, str], ...]
    area_of: Frozen[str, str] = field(default_factory=Frozen)
    digests: Frozen[str, Digest] = field(default_factory=Frozen)
    places: Frozen[str, Place] = field(default_factory=Frozen)
    forms: tuple[Form, ...] = ()
    """The authority's forms that this set fills, in their order."""

    def requirement(self, ident: str) -> Requirement | None:
        return next((r for r in self.requirements if r.id == ident), None)
