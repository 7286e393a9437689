"""Sphinx, Jinja, ruamel.yaml, pydantic and GitPython each do real work in the demonstration: calls are counted."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

from .conftest import ROOT

COUNTER = """
import collections, importlib.util, json, os, sys
from pathlib import Path

packages = ("sphinx", "jinja2", "ruamel", "pydantic", "git")
roots = {}
for name in packages:
    spec = importlib.util.find_spec(name)
    roots[name] = str(Path(next(iter(spec.submodule_search_locations))))
calls = collections.Counter()

def watch(frame, event, argument):
    if event == "call":
        where = frame.f_code.co_filename
        for name, root in list(roots.items()):
            if where.startswith(root) and frame.f_code.co_name != "<module>":
                calls[name] += 1
                if calls[name] > 100:
                    del roots[name]  # It has shown what it does.
        if not roots:  # There is nothing left to see.
            print(json.dumps(calls), flush=True)
            os._exit(0)

from witnessmark.cli.main import main
target = sys.argv[1]
sys.setprofile(watch)
assert main(["start", target + "-own"]) == 0
# The confined child would hide its calls: run its function here.
import importlib
import witnessmark.confined as confined

def here(target, argument, **limits):
    module, function = target.split(":")
    return getattr(importlib.import_module(module), function)(argument)

confined.call = here
assert main(["build", "van-07", "--folder", sys.argv[2], "--output", target + "-out"]) == 0
sys.setprofile(None)
print(json.dumps(calls))
"""


@pytest.fixture(scope="module")
def calls(tmp_path_factory: pytest.TempPathFactory) -> dict[str, int]:
    folder = tmp_path_factory.mktemp("work") / "workshop"
    done = subprocess.run(
        [sys.executable, "-c", COUNTER, str(folder), str(ROOT)],
        capture_output=True,
        text=True,
        timeout=280,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-3000:]
    found: dict[str, int] = json.loads(done.stdout.splitlines()[-1])
    return found


@pytest.mark.parametrize("package", ["sphinx", "jinja2", "ruamel", "pydantic", "git"])
def test_package_does_real_work(calls: dict[str, int], package: str) -> None:
    assert calls.get(package, 0) > 30, calls
