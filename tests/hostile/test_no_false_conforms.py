"""Attempts to make the demonstration's van look better without new evidence: none may improve any requirement.

Each is made on a copy with its history, left uncommitted, and the telling ones are committed as well. Nothing may be
better than before, and no requirement that was asked may be gone: what is not sound can hurt, but cannot help.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Callable, Mapping
from pathlib import Path

import pytest

from witnessmark.assessment.assess import assess
from witnessmark.assessment.model import State
from witnessmark.reading.workshop import read_workshop
from witnessmark.recording.start import start_example

VAN = "evidence/vehicles/van-07"
HEATER = f"{VAN}/records/isolation-heater-bus.yaml"
RANK = {
    State.NOT_APPLICABLE: 0,
    State.CONFORMS: 1,
    State.UNDER_CONCESSION: 2,
    State.UNDECIDED: 3,
    State.NOT_SHOWN: 4,
    State.LAPSED: 4,
    State.NONCONFORMING: 5,
}

Attempt = Callable[[Path], None]


def edit(pattern: str, old: str, new: str) -> Attempt:
    """Replace by regular expression in every file that the pattern finds; it has to hit something."""

    def act(root: Path) -> None:
        hits = 0
        for path in sorted(root.glob(pattern)):
            text = path.read_text(encoding="utf-8")
            changed, count = re.subn(old, new, text)
            hits += count
            path.write_text(changed, encoding="utf-8")
        assert hits, f"{old!r} is nowhere in {pattern}"

    return act


def delete(pattern: str) -> Attempt:
    def act(root: Path) -> None:
        found = sorted(root.glob(pattern))
        assert found, pattern
        for path in found:
            shutil.rmtree(path) if path.is_dir() else path.unlink()

    return act


def write(path: str, text: str) -> Attempt:
    def act(root: Path) -> None:
        (root / path).write_text(text, encoding="utf-8")

    return act


def copy(source: str, target: str, old: str = "", new: str = "") -> Attempt:
    def act(root: Path) -> None:
        text = (root / source).read_text(encoding="utf-8")
        (root / target).write_text(text.replace(old, new) if old else text, encoding="utf-8")

    return act


def move(source: str, target: str) -> Attempt:
    def act(root: Path) -> None:
        (root / source).rename(root / target)

    return act


ATTEMPTS: Mapping[str, Attempt] = {
    "the failed record is deleted": delete(HEATER),
    "its verdicts are taken out of the seal": edit(HEATER, r"  found:\n(?:    .*\n)+", ""),
    "it is said to be of another part": edit(HEATER, r"part: heater-bus", "part: traction-bus"),
    "its reading is made better": edit(HEATER, r"u2_loaded: [0-9.]+ V", "u2_loaded: 20.0 V"),
    "it is moved to another vehicle": move(HEATER, "evidence/vehicles/library-02/records/isolation-heater-bus.yaml"),
    "it lies there twice, one of them edited": copy(HEATER, f"{VAN}/records/copy.yaml", "kΩ", "MΩ"),
    "its seal is taken off": edit(HEATER, r"seal:\n(?:  .*\n)+", ""),
    "a passing retest lies there unsealed": write(
        f"{VAN}/records/retest.yaml",
        "format: 1\nshows: {isolation-joined-bus/isolation: {}}\npart: heater-bus\n"
        "performed: 2026-11-20T10:00+01:00\nby: {tester: jm, witness: ao}\nmethod: insulation-tester/1\n"
        "retest_of: [2m8wfd]\ncause: x\ncorrection: y\nreadings: {resistance: 5 MΩ, test_voltage: 500 V}\n",
    ),
    "the limit is loosened": edit("requirements/un-r100-03/isolation.yaml", r"at_least: 100 Ω/V", "at_least: 1 Ω/V"),
    "the requirement is taken out": edit(
        "requirements/un-r100-03/isolation.yaml",
        r"  - id: isolation-joined-bus[\s\S]*?(?=  - id: isolation-monitor-fuel-cell)",
        "",
    ),
    "the edition of the set is deleted": delete("requirements/un-r100-03/editions/*.yaml"),
    "the whole set is deleted": delete("requirements/un-r100-03"),
    "the vehicle no longer chooses the set": edit(
        f"{VAN}/facts/*.yaml", r"value: \[un-r100-03, conversion-practice\]", "value: [conversion-practice]"
    ),
    "the event that lapsed a test is deleted": delete(f"{VAN}/events/*.yaml"),
    "the missing connector is taken off the list": edit(f"{VAN}/facts/*.yaml", r"\n +x8: \{[^\n]*\}", ""),
    "every list of parts is deleted": delete(f"{VAN}/facts/*parts*.yaml"),
    "an unsealed event removes the connector": write(
        f"{VAN}/events/removed.yaml",
        "format: 1\nevent: removed\nat: 2026-11-20T10:00+01:00\nby: jm\npart: x8\nremoved: {}\n",
    ),
    "an unsealed fact says that it does not apply": write(
        f"{VAN}/facts/none.yaml",
        "format: 1\nparts: {hv-bus: {source: x, list: {}}}\nstated: 2026-11-22T10:00+01:00\nby: jm\n",
    ),
    "the overdue meter gets a later date": edit(
        "evidence/instruments/mo-02/calibrations/*.yaml", r"due: 2026-08-19", "due: 2027-08-19"
    ),
    "all meters get better": edit(
        "evidence/instruments/*/calibrations/*.yaml", r"percent_of_reading: [0-9.]+", "percent_of_reading: 0.0001"
    ),
    "the policy decides more kindly": edit("evidence/policy/*.yaml", r"rule: guarded", "rule: simple, cap: 50 %"),
    "the policy takes a narrower guard band": edit(
        "evidence/policy/*.yaml", r"rule: guarded", "rule: guarded, probability: 95 %"
    ),
    "the concession lasts longer and covers more": edit(
        "evidence/concessions/*.yaml", r"requirement: [a-z-]+", "requirement: isolation-joined-bus"
    ),
    "the concession is deleted": delete("evidence/concessions/*.yaml"),
    "a passing record is sealed by hand for the missing connector": copy(
        f"{VAN}/records/connector-x1.yaml", f"{VAN}/records/connector-x8.yaml", "x1", "x8"
    ),
    "a finding is written into the sealed photograph's record": edit(
        f"{VAN}/records/warning-sign-pack.yaml",
        r"photo: photos/pack-sign.jpg",
        "photo: photos/pack-sign.jpg, finding: meets",
    ),
    "the people are deleted": delete("evidence/people/jm.yaml"),
    "the logs are deleted": delete(f"{VAN}/logs/*.csv"),
    "the photographs are deleted": delete(f"{VAN}/photos/*.jpg"),
}

COMMITTED = (
    "the failed record is deleted",
    "its verdicts are taken out of the seal",
    "its reading is made better",
    "it is moved to another vehicle",
    "its seal is taken off",
    "the limit is loosened",
    "the requirement is taken out",
    "the whole set is deleted",
    "the event that lapsed a test is deleted",
    "the missing connector is taken off the list",
    "the overdue meter gets a later date",
    "the policy decides more kindly",
    "a passing record is sealed by hand for the missing connector",
)


def _states(root: Path) -> dict[tuple[str, str], State]:
    found = assess(read_workshop(root), "van-07")
    return {(r.set_id, r.id): r.state for r in found.requirements}


@pytest.fixture(scope="module")
def base(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = tmp_path_factory.mktemp("attempts") / "base"
    start_example(root)
    return root


@pytest.fixture(scope="module")
def before(base: Path) -> dict[tuple[str, str], State]:
    return _states(base)


@pytest.mark.parametrize(
    ("name", "committed"),
    [*((name, False) for name in ATTEMPTS), *((name, True) for name in COMMITTED)],
    ids=lambda value: value if isinstance(value, str) else "committed" if value else "uncommitted",
)
def test_nothing_gets_better(
    base: Path, before: dict[tuple[str, str], State], tmp_path: Path, name: str, committed: bool
) -> None:
    root = tmp_path / "copy"
    shutil.copytree(base, root)
    ATTEMPTS[name](root)
    if committed:
        author = ["-c", "user.name=Somebody", "-c", "user.email=somebody@example.invalid"]
        for words in (["add", "-A"], [*author, "commit", "-qm", "as if nothing had been"]):
            subprocess.run(["git", *words], cwd=root, check=True, capture_output=True)
    after = _states(root)
    assert set(before) <= set(after), "a requirement that was asked is gone"
    better = {key: (before[key].value, after[key].value) for key in before if RANK[after[key]] < RANK[before[key]]}
    assert not better


def test_there_is_something_to_gain(base: Path, before: dict[tuple[str, str], State]) -> None:
    """The measure can tell: there are gaps that could close, and the same copy twice gives the same states."""
    assert _states(base) == before
    assert any(state.is_gap for state in before.values())
    assert any(state is State.CONFORMS for state in before.values())
