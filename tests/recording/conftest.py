"""One small workshop for all tests of recording; each test works on a copy."""

from __future__ import annotations

import io
import json
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from witnessmark.cli.main import main

from .shop import git, shop


@dataclass(frozen=True)
class Said:
    """What one command said, and whether it left the folder as it was."""

    status: int
    out: str
    err: str
    head: str

    @property
    def recorded(self) -> list[dict[str, Any]]:
        return list(json.loads(self.out)["recorded"])


Run = Callable[..., Said]


@pytest.fixture(scope="session")
def pinned_shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return shop(tmp_path_factory.mktemp("recording") / "shop", pinned=True)


@pytest.fixture
def root(pinned_shop: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(pinned_shop, tmp_path / "shop"))


@pytest.fixture
def photo(tmp_path: Path) -> Path:
    from PIL import Image

    file = tmp_path / "camera" / "meter.jpg"
    file.parent.mkdir()
    Image.new("RGB", (40, 30), (9, 9, 9)).save(file)
    return file


@pytest.fixture
def run(root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """A command in the copy; `answers` is the text of a file of answers, `typed` what is typed at the terminal."""
    monkeypatch.chdir(root)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))

    def call(*words: str, answers: str = "", typed: tuple[str, ...] = ()) -> Said:
        extra: tuple[str, ...] = ()
        if answers:
            file = tmp_path / "answers.yaml"
            file.write_text(answers, encoding="utf-8")
            extra = ("--answers", str(file), "--yes", "--format", "json")
        monkeypatch.setattr("sys.stdin", io.StringIO("".join(line + "\n" for line in typed)))
        capsys.readouterr()
        status = main([*words, *extra])
        said = capsys.readouterr()
        return Said(status, said.out, said.err, git(root, "rev-parse", "HEAD"))

    return call
