"""A record read through a method of a plug-in: its log is reduced in the confined child, which loads the plug-in too.

Expected: the largest of four samples by eye, 180 A, with the logger's own ± 2 A.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.workshops import FILES, RECORD, make, seal_by_hand
from witnessmark.methods.registry import adopt
from witnessmark.reading import figures
from witnessmark.reading.check import check
from witnessmark.reading.workshop import read_workshop
from witnessmark.records.world import Workshop

SOURCE = Path(__file__).parent / "logged"
NAMED = "example-highest-current==1.0"
LOG = "t / s,I / A\n0.0,10.0\n0.1,180.0\n0.2,170.5\n0.3,12.0\n"
POLICY = (
    f'format: 1\npolicy: {{decision_rule: {{rule: guarded}}, plugins: ["{NAMED}"]}}\nin_force: 2026-01-12\nby: ao\n'
)
DEMONSTRATION = FILES["evidence/workshop.yaml"] + "demonstration: {as_of: 2026-11-24, notice: Invented.}\n"


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    work = tmp_path_factory.mktemp("wheel")
    shutil.copytree(SOURCE, work / "source", ignore=shutil.ignore_patterns("__pycache__"))
    return _built(work)


def _built(work: Path) -> Path:
    pip = [sys.executable, "-m", "pip", "--disable-pip-version-check", "--no-input", "-q"]
    build = [*pip, "wheel", "--no-index", "--no-deps", "--no-build-isolation", "-w", str(work), str(work / "source")]
    subprocess.run(build, check=True, capture_output=True)
    [made] = work.glob("example_highest_current-1.0-*.whl")
    install = [*pip, "install", "--no-index", "--no-deps", "--upgrade", "--target", str(work / "site"), str(made)]
    subprocess.run(install, check=True, capture_output=True)
    return work / "site"


@pytest.fixture
def installed(wheel: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    monkeypatch.syspath_prepend(str(wheel))
    yield wheel
    adopt({})
    sys.modules.pop("highest_current", None)


def _folder(root: Path, method: str = "highest-current/1") -> None:
    record = RECORD[: RECORD.index("method:")] + (
        f"method: {method}\nlog: {{file: logs/drive.csv, channels: {{time: t / s, current: I / A}}}}\n"
        "readings: {current_check: 100 A ± 2 A (k=2)}\n"
    )
    make(
        root,
        {
            **FILES,
            "evidence/workshop.yaml": DEMONSTRATION,
            "evidence/policy/first.yaml": seal_by_hand(POLICY, "2wxyz3"),
            "evidence/vehicles/van-07/logs/drive.csv": LOG,
            "evidence/vehicles/van-07/records/drive.yaml": seal_by_hand(record, "7k4qxm"),
        },
    )


def _figures(workshop: Workshop) -> dict[str, Any]:
    (found,) = workshop.figures.values()
    return dict(found)


def test_a_record_is_read_through_the_plug_in_in_the_child(tmp_path: Path, installed: Path) -> None:
    _folder(tmp_path)
    assert not [p for p in check(tmp_path, [], use_cache=False) if p.code.startswith(("plugin", "log", "method"))]
    found = _figures(read_workshop(tmp_path, use_cache=False))
    assert found["highest"] == 180.0
    assert found["process"] != os.getpid(), "the log was reduced beside the keyboard"


def test_at_the_bench_too(tmp_path: Path, wheel: Path) -> None:
    log = tmp_path / "drive.csv"
    log.write_text(LOG, encoding="utf-8")
    command = [
        *(sys.executable, "-m", "witnessmark", "calculate", "highest-current/1", "current_check=100 A ± 2 A (k=2)"),
        *("--plugin", NAMED, "--log", str(log), "--channel", "time=t / s", "--channel", "current=I / A"),
        *("--format", "json"),
    ]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join([str(wheel), os.environ.get("PYTHONPATH", "")])}
    done = subprocess.run(command, capture_output=True, text=True, env=environment, check=False)
    assert done.returncode == 0, done.stderr
    [output] = json.loads(done.stdout)["outputs"]
    assert (float(output["value"]), float(output["U"])) == pytest.approx((180.0, 2.0), rel=1e-12)


def test_one_that_strays_to_the_network_gives_a_problem_and_no_figures(tmp_path: Path, installed: Path) -> None:
    _folder(tmp_path, "strays/1")
    codes = {p.code for p in check(tmp_path, [], use_cache=False)}
    assert codes & {"log.refused", "log.crash"}
    assert "highest" not in _figures(read_workshop(tmp_path, use_cache=False))


def test_what_is_remembered_goes_with_the_source_of_the_plug_in(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A plug-in that was changed without a new version must not be answered for by the old one."""
    work = tmp_path / "work"
    work.mkdir()
    shutil.copytree(SOURCE, work / "source", ignore=shutil.ignore_patterns("__pycache__"))
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.syspath_prepend(str(_built(work)))
    _folder(tmp_path / "shop")
    asked: list[int] = []
    ask = figures._ask

    def counted(*given: Any) -> dict[str, Any]:
        asked.append(1)
        return ask(*given)

    monkeypatch.setattr(figures, "_ask", counted)
    try:
        assert _figures(read_workshop(tmp_path / "shop"))["highest"] == 180.0
        assert _figures(read_workshop(tmp_path / "shop"))["highest"] == 180.0
        assert len(asked) == 1, "the same source is remembered"
        module = work / "site" / "highest_current" / "__init__.py"
        module.write_text(module.read_text().replace("current.max()", "current.min()"), encoding="utf-8")
        shutil.rmtree(module.parent / "__pycache__", ignore_errors=True)
        sys.modules.pop("highest_current")
        assert _figures(read_workshop(tmp_path / "shop"))["highest"] == 10.0
    finally:
        adopt({})
        sys.modules.pop("highest_current", None)
