"""Bad folders: each fault with its code, its exact place and its remedy; several at once; and nothing is ever written.

Places are counted by hand in the files of `tests.workshops`. The words are ours and are pinned.
"""

from __future__ import annotations

import hashlib
import struct
import zlib
from collections.abc import Mapping
from pathlib import Path

import pytest

from tests.workshops import FILES, RECORD, commit_all, make, seal_by_hand
from witnessmark.problems import Misuse, Problem, Severity
from witnessmark.reading.check import check
from witnessmark.reading.workshop import find_root, read_workshop

BASE = "evidence/vehicles/van-07/"
PATH = BASE + "records/isolation.yaml"
PHOTO = """\
format: 1
shows:
  isolation/picture: {photo: photos/meter.jpg, finding: meets}
part: traction-bus
performed: 2026-10-14T16:20+02:00
by: {tester: jm}
"""

Row = tuple[str, str, str, str]
"""Place, code, a piece of the message, a piece of the remedy."""


def _png(width: int = 8, height: int = 8, declared: int | None = None) -> bytes:
    """A grey picture; `declared` is a width that its head claims. Written after the PNG specification, clause 5."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    head = struct.pack(">IIBBBBB", declared or width, declared or height, 8, 0, 0, 0, 0)
    rows = b"".join(b"\0" + b"\x80" * width for _ in range(height))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")


def _found(root: Path, *, notes: bool = False) -> list[Problem]:
    problems = check(root, use_cache=False)
    return [p for p in problems if notes or p.severity is Severity.PROBLEM]


def _rows(problems: list[Problem]) -> list[tuple[str, str]]:
    return [(str(p.place), p.code) for p in problems]


def _snapshot(root: Path) -> dict[str, tuple[str, int]]:
    return {
        path.relative_to(root).as_posix(): (hashlib.sha256(path.read_bytes()).hexdigest(), path.stat().st_mtime_ns)
        for path in sorted(root.rglob("*"))
        if path.is_file() and not path.is_symlink()
    }


CASES: tuple[tuple[str, Mapping[str, str | bytes | None], tuple[Row, ...]], ...] = (
    (
        "a wrong unit",
        {PATH: RECORD.replace("5.2 MΩ", "5.2 mV")},
        ((f"{PATH}:12:15", "quantity.dimension", "mV", "Ω"),),
    ),
    (
        "a reading without unit",
        {PATH: RECORD.replace("5.2 MΩ", "5.2")},
        ((f"{PATH}:12:15", "quantity.missing-unit", "'5.2' has no unit", "write the unit"),),
    ),
    (
        "a comma decimal outside brackets",
        {PATH: RECORD.replace("5.2 MΩ", "5,2 MΩ")},
        ((f"{PATH}:12:15", "quantity.comma", "has a comma", "write 5.2, with a point"),),
    ),
    (
        "a comma decimal inside brackets is a list of two",
        {PATH: RECORD.replace("5.2 MΩ", "[5,2 MΩ]")},
        ((f"{PATH}:12:15", "reading.repeated", "has 2 readings", "a decimal has a point: resistance: 5.2 MΩ"),),
    ),
    (
        "not a number, infinity",
        {PATH: RECORD.replace("500 V", "nan V").replace("5.2 MΩ", "inf MΩ")},
        (
            (f"{PATH}:11:17", "quantity.not-finite", "nan", ""),
            (f"{PATH}:12:15", "quantity.not-finite", "inf", ""),
        ),
    ),
    (
        "an unknown key, with the nearest",
        {PATH: RECORD.replace("instruments:", "instrumets:")},
        ((f"{PATH}:8:1", "model.unknown-key", "the key 'instrumets'", "did you mean 'instruments'?"),),
    ),
    (
        "a doubled key",
        {PATH: RECORD + "part: chassis\n"},
        ((f"{PATH}:13:1", "yaml.doubled-key", "'part' is already given in line 4", "keep one"),),
    ),
    (
        "an unknown leaf, with the nearest",
        {PATH: RECORD.replace("isolation/value", "isolation/valve")},
        ((f"{PATH}:3:3", "leaf.unknown", "there is no leaf of isolation 'valve'", "did you mean 'value'?"),),
    ),
    (
        "an unknown requirement, with the nearest",
        {PATH: RECORD.replace("isolation/value", "isolaton/value")},
        (
            (
                f"{PATH}:3:3",
                "leaf.unknown-requirement",
                "there is no requirement 'isolaton'",
                "did you mean 'isolation'?",
            ),
        ),
    ),
    (
        "an unknown part, person, instrument and method at once",
        {
            PATH: RECORD.replace("traction-bus", "traction-buss")
            .replace("tester: jm", "tester: jn")
            .replace("mega-01", "mega-02")
            .replace("insulation-tester/1", "insulation-tester/9")
        },
        (
            (
                f"{PATH}:4:7",
                "part.unknown",
                "there is no part of van-07 'traction-buss'",
                "did you mean 'traction-bus'?",
            ),
            (f"{PATH}:6:14", "person.unknown", "there is no person 'jn'", ""),
            (f"{PATH}:7:9", "method.unknown", "insulation-tester/9", "did you mean 'insulation-tester/1'?"),
            (f"{PATH}:8:23", "instrument.unknown", "there is no instrument 'mega-02'", "did you mean 'mega-01'?"),
        ),
    ),
    (
        "a mistyped reading, which is not also a missing one; and a missing one",
        {PATH: RECORD.replace("resistance:", "resistence:").replace("  test_voltage: 500 V\n", "")},
        (
            (f"{PATH}:10:1", "reading.missing", "needs the reading 'test_voltage'", "write test_voltage: … V"),
            (f"{PATH}:11:3", "reading.unknown", "has no reading 'resistence'", "did you mean 'resistance'?"),
        ),
    ),
    (
        "names of acts that there are not",
        {
            PATH: RECORD + "retest_of: [abc234]\ncause: worn\ncorrection: new cable\n",
            BASE + "records/w.yaml": "format: 1\nwithdraws: zzz234\nbecause: mistaken\nreason: r\nsecond: ao\n"
            "at: 2026-10-15T10:00+02:00\nby: jm\n",
            BASE + "records/x.yaml": "format: 1\ncorrects: yyy234\nevent: opened\npart: traction-bus\n"
            "at: 2026-10-15T10:00+02:00\nby: jm\n",
        },
        (
            (f"{PATH}:13:13", "code.unknown", "no sealed act with the code 'abc234'", ""),
            (f"{BASE}records/w.yaml:2:12", "code.unknown", "'zzz234'", ""),
            (f"{BASE}records/x.yaml:2:11", "code.unknown", "'yyy234'", ""),
        ),
    ),
    (
        "two records with one code",
        {
            PATH: RECORD.replace("format: 1", "format: 1\ncode: abc234"),
            BASE + "records/z.yaml": RECORD.replace("format: 1", "format: 1\ncode: abc234").replace("5.2", "5.4"),
        },
        ((f"{BASE}records/z.yaml:2:7", "act.doubled-code", f"also in {PATH}", "take the line with the code out"),),
    ),
    (
        "a file that is not there",
        {PATH: PHOTO},
        ((f"{PATH}:3:30", "file.missing", "'photos/meter.jpg' is not in evidence/vehicles/van-07/", "put it there"),),
    ),
    (
        "a path outside the folder",
        {PATH: PHOTO.replace("photos/meter.jpg", "../../../etc/x")},
        ((f"{PATH}:3:30", "model.value", "'photo' is '../../../etc/x'", "never leaves it"),),
    ),
    (
        "an absolute path",
        {PATH: PHOTO.replace("photos/meter.jpg", "/etc/passwd")},
        ((f"{PATH}:3:30", "model.value", "'/etc/passwd'", "relative to the vehicle's folder"),),
    ),
    (
        "a picture bomb",
        {PATH: PHOTO.replace("meter.jpg", "meter.png"), BASE + "photos/meter.png": _png(declared=60_000)},
        ((f"{PATH}:3:30", "picture.pixels", "'meter.png'", "fewer pixels"),),
    ),
    (
        "a picture that is none",
        {PATH: PHOTO, BASE + "photos/meter.jpg": b"#!/bin/sh\n"},
        ((f"{PATH}:3:30", "picture.format", "not a JPEG or PNG", "export it as JPEG"),),
    ),
    (
        "an alias bomb",
        {PATH: "a: &a [x, x]\nb: &b [*a, *a, *a]\n"},
        ((f"{PATH}:1:4", "yaml.alias", "anchors", "write the value out"),),
    ),
    (
        "a file of a million brackets",
        {PATH: "[" * 900_000},
        ((f"{PATH}:1:1001", "yaml.depth", "nested", ""),),
    ),
    (
        "a huge file",
        {PATH: "a: " + "x" * 1_000_100},
        ((f"{PATH}:1:1", "yaml.size", "bytes", "split the file"),),
    ),
    (
        "a tag that would build an object",
        {PATH: "a: !!python/object/apply:os.system [true]\n"},
        ((f"{PATH}:1:4", "yaml.tag", "tag", ""),),
    ),
    (
        "a value outside what is plausible, a word that is no choice, a fact that nobody asks",
        {
            BASE + "facts/second.yaml": "format: 1\nfacts:\n  working_voltage: {value: 403.2 kV, source: s}\n"
            "  charging: {value: main, source: s}\n  weight: {value: 3 kg, source: s}\n"
            "stated: 2026-10-02T09:00+02:00\nby: jm\n"
        },
        (
            (f"{BASE}facts/second.yaml:3:28", "fact.range", "outside what is plausible", "look at the unit"),
            (f"{BASE}facts/second.yaml:4:21", "fact.choice", "cannot be 'main'", ""),
            (f"{BASE}facts/second.yaml:5:3", "fact.unknown", "no fact 'weight' is asked", ""),
        ),
    ),
    (
        "a requirement that asks a fact which is not defined",
        {
            "requirements/mini/bus.yaml": FILES["requirements/mini/bus.yaml"].replace(
                "    each: {part: hv-bus}\n", "    each: {part: hv-bus}\n    applies: {colour: red}\n"
            )
        },
        (("requirements/mini/bus.yaml:12:15", "set.unknown-fact", "asks the fact 'colour'", "define it there"),),
    ),
    (
        "a broken set leaves the rest readable",
        {"requirements/mini/bus.yaml": "format: 1\narea: bus\n", PATH: None},
        (
            ("requirements/mini/bus.yaml:1:1", "model.missing-key", "'order' is missing", ""),
            ("requirements/mini/bus.yaml:1:1", "model.missing-key", "'requirements' is missing", ""),
            ("requirements/mini/bus.yaml:1:1", "model.missing-key", "'title' is missing", ""),
        ),
    ),
    (
        "a file that says nothing of what it is",
        {PATH: "format: 1\nshow: {isolation/value: {}}\n"},
        ((f"{PATH}:2:1", "act.unknown", "no key tells", "did you mean 'shows'?"),),
    ),
    (
        "another ending, and a file in no set",
        {BASE + "records/b.yml": RECORD, "requirements/stray.yaml": "format: 1\n"},
        (
            (f"{BASE}records/b.yml", "files.ending", ".yml", "rename it to .yaml"),
            ("requirements/stray.yaml", "set.stray", "belongs to no requirement set", ""),
        ),
    ),
    (
        "a time zone that there is not",
        {"evidence/workshop.yaml": "format: 1\nname: A\nplace: B\nzone: Mars/Olympus\n"},
        (("evidence/workshop.yaml", "workshop.zone", "'Mars/Olympus' is no time zone", "Europe/Stockholm"),),
    ),
)


@pytest.mark.parametrize(("what", "changed", "expected"), CASES, ids=[case[0] for case in CASES])
def test_each_fault_has_code_place_and_remedy(
    tmp_path: Path, what: str, changed: Mapping[str, str | bytes | None], expected: tuple[Row, ...]
) -> None:
    root = make(tmp_path, {PATH: RECORD, **changed})
    commit_all(root)
    before = _snapshot(root)
    problems = _found(root)
    assert _rows(problems) == [(place, code) for place, code, _, _ in expected], what
    for problem, (_, _, message, remedy) in zip(problems, expected, strict=True):
        assert message in problem.message
        assert remedy in problem.remedy
        assert problem.remedy
    assert _snapshot(root) == before, "check wrote something"


def test_the_workshop_that_is_spoiled_above_is_clean(tmp_path: Path) -> None:
    root = make(tmp_path, {PATH: RECORD, BASE + "photos/meter.png": _png()})
    commit_all(root)
    assert _found(root) == []
    assert read_workshop(root, use_cache=False).unused_files == (BASE + "photos/meter.png",)


def test_all_faults_of_several_files_come_together_in_order(tmp_path: Path) -> None:
    root = make(
        tmp_path,
        {
            PATH: RECORD.replace("5.2 MΩ", "5.2").replace("jm", "jn"),
            BASE + "facts/first.yaml": FILES[BASE + "facts/first.yaml"] + "sated: x\n",
            "evidence/people/jm.yaml": "format: 1\nname: J. Marram\nrole: electrician\nphone: 1\n",
            "requirements/mini/set.yaml": "title: [\n",
        },
    )
    commit_all(root)
    rows = _rows(_found(root))
    assert rows == sorted(rows, key=lambda row: row[0].split(":")[0])
    assert {code for _, code in rows} >= {"model.unknown-key", "quantity.missing-unit"}
    assert len({place.split(":")[0] for place, _ in rows}) == 4


def test_a_mistyped_key_hides_no_other_fault_of_the_file(tmp_path: Path) -> None:
    broken = RECORD.replace("5.2 MΩ", "5.2 V").replace("tester: jm", "tester: jn").replace("mega-01", "mega-10")
    root = make(tmp_path, {PATH: broken + "photo: x.jpg\nplaec: bay 2\n"})
    commit_all(root)
    rows = _rows(_found(root))
    codes = [code for place, code in rows if place.startswith(PATH)]
    assert codes.count("model.unknown-key") == 2
    assert {"quantity.dimension", "person.unknown", "instrument.unknown"} <= set(codes), rows


def test_no_git_repository(tmp_path: Path) -> None:
    root = make(tmp_path, {PATH: RECORD})
    (problem,) = _found(root)
    assert problem.code == "git.none"
    assert "git init" in problem.remedy


def test_a_link_is_refused_once_and_not_followed(tmp_path: Path) -> None:
    outside = tmp_path / "outside.jpg"
    outside.write_bytes(_png())
    root = make(tmp_path / "shop", {PATH: PHOTO})
    (root / BASE / "photos").mkdir()
    (root / BASE / "photos/meter.jpg").symlink_to(outside)
    commit_all(root)
    assert _rows(_found(root)) == [(BASE + "photos/meter.jpg", "files.link")]


def test_a_sealed_file_that_changed_or_went(tmp_path: Path) -> None:
    data = _png()
    draft = PHOTO.replace("meter.jpg", "meter.png")
    sealed = seal_by_hand(draft, "7k4qxm", files=[("photos/meter.png", data)])
    root = make(tmp_path, {PATH: sealed, BASE + "photos/meter.png": data})
    commit_all(root)
    assert _found(root) == []
    (root / BASE / "photos/meter.png").write_bytes(_png(9))
    (changed,) = _found(root)
    assert (str(changed.place), changed.code) == (f"{PATH}:4:30", "file.changed")
    assert "put the first one back" in changed.remedy
    act = next(a for a in read_workshop(root, use_cache=False).acts)
    assert [file.intact for file in act.files] == [False]
    (root / BASE / "photos/meter.png").unlink()
    (gone,) = _found(root)
    assert (str(gone.place), gone.code) == (f"{PATH}:4:30", "file.missing")


def test_a_sealed_file_that_was_edited_says_what_differs(tmp_path: Path) -> None:
    root = make(tmp_path, {PATH: seal_by_hand(RECORD, "7k4qxm")})
    commit_all(root)
    (root / PATH).write_text((root / PATH).read_text().replace("5.2 MΩ", "9.2 MΩ"), encoding="utf-8")
    (problem,) = _found(root)
    assert (str(problem.place), problem.code) == (f"{PATH}:13:15", "act.edited")
    assert "readings/resistance was '5.2 MΩ', now '9.2 MΩ'" in problem.message
    assert f"witnessmark record --restore {PATH}" in problem.remedy


def test_a_sealed_file_that_is_gone_is_named_with_the_command_that_brings_it_back(tmp_path: Path) -> None:
    root = make(tmp_path, {PATH: seal_by_hand(RECORD, "7k4qxm")})
    commit_all(root)
    (root / PATH).unlink()
    (problem,) = _found(root)
    assert (str(problem.place), problem.code) == (PATH, "act.missing")
    assert f"witnessmark record --restore {PATH}" in problem.remedy


def test_only_the_files_asked_for(tmp_path: Path) -> None:
    root = make(tmp_path, {PATH: RECORD.replace("jm", "jn"), "evidence/people/jm.yaml": "format: 1\n"})
    commit_all(root)
    found = check(root, [root / PATH], use_cache=False)
    assert {p.place.file for p in found if p.place} == {PATH}


def test_no_folder_at_all(tmp_path: Path) -> None:
    found = find_root(tmp_path)
    assert isinstance(found, Problem)
    assert found.code == "workshop.none"
    with pytest.raises(Misuse):
        check(tmp_path)


def test_the_folder_is_found_from_below(tmp_path: Path) -> None:
    root = make(tmp_path)
    assert find_root(root / "evidence/vehicles/van-07/facts") == root.resolve()
