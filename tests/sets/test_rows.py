"""Every row of the working tables is answered, and every figure of a row stands where the answer says it stands."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest

from tests.sets.carriers import carried_by, everything_in, requirement_named
from tests.sets.figures import figures, plain
from tests.sets.loading import SETS, requirements_of, tree_of

HERE = Path(__file__).parent
TABLES = ("details", "methods", "duties")

Row = Mapping[str, Any]


def _table(name: str) -> dict[str, str]:
    """Row and its figure."""
    return {f"{r['section']} | {r['subject']}": r["figure"] for r in tree_of(HERE / f"table-{name}.yaml")}


def _rows(name: str) -> dict[str, Row]:
    return {r["row"]: r for r in tree_of(HERE / f"rows-{name}.yaml")}


def wrong_with(row: Row, figure: str) -> list[str]:
    """What is wrong with the answer for one row: figures and words that stand nowhere, carriers that carry nothing."""
    if "reason" in row:
        return (
            [] if len(row["reason"]) > 40 and set(row) == {"row", "reason"} else ["a reason says why, and stands alone"]
        )
    says = tuple(plain(s).casefold() for s in row.get("says", ()))
    besides = {f for text in row.get("besides", {}) for f in figures(text)}
    asked = figures(figure)
    wrong = [f"{text} is no figure of the row" for text in row.get("besides", {}) if not figures(text) & asked]
    wrong += [f"no reason for {text}" for text, why in row.get("besides", {}).items() if len(why) < 15]
    if not says and not asked - besides:
        wrong.append("neither a figure nor words are compared")
    left, silent = asked - besides, set(says)
    for carrier in row["carried"]:
        try:
            text, held = carried_by(carrier, figure)
        except (KeyError, AttributeError) as fault:
            wrong.append(f"{carrier} is not there: {fault}")
            continue
        spoken = {s for s in says if s in plain(text).casefold()}
        if not held - besides and not spoken:
            wrong.append(f"{carrier} carries nothing of {figure!r}: {text!r}")
        left, silent = left - held, silent - spoken
    return (
        wrong
        + [f"{number} {kind} stands nowhere" for number, kind in sorted(left)]
        + [f"{s!r} stands nowhere" for s in sorted(silent)]
    )


@pytest.mark.parametrize("name", TABLES)
def test_every_row_is_answered_once_and_in_order(name: str) -> None:
    table = tree_of(HERE / f"table-{name}.yaml")
    assert all(set(row) == {"section", "subject", "figure", "sure"} for row in table)
    assert len(_table(name)) == len(table)
    assert [r["row"] for r in tree_of(HERE / f"rows-{name}.yaml")] == list(_table(name))
    assert all(("reason" in r) != ("carried" in r) for r in _rows(name).values())


@pytest.mark.parametrize("name", TABLES)
def test_every_figure_stands_in_what_carries_it(name: str) -> None:
    table = _table(name)
    assert {k: w for k, r in _rows(name).items() if (w := wrong_with(r, table[k]))} == {}


NOT_IN_WORDS = {
    "Cell spread, sensors, tap fuses": "every module has a sensor at least, in words",
    "Isolation monitor": "500 without its unit in the table; the leaves have 500 Ω/V",
    "Battery restraint": "20 g is 20 times the weight; 9C is an annex",
    "Coolant loop": "one and a half times, in words",
    "No drive on charge": "torque of nothing, in words",
    "Cable support": "600 mm and 42 are other countries' rules, beside the 300 mm that are asked",
    "Routing": "the number of another country's manual",
    "Pedal plausibility": "torque to zero, in words",
    "5.1.3.4 | Isolation at the charge inlet": "1 MΩ is the 02 series, and stands in its set",
    "5.3.3 | No drive while plugged": "torque of nothing, in words",
    "5.4.3 | Normal charge": "25 g for each hour is a fact, since it depends on t2",
    "6.4.1.2 | Shock by sled or table": "the number of a section of the notes",
    "6.4.1.3 | Shock acceptance": "30 min is the 02 series, and stands in its set",
    "6.12.1 | same, open type": "the number of a clause",
}
"""Rows with a figure in the column of limits that stands in no requirement that carries them, each with the reason."""


def _limits() -> Iterator[tuple[str, str, list[str]]]:
    """Row, limit, and the requirements that carry it, of the tables for R100 and for practice."""
    table = {f"{r['clause']} | {r['title']}": r["limit"] for r in tree_of(HERE / "table.yaml")}
    for row in tree_of(HERE / "rows.yaml"):
        name = row.get("set", "un-r100-03")
        yield row["row"], table[row["row"]], [f"{name}:{i}" for i in row.get("carried", ()) + row.get("within", ())]
    table = {r["title"]: r["limit"] for r in tree_of(HERE / "table-practice.yaml")}
    for row in tree_of(HERE / "rows-practice.yaml"):
        yield row["row"], table[row["row"]], list(row.get("carried", ()))


def test_every_limit_of_a_row_stands_in_a_requirement_that_carries_it() -> None:
    missing = set()
    for row, limit, carried in _limits():
        words = " \n ".join(everything_in(requirement_named(reference)) for reference in carried)
        if carried and figures(limit) - figures(words):
            missing.add(row)
    assert missing == set(NOT_IN_WORDS), "each has its reason, and nothing else stands there"


def test_nothing_in_the_sets_for_duties_crash_and_practice_is_uncounted() -> None:
    """Every requirement of these sets is named by a row: of these tables, or of the table of checks in practice."""
    whole = ("workshop-duties", "post-crash", "conversion-practice")
    named = {
        carrier.partition("/")[0]
        for name in (*TABLES, "practice")
        for row in tree_of(HERE / f"rows-{name}.yaml")
        for carrier in row.get("carried", ())
        if isinstance(carrier, str)
    }
    have = {f"{name}:{r.id}" for name in whole for r in requirements_of(SETS / name)}
    assert have - named == set(), "a requirement that comes from no row"


def test_most_rows_are_carried() -> None:
    """So that reasons stay the exception: at most one row in ten is answered with one."""
    rows = _rows("methods")
    assert len(rows) >= 200
    assert sum("reason" in r for r in rows.values()) * 10 <= len(rows)


@pytest.mark.parametrize(
    ("row", "right", "wrong"),
    [
        ("2.1 | Voltmeter, internal resistance", "≥ 10 MΩ", "≥ 1 MΩ"),
        ("2.8 | Number of sweeps", "12 times, 3 h in all", "10 times, 3 h in all"),
        ("2.9 | Cold", "≥ 6 h at -40 ± 2 °C, or colder", "≥ 6 h at 40 ± 2 °C, or colder"),
        ("2.10 | Force", "100 kN to 105 kN", "100 N to 105 N"),
        ("2.13 | Window, duty of 100 Ω/V", "from 95 Ω/V to below 100 Ω/V", "from 90 Ω/V to below 100 Ω/V"),
        ("2.14 | Isolation later", "≥ 24 h", "≥ 24 min"),
        ("2.7 | M3, N3, along, lower curve", "6.6 g from 50 ms to 65 ms", "6.7 g from 50 ms to 65 ms"),
    ],
)
def test_another_figure_would_be_found_out(row: str, right: str, wrong: str) -> None:
    answer = _rows("methods")[row]
    assert wrong_with(answer, right) == []
    assert wrong_with(answer, wrong)


def test_a_carrier_in_vain_and_one_that_is_not_there_are_found_out() -> None:
    answer = _rows("methods")["2.14 | Isolation later"]
    assert wrong_with({**answer, "carried": (*answer["carried"], "un-r100-03:water/papers")}, "≥ 24 h")
    assert wrong_with({**answer, "carried": ("un-r100-03:water/no-such-leaf",)}, "≥ 24 h")
    assert wrong_with({**answer, "carried": ({"method": "no-such/1", "where": "validity"},)}, "≥ 24 h")


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("60 min", "an hour"), ("2.5 m to 3 m", "2.5 to 3 m"), ("22 ± 5 °C", "22 °C ± 5 °C"),
        ("at least five cycles", "5"),
        ("half an hour", "30 minutes"), ("0.01 Ω", "10 mΩ"), ("100 Ω per volt", "100 Ω/V"), ("within 7 days", "7 days"),
        ("five hours (Annex 8)", "5 h"), ("1.0 mm", "1 mm"), ("clause 5.1.3.2 asks 3 m", "3 m"),
    ],
)  # fmt: skip
def test_the_same_figure_in_other_words(one: str, other: str) -> None:
    assert figures(one) == figures(other) and figures(one)


@pytest.mark.parametrize(
    ("one", "other"), [("10 N", "10 kN"), ("1 h", "1 min"), ("-40 °C", "40 °C"), ("60 V", "60 Ω/V"), ("7 %", "7")]
)
def test_other_figures_are_not_the_same(one: str, other: str) -> None:
    assert figures(one) != figures(other)
