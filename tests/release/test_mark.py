"""The workshop's mark in a release: it is in the bag like every committed file, and has to be committed."""

from __future__ import annotations

from pathlib import Path

import bagit
import pytest

from tests.hostile.test_mark import sign
from witnessmark.problems import Misuse
from witnessmark.release.verify import verify

from .yard import frozen, git, without_document, yard

WORKSHOP = "evidence/workshop.yaml"
KEYS = "address: [Quay 9, 12345 Port Ellery]\ncontact: {telephone: 555 0142, mail: a@b.example}\nmark: mark.png\n"


def _with_mark(root: Path, *, committed: bool = True) -> Path:
    file = root / WORKSHOP
    file.write_text(file.read_text(encoding="utf-8") + KEYS, encoding="utf-8")
    (root / "evidence" / "mark.png").write_bytes(sign())
    git(root, "add", WORKSHOP, *(["evidence/mark.png"] if committed else []))
    git(root, "-c", "user.name=x", "-c", "user.email=x", "commit", "-qm", "Address and mark")
    return root


def test_it_is_in_the_bag_and_the_bag_computes_again(tmp_path: Path) -> None:
    root = _with_mark(yard(tmp_path / "yard"))
    with without_document():
        made = frozen(root)
    inside = made.folder / "bag" / "data" / "inputs" / "evidence" / "mark.png"
    assert inside.read_bytes() == sign()
    assert "evidence/mark.png" in (made.folder / "bag" / "manifest-sha256.txt").read_text(encoding="utf-8")
    # RFC 8493, 2.2.2: the reserved words for who made the bag.
    info = bagit.Bag(str(made.folder / "bag")).info
    assert info["Organization-Address"] == "Quay 9, 12345 Port Ellery"
    assert (info["Contact-Phone"], info["Contact-Email"]) == ("555 0142", "a@b.example")
    assert verify(made.folder / "bag").problems == ()
    inside.write_bytes(sign(ink=40))
    assert verify(made.folder / "bag").problems


def test_a_mark_that_is_named_and_not_committed_is_refused_at_its_line(tmp_path: Path) -> None:
    root = _with_mark(yard(tmp_path / "yard"), committed=False)
    with without_document(), pytest.raises(Misuse) as caught:
        frozen(root)
    (one,) = [p for p in caught.value.problems if p.place is not None and p.place.file == WORKSHOP]
    assert (one.code, one.place and one.place.line) == ("file.missing", 7)
    assert "commit it" in one.remedy
