"""Pages on the screen: blocks as HTML through autoescaped templates, formulas as MathML, an own theme.

No script is ours; the search is Sphinx' own and works from a folder.
"""

from __future__ import annotations

import functools
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

from docutils import nodes
from sphinx.util.math import get_node_equation_number
from sphinx.writers.html5 import HTML5Translator

from witnessmark.document import figures
from witnessmark.document.blockdata import plain
from witnessmark.document.blocks import GAPS, STATES, Cell, Letterhead, Link, RequirementHead, Strong, Symbol, Table
from witnessmark.document.formulas import mathml
from witnessmark.document.layout_words import LAYOUT, STATE_WORDS
from witnessmark.document.marks import sprite
from witnessmark.document.pages import BUILD, block_node, formula_node, to_node
from witnessmark.document.text import pieces
from witnessmark.language import decimal_mark

if TYPE_CHECKING:
    from jinja2 import Environment
    from markupsafe import Markup
    from sphinx.application import Sphinx

__all__ = ["THEME", "columns_rest", "decimal_rest", "register", "under_letterhead", "word"]

_NUMBER = re.compile(r"[<>≤≥±−+-]?\s*\d")
THEME = Path(__file__).parent / "theme"


def word(item: Any) -> str:
    """The word of a state: as given, else the state's own."""
    return item.word or STATE_WORDS[str(item.state)]


def under_letterhead(node: nodes.Element) -> bool:
    """Whether a letterhead on the same page says already whose it is."""
    blocks = node.document.findall(block_node) if node.document is not None else ()
    return any(isinstance(one["block"], Letterhead) for one in blocks)


def decimal_rest(texts: list[str]) -> list[str]:
    """For each text the digits that it lacks behind the decimal mark to line up with the longest, with the mark."""
    parts: list[int | None] = []
    for text in texts:
        if not _NUMBER.match(text):
            parts.append(None)
            continue
        mark = max(text.rfind("."), text.rfind(","))
        digits = len(text) - mark - 1 if mark >= 0 and text[mark + 1 :].isdigit() else 0
        parts.append(digits)
    most = max((digits for digits in parts if digits is not None), default=0)
    return [
        "" if digits is None or most == digits else (decimal_mark() if not digits else "") + "0" * (most - digits)
        for digits in parts
    ]


def columns_rest(table: Table) -> list[list[str]]:
    """`decimal_rest` for each decimal column of a table, empty strings for the others; by column, then row."""
    out = []
    for at, column in enumerate(table.columns):
        texts = [_cell_words(row[at]) if at < len(row) else "" for row in table.rows]
        out.append(decimal_rest(texts) if column.align == "decimal" else [""] * len(texts))
    return out


def _cell_words(value: Any) -> str:
    return plain(value.text if isinstance(value, Cell) else value)


def _lack(rest: str) -> str:
    """The class that leaves room for the digits a number lacks."""
    return f"p{len(rest) - 1}" if not rest[:1].isdigit() and rest else f"d{len(rest)}"


class _Pages:
    """Renders blocks for one page: links are relative to it."""

    def __init__(self, translator: Translator) -> None:
        self.translator = translator

    def href(self, to: str) -> str | None:
        target = BUILD.get().target(to)
        if target is None:
            return None
        sort, name, anchor = target
        builder = self.translator.builder
        here: str = builder.current_docname
        if sort == "address":
            return name
        if sort == "attachment":
            # On the screen a record has a page of its own, which leads on to the file and to every place that uses it.
            own = f"record-{Path(name).stem}"
            if name.endswith(".yaml") and own in BUILD.get().anchors and own != here:
                return str(builder.get_relative_uri(here, own))
            return "../" * here.count("/") + "attached/" + name
        if name == here and anchor:
            return f"#{anchor}"
        uri: str = builder.get_relative_uri(here, name)
        return f"{uri}#{anchor}" if anchor else uri

    def text(self, value: Any) -> Markup:
        from markupsafe import Markup, escape

        if isinstance(value, str):
            return Markup("").join(self._word(part) for part in _split(value))
        out = Markup("")
        for piece in value:
            if isinstance(piece, Link):
                out += self.link(piece)
            elif isinstance(piece, Strong):
                out += Markup("<strong>{}</strong>").format(self.text(piece.strong))
            elif isinstance(piece, Symbol):
                out += self.symbol(piece.symbol, piece.spoken)
            else:
                out += self.text(piece) if isinstance(piece, str) else escape(piece)
        return out

    @staticmethod
    def _word(part: str) -> Markup:
        from markupsafe import Markup, escape

        if len(part) < 25 or part.isspace():
            return escape(part)
        return Markup("<wbr>").join(pieces(part))

    def link(self, link: Link | None, words: str = "") -> Markup:
        from markupsafe import Markup

        if link is None:
            return self.text(words)
        href = self.href(link.to)
        shown = self.text(words or link.text)
        return shown if href is None else Markup('<a href="{}">{}</a>').format(href, shown)

    def symbol(self, latex: str, spoken: str = "") -> Markup:
        from markupsafe import Markup, escape

        if not latex:
            return Markup("")
        # MathML of our own making: the parser wrote every element, the text in it is escaped by it.
        element = mathml(latex)
        return Markup(element.replace("<math ", f'<math aria-label="{escape(spoken)}" ', 1) if spoken else element)

    def picture(self, file: str) -> str:
        builder = self.translator.builder
        # One name for one file, in whatever order and how often pages are written.
        name = builder.images.setdefault(file, file.replace("_", "__").replace("/", "_"))
        return "../" * builder.current_docname.count("/") + "_images/" + str(name)


def _split(text: str) -> list[str]:
    out: list[str] = []
    for char in text:
        if out and out[-1][-1].isspace() == char.isspace():
            out[-1] += char
        else:
            out.append(char)
    return out


@functools.cache
def _environment() -> Environment:
    import jinja2
    from markupsafe import Markup

    environment = jinja2.Environment(
        loader=jinja2.FileSystemLoader(THEME / "blocks"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )

    def mark(state: str, size: str = "") -> Markup:
        assert state in STATES, state
        return Markup(
            '<svg class="mark {}" viewBox="0 0 24 24" aria-hidden="true"><use href="#mark-{}"/></svg>'
        ).format(size, state)

    def drawn(data: Any, narrow: bool = False) -> Markup:
        # Drawn by us: every text in it went through escape.
        return Markup(figures.draw(data, figures.for_screen(), narrow=narrow))

    environment.filters["lack"] = _lack
    environment.globals.update(
        mark=mark,
        drawn=drawn,
        word=word,
        rest=decimal_rest,
        columns_rest=columns_rest,
        is_gap=lambda state: state in GAPS,
        cell=lambda value: value if isinstance(value, Cell) else Cell(value),
        formula=lambda latex: Markup(mathml(latex, block=True)),
    )
    return environment


class Translator(HTML5Translator):
    """Sphinx' own translator with blocks, formulas, links and the rail of requirements."""

    told = False

    def visit_block_node(self, node: nodes.Element) -> None:
        block, pages = node["block"], _Pages(self)
        html = (
            _environment()
            .get_template(f"{block.kind}.html")
            .render(
                b=block,
                tx=pages.text,
                link=pages.link,
                symbol=pages.symbol,
                picture=pages.picture,
                href=pages.href,
                settings=BUILD.get().settings,
                w=LAYOUT,
                states=STATE_WORDS,
                headed=block.kind == "cover" and under_letterhead(node),
            )
        )
        anchors = "".join(f'<span id="{name}"></span>' for name in node["ids"] if name != getattr(block, "id", ""))
        self.body.append(anchors + html)
        raise nodes.SkipNode

    def visit_formula_node(self, node: nodes.Element) -> None:
        self._math(node["latex"], node["spoken"], block=True)

    def visit_to_node(self, node: nodes.Element) -> None:
        self.body.append(str(_Pages(self).link(Link(node["to"], node.astext()))))
        raise nodes.SkipNode

    def _math(self, latex: str, spoken: str, *, block: bool) -> None:
        element = mathml(latex, block=block)
        if block:
            pushed = (
                f' tabindex="0" role="group" aria-label="{self.attval(LAYOUT["formula"])}"' if len(latex) > 48 else ""
            )
            element = f'<div class="formula"{pushed}>{element}</div>'
        if spoken and spoken != latex:
            element = element.replace("<math ", f'<math aria-label="{self.attval(spoken)}" ', 1)
        self.body.append(element)
        raise nodes.SkipNode

    def _by_state(self) -> None:
        """On a page with several requirements, once, before its first part: how many are how, with links to them."""
        states = [str(section["rail"].state) for section in self.document.findall(nodes.section) if section.get("rail")]
        if self.told or self.section_level != 1 or len(states) < 2:
            return
        self.told = True
        pages, here = _Pages(self), self.builder.current_docname
        shown = [
            {
                "state": state,
                "word": STATE_WORDS[state],
                "count": states.count(state),
                "href": pages.href(f"state-{state}#l.{here}"),
            }
            for state in STATES
            if state in states
        ]
        self.body.append(_environment().get_template("_states.html").render(states=shown, w=LAYOUT))

    def visit_section(self, node: nodes.section) -> None:
        self._by_state()
        head = node.get("rail")
        if not isinstance(head, RequirementHead):
            super().visit_section(node)
            return
        self.section_level += 1
        gap = " gap" if head.state in GAPS else ""
        self.body.append(self.starttag(node, "section", CLASS=f"requirement state-{head.state}{gap}"))
        mark = f'<svg class="mark rail" viewBox="0 0 24 24" aria-hidden="true"><use href="#mark-{head.state}"/></svg>'
        self.body.append(mark)

    def visit_title(self, node: nodes.title) -> None:
        if any(isinstance(item, block_node) and item["block"].kind == "cover" for item in node.parent.children):
            raise nodes.SkipNode  # the cover brings its own title
        head = node.parent.get("rail") if isinstance(node.parent, nodes.section) else None
        if not isinstance(head, RequirementHead):
            super().visit_title(node)
            return
        level = min(self.section_level + self.initial_header_level - 1, 6)
        words = node.astext()
        number = head.number if head.number and words.startswith(head.number) else ""
        words = words[len(number) :].strip()
        self.body.append(
            f'<div class="line"><h{level}><span class="number">{self.encode(number)}</span> '
            f'<span class="name">{self.encode(words)}</span></h{level}>'
            f'<span class="brief">{self.encode(head.brief)}</span>'
            f'<span class="word">{self.encode(word(head))}</span></div>\n'
        )
        raise nodes.SkipNode


def _inline_math(translator: HTML5Translator, node: nodes.math) -> None:
    assert isinstance(translator, Translator)
    translator._math(node.astext(), "", block=False)


def _block_math(translator: HTML5Translator, node: nodes.math_block) -> None:
    assert isinstance(translator, Translator)
    number = get_node_equation_number(translator, node) if node.get("number") else ""
    if number:
        translator.body.append(f'<span class="equation">({translator.encode(number)})</span>')
    translator._math(node.astext(), "", block=True)


def _context(app: Sphinx, pagename: str, templatename: str, context: dict[str, Any], doctree: Any) -> None:
    """What the layout needs on each page: settings, chapters with links, the verdict's link."""
    build = BUILD.get()
    settings = build.settings
    builder: Any = app.builder

    def href(to: str) -> str:
        target = build.target(to)
        if target is None or target[0] != "page":
            return ""
        uri = str(builder.get_relative_uri(pagename, target[1]))
        return f"{uri}#{target[2]}" if target[2] or not uri else uri

    chapters = [
        {
            "title": chapter.title,
            "number": chapter.number,
            "note": chapter.note,
            "here": chapter.page == pagename,
            "href": href(chapter.page),
            "sort": not chapter.page,
        }
        for chapter in settings.chapters
    ]
    states = [
        {"item": item, "here": item.page == pagename, "href": href(item.page)}
        for item in settings.states
        if item.page in build.anchors
    ]
    context.update(
        wm=settings,
        wm_chapters=chapters,
        wm_states=states,
        wm_verdict=href(settings.verdict_link.to) if settings.verdict_link else "",
        wm_sprite=sprite(),
        wm_words=LAYOUT,
    )


def register(app: Sphinx) -> None:
    """The theme, the translator and the math renderer."""
    app.add_html_theme("witnessmark", str(THEME))
    app.add_html_math_renderer("witnessmark", (_inline_math, None), (_block_math, None))
    app.set_translator("html", Translator, override=True)
    app.connect("html-page-context", _context)
    for node in (block_node, formula_node, to_node):
        app.add_node(node)
