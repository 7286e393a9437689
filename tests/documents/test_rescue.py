"""The emergency responder sheet: what is not stated is not drawn, and no waiting time is made up."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from witnessmark.assessment.assess import assess
from witnessmark.assessment.model import Assessment, State
from witnessmark.document import figures, outlines
from witnessmark.document.blockdata import as_json, load, plain
from witnessmark.document.blocks import Figure, Outlines, Placed, Table
from witnessmark.document.marks import LIGHT
from witnessmark.document.symbols import SYMBOLS, TURNS, symbol
from witnessmark.document.views import rescue, waiting
from witnessmark.document.views.book import Book, Chapter, walk
from witnessmark.document.views.places import outlines as placed
from witnessmark.reading.workshop import read_workshop
from witnessmark.records.printed import RESPONDER_FACTS
from witnessmark.records.world import Workshop

ROOT = Path(__file__).parents[2]
BODIES = ("car", "van", "lorry", "bus")


@cache
def world() -> Workshop:
    return read_workshop(ROOT)


def book(vehicle: str = "van-07", changed: Assessment | None = None) -> Book:
    return Book.of(world(), changed or assess(world(), vehicle))


def data(of: Book) -> Outlines:
    found = placed(of, "24-1").data
    assert isinstance(found, Outlines)
    return found


def item(title: str, **changes: Any) -> Placed:
    found = next(i for i in data(book()).items if i.title.startswith(title))
    return replace(found, **changes)


def chart(*items: Placed, body: Any = "van") -> Outlines:
    return Outlines(body, items, "front", "left", "right", "From above", "From the left")


def signs(drawing: str) -> int:
    return len(re.findall(r'<g transform="translate\([^"]*scale\(', drawing))


def test_a_part_stands_where_it_is_stated_to_lie() -> None:
    """Left is down when the nose is at the left and one looks from above; from the left side low is down."""
    for token, lower in (("left", True), ("right", False)):
        across = (2,) if token == "left" else (0,)
        drawing = figures.draw(chart(item("12 V", across=across, height=())), figures.for_print())
        y = float(re.findall(r"translate\([\d.]+ ([\d.]+)\) scale", drawing)[0])
        middle = 14 + (487.5 - 20) * 0.37 / 2
        assert (y > middle - 40) is lower or y < middle
    front = figures.draw(chart(item("12 V", along=(0,), height=())), figures.for_print())
    tail = figures.draw(chart(item("12 V", along=(5,), height=())), figures.for_print())
    x = [float(re.findall(r"translate\(([\d.]+) [\d.]+\) scale", d)[0]) for d in (front, tail)]
    assert x[0] < 200 < 300 < x[1]


def test_what_is_not_stated_is_not_drawn_but_said() -> None:
    heater = item("Cabin heater")
    assert heater.place == "place not stated" and heater.strong
    assert (heater.along, heater.across, heater.height) == ((), (), ())
    whole, part = item("Inverter"), item("Inverter", height=())
    counts = [signs(figures.draw(chart(i), figures.for_print())) for i in (heater, part, whole)]
    assert counts == [1, 2, 3], "the key; and each view of which the place is known"


def test_half_a_place_says_what_lacks(monkeypatch: pytest.MonkeyPatch) -> None:
    from witnessmark.document.views import places

    said: dict[str, tuple[str, ...]] = {
        "inverter": ("front", "low"),
        "motor": ("left",),
        "vent": ("tail", "left", "right", "low"),
    }
    monkeypatch.setattr(places, "_said", lambda _, key, part: said.get(part, ()) if key == "sheet_place" else ())
    found = {i.title: i for i in data(book()).items}
    assert found["Inverter, I-31"].place == "front axle, low, left or right not stated"
    assert found["Motor, M-31"].place == "place not stated", "without its place along the vehicle it lies anywhere"
    assert found["Duct of the pack"].place == "tail, right and left, low; direction not stated"
    assert all(i.strong for i in found.values())
    assert found["Duct of the pack"].vents == ""


def test_a_category_that_nobody_stated_has_no_outline() -> None:
    """The library van is N2; with the fact taken away nothing is drawn but the key, and that is said."""
    assert data(book("library-02")).body == "lorry"
    assert any("Not stated whether there is any" in note for note in data(book("library-02")).notes)
    bare = replace(book(), stated=tuple(f for f in book().stated if f.key != "category"))
    found = data(bare)
    assert found.body == "" and "category is not stated" in found.notes[0]
    assert signs(figures.draw(found, figures.for_print())) == len({i.symbol for i in found.items})


@pytest.mark.parametrize("body", BODIES)
@pytest.mark.parametrize("narrow", [False, True])
def test_everything_lies_within_the_picture(body: Any, narrow: bool) -> None:
    crowd = replace(data(book()), body=body)
    crowd = replace(crowd, items=tuple(replace(i, title=f"<{i.title} & co>") for i in crowd.items))
    drawing = figures.draw(crowd, figures.for_print(), narrow=narrow)
    assert "<Inverter" not in drawing and "&lt;Inverter" in drawing
    width, height = map(float, re.findall(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', drawing)[0])
    spots = [(float(x), float(y)) for x, y in re.findall(r"translate\(([\d.-]+) ([\d.-]+)\)", drawing)]
    assert len(spots) > 25
    assert all(0 <= x <= width - 7 and 0 <= y <= height for x, y in spots)
    assert drawing == figures.draw(crowd, figures.for_print(), narrow=narrow)
    for n in range(1, len(crowd.items) + 1):
        assert re.search(rf">{n} &lt;", drawing), f"part {n} stands in the key"


def test_symbols_are_ink_on_paper_and_each_is_another() -> None:
    drawn = {name: symbol(name, LIGHT, 0, 0, 14.2) for name in SYMBOLS}
    assert len(set(drawn.values())) == len(SYMBOLS)
    for name, body in drawn.items():
        assert set(re.findall(r"#[0-9a-f]{6}", body)) <= {LIGHT["ink"], LIGHT["paper"]}, name
    assert TURNS["top"]["left"] == 90 and TURNS["side"]["up"] == 270, "the arrow points to the right when unturned"


def test_neighbours_are_told_as_a_run() -> None:
    assert list(outlines._runs([3, 1, 2, 7, 8])) == ["1–3", "7, 8"]


def test_the_sheet_survives_its_way_through_json() -> None:
    figure = placed(book(), "24-1")
    assert isinstance(figure, Figure) and load(as_json(figure)) == figure


def test_fields_that_nobody_stated_say_so() -> None:
    sheet = rescue.page(book(), Chapter("emergency-responders", "Sheet", number="24")).blocks["sheet"]
    assert isinstance(sheet, Table) and len(sheet.rows) == len(RESPONDER_FACTS) + 1
    words = {plain(r[0].text): plain(r[1].text) for r in sheet.rows}  # type: ignore[union-attr]  # cells, all of them
    assert words["In water"] == "Not stated." and words["Fire"].startswith("Water in quantity")
    assert words["Wait"].startswith("Not shown")


# ---------------------------------------------------------------- waiting time


def measured(seconds: dict[str, float], how: str, *, valid: bool = True, state: State = State.CONFORMS) -> Book:
    """The van with a discharge of its buses as if it had been measured: the decay at the inlet, put on the buses."""
    one = assess(world(), "van-07")
    found, part, leaf = next(
        (r, p, leaf)
        for r, p, leaf in walk(one)
        if leaf.leaf.measure == "time-to-safe-voltage" and leaf.result and leaf.result.output
    )
    assert leaf.result is not None and leaf.result.output is not None
    parts = []
    for bus, value in seconds.items():
        record = leaf.result.record.model_copy(
            update={"conditions": type(leaf.result.record.conditions)({"discharge": how})}
        )
        output = replace(leaf.result.output, value=value)
        result = replace(leaf.result, output=output, record=record, sound=valid, current=valid)
        parts.append(replace(part, part=bus, leaves=(replace(leaf, part=bus, records=(result,), state=state),)))
    return book(changed=replace(one, requirements=(*one.requirements, replace(found, parts=tuple(parts)))))


def test_the_slowest_bus_gives_the_time_rounded_up() -> None:
    short, whole = waiting.waiting(measured({"traction-bus": 61.0, "heater-bus": 12.0}, "passive"))
    assert short == "wait two minutes"
    assert "61" in plain(whole) and "slowest" in plain(whole)
    assert waiting.waiting(measured({"traction-bus": 8.0, "heater-bus": 9.0}, "passive"))[0] == "wait one minute"


@pytest.mark.parametrize(
    "made",
    [
        lambda: book(),
        lambda: measured({"traction-bus": 61.0}, "passive"),  # the heater bus has not been measured
        lambda: measured({"traction-bus": 3.0, "heater-bus": 3.0}, "active"),  # it may not work after a crash
        lambda: measured({"traction-bus": 61.0, "heater-bus": 12.0}, "passive", valid=False),
        lambda: measured({"traction-bus": 61.0, "heater-bus": 12.0}, "passive", state=State.UNDECIDED),
        lambda: book("library-02"),  # no bus is stated
    ],
)
def test_otherwise_no_time_is_given(made: Any) -> None:
    short, whole = waiting.waiting(made())
    assert short == "not shown: take it as live" and "Take it as live" in plain(whole)
    assert not re.search(r"[Ww]ait (?:one|two|\d)", plain(whole))
