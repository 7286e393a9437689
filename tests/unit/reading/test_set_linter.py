"""The linter of requirement sets: for each finding a smallest set that has it and nothing else, with place and words.

In a text, `»` stands before the character at which the finding points; it is taken out before the text is read.
What a finding says is checked against the text here, and each mistake is planted into the shipped sets too.
"""

from __future__ import annotations

import copy
import random
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import pytest
import yaml

from witnessmark.assessment.needs import all_methods
from witnessmark.problems import Problem, Severity, in_order
from witnessmark.reading.set_linter import lint
from witnessmark.reading.sets import FACTS, read_facts, read_sets
from witnessmark.records.forms import forms_ask
from witnessmark.shipped import shipped

METHODS = all_methods()
AREA = "requirements/mini/area.yaml"
HEAD = "format: 1\ntitle: A small set\nshort: Mini\nnote: Invented for tests.\n"
MARK = "»"

BASE_FACTS: Mapping[str, str] = {
    "charging": "{title: charging, ask: How?, why: Rules., choices: {none: no inlet, ac: mains, dc: quick}}",
    "voltage": "{title: voltage, ask: How high?, why: Rules., unit: V, lowest: 0, highest: 1500}",
    "working_voltage": "{title: of the circuit, ask: At most?, why: R., unit: V, lowest: 0, highest: 1500}",
    "warmth": "{title: warmth, ask: How warm?, why: Rules., unit: °C, lowest: -40, highest: 90}",
    "seats": "{title: seats, ask: How many?, why: Rules., unit: 1, lowest: 0, highest: 90}",
    "maker": "{title: maker, ask: Who?, why: Rules., text: yes}",
    "uses": "{title: uses, ask: What for?, why: Rules., choices: {post: mail, taxi: fares, rent: hire}, several: yes}",
    "joint": "{title: joint, ask: What joins it?, why: Rules., of: bus, choices: {weld: welded, bolt: bolted}}",
    "cell_high": "{title: cell limit, ask: What may it?, why: Rules., of: pack, unit: V, lowest: 1, highest: 5}",
}

REQUIREMENT: Mapping[str, str] = {
    "id": "one",
    "clause": '"1"',
    "title": "Isolation of the bus",
    "statement": "The bus is isolated.",
    "source": "{confidence: own, note: the team}",
    "each": "{part: bus}",
    "leaves": "{a: {inspect: whole}}",
    "shown": "a",
    "cautions": "[High voltage can kill.]",
    "hint": "Look.",
}

MEASURED = "{a: {measure: isolation-resistance, criteria: {%s}}}"


@dataclass(frozen=True)
class Case:
    """`changed`: lines of the one requirement; None takes a line out. `facts`: likewise of the facts."""

    code: str
    message: str
    remedy: str
    changed: Mapping[str, str | None]
    facts: Mapping[str, str | None] = field(default_factory=dict)
    note: bool = False
    used: tuple[str, ...] = tuple(BASE_FACTS)


def _area(*requirements: Mapping[str, str]) -> str:
    lines = ["format: 1", "area: area", "title: Area", "order: 1", "requirements:"]
    for fields in requirements:
        for number, (key, value) in enumerate(fields.items()):
            lines.append(f"{'  - ' if not number else '    '}{key}: {value}")
    return "\n".join(lines) + "\n"


def _with(base: Mapping[str, str], changed: Mapping[str, str | None]) -> dict[str, str]:
    order = ["id", "clause", "title", "statement", "source", "about", "each", "applies", "leaves", "shown"]
    found = {key: value for key, value in {**base, **dict(changed)}.items() if value is not None}
    return {key: found[key] for key in sorted(found, key=lambda k: order.index(k) if k in order else 99)}


def _facts(changed: Mapping[str, str | None] | None = None) -> str:
    rows = "".join(f"  {key}: {value}\n" for key, value in {**BASE_FACTS, **(changed or {})}.items() if value)
    return f"format: 1\nfacts:\n{rows}"


def _unmarked(files: Mapping[str, str]) -> tuple[dict[str, bytes], list[str]]:
    """The files without marks, and the places of the marks."""
    places = []
    for path, text in files.items():
        for number, line in enumerate(text.splitlines(), 1):
            places += [f"{path}:{number}:{found.start() + 1}" for found in re.finditer(MARK, line)]
    return {path: text.replace(MARK, "").encode() for path, text in files.items()}, places


def _linted(files: Mapping[str, bytes], used: Iterable[str] = BASE_FACTS) -> tuple[Problem, ...]:
    sets, problems = read_sets({p: d for p, d in files.items() if p != FACTS})
    facts, more = read_facts(files[FACTS])
    assert not problems and not more, [*problems, *more]
    return in_order(lint(sets, facts, files, METHODS, used=tuple(used)))


CONDITIONS = (
    Case(
        "set.unknown-fact",
        "'one' asks the fact 'chargin', which requirements/facts.yaml does not define",
        "did you mean 'charging'? else define it there: title, ask, why, and choices, unit or text",
        {"applies": "{»chargin: ac}"},
    ),
    Case(
        "set.unknown-fact",
        "'one' asks the fact 'colour'",
        "define it there: title, ask, why",
        {"each": "{part: bus, where: {not: {any: [{joint: weld}, {»colour: red}]}}}"},
    ),
    Case(
        "set.condition-word",
        "'mains' is no answer to 'charging', so it can never be stated",
        "its answers are none, ac, dc",
        {"applies": "{charging: [ac, »mains]}"},
    ),
    Case(
        "set.condition-word",
        "'nonne' is no answer to 'charging'",
        "did you mean 'none'? its answers are none, ac, dc",
        {"applies": "{charging: »nonne}"},
    ),
    Case(
        "set.condition-twice", "'ac' stands here twice", "take one out", {"applies": "{charging: [ac, »ac]}"}, note=True
    ),
    Case(
        "set.condition-form",
        "'voltage' is a number in V, and is compared with a word",
        "write voltage: {at_least: 5 V}",
        {"applies": "{voltage: »high}"},
    ),
    Case(
        "set.condition-form",
        "'charging' has no unit and cannot be more than something: it is answered with one of none, ac, dc",
        "name the answers that count, such as charging: [none]",
        {"applies": "{charging: {more_than: »5 V}}"},
    ),
    Case(
        "set.condition-form",
        "'maker' has no unit and cannot be at least something: it is answered in free words",
        "ask a fact that is a quantity",
        {"applies": "{maker: {at_least: »5 V}}"},
    ),
    Case(
        "set.condition-form",
        "'maker' is answered in free words, which nobody writes the same way twice",
        "give the fact choices in requirements/facts.yaml",
        {"applies": "{»maker: Fulmar}"},
    ),
    Case(
        "set.condition-unit",
        "the limit 60 has no unit; 'voltage' is stated in V",
        "write more_than: 60 V",
        {"applies": "{voltage: {more_than: »60}}"},
    ),
    Case(
        "set.condition-unit",
        "the limit 60 kg does not fit 'voltage', which is stated in V",
        "write it in V",
        {"applies": "{voltage: {more_than: »60 kg}}"},
    ),
    Case(
        "set.condition-unit",
        "the limit 22 V does not fit 'seats', which is stated as a bare number",
        "write it as a bare number",
        {"applies": "{seats: {more_than: »22 V}}"},
    ),
    Case(
        "set.condition-unit",
        "the limit 20 K does not fit 'warmth', which is stated in °C",
        "write it in °C",
        {"applies": "{warmth: {more_than: »20 K}}"},
    ),
    Case(
        "set.condition-unit",
        "the limit > 60 V is no plain number",
        "write one number with its unit",
        {"applies": '{voltage: {more_than: »"> 60 V"}}'},
    ),
    Case(
        "set.fact-of-part",
        "'joint' is a fact of each bus, and 'applies' asks the vehicle, which never has it",
        "write it under each: {part: bus, where: {joint: …}}",
        {"applies": "{»joint: weld}"},
    ),
    Case(
        "set.fact-of-other-part",
        "'cell_high' is a fact of each pack, and 'where' asks each bus, which never has it",
        "ask a fact of bus, or make it each: {part: pack, …}",
        {"each": "{part: bus, where: {»cell_high: {at_least: 4 V}}}"},
    ),
    Case(
        "set.never",
        "whatever is stated, this never holds: charging is ac and not (charging is ac or dc)",
        "nobody is ever asked for “Isolation of the bus”",
        {"applies": "{»charging: ac, not: {charging: [ac, dc]}}"},
    ),
    Case(
        "set.never",
        "this never holds: charging is ac and charging is dc",
        "mend it",
        {"applies": "{»all: [{charging: ac}, {charging: dc}]}"},
    ),
    Case(
        "set.never",
        "this never holds: voltage is more than 2000 V, and it goes from 0 V to 1500 V",
        "mend it: as it stands, nobody is ever asked for “Isolation of the bus”",
        {"applies": "{»voltage: {more_than: 2000 V}}"},
    ),
    Case(
        "set.never",
        "this never holds: voltage is more than 60 V and voltage is at most 60 V",
        "mend it",
        {"applies": "{»all: [{voltage: {more_than: 60 V}}, {voltage: {at_most: 60 V}}]}"},
    ),
    Case(
        "set.never",
        "this never holds: seats is more than 3 and seats is less than 4",
        "mend it",
        {"applies": "{»all: [{seats: {more_than: 3}}, {seats: {less_than: 4}}]}"},
    ),
    Case(
        "set.never",
        "this never holds: charging is ac and charging is dc",
        "mend it: nothing ever comes under it",
        {"applies": "{any: [{voltage: {at_least: 60 V}}, {»all: [{charging: ac}, {charging: dc}]}]}"},
    ),
    Case(
        "set.always",
        "whatever is stated, this always holds: charging is none or ac or dc",
        "name the case that it is meant to leave out",
        {"applies": "{»charging: [none, ac, dc]}"},
        note=True,
    ),
    Case(
        "set.always",
        "this always holds: voltage is at least 0 V, and it goes from 0 V to 1500 V",
        "take it out",
        {"each": "{part: bus, where: {»voltage: {at_least: 0 V}}}"},
        note=True,
    ),
    Case(
        "set.idle",
        "this changes nothing, the rest says it already: voltage is at least 30 V",
        "take it out, or say what is meant",
        {"applies": "{all: [{»voltage: {at_least: 30 V}}, {voltage: {at_least: 60 V}}, {charging: ac}]}"},
        note=True,
    ),
)

LEAVES = (
    Case(
        "set.unknown-measurand",
        "no method that is known yields 'isolation-resistence', so 'a' can never be shown",
        "did you mean 'isolation-resistance'? witnessmark list methods shows",
        {"leaves": "{a: {measure: »isolation-resistence, criteria: {full: {at_least: 1 MΩ}}}}"},
    ),
    Case(
        "set.unknown-measurand",
        "no method that is known yields 'wobble'",
        "witnessmark list methods shows what can be measured",
        {"leaves": "{a: {measure: »wobble, criteria: {full: {at_least: 1 MΩ}}}}"},
    ),
    Case(
        "set.unknown-method",
        "there is no method 'insulation-tester/9'",
        "did you mean 'insulation-tester/1'?",
        {
            "leaves": "{a: {measure: isolation-resistance, methods: [insulation-tester/1, »insulation-tester/9], "
            "criteria: {full: {at_least: 1 MΩ}}}}"
        },
    ),
    Case(
        "set.method-measurand",
        "bonding-four-wire/1 does not yield 'isolation-resistance', so it cannot show 'a'",
        "isolation-resistance is yielded by ",
        {
            "leaves": "{a: {measure: isolation-resistance, methods: [insulation-tester/1, »bonding-four-wire/1], "
            "criteria: {full: {at_least: 1 MΩ}}}}"
        },
    ),
    Case(
        "set.limit-unit",
        "the limit of 'a/full' is in V, and isolation-resistance comes out in Ω",
        "write the limit in Ω",
        {"leaves": MEASURED % "full: {at_least: »1 V}"},
    ),
    Case(
        "set.limit-unit",
        "the limit of 'a/full' is in %, and isolation-resistance comes out in Ω",
        "write the limit in Ω",
        {"leaves": MEASURED % "full: {at_least: »90 %}"},
    ),
    Case(
        "set.limit-form",
        "the limit of 'a/full' is no plain number: > 1 MΩ",
        "write one number with its unit",
        {"leaves": MEASURED % 'full: {at_least: »"> 1 MΩ"}'},
    ),
    Case(
        "set.unknown-fact",
        "'one' asks the fact 'voltag'",
        "did you mean 'voltage'?",
        {"leaves": MEASURED % "full: {at_least: {fact: »voltag}}"},
    ),
    Case(
        "set.limit-fact",
        "the limit of 'a/full' is the fact 'charging', which is not one quantity",
        "name a fact that has a unit",
        {"leaves": MEASURED % "full: {at_least: {fact: »charging}}"},
    ),
    Case(
        "set.limit-unit",
        "the limit of 'a/full' is the fact 'voltage', which is stated in V, and isolation-resistance comes out in Ω",
        "name a fact that is stated in Ω",
        {"leaves": MEASURED % "full: {at_least: {fact: »voltage}}"},
    ),
    Case(
        "set.limit-fact",
        "limit of 'a/full' is the fact 'cell_high' of each pack, and this is shown for each bus, which never has it",
        "ask it of the part: each: {part: pack}",
        {"leaves": "{a: {measure: cell-voltage-highest, criteria: {full: {at_most: {fact: »cell_high}}}}}"},
    ),
    Case(
        "set.limit-fact",
        "and this is shown for the vehicle as a whole, which never has it",
        "ask it of the part: each: {part: pack}",
        {
            "each": None,
            "leaves": "{a: {measure: cell-voltage-highest, criteria: {full: {at_most: {fact: »cell_high}}}}}",
        },
    ),
    Case(
        "set.condition-method",
        "'a' wants contactors: closed, and bonding-four-wire/1 wants contactors: open: no record can meet both",
        "write contactors: open, or take it out",
        {
            "leaves": "{a: {measure: bonding-resistance, methods: [bonding-four-wire/1], "
            "criteria: {full: {less_than: 0.1 Ω}}, conditions: {contactors: »closed}}}"
        },
    ),
    Case(
        "set.condition-name",
        "no method for 'a' knows the condition 'contactor', so it is asked beside theirs",
        "did you mean 'contactors'?",
        {
            "leaves": "{a: {measure: bonding-resistance, methods: [bonding-four-wire/1], "
            "criteria: {full: {less_than: 0.1 Ω}}, conditions: {»contactor: open}}}"
        },
        note=True,
    ),
    Case(
        "set.method-fact",
        "'a' can never be calculated: insulation-tester/1 needs the fact 'working_voltage', which "
        "requirements/facts.yaml does not define",
        "define the fact",
        {
            "leaves": "{a: {measure: »isolation-per-volt, methods: [insulation-tester/1], "
            "criteria: {full: {at_least: 500 Ω/V}}}}"
        },
        {"working_voltage": None},
    ),
    Case(
        "set.method-fact",
        "needs the fact 'working_voltage' in V, and it is asked otherwise",
        "define the fact",
        {
            "leaves": "{a: {measure: »isolation-per-volt, methods: [insulation-tester/1], "
            "criteria: {full: {at_least: 500 Ω/V}}}}"
        },
        {"working_voltage": "{title: w, ask: W?, why: R., unit: A, lowest: 0, highest: 9}"},
    ),
    Case(
        "set.after-wait",
        "how long 'b' waits is no time: 24 V",
        "such as wait: 24 h",
        {
            "leaves": "{a: {inspect: whole}, b: {inspect: dry, after: {leaf: a, wait: »24 V}}}",
            "shown": "{all: [a, b]}",
        },
    ),
    Case(
        "set.after-circle",
        "'a' waits for 'b' and 'b' waits for 'a': none can ever be the later one",
        "take 'after' out of the one that is done first",
        {
            "leaves": "{a: {inspect: whole, after: {leaf: »b, wait: 1 h}}, "
            "b: {inspect: dry, after: {leaf: a, wait: 1 h}}}",
            "shown": "{all: [a, b]}",
        },
    ),
    Case(
        "set.after-circle",
        "'a' waits for itself",
        "take 'after' out",
        {"leaves": "{a: {inspect: whole, after: {leaf: »a, wait: 1 h}}}"},
    ),
)

CAPS = (
    Case("set.cap", "the cap '5 V' is no ratio of U to the limit, so the rule would be guarded all the same",
         "write it in per cent, such as cap: 5 %", {"decision_rule": "{rule: simple, cap: »5 V}"}),
    Case("set.cap", "the cap 'small' is no ratio", "such as cap: 5 %",
         {"leaves": "{a: {measure: isolation-resistance, criteria: {full: {at_least: 1 MΩ}}, "
                    "decision_rule: {rule: simple, cap: »small}}}"}),
)  # fmt: skip

WAYS = (
    Case(
        "set.leaf-idle",
        "the leaf 'b' is never needed: wherever 'shown' names it, less shows the requirement too",
        "the shorter ways are a; take the leaf out",
        {"leaves": "{a: {inspect: whole}, »b: {photograph: it}}", "shown": "{any: [a, {all: [a, b]}]}"},
    ),
    Case(
        "set.criterion-idle",
        "'b/x' is never needed",
        "the shorter ways are a, or b/y; take it out",
        {
            "leaves": "{a: {inspect: whole}, b: {measure: isolation-resistance, "
            "criteria: {»x: {at_least: 2 MΩ}, y: {at_least: 1 MΩ}}}}",
            "shown": "{any: [a, {all: [a, b/x]}, b/y]}",
        },
    ),
    Case(
        "set.criteria-exclude",
        "'a/low' and 'a/high' exclude each other, and 'shown' wants both of one result: at least 2 MΩ and at most 1 MΩ",
        "make them alternatives with any:",
        {"leaves": MEASURED % "»low: {at_least: 2 MΩ}, high: {at_most: 1 MΩ}", "shown": "{all: [a/low, a/high]}"},
    ),
    Case(
        "set.criteria-exclude",
        "at least 1 MΩ and at most 1000 kΩ",
        "or mend a limit",
        {"leaves": MEASURED % "»low: {at_least: 1 MΩ}, high: {at_most: 1000 kΩ}", "shown": "{all: [a/low, a/high]}"},
    ),
    Case(
        "set.criterion-outdone",
        "'a/full' never decides: what meets it meets 'a/less' too, and that is enough",
        "let 'a/less' need something more, as in {all: [a/less, …]}",
        {"leaves": MEASURED % "»full: {at_least: 2 MΩ}, less: {at_least: 1 MΩ}", "shown": "{any: [a/full, a/less]}"},
    ),
    Case(
        "set.criterion-outdone",
        "'a/less' never decides: whatever meets 'a/full', which is wanted beside it, meets it too",
        "take it out, or mend a limit",
        {"leaves": MEASURED % "full: {more_than: 1 MΩ}, »less: {at_least: 1 MΩ}", "shown": "{all: [a/full, a/less]}"},
        note=True,
    ),
    Case(
        "set.ways",
        "'shown' multiplies out to more than 4096 combinations",
        "write fewer alternatives",
        {
            "leaves": "{" + ", ".join(f"l{n}: {{inspect: it}}" for n in range(26)) + "}",
            "shown": "»{all: [" + ", ".join(f"{{any: [l{n}, l{n + 1}]}}" for n in range(0, 26, 2)) + "]}",
        },
    ),
    Case(
        "set.many-ways",
        "'shown' can be met in 1024 ways, which nobody oversees",
        "split the requirement",
        {
            "leaves": "{" + ", ".join(f"l{n}: {{inspect: it}}" for n in range(20)) + "}",
            "shown": "»{all: [" + ", ".join(f"{{any: [l{n}, l{n + 1}]}}" for n in range(0, 20, 2)) + "]}",
        },
        note=True,
    ),
)

WORDS = (
    Case(
        "set.long-statement",
        "the statement of 'one' has 3 sentences",
        "say it in one or two",
        {"statement": "»It is whole. It is dry. It is clean."},
        note=True,
    ),
    Case(
        "set.shall",
        "says “shall”, as regulations do",
        "say it in own words",
        {"statement": "»The bus shall be whole."},
        note=True,
    ),
    Case(
        "set.long-title",
        "the title of 'one' has 71 characters",
        "say it in 70, as people speak",
        {"title": "»" + "Isolation " * 7 + "1"},
        note=True,
    ),
    Case("set.no-cautions", "'one' has no cautions. High voltage can kill", "write cautions: […]",
         {"id": "»one", "cautions": None}, note=True),
    Case("set.no-hint", "'one' has no hint for the test sheet", "write hint: what to take along",
         {"id": "»one", "hint": None}, note=True),
    Case("set.no-note", "'one' is the team's own, and nothing says whose judgement it is", "write it into the source",
         {"source": "»{confidence: own}"}, note=True),
    Case("set.no-note", "'one' is common practice", "write it into the source",
         {"source": "»{confidence: practice}"}, note=True),
    Case("set.unknown-kind", "nothing else speaks of parts of the kind 'buss'", "did you mean 'bus'?",
         {"each": "{part: »buss}"}, note=True),
)  # fmt: skip

FACT_CASES = (
    Case("facts.unit", "'load'", "", {}, {"load": "{title: l, ask: L?, why: R., unit: »stone, lowest: 0, highest: 9}"},
         used=(*BASE_FACTS, "load")),
    Case("facts.range", "'load' goes from 9 to 1, so no answer is plausible", "exchange or correct lowest and highest",
         {}, {"load": "{title: l, ask: L?, why: R., unit: kg, lowest: »9, highest: 1}"}, used=(*BASE_FACTS, "load")),
    Case("facts.no-range", "'load' does not say its lowest and highest plausible value", "write lowest: a number in kg",
         {}, {"»load": "{title: l, ask: L?, why: R., unit: kg}"}, note=True, used=(*BASE_FACTS, "load")),
    Case("facts.one-choice", "'load' has one answer only, so it decides nothing", "write the other answers too",
         {}, {"load": "{title: l, ask: L?, why: R., »choices: {some: a bit}}"}, note=True,
         used=(*BASE_FACTS, "load")),
    Case("facts.same-question", "'load' asks the same as 'maker': “Who?”", "keep one of the two",
         {}, {"load": "{title: l, ask: »Who?, why: R., text: yes}"}, note=True, used=(*BASE_FACTS, "load")),
    Case("facts.was", "'load' names 'lod' as what it was before the conversion, which is not defined",
         "did you mean 'load'?", {}, {"load": "{title: l, ask: L?, why: R., text: yes, was: »lod}"}),
    Case("facts.was", "'load' and 'maker', what it was before, differ in unit or in what they are asked of",
         "give both the same",
         {}, {"load": "{title: l, ask: L?, why: R., unit: kg, lowest: 1, highest: 9, was: »maker}"}),
    Case("facts.unneeded", "no requirement, method or form needs the fact 'load', so nobody is ever asked for it",
         "ask it in a condition or as a limit, or take it out",
         {}, {"»load": "{title: l, ask: L?, why: R., text: yes}"}, note=True),
)  # fmt: skip

CASES = (*CONDITIONS, *LEAVES, *CAPS, *WAYS, *WORDS, *FACT_CASES)


def test_the_smallest_set_has_no_finding() -> None:
    files = {"requirements/mini/set.yaml": HEAD.encode(), AREA: _area(REQUIREMENT).encode(), FACTS: _facts().encode()}
    assert _linted(files) == ()


@pytest.mark.parametrize("case", CASES, ids=[f"{n}-{c.code}" for n, c in enumerate(CASES)])
def test_each_finding_has_its_code_place_words_and_remedy(case: Case) -> None:
    requirement = _with(REQUIREMENT, case.changed)
    marked = {"requirements/mini/set.yaml": HEAD, AREA: _area(requirement), FACTS: _facts(case.facts)}
    files, places = _unmarked(marked)
    (problem,) = _linted(files, case.used)
    assert problem.code == case.code
    assert [str(problem.place)] == places
    assert case.message in problem.message
    assert case.remedy in problem.remedy and problem.remedy
    assert (problem.severity is Severity.NOTE) is case.note


def test_two_requirements_of_one_title_name_each_other() -> None:
    second = _with(REQUIREMENT, {"id": "two", "title": "»Isolation of the Bus"})
    marked = {"requirements/mini/set.yaml": HEAD, AREA: _area(REQUIREMENT, second), FACTS: _facts()}
    files, places = _unmarked(marked)
    (problem,) = _linted(files)
    assert (problem.code, [str(problem.place)], problem.severity) == ("set.same-title", places, Severity.NOTE)
    assert [str(place) for place in problem.related] == [f"{AREA}:8:12"]


def test_two_areas_of_one_number_and_days_the_wrong_way_round() -> None:
    other = _area(_with(REQUIREMENT, {"id": "two", "title": "Another"})).replace("area: area", "area: other")
    files = {
        "requirements/mini/set.yaml": f"{HEAD}in_force: 2026-02-01\naccepted_until: 2026-01-01\n".encode(),
        AREA: _area(REQUIREMENT).encode(),
        "requirements/mini/other.yaml": other.encode(),
        FACTS: _facts().encode(),
    }
    found = {(p.code, str(p.place)) for p in _linted(files)}
    assert found == {
        ("set.same-order", "requirements/mini/other.yaml:4:8"),
        ("set.days", "requirements/mini/set.yaml:6:17"),
    }


def test_the_cap_of_a_whole_set_is_looked_at_too() -> None:
    head = f"{HEAD}decision_rule: {{rule: simple, cap: »many}}\n"
    files, places = _unmarked({"requirements/mini/set.yaml": head, AREA: _area(REQUIREMENT), FACTS: _facts()})
    (problem,) = _linted(files)
    assert (problem.code, [str(problem.place)]) == ("set.cap", places)


@pytest.mark.parametrize(
    "changed",
    [
        {"applies": "{uses: [post], not: {uses: [taxi]}}"},  # of several answers both could be given
        {"applies": "{all: [{uses: post}, {uses: taxi}]}"},
        {"applies": "{all: [{voltage: {at_least: 60 V}}, {voltage: {at_most: 60 V}}]}"},
        {"applies": "{all: [{seats: {more_than: 3}}, {seats: {less_than: 5}}]}"},
        {"applies": "{requirement_sets: [mini]}"},
        {"each": "{part: bus, where: {voltage: {more_than: 60 V}}}"},  # the vehicle's own counts for the part
        {"leaves": MEASURED % "low: {at_least: 1 MΩ}, high: {at_most: 2 MΩ}", "shown": "{all: [a/low, a/high]}"},
        {
            "leaves": "{a: {measure: isolation-resistance, criteria: {full: {at_least: 2 MΩ}, less: {at_least: 1 MΩ}}}"
            ", b: {inspect: guarded}}",
            "shown": "{any: [a/full, {all: [a/less, b]}]}",
        },
    ],
)
def test_what_looks_alike_and_is_sound_has_no_finding(changed: Mapping[str, str]) -> None:
    sets = {"requirement_sets": "{title: sets, ask: Which sets?, why: R., text: yes, several: yes}"}
    files = {
        "requirements/mini/set.yaml": HEAD.encode(),
        AREA: _area(_with(REQUIREMENT, changed)).encode(),
        FACTS: _facts(sets).encode(),
    }
    assert _linted(files) == ()


def test_one_cause_gives_one_finding() -> None:
    """An unknown answer is not also a condition that never holds; an unknown measurand is not also a wrong limit."""
    changed = {
        "applies": "{all: [{charging: mains}, {charging: ac}, {charging: dc}]}",
        "leaves": "{a: {measure: wobble, methods: [wobble/1], criteria: {full: {at_least: 1 V}}}}",
    }
    files = {
        "requirements/mini/set.yaml": HEAD.encode(),
        AREA: _area(_with(REQUIREMENT, changed)).encode(),
        FACTS: _facts().encode(),
    }
    assert [p.code for p in _linted(files)] == ["set.condition-word", "set.unknown-measurand"]


def test_a_fact_whose_name_is_misspelt_is_not_called_idle_too() -> None:
    files = {
        "requirements/mini/set.yaml": HEAD.encode(),
        AREA: _area(_with(REQUIREMENT, {"applies": "{chargin: ac}"})).encode(),
        FACTS: _facts().encode(),
    }
    found = [p.code for p in _linted(files, set(BASE_FACTS) - {"charging"})]
    assert found == ["set.unknown-fact"]


def test_where_facts_could_not_be_read_nothing_is_concluded_from_them() -> None:
    files = {
        "requirements/mini/set.yaml": HEAD.encode(),
        AREA: _area(_with(REQUIREMENT, {"applies": "{colour: red}"})).encode(),
    }
    sets, _ = read_sets(files)
    assert lint(sets, None, files, METHODS) == ()


def test_a_fact_that_only_a_set_beside_the_folder_needs_is_left_alone() -> None:
    files = {"requirements/mini/set.yaml": HEAD.encode(), AREA: _area(REQUIREMENT).encode(), FACTS: _facts().encode()}
    sets, _ = read_sets(files)
    facts, _ = read_facts(files[FACTS])
    idle = {p.message.split("'")[1] for p in lint(sets, facts, files, METHODS)}
    assert idle == set(BASE_FACTS)
    other = {**files, AREA: _area(_with(REQUIREMENT, {"applies": "{charging: ac}"})).encode()}
    beside = read_sets(other)[0]["mini"].requirements
    assert "charging" not in {p.message.split("'")[1] for p in lint(sets, facts, files, METHODS, beside=lambda: beside)}
    assert lint(sets, facts, files, METHODS, whole=False) == ()


READ = (
    ("no source", {"source": None}, "model.missing-key", "'source' is missing", "write source: {confidence: …}"),
    ("a limit without a unit", {"leaves": MEASURED % "full: {at_least: »500}"}, "quantity.missing-unit",
     "'500' has no unit", "write the unit behind the number"),
    ("no limit", {"leaves": "{a: »{measure: isolation-resistance}}"}, "model.rule",
     "measure without criteria has no limit and shows nothing", "write criteria: {limit: {at_least: 1 MΩ}}"),
    ("a leaf never used", {"leaves": "{a: {inspect: it}, »b: {inspect: that}}"}, "model.rule",
     "the leaf 'b' is used nowhere in 'shown', so nobody needs it", "write b into shown, or take the leaf out"),
    ("a criterion never used", {"leaves": MEASURED % "x: {at_least: 1 MΩ}, »y: {at_least: 2 MΩ}", "shown": "a/x"},
     "model.rule", "the criterion a/y is used nowhere in 'shown'", "write a/y into shown"),
    ("a leaf that is not there", {"shown": None, "»shown": "{all: [a, b]}"}, "model.rule",
     "'shown' names the leaf 'b', which is not among the leaves", "name one of a, or write the leaf"),
    ("which criterion", {"leaves": MEASURED % "x: {at_least: 1 MΩ}, y: {at_least: 2 MΩ}", "shown": None, "»shown": "a"},
     "model.rule", "'shown' does not say which criterion of 'a' it means", "write a/x or a/y"),
    ("waiting for nothing", {"leaves": "{a: {inspect: it, after: {leaf: b, wait: 1 h}}}".replace("leaf:", "»leaf:")},
     "model.rule", "'a' waits for the leaf 'b', which is not among the leaves", "name one of a"),
)  # fmt: skip
"""What reading finds already, before the linter comes to it."""


@pytest.mark.parametrize(("what", "changed", "code", "message", "remedy"), READ, ids=[row[0] for row in READ])
def test_what_cannot_be_read_is_explained_once(
    what: str, changed: Mapping[str, str | None], code: str, message: str, remedy: str
) -> None:
    text = _area(_with(REQUIREMENT, changed))
    if what == "no source":
        text = text.replace("- id", "- »id", 1)
    files, places = _unmarked({"requirements/mini/set.yaml": HEAD, AREA: text})
    (problem,) = read_sets(files)[1]
    assert (problem.code, [str(problem.place)]) == (code, places), what
    assert message in problem.message and remedy in problem.remedy


def test_a_doubled_id_and_area_name_the_other_place() -> None:
    files = {
        "requirements/mini/set.yaml": HEAD.encode(),
        AREA: _area(REQUIREMENT, REQUIREMENT).encode(),
        "requirements/mini/b.yaml": _area(_with(REQUIREMENT, {"id": "two"})).encode(),
    }
    found = [(p.code, str(p.place), [str(o) for o in p.related]) for p in in_order(read_sets(files)[1])]
    assert found == [
        ("set.doubled-requirement", f"{AREA}:16:5", [f"{AREA}:6:5"]),
        ("set.doubled-area", "requirements/mini/b.yaml:2:7", [f"{AREA}:2:7"]),
    ]


# ---- planted into the shipped sets --------------------------------------------------------------------------


def _shipped() -> dict[str, bytes]:
    root = shipped("requirements")
    return {f"requirements/{p.relative_to(root).as_posix()}": p.read_bytes() for p in sorted(root.rglob("*.yaml"))}


def test_the_shipped_sets_have_no_finding_at_all() -> None:
    assert _linted(_shipped(), ()) == ()


LOADER = getattr(yaml, "CBaseLoader", yaml.BaseLoader)
DUMPER = getattr(yaml, "CSafeDumper", yaml.SafeDumper)


def _dumped(tree: Any) -> str:
    text: str = yaml.dump(tree, Dumper=DUMPER, allow_unicode=True, sort_keys=False, width=10_000)
    return text


FILES = _shipped()
SHIPPED_FACTS = yaml.load(FILES[FACTS].decode(), LOADER)["facts"]
AREAS = sorted(p for p in FILES if p.count("/") == 2 and not p.endswith("/set.yaml"))
VEHICLE_WORDS = {k: list(f["choices"]) for k, f in SHIPPED_FACTS.items() if "choices" in f and "of" not in f}
PART_FACTS = {k: f["of"] for k, f in SHIPPED_FACTS.items() if "of" in f}
Tree = dict[str, Any]


def _and(requirement: Tree, condition: Tree) -> None:
    old = requirement.get("applies")
    requirement["applies"] = {"all": [old, condition]} if old else condition


def _measured(requirement: Tree) -> list[str]:
    return [name for name, leaf in requirement["leaves"].items() if "measure" in leaf]


def _unknown_fact(rng: random.Random, r: Tree, area: Tree) -> str | None:
    _and(r, {"planted_by_test": "yes"})
    return "set.unknown-fact"


def _unknown_word(rng: random.Random, r: Tree, area: Tree) -> str | None:
    _and(r, {rng.choice(sorted(VEHICLE_WORDS)): "planted-by-test"})
    return "set.condition-word"


def _never(rng: random.Random, r: Tree, area: Tree) -> str | None:
    key = rng.choice(sorted(VEHICLE_WORDS))
    one, other = rng.sample(VEHICLE_WORDS[key], 2)
    _and(r, {"all": [{key: one}, {key: other}]})
    return "set.never"


def _fact_of_part(rng: random.Random, r: Tree, area: Tree) -> str | None:
    _and(r, {rng.choice(sorted(PART_FACTS)): "yes"})
    return "set.fact-of-part"


def _fact_of_other_part(rng: random.Random, r: Tree, area: Tree) -> str | None:
    if "each" not in r:
        return None
    key = rng.choice(sorted(k for k, of in PART_FACTS.items() if of != r["each"]["part"]))
    r["each"]["where"] = {key: "yes"}
    return "set.fact-of-other-part"


def _no_unit(rng: random.Random, r: Tree, area: Tree) -> str | None:
    _and(r, {"working_voltage": {rng.choice(["at_least", "less_than"]): "60"}})
    return "set.condition-unit"


def _measurand(rng: random.Random, r: Tree, area: Tree) -> str | None:
    if not (names := _measured(r)):
        return None
    leaf = r["leaves"][rng.choice(names)]
    leaf["measure"] += "x"
    return "set.unknown-measurand"


def _limit(rng: random.Random, r: Tree, area: Tree) -> str | None:
    if not (names := _measured(r)):
        return None
    leaf = r["leaves"][rng.choice(names)]
    name = rng.choice(sorted(leaf["criteria"]))
    leaf["criteria"][name] = dict.fromkeys(leaf["criteria"][name], "7 m³")
    return "set.limit-unit"


def _limit_fact(rng: random.Random, r: Tree, area: Tree) -> str | None:
    if not (names := _measured(r)):
        return None
    leaf = r["leaves"][rng.choice(names)]
    name = rng.choice(sorted(leaf["criteria"]))
    leaf["criteria"][name] = {how: {"fact": "planted_by_test"} for how in leaf["criteria"][name]}
    return "set.unknown-fact"


def _method(rng: random.Random, r: Tree, area: Tree) -> str | None:
    if not (names := _measured(r)):
        return None
    leaf = r["leaves"][rng.choice(names)]
    fitting = [m.id for m in METHODS if m.measurand(leaf["measure"])]
    leaf["methods"] = [*leaf.get("methods", fitting), "planted-by-test/1"]
    return "set.unknown-method"


def _idle_leaf(rng: random.Random, r: Tree, area: Tree) -> str | None:
    r["leaves"]["planted"] = {"inspect": "planted by a test"}
    r["shown"] = {"any": [r["shown"], {"all": [copy.deepcopy(r["shown"]), "planted"]}]}
    return "set.leaf-idle"


def _circle(rng: random.Random, r: Tree, area: Tree) -> str | None:
    if len(r["leaves"]) < 2 or any("after" in leaf for leaf in r["leaves"].values()):
        return None
    one, other = rng.sample(sorted(r["leaves"]), 2)
    r["leaves"][one]["after"] = {"leaf": other, "wait": "1 h"}
    r["leaves"][other]["after"] = {"leaf": one, "wait": "1 h"}
    return "set.after-circle"


def _excluded(rng: random.Random, r: Tree, area: Tree) -> str | None:
    names = [n for n in _measured(r) if len(r["leaves"][n]["criteria"]) == 1]
    if not names:
        return None
    name = rng.choice(names)
    criteria = r["leaves"][name]["criteria"]
    ((only, comparison),) = criteria.items()
    ((how, limit),) = comparison.items()
    if not isinstance(limit, str):
        return None
    criteria["planted"] = {"less_than" if how in ("at_least", "more_than") else "more_than": limit}
    r["shown"] = {"all": [_named(r["shown"], name, only), f"{name}/planted"]}
    return "set.criteria-exclude"


def _named(shown: Any, leaf: str, criterion: str) -> Any:
    """`shown` with the criterion written out wherever the leaf stands."""
    if isinstance(shown, str):
        return f"{leaf}/{criterion}" if shown == leaf else shown
    return {key: [_named(part, leaf, criterion) for part in parts] for key, parts in shown.items()}


def _without(key: str, code: str) -> Any:
    def plant(rng: random.Random, r: Tree, area: Tree) -> str | None:
        return code if r.pop(key, None) is not None else None

    return plant


def _no_note(rng: random.Random, r: Tree, area: Tree) -> str | None:
    r["source"] = {"confidence": rng.choice(["own", "practice"])}
    return "set.no-note"


def _shall(rng: random.Random, r: Tree, area: Tree) -> str | None:
    words = r["statement"].split(" ")
    words.insert(rng.randrange(1, len(words)), "shall")
    r["statement"] = " ".join(words)
    return "set.shall"


def _long(rng: random.Random, r: Tree, area: Tree) -> str | None:
    r["statement"] = "One. Two. Three."
    return "set.long-statement"


def _same_title(rng: random.Random, r: Tree, area: Tree) -> str | None:
    others = [other["title"] for other in area["requirements"] if other is not r]
    if not others:
        return None
    r["title"] = rng.choice(others).upper()
    return "set.same-title"


def _kind(rng: random.Random, r: Tree, area: Tree) -> str | None:
    if "each" not in r or "where" in r["each"] or any("fact" in str(leaf) for leaf in r["leaves"].values()):
        return None
    if any(m.facts for name in _measured(r) for m in METHODS if m.measurand(r["leaves"][name]["measure"])):
        return None
    r["each"]["part"] += "s"
    return "set.unknown-kind"


PLANTED = (
    _unknown_fact, _unknown_word, _never, _fact_of_part, _fact_of_other_part, _no_unit, _measurand, _limit, _limit_fact,
    _method, _idle_leaf, _circle, _excluded, _without("cautions", "set.no-cautions"), _without("hint", "set.no-hint"),
    _no_note, _shall, _long, _same_title, _kind,
)  # fmt: skip
TIMES = 12


def _read_and_lint(files: dict[str, bytes], name: str = "") -> tuple[Problem, ...]:
    """What is found in all sets, or in one of them beside the others."""
    sets, problems = read_sets({p: d for p, d in files.items() if p != FACTS})
    facts, more = read_facts(files[FACTS])
    assert not problems and not more, [*problems, *more]
    of_all = [r for one in sets.values() for r in one.requirements]
    kinds = {fact.of for fact in facts.values() if fact.of}
    chosen = {name: sets[name]} if name else sets
    asked = forms_ask(sets.values())
    return in_order(lint(chosen, facts, files, METHODS, beside=lambda: of_all, forms_beside=lambda: asked, kinds=kinds))


@pytest.mark.parametrize("number", range(len(PLANTED)), ids=[plant.__name__ for plant in PLANTED])
def test_a_mistake_planted_anywhere_in_the_shipped_sets_is_found_where_it_is(number: int) -> None:
    """At places drawn at random (the same on every machine): found once, in its requirement, and nothing beside it."""
    rng = random.Random(f"planted {number}")
    planted = 0
    for _ in range(400):
        path = rng.choice(AREAS)
        area = yaml.load(FILES[path].decode(), LOADER)
        requirement = rng.choice(area["requirements"])
        code = PLANTED[number](rng, requirement, area)
        if code is None:
            continue
        text = _dumped(area)
        lines = text.splitlines()
        first = lines.index(f"- id: {requirement['id']}") + 1
        later = [n for n, line in enumerate(lines, 1) if n > first and line.startswith("- id: ")]
        found = _read_and_lint({**FILES, path: text.encode()}, path.split("/")[1])
        assert [p.code for p in found] == [code], (path, requirement["id"], found)
        (problem,) = found
        assert problem.place is not None and problem.place.file == path
        # Of two titles the later one is told, and the other named beside it.
        at = [problem.place, *problem.related] if code == "set.same-title" else [problem.place]
        last = later[0] - 1 if later else len(lines)
        assert any(first <= place.line <= last for place in at), (str(problem.place), first, last)
        planted += 1
        if planted == TIMES:
            return
    raise AssertionError(f"planted {planted} times only")


@pytest.mark.parametrize(
    ("change", "code"),
    [
        (lambda f: f.update(lowest="9000000"), "facts.range"),
        (lambda f: f.update(unit="stone"), "facts.unit"),
        (lambda f: f.pop("highest"), "facts.no-range"),
        (None, "facts.unneeded"),
    ],
)
def test_a_mistake_planted_into_the_shipped_facts_is_found(change: Any, code: str) -> None:
    rng = random.Random(code)
    for _ in range(TIMES):
        facts = {k: dict(f) for k, f in SHIPPED_FACTS.items()}
        if code == "facts.unneeded":
            key = "planted_by_test"
            facts[key] = {"title": "p", "ask": "P?", "why": "P.", "text": "yes"}
        else:
            key = rng.choice(sorted(k for k, f in facts.items() if f.get("unit", "1") != "1"))
            change(facts[key])
        text = _dumped({"format": "1", "facts": facts})
        found = [p for p in _read_and_lint({**FILES, FACTS: text.encode()}) if p.code == code]
        assert len(found) == 1 and f"'{key}'" in found[0].message
        at_line = found[0].place.line if found[0].place else 0
        line = text.splitlines()[at_line - 1]
        at = {"facts.range": "lowest", "facts.unit": "unit"}.get(code, key)
        assert line.strip().startswith(f"{at}:"), line
