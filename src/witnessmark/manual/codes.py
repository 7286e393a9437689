"""States with their marks, and every code that a gap or problem can have: read from the program itself."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

import witnessmark
from witnessmark.assessment.model import State
from witnessmark.document.blocks import Cell, Column, Table, Text
from witnessmark.document.views.states import MEANS

from .written import Written, table

__all__ = ["Code", "codes", "codes_page", "states_page"]

_CODE = re.compile(r"[a-z]+(?:-[a-z]+)*\.(?:[a-z]+(?:-[a-z]+)*|…)")
_ASSESSMENT = "assessment"


@dataclass(frozen=True, slots=True)
class Code:
    """One code with what is said and what to do; `…` stands where a name or number is put in."""

    code: str
    message: str
    remedy: str
    floor: str


def states_page() -> Written:
    page = Written("states", "States and gaps", "the seven words, and why a requirement is not shown")
    page.paragraph(
        "Every requirement has exactly one of these words, worst first. Colour is never the only sign: the mark and "
        "the word say the same. Below them: why a record does not count or a requirement is not shown, and what to "
        "do about it. Where three points stand, the message itself has a name or a number."
    )
    states: list[tuple[Text | Cell, ...]] = [
        (Cell(s.words, strong=s.is_gap, state=s.value), MEANS[s], "yes" if s.is_gap else "no") for s in State
    ]
    page.block(
        Table(
            (Column("State", width=1.4), Column("What it means", width=4), Column("Stands in the way", width=1.2)),
            tuple(states),
            id="b.states",
        )
    )
    page.heading("Why something is not shown")
    page.block(_listed([code for code in codes() if code.floor == _ASSESSMENT], "b.gaps"))
    return page


def codes_page() -> Written:
    page = Written("problems", "Problems", "every code that can stand before a message, and its remedy")
    page.paragraph(
        "A problem says where it is, what is wrong, and what to do. Its code never changes its meaning. A file with a "
        "problem is mended before anything is built."
    )
    page.block(_listed([code for code in codes() if code.floor != _ASSESSMENT], "b.codes"))
    return page


def _listed(found: list[Code], ident: str) -> Table:
    rows: list[tuple[Text, ...]] = [(one.code, one.message, one.remedy) for one in found]
    return table(ident, (("Code", 1.3), ("What it says", 3), ("What to do", 2.6)), rows)


def codes() -> tuple[Code, ...]:
    """Every code in the source of the program, sorted; of several wordings the longest."""
    found: dict[str, Code] = {}
    source = Path(witnessmark.__file__).parent
    for path in sorted(source.rglob("*.py")):
        floor = path.relative_to(source).parts[0].removesuffix(".py")
        for code in _of(ast.parse(path.read_text(encoding="utf-8")), floor):
            known = found.get(code.code)
            if known is None or len(code.message) > len(known.message):
                found[code.code] = code
    return tuple(found[code] for code in sorted(found))


def _of(tree: ast.AST, floor: str) -> Iterator[Code]:
    named_values: dict[str, list[ast.expr]] = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.Assign) and len(node.targets) == 1 and isinstance(node.targets[0], ast.Name):
            named_values.setdefault(node.targets[0].id, []).append(node.value)
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        named = {word.arg: word.value for word in node.keywords if word.arg}
        given = [*node.args, *[None] * 3]
        first, message, remedy = (named.get(word) or given[at] for at, word in enumerate(("code", "message", "remedy")))
        said, todo = _words(message), _words(remedy)
        for code in _codes(first, named_values) if said else ():
            yield Code(code, said, todo or "…", floor)


def _codes(node: ast.expr | None, named: Mapping[str, list[ast.expr]], deep: int = 0) -> Iterator[str]:
    """What the code of a call can be: written there, one of two, or by the name of a variable of that module."""
    if isinstance(node, ast.IfExp):
        yield from _codes(node.body, named, deep)
        yield from _codes(node.orelse, named, deep)
    elif isinstance(node, ast.Name) and deep < 2:
        for value in named.get(node.id, ()):
            yield from _codes(value, named, deep + 1)
    elif isinstance(node, (ast.Constant, ast.JoinedStr)) and _CODE.fullmatch(text := _words(node)):
        yield text


def _words(node: ast.expr | None) -> str:
    """A text of the source, with `…` for what is put in when it is said; "" where it is no text."""
    if isinstance(node, ast.Constant):
        return node.value if isinstance(node.value, str) else ""
    if isinstance(node, ast.JoinedStr):
        text = "".join(str(p.value) if isinstance(p, ast.Constant) else "…" for p in node.values)
        return re.sub(r"…(?:[ ,:]*…)*\.?", "…", text)
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
        return _words(node.left) + (_words(node.right) or "…")
    if isinstance(node, ast.IfExp):
        return _words(node.body) or _words(node.orelse)
    if isinstance(node, (ast.Name, ast.Call, ast.Attribute, ast.Subscript)):
        return "…"
    return ""
