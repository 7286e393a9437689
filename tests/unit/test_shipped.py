"""The folders that come with the tool are found in a checkout and in an installed package alike."""

from __future__ import annotations

from pathlib import Path

import pytest

import witnessmark.shipped as module
from witnessmark.shipped import shipped


def test_in_a_checkout_and_installed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    package = tmp_path / "src" / "witnessmark"
    package.mkdir(parents=True)
    monkeypatch.setattr(module, "__file__", str(package / "shipped.py"))
    with pytest.raises(FileNotFoundError):
        shipped("templates")
    (tmp_path / "templates").mkdir()
    with pytest.raises(FileNotFoundError):
        shipped("templates")
    (tmp_path / "pyproject.toml").write_text("")
    assert shipped("templates") == tmp_path / "templates"
    (package / "_shipped" / "templates").mkdir(parents=True)
    assert shipped("templates") == package / "_shipped" / "templates"
