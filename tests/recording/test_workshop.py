"""`record workshop`: address and mark are asked, checked, copied and committed; what a person wrote stays."""

from __future__ import annotations

from pathlib import Path

from tests.hostile.test_mark import sign
from witnessmark.reading.check import check
from witnessmark.reading.workshop import read_workshop

from .conftest import Run
from .shop import git

WORKSHOP = "evidence/workshop.yaml"


def _answers(mark: Path | None = None, *, address: str = "[Quay 9, 12345 Port Ellery]") -> str:
    lines = [
        "what: workshop",
        "by: ao",
        "name: Test yard",
        "place: Nowhere",
        f"address: {address}",
        "telephone: 555 0142",
    ]
    return "\n".join([*lines, *([f"mark: {mark}"] if mark else [])]) + "\n"


def _mark(folder: Path, data: bytes, name: str = "sign.png") -> Path:
    folder.mkdir(exist_ok=True)
    (folder / name).write_bytes(data)
    return folder / name


def test_address_and_mark_are_committed_and_the_rest_stays(root: Path, run: Run, tmp_path: Path) -> None:
    file = root / WORKSHOP
    file.write_text(f"# Our yard, since 1998\n{file.read_text(encoding='utf-8')}", encoding="utf-8")
    before = file.read_text(encoding="utf-8")
    said = run("record", answers=_answers(_mark(tmp_path / "desk", sign())))
    assert said.status == 0, said.err
    workshop = read_workshop(root, use_cache=False)
    assert workshop.file.address == ("Quay 9", "12345 Port Ellery")
    assert workshop.file.contact is not None and workshop.file.contact.telephone == "555 0142"
    assert workshop.mark is not None and workshop.mark.path == "evidence/sign.png"
    assert file.read_text(encoding="utf-8").startswith(before)
    assert git(root, "status", "--porcelain") == ""
    assert git(root, "log", "-1", "--format=%an|%s") == "A. Orchis|Describe the workshop: Test yard"
    assert [p for p in check(root, use_cache=False) if p.severity == "problem"] == []


def test_another_mark_takes_another_name_and_a_blank_leaves_the_one_that_is_there(
    root: Path, run: Run, tmp_path: Path
) -> None:
    assert run("record", answers=_answers(_mark(tmp_path / "a", sign()))).status == 0
    assert run("record", answers=_answers(_mark(tmp_path / "b", sign(ink=40)))).status == 0
    assert read_workshop(root, use_cache=False).file.mark == "sign-2.png"
    assert run("record", answers=_answers(address="[Quay 10]")).status == 0
    workshop = read_workshop(root, use_cache=False)
    assert (workshop.file.mark, workshop.file.address) == ("sign-2.png", ("Quay 10",))
    assert "evidence/sign.png" in workshop.unused_files


def test_what_cannot_be_printed_is_refused_and_nothing_is_written(root: Path, run: Run, tmp_path: Path) -> None:
    before, head = (root / WORKSHOP).read_bytes(), git(root, "rev-parse", "HEAD")
    for name, data, words in (
        ("sign.svg", b"<svg/>", "SVG"),
        ("sign.png", sign()[:-700], "damaged or cut off"),
        ("sign.png", b"", "is empty"),
    ):
        said = run("record", answers=_answers(_mark(tmp_path / "desk", data, name)))
        assert said.status == 2
        assert words in said.err
    too_many = run("record", answers=_answers(address="[a, b, c, d, e, f, g]"))
    assert too_many.status == 2
    assert "at most 6 entries" in too_many.err
    assert (root / WORKSHOP).read_bytes() == before
    assert git(root, "rev-parse", "HEAD") == head
    assert git(root, "status", "--porcelain") == ""


def test_nothing_is_kept_where_nothing_differs(root: Path, run: Run) -> None:
    assert run("record", answers=_answers()).status == 0
    head = git(root, "rev-parse", "HEAD")
    again = run("record", answers=_answers())
    assert again.status == 2
    assert "nothing differs" in again.err
    assert git(root, "rev-parse", "HEAD") == head


def test_typed_at_the_terminal_what_is_there_is_offered(root: Path, run: Run) -> None:
    typed = ("", "", "Quay 9; 12345 Port Ellery", "", "", "", "", "keep")
    said = run("record", "workshop", "--by", "jm", typed=typed)
    assert said.status == 0, said.err
    assert read_workshop(root, use_cache=False).file.address == ("Quay 9", "12345 Port Ellery")
