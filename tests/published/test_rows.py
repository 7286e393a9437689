"""Every collected check value is answered once: by cases that print the same number, by a test, or by a reason."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.published.casefile import Case, load_cases
from tests.published.rows import HERE, Expected, Line, carries, expectations, load_rows, load_table
from tests.published.values import within
from witnessmark.quantities import parse_quantity

TABLE, ROWS = load_table(), load_rows()
CASES = {case.id: case for case in load_cases(HERE / "cases")}
ROOT = HERE.parent.parent
_KEYS = {"cases", "worded", "given", "beside", "wider", "test", "no"}
_STRENGTH = ("seen", "reference-library", "closed-form", "common-practice", "from-memory")
"""From strong to weak: a case may claim less than its line, never more."""


def cases_of(id: str) -> list[Case]:
    return [CASES[name] for names in ROWS[id].get("cases", {}).values() for name in names]


def test_every_line_is_answered_once() -> None:
    assert list(TABLE) == list(ROWS), "the same ids in the same order"
    assert len(TABLE) == 127 and sum(len(e.values) for line in TABLE.values() for e in line.expected) > 500
    for id, row in ROWS.items():
        assert row and set(row) <= _KEYS, id
        assert "cases" in row or "test" in row or "no" in row, id
        assert not ("cases" in row and "no" in row), f"{id}: carried, or not"
        for sentence in (row.get("no", "-."), *row.get("beside", {}).values()):
            assert sentence.endswith("."), f"{id}: a reason is a sentence"


def test_every_named_case_and_test_exists() -> None:
    for id, row in ROWS.items():
        for file, names in row.get("cases", {}).items():
            for name in names:
                assert name in CASES and CASES[name].file == file, f"{id}: {file} has no {name}"
        if "test" in row:
            path, function = row["test"].split()
            text = (ROOT / path).read_text(encoding="utf-8")
            assert f"def {function}(" in text, f"{id}: {path} has no {function}"


def test_the_provenance_is_kept() -> None:
    for id, line in TABLE.items():
        assert line.source and line.confidence in _STRENGTH, id
        for case in cases_of(id):
            claimed, allowed = _STRENGTH.index(case.provenance), _STRENGTH.index(line.confidence)
            assert claimed >= allowed, f"{case.id} says {case.provenance}, its line {line.confidence}"


def _texts(tree: Any) -> Iterator[str]:
    if isinstance(tree, dict | list):
        for item in tree.values() if isinstance(tree, dict) else tree:
            yield from _texts(item)
    else:
        yield str(tree).partition("±")[0].strip()


def _answer(row: dict[str, Any], line: Line, wanted: Expected) -> str:
    """What is wrong with the answer to one printed quantity; empty when nothing is."""
    cases = cases_of(line.id)
    found = [
        any(carries(v, wanted.unit, a, b) for c in cases for a, b, _ in expectations(c.expect or {}))
        for v in wanted.values
    ]
    name = wanted.quantity
    ways = [key for key in ("worded", "given", "beside") if name in row.get(key, {})]
    if all(found):
        return f"carried, and answered by {ways} too" if ways else ""
    if len(ways) != 1:
        return (
            f"{[v for v, f in zip(wanted.values, found, strict=True) if not f]} {wanted.unit} is in none of the cases"
        )
    if ways == ["worded"]:
        id, output, value = row["worded"][name].split()
        case = CASES[id]
        said = list(case.problem) if output == "problem" else list(_texts((case.expect or {}).get(output)))
        return "" if case in cases and value in said else f"{id} does not say {output} {value}"
    if ways == ["given"]:
        puts = [text for id in row["given"][name].split() for text in _texts(CASES[id].given)]
        missing = [v for v in wanted.values if not any(carries(v, wanted.unit, *_split(p)) for p in puts)]
        return f"{missing} is not put in" if missing else ""
    return ""


def _split(text: str) -> tuple[str, str]:
    number, _, unit = text.partition(" ")
    return number, unit


@pytest.mark.parametrize("id", [id for id in TABLE if "cases" in ROWS[id]])
def test_what_was_printed_is_what_the_cases_ask_for(id: str) -> None:
    row, line = ROWS[id], TABLE[id]
    if "test" in row:
        return  # what the cases leave, the test has
    wrong = [f"{w.quantity}: {said}" for w in line.expected if (said := _answer(row, line, w))]
    assert not wrong, "\n".join(wrong)
    names = {w.quantity for w in line.expected}
    for key in ("worded", "given", "beside"):
        assert set(row.get(key, {})) <= names, f"{id}: {key} names what is not printed"


@pytest.mark.parametrize("id", [id for id in TABLE if "test" in ROWS[id] and "no" not in ROWS[id]])
def test_what_was_printed_is_what_the_test_asks_for(id: str) -> None:
    """The file of the test reads the quantity of the line from the table, or has the printed value itself."""
    row, line = ROWS[id], TABLE[id]
    text = (ROOT / row["test"].split()[0]).read_text(encoding="utf-8")
    cases = cases_of(id)
    for wanted in line.expected:
        if wanted.quantity in row.get("beside", {}) or f'"{wanted.quantity}"' in text:
            continue
        for value in wanted.values:
            there = value in text or any(
                carries(value, wanted.unit, a, b) for c in cases for a, b, _ in expectations(c.expect or {})
            )
            assert there, f"{wanted.quantity}: neither the test nor a case has {value}"


def _excess(wanted: Expected, text: str, cases: list[Case]) -> float | None:
    """By how much the closest case that carries a printed number allows more than its line, in SI; None without one."""
    kind, _, size = wanted.tolerance.partition(" ")
    excess: list[float] = []
    for value, unit, form in (leaf for case in cases for leaf in expectations(case.expect or {})):
        if not carries(text, wanted.unit, value, unit):
            continue
        try:
            found = parse_quantity(f"{value} {unit if unit != '1' else ''}".strip(), bare=True)
            scale = float(parse_quantity(f"1 {wanted.unit}".strip(), bare=True).unit.scale)
        except ValueError:  # a word
            continue
        number = float(found.value) * float(found.unit.scale)
        allowed = 0.0 if kind == "exact" else float(size) * (abs(number) if kind == "relative" else scale)
        # What is exact in the list is half a unit of the last digit in a calculation with binary numbers.
        last = within(None, number, found.unit, str(found.value))
        excess.append(within(form, number, found.unit, str(found.value)) - max(allowed, last) * (1 + 1e-9))
    return min(excess, default=None)


def test_no_case_allows_more_than_its_line() -> None:
    """Wider only with a reason, which stands in the line's answer; one that is not needed any more is taken out."""
    compared, wrong = 0, []
    for id, line in TABLE.items():
        reasons = dict(ROWS[id].get("wider", {}))
        for wanted in line.expected:
            found = [e for text in wanted.values if (e := _excess(wanted, text, cases_of(id))) is not None]
            compared += len(found)
            reason = reasons.pop(wanted.quantity, "")
            if any(e > 0 for e in found) != bool(reason):
                wrong.append(f"{id}: {wanted.quantity}: wider by {max(found):.2g} (SI), and the reason is {reason!r}")
            assert not reason or reason.endswith("."), id
        assert not reasons, f"{id}: wider names what is not printed"
    assert compared > 300
    assert not wrong, "\n".join(wrong)


def test_a_wrong_answer_is_seen() -> None:
    """The checks above can fail: another number, another unit, a word, a digit less."""
    assert (
        carries("31.67", "nm", "31.67", "nm")
        and carries("0.528", "", "0.52828", "")
        and carries("pass", "", "pass", "")
    )
    assert not carries("31.67", "nm", "31.77", "nm") and not carries("31.67", "nm", "31.67", "µm")
    assert not carries("0.52828", "", "0.528", "") and not carries("pass", "", "fail", "")
    line = TABLE["UNC-01"]
    u = Expected("u(mean)", ("0.333",), "K", "absolute 0.0005")
    assert (_excess(u, "0.333", cases_of("UNC-08")) or 0) <= 0
    one = replace(CASES["UNC-08"], expect={"u": {"value": "0.333", "unit": "K", "within": "0.005 K"}})
    assert _excess(u, "0.333", [one]) == pytest.approx(0.0045, rel=1e-6)
    other = Expected("l", ("50.000839",), "mm", "exact")
    assert "in none" in _answer(ROWS["UNC-01"], line, other)


def test_a_name_given_twice_is_refused(tmp_path: Path) -> None:
    (tmp_path / "rows.yaml").write_text("A: {no: x.}\nA: {no: y.}\n", encoding="utf-8")
    with pytest.raises(ValueError, match="given twice: A"):
        load_rows(tmp_path / "rows.yaml")
