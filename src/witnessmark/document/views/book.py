"""The book: everything that the chapters look up. Made once per build from the workshop and the assessment.

A chapter is one page. Its number, the numbers of the requirements in it, of photographs and of tables have this one
source, so that a link, a heading and a caption always say the same.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from typing import TYPE_CHECKING

from witnessmark.assessment.judging import World
from witnessmark.assessment.model import Assessment, LeafState, PartState, RecordResult, RequirementState, State
from witnessmark.document.blocks import Block, Link, Text
from witnessmark.document.issued import Issued
from witnessmark.language import say
from witnessmark.reading.acts import folder_of_files
from witnessmark.records.acts import Calibration, Event, Record, Withdrawal
from witnessmark.records.sets import RequirementSet
from witnessmark.records.workshop import VehicleFile
from witnessmark.records.world import Act, Workshop

from .set_changes import SetChange, set_changes
from .stated import IN_FORCE, PartLine, StatedFact, facts, parts, policies, world_of
from .words import plain_name, rule_words

if TYPE_CHECKING:
    from witnessmark.methods.base import Method

__all__ = [
    "Book",
    "Chapter",
    "Counter",
    "Page",
    "PhotoUse",
    "Use",
    "View",
    "among",
    "anchor",
    "area_page",
    "listed",
    "record_page",
    "state_page",
    "walk",
]

COVER, CONTENTS, REGISTER = "index", "contents", "gap-register"
VEHICLE, MATRIX = "vehicle", "compliance-matrix"
INFORMATION = "information-document"
RULE, CONCESSIONS, INSTRUMENTS, PEOPLE = "decision-rule", "concessions", "instruments", "people"
RULES_APPLIED, AUTHORITY, RISKS = "rules-applied", "authority-answers", "risk-analysis"
CONVERSION = "conversion"
REPORTS, RESCUE, GLOSSARY = "test-reports", "emergency-responders", "words"
PRODUCTION = "conformity-of-production"
UNUSED, FILES, LOOKUP = "unused-evidence", "photographs-and-logs", "places"


@dataclass(frozen=True, slots=True)
class Chapter:
    """One page: `name` is its file and link, `number` "" for the cover. `subject` is what its view needs to know."""

    name: str
    title: str
    short: str = ""
    number: str = ""
    subject: tuple[str, ...] = ()
    gaps: int = 0
    concessions: int = 0
    fields: int = 0
    """Fields of the authority's forms that are empty."""
    flows: bool = False
    """Whether it is short enough to follow on the page of the chapter before."""
    printed: bool = True
    """Whether it is a chapter of the book; else a page for the screen only, which others lead to."""

    @property
    def heading(self) -> str:
        return f"{self.number} {self.title}".strip()


@dataclass(frozen=True, slots=True)
class Page:
    """A finished page: what its template is told (words, names of blocks, structure) and its blocks by name."""

    context: Mapping[str, object]
    blocks: Mapping[str, Block]


@dataclass(frozen=True, slots=True)
class View:
    """A kind of page: the template that holds its structure and prose, and the functions that fill it."""

    template: str
    chapters: Callable[[Book], tuple[Chapter, ...]]
    """The chapters it gives, without numbers."""
    page: Callable[[Book, Chapter], Page]
    numbered: bool = True


@dataclass(frozen=True, slots=True)
class Use:
    """One place where a record is used."""

    requirement: RequirementState
    part: PartState
    leaf: LeafState
    result: RecordResult


@dataclass(frozen=True, slots=True)
class PhotoUse:
    """A photograph that a record claims: its number in the file, path in the folder, expected hash, and every use."""

    number: int
    path: str
    original: str
    sha256: str
    intact: bool
    uses: tuple[Use, ...]

    @property
    def home(self) -> Use | None:
        """The use beside which it is printed: the first whose record governs; None when it is only listed."""
        return next((u for u in self.uses if u.result.act.code in u.leaf.governs), None)

    @property
    def file(self) -> str:
        """Where the published copy lies below the sources."""
        ending = ".png" if self.original.lower().endswith(".png") else ".jpg"
        return f"photos/photograph-{self.number:03d}{ending}"

    @property
    def id(self) -> str:
        return f"photograph.{self.number}"


@dataclass(frozen=True, slots=True)
class Book:
    """See the module. `chapters` is empty until `numbered` has been called."""

    workshop: Workshop
    assessment: Assessment
    vehicle: VehicleFile
    chapters: tuple[Chapter, ...] = ()
    numbers: Mapping[tuple[str, str], str] = field(default_factory=dict)
    uses: Mapping[str, tuple[Use, ...]] = field(default_factory=dict)
    photos: Mapping[str, PhotoUse] = field(default_factory=dict)
    acts: Mapping[str, Act] = field(default_factory=dict)
    stated: tuple[StatedFact, ...] = ()
    parts: tuple[PartLine, ...] = ()
    no_parts: tuple[str, ...] = ()
    """Kinds of part that were stated to be none, with the source."""
    world: World | None = None
    """The facts and parts as assessment takes them."""
    set_changes: Mapping[tuple[str, str], SetChange] = field(default_factory=dict)
    draft: bool = True
    issued: Issued | None = None
    """What a frozen issue says of itself; None in a draft."""

    @classmethod
    def of(cls, workshop: Workshop, assessment: Assessment) -> Book:
        """Raises KeyError for a vehicle that the workshop does not have."""
        uses: dict[str, list[Use]] = {}
        for requirement, part, leaf in walk(assessment):
            for result in leaf.records:
                uses.setdefault(result.act.code, []).append(Use(requirement, part, leaf, result))
        found = {code: tuple(places) for code, places in uses.items()}
        world = world_of(workshop, assessment)
        lines, none = parts(workshop, assessment, world)
        return cls(
            workshop,
            assessment,
            workshop.vehicles[assessment.vehicle],
            uses=found,
            photos=_photos(assessment),
            acts={act.code: act for act in workshop.acts},
            stated=facts(workshop, assessment, world),
            parts=lines,
            no_parts=none,
            world=world,
            set_changes=set_changes(workshop, tuple(dict.fromkeys(r.set_id for r in assessment.requirements))),
        )

    def numbered(self, chapters: tuple[Chapter, ...]) -> Book:
        """The same book with its chapters, and with numbers for the requirements in them."""
        numbers: dict[tuple[str, str], str] = {}
        for chapter in chapters:
            if not chapter.name.startswith("area-"):
                continue
            for n, state in enumerate(self.area(*chapter.subject), 1):
                numbers[state.set_id, state.id] = f"{chapter.number}.{n}"
        return replace(self, chapters=chapters, numbers=numbers)

    @property
    def issue(self) -> str:
        """The letter of the issue: of the frozen one, else the one that is worked on."""
        return self.issued.letter if self.issued is not None else self.vehicle.issue

    # ------------------------------------------------------------ requirements

    def areas(self) -> tuple[tuple[str, str], ...]:
        """(set, area) in the order of the file, each once."""
        return tuple(dict.fromkeys((r.set_id, r.area) for r in self.assessment.requirements))

    def area(self, set_id: str, area: str) -> tuple[RequirementState, ...]:
        return tuple(r for r in self.assessment.requirements if (r.set_id, r.area) == (set_id, area))

    def set_of(self, set_id: str) -> RequirementSet | None:
        return self.workshop.sets.get(set_id)

    def set_short(self, set_id: str) -> str:
        """How a clause of the set is quoted."""
        found = self.set_of(set_id)
        return found.file.short if found else set_id

    def area_title(self, set_id: str, area: str) -> str:
        found = self.set_of(set_id)
        titles = dict(found.areas) if found else {}
        return titles.get(area, plain_name(area).capitalize())

    def clause(self, state: RequirementState) -> str:
        return f"{self.set_short(state.set_id)} {state.requirement.clause}"

    def number(self, state: RequirementState) -> str:
        return self.numbers.get((state.set_id, state.id), "")

    def target(self, state: RequirementState) -> str:
        """What a link to the requirement leads to."""
        return f"{area_page(state.set_id, state.area)}#{anchor(state)}"

    def link(self, state: RequirementState, text: str = "", *, page: bool = False) -> Link:
        return Link(self.target(state), text or self.number(state) or state.id, page)

    def requirements_called(self, name: str) -> tuple[RequirementState, ...]:
        """The requirements that an id means, with `set:` before it or not; several where sets share the id."""
        set_id, colon, ident = name.rpartition(":")
        return tuple(r for r in self.assessment.requirements if r.id == ident and (not colon or r.set_id == set_id))

    @property
    def gaps(self) -> tuple[RequirementState, ...]:
        return tuple(r for r in self.assessment.requirements if r.state.is_gap)

    @property
    def conceded(self) -> tuple[RequirementState, ...]:
        return tuple(r for r in self.assessment.requirements if r.state is State.UNDER_CONCESSION)

    @property
    def ready(self) -> bool:
        """Whether nothing stands in the way: no gap, no empty field, something to show, no problem in the files."""
        from witnessmark.problems import Severity

        troubles = (*self.workshop.problems, *self.assessment.problems)
        return (
            bool(self.assessment.requirements)
            and not self.gaps
            and not self.assessment.open_in_forms
            and not any(p.severity is Severity.PROBLEM for p in troubles)
        )

    # ------------------------------------------------------------ names

    def person(self, ident: str | None) -> str:
        """A person's name, or the id where nobody of that id is known."""
        found = self.workshop.people.get(ident or "")
        return found.name if found else (ident or say("nobody"))

    def part_title(self, ident: str | None) -> str:
        """A part as people call it; the vehicle as a whole for None."""
        if ident is None:
            return say("the vehicle")
        for requirement in self.assessment.requirements:
            for part in requirement.parts:
                if part.part == ident and part.title:
                    return part.title
        listed = next((line.title for line in self.parts if line.id == ident), "")
        return listed or plain_name(ident)

    def method(self, ident: str | None) -> Method | None:
        """The method of that id, None when this installation does not have it."""
        from witnessmark.methods.registry import method

        return method(ident or "")

    def calibration(self, instrument: str, on: date) -> Calibration | None:
        """The newest calibration of the instrument up to that day, whether or not it was still in force."""
        found = [
            act.body
            for act in self.workshop.acts
            if isinstance(act.body, Calibration) and act.body.calibration == instrument and act.body.on <= on
        ]
        return max(found, key=lambda c: c.on, default=None)

    def fact_words(self, *keys: str) -> str:
        """The value in force of the first of these facts of the vehicle that is stated; "" when none is."""
        found = {f.key: f.printed for f in self.stated if f.part is None and f.standing == IN_FORCE}
        return next((found[key] for key in keys if key in found), "")

    def policy_words(self) -> str:
        """The decision rule in force on the day of the assessment."""
        found = [p for _, p in policies(self.workshop) if p.in_force <= self.assessment.as_of.date()]
        return rule_words(found[-1].policy.decision_rule) if found else say("guarded, w = U, 95 %")

    def testers(self) -> tuple[str, ...]:
        """Everybody whose records count in this file, by name."""
        found = {r.record.by.get("tester") for uses in self.uses.values() for r in (u.result for u in uses)}
        return tuple(sorted(self.person(who) for who in found if who))

    # ------------------------------------------------------------ acts

    def events(self) -> tuple[tuple[Act, Event], ...]:
        """This vehicle's events in order of time."""
        found = [(act, act.body) for act in self.acts_of_vehicle() if isinstance(act.body, Event)]
        return tuple(sorted(found, key=lambda pair: (pair[1].event_at, pair[0].code)))

    def acts_of_vehicle(self) -> Iterator[Act]:
        """The acts whose seal names this vehicle, in order of appearance and code."""
        for act in sorted(self.workshop.acts, key=lambda a: (a.appeared is None, a.appeared or 0, a.code)):
            seal = act.body.seal
            if seal and seal.vehicle and seal.vehicle.id == self.assessment.vehicle:
                yield act

    def answers_to(self, code: str) -> tuple[Act, ...]:
        """The acts that withdraw, correct or retest the act with this code."""
        found = []
        for act in self.workshop.acts:
            body = act.body
            named = body.corrects == code
            named = named or (isinstance(body, Withdrawal) and body.withdraws == code)
            named = named or (isinstance(body, Record) and code in body.retest_of)
            if named:
                found.append(act)
        return tuple(sorted(found, key=lambda a: a.code))

    def record_link(self, code: str) -> Text:
        """The record's code, leading to the record as data where it is attached."""
        return (Link(f"attachment:{code}.yaml", code),) if code in self.acts else code


class Counter:
    """Numbers of tables and figures in one chapter."""

    def __init__(self, chapter: str, figures: int = 0) -> None:
        self._chapter, self._tables, self._figures = chapter, 0, figures

    def table(self) -> str:
        self._tables += 1
        return f"{self._chapter}-{self._tables}"

    def figure(self) -> str:
        self._figures += 1
        return f"{self._chapter}-{self._figures}"


def area_page(set_id: str, area: str) -> str:
    return f"area-{set_id}-{area}"


def state_page(state: State) -> str:
    """The page, on the screen only, that lists every requirement with this state."""
    return f"state-{state.value}"


def record_page(code: str) -> str:
    """The page, on the screen only, of one record: what was read, and every place that uses it."""
    return f"record-{code}"


def listed(state: RequirementState) -> str:
    """The anchor of a requirement on the page of its state."""
    return f"s.{state.set_id}.{state.id}"


def among(page: str) -> str:
    """The anchor, on the page of a state, of those that have their chapter on `page`."""
    return f"l.{page}"


def anchor(state: RequirementState) -> str:
    """The anchor of a requirement within its page. With a point in it, so that no heading of a page has the same."""
    return f"r.{state.id}"


def walk(assessment: Assessment) -> Iterator[tuple[RequirementState, PartState, LeafState]]:
    """Every leaf of every part of every requirement, in the order of the file."""
    for requirement in assessment.requirements:
        for part in requirement.parts:
            for leaf in part.leaves:
                yield requirement, part, leaf


def _photos(assessment: Assessment) -> dict[str, PhotoUse]:
    """Photographs by their path in the folder: first those that are printed, numbered in the order of the file, then
    those that are only listed, because their records no longer govern."""
    found: dict[str, PhotoUse] = {}
    for requirement, part, leaf in walk(assessment):
        for result in leaf.records:
            photo = result.claim.photo
            if not photo:
                continue
            path = f"{folder_of_files(result.act.body, result.act.path)}/{photo}"
            state = next((f for f in result.act.files if f.name == photo), None)
            intact = bool(state and state.intact)
            use = Use(requirement, part, leaf, result)
            known = found.get(path) or PhotoUse(0, path, photo, state.sha256 if state else "", intact, ())
            found[path] = replace(known, uses=(*known.uses, use), intact=known.intact and intact)
    ordered = sorted(found.values(), key=lambda p: p.home is None)
    return {photo.path: replace(photo, number=n) for n, photo in enumerate(ordered, 1)}
