"""The directives and roles a page may use, and what one build remembers while Sphinx reads.

`block` places one block from a JSON file, `formula` a formula with its spoken words, `:to:` a link to a page or anchor.
"""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Iterator
from contextvars import ContextVar
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from docutils import nodes
from docutils.parsers.rst import directives
from sphinx.util.docutils import ReferenceRole, SphinxDirective

from witnessmark.document import figures
from witnessmark.document.blockdata import BlockFault, load
from witnessmark.document.blocks import (
    Block,
    Figure,
    Letterhead,
    Link,
    Note,
    Photo,
    RequirementHead,
    Symbol,
    Worked,
)
from witnessmark.document.formulas import FormulaFault, math_tree
from witnessmark.document.settings import Settings
from witnessmark.document.text import clean, tied
from witnessmark.language import say
from witnessmark.problems import Place, Problem, Severity

if TYPE_CHECKING:
    from sphinx.application import Sphinx

__all__ = ["BUILD", "Build", "block_node", "formula_node", "register", "to_node", "walk"]

_SCHEMES = ("https://", "http://", "mailto:")


# docutils finds visitors by the name of the class: hence the small letters.
class block_node(nodes.General, nodes.Element):
    """One block; `block` is its data. Its children are words for the search index only."""


class formula_node(nodes.General, nodes.Element):
    """A formula in a paragraph of its own: `latex` and `spoken`."""


class to_node(nodes.Inline, nodes.TextElement):
    """A link in prose; `to` is resolved by each output."""


@dataclass(slots=True)
class Build:
    """What one build knows: where it reads, what it has found, which anchors exist."""

    sources: Path
    settings: Settings
    attachments: frozenset[str] = frozenset()
    problems: list[Problem] = field(default_factory=list)
    anchors: dict[str, set[str]] = field(default_factory=dict)
    links: dict[str, list[tuple[Place, str]]] = field(default_factory=dict)
    """By page, where each link stands and what it leads to."""
    files: dict[Path, Any] = field(default_factory=dict)
    markdown: bool = False
    """Whether pages may be written in Markdown: ours of the manual, never those of a workshop."""

    def problem(
        self, code: str, message: str, remedy: str, place: Place, severity: Severity = Severity.PROBLEM
    ) -> None:
        self.problems.append(Problem(code, message, remedy, place, severity))

    def target(self, to: str) -> tuple[str, str, str] | None:
        """What a link means: ("page", name, id), ("attachment", name, ""), ("address", url, ""), or None: nowhere."""
        if to.lower().startswith(_SCHEMES):
            return ("address", to, "") if to.isprintable() and " " not in to else None
        if to.startswith("attachment:"):
            name = to.removeprefix("attachment:")
            return ("attachment", name, "") if name in self.attachments else None
        page, _, anchor = to.partition("#")
        if page in self.anchors and (not anchor or anchor in self.anchors[page]):
            return ("page", page, anchor)
        return None

    def json(self, file: str) -> Any:
        """The content of a JSON file below the sources. Raises `BlockFault`."""
        path = (self.sources / file).resolve()
        if not path.is_relative_to(self.sources.resolve()):
            raise BlockFault("the file lies outside the sources")
        if path not in self.files:
            try:
                self.files[path] = json.loads(path.read_text(encoding="utf-8"))
            except OSError:
                raise BlockFault("there is no such file") from None
            except ValueError as fault:
                raise BlockFault(f"the file is not JSON: {fault}") from None
        return self.files[path]


BUILD: ContextVar[Build] = ContextVar("witnessmark_build")


def walk(value: Any) -> Iterator[Any]:
    """Every dataclass and string inside a block, depth first."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, tuple):
        for item in value:
            yield from walk(item)
    elif dataclasses.is_dataclass(value) and not isinstance(value, type):
        yield value
        for item in dataclasses.fields(value):
            yield from walk(getattr(value, item.name))


_NO_WORDS = frozenset({"id", "to", "file", "kind", "state", "align", "style", "sha256", "symbol", "formula", "figure"})


def _cleaned(value: Any, name: str = "") -> Any:
    """Record text fit for a page; a number and its unit stay on one line. Both outputs get their words from here."""
    if isinstance(value, str):
        return clean(value) if name in _NO_WORDS else tied(clean(value))
    if isinstance(value, list):
        return [_cleaned(item, name) for item in value]
    if isinstance(value, dict):
        return {clean(str(key)): _cleaned(item, str(key)) for key, item in value.items()}
    return value


def _words(block: Block) -> list[str]:
    """What the search index may find: texts and titles, no file names, hashes and numbers of layout."""
    quiet = {"id", "to", "file", "kind", "state", "align", "style", "sha256", "symbol", "formula", "side"}
    out: list[str] = []

    def gather(value: Any) -> None:
        if isinstance(value, str):
            out.append(value)
        elif isinstance(value, tuple):
            for item in value:
                gather(item)
        elif dataclasses.is_dataclass(value) and not isinstance(value, type):
            for item in dataclasses.fields(value):
                if item.name not in quiet:
                    gather(getattr(value, item.name))

    gather(block)
    return [word for word in out if word]


class _Block(SphinxDirective):
    required_arguments = 1
    final_argument_whitespace = False
    option_spec: ClassVar[dict[str, Any]] = {"ids": directives.unchanged}

    def run(self) -> list[nodes.Node]:
        build = BUILD.get()
        file, _, key = self.arguments[0].partition("#")
        place = Place(file)
        try:
            block = self._block(build, file, key)
        except BlockFault as fault:
            build.problem("document.block", f"{key}: {fault}", "mend the data of this block", place)
            # What cannot be shown is said on the page as well: silence would look like nothing missing.
            block = Note(say("Block {key} could not be shown: {fault}", key=key, fault=fault), style="strong", gap=True)
        self.env.note_dependency(file)  # A page is read anew when the data of its blocks changed.
        node = block_node("", block=block, file=file, key=key)
        wanted = str(self.options.get("ids", "")).split()
        node["ids"] = list(dict.fromkeys(wanted))
        for words in _words(block):
            node += nodes.Text(words + " ")
        self.set_source_info(node)
        return [node]

    def _block(self, build: Build, file: str, key: str) -> Block:
        data = build.json(file)
        if not isinstance(data, dict) or key not in data:
            raise BlockFault("the file has no such key")
        block = load(_cleaned(data[key]))
        self._check(build, block, f"{file}#{key}")
        return block

    def _check(self, build: Build, block: Block, where: str) -> None:
        """What a type cannot say: formulas that parse, figures that can be drawn, pictures that are there."""
        for item in walk(block):
            if isinstance(item, Symbol) and item.symbol:
                _formula(item.symbol, f"{where}: symbol {item.symbol!r}")
        if isinstance(block, Worked):
            for step in block.steps:
                _formula(step.formula, f"{where}: formula {step.formula!r}")
        if isinstance(block, Figure):
            try:
                figures.draw(block.data, figures.for_print())
            except (ArithmeticError, IndexError, ValueError) as fault:
                raise BlockFault(f"the figure cannot be drawn: {fault}") from None
        if isinstance(block, Photo) or (isinstance(block, Letterhead) and block.file):
            path = (build.sources / block.file).resolve()
            if not path.is_relative_to(build.sources.resolve()) or not path.is_file():
                raise BlockFault(f"the picture {block.file!r} is not there")
            if path.suffix.lower() not in (".jpg", ".jpeg", ".png"):
                raise BlockFault(f"the picture {block.file!r} is neither JPEG nor PNG")


def _formula(latex: str, where: str) -> None:
    try:
        math_tree(latex)
    except FormulaFault as fault:
        raise BlockFault(f"{where} is no formula we can set: {fault}") from None


class _Formula(SphinxDirective):
    has_content = True
    option_spec: ClassVar[dict[str, Any]] = {"alt": directives.unchanged}

    def run(self) -> list[nodes.Node]:
        latex = "\n".join(self.content)
        node = formula_node("", latex=latex, spoken=clean(str(self.options.get("alt", ""))) or latex)
        self.set_source_info(node)
        return [node]


class _To(ReferenceRole):
    def run(self) -> tuple[list[nodes.Node], list[nodes.system_message]]:
        node = to_node("", clean(self.title), to=clean(self.target))
        self.set_source_info(node)
        return [node], []


def _read(app: Sphinx, doctree: nodes.document) -> None:
    """After one page is read: formulas that parse, the rail of requirements, the anchors."""
    build = BUILD.get()
    docname = app.env.docname
    for node in list(doctree.findall(lambda n: isinstance(n, (nodes.math, nodes.math_block, formula_node)))):
        latex = node["latex"] if isinstance(node, formula_node) else node.astext()
        try:
            math_tree(latex, block=not isinstance(node, nodes.math))
        except FormulaFault as fault:
            place = Place(f"{docname}.rst", node.line or 0, 1 if node.line else 0)
            build.problem("document.formula", f"{latex!r}: {fault}", "use the simpler LaTeX that is supported", place)
            inline = isinstance(node, nodes.math)
            shown = nodes.literal("", latex) if inline else nodes.literal_block("", latex, language="none")
            node.parent.replace(node, shown)
    for section in doctree.findall(nodes.section):
        heads = [child for child in section.children if isinstance(child, block_node)]
        if heads and isinstance(heads[0]["block"], RequirementHead):
            section["rail"] = heads[0]["block"]
    build.links[docname] = list(_led(doctree, docname))
    found = build.anchors.setdefault(docname, set())
    for element in doctree.findall(nodes.Element):
        names = list(element.get("ids", []))
        if isinstance(element, block_node):
            names += [item.id for item in walk(element["block"]) if getattr(item, "id", "")]
            names = list(dict.fromkeys(names))
            element["ids"] = [name for name in element["ids"] if name not in found]
        for name in names:
            if name in found and isinstance(element, block_node):
                build.problem(
                    "document.anchor",
                    f"the id {name!r} stands twice on page {docname}",
                    "give each its own id",
                    Place(str(element["file"])),
                )
            found.add(name)


def _led(doctree: nodes.document, docname: str) -> Iterator[tuple[Place, str]]:
    """Where each link of a page stands, and what it leads to."""
    for node in doctree.findall(nodes.Element):
        if isinstance(node, to_node):
            yield Place(f"{docname}.rst", node.line or 0), str(node["to"])
        elif isinstance(node, block_node):
            for item in walk(node["block"]):
                if isinstance(item, Link):
                    yield Place(str(node["file"])), item.to


def _links(app: Sphinx, env: Any) -> list[str]:
    """After all pages are read: every link that leads nowhere is told once."""
    build = BUILD.get()
    for docname in sorted(build.links):
        for place, to in build.links[docname]:
            if build.target(to) is None:
                build.problem(
                    "document.link",
                    f"the link to {to!r} leads nowhere",
                    "name a page, page#id, attachment:NAME or an http, https or mailto address",
                    place,
                    Severity.NOTE,
                )
    return []


def _purge(app: Sphinx, env: Any, docname: str) -> None:
    """Before a page is read anew, or when it is gone: what was known of it is forgotten."""
    BUILD.get().anchors.pop(docname, None)
    BUILD.get().links.pop(docname, None)


def register(app: Sphinx) -> None:
    """Tell Sphinx about the directives, roles and checks; the outputs add their visitors."""
    app.add_directive("block", _Block)
    app.add_directive("formula", _Formula)
    app.add_role("to", _To())
    app.connect("env-purge-doc", _purge)
    app.connect("doctree-read", _read)
    app.connect("env-updated", _links)
