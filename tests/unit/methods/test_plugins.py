"""Methods of third parties: only what is named is loaded, and what is not a method is a problem."""

from __future__ import annotations

import sys
import types
from dataclasses import replace
from importlib import metadata
from typing import Any

import pytest

from witnessmark.methods.registry import GROUP, load_plugins, method, method_ids


@pytest.fixture
def offered(monkeypatch: pytest.MonkeyPatch) -> None:
    """Three entry points of an invented package: a method, one under a wrong name, and one that breaks on import."""
    own = method("insulation-tester/1")
    assert own is not None
    module: Any = types.ModuleType("invented_methods")
    module.GOOD = replace(own, id="hipot/1")
    module.OTHER = replace(own, id="another/1")
    monkeypatch.setitem(sys.modules, "invented_methods", module)
    points = (
        metadata.EntryPoint("hipot/1", "invented_methods:GOOD", GROUP),
        metadata.EntryPoint("wrong/1", "invented_methods:OTHER", GROUP),
        metadata.EntryPoint("broken/1", "invented_methods_that_are_not_there:GOOD", GROUP),
    )
    monkeypatch.setattr(metadata, "entry_points", lambda group: points if group == GROUP else ())


@pytest.mark.usefixtures("offered")
def test_only_named_methods_are_loaded() -> None:
    assert load_plugins([]) == ({}, ())
    found, faults = load_plugins(["hipot/1"])
    assert not faults and set(found) == {"hipot/1"}
    assert found["hipot/1"].digest.startswith("sha256:")
    assert method("hipot/1") is None
    assert method("hipot/1", found) is found["hipot/1"].method
    assert "hipot/1" in method_ids(found) and "hipot/1" not in method_ids()


@pytest.mark.usefixtures("offered")
@pytest.mark.parametrize(
    ("name", "code"), [("wrong/1", "method.broken"), ("broken/1", "method.broken"), ("none/1", "method.not-installed")]
)
def test_what_cannot_be_used_is_a_problem(name: str, code: str) -> None:
    found, faults = load_plugins([name])
    assert found == {} and [p.code for p in faults] == [code] and faults[0].remedy
