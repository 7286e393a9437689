"""The demonstration's file once in English and once in the made-up language, for all tests that only read it."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pytest

from tests.language.pseudo import pseudo
from tests.language.texts import ROOT
from witnessmark.assessment.assess import assess
from witnessmark.document.build import build
from witnessmark.language import Language
from witnessmark.reading.workshop import read_workshop


def made_in(language: Language, folder: Path) -> Path:
    world = dataclasses.replace(read_workshop(ROOT), language=language)
    report = build(ROOT, world, assess(world, "van-07"), folder)
    assert report.written, "\n".join(f"{p.code} {p.place} {p.message}" for p in report.problems[:9])
    return folder


@pytest.fixture(scope="session")
def english(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder of the file in English: `html`, `technical-file.pdf`."""
    return made_in(Language(), tmp_path_factory.mktemp("english") / "out")


@pytest.fixture(scope="session")
def foreign(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same in the made-up language."""
    return made_in(pseudo(), tmp_path_factory.mktemp("foreign") / "out")
