"""`record` with answers in a file and typed at the terminal: what is kept, what is told, what is refused."""

from __future__ import annotations

import errno
import json
from pathlib import Path

import pytest

from witnessmark.assessment.assess import assess
from witnessmark.document.sheets.asked import sheet_code
from witnessmark.reading.check import check
from witnessmark.reading.workshop import read_workshop
from witnessmark.records.acts import Record

from .conftest import Run
from .shop import BASE, git

MEASURED = """\
vehicle: van-07
what: isolation/value
by: jm
performed: 2026-10-14 16:20
tester: jm
instrument: {tester: mega-01}
condition: {air: 17 °C}
reading: {test_voltage: 500, resistance: "5,2"}
note: "dry, in bay 2"
"""


def _same(root: Path, head: str) -> None:
    assert git(root, "rev-parse", "HEAD") == head
    assert git(root, "status", "--porcelain") == ""


def test_a_measurement_is_told_sealed_and_committed(root: Path, run: Run) -> None:
    said = run("record", answers=MEASURED)
    assert said.status == 0, said.err
    (one,) = said.recorded
    assert [(r["leaf"], r["verdict"]) for r in one["results"]] == [("value", "pass")]
    assert one["results"][0]["words"].startswith("5.2")
    assert "needs at least 1 MΩ" in one["results"][0]["words"]
    act = next(a for a in read_workshop(root, use_cache=False).acts if a.code == one["code"])
    assert isinstance(act.body, Record)
    assert act.body.readings["resistance"] == "5.2 MΩ"
    assert act.body.seal is not None and act.body.seal.by == "jm"
    assert (
        git(root, "log", "-1", "--format=%an|%s")
        == f"J. Marram|Measured: Isolation of the bus: Traction bus ({act.code})"
    )
    assert [p for p in check(root, use_cache=False) if p.severity == "problem"] == []


def test_several_readings_and_a_photograph_in_one_act(root: Path, run: Run, photo: Path) -> None:
    answers = MEASURED.replace("what: isolation/value", "what: isolation").replace(
        "note:",
        f"leaves: [value, picture]\npicture: {{photo: {photo}, seen: meter reads 5.2 MΩ, finding: meets}}\nnote:",
    )
    said = run("record", answers=answers)
    assert said.status == 0, said.err
    (one,) = said.recorded
    assert {r["leaf"]: r["verdict"] for r in one["results"]} == {"value": "pass", "picture": "pass"}
    assert one["states"] == [
        {"title": "Isolation of the bus", "clause": "1.1", "before": "not-shown", "after": "conforms"}
    ]
    copied = root / BASE / "photos" / "meter.jpg"
    assert copied.read_bytes() == photo.read_bytes()


@pytest.mark.parametrize(
    ("changed", "code", "words"),
    [
        (("instrument: {tester: mega-01}", "instrument: {tester: mega-02}"), "answer.choice", "mega-02"),
        (("tester: jm\n", "tester: xx\n"), "answer.choice", "xx"),
        (("performed: 2026-10-14 16:20", "performed: 2026-10-16 16:20"), "answer.ahead", "ahead of the clock"),
        (("vehicle: van-07", "vehicle: van-08"), "vehicle.unknown", "van-08"),
        (("what: isolation/value", "what: isolation/valu"), "leaf.unknown", "did you mean value"),
        (("what: isolation/value", "what: insulation"), "requirement.unknown", "did you mean isolation"),
        (('resistance: "5,2"', 'resistanse: "5,2"'), "answer.unknown", "did you mean 'reading.resistance'"),
        (('resistance: "5,2"', "resistance: 5.2 V"), "quantity", "V"),
        (("by: jm", "by: nobody"), "person.unknown", "nobody"),
    ],
)
def test_answers_that_make_no_sense_are_refused_and_nothing_is_written(
    root: Path, run: Run, changed: tuple[str, str], code: str, words: str
) -> None:
    head = git(root, "rev-parse", "HEAD")
    assert changed[0] in MEASURED
    said = run("record", answers=MEASURED.replace(*changed))
    assert said.status == 2
    assert words in said.err
    problems = json.loads(said.out)["problems"]
    assert any(p["code"].startswith(code) for p in problems)
    _same(root, head)


def test_all_faults_of_a_file_are_listed_at_once_with_their_places(root: Path, run: Run) -> None:
    said = run("record", answers=MEASURED.replace("500", "abc").replace('"5,2"', "5 A").replace("mega-01", "mo"))
    assert said.status == 2
    assert [said.err.count(f"answers.yaml:{line}:") for line in (6, 8)] == [1, 2], said.err


def test_answers_for_another_vehicle_are_refused(root: Path, run: Run) -> None:
    said = run("record", "van-08", answers=MEASURED)
    assert said.status == 2
    assert "for van-07, not for van-08" in said.err


@pytest.mark.parametrize(
    ("day", "words"),
    [("2027-03-01", "calibrat"), ("2025-06-01", "calibrat")],
)
def test_an_instrument_out_of_its_calibration_is_refused(root: Path, run: Run, day: str, words: str) -> None:
    late = (root / "evidence/workshop.yaml").read_text().replace("2026-10-15", "2027-03-02")
    (root / "evidence/workshop.yaml").write_text(late)
    git(root, "commit", "-qam", "later")
    head = git(root, "rev-parse", "HEAD")
    said = run("record", answers=MEASURED.replace("2026-10-14 16:20", f"{day} 10:00"))
    assert said.status == 2
    assert words in said.err and "mega-01" in said.err
    _same(root, head)


def test_somebody_not_authorised_is_refused(root: Path, run: Run) -> None:
    said = run("record", answers=MEASURED.replace("tester: jm", "tester: ao"))
    assert said.status == 2
    assert "ao was not authorised" in said.err


def test_a_draft_counts_for_nothing_and_is_sealed_later(root: Path, run: Run, tmp_path: Path) -> None:
    file = tmp_path / "draft.yaml"
    file.write_text(MEASURED)
    head = git(root, "rev-parse", "HEAD")
    said = run("record", "--answers", str(file), "--draft", "--format", "json")
    assert said.status == 0, said.err
    path = said.recorded[0]["path"]
    assert said.recorded[0]["draft"] and git(root, "rev-parse", "HEAD") == head
    text = (root / path).read_text() + "# a comment of mine\n"
    (root / path).write_text(text)
    assert run("record", "--seal", path, "--by", "jm").status == 0
    assert (root / path).read_text().count("# a comment of mine") == 1
    assert "seal:" in (root / path).read_text()


AT_THE_BUS = ("14:20", "", "bay 2", "", "?", "", "", "17 °C", "")
"""When, who, where, method, instrument (with a question why), battery, air, humidity."""


def test_typed_at_the_terminal_one_blank_at_a_time(root: Path, run: Run) -> None:
    said = run(
        "record", "van-07", "isolation/value", "--by", "jm",
        typed=(*AT_THE_BUS, "5", "", "500", "5.2 A", "OL", "", "", "again", "500", "5,2", "keep"),
    )  # fmt: skip
    assert said.status == 0, said.err
    assert "CAUTION. High voltage can kill." in said.err
    assert "LOOK AGAIN: 5 V is less than is plausible here" in said.err
    assert "can apply at least half the working voltage" in said.err, "what the question mark says"
    first, second = [line for line in said.out.splitlines() if line.startswith("  isolation/value: ")]
    assert first == "  isolation/value: > 20 GΩ, needs at least 1 MΩ: PASS"
    assert second.startswith("  isolation/value: 5.2") and second.endswith("needs at least 1 MΩ: PASS")
    (record,) = [a.body for a in read_workshop(root, use_cache=False).acts if isinstance(a.body, Record)]
    assert dict(record.readings) == {"test_voltage": "500 V", "resistance": "5.2 MΩ"}
    assert dict(record.conditions) == {"air": "17 °C"}


def test_leaving_in_the_middle_keeps_nothing(root: Path, run: Run) -> None:
    head = git(root, "rev-parse", "HEAD")
    said = run("record", "van-07", "isolation/value", "--by", "jm", typed=(*AT_THE_BUS, "500"))
    assert said.status == 2
    assert "what was not kept is gone" in said.err
    _same(root, head)
    said = run("record", "van-07", "isolation/value", "--by", "jm", typed=(*AT_THE_BUS, "500", "5", "", "", "leave"))
    assert said.status == 2
    _same(root, head)


def test_a_result_that_would_not_count_is_not_kept_by_enter(root: Path, run: Run) -> None:
    """The method's own alarm: the test voltage is too low. Enter reads again; only `keep` keeps it."""
    said = run(
        "record", "van-07", "isolation/value", "--by", "jm",
        typed=(*AT_THE_BUS, "50", "5", "", "", "", "500", "5", "keep"),
    )  # fmt: skip
    assert said.status == 0, said.err
    assert "MEASURE AGAIN: " in said.out or "IT WILL NOT COUNT: " in said.out
    (record,) = [a.body for a in read_workshop(root, use_cache=False).acts if isinstance(a.body, Record)]
    assert record.readings["test_voltage"] == "500 V"


def test_the_next_jobs_to_choose_from(root: Path, run: Run) -> None:
    said = run("record", "--by", "jm", typed=("nothing",))
    assert said.status == 2, "nothing was kept"
    assert "Isolation of the bus, not shown" in said.err


def test_the_pinned_demonstration_without_history_takes_nothing(run: Run) -> None:
    said = run("record", "--folder", str(Path(__file__).parents[2]), "van-07", "facts")
    assert said.status == 2
    assert "start --example" in said.err


def test_a_file_that_is_missing_empty_or_a_link_is_refused(root: Path, run: Run, tmp_path: Path, photo: Path) -> None:
    head = git(root, "rev-parse", "HEAD")
    empty, link = tmp_path / "empty.jpg", tmp_path / "link.jpg"
    empty.touch()
    link.symlink_to(photo)
    for file, words in ((tmp_path / "no.jpg", "not there"), (empty, "is empty"), (link, "is a link")):
        answers = (
            f"what: isolation/picture\nby: jm\nperformed: now\npicture: {{photo: {file}, seen: x, finding: meets}}\n"
        )
        said = run("record", answers=answers)
        assert said.status == 2
        assert words in said.err
    _same(root, head)


def test_a_filled_sheet_is_typed_in_by_its_code_and_a_stale_one_is_refused(root: Path, run: Run) -> None:
    """The requirement has to say when it is shown: a job with the bus dead makes a sheet of it."""
    file = root / "requirements/mini/bus.yaml"
    job = "criteria: {full: {at_least: 1 MΩ}}, job: {bus: dead}}"
    file.write_text(file.read_text().replace("criteria: {full: {at_least: 1 MΩ}}}", job))
    git(root, "commit", "-qam", "a job")
    workshop = read_workshop(root, use_cache=False)
    code = sheet_code(workshop, assess(workshop, "van-07"), "mini", "isolation", ["value"])
    assert code is not None
    answers = MEASURED.replace("what: isolation/value", f"sheet: {code}")
    said = run("record", answers=answers)
    assert said.status == 0, said.err
    other = "2" * 12
    for wrong, words in ((code[:-4] + "2222", "stale"), (other, "no sheet of van-07"), ("abc", "three groups")):
        said = run("record", answers=answers.replace(code, wrong))
        assert said.status == 2
        assert words in said.err


@pytest.mark.parametrize(
    ("number", "words"),
    [(errno.ENOSPC, "the disk is full"), (errno.EROFS, "can only be read"), (errno.EACCES, "rights")],
)
def test_a_disk_that_does_not_take_it_is_said_and_nothing_is_written(
    root: Path, run: Run, monkeypatch: pytest.MonkeyPatch, number: int, words: str
) -> None:
    head = git(root, "rev-parse", "HEAD")

    def refuse(*arguments: object, **more: object) -> None:
        raise OSError(number, "refused", "somewhere")

    with monkeypatch.context() as patched:
        patched.setattr("witnessmark.recording.keep.write_atomically", refuse)
        said = run("record", answers=MEASURED)
    assert said.status == 2
    assert words in said.err and "fault of ours" not in said.err
    _same(root, head)
    assert run("record", answers=MEASURED).status == 0
