"""Builds of the small workshop, with templates changed or not."""

from __future__ import annotations

from pathlib import Path

from tests.documents.fixture_assessment import assessment, folder, workshop
from witnessmark.document.build import BuildReport, build
from witnessmark.shipped import shipped

__all__ = ["build_with"]


def build_with(root: Path, changes: dict[str, tuple[str, str]]) -> BuildReport:
    """A build in a folder whose own templates are the shipped ones with words replaced."""
    world = workshop()
    folder(root, world)
    for name, (old, new) in changes.items():
        text = (shipped("templates") / name).read_text(encoding="utf-8")
        assert old in text
        path = root / "templates" / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(text.replace(old, new), encoding="utf-8")
    return build(root, world, assessment(world))
