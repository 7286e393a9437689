"""The floors of the code: imports point down only. Fails too when it saw no imports."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

SOURCE = Path(__file__).parents[2] / "src" / "witnessmark"

FLOORS = (
    "cli",
    "manual",
    "release",
    "recording",
    "exports",
    "document",
    "reading",
    "logs",
    "assessment",
    "methods",
    "records",
    "quantities",
    "problems",
)
"""From the top down. A module imports from its own floor and from floors below."""

GROUND = {"problems", "shipped", "confined", "language"}
"""Importable by every floor; they import nothing of ours but `problems`."""

FILES_ALLOWED = {
    "reading",
    "logs",
    "document",
    "exports",
    "recording",
    "release",
    "cli",
    "manual",
    "shipped",
    "confined",
}
"""Only these may open files, ask git or the clock."""


CLOCKS = {
    "datetime.now",
    "datetime.today",
    "datetime.utcnow",
    "date.today",
    "datetime.datetime.now",
    "datetime.date.today",
}


def _modules() -> list[tuple[str, Path]]:
    found = []
    for path in sorted(SOURCE.rglob("*.py")):
        parts = path.relative_to(SOURCE).with_suffix("").parts
        found.append((parts[0], path))
    return found


def _imports(path: Path) -> set[str]:
    """Floors of ours that the module imports, at the top or inside a function."""
    found: set[str] = set()
    package = ("witnessmark", *path.relative_to(SOURCE).parts[:-1])
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        names: list[str] = []
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = ".".join(package[: len(package) - node.level + 1]) + "." if node.level else ""
            module = f"{base}{node.module or ''}".rstrip(".")
            names = [module] if module != "witnessmark" else [f"witnessmark.{alias.name}" for alias in node.names]
        found |= {name.split(".")[1] for name in names if name.startswith("witnessmark.")}
    return found


def test_imports_point_down() -> None:
    seen = 0
    wrong = []
    for floor, path in _modules():
        if floor in ("__init__", "__main__"):
            continue
        for other in _imports(path):
            seen += 1
            if other in GROUND or other == floor or other == "__version__":
                continue
            allowed = floor in FLOORS and other in FLOORS and FLOORS.index(other) > FLOORS.index(floor)
            if not allowed:
                wrong.append(f"{path.relative_to(SOURCE)} imports {other}")
    assert not wrong, "\n".join(wrong)
    assert seen > 100, f"the test saw only {seen} imports: it looks at the wrong place"


@pytest.mark.parametrize("floor", sorted({"assessment", "methods", "records", "quantities", "problems"}))
def test_pure_floors_touch_no_file_git_or_clock(floor: str) -> None:
    forbidden = {"os", "pathlib", "io", "subprocess", "git", "time", "random", "socket", "locale", "tempfile", "shutil"}
    seen = 0
    wrong = []
    for name, path in _modules():
        if name != floor:
            continue
        seen += 1
        text = path.read_text(encoding="utf-8")
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.Import):
                wrong += [f"{path.name} imports {a.name}" for a in node.names if a.name.split(".")[0] in forbidden]
            elif isinstance(node, ast.ImportFrom) and not node.level and (node.module or "").split(".")[0] in forbidden:
                wrong.append(f"{path.name} imports from {node.module}")
            elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "open":
                wrong.append(f"{path.name} opens a file")
            elif isinstance(node, ast.Attribute) and ast.unparse(node) in CLOCKS:
                wrong.append(f"{path.name} asks the clock")
    assert seen, f"no module on the floor {floor}"
    assert not wrong, "\n".join(wrong)


def test_modules_stay_small() -> None:
    """Past about 500 lines, a second idea moved in."""
    long = {
        str(path.relative_to(SOURCE)): lines
        for _, path in _modules()
        if (lines := path.read_text(encoding="utf-8").count("\n")) > 560
    }
    assert not long, f"split by idea: {long}"
