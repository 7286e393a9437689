"""Facts, parts, people, instruments, papers; and acts about acts: correction, withdrawal, retest, carry-over, check."""

from __future__ import annotations

from pathlib import Path

import pytest

from witnessmark.assessment.assess import assess
from witnessmark.reading.check import check
from witnessmark.reading.workshop import read_workshop
from witnessmark.records.acts import Calibration, CarryOver, Check, Event, Record, Statement, Withdrawal

from .conftest import Run
from .shop import BASE, git
from .test_record import MEASURED

FAILED = MEASURED.replace('"5,2"', '"0,2"')


def _state(root: Path) -> str:
    return assess(read_workshop(root, use_cache=False), "van-07").requirements[0].state.value


def _leaf(root: Path) -> str:
    part = assess(read_workshop(root, use_cache=False), "van-07").requirements[0].parts[0]
    return next(leaf.state.value for leaf in part.leaves if leaf.name == "value")


def _last(root: Path) -> object:
    acts = read_workshop(root, use_cache=False).acts
    return max(acts, key=lambda a: a.appeared if a.appeared is not None else -1).body


def _clean(root: Path) -> None:
    assert [p for p in check(root, use_cache=False) if p.severity == "problem"] == []
    assert git(root, "status", "--porcelain") == ""


def test_a_retest_names_every_fail_that_stands(root: Path, run: Run) -> None:
    codes = [run("record", answers=FAILED.replace("16:20", f"16:2{n}")).recorded[0]["code"] for n in range(2)]
    assert _state(root) == "nonconforming"
    plain = run("record", answers=MEASURED.replace("16:20", "16:30"))
    assert plain.status == 0
    assert _state(root) == "nonconforming", "a pass that names no fail ends none"
    again = MEASURED.replace("what: isolation/value\n", "").replace("16:20", "16:40")
    refused = run("record", "--retest", codes[0], answers=again)
    assert refused.status == 2
    assert "'cause'" in refused.err and "'correction'" in refused.err
    said = run("record", "--retest", codes[0], answers=again + "cause: a wet plug\ncorrection: dried and sealed\n")
    assert said.status == 0, said.err
    body = _last(root)
    assert isinstance(body, Record)
    assert set(body.retest_of) == set(codes)
    assert (body.cause, body.correction) == ("a wet plug", "dried and sealed")
    assert _leaf(root) == "conforms"
    ended = run("record", "--retest", codes[0], answers=again + "cause: a\ncorrection: b\n")
    assert "no fail that still stands" in ended.err
    _clean(root)


def test_at_the_terminal_a_standing_fail_asks_for_its_cause(root: Path, run: Run) -> None:
    run("record", answers=FAILED)
    typed = ("yes", "", "", "", "", "", "", "", "", "500", "5,2", "a wet plug", "dried", "", "", "keep")
    said = run("record", "van-07", "isolation/value", "--by", "jm", typed=typed)
    assert said.status == 0, said.err
    assert "1 fail stands until a retest names it" in said.err
    assert _leaf(root) == "conforms"


def test_a_typing_error_is_corrected_with_its_proof_and_a_second_person(root: Path, run: Run) -> None:
    code = run("record", answers=MEASURED.replace('"5,2"', '"0,52"')).recorded[0]["code"]
    fix = "by: jm\nlines: [readings.resistance]\nnew: {readings.resistance: 5.2 MΩ}\n"
    head = git(root, "rev-parse", "HEAD")
    without = run("record", "--correct", code, answers=fix)
    assert without.status == 2
    assert "'proof'" in without.err
    assert git(root, "rev-parse", "HEAD") == head
    alone = run("record", "--correct", code, answers=fix + "proof: photo of the meter\nsecond: jm\n")
    assert alone.status == 2, "the second person is somebody else"
    said = run("record", "--correct", code, answers=fix + "proof: photo of the meter\nsecond: ao\n")
    assert said.status == 0, said.err
    body = _last(root)
    assert isinstance(body, Record)
    assert (body.corrects, body.proof, body.second) == (code, "photo of the meter", "ao")
    assert body.readings["resistance"] == "5.2 MΩ"
    assert _leaf(root) == "conforms"
    _clean(root)


def test_a_second_person_checks_later_in_an_act_of_their_own(root: Path, run: Run) -> None:
    code = run("record", answers=FAILED).recorded[0]["code"]
    fix = "by: jm\nlines: [readings.resistance]\nnew: {readings.resistance: 5.2 MΩ}\nproof: the sheet\n"
    said = run("record", "--correct", code, answers=fix)
    assert said.status == 0, said.err
    assert any("--check" in doubt for doubt in said.recorded[0]["doubts"])
    correction = said.recorded[0]["code"]
    assert _leaf(root) != "conforms"
    by_maker = run("record", "--check", correction, answers="by: jm\nagrees: yes\n")
    assert by_maker.status == 2
    assert "'jm' is not among the answers" in by_maker.err
    assert run("record", "--check", correction, answers="by: ao\nagrees: yes\n").status == 0
    assert isinstance(_last(root), Check)
    assert _leaf(root) == "conforms"
    no = run("record", "--check", correction, answers="by: ao\nagrees: no\nreason: the sheet is of another van\n")
    assert no.status == 0, no.err
    assert _leaf(root) != "conforms", "who does not agree takes it away"
    _clean(root)


def test_a_withdrawal_has_a_reason_and_a_second_person(root: Path, run: Run) -> None:
    code = run("record", answers=FAILED).recorded[0]["code"]
    said = run("record", "--withdraw", code, answers="by: jm\nbecause: moved\nreason: wrong van\nsecond: ao\n")
    assert said.status == 2
    assert "'moved_to'" in said.err
    said = run("record", "--withdraw", code, answers="by: jm\nbecause: mistaken\nreason: leads swapped\nsecond: ao\n")
    assert said.status == 0, said.err
    body = _last(root)
    assert isinstance(body, Withdrawal)
    assert (body.withdraws, body.reason, body.second) == (code, "leads swapped", "ao")
    assert _state(root) == "not-shown"
    assert "no sealed act has the code" in run("record", "--withdraw", "222222", answers="by: jm\n").err


def test_a_change_shows_what_lapses_and_a_carry_over_brings_it_back(root: Path, run: Run) -> None:
    code = run("record", answers=MEASURED).recorded[0]["code"]
    said = run("change", "van-07", "traction-bus", "--by", "jm", typed=("opened", "", "", "new grommet", "", "leave"))
    assert said.status == 2
    assert _leaf(root) == "conforms", "nothing was kept"
    change = "event: opened\nat: 2026-10-15 10:00\nby: jm\nwhy: new grommet\n"
    said = run("change", "van-07", "traction-bus", answers=change)
    assert said.status == 0, said.err
    assert isinstance(_last(root), Event)
    assert _leaf(root) == "lapsed"
    other = run("record", "--carry-over", said.recorded[0]["code"], answers="by: jm\n")
    assert "is no record" in other.err
    carry = "by: jm\nreason: the grommet is outside the enclosure\nsecond: ao\n"
    said = run("record", "--carry-over", code, answers=carry)
    assert said.status == 0, said.err
    assert isinstance(_last(root), CarryOver)
    assert _leaf(root) == "conforms"
    assert "there is nothing to carry it over" in run("record", "--carry-over", code, answers=carry).err
    _clean(root)


def test_what_lapses_is_told_before_the_event_is_kept(root: Path, run: Run, photo: Path) -> None:
    answers = MEASURED.replace("what: isolation/value", "what: isolation").replace(
        "note:", f"leaves: [value, picture]\npicture: {{photo: {photo}, seen: meter, finding: meets}}\nnote:"
    )
    assert run("record", answers=answers).status == 0
    said = run("change", "van-07", "traction-bus", "--by", "jm", typed=("opened", "", "", "", "", "leave"))
    assert "Isolation of the bus (1.1): conforms → lapsed" in said.out
    assert "CAUTION. High voltage can kill." in said.err


def test_a_part_is_replaced_with_its_serial(root: Path, run: Run) -> None:
    change = "event: replaced\nat: 2026-10-15 10:00\nremoved: {serial: A-1}\nfitted: {serial: B-2}\n"
    said = run("change", "van-07", "traction-bus", answers="by: jm\n" + change)
    assert said.status == 0, said.err
    body = _last(root)
    assert isinstance(body, Event)
    assert body.fitted is not None and body.fitted.serial == "B-2"
    assert "there is no part 'pack'" in run("change", "van-07", "pack", answers=change).err


def test_facts_are_stated_with_their_source(root: Path, run: Run) -> None:
    said = run("record", "van-07", "facts", answers="by: jm\nfact: {vin: X}\nsource: {vin: plate}\n")
    assert said.status == 2, "all that is wanted is stated already"
    text = (root / "requirements/mini/bus.yaml").read_text().replace("each: {part: hv-bus}", "applies: {charging: ac}")
    (root / "requirements/mini/bus.yaml").write_text(text)
    git(root, "commit", "-qam", "a requirement that asks more")
    without = run("record", "van-07", "facts", answers="by: jm\nfact: {charging: ac}\n")
    assert without.status == 2 and "'source.charging'" in without.err
    said = run("record", "van-07", "facts", answers="by: jm\nfact: {charging: diesel}\nsource: {charging: order}\n")
    assert said.status == 2 and "'diesel' is not among the answers" in said.err
    said = run("record", "van-07", "facts", answers="by: jm\nfact: {charging: ac}\nsource: {charging: order 7}\n")
    assert said.status == 0, said.err
    body = _last(root)
    assert isinstance(body, Statement)
    assert (body.facts["charging"].value, body.facts["charging"].source) == ("ac", "order 7")


def test_a_list_of_parts_and_the_empty_list(root: Path, run: Run) -> None:
    text = (root / "requirements/mini/bus.yaml").read_text().replace("part: hv-bus", "part: hv-cable")
    (root / "requirements/mini/bus.yaml").write_text(text)
    git(root, "commit", "-qam", "asks cables")
    answers = "by: jm\ntitles: [Cable to the inverter, Cable to the heater]\nsource: drawing\n"
    answers += "cable-to-the-heater: {serial: C-2}\n"
    said = run("record", "van-07", "parts", "hv-cable", answers=answers)
    assert said.status == 0, said.err
    body = _last(root)
    assert isinstance(body, Statement)
    listed = body.parts["hv-cable"].list
    assert {k: (v.title, v.serial) for k, v in listed.items()} == {
        "cable-to-the-inverter": ("Cable to the inverter", None),
        "cable-to-the-heater": ("Cable to the heater", "C-2"),
    }
    assert "is not missing" in run("record", "van-07", "parts", "hv-cable", answers=answers).err


OFFICE = {
    "person": "name: B. Sedge\nid: bs\nrole: fitter\n",
    "vehicle": "id: van-09\ntitle: another van\n",
    "instrument": "title: Voltmeter\nid: dmm-09\nserial: V-9\nfunctions: [dc-voltage]\n",
    "calibration": (
        "instrument: mega-01\non: 2026-09-01\ndue: 2027-08-31\ncertificate: FB-9\nlaboratory: Bench (invented)\n"
        "as_found: in-tolerance\n"
        "insulation-resistance: {1: {low: 0 MΩ, high: 20 GΩ, percent_of_reading: '3,5', digits: 2, "
        "resolution: 0.01 MΩ}}\n"
    ),
    "authorisation": "person: ao\nfor: [measure, inspect]\nfrom: 2026-10-01\nuntil: 2026-12-31\nbasis: engineer\n",
    "policy": "rule: simple\ncap: 10\nin_force: 2026-10-15\nfour_eyes_release: 'yes'\n",
    "design": "design: pack-p9\nrevision: A\nkind: traction-pack\ntitle: Pack P9\nissued: 2026-10-01\n",
}


@pytest.mark.parametrize("what", sorted(OFFICE))
def test_what_is_kept_in_the_office(root: Path, run: Run, what: str) -> None:
    said = run("record", what, answers="by: jm\n" + OFFICE[what])
    assert said.status == 0, said.err
    _clean(root)
    if what == "calibration":
        body = _last(root)
        assert isinstance(body, Calibration)
        assert body.accuracy[0].model_dump(exclude_none=True, exclude={"low", "high"})["resolution"] == "0.01 MΩ"


def test_a_certificate_and_a_letter_are_copied_and_hashed(root: Path, run: Run, tmp_path: Path) -> None:
    paper = tmp_path / "FB-9.pdf"
    paper.write_bytes(b"%PDF-1.4 invented")
    said = run("record", "calibration", answers="by: jm\n" + OFFICE["calibration"] + f"file: {paper}\n")
    assert said.status == 0, said.err
    body = _last(root)
    assert isinstance(body, Calibration)
    assert body.files[0].name == "instruments/mega-01/calibrations/FB-9.pdf"
    letter = (
        f"by: jm\nrequirement: isolation\nissuer: an authority (invented)\nnumber: L-1\ndocument: {paper}\n"
        "issued: 2026-10-01\nlast_day: 2026-12-31\nterms: until the new bus is fitted\n"
    )
    assert run("record", "concession", "van-07", answers=letter).status == 0
    assert (root / "evidence/concessions/FB-9.pdf").is_file()
    _clean(root)


def test_an_edited_seal_is_put_back_and_the_command_that_was_meant_is_named(root: Path, run: Run) -> None:
    said = run("record", answers=MEASURED)
    path = root / said.recorded[0]["path"]
    sealed = path.read_bytes()
    path.write_bytes(sealed.replace(b"5.2 M", b"9.2 M"))
    (problem,) = [p for p in check(root, use_cache=False) if p.severity == "problem"]
    assert f"record --restore {said.recorded[0]['path']}" in problem.remedy
    assert f"record --correct {said.recorded[0]['code']}" in problem.remedy
    assert run("record", "--restore", said.recorded[0]["path"]).status == 0
    assert path.read_bytes() == sealed
    path.unlink()
    assert run("record", "--restore", said.recorded[0]["code"]).status == 0
    assert path.read_bytes() == sealed
    _clean(root)
    assert BASE in str(path)


def test_nothing_of_a_file_is_kept_while_one_part_of_it_is_wrong(root: Path, run: Run) -> None:
    """Two buses; the readings of the second make no sense, then its tester is not authorised: the first waits."""
    text = (root / BASE / "facts/first.yaml").read_text()
    assert "traction-bus" in text
    change = "by: jm\nevent: fitted\nnew: Charge bus\nat: 2026-10-14 10:00\nfitted: {kind: hv-bus, serial: C-1}\n"
    assert run("change", "van-07", answers=change).status == 0
    head = git(root, "rev-parse", "HEAD")
    common = (
        "vehicle: van-07\nwhat: isolation/value\nby: jm\nmethod: insulation-tester/1\n"
        "instrument: {tester: mega-01}\nperformed: 2026-10-14 16:20\neach:\n"
        "  traction-bus: {reading: {test_voltage: 500, resistance: 5.2}}\n"
    )
    for second, words in (
        ("  charge-bus: {reading: {test_voltage: 500, resistance: 5 V}}\n", "Resistance shown"),
        ("  charge-bus: {tester: ao, reading: {test_voltage: 500, resistance: 5}}\n", "not authorised"),
        ("  chargebus: {reading: {test_voltage: 500, resistance: 5}}\n", "did you mean charge-bus"),
    ):
        said = run("record", answers=common + second)
        assert said.status == 2
        assert words in said.err
        assert git(root, "rev-parse", "HEAD") == head
    said = run("record", answers=common + "  charge-bus: {reading: {test_voltage: 500, resistance: 5}}\n")
    assert said.status == 0, said.err
    assert len(said.recorded) == 2
