"""The base vehicle beside the conversion: what is stated, what is not, and the difference as a person says it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from witnessmark.assessment.assess import assess
from witnessmark.document.blockdata import plain
from witnessmark.document.blocks import Cell, Table
from witnessmark.document.views import conversion
from witnessmark.document.views.book import Book, Chapter
from witnessmark.reading.workshop import read_workshop

ROOT = Path(__file__).parents[2]


def book() -> Book:
    workshop = read_workshop(ROOT)
    return Book.of(workshop, assess(workshop, "van-07"))


def rows(of: Book) -> dict[str, list[str]]:
    table = conversion.VIEW.page(of, Chapter("conversion", "Conversion", number="3")).blocks["fields"]
    assert isinstance(table, Table)
    told = [[plain(c.text) if isinstance(c, Cell) else plain(c) for c in row] for row in table.rows]
    return {row[1]: row for row in told}


def test_each_field_has_its_letter_and_both_values() -> None:
    found = rows(book())
    assert found["Mass in running order"][:5] == ["G", "Mass in running order", "1120 kg", "1284 kg",
                                                  "+164\u00a0kg, +14.6 %"]  # fmt: skip
    # 696 kg - 480 kg = 216 kg, 216/480 = 45.0 %; by hand.
    assert found["Mass on the rear axle or axles in running order"][4] == "+216\u00a0kg, +45.0 %"
    assert found["Energy it runs on"][2:5] == ["petrol", "electric", "changed"]
    assert found["Greatest permitted mass"][4] == "none"


def test_what_nobody_stated_says_so() -> None:
    assert rows(book())["Greatest braked towed mass"][2:5] == ["not stated", "not stated", "none"]


def test_a_fact_that_is_not_in_force_any_more_is_not_shown() -> None:
    whole = book()
    spoiled = tuple(
        replace(f, standing="was edited") if f.key == "mass_running" else f for f in whole.stated
    )  # fmt: skip
    assert rows(replace(whole, stated=spoiled))["Mass in running order"][3] == "not stated"


def test_where_nothing_is_stated_there_is_no_chapter() -> None:
    workshop = read_workshop(ROOT)
    other = Book.of(workshop, assess(workshop, "library-02"))
    assert conversion.VIEW.chapters(other) == ()


@pytest.mark.parametrize(
    ("was", "now", "words"),
    [
        ("118 km/h", "110 km/h", "\u22128\u00a0km/h, \u22126.8 %"),  # 8/118 = 6.78 %
        ("2", "4", "+2, +100.0 %"),
        ("0 kg", "750 kg", "+750\u00a0kg"),
        ("1.2 t", "1284 kg", "+84\u00a0kg, +7.0 %"),
        ("petrol", "petrol", "none"),
        ("46 kW", "50 kg", "changed"),
    ],
)
def test_the_difference_as_a_person_says_it(was: str, now: str, words: str) -> None:
    fact = next(f for f in book().stated if f.key == "mass_running")
    assert conversion._change(replace(fact, value=was), replace(fact, value=now)) == words
