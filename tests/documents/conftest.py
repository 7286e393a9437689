"""One build for a whole run: it takes seconds, and most tests only look at it."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.documents.builds import build_with
from witnessmark.document.build import BuildReport


@pytest.fixture(scope="session")
def good(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, BuildReport]:
    """A build of the small workshop with the shipped templates: its root, and the report."""
    root = tmp_path_factory.mktemp("good")
    return root, build_with(root, {})
