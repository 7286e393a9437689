"""Frozen once for all tests here; each that spoils something takes a copy."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from witnessmark.release.freeze import Frozen

from .yard import frozen, without_document, yard


@pytest.fixture(scope="session")
def released(tmp_path_factory: pytest.TempPathFactory) -> Frozen:
    """Issue A with its whole document."""
    return frozen(yard(tmp_path_factory.mktemp("released") / "yard"))


@pytest.fixture(scope="session")
def quickly(tmp_path_factory: pytest.TempPathFactory) -> Frozen:
    """Issue A with two files in place of the document."""
    with without_document():
        return frozen(yard(tmp_path_factory.mktemp("quickly") / "yard"))


@pytest.fixture
def bag(quickly: Frozen, tmp_path: Path) -> Path:
    """A copy of the small bag, far from the workshop's folder."""
    return Path(shutil.copytree(quickly.folder / "bag", tmp_path / "bag"))
