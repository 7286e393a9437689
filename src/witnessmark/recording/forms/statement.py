"""Facts of the vehicle and of its parts, and the lists of parts: stated with their source by a named person."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

from witnessmark.assessment.facts import VEHICLE
from witnessmark.assessment.facts import Facts as StatedFacts
from witnessmark.assessment.judging import World
from witnessmark.assessment.ledger import Ledger
from witnessmark.assessment.model import Assessment, State
from witnessmark.assessment.needs import all_methods, always_calculated_with, limits_ask, needed_facts
from witnessmark.assessment.seals import vin
from witnessmark.methods.registry import method
from witnessmark.records.acts import DesignRevision, Statement
from witnessmark.records.forms import facts_of_item
from witnessmark.records.sets import FactDefinition
from witnessmark.records.world import Workshop

from ..keep import Entered
from ..questions import Given, Question, one
from .base import Desk, Harmless, free_path, id_of, instant_question, note_question, person_question, title_of_part

__all__ = ["SETS", "Facts", "Parts", "fact_question", "facts_of_kind", "facts_wanted", "kinds_wanted", "of_sets"]

SETS = "requirement_sets"
"""The fact that says which sets a vehicle has to meet."""


def facts_wanted(
    workshop: Workshop, assessment: Assessment, *, forms_only: bool = False
) -> dict[str, dict[str, tuple[str, ...]]]:
    """Facts that nobody has stated, by subject (`vehicle` or a part) and key; which requirements and which items of
    forms hang on each. Those that a requirement hangs on come first; `forms_only` leaves the others out."""
    found: dict[str, dict[str, list[str]]] = {}
    facts = World(Ledger(workshop), assessment.vehicle, None, method).facts
    # No requirement asks these: every record is sealed for the one, and what is asked at all hangs on the other.
    if vin(workshop, assessment.vehicle) is None:
        found[VEHICLE] = {"vin": []}
    if (None, SETS) not in facts.said and SETS in workshop.facts:
        found.setdefault(VEHICLE, {})[SETS] = []
    for state in assessment.requirements:
        for gap in state.gaps:
            sort, _, rest = gap.key.partition(":")
            if gap.code == "fact.not-stated" and sort == "fact":
                subject, _, key = rest.partition(":")
                titles = found.setdefault(subject, {}).setdefault(key, [])
                if state.requirement.title not in titles:
                    titles.append(state.requirement.title)
    for subject, key, title in _calculated_with(workshop, assessment, facts):
        titles = found.setdefault(subject, {}).setdefault(key, [])
        if title not in titles:
            titles.append(title)
    of_forms: set[tuple[str, str]] = set()
    for form in assessment.forms:
        asked = [(gap, f"whether “{form.file.title}” is to be filled") for gap in form.doubts]
        asked += [(g, f"item {f.item.number} of {form.file.title}") for f in form.empty for g in f.gaps]
        for field_gap, title in asked:
            sort, _, rest = field_gap.key.partition(":")
            if field_gap.code == "fact.not-stated" and sort == "fact":
                subject, _, key = rest.partition(":")
                of_forms.add((subject, key))
                titles = found.setdefault(subject, {}).setdefault(key, [])
                if title not in titles:
                    titles.append(title)
    if forms_only:
        found = {s: kept for s in found if (kept := {k: t for k, t in found[s].items() if (s, k) in of_forms})}
    ordered = sorted(found, key=lambda subject: (subject != VEHICLE, subject))
    return {s: {k: tuple(found[s][k]) for k in found[s]} for s in ordered}


def _calculated_with(workshop: Workshop, assessment: Assessment, facts: StatedFacts) -> Iterator[tuple[str, str, str]]:
    """Facts that nobody has stated and that are a limit, or that every method which may show a leaf needs: subject,
    key and the title of what hangs on it. Those of designs are asked with the design."""
    methods = all_methods()
    for state in assessment.requirements:
        if state.state is State.NOT_APPLICABLE or state.requirement.about != "vehicle":
            continue
        for key in sorted(limits_ask(state.requirement) | always_calculated_with(state.requirement, methods)):
            definition = workshop.facts.get(key)
            for place in state.parts if definition is not None else ():
                if facts.fact(key, place.part).value is None:
                    subject = VEHICLE if definition is None or definition.of is None else place.part
                    if subject is not None:
                        yield subject, key, state.requirement.title


def kinds_wanted(assessment: Assessment) -> dict[str, tuple[str, ...]]:
    """Kinds of part whose list nobody has stated, with the requirements and forms that hang on each."""
    found: dict[str, list[str]] = {}
    for state in assessment.requirements:
        for gap in state.gaps:
            if gap.code == "parts.not-stated" and gap.key.startswith("parts:"):
                titles = found.setdefault(gap.key.removeprefix("parts:"), [])
                if state.requirement.title not in titles:
                    titles.append(state.requirement.title)
    for form in assessment.forms:
        for field_gap in (*form.doubts, *(g for f in form.empty for g in f.gaps)):
            if field_gap.code == "parts.not-stated" and field_gap.key.startswith("parts:"):
                titles = found.setdefault(field_gap.key.removeprefix("parts:"), [])
                if (title := form.file.title) not in titles:
                    titles.append(title)
    return {kind: tuple(titles) for kind, titles in found.items()}


def facts_of_kind(desk: Desk, kind: str, *, forms: bool = False) -> dict[str, tuple[FactDefinition, tuple[str, ...]]]:
    """The facts that the chosen sets need of every part of a kind, with the titles of what hangs on each.

    Without a vehicle, as for a design that several are built to: those that any set of the folder needs. `forms`: also
    those that only a form of the authority asks; of a part they are asked by themselves.
    """
    if desk.assessment is not None:
        requirements = [state.requirement for state in desk.assessment.requirements]
    else:
        requirements = [r for one in desk.workshop.sets.values() for r in one.requirements]
    needed = needed_facts(requirements, desk.workshop.facts, all_methods())
    titles = {key: [r.title for r in hanging_on] for key, hanging_on in needed.items()}
    for found in desk.workshop.sets.values() if forms else ():
        for form in found.forms:
            for item in form.file.items:
                for key in facts_of_item(item):
                    titles.setdefault(key, []).append(f"item {item.number} of {form.file.title}")
    return {
        key: (definition, tuple(dict.fromkeys(titles[key])))
        for key, definition in desk.workshop.facts.items()
        if key in titles and definition.of == kind
    }


def hanging(titles: tuple[str, ...]) -> str:
    """Which requirements hang on something, in a sentence."""
    if not titles:
        return ""
    more = f" and {len(titles) - 3} more" if len(titles) > 3 else ""
    verb = "hangs" if len(titles) == 1 else "hang"
    return f"On it {verb} {', '.join(f'“{title}”' for title in titles[:3])}{more}."


def fact_question(
    key: str,
    definition: FactDefinition | None,
    name: str,
    *,
    titles: tuple[str, ...] = (),
    required: bool = True,
    told: bool = True,
) -> Question:
    """The blank for one fact. `name` is its key in the answers; `told`: why it is asked stands below the question."""
    if definition is None:
        return Question(name, key.replace("_", " "), required=required)
    sort = "choice" if definition.choices else "quantity" if definition.unit is not None else "words"
    sort = "approval" if definition.approval == "yes" else "day" if definition.day == "yes" else sort
    return Question(
        name,
        definition.ask,
        sort,  # type: ignore[arg-type]  # one of the five above
        " ".join(w for w in (definition.why, hanging(titles)) if w),
        unit=definition.unit or "",
        choices=dict(definition.choices),
        several=definition.several == "yes",
        required=required,
        low=float(definition.lowest) if definition.lowest is not None else None,
        high=float(definition.highest) if definition.highest is not None else None,
        told=told,
    )


def of_sets(workshop: Workshop, question: Question, key: str) -> Question:
    """The question for the choice of requirement sets has the folder's sets as its answers; any other stays."""
    if key != SETS or not workshop.sets:
        return question
    titles = {ident: one.file.title for ident, one in sorted(workshop.sets.items())}
    return replace(question, sort="choice", choices=titles)


def _last_source(workshop: Workshop) -> str:
    found: list[tuple[int, str]] = []
    for act in workshop.acts:
        if isinstance(act.body, Statement) and act.appeared is not None:
            sources = [f.source for f in act.body.facts.values()] + [p.source for p in act.body.parts.values()]
            found += [(act.appeared, source) for source in sources if not source.startswith("chosen when")]
    return max(found)[1] if found else ""


@dataclass(frozen=True)
class Facts(Harmless):
    """Facts of one subject: the vehicle, or a part. Those named, else all that are wanted and not stated."""

    desk: Desk
    subject: str = VEHICLE
    keys: tuple[str, ...] = ()

    @property
    def title(self) -> str:
        return f"Facts of {title_of_part(self.desk, self.subject)}"

    @cached_property
    def wanted(self) -> dict[str, tuple[str, ...]]:
        assert self.desk.assessment is not None
        missing = facts_wanted(self.desk.workshop, self.desk.assessment).get(self.subject, {})
        return {k: missing.get(k, ()) for k in self.keys} if self.keys else missing

    def questions(self, given: Given) -> tuple[Question, ...]:
        return tuple(self._questions(given))

    def _questions(self, given: Given) -> Iterator[Question]:
        yield person_question(self.desk, "by", "Who states it", preset=self.desk.by)
        yield instant_question(self.desk, "stated", "As of when")
        source = _last_source(self.desk.workshop)
        for key, titles in self.wanted.items():
            definition = self.desk.workshop.facts.get(key)
            # What cannot be answered now is left blank and stays a gap.
            asked = fact_question(key, definition, f"fact.{key}", titles=titles, required=False)
            yield of_sets(self.desk.workshop, asked, key)
            if given.get(f"fact.{key}"):
                yield Question(
                    f"source.{key}",
                    "Where was it read",
                    preset=source,
                    suggested=True,
                    why="Plate, document with page, drawing, order.",
                )
                source = one(given, f"source.{key}") or source
        yield note_question()

    def entered(self, given: Given) -> Entered:
        facts = {
            key: {"value": given[f"fact.{key}"], "source": one(given, f"source.{key}")}
            for key in self.wanted
            if given.get(f"fact.{key}")
        }
        tree: dict[str, Any] = {"facts": facts}
        if self.subject != VEHICLE:
            tree["part"] = self.subject
        tree |= {"stated": one(given, "stated"), "by": one(given, "by"), "note": one(given, "note")}
        base = f"evidence/vehicles/{self.desk.vehicle}"
        subject = "" if self.subject == VEHICLE else self.subject
        return Entered(free_path(self.desk, f"{base}/facts", "facts", subject, one(given, "stated")[:10]), tree, base)

    def states_something(self, given: Given) -> bool:
        """Whether any blank was filled."""
        return any(given.get(f"fact.{key}") for key in self.wanted)

    def sentence(self, given: Given) -> str:
        count = sum(1 for key in self.wanted if given.get(f"fact.{key}"))
        return f"State {count} {'fact' if count == 1 else 'facts'} of {title_of_part(self.desk, self.subject)}"


@dataclass(frozen=True)
class Parts(Harmless):
    """The whole list of the parts of one kind; an empty one says that there are none."""

    desk: Desk
    kind: str
    titles: tuple[str, ...] = field(default=())

    @property
    def words(self) -> str:
        return self.kind.replace("-", " ").replace("hv ", "high-voltage ")

    @property
    def title(self) -> str:
        return f"List of parts: {self.words}"

    def questions(self, given: Given) -> tuple[Question, ...]:
        return tuple(self._questions(given))

    def _questions(self, given: Given) -> Iterator[Question]:
        yield person_question(self.desk, "by", "Who states it", preset=self.desk.by)
        yield instant_question(self.desk, "stated", "As of when")
        yield Question(
            "titles",
            f"Which parts of the kind “{self.words}” are there",
            why=f"All of them, with a semicolon between; blank says that there are none. {hanging(self.titles)}",
            several=True,
            required=False,
        )
        if "titles" not in given:
            return
        yield Question(
            "source", "Where does the list come from", preset=_last_source(self.desk.workshop), suggested=True
        )
        designs = self._designs()
        for number, title in enumerate(self._named(given)):
            part = self._part(title)
            yield Question(f"{part}.serial", f"{title}: serial number on its plate", required=False)
            if designs:
                yield Question(
                    f"{part}.design", f"{title}: built to which design", "choice", choices=designs, required=False
                )
            for key, (definition, titles) in facts_of_kind(self.desk, self.kind).items():
                asked = fact_question(
                    key, definition, f"{part}.fact.{key}", titles=titles, required=False, told=not number
                )
                yield replace(asked, ask=f"{title}: {asked.ask}")
            known = {i: t for i, t in self._known().items() if i != part}
            if known:
                yield Question(
                    f"{part}.within",
                    f"{title}: sits in which part (blank: in the vehicle itself)",
                    "choice",
                    choices=known,
                    required=False,
                )
                yield Question(
                    f"{part}.members",
                    f"{title}: other parts that a test of it rests on",
                    "choice",
                    choices=known,
                    several=True,
                    required=False,
                )
        yield note_question()

    def _named(self, given: Given) -> tuple[str, ...]:
        value = given.get("titles", ())
        return (value,) if isinstance(value, str) else value

    def _part(self, title: str) -> str:
        """The id of a part: of the one that has this title, else made of it."""
        known = {t.casefold(): i for i, t in self._known().items()}
        return known.get(title.casefold(), id_of(title))

    def _designs(self) -> dict[str, str]:
        return {
            f"{a.body.design}/{a.body.revision}": a.body.title
            for a in self.desk.workshop.acts
            if isinstance(a.body, DesignRevision) and a.body.kind == self.kind
        }

    def _known(self) -> dict[str, str]:
        return {
            part: entry.title
            for act in self.desk.workshop.acts
            if isinstance(act.body, Statement) and f"/{self.desk.vehicle}/" in act.path
            for listed in act.body.parts.values()
            for part, entry in listed.list.items()
        }

    def entered(self, given: Given) -> Entered:
        listed: dict[str, Any] = {}
        for title in self._named(given):
            part = self._part(title)
            lead = f"{part}.fact."
            facts = {k.removeprefix(lead): v for k, v in given.items() if k.startswith(lead) and v}
            entry: dict[str, Any] = {"title": title}
            entry |= {key: one(given, f"{part}.{key}") for key in ("serial", "design", "within")}
            if given.get(f"{part}.members"):
                entry["members"] = given[f"{part}.members"]
            if facts:
                entry["facts"] = facts
            listed[part] = entry
        tree = {
            "parts": {self.kind: {"source": one(given, "source"), "list": listed}},
            "stated": one(given, "stated"),
            "by": one(given, "by"),
            "note": one(given, "note"),
        }
        base = f"evidence/vehicles/{self.desk.vehicle}"
        return Entered(free_path(self.desk, f"{base}/facts", "parts", self.kind), tree, base)

    def sentence(self, given: Given) -> str:
        count = len(self._named(given))
        return f"State the parts of the kind {self.kind}: {count or 'none'}"
