"""The demonstration: complete, consistent, invented throughout, with the gaps that it is meant to have and no more."""

from __future__ import annotations

import io
import re
from collections import Counter
from datetime import datetime
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest
from PIL import ExifTags, Image
from pydantic import BaseModel

from tests.demonstration import draw_pictures, write_editions, write_logs, write_papers
from tests.demonstration.reseal import sealings
from tests.sets.loading import ROOT, SET_FOLDERS, tree_of
from witnessmark.assessment.assess import assess
from witnessmark.assessment.model import Assessment, State
from witnessmark.problems import Severity
from witnessmark.reading.workshop import read_workshop
from witnessmark.records.acts import Record, act_model
from witnessmark.records.base import CODE_ALPHABET
from witnessmark.records.workshop import InstrumentFile, PersonFile, VehicleFile, WorkshopFile
from witnessmark.records.world import Workshop

EVIDENCE = ROOT / "evidence"
ROWS = sealings(Path(__file__).with_name("seals.yaml"))
DESCRIBED: dict[str, type[BaseModel]] = {
    "workshop.yaml": WorkshopFile,
    "vehicle.yaml": VehicleFile,
    "instrument.yaml": InstrumentFile,
}

# What the van is meant to show: everything that is neither `conforms` nor `not applicable`, and why.
MEANT = {
    "connector-finger-safe": (State.NOT_SHOWN, {"leaf.no-record"}),  # X8 was not probed
    "warning-sign-pack": (State.NOT_SHOWN, {"finding.missing"}),  # the photograph is here, nobody has judged it
    "orange-cable": (State.NOT_SHOWN, {"fact.not-stated"}),  # whether the heater cable runs outside
    "bonding-resistance": (State.LAPSED, {"event.replaced", "instrument.overdue"}),  # DC/DC converter; charger
    "isolation-joined-bus": (State.NONCONFORMING, {"leaf.fails"}),  # heater bus
    "isolation-inlet": (State.UNDECIDED, {"leaf.undecided"}),  # the limit lies inside the interval
    "main-fuse": (State.NOT_SHOWN, {"leaf.no-record"}),  # the certificate is awaited
    "axle-loads": (State.UNDER_CONCESSION, {"leaf.fails"}),  # the letter of the Oddmoor Vehicle Office
}


@lru_cache(maxsize=1)
def workshop() -> Workshop:
    return read_workshop(ROOT)


@lru_cache(maxsize=2)
def assessed(vehicle: str) -> Assessment:
    return assess(workshop(), vehicle)


def records(vehicle: str = "van-07") -> list[tuple[str, dict[str, Any]]]:
    folder = EVIDENCE / "vehicles" / vehicle / "records"
    return [(p.name, t) for p in sorted(folder.glob("*.yaml")) if "shows" in (t := tree_of(p))]


def test_every_file_fits_its_model() -> None:
    seen: Counter[str] = Counter()
    for path in sorted(EVIDENCE.rglob("*.yaml")):
        tree = tree_of(path)
        model: type[BaseModel] | None = DESCRIBED.get(path.name) or act_model(tree)
        if path.parent.name == "people":
            model = PersonFile
        assert model is not None, path
        model.model_validate(tree)
        seen[model.__name__] += 1
    sorts = "Record Statement Event Withdrawal Calibration Authorisation Concession Policy DesignRevision"
    assert set(sorts.split()) <= set(seen)


def test_nothing_is_wrong_with_the_folder() -> None:
    found = workshop()
    assert [str(p) for p in found.problems if p.severity is Severity.PROBLEM] == []
    assert found.unused_files == ()
    assert all(act.seal_holds and all(f.intact for f in act.files) for act in found.acts)


def test_the_van_has_the_gaps_that_it_is_meant_to_have_and_no_more() -> None:
    quiet = (State.CONFORMS, State.NOT_APPLICABLE)
    found = {r.requirement.id: r for r in assessed("van-07").requirements if r.state not in quiet}
    assert {i: r.state for i, r in found.items()} == {i: state for i, (state, _) in MEANT.items()}
    assert {i: {g.code for g in r.gaps} for i, r in found.items()} == {i: codes for i, (_, codes) in MEANT.items()}
    states = Counter(r.state for r in assessed("van-07").requirements)
    assert states[State.CONFORMS] >= 25, "nearly finished"
    assert not assessed("van-07").problems


def test_the_library_has_only_begun() -> None:
    states = Counter(r.state for r in assessed("library-02").requirements)
    assert states[State.NOT_SHOWN] > len(assessed("library-02").requirements) / 2
    conforming = {r.requirement.id for r in assessed("library-02").requirements if r.state is State.CONFORMS}
    assert {"pack-type", "pack-design"} <= conforming, "what was shown for the design holds for every pack built to it"


def test_earlier_results_stand_in_the_file_with_what_became_of_them() -> None:
    results = [
        result
        for requirement in assessed("van-07").requirements
        for part in requirement.parts
        for leaf in part.leaves
        for result in leaf.records
    ]
    assert any(r.ended for r in results), "a fail ended by its retest"
    assert any(r.withdrawn for r in results), "a record withdrawn"
    assert any(r.sound and not r.current for r in results), "a record that was good once"


def test_seals_name_every_act_once() -> None:
    acts = [p for p in EVIDENCE.rglob("*.yaml") if "code" in tree_of(p)]
    editions = [p for folder in SET_FOLDERS for p in (folder / "editions").glob("*.yaml")]
    paths = [row["path"] for row in ROWS]
    assert sorted(paths) == sorted(str(p.relative_to(ROOT)) for p in [*acts, *editions])
    codes = [row["code"] for row in ROWS]
    assert len(set(codes)) == len(codes) and all(re.fullmatch(f"[{CODE_ALPHABET}]{{6}}", c) for c in codes)


def test_work_is_done_in_working_hours_and_sealed_after() -> None:
    for name, tree in [*records("van-07"), *records("library-02")]:
        performed = datetime.fromisoformat(tree["performed"])
        assert 7 <= performed.hour <= 17 and performed.weekday() < 5, name
        if "seal" in tree:
            assert performed < datetime.fromisoformat(tree["seal"]["on"]), name
            assert performed.date() == datetime.fromisoformat(tree["seal"]["on"]).date(), name


def test_own_source_readings_obey_the_current_law() -> None:
    """Kirchhoff's current law at the chassis, a meter of 1 GΩ moved from side to side, within its accuracy.

    The two isolation resistances are found from three readings; the other two readings have to follow from them.
    """

    def number(text: str) -> float:
        value, unit = text.split()
        return float(value) * {"V": 1.0, "kΩ": 1e3}[unit]

    meter = 1e9
    seen = 0
    for name, tree in records():
        if tree.get("method") != "voltmeter-own-source/1":
            continue
        seen += 1
        reading = {k: v if k == "ro_at" else number(v) for k, v in tree["readings"].items()}
        near, far = ("u1", "u2") if reading["ro_at"] == "negative" else ("u2", "u1")
        assert reading[near] >= reading[far], name
        ub, ro, u, loaded = reading["ub"], reading["ro"], reading[near], reading[f"{near}_loaded"]
        # The far pole from the loaded reading, the near pole from the unloaded one.
        far_ohm = ro * ub * (1 / loaded - 1 / u)
        near_ohm = 1 / ((ub - u) / (u * far_ohm) - 1 / meter)

        def voltage(to_near: float, to_far: float, ub: float = ub) -> float:
            """Voltage from chassis to the far pole: currents into the chassis add to nothing."""
            return ub * to_far / (to_near + to_far)

        def beside(*ohms: float) -> float:
            return 1 / sum(1 / x for x in ohms)

        predicted = voltage(near_ohm, beside(far_ohm, meter)), voltage(beside(near_ohm, ro), beside(far_ohm, meter))
        for value, key in zip(predicted, (far, f"{far}_loaded"), strict=True):
            accuracy = 0.0015 * reading[key] + 0.2
            slack = 0.0015 * u + 0.2  # the readings that it was found from are not exact either
            assert abs(value - reading[key]) <= accuracy + slack, (name, key, value, reading[key])
        assert ub <= 96 * 4.20, "no higher than 96 cells at their highest voltage"
    assert seen >= 6


def test_the_working_voltage_is_that_of_the_cells() -> None:
    facts = tree_of(EVIDENCE / "vehicles/van-07/facts/2026-09-07-vehicle.yaml")["facts"]
    design = tree_of(EVIDENCE / "designs/pack-p2/B.yaml")["facts"]
    cells = int(design["cells_in_series"]["value"])
    assert facts["working_voltage"]["value"] == f"{cells * float(design['cell_voltage_max']['value'].split()[0]):.1f} V"


def test_papers_and_logs_come_from_their_scripts() -> None:
    for name, data in write_papers.papers().items():
        assert (ROOT / name).read_bytes() == data, name
        assert b"Invented for the demonstration" in data
    total = 0
    for name, text in write_logs.logs().items():
        assert (ROOT / name).read_bytes() == text.encode(), name
        total += len(text)
    assert total < 1_500_000


def test_the_decay_log_crosses_60_volts_where_its_formula_says() -> None:
    """An exponential from 325 V with a time constant of 447.3 ms is at 60 V after 0.4473 · ln(325/60) = 0.7557 s."""
    decay = next(
        result.output
        for requirement in assessed("van-07").requirements
        if requirement.requirement.id == "connector-parted"
        for part in requirement.parts
        for leaf in part.leaves
        for result in leaf.records
        if result.output is not None
    )
    assert decay.value == pytest.approx(0.7557, abs=0.002)


def test_editions_are_those_of_the_sets() -> None:
    for folder in SET_FOLDERS:
        written = write_editions.edition(folder)
        sealed = tree_of(folder / "editions" / "2026-1.yaml")
        assert all(f"  {ident}: {digest}\n" in written for ident, digest in sealed["requirements"].items())
        assert int(sealed["count"]) == written.count("sha256:")


def test_every_picture_is_drawn_small_and_carries_the_code_of_its_record() -> None:
    rows = draw_pictures.table()
    code_of: dict[str, set[str]] = {}
    for row in ROWS:
        if row["path"].startswith("evidence/vehicles/"):
            tree = tree_of(ROOT / row["path"])
            for claim in tree.get("shows", {}).values():
                if "photo" in claim:
                    code_of.setdefault("/".join(row["path"].split("/")[:3]) + "/" + claim["photo"], set()).add(
                        row["code"]
                    )
    assert {row["file"] for row in rows} == set(code_of)
    assert {str(p.relative_to(ROOT)) for p in EVIDENCE.rglob("*.jpg")} == set(code_of)
    for row in rows:
        assert row["code"] in code_of[row["file"]], row["file"]
        assert (ROOT / row["file"]).stat().st_size <= draw_pictures.LARGEST_BYTES


def test_one_picture_carries_a_position_and_lies_on_its_side() -> None:
    turned = []
    for row in draw_pictures.table():
        with Image.open(ROOT / row["file"]) as picture:
            exif = picture.getexif()
            assert exif.get_ifd(ExifTags.IFD.Exif)[ExifTags.Base.DateTimeOriginal.value].startswith("2026:")
            if exif.get_ifd(ExifTags.IFD.GPSInfo):
                assert exif[ExifTags.Base.Orientation.value] == 6 and picture.height > picture.width
                turned.append(row["file"])
    assert len(turned) == 1


def test_a_picture_can_be_drawn_again() -> None:
    """Compared by its pixels: another version of the JPEG library may write other bytes."""
    row = next(r for r in draw_pictures.table() if r["file"].endswith("/pack-sign.jpg"))
    again = Image.open(io.BytesIO(draw_pictures.encoded(row))).convert("L").resize((60, 40))
    with Image.open(ROOT / row["file"]) as there:
        before = there.convert("L").resize((60, 40))
    assert max(abs(a - b) for a, b in zip(again.tobytes(), before.tobytes(), strict=True)) < 12


def test_one_picture_for_two_cables_gives_its_reason() -> None:
    shared = [claim["shared"] for _, tree in records() for claim in tree["shows"].values() if "shared" in claim]
    assert len(shared) == 2
    assert {u.code for u in assessed("van-07").unused} <= {"act.draft"}, "and so it is not listed as used twice"


def test_everything_says_that_it_is_invented() -> None:
    demonstration = workshop().file.demonstration
    assert demonstration is not None and "invented" in demonstration.notice
    assert all((p.email or "").endswith(".invalid") for p in workshop().people.values())
    for act in workshop().acts:
        if isinstance(act.body, Record) and act.body.seal and act.body.seal.vehicle:
            assert (act.body.seal.vehicle.vin or "").startswith("SAMPLE")
