"""Every shipped file against the JSON Schema of its kind, by an independent validator; and broken ones fail.

The validator is jsonschema's implementation of draft 2020-12. The schemas are ours, so this shows that models and
schemas say the same of real files, not that either is right.
"""

from __future__ import annotations

import copy
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from witnessmark.exports.schemas import FILES, schemas
from witnessmark.reading.folder import is_act_path
from witnessmark.reading.yamltree import Node, as_text, read_tree
from witnessmark.records.acts import ACT_KEYS, act_model

ROOT = Path(__file__).parents[2]
SCHEMAS = schemas()
NAME_OF = {model: name for name, model in FILES}


def _listed(value: Any) -> Any:
    """Tuples as lists: JSON has no tuples."""
    if isinstance(value, dict):
        return {key: _listed(item) for key, item in value.items()}
    return [_listed(item) for item in value] if isinstance(value, tuple) else value


def _tree(path: Path) -> Any:
    root = read_tree(path.read_bytes(), path.name)
    assert isinstance(root, Node), root
    return _listed(as_text(root))


def _kind(path: str, tree: Any) -> str:
    parts = path.split("/")
    if is_act_path(path):
        model = act_model(tree)
        assert model is not None, path
        return NAME_OF[model]
    if parts[0] == "requirements" and parts[2:3] == ["forms"]:
        return "form"
    if parts[0] == "requirements":
        return {"facts.yaml": "facts", "set.yaml": "set"}.get(parts[-1], "requirements")
    if parts[1] == "people":
        return "person"
    return parts[-1].removesuffix(".yaml")


def _shipped() -> list[str]:
    found = [p for top in ("requirements", "evidence") for p in (ROOT / top).rglob("*.yaml")]
    return sorted(p.relative_to(ROOT).as_posix() for p in found if "releases" not in p.parts)


def _check(name: str, tree: Any) -> list[str]:
    validator = jsonschema.Draft202012Validator(SCHEMAS[name])
    return [f"{'/'.join(map(str, e.path))}: {e.message[:200]}" for e in validator.iter_errors(tree)]


@pytest.mark.parametrize("name", sorted(SCHEMAS))
def test_the_schema_is_a_schema(name: str) -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMAS[name])
    assert SCHEMAS[name]["additionalProperties"] is False


def test_every_shipped_file_fits_the_schema_of_its_kind() -> None:
    paths = _shipped()
    assert len(paths) > 10, "the test looks at the wrong place"
    wrong = {}
    for path in paths:
        tree = _tree(ROOT / path)
        faults = _check(_kind(path, tree), tree)
        if faults:
            wrong[path] = faults
    assert not wrong


def test_every_kind_of_act_has_a_schema() -> None:
    assert {model for _, model in ACT_KEYS} <= set(NAME_OF)


RECORD: dict[str, Any] = {
    "format": "1",
    "shows": {"isolation-joined-bus/isolation": {}},
    "part": "traction-bus",
    "performed": "2026-10-14T16:20+02:00",
    "by": {"tester": "jm"},
    "method": "insulation-tester/1",
    "readings": {"resistance": ["1.2 MΩ", "1.3 MΩ"]},
}


def _with(**changed: Any) -> Callable[[dict[str, Any]], None]:
    return lambda tree: tree.update(changed)


BROKEN: tuple[tuple[str, Callable[[dict[str, Any]], Any]], ...] = (
    ("unknown key", _with(colour="red")),
    ("missing key", lambda tree: tree.pop("performed")),
    ("nothing shown", _with(shows={})),
    ("not a leaf", _with(shows={"isolation": {}})),
    ("unknown role", _with(by={"tester": "jm", "boss": "ao"})),
    ("a time without its difference to UTC", _with(performed="2026-10-14T16:20")),
    ("a method without version", _with(method="insulation-tester")),
    ("another format", _with(format="2")),
    ("a path that leaves the folder", _with(files=[{"name": "../x.jpg", "bytes": "1", "sha256": "0" * 64}])),
    ("a digest that is too short", _with(files=[{"name": "x.jpg", "bytes": "1", "sha256": "0" * 63}])),
    ("a negative size", _with(files=[{"name": "x.jpg", "bytes": "-1", "sha256": "0" * 64}])),
    ("a code with letters that can be confused", _with(code="o0l1iq")),
    ("a finding that is no finding", _with(shows={"a/b": {"finding": "fine"}})),
    ("readings that are no mapping", _with(readings="1.2 MΩ")),
)


def test_the_record_that_is_broken_below_is_good() -> None:
    assert _check("record", RECORD) == []


@pytest.mark.parametrize(("what", "change"), BROKEN, ids=[what for what, _ in BROKEN])
def test_a_broken_record_fails(what: str, change: Callable[[dict[str, Any]], Any]) -> None:
    tree = copy.deepcopy(RECORD)
    change(tree)
    assert _check("record", tree), what


def test_what_an_editor_makes_of_unquoted_values_is_allowed() -> None:
    """YAML 1.2 core schema: 421, true and 3.1 arrive as numbers and truth values in an editor's validator."""
    tree = copy.deepcopy(RECORD)
    tree["format"] = 1
    tree["readings"] = {"resistance": 1.2}
    tree["conditions"] = {"dry": True}
    assert _check("record", tree) == []
