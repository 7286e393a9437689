"""A release in one language: computed again, compared with another in English, held against a folder in a third."""

from __future__ import annotations

from pathlib import Path

from tests.language.pseudo import MARK, TAG, pseudo_file
from witnessmark.language import ENGLISH
from witnessmark.reading.workshop import read_workshop
from witnessmark.release.sides import compared
from witnessmark.release.verify import verify

from .yard import NOW, frozen, git, without_document, yard

WORKSHOP = "evidence/workshop.yaml"


def _speaks(root: Path, tag: str, texts: str | None) -> None:
    """The workshop says from now on that it speaks this language."""
    path = root / WORKSHOP
    lines = [line for line in path.read_text("utf-8").splitlines() if not line.startswith("language:")]
    path.write_text("\n".join([*lines, f"language: {tag}", ""]), "utf-8")
    if texts is not None:
        (root / "templates").mkdir(exist_ok=True)
        (root / "templates" / f"{tag}.po").write_text(texts, "utf-8")
    git(root, "add", "-A")
    git(root, "-c", "user.name=x", "-c", "user.email=x", "commit", "-qm", "Another language")


def test_what_is_kept_and_compared_hangs_on_no_language(tmp_path: Path) -> None:
    root = yard(tmp_path / "yard")
    _speaks(root, TAG, pseudo_file())
    assert read_workshop(root, clock=lambda: NOW).language.tag == TAG
    with without_document():
        first = frozen(root, "A")
        kept = "".join(p.read_text("utf-8") for p in sorted((first.folder / "bag/data/results").glob("*.json")))
        assert '"state": "conforms"' in kept and MARK not in kept
        # The same folder and evidence, in other words: the bag recomputes in its own folder, and nothing differs here.
        _speaks(root, TAG, pseudo_file().replace(MARK, f"{MARK}{MARK}"))
        found = verify(first.folder, here=root, clock=lambda: NOW)
        assert found.good and found.recomputed is not None and found.recomputed.same is True
        assert found.since is not None and found.since.differences == ()
        _speaks(root, ENGLISH, None)
        second = frozen(root, "B", why="in English")
    assert compared(first.folder, second.folder)[2] == ()
    assert compared(first.folder, root, clock=lambda: NOW)[2] == ()
    assert verify(first.folder, here=Path("/"), clock=lambda: NOW).good
