"""The technical file of the demonstration van, built once in a run and read by several tests: nobody writes into it."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pytest
from filelock import FileLock

from witnessmark.assessment.assess import assess
from witnessmark.document.build import build
from witnessmark.language import Language
from witnessmark.reading.workshop import read_workshop

__all__ = ["van"]

ROOT = Path(__file__).parents[2]


def van(factory: pytest.TempPathFactory, language: Language | None = None) -> Path:
    """The folder with `technical-file.pdf` and `html`, for all processes of this run; in English unless said."""
    base = factory.getbasetemp()
    shared = base.parent if base.name.startswith("popen-") else base
    name = f"demonstration-van-{language.tag if language else 'en'}"
    out = shared / name
    with FileLock(shared / f"{name}.lock"):
        if not out.exists():
            workshop = read_workshop(ROOT)
            if language is not None:
                workshop = dataclasses.replace(workshop, language=language)
            report = build(ROOT, workshop, assess(workshop, "van-07"), out)
            assert report.written, "\n".join(f"{p.code} {p.place} {p.message}" for p in report.problems[:9])
    return out
