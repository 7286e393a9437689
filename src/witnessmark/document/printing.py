"""Pages for print: doctree to a tree of data, which one fixed Typst template reads.

The tree is ``[name, attributes, children]`` with strings only at its leaves, and one object per block. Text is never
code: a string that Typst reads from JSON is set as it is.
"""

from __future__ import annotations

import dataclasses
import json
import shutil
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from docutils import nodes
from sphinx import addnodes
from sphinx.builders import Builder

from witnessmark.document import figures
from witnessmark.document.blockdata import plain
from witnessmark.document.blocks import (
    GAPS,
    Budget,
    Cell,
    Contents,
    Cover,
    Figure,
    Leaves,
    Letterhead,
    Link,
    Matrix,
    Pairs,
    Photo,
    Readings,
    Strong,
    Symbol,
    Table,
)
from witnessmark.document.columns import WIDE, Shape, shape, widths
from witnessmark.document.formulas import math_tree
from witnessmark.document.layout_words import LAYOUT, STATE_WORDS
from witnessmark.document.marks import LIGHT, MARKS, mark
from witnessmark.document.pages import BUILD, Build, block_node, formula_node, to_node, walk
from witnessmark.document.screen import columns_rest, decimal_rest, under_letterhead, word
from witnessmark.document.text import broken, covered
from witnessmark.language import say
from witnessmark.problems import Place, Severity

if TYPE_CHECKING:
    from sphinx.application import Sphinx

__all__ = ["PdfTree", "UnknownElement", "register"]

# Fields that are not words for the reader: they go into the tree as they are.
_VERBATIM = frozenset({"id", "file", "kind", "state", "align", "style"})
_TALL = 900
_PAGE = 2400
"""About half a page of text: what is shorter can stay whole."""
_WRAPPED: Mapping[type[nodes.Node], str] = {
    nodes.paragraph: "p",
    nodes.strong: "strong",
    nodes.emphasis: "emph",
    nodes.title_reference: "emph",
    nodes.literal: "literal",
    nodes.literal_block: "pre",
    nodes.bullet_list: "bullets",
    nodes.enumerated_list: "numbers",
    nodes.list_item: "item",
    nodes.definition_list: "definitions",
    nodes.definition_list_item: "definition",
    nodes.term: "term",
    nodes.definition: "meaning",
    nodes.field_list: "definitions",
    nodes.field: "definition",
    nodes.field_name: "term",
    nodes.field_body: "meaning",
    nodes.block_quote: "quote",
    nodes.line_block: "lines",
    nodes.line: "line",
    nodes.rubric: "rubric",
    nodes.subscript: "sub",
    nodes.superscript: "super",
    nodes.note: "admonition",
    nodes.warning: "admonition",
    nodes.caution: "admonition",
    nodes.danger: "admonition",
    nodes.important: "admonition",
    nodes.admonition: "admonition",
}
_THROUGH = (nodes.inline, nodes.container, nodes.compound, nodes.generated, nodes.figure, nodes.legend)
_NOTHING = (
    nodes.comment,
    nodes.target,
    nodes.substitution_definition,
    nodes.footnote,
    nodes.colspec,
    nodes.label,
    addnodes.toctree,
    addnodes.index,
    addnodes.highlightlang,
)


class PdfTree(Builder):
    """Writes `body.json`, marks, figures and pictures into the output folder."""

    name = "witnessmark-print"
    format = "typst"
    epilog = ""
    allow_parallel = False
    supported_image_types = ["image/jpeg", "image/png", "image/svg+xml"]  # noqa: RUF012 - declared so in the base class

    def get_outdated_docs(self) -> str:
        return "all pages"

    def get_target_uri(self, docname: str, typ: str | None = None) -> str:
        return f"%{docname}"

    def get_relative_uri(self, from_: str, to: str, typ: str | None = None) -> str:
        return self.get_target_uri(to)

    def prepare_writing(self, docnames: Any) -> None:
        """Nothing to prepare."""

    def write_documents(self, docnames: Any) -> None:
        maker = _Maker(self, BUILD.get(), Path(self.outdir))
        tree = maker.document()
        text = json.dumps(tree, ensure_ascii=False, sort_keys=True, allow_nan=False)
        (Path(self.outdir) / "body.json").write_text(text, encoding="utf-8")

    def write_doc(self, docname: str, doctree: nodes.document) -> None:
        raise AssertionError("all pages are written together")


class _Maker:
    def __init__(self, builder: PdfTree, build: Build, out: Path) -> None:
        self.builder, self.build, self.out = builder, build, out
        self.emitted: set[str] = set()
        self.docname = ""
        self.where = Place("")
        self.pictures = 0
        self.copies: dict[str, str] = {}
        """Where each picture below the sources was copied to, for print."""
        self.footnotes: dict[str, nodes.footnote] = {}
        for folder in ("marks", "figures", "pictures"):
            (out / folder).mkdir(parents=True, exist_ok=True)
        for state in MARKS:
            (out / "marks" / f"{state}.svg").write_text(mark(state), encoding="utf-8")

    # ------------------------------------------------------------ the whole

    def document(self) -> dict[str, Any]:
        env = self.builder.env
        root = self.builder.config.root_doc
        body: list[Any] = []
        for docname, depth in self._order(root):
            doctree = env.get_doctree(docname)
            env.apply_post_transforms(doctree, docname)
            self.docname, self.where = docname, Place(f"{docname}.rst")
            self.footnotes = {name: note for note in doctree.findall(nodes.footnote) for name in note["ids"]}
            body += self._children(doctree, depth)
        settings = self.build.settings
        tree = {
            "settings": {
                **{name: self.words(getattr(settings, name)) for name in ("title", "vehicle", "vin", "line", "origin")},
                **{name: self.words(getattr(settings, name)) for name in ("verdict", "verdict_detail", "author")},
                "verdict_link": self.value(settings.verdict_link, "verdict_link"),
                "stamps": [self.words(stamp) for stamp in settings.stamps],
                "ready": settings.ready,
                "language": settings.language,
                "date": _date(settings.epoch),
            },
            "words": {name: self.words(text) for name, text in LAYOUT.items()},
            "states": {name: self.words(text) for name, text in STATE_WORDS.items()},
            "colours": dict(LIGHT),
            "body": body,
        }
        _prune(tree, self.emitted)
        return tree

    def _order(self, root: str) -> Iterator[tuple[str, int]]:
        """All pages in the order of the table of contents, with the level of their first heading."""
        includes = self.builder.env.toctree_includes
        seen: set[str] = set()

        def below(docname: str, depth: int) -> Iterator[tuple[str, int]]:
            if docname in seen:
                return
            seen.add(docname)
            yield docname, depth
            for child in includes.get(docname, []):
                yield from below(child, depth if docname == root else depth + 1)

        yield from below(root, 1)

    # ------------------------------------------------------------ text

    def words(self, text: str) -> str:
        def missing(char: str) -> None:
            self.build.problem(
                "document.character",
                f"print has no glyph for U+{ord(char):04X}; its code is printed instead",
                "write it in other words, if that matters",
                self.where,
                Severity.NOTE,
            )

        return broken(covered(text.replace("\n", " "), missing))

    def value(self, value: Any, name: str = "") -> Any:
        """A part of a block as JSON: every word fit for print, links resolved, formulas as trees."""
        if isinstance(value, str):
            if name == "id":
                return self.anchor(value)
            return value if name in _VERBATIM else self.words(value)
        if isinstance(value, Link):
            return self.link(value.to, self.words(value.text), page=value.page)
        if isinstance(value, Strong):
            return {"strong": self.words(value.strong)}
        if isinstance(value, Symbol):
            return self.symbol(value.symbol, value.spoken)
        if isinstance(value, tuple):
            return [self.value(item) for item in value]
        if dataclasses.is_dataclass(value) and not isinstance(value, type):
            return self._record(value)
        return value

    def _record(self, value: Any) -> dict[str, Any]:
        out: dict[str, Any] = {}
        for item in dataclasses.fields(value):
            content = getattr(value, item.name)
            if item.name in ("symbol", "of_symbol"):
                out[item.name] = self.symbol(content, getattr(value, "title", "")) if content else None
            elif item.name == "formula":
                out[item.name] = self.formula(content, block=True)
            else:
                out[item.name] = self.value(content, item.name)
        if "state" in out and "word" in out:
            out["word"] = self.words(word(value)) if value.state else out["word"]
        if "state" in out:
            out["is_gap"] = out["state"] in GAPS
        return out

    def formula(self, latex: str, *, block: bool) -> Any:
        """The tree of a formula; a character without a glyph is printed as its code here as well."""

        def fit(node: Any) -> Any:
            name, attributes, children = node
            return [name, attributes, [self.words(c) if isinstance(c, str) else fit(c) for c in children]]

        return fit(math_tree(latex, block=block))

    def symbol(self, latex: str, spoken: str) -> dict[str, Any] | None:
        return {"math": self.formula(latex, block=False), "spoken": self.words(spoken or latex)} if latex else None

    def link(self, to: str, text: str, *, page: bool = False) -> dict[str, Any]:
        target = self.build.target(to)
        if target is None or target[0] == "attachment":
            return {"text": text, "to": "", "url": "", "page": False}
        if target[0] == "address":
            return {"text": text, "to": "", "url": target[1], "page": False}
        return {"text": text, "to": f"{target[1]}#{target[2]}", "url": "", "page": page}

    def anchor(self, name: str) -> str:
        """The label for an id of this page, or "" when there is none or it is already set."""
        label = f"{self.docname}#{name}"
        if not name or label in self.emitted:
            return ""
        self.emitted.add(label)
        return label

    def _page_anchor(self) -> str:
        label = f"{self.docname}#"
        if label in self.emitted:
            return ""
        self.emitted.add(label)
        return label

    # ------------------------------------------------------------ nodes

    def _children(self, node: nodes.Element, level: int) -> list[Any]:
        out: list[Any] = []
        for child in node.children:
            out += self._node(child, level)
        return out

    def _node(self, node: nodes.Node, level: int) -> list[Any]:
        if isinstance(node, nodes.Text):
            return [["t", {}, [self.words(node.astext())]]]
        assert isinstance(node, nodes.Element)
        if isinstance(node, nodes.section):
            return self._section(node, level)
        if isinstance(node, block_node):
            return [self._block(node)]
        anchors = [label for label in map(self.anchor, node.get("ids", [])) if label]
        inner = self._other(node, level)
        return [["anchors", {"labels": anchors}, []], *inner] if anchors else inner

    def _other(self, node: nodes.Element, level: int) -> list[Any]:
        if isinstance(node, formula_node):
            return [self._formula(node["latex"], node["spoken"], block=True)]
        if isinstance(node, (nodes.math, nodes.math_block)):
            return [self._formula(node.astext(), "", block=isinstance(node, nodes.math_block))]
        if isinstance(node, to_node):
            return [["link", self.link(node["to"], self.words(node.astext())), []]]
        if isinstance(node, nodes.reference):
            return self._reference(node, level)
        if isinstance(node, nodes.footnote_reference):
            note = self.footnotes.get(node.get("refid", ""))
            return [["footnote", {}, self._inline(note, level)]] if note is not None else []
        if isinstance(node, nodes.image):
            return [self._image(node)]
        if isinstance(node, nodes.table):
            return [self._table(node, level)]
        if isinstance(node, nodes.transition):
            return [["transition", {}, []]]
        if isinstance(node, nodes.caption):
            return [["caption", {}, self._children(node, level)]]
        if isinstance(node, nodes.problematic):
            return [["literal", {}, [["t", {}, [self.words(node.astext())]]]]]
        if isinstance(node, (*_NOTHING, nodes.system_message)):
            return []
        if isinstance(node, _THROUGH):
            return self._children(node, level)
        for sort, name in _WRAPPED.items():
            if isinstance(node, sort):
                attributes = {"name": type(node).__name__} if name == "admonition" else {}
                return [[name, attributes, self._children(node, level)]]
        raise UnknownElement(f"print does not know the element {type(node).__name__}")

    def _section(self, node: nodes.section, level: int) -> list[Any]:
        rail = node.get("rail")
        labels = [self._page_anchor(), *map(self.anchor, node["ids"])]
        out: list[Any] = []
        cover = any(_holds(child, Cover) for child in node.children)
        title = next((child for child in node.children if isinstance(child, nodes.title)), None)
        if title is not None:
            attributes = {
                "level": level,
                "labels": [label for label in labels if label],
                "words": self.words(title.astext()),
                "state": rail.state if rail else "",
                "is_gap": bool(rail) and rail.state in GAPS,
                # The list of contents does not list itself.
                "quiet": any(_holds(child, Contents) for child in node.children),
                "flows": level == 1 and any(c.page == self.docname and c.flows for c in self.build.settings.chapters),
            }
            if cover:
                out.append(["anchors", {"labels": attributes["labels"]}, []])
            else:
                out.append(["heading", attributes, self._children(title, level)])
        for child in node.children:
            if child is not title:
                out += self._node(child, level + 1)
        if rail and rail.state == "conforms" and not any(item[0] == "landscape" for item in out):
            return [["railed", {}, out]]
        if any(_holds(child, Matrix) for child in node.children):
            return [["landscape", {}, out]]
        if any(block.report for block in _blocks(node) if isinstance(block, Pairs)):
            return [["together", {"whole": _letters(node) < _PAGE}, out]]
        return out

    def _block(self, node: nodes.Element) -> Any:
        block = node["block"]
        self.where = Place(str(node["file"]))
        data = self.value(block)
        data["labels"] = [label for label in map(self.anchor, node["ids"]) if label]
        if isinstance(block, Figure):
            self.pictures += 1
            data["svg"] = f"figures/{self.pictures}.svg"
            del data["data"]
            (self.out / data["svg"]).write_text(self._drawn(block), encoding="utf-8")
        elif isinstance(block, Photo) or (isinstance(block, Letterhead) and block.file):
            data["file"] = self._picture(block.file)
        elif isinstance(block, Cover) and under_letterhead(node):
            data["head_left"] = ""
        elif isinstance(block, Readings):
            data["rest"] = [decimal_rest([getattr(row, name) for row in block.rows]) for name in ("value", "u")]
        elif isinstance(block, Budget):
            columns = ("u", "sensitivity", "share")
            data["rest"] = [decimal_rest([getattr(row, name) for row in block.rows]) for name in columns]
        elif isinstance(block, Table):
            data["rest"] = columns_rest(block)
            whole, data["widths"] = _table_shape(block)
            data["wide"] = whole == WIDE
        elif isinstance(block, Leaves):
            data["widths"] = _leaves_widths(block)
        if isinstance(block, (Table, Leaves, Matrix)):
            # About half a page of text in a narrow column: such a row has to break, or it would leave the page.
            data["tall"] = any(
                sum(len(text) for text in walk(row) if isinstance(text, str)) > _TALL for row in block.rows
            )
        self.where = Place(f"{self.docname}.rst")
        return ["block", data, []]

    def _drawn(self, block: Figure) -> str:
        """The figure with words that print can show: the SVG reader of Typst has the same fonts."""

        def fit(value: Any) -> Any:
            if isinstance(value, str):
                return covered(value, lambda char: None)
            if isinstance(value, tuple):
                return tuple(fit(item) for item in value)
            if dataclasses.is_dataclass(value) and not isinstance(value, type):
                return type(value)(**{item.name: fit(getattr(value, item.name)) for item in dataclasses.fields(value)})
            return value

        return figures.draw(fit(block.data), figures.for_print())

    def _picture(self, file: str) -> str:
        if file not in self.copies:
            self.pictures += 1
            self.copies[file] = f"pictures/{self.pictures}{Path(file).suffix.lower()}"
            shutil.copyfile(self.build.sources / file, self.out / self.copies[file])
        return self.copies[file]

    def _image(self, node: nodes.image) -> Any:
        alt = self.words(node.get("alt") or "")
        return ["image", {"file": self._picture(node["uri"]), "alt": alt or say("picture without words")}, []]

    def _formula(self, latex: str, spoken: str, *, block: bool) -> Any:
        return [
            "math",
            {
                "tree": self.formula(latex, block=block),
                "spoken": self.words(spoken or latex) or "formula",
                "block": block,
            },
            [],
        ]

    def _reference(self, node: nodes.reference, level: int) -> list[Any]:
        text = self.words(node.astext())
        uri, ident = str(node.get("refuri", "")), str(node.get("refid", ""))
        if ident:
            return [["link", {"text": text, "to": f"{self.docname}#{ident}", "url": "", "page": True}, []]]
        if uri.startswith("%"):
            page, _, anchor = uri[1:].partition("#")
            return [["link", {"text": text, "to": f"{page}#{anchor}", "url": "", "page": True}, []]]
        return [["link", self.link(uri, text), []]]

    def _inline(self, node: nodes.Element, level: int) -> list[Any]:
        """The content of a cell or footnote; a single paragraph is unwrapped, it would start a new line."""
        children = [child for child in node.children if not isinstance(child, nodes.label)]
        if len(children) == 1 and isinstance(children[0], nodes.paragraph):
            return self._children(children[0], level)
        out: list[Any] = []
        for child in children:
            out += self._node(child, level)
        return out

    def _table(self, node: nodes.table, level: int) -> Any:
        group = next(node.findall(nodes.tgroup))
        widths = [int(spec.get("colwidth", 1)) for spec in group.findall(nodes.colspec)]
        head: list[Any] = []
        rows: list[Any] = []
        for part in group.children:
            if not isinstance(part, (nodes.thead, nodes.tbody)):
                continue
            for row in part.children:
                assert isinstance(row, nodes.row)
                cells = [self._entry(entry, level) for entry in row.children if isinstance(entry, nodes.entry)]
                (head if isinstance(part, nodes.thead) else rows).append(cells)
        title = next((child.astext() for child in node.children if isinstance(child, nodes.title)), "")
        return ["grid-table", {"widths": widths, "head": head, "rows": rows, "caption": self.words(title)}, []]

    def _entry(self, entry: nodes.entry, level: int) -> dict[str, Any]:
        return {
            "across": int(entry.get("morecols", 0)) + 1,
            "down": int(entry.get("morerows", 0)) + 1,
            "body": self._inline(entry, level),
        }


def _letters(node: nodes.Element) -> int:
    """How much text the blocks of a section hold."""
    return sum(len(text) for block in _blocks(node) for text in walk(block) if isinstance(text, str))


def _blocks(node: nodes.Element) -> list[Any]:
    """The blocks of a section, without those of the sections in it."""
    return [child["block"] for child in node.children if isinstance(child, block_node)]


class UnknownElement(Exception):
    """An element of a page that print has no form for: better no PDF than one with a hole."""


def _holds(node: nodes.Node, kind: type[Any]) -> bool:
    return isinstance(node, block_node) and isinstance(node["block"], kind)


def _words(text: Any) -> str:
    """The words of a cell as print sets them, the page of a link and room for a mark with them."""
    state = isinstance(text, Cell) and text.state
    room = "mark\u00a0" if state else ""
    text = text.text if isinstance(text, Cell) else text
    if isinstance(text, str):
        return (room + text).replace(" ", "\u00a0") if state else text
    said = (
        plain((piece,)) + (f", {LAYOUT['page']} 99" if isinstance(piece, Link) and piece.page else "") for piece in text
    )
    return room + "".join(said)


def _table_shape(table: Table) -> Shape:
    columns = [
        [_words(column.head), *(_words(row[at]) if at < len(row) else "" for row in table.rows)]
        for at, column in enumerate(table.columns)
    ]
    shares = [column.width for column in table.columns]
    return (WIDE, widths(columns, shares, WIDE)) if table.wide else shape(columns, shares)


_LEAVES = (1.3, 1.0, 2.6, 1.2, 0.8)


def _leaves_widths(leaves: Leaves) -> list[float]:
    """Demonstration, part, what was seen, verdict, records; a column that is empty in every row is left out."""
    columns = [
        [_words(getattr(row, name)) for row in leaves.rows] for name in ("leaf", "part", "detail", "word", "records")
    ]
    said = [n for n, column in enumerate(columns) if any(column)]
    heads = [LAYOUT[key] for key in ("demonstration", "part", "seen_by", "verdict", "records")]
    found = widths([[heads[n], *columns[n]] for n in said], [_LEAVES[n] for n in said], WIDE)
    return [dict(zip(said, found, strict=True)).get(n, 0.0) for n in range(len(columns))]


def _date(epoch: int) -> list[int]:
    moment = datetime.fromtimestamp(epoch, UTC)
    return [moment.year, moment.month, moment.day]


def _prune(value: Any, emitted: set[str]) -> None:
    """Links to labels that print does not have become plain words."""
    if isinstance(value, dict):
        if "to" in value and "url" in value and value["to"] not in emitted:
            value["to"] = ""
        for item in value.values():
            _prune(item, emitted)
    elif isinstance(value, list):
        for item in value:
            _prune(item, emitted)


def register(app: Sphinx) -> None:
    """The builder for print."""
    app.add_builder(PdfTree)
