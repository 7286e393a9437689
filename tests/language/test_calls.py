"""Every call of `say` and its like can be translated: a literal or declared text, its values by name, said in time.

No text of ours may be missed by the catalogue, so a call whose text is not literal has to stand in `SHAPES`: there the
text is declared elsewhere, and never something that a person wrote.
"""

from __future__ import annotations

import ast
import functools
from collections.abc import Iterator, Mapping
from pathlib import Path

import jinja2
import pytest
from jinja2 import nodes

from tests.language.texts import ROOT, SOURCE, literal
from witnessmark.language import fields

MADE = {"language.py"}
"""Where the functions themselves are."""

SAID = ("say", "say_n", "say_in", "woven")
TEXTS = {"say": (0,), "woven": (0,), "say_in": (0, 1), "say_n": (0, 1), "declared": (0,)}
"""Which arguments are texts."""

SHAPES: Mapping[str, frozenset[str]] = {
    # What a method declares: gathered from the methods themselves.
    **{
        path: frozenset(shapes)
        for path, shapes in {
            "assessment/instruments.py": {"role.title", "role.demands"},
            # Declared in a table of one kind of thing, and said by one function.
            "assessment/judging.py": {"rest.none", "rest.remedy"},
            "assessment/ledger.py": {
                "what",
                "remedy",
                "texts.no_reason",
                "texts.give_reason",
                "texts.alone",
                "texts.with_second",
            },
            "assessment/unused.py": {"text"},
            "document/views/areas.py": {"c.text"},
            "quantities/decision.py": {"self.value"},
            # What a method declares.
            "cli/calculate_.py": {
                "method.title",
                "method.purpose",
                "method.confidence",
                "method.source",
                "method.validity",
                "spec.title",
                "caution.text",
                "s.title",
                "s.demands",
            },
            "cli/list_.py": {"m.title"},
            "cli/meters.py": {"r.title", "unfilled.title"},
            # Recipes of routes: gathered from them.
            "document/handing.py": {"handing.route.title", "handing.route.to", "handing.route.confidence"},
            "document/routes.py": {"self.title"},
            "document/sheets/guard.py": {"spec.title"},
            "document/sheets/page.py": {"method.title", "c.text", "spec.must", "spec.title", "role.title"},
            "document/views/charts.py": {"spec.title"},
            "document/views/records.py": {"method.title", "spec.title"},
            "document/views/reports.py": {"method.title", "method.source", "spec.title"},
            "document/views/results.py": {"spec.title", "named.title"},
            "manual/methods.py": {
                "c.text",
                "m.title",
                "one.confidence",
                "one.purpose",
                "one.source",
                "one.title",
                "one.validity",
                "r.title",
                "s.demands",
                "s.title",
                "spec.title",
            },
            "release/verify.py": {"COMPLETE"},
            # Texts of templates, gathered from them.
            "document/templates.py": {"' '.join(str(text).split())"},
            "document/views/words.py": {"text"},
            "methods/checking.py": {"fact.title", "spec.title"},
            "methods/contributions.py": {"title"},
            "methods/watching.py": {"one['title']"},
            "methods/working.py": {"self.words[name]"},
            "recording/forms/evidence.py": {
                "caution.text",
                "channel.title",
                "option.title",
                "role.demands",
                "role.title",
                "spec.title",
            },
            "recording/forms/office.py": {"m.title", "role.title"},
            # A fault in a log: declared where it is made (`log_fault`), said where the method refuses.
            "methods/series.py": {"said['message']", "said['remedy']"},
        }.items()
    },
}


PASSED_ON = {"methods/series.py", "document/templates.py", "document/views/words.py"}
"""Where values are passed on as they came, by **."""


def _function(call: ast.Call) -> str:
    return call.func.id if isinstance(call.func, ast.Name) else getattr(call.func, "attr", "")


class Calls(ast.NodeVisitor):
    """The calls of one module, each with the functions that it stands in, from without; none: it runs on import."""

    def __init__(self) -> None:
        self.inside: list[ast.AST] = []
        self.found: list[tuple[ast.Call, str, tuple[ast.AST, ...]]] = []

    def _function(self, node: ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda) -> None:
        early = [*node.args.defaults, *(d for d in node.args.kw_defaults if d is not None)]
        if not isinstance(node, ast.Lambda):
            early += node.decorator_list
        for one in early:
            self.visit(one)
        self.inside.append(node)
        for part in [node.body] if isinstance(node, ast.Lambda) else node.body:
            self.visit(part)
        self.inside.pop()

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        self._function(node)

    def visit_AsyncFunctionDef(self, node: ast.AsyncFunctionDef) -> None:
        self._function(node)

    def visit_Lambda(self, node: ast.Lambda) -> None:
        self._function(node)

    def visit_ClassDef(self, node: ast.ClassDef) -> None:
        outside, self.inside = self.inside, []
        self.generic_visit(node)
        self.inside = outside

    def visit_Call(self, node: ast.Call) -> None:
        name = _function(node)
        if name in TEXTS:
            self.found.append((node, name, tuple(self.inside)))
        self.generic_visit(node)


def _within(scope: ast.AST) -> Iterator[ast.AST]:
    """What stands in a module or function itself, and not in functions within it."""
    for node in ast.iter_child_nodes(scope):
        yield node
        if not isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
            yield from _within(node)


def declared_in(scope: ast.AST) -> dict[str, list[str]]:
    """Names of a module or function that hold declared texts, alone or in a table, with the texts."""
    found: dict[str, list[str]] = {}
    for node in _within(scope):
        value = node.value if isinstance(node, ast.Assign | ast.AnnAssign) else None
        if value is None:
            continue
        texts = [
            text
            for call in ast.walk(value)
            if isinstance(call, ast.Call) and _function(call) == "declared" and call.args
            if (text := literal(call.args[0])) is not None
        ]
        for target in node.targets if isinstance(node, ast.Assign) else [node.target]:  # type: ignore[attr-defined]
            for name in target.elts if isinstance(target, ast.Tuple) else [target]:
                if isinstance(name, ast.Name) and texts:
                    found.setdefault(name.id, []).extend(texts)
    return found


TREES = {path: ast.parse(path.read_text("utf-8")) for path in sorted(SOURCE.rglob("*.py"))}
NAMES = {path: declared_in(tree) for path, tree in TREES.items()}


def _module(path: Path, node: ast.ImportFrom) -> Path:
    """The file of ours that is imported from; one that is not there for others."""
    parts = (node.module or "").split(".")
    if node.level:
        return path.parents[node.level - 1].joinpath(*parts).with_suffix(".py")
    return SOURCE.joinpath(*parts[1:]).with_suffix(".py") if parts[0] == "witnessmark" else path / "no"


@functools.cache
def _known(path: Path) -> dict[str, list[str]]:
    """Declared texts by the names under which a module has them, its own and imported ones."""
    found = dict(NAMES[path])
    for node in ast.walk(TREES[path]):
        if isinstance(node, ast.ImportFrom):
            other = NAMES.get(_module(path, node), {})
            for name in node.names:
                if name.name in other:
                    found.setdefault(name.asname or name.name, other[name.name])
    return found


def known(path: Path) -> dict[str, list[str]]:
    return dict(_known(path))


def wrong_text(text: str) -> str:
    if not text.strip():
        return "an empty text"
    if text != text.strip():
        return f"a blank at an end of {text!r}"
    return ""


def wrong_values(texts: list[str], given: set[str], *, counted: bool = False) -> str:
    """What is wrong with the names of the values of one message in its forms."""
    try:
        asked = [fields(text) for text in texts] if given or counted else [frozenset()]
    except ValueError as fault:
        return str(fault)
    free = {"n", "count"} if counted else set()
    missing = frozenset().union(*asked) - given - free
    spare = given - frozenset().union(*asked)
    if not given and not counted and any("{" in text for text in texts):
        return f"braces without a value in {texts[0]!r}"
    return " ".join(
        [*(f"{name} is not given" for name in sorted(missing)), *(f"{n} is in no text" for n in sorted(spare))]
    )


def texts_of(node: ast.expr, names: Mapping[str, list[str]], shapes: frozenset[str]) -> list[str] | str | None:
    """The texts that an argument can be; None when it is known to be declared elsewhere; words for what is wrong."""
    if (text := literal(node)) is not None:
        return wrong_text(text) or [text]
    if isinstance(node, ast.IfExp):
        both = [texts_of(one, names, shapes) for one in (node.body, node.orelse)]
        for one in both:
            if isinstance(one, str):
                return one
        return None if None in both else [text for one in both if isinstance(one, list) for text in one]
    if ast.unparse(node) in shapes:
        return None
    inner = node
    while isinstance(inner, ast.Subscript):
        inner = inner.value
    if isinstance(inner, ast.Name) and inner.id in names:
        return names[inner.id]
    if isinstance(inner, ast.Call) and _function(inner) == "declared":
        return texts_of(inner.args[0], names, shapes)
    return f"no text that is declared: {ast.unparse(node)[:80]}"


def faults(path: Path) -> Iterator[str]:
    relative = path.relative_to(SOURCE).as_posix()
    shapes = SHAPES.get(relative, frozenset())
    calls = Calls()
    calls.visit(TREES[path])
    for call, name, inside in calls.found:
        place = f"{relative}:{call.lineno}: {name}"
        names = known(path)
        for function in inside:
            names |= declared_in(function)
        if not inside and name in SAID:
            yield f"{place}: said when the module is imported, before any language is known"
        if len(call.args) <= max(TEXTS[name]):
            yield f"{place}: a text is missing"
            continue
        forms: list[str] = []
        for at in TEXTS[name]:
            found = texts_of(call.args[at], names, shapes)
            if isinstance(found, str):
                yield f"{place}: {found}"
            elif found is not None and not (name == "say_in" and at == 0):
                forms += found
        if name == "declared" or any(keyword.arg is None for keyword in call.keywords):
            if name != "declared" and relative not in PASSED_ON:
                yield f"{place}: values are given by name, not by **"
            continue
        given = {str(keyword.arg) for keyword in call.keywords}
        if name in ("say", "woven"):
            # A table has texts with other values beside each other when it is not said as a whole: each has to fit.
            wrong = next((w for form in forms if (w := wrong_values([form], given))), "")
        else:
            wrong = wrong_values(forms, given, counted=name == "say_n") if forms else ""
        if wrong:
            yield f"{place}: {wrong}"


def test_there_are_calls_to_look_at() -> None:
    counted = dict.fromkeys(TEXTS, 0)
    for tree in TREES.values():
        calls = Calls()
        calls.visit(tree)
        for _, name, _ in calls.found:
            counted[name] += 1
    assert counted["say"] > 500 and counted["say_n"] > 20 and counted["declared"] > 100


def test_every_text_is_a_literal_or_declared_and_its_values_fit() -> None:
    found = [fault for path in TREES if path.name not in MADE for fault in faults(path)]
    assert not found, "\n".join(found)


def test_no_shape_is_allowed_that_nobody_uses() -> None:
    for relative, shapes in SHAPES.items():
        used = {
            ast.unparse(one)
            for call in ast.walk(TREES[SOURCE / relative])
            if isinstance(call, ast.Call) and _function(call) in SAID
            for arg in call.args[:2]
            for one in ([arg.body, arg.orelse] if isinstance(arg, ast.IfExp) else [arg])
        }
        assert shapes <= used, f"{relative}: {sorted(shapes - used)}"


def test_templates_say_literal_texts_with_their_values() -> None:
    environment = jinja2.Environment()
    seen = 0
    for path in sorted((ROOT / "templates").glob("*.j2")):
        for call in environment.parse(path.read_text("utf-8")).find_all(nodes.Call):
            if not isinstance(call.node, nodes.Name) or call.node.name != "say":
                continue
            seen += 1
            place = f"{path.name}:{call.lineno}"
            first = call.args[0] if call.args else None
            assert isinstance(first, nodes.Const) and len(call.args) == 1, f"{place}: no literal text"
            text = " ".join(str(first.value).split())
            assert text, f"{place}: an empty text"
            wrong = wrong_values([text], {keyword.key for keyword in call.kwargs})
            assert not wrong, f"{place}: {wrong}"
    assert seen >= 4


@pytest.mark.parametrize(
    ("source", "told"),
    [
        ("say('Hello')", "imported"),
        ("class A:\n    x = say('Hello')", "imported"),
        ("def f(x=say('Hello')): ...", "imported"),
        ("def f(x): return say(f'Hello {x}')", "no text that is declared"),
        ("def f(x): return say('Hello ' + x)", "no text that is declared"),
        ("def f(x): return say(x)", "no text that is declared"),
        ("A = 'Hello'\ndef f(): return say(A)", "no text that is declared"),
        ("def f(): return say('')", "an empty text"),
        ("def f(): return say('Hello ')", "a blank at an end"),
        ("A = declared(' Hello')", "a blank at an end"),
        ("def f(x): return say('Hello {x}')", "braces without a value"),
        ("def f(x): return say('Hello {x}', y=x)", "x is not given y is in no text"),
        ("def f(x): return say('Hello', x=x)", "x is in no text"),
        ("def f(x): return say('Hello {x:g}', x=x)", "no plain name"),
        ("def f(x): return say('Hello {x.y}', x=x)", "no plain name"),
        ("def f(x): return say('Hello {x}', **x)", "not by **"),
        ("def f(x): return say_n('{n} gap', '{n} gaps {x}', x)", "x is not given"),
        ("def f(x): return say_in('side', x)", "no text that is declared"),
        ("A = declared('Hello {x}')\ndef f(x): return say(A, y=x)", "x is not given"),
        ("def f(x): return say('Hello {x}' if x else f'{x}', x=x)", "no text that is declared"),
    ],
)
def test_each_fault_is_found(source: str, told: str, monkeypatch: pytest.MonkeyPatch) -> None:
    path = SOURCE / "made_up.py"
    monkeypatch.setitem(TREES, path, ast.parse(source))
    monkeypatch.setitem(NAMES, path, declared_in(TREES[path]))
    _known.cache_clear()
    assert any(told in fault for fault in faults(path)), list(faults(path))


def test_what_is_right_is_left_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    path = SOURCE / "made_up.py"
    source = """
A = declared('Hello {x}')
B = {'a': declared('left'), 'b': declared('right')}
def f(x):
    say('Hello {x}', x=x)
    say(A, x=x)
    say(B['a'])
    say('a' if x else 'b')
    say_in('side', 'left')
    return say_n('{n} gap in {x}', '{count} gaps in {x}', 2, x=x)
"""
    monkeypatch.setitem(TREES, path, ast.parse(source))
    monkeypatch.setitem(NAMES, path, declared_in(TREES[path]))
    _known.cache_clear()
    assert not list(faults(path))
