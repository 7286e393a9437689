"""One copy of the demonstration with its history, and one build of its van, for all tests of the main job."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@dataclass(frozen=True)
class Ran:
    """What one command said."""

    status: int
    out: str
    err: str


def run(*arguments: str, cwd: Path, home: Path, typed: str = "", **environment: str) -> Ran:
    """The installed command in an environment that holds nothing but a home and a path; `typed` is typed to it."""
    done = subprocess.run(
        [sys.executable, "-m", "witnessmark", *arguments],
        cwd=cwd,
        env={"HOME": str(home), "PATH": os.environ["PATH"], **environment},
        input=typed,
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=240,
        check=False,
    )
    return Ran(done.returncode, done.stdout, done.stderr)


@pytest.fixture(scope="session")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("home")


@pytest.fixture(scope="session")
def example(tmp_path_factory: pytest.TempPathFactory, home: Path) -> Path:
    """`start --example` without any git configuration."""
    folder = tmp_path_factory.mktemp("job") / "workshop"
    started = run("start", "--example", str(folder), cwd=folder.parent, home=home)
    assert started.status == 0, started.err
    return folder


@pytest.fixture(scope="session")
def built(example: Path, home: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The van's technical file, built from the copy."""
    out = tmp_path_factory.mktemp("built") / "first"
    done = run("build", "van-07", "--output", str(out), cwd=example, home=home, TZ="UTC")
    assert done.status == 0, done.err
    return out
