"""The demonstration's file in English and in the made-up language, for all tests that only read it."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.demonstration.built import van
from tests.language.pseudo import pseudo


@pytest.fixture(scope="session")
def english(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder of the file in English: `html`, `technical-file.pdf`."""
    return van(tmp_path_factory)


@pytest.fixture(scope="session")
def foreign(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same in the made-up language."""
    return van(tmp_path_factory, pseudo())
