"""A technical file in small: every block once, all data invented. Used by the tests of the document engine only."""

from __future__ import annotations

import json
import math
from pathlib import Path

from witnessmark.document.blockdata import as_json
from witnessmark.document.blocks import (
    Band,
    Block,
    Budget,
    BudgetRow,
    Cautions,
    Cell,
    Column,
    Concession,
    Contents,
    Cover,
    Curve,
    Curves,
    Decay,
    Entry,
    Extreme,
    Figure,
    Gap,
    Group,
    IntervalChart,
    IntervalRow,
    LeafRow,
    Leaves,
    Letterhead,
    Limit,
    Link,
    ListedRow,
    Listing,
    Mark,
    Matrix,
    MatrixRow,
    Note,
    Pair,
    Pairs,
    Photo,
    Reading,
    Readings,
    Register,
    RequirementHead,
    ResultBlock,
    RunColumn,
    State,
    StateCount,
    Step,
    Strong,
    Symbol,
    Table,
    Worked,
)
from witnessmark.document.settings import Attachment, Chapter, Settings

__all__ = ["ATTACHED", "SETTINGS", "attachments", "blocks", "write"]

EPOCH = 1_795_521_600  # 2026-11-24T12:00:00Z
SETTINGS = Settings(
    title="Technical file SEC-07, postal van 07",
    vehicle="Postal van 07",
    vin="SAMPLE7VAN0000007",
    file_number="SEC-07",
    issue="B",
    status="draft",
    origin="DRAFT from commit 3f2c1a9, 2 files not committed",
    as_of="24 November 2026",
    epoch=EPOCH,
    verdict="Not ready to submit.",
    verdict_detail="7 of 64 requirements stand in the way",
    verdict_link=Link("gaps", "gap register"),
    verdict_short="7 gaps",
    stamps=("Demonstration: all data invented",),
    author="Saltmarsh Electric Conversions",
    chapters=(
        Chapter("gaps", "Gap register", "2"),
        Chapter("matrix", "Compliance matrix", "7"),
        Chapter("shock", "Electric shock", "8", "5 gaps"),
        Chapter("prose", "Words and tables", "9", "1 concession"),
    ),
)
ATTACHED = {"7k4qxm.csv": b"quantity,value,unit\nub,402.9,V\n", "records.json": b'{"sample": true}\n'}

_C: State = "conforms"
_N: State = "nonconforming"
_U: State = "undecided"
_S: State = "not-shown"
_L: State = "lapsed"
_K: State = "under-concession"
_X: State = "not-applicable"


def _cover() -> Cover:
    return Cover(
        title="Postal van 07, converted to electric drive",
        question="Can it be submitted?",
        answer="Not yet.",
        sentence="Seven of 64 requirements stand in the way. Six can be closed in this workshop in about three hours; "
        "one waits for the pack supplier.",
        head_left=(Strong("Saltmarsh Electric Conversions"), "   Ropewalk Yard, Isle of Oddmoor"),
        head_right=("Technical file ", Strong("SEC-07"), ", issue ", Strong("B"), ", draft, as of 24 November 2026"),
        gaps=(
            Gap(
                _N,
                "Isolation of the heater bus",
                "431 Ω/V, at least 500 is asked",
                "Dry and reseal X14, then retest (sheet 4)",
                Link("shock#r-8-3-3", "8.3.3"),
            ),
            Gap(
                _L,
                "Bonding of the DC/DC converter",
                "replaced on 20 October, after the test",
                "Measure the new one, serial D-19 (sheet 2)",
                Link("shock#r-8-2-2", "8.2.2"),
            ),
            Gap(
                _L,
                "Pack mounting bolts, torque",
                "wrench tw-03 was found out of tolerance",
                "Check 12 bolts with tw-01 (sheet 1)",
                Link("shock#r-8-2-2", "9.2"),
            ),
            Gap(
                _S,
                "Finger-safe connectors",
                "seven of eight probed; X8 is missing",
                "Probe X8, charge inlet; photograph (sheet 3)",
                Link("shock#r-8-1-3", "8.1.3"),
            ),
            Gap(
                _S,
                "Warning sign on the pack",
                "photograph is there, nobody has judged it",
                "A named person looks and states the finding",
                Link("shock#photo-31", "8.1.5"),
            ),
            Gap(
                _S,
                "Pack at low temperature",
                "supplier’s paper has not arrived",
                "Waits for Gannet Cells; asked on 3 November",
                Link("gaps", "9.7"),
            ),
            Gap(
                _U,
                "Isolation of the charge inlet",
                "507 Ω/V ± 11 Ω/V; 511 would pass",
                "Measure again with dmm-04 (sheet 4)",
                Link("shock#r-8-3-4", "8.3.4"),
            ),
        ),
        concessions=(
            Concession(
                "rear axle 18 kg over, nonconforming beneath; Oddmoor Vehicle Office, to 30 June 2027",
                Link("prose#axle", "12.2"),
            ),
        ),
        run_title="All 64 requirements, in the order of the file",
        run=(
            RunColumn("5", "Drawings", (_C,) * 3),
            RunColumn("6", "Parts", (_C,) * 4),
            RunColumn("8.1", "Direct contact", (_X, _C, _C, _S, _C, _S, _C, _C)),
            RunColumn("8.2", "Bonding", (_C, _C, _C, _L, _C)),
            RunColumn("8.3", "Isolation", (_X, _U, _N, _C, _C)),
            RunColumn("8.4", "Water", (_C,) * 4),
            RunColumn("9", "Pack", (_C, _X, _S, _C, _C, _C, _C, _L, _C)),
            RunColumn("10", "Driver warnings", (_X, _C, _C, _C, _C, _C)),
            RunColumn("11", "Risk papers", (_C,) * 3),
            RunColumn("12", "Mass, brakes", (_C, _C, _X, _C, _C, _C, _K, _C)),
            RunColumn("14", "Instruments", (_C,) * 3),
            RunColumn("18", "Rescue sheet", (_X, _C, _C)),
            RunColumn("19", "Declarations", (_C,) * 3),
        ),
        counts=(
            StateCount(_C, 50),
            StateCount(_N, 1),
            StateCount(_U, 1),
            StateCount(_S, 3),
            StateCount(_L, 2),
            StateCount(_K, 1),
            StateCount(_X, 6),
        ),
        identity=(
            (
                Pair("VIN", "SAMPLE7VAN0000007"),
                Pair("Category", "N1, postal van of 2011"),
                Pair("Pack", "Type P2 rev. B, serial 0421"),
                Pair("Voltage", "403.2 V, working"),
            ),
            (
                Pair("Rule", "UN R100, 03 series"),
                Pair("Route", "one-off, Part I in full"),
                Pair("Decision", "guarded, w = U, 95 %"),
                Pair("Last issue", ("A, 2 Sept. 2026; ", Link("prose", "changes"))),
            ),
            (
                Pair("Tested", "J. Marram, not signed"),
                Pair("Checked", "A. Orchis, not signed"),
                Pair("Issued", "not issued"),
                Pair("Service", "decision pending"),
            ),
        ),
        statement="“Conforms” is the word of this workshop. The technical service has not yet decided anything.",
    )


def _register() -> Register:
    def facts(sheet: str, with_what: str, time: str, who: str) -> tuple[Pair, ...]:
        return (Pair("Sheet", sheet), Pair("With", with_what), Pair("Time", time), Pair("Who", who))

    return Register(
        groups=(
            Group(
                "Now, bus dead and covers off",
                "two jobs, about 40 min, sheets 2 and 3",
                (
                    Entry(
                        _L,
                        "Bonding of the DC/DC converter",
                        "Measured on 14 October on serial D-07. On 20 October D-07 was replaced by D-19, so the "
                        "reading says nothing about what is fitted now.",
                        "Measure bonding of D-19 to chassis, four-wire, at 0.2 A or more.",
                        "UN R100 5.1.2.2",
                        facts("2", "mo-01", "15 min", "J. Marram"),
                        Link("shock#r-8-2-2", "requirement 8.2.2"),
                        "g-1",
                    ),
                    Entry(
                        _S,
                        "Finger-safe connectors, each of eight",
                        (
                            "X1 to X7 were probed on 9 October and meet the requirement. There is no record for ",
                            Strong("X8, charge inlet"),
                            ".",
                        ),
                        "Probe X8 with the jointed finger, parted and mated; one photograph of each.",
                        "UN R100 5.1.1",
                        facts("3", "probe B", "25 min", "S. Thrift"),
                        Link("shock#r-8-1-3", "requirement 8.1.3"),
                        "g-2",
                    ),
                ),
            ),
            Group(
                "Now, at the desk",
                "one job, 5 min",
                (
                    Entry(
                        _S,
                        "Warning sign on the pack",
                        "The photograph of 9 October is here, but no person has said what it shows. Until somebody has "
                        "looked, it proves nothing.",
                        (
                            "Look at ",
                            Link("shock#photo-31", "photograph 31"),
                            " and state “meets” or “does not meet”, with your name.",
                        ),
                        "UN R100 5.1.1.4",
                        (Pair("Sheet", "none"), Pair("Time", "5 min"), Pair("Who", "not the person who fitted it")),
                        Link("shock#photo-31", "requirement 8.1.5"),
                        "g-3",
                    ),
                ),
            ),
            Group(
                "Next, with the bus live",
                "two jobs, one set-up, about 1 h 30 min, sheet 4",
                (
                    Entry(
                        _N,
                        "Isolation of the heater bus",
                        "431 Ω/V ± 9 Ω/V; at least 500 Ω/V is asked. Moisture was found in connector X14. A fail stays "
                        "until a later record that names it passes.",
                        (
                            "Dry and reseal X14, write the cause down, then measure again as a retest of ",
                            Link("shock#r-8-3-3", "record 2m8wfd"),
                            ".",
                        ),
                        "UN R100 5.1.3.2",
                        facts("4", "dmm-04", "60 min", "two persons"),
                        Link("shock#r-8-3-3", "requirement 8.3.3"),
                        "g-4",
                    ),
                    Entry(
                        _U,
                        "Isolation of the charge inlet",
                        "507 Ω/V ± 11 Ω/V. The limit of 500 lies inside the interval, so it is neither a pass nor a "
                        "fail. At this uncertainty 511 would pass.",
                        "Measure again with dmm-04; with its ± 3 Ω/V a reading of 503 already passes.",
                        "UN R100 5.1.3.4",
                        facts("4", "dmm-04", "30 min", "two persons"),
                        Link("shock#r-8-3-4", "requirement 8.3.4"),
                        "g-5",
                    ),
                ),
            ),
            Group(
                "Waits for somebody else",
                "one paper",
                (
                    Entry(
                        _S,
                        "Low-temperature behaviour of the pack",
                        "The supplier’s paper has not arrived: diagram, lower temperature bound, what the controls do "
                        "below it.",
                        "Ask Gannet Cells again. Asked on 3 November, promised for 1 December.",
                        "UN R100 6.11",
                        (Pair("From", "Gannet Cells"), Pair("Asked", "3 Nov. 2026"), Pair("Due", "1 Dec. 2026")),
                        None,
                        "g-6",
                    ),
                ),
            ),
        ),
        permissions=(
            Concession(
                "rear axle mass 1268 kg, limit 1250 kg (nonconforming beneath). Oddmoor Vehicle Office, letter "
                "OV-311, to 30 June 2027",
                Link("prose#axle", "12.2"),
            ),
        ),
    )


def _chart() -> IntervalChart:
    return IntervalChart(
        rows=(
            IntervalRow("Traction bus, dry", 1097, 10, "1097", "10", "pass", True, 510, True),
            IntervalRow("Traction bus, wet", 644, 12, "644", "12", "pass", True, 512),
            IntervalRow("Traction bus, 24 h later", 1012, 10, "1012", "10", "pass", True, 510),
            IntervalRow("Charge inlet", 507, 11, "507", "11", "conditional pass", False, 511),
            IntervalRow("Heater bus", 431, 9, "431", "9", "fail", False, 509),
        ),
        limit=500,
        limit_words="at least 500, or 500 + U to pass",
        limit_words_short="at least 500",
        axis="isolation resistance, Ω/V",
    )


def _decay() -> Decay:
    time = tuple(index * 0.02 for index in range(71))
    voltage = tuple(403.0 if t <= 0.02 else 403.0 * math.exp(-(t - 0.02) / 0.39) for t in time)
    return Decay(time, voltage, 60, "60 V DC", 1.0, "not after 1.00 s", 0.76, 0.02, "0.76 s ± 0.02 s", True)


def _curves() -> Curves:
    return Curves(
        (
            Curve("fuse melts", (600.0, 1000.0, 2000.0, 4000.0), (100.0, 2.0, 0.04, 0.003)),
            Curve("cable bears", (2238.0, 35388.0), (5.0, 0.02)),
        ),
        "current, A",
        "time, s",
        (Mark(800, "contactors break up to 800 A"), Mark(5040, "prospective 5040 A")),
        (Mark(0.02, "in time: within 0.02 s"),),
        800,
        2600,
        "800 to 2600 A: neither breaks in time",
    )


def _band() -> Band:
    edges = tuple(float(index) for index in range(0, 181, 1))
    high = tuple(4.10 - 0.0045 * x if x < 120 else 3.56 + 0.0075 * (x - 120) for x in edges[:-1])
    low = tuple(
        h - (0.03 + 0.09 * abs(math.sin(x / 2.1)) + (0.12 if x == 78 else 0.0) if x < 120 else 0.03)
        for x, h in zip(edges[:-1], high, strict=True)
    )
    return Band(
        edges,
        low,
        high,
        "time, min",
        "V",
        (Limit(4.2, "cell maker 4.20 V", True), Limit(3.2, "cell maker 3.20 V", False)),
        Extreme(117, 3.44, "lowest 3.44 V, cell 41, 117 min", False),
    )


def _shock() -> dict[str, Block]:
    side = (
        Pair("Record", (Link("shock#r-8-3-1", "7k4qxm"), ", sealed")),
        Pair("Read", "14 Oct. 2026, 16:20"),
        Pair("By", "J. Marram"),
        Pair("Witness", "A. Orchis"),
        Pair("Method", "own source/1"),
        Pair("Meter", "dmm-02 due 3 March 2027"),
        Pair("Resistor", "decade-01"),
        Pair("State", "contactors closed"),
        Pair("Air", "18 °C, dry"),
        Pair("Deviates", "none"),
    )
    return {
        "lead": Note("Five of 22 requirements stand in the way. Fifteen conform, two do not apply.", style="lead"),
        "cautions": Cautions(
            "403 V DC, live",
            (
                "Two persons. Gloves of class 0 and face shield on. One hand only at the probes.",
                "Try the meter on a known voltage before and after.",
            ),
        ),
        "bonding-1": RequirementHead(
            _C,
            "Bonding of the inverter case",
            "UN R100, 03 series, 5.1.2.2",
            "The inverter case is joined to the electrical chassis by less than 0.1 Ω.",
            "8.2.1",
            brief="0.021 Ω ± 0.002 Ω",
            source="own words, source seen",
        ),
        "bonding-2": RequirementHead(
            _L,
            "Bonding of the DC/DC converter",
            "UN R100, 03 series, 5.1.2.2",
            "The converter case is joined to the electrical chassis by less than 0.1 Ω.",
            "8.2.2",
            source="own words, source seen",
            why="Measured on 14 October on serial D-07. On 20 October D-07 was replaced by D-19, "
            "so the reading says nothing about what is fitted now.",
            do="Measure bonding of D-19 to chassis, four-wire, at 0.2 A or more.",
            todo=("Bus dead; sheet 2; micro-ohmmeter mo-01; 15 min; ", Link("shock#r-8-2-1", "the old record r2c6xm")),
            id="r-8-2-2",
        ),
        "connectors": RequirementHead(
            _S,
            "Finger-safe connectors",
            "UN R100, 03 series, 5.1.1",
            "No live part can be touched with the jointed finger at a parted connector.",
            "8.1.3",
            source="own words, source seen",
            why="X1 to X7 were probed. There is no record for X8, charge inlet.",
            do="Probe X8 with the jointed finger, parted and mated.",
            id="r-8-1-3",
        ),
        "leaves": Leaves(
            (
                LeafRow("probed with the jointed finger", "X1 to X7", "conforms", _C, "f4t8ma"),
                LeafRow("probed with the jointed finger", "X8, charge inlet", "not shown", _S, "", "no record"),
            ),
            number="8-2",
            rule="All parts are asked for: seven of eight is not shown.",
        ),
        "sign": Photo(
            "photos/sign.png",
            "drawn picture of a warning sign on a pack",
            None,
            "31",
            taken="9 October 2026, 11:02",
            original="img-0398.jpg",
            sha256="77e2 9f3c 1ab0 …",
            id="photo-31",
        ),
        "iso": RequirementHead(
            _C,
            "Isolation of the traction bus, DC and AC joined",
            "UN R100, 03 series, 5.1.3.2",
            "The joined bus has at least 500 Ω of isolation to the chassis per volt of working voltage.",
            "8.3.1",
            brief="1097 Ω/V ± 10 Ω/V",
            source="own words, source seen",
            id="r-8-3-1",
        ),
        "result": ResultBlock(
            "1097",
            "Ω/V",
            "Pass.",
            "At least 500 Ω/V is asked; with this uncertainty 510 Ω/V and more passes.",
            "10",
            rule=("k = 2, about 95 %. Rule: guarded, w = U, ", Link("prose#rule", "decision rule", page=True), "."),
        ),
        "readings": Readings(
            (
                Reading("bus, pole to pole", "402.9", "V", "U_b", "0.8", "formula"),
                Reading("negative pole to chassis", "203.4", "V", "U_1", "0.5", "formula"),
                Reading("positive pole to chassis", "199.8", "V", "U_2", "0.5", "check: sum 403.2 V"),
                Reading("resistor, at the negative pole", "200.0", "kΩ", "R_o", "0.4", "formula"),
                Reading("negative pole, loaded", "96.1", "V", "U_1'", "0.3", "formula"),
                Reading("positive pole, loaded", "306.8", "V", "U_2'", "0.7", "check: sum 402.9 V"),
            ),
            number="8-7",
            side=side,
            note=(
                "Both sums agree with ",
                Symbol("U_b", "U b"),
                " within 0.3 V. As CSV: attachment ",
                Link("attachment:7k4qxm.csv", "7k4qxm.csv"),
                ".",
            ),
        ),
        "worked": Worked(
            (
                Step(
                    r"R_i = R_o\,U_b\left(\frac{1}{U_1'}-\frac{1}{U_1}\right) = 200.0\,\mathrm{k\Omega} \times "
                    r"402.9\,\mathrm{V} \times \left(\frac{1}{96.1\,\mathrm{V}}-\frac{1}{203.4\,\mathrm{V}}\right) = "
                    r"442.3\,\mathrm{k\Omega}",
                    "R i equals R o times U b times the difference of one over U 1 prime and one over U 1",
                ),
                Step(
                    r"\frac{R_i}{U_w} = \frac{442.3\,\mathrm{k\Omega}}{403.2\,\mathrm{V}} = 1097\,\mathrm{\Omega/V}",
                    "R i over U w equals 1097 ohms per volt",
                ),
            ),
            side_note=(
                "Worked, Annex 5A. Working voltage: 96 cells × 4.20 V = 403.2 V (",
                Link("prose#rule", "cell data sheet", page=True),
                ")",
            ),
        ),
        "budget": Budget(
            (
                BudgetRow("loaded pole", "0.199", "V", "rectangular", "−8.725", "kΩ/V", "1.734", 0.781, "U_1'"),
                BudgetRow("free pole", "0.292", "V", "rectangular", "1.948", "kΩ/V", "0.568", 0.084, "U_1"),
                BudgetRow("resistor", "0.231", "kΩ", "rectangular", "2.212", "1", "0.511", 0.068, "R_o"),
                BudgetRow("bus", "0.464", "V", "rectangular", "1.098", "kΩ/V", "0.510", 0.067, "U_b"),
            ),
            "isolation resistance",
            "kΩ",
            "1.962",
            "U = 3.9 kΩ, k = 2",
            "R_i",
            "Uncertainty budget for",
            "8-8",
            "One reading of the loaded pole makes four fifths of the variance. A steadier reading there is worth more "
            "than a better resistor.",
        ),
        "chart": Figure(
            _chart(),
            "All isolation results of this vehicle",
            "Five isolation results against the limit of 500 ohms per volt; three pass, one is a conditional "
            "pass, the heater bus fails.",
            "8-4",
            "Hatched: not permitted. Short tick: where a pass begins. Hollow: no pass. Arrow: off the scale.",
        ),
        "set-up": Photo(
            "photos/set-up.png",
            "drawn picture of a meter at two poles",
            "meets",
            "27",
            "Meter, both poles, resistor and sheet code are in one frame; the resistor sits at the negative pole.",
            "A. Orchis, 14 October 2026, at the original size",
            "14 October 2026, 16:14",
            (Link("attachment:records.json", "img-0412.jpg"),),
            "9f3c 1ab0 77e2 …",
            ("Shows ", Link("shock#r-8-3-1", "8.3.1, set-up"), "; not used for any other part or vehicle."),
        ),
        "heater": RequirementHead(
            _N,
            "Isolation of the heater bus",
            "UN R100, 03 series, 5.1.3.2",
            "The heater bus has at least 500 Ω of isolation per volt.",
            "8.3.3",
            brief="431 Ω/V ± 9 Ω/V",
            why="Moisture was found in connector X14.",
            do="Dry and reseal X14, write the cause down, then measure again as a retest.",
            id="r-8-3-3",
        ),
        "inlet": RequirementHead(
            _U,
            "Isolation of the charge inlet",
            "UN R100, 03 series, 5.1.3.4",
            "The inlet has at least 500 Ω of isolation per volt.",
            "8.3.4",
            brief="507 Ω/V ± 11 Ω/V",
            why="The limit lies inside the interval.",
            do="Measure again with dmm-04.",
            id="r-8-3-4",
        ),
        "cell": RequirementHead(
            _X,
            "Fuel cell monitor",
            "UN R100, 03 series, 5.1.3.3",
            "A fuel cell vehicle has an isolation monitor.",
            "8.3.5",
            brief="fact: no fuel cell",
        ),
    }


def _matrix() -> Matrix:
    def row(state: State, clause: str, title: str, how: str, asked: str, record: str, **more: object) -> MatrixRow:
        return MatrixRow(state, clause, title, how, asked, record, **more)  # type: ignore[arg-type]  # short form

    rows = [
        row(
            _C,
            "5.1.1",
            "Barriers stay shut without a tool",
            "12 inspections, 12 photographs",
            "yes",
            "c2xk9a",
            result="12 of 12 meet",
        ),
        row(
            _C, "5.1.1.1", "Cabin and load space, wire probe", "9 inspections", "IPXXD", "h7w3pd", result="9 of 9 meet"
        ),
        row(
            _S,
            "5.1.1",
            "Connectors parted by hand, finger probe",
            "8 inspections: X1 to X7 done",
            "IPXXB",
            "f4t8ma",
            result="7 of 8 meet;",
            missing="X8 has no record",
            link=Link("shock#r-8-1-3", "8.1.3"),
        ),
        row(
            _S,
            "5.1.1.4",
            "Warning sign on the pack",
            "photograph 31, finding missing",
            "present, legible",
            "",
            missing="nobody has judged it",
            link=Link("shock#photo-31", "8.1.5"),
        ),
        row(_X, "5.1.1", "Roof charging device", "fact: none fitted", "", "fact 7", result="build sheet 12"),
        row(
            _C,
            "5.1.2.2",
            "Bonding, inverter case",
            "four-wire, bonding/1",
            "< 0.1 Ω",
            "r2c6xk",
            value="0.021",
            u="0.002 Ω",
            link=Link("shock#r-8-2-1", "8.2.1"),
        ),
        row(
            _L,
            "5.1.2.2",
            "Bonding, DC/DC converter",
            "four-wire, bonding/1",
            "< 0.1 Ω",
            "r2c6xm",
            value="0.018",
            u="0.002 Ω,",
            missing="on D-07, now D-19",
            link=Link("shock#r-8-2-2", "8.2.2"),
        ),
        row(
            _C,
            "5.1.3.2",
            "Isolation, traction bus",
            "own source/1",
            "≥ 500 Ω/V",
            "7k4qxm",
            value="1097",
            u="10 Ω/V",
            link=Link("shock#r-8-3-1", "8.3.1"),
        ),
        row(
            _N,
            "5.1.3.2",
            "Isolation, heater bus",
            "own source/1",
            "≥ 500 Ω/V",
            "2m8wfd",
            value="431",
            u="9 Ω/V",
            link=Link("shock#r-8-3-3", "8.3.3"),
        ),
        row(
            _U,
            "5.1.3.4",
            "Isolation, charge inlet",
            "own source/1",
            "≥ 500 Ω/V",
            "9j3hsn",
            value="507",
            u="11 Ω/V,",
            missing="passes from 511",
            link=Link("shock#r-8-3-4", "8.3.4"),
        ),
        row(
            _K,
            "W-12",
            "Rear axle mass, with a long title that needs a second line in its column",
            "weighing",
            "≤ 1250 kg",
            "b4m2zz",
            value="1268",
            u="2 kg,",
            result="nonconforming beneath",
            link=Link("prose#axle", "12.2"),
        ),
    ]
    rows += [
        row(
            _C,
            "5.1.4",
            f"Washing and wading, sample row {n}",
            "own source/1",
            "≥ 500 Ω/V",
            "v4n7ce",
            value="644",
            u="12 Ω/V",
        )
        for n in range(1, 22)
    ]
    return Matrix(
        tuple(rows),
        "5.1 Protection against electric shock",
        "records are attached as data, page numbers are links",
        "The line at the left runs where something is shown, and breaks where nothing is.",
    )


def _prose() -> dict[str, Block]:
    return {
        "decay": Figure(
            _decay(),
            "Voltage after parting",
            "The voltage falls below 60 volts after 0.76 seconds.",
            "9-1",
            "The crossing carries its interval. Hatched: above the limit after the time allowed.",
        ),
        "curves": Figure(
            _curves(),
            "What contactors break and what the fuse clears",
            "From 800 to 2600 amperes neither breaks in time.",
            "9-3",
            "Both axes are logarithmic. Hatched: the gap.",
        ),
        "band": Figure(
            _band(),
            "Lowest and highest of 96 cells",
            "All cells stay between 3.44 and 4.10 volts.",
            "9-2",
            "Both kept in every bin, so that no spike is lost.",
        ),
        "table": Table(
            (
                Column("Instrument", width=2),
                Column("Range"),
                Column("found, V", "decimal"),
                Column("days left", "right"),
            ),
            (
                *((f"dmm-{n:02d}, a meter", "600 V", f"{400 + n / 4:.{n % 3}f}", str(n * 17)) for n in range(1, 9)),
                (Cell("tw-03, wrench", strong=True), Cell("40 N m", quiet=True), "none", Cell("lapsed", state=_L)),
            ),
            "Instruments used",
            "9-3",
            "Days at the as-of date.",
            (8,),
        ),
        "pairs": Pairs(
            (
                Pair("Rule", "guarded, w = U"),
                Pair("Coverage", "k = 2, about 95 %"),
                Pair("In force", "since 1 January 2026"),
                Pair("Source", ("ILAC-G8:09/2019, ", Link("https://example.org/", "text"))),
            ),
            2,
            "Decision rule",
            "rule",
        ),
        "quiet": Note("Record text in a quiet voice, with a long word: " + "x" * 120, style="quiet"),
        "gap": Note("This paragraph stands for something that nobody has shown.", "Missing", "strong", True),
        "axle": RequirementHead(
            _K,
            "Rear axle mass",
            "workshop rule W-12",
            "The rear axle carries at most 1250 kg.",
            "9.2",
            beneath="nonconforming beneath; Oddmoor Vehicle Office, to 30 June 2027",
            brief="1268 kg ± 2 kg",
            id="axle",
        ),
        "contents": Contents(depth=2),
    }


PAGES = {
    "index.rst": """Postal van 07
=============

.. block:: data/front.json#letterhead

.. block:: data/front.json#cover

.. toctree::
   :hidden:

   contents
   gaps
   matrix
   shock
   prose
""",
    "contents.rst": """Contents
========

.. block:: data/prose.json#contents
""",
    "gaps.rst": """2 Gap register
==============

.. block:: data/front.json#lead

.. block:: data/front.json#register

.. block:: data/front.json#listing
""",
    "matrix.rst": """7 Compliance matrix
===================

What each requirement asks, and what shows it.

.. block:: data/front.json#matrix
""",
    "shock.rst": """8 Protection against electric shock
===================================

.. block:: data/shock.json#lead

.. block:: data/shock.json#cautions

8.1 Direct contact
------------------

8.1.3 Finger-safe connectors
~~~~~~~~~~~~~~~~~~~~~~~~~~~~

.. block:: data/shock.json#connectors

.. block:: data/shock.json#leaves

.. block:: data/shock.json#sign

8.2 Bonding
-----------

8.2.1 Bonding of the inverter case
~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~

.. block:: data/shock.json#bonding-1
   :ids: r-8-2-1

8.2.2 Bonding of the DC/DC converter
~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~

.. block:: data/shock.json#bonding-2

8.3 Isolation
-------------

8.3.1 Isolation of the traction bus, DC and AC joined
~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~

.. block:: data/shock.json#iso

.. block:: data/shock.json#result

.. block:: data/shock.json#readings

.. block:: data/shock.json#worked

.. block:: data/shock.json#budget

.. block:: data/shock.json#chart

.. block:: data/shock.json#set-up

8.3.3 Isolation of the heater bus
~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~

.. block:: data/shock.json#heater

8.3.4 Isolation of the charge inlet
~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~~

.. block:: data/shock.json#inlet

8.3.5 Fuel cell monitor
~~~~~~~~~~~~~~~~~~~~~~~

.. block:: data/shock.json#cell
""",
    "prose.rst": """9 Words and tables
==================

Everything in this sample is invented. A paragraph may hold **strong words**, *emphasis*, ``literal text``, a formula
:math:`U = k\\,u_c`, a footnote [#one]_ and a link to :to:`the traction bus <shock#r-8-3-1>` or :doc:`gaps`. Stars \\*
stay.

.. [#one] The footnote stands at the foot of the page.

- a list with a point
- and another one

1. a numbered list
2. with two lines

Term
   Its meaning, in a sentence.

.. note:: A note to the reader.

.. formula::
   :alt: combined standard uncertainty, root of the sum of the squares

   u_c = \\sqrt{\\sum_{i=1}^{n} c_i^2\\, u_i^2}

.. list-table:: A table in prose
   :header-rows: 1

   * - What
     - How
   * - first
     - one word
   * - second
     - two words

9.1 Figures and tables
----------------------

.. block:: data/prose.json#decay

.. block:: data/prose.json#curves

.. block:: data/prose.json#band

.. block:: data/prose.json#table

.. block:: data/prose.json#pairs

.. block:: data/prose.json#quiet

.. block:: data/prose.json#gap

9.2 Rear axle mass
------------------

.. block:: data/prose.json#axle
""",
}


def blocks() -> dict[str, dict[str, Block]]:
    """All blocks of the sample: file name, key, block."""
    lead = Note(
        "Seven requirements stand between this van and its submission. They are sorted by what can be done now: "
        "first what needs no voltage on the bus.",
        style="lead",
    )
    listing = Listing(
        (
            ListedRow(
                _L,
                "Bonding of the DC/DC converter",
                "UN R100 5.1.2.2",
                why="D-07 was replaced by D-19.",
                do="Measure bonding of D-19.",
                to="shock#r-8-2-2",
                id="s.1",
            ),
            ListedRow(_C, "Bonding of the charger", "UN R100 5.1.2.2", "0.015 Ω ± 0.002 Ω", id="s.2"),
        ),
        id="l.shock",
    )
    return {
        "front": {
            "letterhead": Letterhead(
                "Saltmarsh Electric Conversions", ("Ropewalk Yard",), "photos/sign.png", "a mark", 1.5, "cover"
            ),
            "cover": _cover(),
            "lead": lead,
            "register": _register(),
            "matrix": _matrix(),
            "listing": listing,
        },
        "shock": _shock(),
        "prose": _prose(),
    }


def _picture(path: Path, words: str) -> None:
    from PIL import Image, ImageDraw

    image = Image.new("RGB", (750, 500), "#4a545e")
    draw = ImageDraw.Draw(image)
    draw.rectangle((60, 60, 690, 440), fill="#aeb6bd")
    draw.rectangle((120, 140, 520, 180), fill="#c2743a")
    draw.rectangle((120, 300, 520, 340), fill="#c2743a")
    draw.rectangle((540, 180, 660, 380), fill="#20262b")
    draw.text((70, 415), f"Drawn picture, demonstration: {words}", fill="#15191e")
    image.save(path)


def write(folder: Path) -> Path:
    """Write the sample's pages, data and pictures into `folder`."""
    for name in ("data", "photos"):
        (folder / name).mkdir(parents=True, exist_ok=True)
    for name, text in PAGES.items():
        (folder / name).write_text(text, encoding="utf-8")
    for name, entries in blocks().items():
        content = {key: as_json(block) for key, block in entries.items()}
        text = json.dumps(content, ensure_ascii=False, indent=1, sort_keys=True)
        (folder / "data" / f"{name}.json").write_text(text, encoding="utf-8")
    _picture(folder / "photos" / "set-up.png", "set-up")
    _picture(folder / "photos" / "sign.png", "sign")
    return folder


def attachments(folder: Path) -> tuple[Attachment, ...]:
    """Write the attached files into `folder` and list them."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in ATTACHED.items():
        (folder / name).write_bytes(content)
    return (
        Attachment("7k4qxm.csv", str(folder / "7k4qxm.csv"), "text/csv", "readings of record 7k4qxm", "data"),
        Attachment("records.json", str(folder / "records.json"), "application/json", "all records", "source"),
    )
