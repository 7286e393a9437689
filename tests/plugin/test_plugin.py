"""A method in a wheel of its own: built, installed into a folder, and known only to who names it.

Expected: Ohm's law by hand, 12.0 mΩ · 400 A = 4.8 V, U = 0.6 mΩ · 400 A = 0.24 V.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.workshops import FILES, RECORD, make, seal_by_hand
from witnessmark.assessment.assess import assess
from witnessmark.methods.plugins import load_plugins
from witnessmark.methods.registry import METHODS, adopt, method, method_ids
from witnessmark.problems import Problem
from witnessmark.reading.check import check
from witnessmark.reading.workshop import read_workshop

EXAMPLE = Path(__file__).parent / "example"
NAMED = "example-touch-voltage==1.0"
GIVEN = ["resistance=12.0 mΩ ± 0.6 mΩ (k=2)", "fault_current=400 A"]


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder into which the example was installed, from a wheel that was built of it; no network."""
    work = tmp_path_factory.mktemp("plugin")
    shutil.copytree(EXAMPLE, work / "source", ignore=shutil.ignore_patterns("__pycache__"))
    pip = [sys.executable, "-m", "pip", "--disable-pip-version-check", "--no-input", "-q"]
    build = [*pip, "wheel", "--no-index", "--no-deps", "--no-build-isolation", "-w", str(work), str(work / "source")]
    subprocess.run(build, check=True, capture_output=True)
    [wheel] = work.glob("example_touch_voltage-1.0-*.whl")
    install = [*pip, "install", "--no-index", "--no-deps", "--target", str(work / "site"), str(wheel)]
    subprocess.run(install, check=True, capture_output=True)
    return work / "site"


@pytest.fixture
def installed(site: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.syspath_prepend(str(site))
    yield
    adopt({})
    sys.modules.pop("touch_voltage", None)


def _calculate(site: Path, *more: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "witnessmark", "calculate", "touch-voltage/1", *GIVEN, *more]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join([str(site), os.environ.get("PYTHONPATH", "")])}
    return subprocess.run(command, capture_output=True, text=True, env=environment, check=False)


def test_at_the_bench_it_is_known_to_who_names_it(site: Path) -> None:
    done = _calculate(site, "--plugin", NAMED, "--format", "json")
    assert done.returncode == 0, done.stderr
    said = json.loads(done.stdout)
    [output] = said["outputs"]
    assert (float(output["value"]), float(output["U"])) == pytest.approx((4.8, 0.24), rel=1e-12)
    assert "High voltage can kill" in said["cautions"][0]
    assert _calculate(site).returncode == 2


@pytest.mark.usefixtures("installed")
def test_only_what_is_named_is_loaded() -> None:
    assert load_plugins([]) == ({}, ()) and "touch_voltage" not in sys.modules
    found, faults = load_plugins([NAMED])
    assert not faults and set(found) == {"touch-voltage/1"}
    plugin = found["touch-voltage/1"]
    assert (plugin.distribution, plugin.version) == ("example-touch-voltage", "1.0")
    assert plugin.digest.startswith("sha256:")
    assert method("touch-voltage/1") is None
    adopt(found)
    assert method("touch-voltage/1") is plugin.method and "touch-voltage/1" in method_ids()
    adopt({})
    assert method("touch-voltage/1") is None and set(method_ids()) == set(METHODS)


@pytest.mark.usefixtures("installed")
@pytest.mark.parametrize(
    ("text", "code", "said"),
    [
        ("example-touch-voltage", "plugin.form", "==1.2"),
        ("example-touch-voltage==2.0", "plugin.version", "1.0 is installed"),
        ("nobody-made-this==1.0", "plugin.not-installed", "pip install"),
        ("pytest==" + pytest.__version__, "plugin.nothing", "offers no methods"),
        ("../evil==1.0", "plugin.form", "names no plug-in"),
    ],
)
def test_what_cannot_be_used_is_a_problem(text: str, code: str, said: str) -> None:
    found, faults = load_plugins([text])
    assert found == {} and [p.code for p in faults] == [code]
    assert said in f"{faults[0].message} {faults[0].remedy}"


POLICY = "format: 1\npolicy: {decision_rule: {rule: guarded}, plugins: [%s]}\nin_force: 2026-01-12\nby: ao\n"
TOUCH = RECORD[: RECORD.index("method:")] + (
    "method: touch-voltage/1\nreadings: {resistance: 12.0 mΩ ± 0.6 mΩ (k=2), fault_current: 400 A}\n"
)
DEMONSTRATION = FILES["evidence/workshop.yaml"] + "demonstration: {as_of: 2026-11-24, notice: Invented.}\n"


def _folder(root: Path, named: str | None) -> tuple[Problem, ...]:
    files = {**FILES, "evidence/workshop.yaml": DEMONSTRATION}
    files["evidence/vehicles/van-07/records/touch.yaml"] = seal_by_hand(TOUCH, "7k4qxm")
    if named is not None:
        files["evidence/policy/first.yaml"] = seal_by_hand(POLICY % named, "2wxyz3")
    make(root, files)
    return check(root, [], use_cache=False)


@pytest.mark.usefixtures("installed")
def test_in_a_folder_the_policy_names_it(tmp_path: Path) -> None:
    codes = {p.code for p in _folder(tmp_path, f'"{NAMED}"')}
    assert "method.unknown" not in codes and not any(code.startswith("plugin") for code in codes)
    assert assess(read_workshop(tmp_path, use_cache=False), "van-07") is not None
    assert method("touch-voltage/1") is not None


@pytest.mark.usefixtures("installed")
@pytest.mark.parametrize(("named", "code"), [(None, ""), ('"nobody-made-this==1.0"', "plugin.not-installed")])
def test_what_the_policy_does_not_name_is_not_loaded(tmp_path: Path, named: str | None, code: str) -> None:
    """Even where it is installed: a folder runs nothing that its policy does not name."""
    problems = _folder(tmp_path, named)
    assert "method.unknown" in {p.code for p in problems}
    assert "touch_voltage" not in sys.modules
    faults = [p for p in problems if p.code.startswith("plugin")]
    assert [p.code for p in faults] == ([code] if code else [])
    for fault in faults:
        assert fault.place is not None and fault.place.file == "evidence/policy/first.yaml"
        assert "plugins" in (tmp_path / fault.place.file).read_text().splitlines()[fault.place.line - 1]


@pytest.mark.usefixtures("installed")
def test_an_edited_policy_makes_nothing_known(tmp_path: Path) -> None:
    _folder(tmp_path, None)
    policy = tmp_path / "evidence" / "policy" / "first.yaml"
    policy.parent.mkdir(exist_ok=True)
    policy.write_text(seal_by_hand(POLICY % "", "2wxyz3").replace("plugins: []", f'plugins: ["{NAMED}"]'))
    assert "method.unknown" in {p.code for p in check(tmp_path, [], use_cache=False)}
    assert "touch_voltage" not in sys.modules


@pytest.mark.usefixtures("installed")
@pytest.mark.parametrize(
    ("named", "found"),
    [(f'"{NAMED}"', []), (None, ["set.unknown-measurand"]), ('"nobody-made-this==1.0"', [])],
)
def test_a_set_may_ask_what_only_a_plug_in_measures(tmp_path: Path, named: str | None, found: list[str]) -> None:
    """Where the plug-in is not named, nobody can show it; where it could not be loaded, that alone is told."""
    area = FILES["requirements/mini/bus.yaml"].replace(
        "measure: isolation-resistance, criteria: {full: {at_least: 1 MΩ}}",
        "measure: touch-voltage, criteria: {full: {at_most: 60 V}}",
    )
    _folder(tmp_path, named)
    (tmp_path / "requirements/mini/bus.yaml").write_text(area, encoding="utf-8")
    codes = [p.code for p in check(tmp_path, [], use_cache=False) if p.code.startswith("set.unknown")]
    assert codes == found
