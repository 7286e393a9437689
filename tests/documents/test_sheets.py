"""Test sheets: what they ask, their codes, and when a sheet is stale. On the demonstration van, which is invented."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
import segno
from pypdf import PdfReader

from witnessmark.assessment.assess import assess
from witnessmark.assessment.judging import World
from witnessmark.assessment.ledger import Ledger
from witnessmark.assessment.model import Assessment
from witnessmark.cli.main import main
from witnessmark.document.sheets.asked import (
    SheetAsked,
    asked_by,
    code_of,
    last_like,
    last_units,
    sheet_code,
    sheet_of_code,
)
from witnessmark.document.sheets.drawings import drawing
from witnessmark.document.sheets.guard import Bench, bench_of, edges
from witnessmark.document.sheets.page import pages
from witnessmark.document.sheets.write import chosen, square_code, write_sheets
from witnessmark.methods.registry import method
from witnessmark.problems import Problem
from witnessmark.quantities import parse_quantity
from witnessmark.quantities.decision import DecisionRule, Limit, decide
from witnessmark.reading.workshop import Reading, read_everything, read_workshop
from witnessmark.recording.forms.base import Desk
from witnessmark.recording.forms.evidence import Evidence, Printed
from witnessmark.records.acts import Event, Record
from witnessmark.records.base import CODE_ALPHABET, Frozen
from witnessmark.records.world import Workshop

ROOT = Path(__file__).parents[2]
BONDING = ("un-r100-03", "bonding-resistance")


@pytest.fixture(scope="module")
def van() -> tuple[Workshop, Assessment]:
    workshop = read_workshop(ROOT)
    return workshop, assess(workshop, "van-07")


def one(van: tuple[Workshop, Assessment], requirement: str, bus: str = "dead") -> SheetAsked:
    return next(s for s in asked_by(*van) if s.requirement == requirement and s.bus == bus)


def test_dead_tests_come_before_live_ones_and_every_part_has_its_row(van: tuple[Workshop, Assessment]) -> None:
    sheets = asked_by(*van)
    assert [s.bus for s in sheets] == sorted(s.bus for s in sheets)
    assert len({s.code for s in sheets}) == len(sheets)
    bonding = one(van, "bonding-resistance")
    assert bonding.references == ("un-r100-03:bonding-resistance/bonding",)
    assert bonding.method is not None
    assert bonding.method.id == "bonding-four-wire/1"
    assert len(bonding.rows) == 6
    assert [row.title for row in bonding.to_do] == ["Charger on board", "DC/DC converter"]
    isolation = one(van, "isolation-joined-bus", "live")
    assert [(row.part, row.missing, row.retest_of) for row in isolation.to_do] == [
        ("heater-bus", ("isolation",), ("2m8wfd",))
    ]


def test_a_code_is_found_however_it_is_typed_and_nothing_shown_changes_it(van: tuple[Workshop, Assessment]) -> None:
    workshop, assessment = van
    bonding = one(van, "bonding-resistance")
    assert set(bonding.code) <= {*CODE_ALPHABET, "-"}
    for typed in (bonding.code, bonding.code.upper(), bonding.code.replace("-", " "), bonding.code.replace("-", "")):
        assert sheet_of_code(workshop, assessment, typed) == bonding
    assert sheet_code(workshop, assessment, *BONDING, ["bonding"]) == bonding.code
    assert sheet_code(workshop, assessment, *BONDING, ["no-such-leaf"]) is None
    # Without the newest record of the same requirement other rows are to do, and the sheet is the same.
    shown = next(r.act for p in bonding.state.parts for leaf in p.leaves for r in leaf.records if p.part == "inverter")
    less = replace(workshop, acts=tuple(a for a in workshop.acts if a.code != shown.code))
    again = assess(less, "van-07")
    assert sheet_code(less, again, *BONDING, ["bonding"]) == bonding.code


def test_a_part_that_was_replaced_makes_its_sheet_stale_and_no_other(van: tuple[Workshop, Assessment]) -> None:
    workshop, assessment = van
    before = replace(
        workshop,
        acts=tuple(a for a in workshop.acts if not (isinstance(a.body, Event) and a.body.part == "dcdc")),
    )
    earlier = assess(before, "van-07")
    old = sheet_code(before, earlier, *BONDING, ["bonding"])
    assert old is not None
    stale = sheet_of_code(workshop, assessment, old)
    assert isinstance(stale, Problem)
    assert stale.code == "sheet.stale"
    assert "serials" in stale.message
    assert "fact" not in stale.message
    inlet = ("un-r100-03", "isolation-inlet", ["isolation"])
    assert sheet_code(before, earlier, *inlet) == sheet_code(workshop, assessment, *inlet)


@pytest.mark.parametrize(
    ("typed", "code"),
    [("k3p9", "sheet.code"), ("0000-0000-0000", "sheet.code"), ("", "sheet.code"), ("2222-2222-2222", "sheet.unknown")],
)
def test_what_is_no_code_says_so(van: tuple[Workshop, Assessment], typed: str, code: str) -> None:
    found = sheet_of_code(*van, typed)
    assert isinstance(found, Problem)
    assert found.code == code


def test_each_group_follows_its_own_contents_only() -> None:
    first = code_of({"a": 1}, {"serial": "D-07"}, {"voltage": "403.2 V"}).split("-")
    other = code_of({"a": 1}, {"serial": "D-19"}, {"voltage": "403.2 V"}).split("-")
    assert [x == y for x, y in zip(first, other, strict=True)] == [True, False, True]


# ---------------------------------------------------------------- what must be read


@pytest.fixture(scope="module")
def bench(van: tuple[Workshop, Assessment]) -> tuple[World, SheetAsked, Bench]:
    world = World(Ledger(van[0]), "van-07", None, method)
    sheet = one(van, "bonding-resistance")
    found = bench_of(world, sheet, van[1].as_of.date())
    assert found is not None
    return world, sheet, found


def test_a_meter_out_of_calibration_is_not_proposed(bench: tuple[World, SheetAsked, Bench]) -> None:
    """The charger was measured with mo-02, which was overdue: the sheet counts with the other one."""
    assert bench[2].instruments["resistance-meter"] == "mo-01"


def test_what_must_be_read_has_the_uncertainty_of_the_meter_in_it(
    van: tuple[Workshop, Assessment], bench: tuple[World, SheetAsked, Bench]
) -> None:
    """Guarded acceptance with w = U (JCGM 106:2012, 8.3.2): the acceptance limit is the limit less U there.

    By hand, from the certificate of mo-01 in its range of 2 Ω: a = 0.25 % of 99 mΩ + 3 digits of 0.1 mΩ = 0.55 mΩ,
    rectangular, so U is at least 2 a / √3 = 0.63 mΩ for readings of one meter; the scatter of the readings comes to it.
    """
    world, sheet, found = bench
    (edge,) = edges(world, sheet, sheet.to_do[0], found, van[1].as_of.date())
    assert (edge.kind, edge.limit) == ("less_than", "0.1 Ω")
    must, unit = edge.must.split()
    added = float(edge.added.split()[0])
    assert unit == "mΩ"
    assert float(must) + added == pytest.approx(100.0, abs=0.02)
    assert 0.63 <= added < 1.0
    # A reading at this edge passes, and one that lies a digit nearer to the limit does not.
    for reading, passes in ((float(must), True), (100.0 - added / 2, False)):
        texts = {"resistance": tuple(f"{reading} mΩ" for _ in range(3)), "current": "1.00 A"}
        record = next(a.body for a in van[0].acts if a.code == found.like)
        assert isinstance(record, Record)
        again = record.model_copy(update={"readings": Frozen(texts), "instruments": Frozen(dict(found.instruments))})
        output = world.evaluated(again, None).result
        assert output is not None
        limit = Limit.of("less_than", parse_quantity("0.1 Ω"))
        value = output.outputs[0]
        assert decide(value.value, value.U, "", limit, DecisionRule.guarded()).passes is passes


def test_every_blank_has_room_for_what_must_be_read(van: tuple[Workshop, Assessment]) -> None:
    made = {p.asked.requirement + p.asked.bus: p.data for p in pages(*van, chosen(*van), every=False)}
    blanks = made["bonding-resistancedead"]["blanks"]
    assert [(b["number"], b["unit"], b["before"]) for b in blanks] == [
        ("1", "mΩ", 3),
        ("", "mΩ", 3),
        ("", "mΩ", 3),
        ("2", "A", 3),
    ]
    live = made["isolation-joined-buslive"]
    assert [b["number"] for b in live["blanks"]] == ["1", "2", "3", "4", "5", "6"]
    assert not live["wide"]
    assert live["volts"].replace("\u00a0", " ") == "403.2 V DC"
    assert live["causes"] == ["Row A, cause of the first fail:"]
    assert any("2m8wfd" in note for note in live["rows"][0]["notes"])
    assert all("qualified" in " ".join(d["cautions"]) for d in made.values())
    assert next(e["must"].replace("\u00a0", " ") for e in live["edges"]).startswith("at least 50")


def test_a_bare_number_from_a_sheet_gets_the_unit_that_is_printed_there(van: tuple[Workshop, Assessment]) -> None:
    """The inlet was last read in kΩ, and its method says MΩ: 80 on the sheet is 80 kΩ, a thousandth of 80 MΩ."""
    workshop, assessment = van
    inlet = one(van, "isolation-inlet")
    assert inlet.method is not None
    units = last_units(workshop, inlet.method, inlet.requirement)
    spec = inlet.method.input("resistance")
    assert spec is not None and (units["resistance"], spec.unit) == ("kΩ", "MΩ")
    (page,) = pages(workshop, assessment, [inlet], every=False)
    printed = [blank["unit"] for blank in page.data["blanks"]]
    assert printed == [units[name] for name in ("test_voltage", "resistance")]
    reading = read_everything(ROOT, look=False)
    assert isinstance(reading, Reading)
    form = Evidence(
        Desk(reading, assessment, "van-07", workshop.as_of, "jm"),
        inlet.state,
        inlet.state.parts[0],
        wanted=("isolation",),
        printed=Printed(inlet.method.id, units),
    )
    given = {"performed": "2026-11-24T10:00+01:00", "instrument.insulation-tester": "it-01"}
    (asked,) = [q for q in form._readings(inlet.method, given) if q.key == "reading.resistance"]
    assert spec.low is not None and spec.high is not None
    assert asked.unit == "kΩ" and asked.low is not None and asked.high is not None
    assert [asked.low, asked.high] == pytest.approx([spec.low * 1000, spec.high * 1000])


def test_a_sheet_with_another_unit_at_its_blanks_is_stale(van: tuple[Workshop, Assessment]) -> None:
    workshop = van[0]
    inlet = one(van, "isolation-inlet")
    assert inlet.method is not None
    last = last_like(workshop, inlet.method, inlet.requirement)
    assert last is not None and isinstance(last.body, Record)
    newer = replace(
        last,
        code="zzzzzz",
        appeared=10**8,
        body=last.body.model_copy(update={"readings": {**last.body.readings, "resistance": "0.118 MΩ"}}),
    )
    later = replace(workshop, acts=(*workshop.acts, newer))
    stale = sheet_of_code(later, assess(later, "van-07"), inlet.code)
    assert isinstance(stale, Problem) and stale.code == "sheet.stale"


def test_each_sheet_of_the_van_is_one_page(van: tuple[Workshop, Assessment], tmp_path: Path) -> None:
    sheets = [sheet for sheet in asked_by(*van) if sheet.to_do]
    assert not write_sheets(*van, sheets, tmp_path / "sheets.pdf", root=ROOT)
    assert len(PdfReader(tmp_path / "sheets.pdf").pages) == len(sheets) > 3


def test_two_settings_of_one_decade_are_read_and_one_resistor_is_set(van: tuple[Workshop, Assessment]) -> None:
    """A monitor's threshold lies between two settings that are found at the car; a known resistor is chosen before."""
    asked = chosen(*van, ("isolation-monitor", "isolation-joined-bus"), every=True)
    made = {p.asked.requirement: p.data for p in pages(*van, asked, every=True) if p.asked.bus == "live"}
    assert [b["number"] for b in made["isolation-monitor"]["blanks"] if b["number"]] == ["1", "2", "3"]
    assert not any("set to" in line for line in made["isolation-monitor"]["before"])
    assert any("set to 200.0" in line.replace("\u00a0", " ") for line in made["isolation-joined-bus"]["before"])


# ---------------------------------------------------------------- on paper


def test_the_square_code_is_dark_on_light_with_a_quiet_zone_of_four() -> None:
    """ISO/IEC 18004:2024: finder patterns of 7 modules in three corners, quiet zone of 4 modules, level Q."""
    drawn = square_code("teu8-gj25-d8ba")
    size = int(re.findall(r'viewBox="0 0 (\d+)', drawn)[0])
    assert (size - 8 - 17) % 4 == 0  # versions have 17 + 4 n modules
    runs = [(int(x), int(y), int(w)) for x, y, w in re.findall(r"M(\d+) (\d+)h(\d+)v1", drawn)]
    assert min(x for x, _, _ in runs) == min(y for _, y, _ in runs) == 4
    assert max(x + w for x, _, w in runs) == size - 4
    assert {(4, 4, 7), (size - 11, 4, 7), (4, size - 11, 7)} <= set(runs)
    assert segno.make("TEU8-GJ25-D8BA", error="q", boost_error=False, micro=False).error == "Q"


def test_sheets_are_written_black_and_white_with_all_that_is_needed_at_the_car(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "sheets.pdf"
    assert main(["sheet", "van-07", "--folder", str(ROOT), "--output", str(out)]) == 0
    said = capsys.readouterr().out
    reader = PdfReader(out)
    words = " ".join(" ".join(page.extract_text() for page in reader.pages).split())
    codes = re.findall(r"[2-9a-z]{4}-[2-9a-z]{4}-[2-9a-z]{4}", said)
    assert len(codes) == 5
    for code in codes:
        assert code in words
    for needed in ("403.2", "prove it dead first", "live", "SAMPLE7VAN0000007", "D-19", "must read", "506.2", "99.25"):
        assert needed in words
    assert "Local codes and a qualified person decide, not this sheet" in words
    source = (ROOT / "src/witnessmark/document/print/sheet.typ").read_text("utf-8")
    assert "rgb(" not in source
    for name in ("voltmeter-own-source", "insulation-tester", "bonding-four-wire"):
        assert set(re.findall(r"#[0-9a-f]{3,6}", drawing(name, {"ub": "1"}))) <= {"#000", "#fff"}
    before = out.read_bytes()
    assert main(["sheet", "van-07", "--folder", str(ROOT), "--output", str(tmp_path)]) == 0, "a folder will do"
    assert out.read_bytes() == before


def test_a_requirement_that_has_no_sheet_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["sheet", "van-07", "no-such", "--folder", str(ROOT), "--output", str(tmp_path / "x.pdf")]) == 2
    assert "bonding-resistance" in capsys.readouterr().err
    assert not (tmp_path / "x.pdf").exists()


def test_hostile_words_on_a_sheet_are_words(van: tuple[Workshop, Assessment], tmp_path: Path) -> None:
    workshop, assessment = van
    nasty = '#panic("x") {{ 1 }} $a$ <b> @x \u202e \u0000 \U0001f50b ' + "y" * 300
    vehicle = workshop.vehicles["van-07"].model_copy(update={"title": nasty})
    spoiled = replace(
        workshop,
        vehicles={**workshop.vehicles, "van-07": vehicle},
        file=workshop.file.model_copy(update={"name": nasty, "place": nasty}),
    )
    out = tmp_path / "x.pdf"
    assert write_sheets(spoiled, assessment, chosen(spoiled, assessment, ["isolation-inlet"]), out) == ()
    words = PdfReader(out).pages[0].extract_text()
    for part in ('#panic("x")', "{{ 1 }}", "$a$", "<b>", "@x"):
        assert part in words
