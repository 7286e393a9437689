"""Whatever stands in a file, reading gives a model or problems: it never raises, and no problem is empty.

Shipped files are spoiled at one place: a value becomes another form, a key is lost, renamed or doubled in depth.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pydantic import BaseModel

from witnessmark.problems import Problem
from witnessmark.reading.acts import read_act
from witnessmark.reading.models import read_model
from witnessmark.reading.yamltree import Node, as_text, read_tree
from witnessmark.recording.roundtrip import plain_yaml
from witnessmark.records.acts import ACT_KEYS
from witnessmark.records.sets import FactsFile, RequirementFile, SetFile
from witnessmark.records.workshop import InstrumentFile, PersonFile, VehicleFile, WorkshopFile

ROOT = Path(__file__).parents[2]
EVERY: tuple[type[BaseModel], ...] = (
    *(model for _, model in ACT_KEYS), FactsFile, RequirementFile, SetFile, InstrumentFile, PersonFile, VehicleFile,
    WorkshopFile,
)  # fmt: skip


def _trees() -> list[dict[str, Any]]:
    found = []
    for top in ("evidence", "requirements"):
        for path in sorted((ROOT / top).rglob("*.yaml"))[::6]:
            root = read_tree(path.read_bytes(), path.name)
            if isinstance(root, Node):
                tree = as_text(root)
                if isinstance(tree, dict) and len(str(tree)) < 12_000:
                    found.append(tree)
    return found


TREES = _trees()
_WORD = st.sampled_from(
    ["", "x", "403.2 V", "5,3 V", "-", "1e400", "no", "2026-10-14", "a/b", "Ω", "sha256:", "7k4qxm", "0"]
)
_ANY = st.recursive(
    _WORD,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(_WORD.filter(bool), inner, max_size=3),
    max_leaves=6,
)


def _spoil(tree: Any, draw: Any) -> Any:
    """The tree with one place changed."""
    if isinstance(tree, dict) and tree and draw(st.integers(0, 4)):
        key = draw(st.sampled_from(sorted(tree)))
        what = draw(st.integers(0, 9))
        rest = {k: v for k, v in tree.items() if k != key}
        if what == 0:
            return rest
        if what == 1:
            return {**rest, key + "x": tree[key]}
        return {k: (_spoil(v, draw) if k == key else v) for k, v in tree.items()}
    if isinstance(tree, tuple) and tree and draw(st.integers(0, 4)):
        index = draw(st.integers(0, len(tree) - 1))
        return tuple(_spoil(item, draw) if n == index else item for n, item in enumerate(tree))
    return draw(_ANY)


def _sound(problems: tuple[Problem, ...]) -> None:
    for problem in problems:
        assert problem.code
        assert problem.message
        assert problem.remedy
        assert problem.place is not None
        assert problem.place.line >= 1
        assert "Input should" not in problem.message


@settings(max_examples=250, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(st.data())
def test_a_spoiled_act_is_read_or_refused(data: st.DataObject) -> None:
    assert len(TREES) > 10, "the test looks at the wrong place"
    tree = _spoil(data.draw(st.sampled_from(TREES)), data.draw)
    if not isinstance(tree, dict) or not tree:
        return
    text = read_act(plain_yaml(tree), "f.yaml")
    _sound(text.problems)
    assert (text.body is None) == bool(text.problems)


@settings(max_examples=250, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(st.data())
def test_any_tree_in_any_model(data: st.DataObject) -> None:
    tree = _spoil(data.draw(st.sampled_from(TREES)), data.draw)
    if not isinstance(tree, dict) or not tree:
        return
    root = read_tree(plain_yaml(tree), "f.yaml")
    assert isinstance(root, Node)
    value, problems = read_model(data.draw(st.sampled_from(EVERY)), root, "f.yaml")
    _sound(problems)
    assert (value is None) == bool(problems)
