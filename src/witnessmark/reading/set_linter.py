"""The linter of requirement sets: what can never be shown, what would be shown wrongly, and what reads badly.

Pure over what was read. A PROBLEM is something that could never be shown, or would be shown wrongly; what is only
unclear, idle or not how people speak is a NOTE. One cause gives one finding.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence

from witnessmark.assessment.needs import all_methods, conditions_ask, limits_ask, needed_facts
from witnessmark.methods.base import Method
from witnessmark.problems import Place, Problem, Severity
from witnessmark.quantities import UnitFault, parse_unit
from witnessmark.records.acts import DesignRevision, Statement
from witnessmark.records.forms import forms_ask
from witnessmark.records.sets import FactDefinition, Requirement, RequirementSet
from witnessmark.records.world import Workshop

from .lint_conditions import LIKE_A_FACT, condition_faults
from .lint_leaves import cap_faults, leaf_faults
from .lint_places import Spot, root_of, spots
from .lint_ways import way_faults
from .models import nearest
from .set_differences import shipped_sets
from .sets import FACTS

__all__ = ["findings_in", "lint"]

Facts = Mapping[str, FactDefinition]
MOST_SENTENCES = 2
LONGEST_TITLE = 70
SENTENCE = re.compile(r"(?<=[.!?])\s+(?=[A-Z])")


def lint(
    sets: Mapping[str, RequirementSet],
    facts: Facts | None,
    data: Mapping[str, bytes],
    methods: Sequence[Method],
    *,
    whole: bool = True,
    kinds: Collection[str] = (),
    beside: Callable[[], Iterable[Requirement]] = tuple,
    forms_beside: Callable[[], Iterable[str]] = tuple,
    used: Collection[str] = (),
) -> tuple[Problem, ...]:
    """Every finding in the sets and in the file of facts, in order of the files.

    `facts` is None where they could not be read. `data`: the bytes of the files by path. `methods`: all that are known.
    `whole`: no file of a set was unreadable, so what nobody names here nobody names. `kinds`: kinds of part that
    anything else names (lists of parts, designs). `beside`: requirements that need facts too, asked only when a fact
    seems idle; `forms_beside`: facts that forms of other sets ask. `used`: facts that pages take.
    """
    found: list[Problem] = []
    named = Counter(r.each.part for one in sets.values() for r in one.requirements if r.each)
    known = {*kinds, *(f.of for f in (facts or {}).values() if f.of), *(k for k, n in named.items() if n > 1)}
    for one in sets.values():
        at, areas = spots(one, data)
        found += _set(one, areas, data)
        titles: dict[str, Spot] = {}
        for requirement in one.requirements:
            spot = at[requirement.id]
            if facts is not None:
                found += condition_faults(requirement, spot, facts)
            found += leaf_faults(requirement, spot, facts, methods)
            found += way_faults(requirement, spot, facts or {})
            found += _words(requirement, spot)
            found += _kind(requirement, spot, known)
            found += _title(requirement, spot, titles)
    if facts is not None:
        found += _facts(facts, data.get(FACTS))
        if whole:
            found += _idle_facts(facts, data.get(FACTS), sets, methods, beside, forms_beside, used)
    return tuple(found)


def findings_in(workshop: Workshop, data: Mapping[str, bytes]) -> tuple[Problem, ...]:
    """As `lint`, for the sets of a folder that was read. From a file that could not be read nothing is concluded."""
    unread = {p.place.file for p in workshop.problems if p.place and p.place.file.startswith("requirements/")}
    kinds = {kind for act in workshop.acts if isinstance(act.body, Statement) for kind in act.body.parts}
    kinds |= {act.body.kind for act in workshop.acts if isinstance(act.body, DesignRevision)}
    found = lint(
        workshop.sets,
        None if FACTS in unread else workshop.facts,
        data,
        all_methods(),
        whole=not unread,
        kinds=kinds,
        beside=lambda: (r for one in shipped_sets().values() for r in one.requirements),
        forms_beside=lambda: forms_ask(shipped_sets().values()),
    )
    if any(p.code.startswith("plugin.") for p in workshop.problems):
        # A plug-in that could not be loaded has been told; what only it knows is no fault of the set.
        found = tuple(p for p in found if p.code not in ("set.unknown-measurand", "set.unknown-method"))
    return found


def _note(code: str, message: str, remedy: str, place: Place, *related: Place) -> Problem:
    return Problem(code, message, remedy, place, Severity.NOTE, related)


# ---- the set as a whole -------------------------------------------------------------------------------------


def _set(one: RequirementSet, areas: Mapping[str, Spot], data: Mapping[str, bytes]) -> Iterator[Problem]:
    orders: dict[str, Spot] = {}
    for spot in areas.values():
        content = spot.below("order").node.content
        assert isinstance(content, str)
        if content in orders:
            yield _note(
                "set.same-order",
                f"two areas of '{one.id}' are number {content}, and the names of their files decide which comes first",
                "give one of them another number",
                spot.place("order"),
                orders[content].place("order"),
            )
        orders.setdefault(content, spot)
    head, path = one.file, f"requirements/{one.id}/set.yaml"
    root = root_of(data[path], path) if path in data else None
    if root is not None:
        yield from cap_faults(head.decision_rule, Spot(path, root))
    if head.in_force and head.accepted_until and head.accepted_until < head.in_force:
        yield Problem(
            "set.days",
            f"'{one.id}' is accepted until {head.accepted_until} and in force only from {head.in_force}",
            "exchange or correct the days",
            Place(path, 1, 1) if root is None else Spot(path, root).place("accepted_until"),
        )


def _kind(requirement: Requirement, spot: Spot, known: Collection[str]) -> Iterator[Problem]:
    if requirement.each is None or requirement.each.part in known:
        return
    near = nearest(requirement.each.part, known, cutoff=0.75)
    if near is not None:
        yield _note(
            "set.unknown-kind",
            f"nothing else speaks of parts of the kind '{requirement.each.part}'",
            f"did you mean '{near}'?",
            spot.place("each", "part"),
        )


# ---- words --------------------------------------------------------------------------------------------------


def _title(requirement: Requirement, spot: Spot, titles: dict[str, Spot]) -> Iterator[Problem]:
    title = requirement.title.casefold()
    if title in titles:
        yield _note(
            "set.same-title",
            f"two requirements of the set are called “{requirement.title}”: nobody can tell them apart on a page",
            "say in the title what is different",
            spot.place("title"),
            titles[title].place("title"),
        )
    titles.setdefault(title, spot)
    if len(requirement.title) > LONGEST_TITLE:
        yield _note(
            "set.long-title",
            f"the title of '{requirement.id}' has {len(requirement.title)} characters",
            f"say it in {LONGEST_TITLE}, as people speak; the statement says the rest",
            spot.place("title"),
        )


def _words(requirement: Requirement, spot: Spot) -> Iterator[Problem]:
    sentences = len(SENTENCE.split(requirement.statement))
    if sentences > MOST_SENTENCES:
        yield _note(
            "set.long-statement",
            f"the statement of '{requirement.id}' has {sentences} sentences",
            "say it in one or two; what to do on the way belongs into the hint",
            spot.place("statement"),
        )
    if re.search(r"\bshall\b", requirement.statement, re.IGNORECASE):
        yield _note(
            "set.shall",
            f"the statement of '{requirement.id}' says “shall”, as regulations do",
            "say it in own words, as a mechanic would: is, has, must",
            spot.place("statement"),
        )
    if not requirement.cautions:
        yield _note(
            "set.no-cautions",
            f"'{requirement.id}' has no cautions. High voltage can kill: whoever shows this has to read of it",
            "write cautions: […]: what can hurt somebody on the way, and what to do first",
            spot.place("id"),
        )
    if requirement.hint is None:
        yield _note(
            "set.no-hint",
            f"'{requirement.id}' has no hint for the test sheet",
            "write hint: what to take along, how to go about it, what to photograph",
            spot.place("id"),
        )
    source = requirement.source
    if source.confidence in ("own", "practice") and source.note is None:
        what = "the team's own" if source.confidence == "own" else "common practice"
        yield _note(
            "set.no-note",
            f"'{requirement.id}' is {what}, and nothing says whose judgement it is or what it rests on",
            "write it into the source: {…, note: …}",
            spot.place("source"),
        )


# ---- facts --------------------------------------------------------------------------------------------------


def _facts(facts: Facts, data: bytes | None) -> Iterator[Problem]:
    at = _facts_spot(data)
    if at is None:
        return
    asked: dict[tuple[str, str], str] = {}
    for key, fact in facts.items():
        if fact.unit is not None:
            yield from _quantity(key, fact, at)
        if len(fact.choices) == 1:
            yield _note(
                "facts.one-choice",
                f"'{key}' has one answer only, so it decides nothing",
                "write the other answers too, or take the fact out",
                at.place(key, "choices", key=True),
            )
        if fact.was is not None:
            yield from _was(key, fact, facts, at)
        same = asked.setdefault((fact.of or "", fact.ask.casefold()), key)
        if same != key:
            yield _note(
                "facts.same-question",
                f"'{key}' asks the same as '{same}': “{fact.ask}”",
                "ask what is different, or keep one of the two",
                at.place(key, "ask"),
                at.place(same, "ask"),
            )


def _was(key: str, fact: FactDefinition, facts: Facts, at: Spot) -> Iterator[Problem]:
    """The fact of the base vehicle is there, and is of the same sort."""
    before = facts.get(fact.was or "")
    if before is None:
        near = nearest(fact.was or "", facts)
        yield Problem(
            "facts.was",
            f"'{key}' names '{fact.was}' as what it was before the conversion, which is not defined",
            f"did you mean '{near}'?" if near is not None else "define it: title, ask, why, and choices, unit or text",
            at.place(key, "was"),
        )
    elif (before.unit, before.of) != (fact.unit, fact.of):
        yield Problem(
            "facts.was",
            f"'{key}' and '{fact.was}', what it was before, differ in unit or in what they are asked of",
            "give both the same",
            at.place(key, "was"),
        )


def _quantity(key: str, fact: FactDefinition, at: Spot) -> Iterator[Problem]:
    assert fact.unit is not None
    try:
        parse_unit(fact.unit)
    except UnitFault as fault:
        yield Problem("facts.unit", f"'{key}': {fault.message}", fault.remedy, at.place(key, "unit"))
        return
    if fact.lowest is not None and fact.highest is not None and fact.lowest >= fact.highest:
        yield Problem(
            "facts.range",
            f"'{key}' goes from {fact.lowest} to {fact.highest}, so no answer is plausible",
            "exchange or correct lowest and highest",
            at.place(key, "lowest"),
        )
    missing = [name for name in ("lowest", "highest") if getattr(fact, name) is None]
    if missing:
        yield _note(
            "facts.no-range",
            f"'{key}' does not say its {' and '.join(missing)} plausible value, so no slip of the pen is noticed",
            f"write {' and '.join(f'{name}: a number in {fact.unit}' for name in missing)}",
            at.place(key, key=True),
        )


def _idle_facts(
    facts: Facts,
    data: bytes | None,
    sets: Mapping[str, RequirementSet],
    methods: Sequence[Method],
    beside: Callable[[], Iterable[Requirement]],
    forms_beside: Callable[[], Iterable[str]],
    used: Collection[str],
) -> Iterator[Problem]:
    at = _facts_spot(data)
    requirements = [r for one in sets.values() for r in one.requirements]
    needed = {*used, *needed_facts(requirements, facts, methods)}
    # A fact that is probably meant by a misspelt name is needed: the name has been told.
    asked = {key for r in requirements for key in conditions_ask(r) | limits_ask(r) if key not in facts}
    needed |= {near for key in asked if (near := nearest(key, facts, cutoff=LIKE_A_FACT)) is not None}
    needed |= forms_ask(sets.values())
    idle = [key for key in facts if key not in needed]
    if idle and at is not None:
        needed |= {*needed_facts(beside(), facts, methods), *forms_beside()}
        for key in idle:
            if key not in needed:
                yield _note(
                    "facts.unneeded",
                    f"no requirement, method or form needs the fact '{key}', so nobody is ever asked for it",
                    "ask it in a condition or as a limit, or take it out",
                    at.place(key, key=True),
                )


def _facts_spot(data: bytes | None) -> Spot | None:
    root = None if data is None else root_of(data, FACTS)
    return None if root is None else Spot(FACTS, root).below("facts")
