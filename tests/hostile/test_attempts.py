"""Attempts to reach "conforms" without the evidence: through the commands, by hand, by git, by the clock.

Two small workshops. In one the value was never measured; in the other it was, and failed. Whatever is tried, and be it
committed, the requirement is no better afterwards. In a third it was measured and passed: the measure can tell.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

from tests.recording.shop import BASE, NOW, RECORD_TREE, shop
from tests.workshops import FILES, make, seal_by_hand
from witnessmark.assessment.assess import assess
from witnessmark.assessment.model import State
from witnessmark.problems import Misuse
from witnessmark.reading.workshop import read_workshop
from witnessmark.recording.keep import Entered, keep
from witnessmark.recording.seal_file import seal_file

from .test_history import git
from .test_no_false_conforms import RANK

RECORDS = f"{BASE}/records"
PASS = (
    "format: 1\nshows: {isolation/value: {}}\npart: traction-bus\nperformed: 2026-10-14T17:20+02:00\n"
    "by: {tester: jm}\nmethod: insulation-tester/1\ninstruments: {tester: mega-01}\n"
    "readings: {test_voltage: 500 V, resistance: 5.2 MΩ}\n"
)
CODE = "FAILED"
"""Stands in the texts below for the code of the record that failed."""

Attempt = Callable[[Path, str], None]


def enter(root: Path, name: str, files: dict[str, Path] | None = None, **changed: Any) -> str:
    entered = Entered(f"{RECORDS}/{name}.yaml", {**RECORD_TREE, **changed}, BASE, files or {})
    return keep(root, entered, "jm", lambda code: f"Record {code}", clock=lambda: NOW).code


@pytest.fixture(scope="module")
def bases(tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple[Path, str]]:
    """Never measured, failed, passed; each with the photograph that is needed too, and the code of the last record."""
    from PIL import Image

    folder = tmp_path_factory.mktemp("attempts")
    photo = folder / "meter.jpg"
    Image.new("RGB", (40, 30), (9, 9, 9)).save(photo)
    never = shop(folder / "never", pinned=True)
    git(never, "config", "core.logAllRefUpdates", "true")
    (never / ".git/logs").mkdir(exist_ok=True)
    shows = {"isolation/picture": {"photo": "photos/meter.jpg", "finding": "meets"}}
    code = enter(never, "picture", {"photos/meter.jpg": photo}, shows=shows, method=None, instruments={}, readings={})
    found = {"never": (never, code)}
    for name, value in (("failed", "0.2 MΩ"), ("passed", "5.2 MΩ")):
        root = Path(shutil.copytree(never, folder / name))
        found[name] = (root, enter(root, "value", readings={"test_voltage": "500 V", "resistance": value}))
    return found


def state(root: Path, **words: Any) -> State:
    return assess(read_workshop(root, **words), "van-07").requirements[0].state


def commit(root: Path) -> None:
    git(root, "add", "-A", "--force")
    git(root, "commit", "-q", "--allow-empty", "-m", "as if nothing had been")


def committed(path: str, draft: str, **seal: Any) -> Attempt:
    """A text with a seal made by hand, as a program of one's own would make it, and committed."""

    def act(root: Path, code: str) -> None:
        words = {"on": "2026-10-14T18:30+02:00", **seal}
        text = seal_by_hand(draft.replace(CODE, code), words.pop("code", "zz2222"), **words)
        make(root, {path: text, **dict.fromkeys(FILES)})
        commit(root)

    return act


def recorded(draft: str, by: str = "jm", path: str = f"{RECORDS}/by-hand.yaml") -> Attempt:
    """A draft written by hand, sealed by `record --seal`."""

    def act(root: Path, code: str) -> None:
        make(root, {path: draft.replace(CODE, code), **dict.fromkeys(FILES)})
        seal_file(root, path, by, clock=lambda: NOW)

    return act


def by_git(*lines: str) -> Attempt:
    """Commands of git, one after the other; FAIL is the path of the record."""

    def act(root: Path, code: str) -> None:
        environment = {**os.environ, "FILTER_BRANCH_SQUELCH_WARNING": "1", "GIT_EDITOR": "true"}
        for line in lines:
            words = [w.replace("FAIL", f"{RECORDS}/value.yaml").replace("~", " ") for w in line.split(" ")]
            if words[0] == "rm-file":
                (root / words[1]).unlink()
            elif words[0] == "better":
                file = root / f"{RECORDS}/value.yaml"
                file.write_text(file.read_text(encoding="utf-8").replace("0.2 MΩ", "5.2 MΩ"), encoding="utf-8")
            else:
                identity = ["-c", "user.name=Somebody", "-c", "user.email=somebody@example.invalid"]
                subprocess.run(["git", *identity, *words], cwd=root, env=environment, check=True, capture_output=True)

    return act


def moved(target: str) -> Attempt:
    def act(root: Path, code: str) -> None:
        (root / target).parent.mkdir(parents=True, exist_ok=True)
        (root / f"{RECORDS}/value.yaml").rename(root / target)
        commit(root)

    return act


def grafted(root: Path, code: str) -> None:
    """A graft hides the commit with the fail, and the file goes."""
    (root / ".git/info").mkdir(exist_ok=True)
    tip, earlier = git(root, "rev-parse", "HEAD"), git(root, "rev-parse", "HEAD~1")
    (root / f"{RECORDS}/value.yaml").unlink()
    commit(root)
    (root / ".git/info/grafts").write_text(f"{git(root, 'rev-parse', 'HEAD')} {earlier}\n{tip}\n", encoding="utf-8")


def replaced(root: Path, code: str) -> None:
    """A replacement makes git show the fail's text as a pass, and the commit without its parent."""
    file = root / f"{RECORDS}/value.yaml"
    old = git(root, "rev-parse", f"HEAD:{RECORDS}/value.yaml")
    by_git("better")(root, code)
    new = git(root, "hash-object", "-w", str(file))
    git(root, "replace", old, new)
    git(root, "replace", "--graft", "HEAD")


def object_deleted(root: Path, code: str) -> None:
    blob = git(root, "rev-parse", f"HEAD:{RECORDS}/value.yaml")
    (root / f"{RECORDS}/value.yaml").unlink()
    commit(root)
    file = root / ".git/objects" / blob[:2] / blob[2:]
    file.chmod(0o644)
    file.unlink()


def cut_clone(root: Path, code: str) -> None:
    (root / f"{RECORDS}/value.yaml").unlink()
    commit(root)
    recorded(PASS)(root, code)
    cut = root.parent / "cut"
    git(root.parent, "clone", "-q", "--depth", "1", f"file://{root}", str(cut))
    shutil.rmtree(root)
    cut.rename(root)


def second_tree(root: Path, code: str) -> None:
    second = root.parent / "second"
    git(root, "worktree", "add", "-q", str(second), "HEAD~1")
    make(second, {f"{RECORDS}/v.yaml": seal_by_hand(PASS, "zz2222"), **dict.fromkeys(FILES)})
    root.rename(root.parent / "first")
    second.rename(root)


def in_a_repository_above(root: Path, code: str) -> None:
    """The history goes one folder up, begins anew, and holds a pass."""
    shutil.rmtree(root / ".git")
    make(root, {f"{RECORDS}/value.yaml": seal_by_hand(PASS, "zz2222"), **dict.fromkeys(FILES)})
    git(root.parent, "init", "-q")
    git(root.parent, "add", "-A")
    git(root.parent, "commit", "-q", "-m", "all of it")


def put_back_and_measured(root: Path, code: str) -> None:
    git(root, "reset", "-q", "--hard", "HEAD^")
    recorded(PASS)(root, code)


def draft(text: str, *, commit_it: bool = True) -> Attempt:
    def act(root: Path, code: str) -> None:
        make(root, {f"{RECORDS}/v.yaml": text.replace(CODE, code), **dict.fromkeys(FILES)})
        if commit_it:
            commit(root)

    return act


def code_taken(root: Path, code: str) -> None:
    committed(f"{RECORDS}/v.yaml", PASS, code=code)(root, code)


WITHDRAWN = f"format: 1\nwithdraws: {CODE}\nbecause: mistaken\nreason: it was wet\nat: 2026-10-14T18:00+02:00\nby: jm\n"
RETEST = PASS.replace("readings:", f"retest_of: [{CODE}]\ncause: a wet plug\ncorrection: dried\nreadings:")
CONCESSION = (
    "format: 1\nconcession:\n  requirement: mini:isolation\n  vehicle: van-07\n  issuer: Test yard\n  number: K-1\n"
    "  issued: 2026-10-15\n  last_day: 2027-10-15\n  terms: all is well\nby: jm\n"
)
EMPTY = "format: 1\nparts: {hv-bus: {source: looked, list: {}}}\nstated: 2026-10-14T18:00+02:00\nby: jm\n"
CALIBRATION = (
    "format: 1\ncalibration: mega-99\non: 2026-10-01\ndue: 2027-10-01\ncertificate: X\nlaboratory: None (invented)\n"
    "as_found: first\naccuracy: [{function: insulation-resistance, low: 0 MΩ, high: 20 GΩ, percent_of_reading: 3, "
    "digits: 2, resolution: 0.01 MΩ}]\ntraits: {}\nby: jm\n"
)


def invented_instrument(root: Path, code: str) -> None:
    committed("evidence/instruments/mega-99/calibrations/x.yaml", CALIBRATION, vehicle=None)(root, code)
    committed(f"{RECORDS}/v.yaml", PASS.replace("mega-01", "mega-99"), code="zz3333")(root, code)


NEVER: dict[str, Attempt] = {
    "a draft that passes, committed": draft(PASS),
    "a draft that brings its own seal": recorded(seal_by_hand(PASS, "zz2222", found={"isolation/full": "pass"})),
    "a draft that brings its own code and verdict": recorded(PASS + "found: {isolation/full: pass}\n"),
    "by a person who is made up": recorded(PASS.replace("jm", "nn")),
    "sealed in the name of a person who is made up": recorded(PASS, by="nn"),
    "by a person who is made up, sealed by hand": committed(f"{RECORDS}/v.yaml", PASS.replace("jm", "nn"), by="nn"),
    "by a person who is not authorised": committed(f"{RECORDS}/v.yaml", PASS.replace("jm", "ao")),
    "with an instrument that is made up": recorded(PASS.replace("mega-01", "mega-99")),
    "with an instrument that is made up, sealed by hand": committed(
        f"{RECORDS}/v.yaml", PASS.replace("mega-01", "mega-99")
    ),
    "with an instrument without a file, but a calibration of it": invented_instrument,
    "performed before the calibration": recorded(PASS.replace("2026-10-14T17:20", "2026-02-01T10:00")),
    "performed before the authorisation, sealed by hand": committed(
        f"{RECORDS}/v.yaml", PASS.replace("2026-10-14T17:20", "2026-01-02T10:00")
    ),
    "performed after the clock": recorded(PASS.replace("2026-10-14", "2026-10-30")),
    "performed and sealed after the clock, by hand": committed(
        f"{RECORDS}/v.yaml", PASS.replace("2026-10-14", "2026-10-30"), on="2026-10-31T10:00+02:00"
    ),
    "sealed before it was performed": committed(f"{RECORDS}/v.yaml", PASS, on="2026-10-10T10:00+02:00"),
    "sealed for another vehicle": committed(f"{RECORDS}/v.yaml", PASS, vehicle="van-08"),
    "sealed for no vehicle": committed(f"{RECORDS}/v.yaml", PASS, vehicle=None),
    "about another part": recorded(PASS.replace("traction-bus", "charge-bus")),
    "by another method": recorded(PASS.replace("insulation-tester/1", "voltage-decay/1")),
    "a reading without a unit": recorded(PASS.replace("5.2 MΩ", "5200000")),
    "a reading that is no number": recorded(PASS.replace("5.2 MΩ", ".inf MΩ")),
    "a verdict instead of readings": committed(
        f"{RECORDS}/v.yaml", PASS.replace("readings: {test_voltage: 500 V, resistance: 5.2 MΩ}\n", ""),
        found={"isolation/value/full": "pass"},
    ),
    "a finding instead of a measurement": recorded(PASS
        .replace("isolation/value: {}", "isolation/value: {finding: meets}")
        .replace("method: insulation-tester/1\n", "").replace("instruments: {tester: mega-01}\n", "")
        .replace("readings: {test_voltage: 500 V, resistance: 5.2 MΩ}\n", "")),
    "a list of parts that is empty": committed(f"{BASE}/facts/second.yaml", EMPTY),
    "a concession of the workshop's own": committed("evidence/concessions/k.yaml", CONCESSION),
    "a history in the folder above": in_a_repository_above,
}  # fmt: skip

FAILED: dict[str, Attempt] = {
    "amended into a pass": by_git("better", "commit -q -a --amend -m x"),
    "the branch put back by one": by_git("reset -q --hard HEAD^"),
    "put back, and measured anew": put_back_and_measured,
    "a filter takes it out": by_git(
        "filter-branch -f --index-filter git~rm~-q~--cached~--ignore-unmatch~FAIL HEAD", "reset -q --hard"
    ),
    "a branch without ancestors": by_git("checkout -q --orphan clean", "rm -q -f FAIL", "commit -q -m x"),
    "a branch from before it": by_git("checkout -q -b clean HEAD^"),
    "a detached HEAD from before it": by_git("checkout -q --detach HEAD^"),
    "reverted": by_git("revert --no-edit HEAD"),
    "a graft": grafted,
    "a replacement": replaced,
    "its object is deleted": object_deleted,
    "a clone that is cut after a pass": cut_clone,
    "a second working tree from before it": second_tree,
    "assume-unchanged, then edited": by_git("update-index --assume-unchanged FAIL", "better"),
    "skip-worktree, then deleted": by_git("update-index --skip-worktree FAIL", "rm-file FAIL"),
    "moved to intake": moved("evidence/intake/value.yaml"),
    "moved to requirements": moved("requirements/mini/value.yaml"),
    "given another ending": moved(f"{RECORDS}/value.yml"),
    "hidden by a dot": moved(f"{RECORDS}/.value.yaml"),
    "called a README": moved(f"{RECORDS}/README.yaml"),
    "moved among the releases": moved(f"{BASE}/releases/value.yaml"),
    "a pass under its code": code_taken,
    "a pass that names no fail": recorded(PASS),
    "withdrawn by oneself": recorded(WITHDRAWN),
    "withdrawn by oneself, twice": recorded(WITHDRAWN + "second: jm\n"),
    "withdrawn, sealed by hand": committed(f"{RECORDS}/w.yaml", WITHDRAWN),
    "withdrawn with a second person who is made up": committed(f"{RECORDS}/w.yaml", WITHDRAWN + "second: nn\n"),
    "a retest without cause": recorded(RETEST.replace("cause: a wet plug\ncorrection: dried\n", "")),
    "a retest that came earlier": committed(f"{RECORDS}/v.yaml", RETEST.replace("T17:20", "T15:20")),
    "a retest with an instrument that is made up": committed(f"{RECORDS}/v.yaml", RETEST.replace("mega-01", "mega-99")),
    "a retest that is a draft": draft(RETEST, commit_it=False),
    "corrected by oneself": recorded(PASS + f"corrects: {CODE}\nreason: a typing error\n"),
    "corrected, sealed by hand": committed(f"{RECORDS}/v.yaml", PASS + f"corrects: {CODE}\nreason: a typing error\n"),
    "a list of parts that is empty": committed(f"{BASE}/facts/second.yaml", EMPTY),
    "a concession of the workshop's own": committed("evidence/concessions/k.yaml", CONCESSION),
}  # fmt: skip
ALL = [("never", name) for name in NEVER] + [("failed", name) for name in FAILED]


@pytest.fixture(autouse=True)
def nothing_of_the_users(monkeypatch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory) -> None:
    """No settings of the user's; one cache for all, since the same photograph is looked at in each."""
    monkeypatch.setenv("GIT_CONFIG_GLOBAL", os.devnull)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.getbasetemp() / "cache-of-attempts"))


def test_the_measure_can_tell(bases: dict[str, tuple[Path, str]]) -> None:
    assert {name: state(root) for name, (root, _) in bases.items()} == {
        "never": State.NOT_SHOWN, "failed": State.NONCONFORMING, "passed": State.CONFORMS,
    }  # fmt: skip


@pytest.mark.parametrize(("which", "name"), ALL)
def test_nothing_gets_better(bases: dict[str, tuple[Path, str]], tmp_path: Path, which: str, name: str) -> None:
    base, code = bases[which]
    root = tmp_path / "copy"
    shutil.copytree(base, root)
    with contextlib.suppress(Misuse):  # Refused: then everything has to be as it was.
        (NEVER if which == "never" else FAILED)[name](root, code)
    before = State.NOT_SHOWN if which == "never" else State.NONCONFORMING
    try:
        after = state(root)
    except Misuse:
        return  # Nothing can be said of such a folder at all.
    # Where a part of the history is gone nothing can be shown, and the fail with it cannot be seen: never "conforms".
    unseen = {"its object is deleted", "a clone that is cut after a pass", "a second working tree from before it"}
    assert RANK[after] >= (RANK[State.NOT_SHOWN] if name in unseen else RANK[before]), after


@pytest.mark.parametrize("day", [date(2026, 1, 1), date(2026, 10, 13)])
def test_an_earlier_day_or_clock_shows_nothing_more(bases: dict[str, tuple[Path, str]], day: date) -> None:
    """Set back before everything: what was done later is after the clock, and not sound."""
    root, _ = bases["passed"]
    assert state(root, as_of=day) not in (State.CONFORMS, State.UNDER_CONCESSION, State.NOT_APPLICABLE)


def _variables(root: Path) -> Iterator[tuple[str, str]]:
    yield "GIT_DIR", str(root / ".git")
    yield "GIT_WORK_TREE", str(root)
    yield "GIT_OBJECT_DIRECTORY", str(root / ".git/objects")
    yield "GIT_ALTERNATE_OBJECT_DIRECTORIES", str(root / ".git/objects")
    yield "GIT_INDEX_FILE", str(root / ".git/index")
    yield "GIT_GRAFT_FILE", str(root / ".git/index")
    yield "GIT_SHALLOW_FILE", str(root / ".git/index")
    yield "GIT_REPLACE_REF_BASE", "refs/heads/"
    yield "GIT_NAMESPACE", "other"
    yield "GIT_CEILING_DIRECTORIES", "/"


def test_variables_that_point_at_a_better_history_change_nothing(
    bases: dict[str, tuple[Path, str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    for name, value in _variables(bases["passed"][0]):
        monkeypatch.setenv(name, value)
    assert state(bases["failed"][0]) is State.NONCONFORMING
    assert state(bases["never"][0]) is State.NOT_SHOWN


def test_a_clock_that_is_behind_seals_nothing(bases: dict[str, tuple[Path, str]], tmp_path: Path) -> None:
    """A record performed after the recorder's clock is refused, so that a clock set back gains nothing."""
    root = Path(shutil.copytree(bases["never"][0], tmp_path / "copy"))
    workshop = root / "evidence/workshop.yaml"
    workshop.write_text(FILES["evidence/workshop.yaml"], encoding="utf-8")
    make(root, {f"{RECORDS}/v.yaml": PASS, **dict.fromkeys(FILES)})
    with pytest.raises(Misuse) as caught:
        seal_file(root, f"{RECORDS}/v.yaml", "jm", clock=lambda: datetime(2026, 10, 1, tzinfo=UTC))
    assert caught.value.problems
