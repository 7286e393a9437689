"""Verifying: four answers kept apart, and a bag spoiled in every way is refused with the reason."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import stat
import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from witnessmark.problems import Misuse
from witnessmark.reading.workshop import read_workshop
from witnessmark.release.bag import close_bag
from witnessmark.release.freeze import Frozen
from witnessmark.release.verify import Verification, verify

from .yard import BASE, NOW, git, record


def looked(path: Path, **more: object) -> Verification:
    """From a place where no workshop is at hand."""
    return verify(path, here=Path("/"), clock=lambda: NOW, **more)  # type: ignore[arg-type]  # passed through


def codes(found: Verification) -> set[str]:
    return {p.code for p in found.problems}


def rebagged(bag: Path) -> None:
    """Every digest made anew, as somebody does who knows how a bag is made."""
    lines = (bag / "bag-info.txt").read_text("utf-8").splitlines()
    info = dict(line.split(": ", 1) for line in lines if not line.startswith("Payload-Oxum"))
    close_bag(bag, info, {"README.txt": (bag / "README.txt").read_bytes()})


def zipped(bag: Path, target: Path) -> Path:
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        for path in sorted(bag.rglob("*")):
            archive.write(path, f"release/{path.relative_to(bag).as_posix()}")
    return target


def test_far_from_the_workshop(bag: Path) -> None:
    found = looked(bag)
    assert found.good and not found.problems
    assert found.origin.shown is None and found.origin.words == "complete in itself, origin not shown"
    assert found.recomputed is not None and (found.recomputed.same, found.recomputed.results) == (True, 1)
    assert found.since is None


def test_by_a_digest(bag: Path, quickly: Frozen) -> None:
    assert looked(bag, manifest=quickly.manifest).origin.shown is True
    assert looked(bag, manifest=quickly.manifest.removeprefix("sha256:").upper()).good
    found = looked(bag, manifest="0" * 64)
    assert found.origin.shown is False and not found.good
    with pytest.raises(Misuse):
        looked(bag, manifest="12")


def test_beside_the_workshop(quickly: Frozen) -> None:
    """The folder of an issue, held against the folder that it lies in."""
    root = quickly.folder.parents[2]
    found = verify(quickly.folder, here=root, clock=lambda: NOW)
    assert found.good and found.origin.shown is True and "tag says the same" in found.origin.words
    assert found.since is not None and found.since.current is True


def test_what_happened_since(quickly: Frozen, bag: Path, tmp_path: Path) -> None:
    root = Path(shutil.copytree(quickly.folder.parents[2], tmp_path / "yard"))
    record(root, "again", {"readings": {"test_voltage": "500 V", "resistance": "0.2 MΩ"}})
    found = looked(bag, workshop=root)
    assert found.good and found.since is not None and found.since.current is False
    assert found.since.acts == (f"{BASE}/records/again.yaml",)
    assert ("state", "mini:isolation", "not shown", "nonconforming") in [
        (d.kind, d.what, d.was, d.now) for d in found.since.differences
    ]


def test_a_workshop_that_knows_of_another_bag(quickly: Frozen, bag: Path, tmp_path: Path) -> None:
    """A manifest edited together with its payload is whole in itself; sealed release and tag tell."""
    root = quickly.folder.parents[2]
    info = bag / "data" / "documents" / "html" / "index.html"
    info.write_text(info.read_text("utf-8").replace("stands", "stood"), encoding="utf-8")
    rebagged(bag)
    assert looked(bag).good
    found = looked(bag, workshop=root)
    assert found.origin.shown is False and not found.good
    # Without the tag the sealed release still tells, and without both nobody can.
    other = Path(shutil.copytree(root, tmp_path / "untagged"))
    git(other, "tag", "-d", "van-07/A")
    assert looked(bag, workshop=other).origin.shown is False
    # A folder from before the release: what the bundle holds.
    git(other, "clone", "-q", "-b", "main", str(bag / "data" / "history.bundle"), str(tmp_path / "before"))
    found = looked(bag, workshop=tmp_path / "before")
    assert found.origin.shown is None and "knows no such issue" in found.origin.words


def test_inputs_or_results_changed_together_with_all_digests(bag: Path) -> None:
    """Computing again finds what no digest can."""
    states = bag / "data/results/states.json"
    states.write_text(states.read_text("utf-8").replace('"not-shown"', '"conforms"'), encoding="utf-8")
    rebagged(bag)
    found = looked(bag)
    assert not found.intact.problems and not found.good and "differs.state" in codes(found)


@pytest.mark.parametrize(
    ("name", "change", "code"),
    [
        ("data/results/results.json", lambda t: t.replace('"5200000', '"5200001', 1), "differs.result"),
        ("data/results/results.json", lambda t: t.replace('"verdict": "pass"', '"verdict": "fail"'), "differs.result"),
        ("data/readings.csv", lambda t: t.replace(",5.2,", ",9.2,"), "differs.readings"),
        ("data/release.json", lambda t: t.replace('"mini:isolation"', '"mini:else"'), "differs.release"),
        ("data/release.json", lambda t: t.replace('"van-07"', '"van-08"'), "release.vehicle"),
        ("data/release.json", lambda t: t.replace('"format": 1', '"format": 2'), "release.file"),
        ("data/results/built.json", lambda t: "[]", "bag.results"),
        (f"data/inputs/{BASE}/records/isolation.yaml", lambda t: t.replace("5.2 M", "9.2 M"), "bag.inputs"),
    ],
)
def test_one_file_changed_together_with_all_digests(
    bag: Path, name: str, change: Callable[[str], str], code: str
) -> None:
    text = (bag / name).read_text("utf-8")
    assert change(text) != text
    (bag / name).write_text(change(text), encoding="utf-8")
    rebagged(bag)
    found = looked(bag)
    assert not found.good and code in codes(found), codes(found)


def test_a_method_that_is_not_here(bag: Path) -> None:
    name = bag / "data/release.json"
    name.write_text(name.read_text("utf-8").replace("insulation-tester/1", "insulation-tester/99"), encoding="utf-8")
    rebagged(bag)
    found = looked(bag)
    assert not found.good and found.recomputed is not None and found.recomputed.same is None
    assert found.recomputed.missing == ("the method insulation-tester/99 is not installed here",)


def test_a_library_for_logs_that_is_not_here(bag: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is said to be missing here, and is no difference."""
    words = "reading a MDF file needs asammdf, which is not installed"
    fault = {"code": "log.extra", "message": words, "remedy": "install it"}

    def without(root: Path, **how: Any) -> Any:
        return replace(read_workshop(root, **how), figures={"7k4qxm": {"faults": [fault]}})

    monkeypatch.setattr("witnessmark.release.recompute.read_workshop", without)
    found = looked(bag)
    assert not found.good and found.recomputed is not None
    assert (found.recomputed.same, found.recomputed.missing) == (None, (words,))


def test_one_file_after_another_spoiled(bag: Path) -> None:
    """One byte of every file of the bag, and every file taken away: each time it is not intact."""
    from witnessmark.release.intact import look_through
    from witnessmark.release.store import open_store

    files = sorted(path for path in bag.rglob("*") if path.is_file())
    assert len(files) > 20
    for path in files:
        data = path.read_bytes()
        where = len(data) // 2
        for spoiled in (data[:where] + bytes([data[where] ^ 1]) + data[where + 1 :], data + b"\n", data[:-1], None):
            if spoiled is None:
                path.unlink()
            else:
                path.write_bytes(spoiled)
            store, _ = open_store(bag)
            assert look_through(store).problems, f"{path.name}: {'gone' if spoiled is None else len(spoiled)}"
        path.write_bytes(data)
    assert looked(bag).good


def _added(bag: Path) -> None:
    (bag / "data" / "extra.txt").write_text("not listed")


def _beside(bag: Path) -> None:
    (bag / "notes.txt").write_text("not listed")


def _hidden(bag: Path) -> None:
    (bag / "data" / ".hidden").write_text("not listed")


def _linked(bag: Path) -> None:
    target = bag / "data" / "readings.csv"
    target.rename(bag.parent / "readings.csv")
    target.symlink_to(bag.parent / "readings.csv")


def _linked_folder(bag: Path) -> None:
    (bag.parent / "elsewhere").mkdir()
    (bag / "data" / "more").symlink_to(bag.parent / "elsewhere", target_is_directory=True)


def _renamed(bag: Path) -> None:
    (bag / "data" / "readings.csv").rename(bag / "data" / "Readings.csv")


def _twin(bag: Path) -> None:
    shutil.copy(bag / "data" / "readings.csv", bag / "data" / "READINGS.csv")
    rebagged(bag)


def _fetch(bag: Path) -> None:
    (bag / "fetch.txt").write_text("https://example.invalid/x 5 data/x\n")


def _pipe(bag: Path) -> None:
    os.mkfifo(bag / "data" / "pipe")


def _no_tagmanifest(bag: Path) -> None:
    (bag / "tagmanifest-sha256.txt").unlink()


def _doubled(bag: Path) -> None:
    lines = (bag / "manifest-sha256.txt").read_text("utf-8").splitlines(keepends=True)
    (bag / "manifest-sha256.txt").write_text("".join(sorted([*lines, lines[0]], key=lambda x: x[66:])), "utf-8")


def _out(bag: Path) -> None:
    text = (bag / "manifest-sha256.txt").read_text("utf-8")
    (bag / "manifest-sha256.txt").write_text(text + "0" * 64 + "  data/../../out\n", "utf-8")


@pytest.mark.parametrize(
    ("spoil", "code"),
    [
        (_added, "bag.extra"), (_beside, "bag.extra"), (_hidden, "bag.extra"), (_linked, "bag.link"),
        (_linked_folder, "bag.link"), (_renamed, "bag.missing"), (_twin, "bag.twin"), (_fetch, "bag.fetch"),
        (_pipe, "bag.special"), (_no_tagmanifest, "bag.missing"), (_doubled, "bag.doubled"), (_out, "bag.path"),
    ],
)  # fmt: skip
def test_what_a_bag_must_not_hold(bag: Path, spoil: Callable[[Path], None], code: str) -> None:
    spoil(bag)
    found = looked(bag)
    assert not found.good and found.recomputed is None
    assert code in codes(found), codes(found)


def test_a_zip_and_a_medium_that_nobody_may_write(bag: Path, tmp_path: Path) -> None:
    archive = zipped(bag, tmp_path / "release.zip")
    assert looked(archive).good
    for path in [bag, *bag.rglob("*")]:
        path.chmod(path.stat().st_mode & ~(stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH))
    before = {p: p.stat().st_mtime_ns for p in bag.rglob("*")}
    assert looked(bag).good
    assert {p: p.stat().st_mtime_ns for p in bag.rglob("*")} == before
    for path in [bag, *bag.rglob("*")]:
        path.chmod(path.stat().st_mode | stat.S_IWUSR)


def test_zips_that_play_tricks(bag: Path, tmp_path: Path) -> None:
    def with_more(name: str, data: bytes = b"x", mode: int = 0o100644) -> Verification:
        archive = zipped(bag, tmp_path / "tricky.zip")
        info = zipfile.ZipInfo(name)
        info.external_attr = mode << 16
        with (
            zipfile.ZipFile(archive, "a", zipfile.ZIP_DEFLATED) as added,
            pytest.warns() if "readings" in name else contextlib.nullcontext(),
        ):
            added.writestr(info, data)
        return looked(archive)

    assert "bag.path" in codes(with_more("release/../../out.txt"))
    assert "bag.path" in codes(with_more("/etc/out.txt"))
    assert "bag.path" in codes(with_more("beside.txt"))
    assert "bag.link" in codes(with_more("release/data/link", b"/etc/passwd", 0o120777))
    assert "bag.doubled" in codes(with_more("release/data/readings.csv"))
    assert "bag.twin" in codes(with_more("release/data/READINGS.csv"))
    assert "bag.extra" in codes(with_more("release/data/bomb", bytes(50_000_000)))
    (tmp_path / "torn.zip").write_bytes(zipped(bag, tmp_path / "whole.zip").read_bytes()[:-30])
    (tmp_path / "empty").mkdir()
    for nothing in (tmp_path / "torn.zip", tmp_path / "empty", tmp_path / "not there"):
        with pytest.raises(Misuse):
            looked(nothing)


def test_the_document_beside_the_bag_is_the_one_in_it(quickly: Frozen, tmp_path: Path) -> None:
    issue = Path(shutil.copytree(quickly.folder, tmp_path / "A"))
    assert looked(issue).good
    (issue / "technical-file.pdf").write_bytes(b"%PDF another")
    assert codes(looked(issue)) == {"release.beside"}


def test_a_bag_is_no_witness_for_itself(bag: Path) -> None:
    """The folder of a workshop that lies in the bag is never what it is held against."""
    inside = bag / "data" / "inputs"
    assert verify(bag, here=inside, clock=lambda: NOW).origin.shown is None
    with pytest.raises(Misuse):
        verify(bag, workshop=inside, clock=lambda: NOW)


def test_the_command(bag: Path, quickly: Frozen, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from witnessmark.cli.main import main

    assert main(["verify", str(bag), "--manifest", quickly.manifest, "--format", "json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert (said["good"], said["intact"], said["origin"]["shown"], said["recomputes"]["same"]) == (True,) * 4
    (bag / "data" / "readings.csv").write_text("spoiled")
    assert main(["verify", str(bag)]) == 1
    out = capsys.readouterr()
    assert "Believe nothing in it." in out.out and "data/readings.csv" in out.err
    assert main(["verify", str(tmp_path / "nothing")]) == 2


def test_nothing_of_a_bag_is_run(bag: Path, tmp_path: Path) -> None:
    """Python files, a template that writes and a hook in the bag: all digests are right, and none of it runs."""
    mark = tmp_path / "mark"
    for name in ("data/tool/sitecustomize.py", "data/inputs/templates/index.rst.j2", "data/conftest.py"):
        (bag / name).parent.mkdir(parents=True, exist_ok=True)
        (bag / name).write_text(f"import pathlib; pathlib.Path({str(mark)!r}).touch()\n", encoding="utf-8")
    rebagged(bag)
    assert not looked(bag).good
    assert not mark.exists()
