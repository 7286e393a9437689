"""Every text of ours, gathered from the code and the templates into the catalogue that translators start from.

    python -m tests.language.texts     # writes src/witnessmark/languages/witnessmark.pot anew

What is looked for: the literal texts of `say`, `say_n`, `say_in`, `woven` and `declared`, and what methods declare
(title, cautions, readings …) and the recipes of routes, which are said where they are printed.
"""

from __future__ import annotations

import ast
import dataclasses
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
SOURCE = ROOT / "src" / "witnessmark"
POT = SOURCE / "languages" / "witnessmark.pot"
DECLARED = ("title", "purpose", "validity", "demands", "must", "text", "confidence", "source")
"""Fields of what a method declares that are words of ours."""
_A_WORD = re.compile(r"[a-z]{3}")
"""A choice that is a word, such as `homogeneous`, and no name of a class, such as `IIIb`."""


@dataclass(frozen=True, slots=True)
class Text:
    """One text: where it stands first, and its forms."""

    message: str
    many: str = ""
    context: str = ""
    place: str = ""


def texts() -> list[Text]:
    """All texts, in order of their place; each once."""
    found: dict[tuple[str, str], Text] = {}
    for text in (*_of_code(), *_of_templates(), *_of_methods(), *_of_routes()):
        known = found.get((text.context, text.message))
        if known is None or (text.many and not known.many):
            found[text.context, text.message] = text
    return list(found.values())


def calls(tree: ast.AST) -> Iterator[tuple[ast.Call, str]]:
    """Every call of one of the functions, with the function's name."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            name = node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")
            if name in ("say", "say_n", "say_in", "woven", "declared"):
                yield node, name


def literal(node: ast.expr) -> str | None:
    return node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else None


def _of_code() -> Iterator[Text]:
    for path in sorted(SOURCE.rglob("*.py")):
        place = path.relative_to(ROOT).as_posix()
        for call, name in calls(ast.parse(path.read_text("utf-8"))):
            said = [literal(one) for one in call.args]
            if name == "say_n" and said[0] is not None and said[1] is not None:
                yield Text(said[0], said[1], place=place)
            elif name == "say_in" and said[0] is not None and said[1] is not None:
                yield Text(said[1], context=said[0], place=place)
            elif name in ("say", "woven", "declared") and said and said[0]:
                yield Text(said[0], place=place)


def _of_templates() -> Iterator[Text]:
    import jinja2
    from jinja2 import nodes

    environment = jinja2.Environment()
    for path in sorted((ROOT / "templates").glob("*.j2")):
        for call in environment.parse(path.read_text("utf-8")).find_all(nodes.Call):
            if isinstance(call.node, nodes.Name) and call.node.name == "say" and isinstance(call.args[0], nodes.Const):
                yield Text(" ".join(str(call.args[0].value).split()), place=path.relative_to(ROOT).as_posix())


def _of_methods() -> Iterator[Text]:
    from witnessmark.methods import registry

    for ident in registry.method_ids():
        method = registry.method(ident)
        assert method is not None
        for text in _declared(method):
            yield Text(text, place=f"methods/{ident}")


def _of_routes() -> Iterator[Text]:
    from witnessmark.document.routes import routes

    for route in routes():
        for text in (route.title, route.to, route.confidence, *(item.title for item in route.items)):
            yield Text(text, place=f"route {route.id}")


def _declared(value: object) -> Iterator[str]:
    """Texts of a declaration: `title`, `help` and so on of dataclasses, however deep."""
    if isinstance(value, tuple):
        for item in value:
            yield from _declared(item)
    elif dataclasses.is_dataclass(value) and not isinstance(value, type):
        for field in dataclasses.fields(value):
            inner = getattr(value, field.name)
            if isinstance(inner, str):
                if field.name in DECLARED and inner:
                    yield inner
            elif field.name == "choices":
                yield from (choice for choice in inner if _A_WORD.search(choice))
            else:
                yield from _declared(inner)


def catalogue(found: list[Text] | None = None) -> str:
    """The PO template as text."""
    from babel.messages.catalog import Catalog
    from babel.messages.pofile import write_po

    made = Catalog(project="Witnessmark", charset="utf-8")
    for text in texts() if found is None else found:
        made.add(
            (text.message, text.many) if text.many else text.message,
            locations=[(text.place, 0)],
            context=text.context or None,
        )
    out = io.BytesIO()
    write_po(out, made, omit_header=True, width=120, include_lineno=False)
    return out.getvalue().decode("utf-8")


if __name__ == "__main__":
    POT.parent.mkdir(exist_ok=True)
    POT.write_text(catalogue(), "utf-8")
    print(f"{len(texts())} texts in {POT.relative_to(ROOT)}")  # noqa: T201 - a command
