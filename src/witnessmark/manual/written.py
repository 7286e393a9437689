"""A page of the reference while it is put together: headings, paragraphs, and blocks of the technical file's kinds."""

from __future__ import annotations

from dataclasses import dataclass, field

from witnessmark.document.blocks import Block, Column, Link, Table, Text
from witnessmark.document.text import escape

__all__ = ["Written", "cell", "table"]

_LEVELS = "=-~^"


@dataclass(slots=True)
class Written:
    """One page as reStructuredText with its blocks. `about` says in the list of pages what it is for."""

    name: str
    title: str
    about: str = ""
    listed: bool = True
    blocks: dict[str, Block] = field(default_factory=dict)
    lines: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.heading(self.title, 1)

    @property
    def text(self) -> str:
        return "\n".join(self.lines) + "\n"

    def heading(self, words: str, level: int = 2) -> None:
        title = escape(words)
        self.lines += [title, _LEVELS[level - 1] * (2 * len(title) + 2), ""]

    def paragraph(self, words: str) -> None:
        self.lines += [escape(words), ""]

    def block(self, block: Block) -> None:
        key = f"b{len(self.blocks)}"
        self.blocks[key] = block
        self.lines += [f".. block:: data/{self.name}.json#{key}", ""]

    def formula(self, latex: str) -> None:
        self.lines += [".. formula::", "", f"   {latex}", ""]

    def literal(self, text: str) -> None:
        """Text as a terminal shows it."""
        self.lines += [".. code-block:: none", "", *(f"   {line}".rstrip() for line in text.splitlines()), ""]


def table(ident: str, heads: tuple[tuple[str, float], ...], rows: list[tuple[Text, ...]]) -> Table:
    """A table of words: heads with their widths, and rows of cells."""
    return Table(tuple(Column(head, width=width) for head, width in heads), tuple(rows), id=ident)


def cell(words: str, to: str = "") -> Text:
    """Words, leading to another page where `to` is given; an empty cell says so."""
    if not words:
        return "none"
    return (Link(to, words),) if to else words
