"""The technical file of the demonstration van, built once in a run and read by several tests: nobody writes into it."""

from __future__ import annotations

from pathlib import Path

import pytest
from filelock import FileLock

from witnessmark.assessment.assess import assess
from witnessmark.document.build import build
from witnessmark.reading.workshop import read_workshop

__all__ = ["van"]

ROOT = Path(__file__).parents[2]


def van(factory: pytest.TempPathFactory) -> Path:
    """The folder with `technical-file.pdf` and `html`, for all processes of this run."""
    base = factory.getbasetemp()
    shared = base.parent if base.name.startswith("popen-") else base
    out = shared / "demonstration-van"
    with FileLock(shared / "demonstration-van.lock"):
        if not out.exists():
            workshop = read_workshop(ROOT)
            report = build(ROOT, workshop, assess(workshop, "van-07"), out)
            assert report.written, report.problems
    return out
