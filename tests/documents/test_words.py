"""Small things that every page rests on: words and units, and the scale of a chart."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from tests.documents.picture import picture
from witnessmark.assessment.assess import assess
from witnessmark.assessment.model import State
from witnessmark.document import figures
from witnessmark.document.blocks import Bus, IntervalChart, IntervalRow, Link, OnBus, OneLine, Strong
from witnessmark.document.text import tied
from witnessmark.document.views.book import Book
from witnessmark.document.views.system import one_line, state_of_part
from witnessmark.document.views.words import woven
from witnessmark.language import Language, compiled, speaking
from witnessmark.reading.workshop import read_workshop


def test_a_chart_of_what_may_be_at_most_something_starts_at_nought() -> None:
    """Six joints of a few milliohms against 0.1 Ω are points, not arrows: one sees how far they lie from the limit."""
    rows = tuple(
        IntervalRow(f"joint {n}", value, 0.06, f"{value}", "0.06", "pass", True, 99.94)
        for n, value in enumerate((3.2, 5.8, 9.6))
    )
    chart = IntervalChart(rows, 100.0, "less than 100", "bonding resistance, mΩ", "at-most")
    drawing = figures.draw(chart, figures.for_print())
    assert len(picture(chart).dots()) == 3
    assert ">0</text>" in drawing
    far = IntervalChart((*rows, replace(rows[0], value=450.0)), 100.0, "less than 100", "", "at-most")
    assert ">450</text>" not in figures.draw(far, figures.for_print())


@pytest.mark.parametrize(
    ("written", "tied_"),
    [
        ("1097 Ω/V ± 10 Ω/V", "1097\u00a0Ω/V\u00a0±\u00a010\u00a0Ω/V"),
        ("≥ 500 Ω/V", "≥\u00a0500\u00a0Ω/V"),
        ("18 °C, 95 %", "18\u00a0°C, 95\u00a0%"),
        ("24 h later", "24\u00a0h later"),
        ("7 of 8 are shown", "7 of 8 are shown"),
        ("14 Ampere Lane", "14 Ampere Lane"),
        ("issue 5 A-team", "issue 5 A-team"),
        ("no number", "no number"),
    ],
)
def test_a_number_keeps_its_unit_on_its_line(written: str, tied_: str) -> None:
    """SI brochure, 9th edition, 5.4.3: a space, unbroken, between the number and the unit."""
    assert tied(written) == tied_


def test_the_one_line_diagram_draws_what_is_stated_and_marks_it_by_the_worst() -> None:
    pack = OnBus("Traction pack", "0421", "not-shown", ("Service disconnect",))
    parts = tuple(OnBus(f"<part {n}>", f"S-{n}", "conforms") for n in range(5))
    chart = OneLine((pack,), (Bus("Traction bus", parts, True), Bus("Heater bus", ())), (OnBus("Inlet"),))
    for narrow in (False, True):
        drawing = figures.draw(chart, figures.for_print(), narrow=narrow)
        assert "<part" not in drawing
        for words in ("Traction pack, 0421", "Traction bus, HV +", "Heater bus, HV +", "S-4", "Inlet"):
            assert words in drawing
        assert drawing.count("scale(0.5)") == 6  # one mark each; the inlet has none
        width = float(drawing.partition('viewBox="0 0 ')[2].split()[0])
        assert all(float(x) <= width for x in re.findall(r'<text x="([\d.]+)"', drawing))
        assert figures.draw(chart, figures.for_print(), narrow=narrow) == drawing


def test_a_part_with_a_gap_of_its_own_has_no_mark_of_conformity() -> None:
    """The heater cable is orange, but nobody has stated where it runs: the requirement is not shown for it."""
    root = Path(__file__).parents[2]
    world = read_workshop(root)
    book = Book.of(world, assess(world, "van-07"))
    assert state_of_part(book, "cable-heater") is State.NOT_SHOWN
    assert state_of_part(book, "cable-motor") is State.CONFORMS
    assert state_of_part(book, "no-such-part") is None
    assert one_line(book, "2-1") is not None


def test_a_link_stands_where_the_language_puts_it_and_braces_in_a_value_are_only_braces() -> None:
    link, name = Link("gap-register", "the register"), "{link} {n}"
    assert woven("Told in {link}, {n} times.", link=link, n=2) == ("Told in ", link, ", 2 times.")
    assert woven("{who} in {link}", who=name, link=(Strong("x"), ", ", link)) == (
        "{link} {n} in ",
        Strong("x"),
        ", ",
        link,
    )
    assert woven("Nothing.") == ("Nothing.",)
    with pytest.raises(KeyError):
        woven("Told in {link}.")
    head = 'msgid ""\nmsgstr "Content-Type: text/plain; charset=utf-8\\n"\n'
    po = f'{head}\nmsgid "Told in {{link}}."\nmsgstr "{{link}} sagt es."\n'
    with speaking(Language("de", compiled(po))):
        assert woven("Told in {link}.", link=link) == (link, " sagt es.")
