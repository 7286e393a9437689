"""The 02 and the 03 series side by side: one vehicle, both sets, one measurement at the inlet, two answers."""

from __future__ import annotations

import shutil
from pathlib import Path

from tests.demonstration.reseal import reseal
from tests.sets.loading import ROOT
from witnessmark.assessment.assess import assess
from witnessmark.assessment.model import State
from witnessmark.problems import Severity
from witnessmark.reading.workshop import read_workshop

FACTS = """\
format: 1
facts:
  vin: {value: SAMPLE0TWO0000023, source: invented}
  requirement_sets: {value: [un-r100-02, un-r100-03], source: invented}
  category: {value: N1, source: invented}
  working_voltage: {value: 403.2 V, source: invented}
  external_charge: {value: ac, source: invented}
  charge_supply_earthed: {value: yes, source: invented}
parts:
  charge-inlet:
    source: invented
    list: {inlet: {title: Inlet, facts: {inlet_circuit: ac-separate, working_voltage: 230 V}}}
stated: 2026-09-07T09:00+02:00
by: jm
"""

RECORD = """\
format: 1
shows:
  un-r100-02:isolation-inlet/isolation: {}
  un-r100-02:isolation-inlet/set-up: {finding: meets, photo: set-up.jpg}
  un-r100-03:isolation-inlet/isolation: {}
  un-r100-03:isolation-inlet/set-up: {finding: meets, photo: set-up.jpg}
part: inlet
performed: 2026-09-08T09:00+02:00
by: {tester: jm, witness: ao}
method: insulation-tester/1
instruments: {tester: it-01}
readings: {test_voltage: 500 V, resistance: RESISTANCE}
"""


def _inlet_states(root: Path, resistance: str) -> dict[str, State]:
    """State of the inlet's isolation by set, in a small workshop with this one measurement."""
    for name in ("people", "policy", "instruments/it-01"):
        shutil.copytree(ROOT / "evidence" / name, root / "evidence" / name)
    shutil.copy(ROOT / "evidence" / "workshop.yaml", root / "evidence")
    shutil.copytree(ROOT / "requirements", root / "requirements")
    van = root / "evidence" / "vehicles" / "van-23"
    (van / "facts").mkdir(parents=True)
    (van / "records").mkdir()
    title = "format: 1\ntitle: Van 23\nfile_number: SEC-23\nissue: A\n"
    (van / "vehicle.yaml").write_text(title, encoding="utf-8")
    (van / "facts" / "all.yaml").write_text(FACTS, encoding="utf-8")
    (van / "records" / "inlet.yaml").write_text(RECORD.replace("RESISTANCE", resistance), encoding="utf-8")
    shutil.copy(ROOT / "evidence/vehicles/van-07/photos/isolation-inlet.jpg", van / "set-up.jpg")
    folder = "evidence/vehicles/van-23"
    rows = [
        {"path": f"{folder}/facts/all.yaml", "code": "aaaaaa", "on": "2026-09-07T10:00+02:00", "by": "jm"},
        {"path": f"{folder}/records/inlet.yaml", "code": "bbbbbb", "on": "2026-09-08T10:00+02:00", "by": "jm"},
    ]
    reseal(root, rows)
    found = assess(read_workshop(root, use_cache=False), "van-23")
    notes = [p for p in found.problems if p.severity is Severity.NOTE]
    assert [p.code for p in notes] == ["set.no-duty-to-accept"] and "02 series" in notes[0].message
    return {r.set_id: r.state for r in found.requirements if r.requirement.id == "isolation-inlet"}


def test_a_megohm_satisfies_both_and_a_hundred_kilohms_neither_in_the_same_way(tmp_path: Path) -> None:
    """230 V: 500 Ω/V is 115 kΩ; 02 asks 1 MΩ whatever the voltage."""
    for name in ("a", "b", "c"):
        (tmp_path / name / "evidence").mkdir(parents=True)
    assert _inlet_states(tmp_path / "a", "2.00 MΩ") == {"un-r100-02": State.CONFORMS, "un-r100-03": State.CONFORMS}
    assert _inlet_states(tmp_path / "b", "200.0 kΩ") == {
        "un-r100-02": State.NONCONFORMING,
        "un-r100-03": State.CONFORMS,
    }
    assert _inlet_states(tmp_path / "c", "116.6 kΩ") == {
        "un-r100-02": State.NONCONFORMING,
        "un-r100-03": State.UNDECIDED,
    }
