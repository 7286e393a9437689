"""A small invented workshop with one record, frozen as issue A; and the same with the slow document left out."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from unittest.mock import patch

from tests.recording.shop import BASE, NOW, RECORD_TREE, git, shop
from witnessmark.document.build import BuildReport
from witnessmark.recording.keep import Entered, keep
from witnessmark.release.conditions import Request
from witnessmark.release.freeze import Frozen, freeze

__all__ = ["BASE", "NOW", "REASON", "frozen", "git", "record", "request", "without_document", "yard"]

REASON = "the service asked to see the state of the work"


def yard(folder: Path) -> Path:
    """One measured isolation of the van's bus; its photograph is missing, so there is a gap."""
    root = shop(folder)
    (root / ".gitignore").write_text("builds/*\n", encoding="utf-8")
    git(root, "add", ".gitignore")
    git(root, "-c", "user.name=x", "-c", "user.email=x", "commit", "-qm", "What git leaves alone")
    record(root, "isolation", {})
    return root


def record(root: Path, name: str, changes: dict[str, Any]) -> str:
    """Keep one more record; its code."""
    act = Entered(f"{BASE}/records/{name}.yaml", {**RECORD_TREE, **changes}, BASE)
    return keep(root, act, "jm", lambda code: f"Record {code}", clock=lambda: NOW).code


def request(issue: str = "A", **more: Any) -> Request:
    return Request("van-07", issue, **{"by": "jm", "with_gaps": REASON, **more})


def frozen(root: Path, issue: str = "A", **more: Any) -> Frozen:
    return freeze(root, request(issue, **more), clock=lambda: NOW)


@contextmanager
def without_document() -> Iterator[None]:
    """Freeze without Sphinx and Typst: two files stand for the document."""

    def quick(root: Path, workshop: Any, assessment: Any, out: Path, **more: Any) -> BuildReport:
        (out / "html").mkdir(parents=True)
        (out / "technical-file.pdf").write_bytes(b"%PDF-1.7 stands for the document\n")
        (out / "html" / "index.html").write_text("<p>stands for the document</p>\n", encoding="utf-8")
        return BuildReport(True, out, (), (), ())

    with patch("witnessmark.document.build.build", quick):
        yield
