"""YAML as a tree of text with positions: no value is guessed, nothing is built, everything is bounded.

A file is read from the parser's *events*: every scalar stays the text that a person wrote, and the field that receives
it decides its type. So `no`, `010`, `3.10` and `12:30:00` arrive as written. What makes YAML dangerous or ambiguous is
refused with its place: tags, anchors and aliases, merge keys, doubled keys, several documents in one file, control and
direction-changing characters, line breaks that editors do not show.

The C parser and the pure Python parser of the same library give the same trees. Collecting garbage while many trees are
kept costs a third of the time; whoever reads thousands of files may pause it.

Source of the syntax: YAML 1.2.2 (2021).
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple, TypeAlias

import yaml
from yaml import events as ev

from witnessmark.problems import Place, Problem

__all__ = ["MAX_BYTES", "MAX_DEPTH", "MAX_VALUES", "Node", "Text", "as_text", "place_of", "read_tree"]

MAX_BYTES = 1_000_000
MAX_DEPTH = 32
MAX_VALUES = 20_000
MAX_KEY = 200

Text: TypeAlias = "str | tuple[Text, ...] | dict[str, Text]"


class Node(NamedTuple):
    """One value with its place.

    `content` is a text, a tuple of nodes, or a mapping from the key (NFC) to (key node, value node), in file order.
    `line` and `column` count from 1, in characters. `plain` is False for quoted and block texts: only in a plain text
    of one line does a position inside the value equal a position in the file.
    """

    content: str | tuple[Node, ...] | Mapping[str, tuple[Node, Node]]
    line: int
    column: int
    plain: bool


# Before parsing: control characters, NEL, line and paragraph separators, direction marks, byte-order marks, surrogates.
_BAD = re.compile("[^\t\n\r -~\xa0-\u2027\u202f-\u2065\u206a-\ud7ff\ue000-\ufefe\uff00-\ufffd\U00010000-\U0010ffff]")
# After parsing: the same again, because `"\\u202e"` and `"\\0"` are escapes that only the parser turns into characters.
_BAD_VALUE = re.compile("[\0-\x08\x0b-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069\ud800-\udfff\ufeff]")
_COMMENT = re.compile(r"(?:^|\s)#")
_GLUED = re.compile(r"\s*(?:- )?([A-Za-z0-9_-]+):[^\s:/]")


class _Fault(Exception):
    """Carries the fault out of the event loop; never leaves this module."""

    def __init__(self, code: str, message: str, remedy: str, line: int, column: int, width: int = 1) -> None:
        super().__init__(message)
        self.code, self.message, self.remedy = code, message, remedy
        self.line, self.column, self.width = line, column, width
        self.related: tuple[int, int, int] | None = None


def read_tree(data: bytes, file: str, *, pure: bool = False) -> Node | Problem:
    """The tree of one file, or the first fault in it.

    `file` is the path to show. `pure` takes the parser written in Python even where the C parser is there: slower, same
    result. A file ends at its first fault; other files go on.
    """
    try:
        text = _decode(data)
        fast = None if pure else getattr(yaml, "CBaseLoader", None)
        loader = fast(text) if fast is not None else yaml.BaseLoader(text)
        try:
            return _build(loader.get_event, text)
        except yaml.MarkedYAMLError as error:
            raise _in_our_words(error, text) from None
        except (yaml.YAMLError, RecursionError, ValueError) as error:
            raise _Fault(
                "yaml.syntax", f"this is not YAML: {str(error)[:120]}", "compare it with a file that works", 1, 1, 0
            ) from None
    except _Fault as fault:
        related = (Place(file, *fault.related),) if fault.related else ()
        place = Place(file, fault.line, fault.column, fault.width)
        return Problem(fault.code, fault.message, fault.remedy, place, related=related)


def as_text(node: Node) -> Text:
    """The plain tree: texts (NFC), tuples and dicts. Models and the canonical form are made of it."""
    content = node.content
    if isinstance(content, str):
        return content if content.isascii() else unicodedata.normalize("NFC", content)
    if isinstance(content, tuple):
        return tuple([as_text(item) for item in content])
    return {key: as_text(pair[1]) for key, pair in content.items()}


def place_of(node: Node, loc: Sequence[str | int], kind: str, file: str) -> Place:
    """The place that a validator's location means.

    `loc` may hold steps that are not in the file (the tag of a union, `[key]`, a validator's name, a missing key): they
    are passed over. `kind` is the validator's word for the fault: for a key that should not be there, or that lacks
    something, the key is shown and not its value.
    """
    at, key = node, None
    for step in loc:
        content = at.content
        if isinstance(content, tuple):
            if isinstance(step, int) and 0 <= step < len(content):
                key, at = None, content[step]
        elif not isinstance(content, str) and isinstance(step, str) and step in content:
            key, at = content[step]
    if key is not None and (kind in ("extra_forbidden", "missing") or "[key]" in loc):
        at = key
    return Place(file, at.line, at.column, _width(at))


def _width(node: Node) -> int:
    return len(node.content) if isinstance(node.content, str) and node.plain and "\n" not in node.content else 0


def _decode(data: bytes) -> str:
    if len(data) > MAX_BYTES:
        raise _Fault(
            "yaml.size",
            f"the file has {len(data)} bytes; at most {MAX_BYTES} are read",
            "split the file, or put measurements into a log file beside it",
            1,
            1,
            0,
        )
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise _Fault("yaml.encoding", "the file is UTF-16, not UTF-8", "save it as UTF-8", 1, 1, 0)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        head = data[: error.start].decode("utf-8-sig", "replace")
        message = f"byte 0x{data[error.start]:02X} is not UTF-8"
        raise _Fault("yaml.encoding", message, "save the file as UTF-8", *_position(head, len(head))) from None
    bad = _BAD.search(text)
    if bad:
        code = ord(bad[0])
        name = unicodedata.name(bad[0], "a control character").lower()
        raise _Fault(
            "yaml.character",
            f"the character U+{code:04X} ({name}) is not allowed",
            "delete it: it is invisible, and what is shown would differ from what is read",
            *_position(text, bad.start()),
        )
    if "\t" in text:
        _refuse_tabs(text)
    return text


def _refuse_tabs(text: str) -> None:
    """A tab looks like blanks and is none: refused but in comments. (The two parsers disagree where one may stand.)"""
    for number, line in enumerate(text.splitlines(), 1):
        index = line.find("\t")
        if index < 0 or _COMMENT.search(line[:index]):
            continue
        front = not line[:index].strip(" -")
        raise _Fault(
            "yaml.tab",
            "there is a tab in front of this line" if front else "there is a tab here",
            "replace the tab by blanks; set your editor to write blanks",
            number,
            index + 1,
        )


def _position(text: str, index: int) -> tuple[int, int]:
    """Line and column from 1; line breaks are LF, CR LF and CR."""
    head = text[:index].replace("\r\n", "\n").replace("\r", "\n")
    return head.count("\n") + 1, len(head) - head.rfind("\n")


def _build(get_event: Callable[[], Any], text: str) -> Node:
    # The hot loop of reading: local names and few calls on purpose. A container is made when it ends.
    root: Node | None = None
    items: list[Node] | None = None  # The list being filled, or
    pairs: dict[str, tuple[Node, Node]] | None = None  # the mapping being filled, and
    key: Node | None = None  # its key that waits for a value,
    name = ""  # in NFC.
    flow = False
    stack: list[tuple[list[Node] | None, dict[str, tuple[Node, Node]] | None, Node | None, str, bool, int, int]] = []
    values = documents = 0
    scalar, starts, ends = ev.ScalarEvent, (ev.MappingStartEvent, ev.SequenceStartEvent), ev.CollectionEndEvent
    bad_value = _BAD_VALUE.search
    while (event := get_event()) is not None:
        kind = type(event)
        if kind is scalar:
            mark = event.start_mark
            line, column = mark.line + 1, mark.column + 1
            values += 1
            if event.tag is not None or event.anchor is not None or values > MAX_VALUES:
                raise _forbidden(event, line, column)
            value = event.value
            if not value.isprintable() and bad_value(value):
                raise _Fault(
                    "yaml.character",
                    "the text holds a control or direction character, written as an escape",
                    "delete the escape: what is shown would differ from what is read",
                    line,
                    column,
                )
            node = Node(value, line, column, event.implicit[0])
            if pairs is not None:
                if key is None:
                    key, name = node, value if value.isascii() else unicodedata.normalize("NFC", value)
                    if name in pairs or name == "<<" or not 0 < len(name) <= MAX_KEY or "\n" in name:
                        _refuse_key(node, name, pairs)
                    continue
                if not value and node.plain:
                    node = Node("", *_after(key, flow), True)
        elif kind in starts:
            mark = event.start_mark
            line, column = mark.line + 1, mark.column + 1
            values += 1
            if event.tag is not None or event.anchor is not None or values > MAX_VALUES:
                raise _forbidden(event, line, column)
            if pairs is not None and key is None:
                raise _Fault(
                    "yaml.key",
                    "a list or mapping stands where a key must be",
                    "write a word before the colon; quote a text that begins with [ or {",
                    line,
                    column,
                )
            if len(stack) == MAX_DEPTH:
                raise _Fault("yaml.depth", f"nested more than {MAX_DEPTH} deep", "nest less deeply", line, column)
            stack.append((items, pairs, key, name, flow, line, column))
            items, pairs = (None, {}) if kind is ev.MappingStartEvent else ([], None)
            key, flow = None, bool(event.flow_style)
            continue
        elif issubclass(kind, ends):
            content = tuple(items) if items is not None else pairs or {}
            items, pairs, key, name, flow, line, column = stack.pop()
            node = Node(content, line, column, False)
        elif kind is ev.AliasEvent:
            raise _alias(event.start_mark.line + 1, event.start_mark.column + 1)
        elif kind is ev.DocumentStartEvent:
            documents += 1
            _check_document(event, documents)
            continue
        else:
            continue
        # Here `node` is whole: it goes where it belongs.
        if pairs is not None and key is not None:
            pairs[name] = (key, node)
            key = None
        elif items is not None:
            items.append(node)
        else:
            root = node
    return _checked_root(root, text)


def _check_document(event: Any, number: int) -> None:
    if event.tags or event.version not in (None, (1, 1), (1, 2)):
        raise _Fault(
            "yaml.directive",
            "a line that begins with % is an order to the parser, and not allowed here",
            "delete the line",
            event.start_mark.line + 1,
            1,
        )
    if number > 1:
        raise _Fault(
            "yaml.documents",
            "a second document begins here; a file holds one",
            "delete the line `---`, or put what follows into its own file",
            event.start_mark.line + 1,
            1,
            3,
        )


def _checked_root(root: Node | None, text: str) -> Node:
    if root is None or (root.content == "" and root.plain):
        raise _Fault("yaml.empty", "the file is empty", "write its content, or delete the file", 1, 1, 0)
    if isinstance(root.content, str):
        glued = _GLUED.match(text) if root.plain else None
        if glued:
            raise _glued(glued[1], root.line, root.column)
        raise _Fault(
            "yaml.root",
            "the file holds one text, but keys with values are needed",
            "write lines such as `format: 1`",
            root.line,
            root.column,
            _width(root),
        )
    return root


def _refuse_key(node: Node, name: str, pairs: Mapping[str, tuple[Node, Node]]) -> None:
    """Raises for a doubled, empty or endless key; a quoted `"<<"` is a key like any other."""
    width = _width(node)
    if name in pairs:
        first = pairs[name][0]
        fault = _Fault(
            "yaml.doubled-key",
            f"{_short(name)} is already given in line {first.line}",
            "keep one of the two",
            node.line,
            node.column,
            width,
        )
        fault.related = (first.line, first.column, width)
        raise fault
    if name == "<<":
        if node.plain:
            raise _Fault("yaml.merge", "merge keys are not allowed", "write the keys out", node.line, node.column, 2)
        return
    raise _Fault(
        "yaml.key",
        "a key must be a word on one line" if name else "there is no key before the colon",
        "write a short word before the colon",
        node.line,
        node.column,
    )


def _after(key: Node, flow: bool) -> tuple[int, int]:
    """Where an empty value stands: the end of its key, in both parsers. In `{…}` an empty value is refused."""
    name = str(key.content)
    if key.plain and ":" in name and (flow or not name.endswith(":")):
        glued = _GLUED.match(name)
        if glued:
            raise _glued(glued[1], key.line, key.column)
    if flow:
        comma = key.plain and name[:1].isdigit()
        raise _Fault(
            "yaml.flow-value",
            f"{_short(name)} has no value",
            "a comma ends a value inside { }: write a decimal point (`203.4 V`)"
            if comma
            else f"write `{name[:40]}: VALUE`; a text with a comma inside {{ }} needs quotes",
            key.line,
            key.column,
            len(name),
        )
    return key.line, key.column + len(name) + (1 if key.plain else 3)


def _glued(name: str, line: int, column: int) -> _Fault:
    return _Fault(
        "yaml.colon",
        f"there is no blank after the colon of {_short(name)}",
        f"write `{name[:40]}: …`, with a blank after the colon",
        line,
        column,
        len(name) + 1,
    )


def _short(text: str) -> str:
    return f"'{text[:40]}…'" if len(text) > 40 else f"'{text}'"


def _forbidden(event: Any, line: int, column: int) -> _Fault:
    if event.anchor is not None:
        return _alias(line, column)
    if event.tag is not None:
        return _Fault(
            "yaml.tag",
            f"the tag {_short(event.tag)} is not allowed",
            "write the value alone; put quotes around a text that begins with !",
            line,
            column,
        )
    return _Fault("yaml.values", f"more than {MAX_VALUES} values", "split the file", line, column)


def _alias(line: int, column: int) -> _Fault:
    return _Fault(
        "yaml.alias",
        "anchors (&) and aliases (*) are not allowed",
        "write the value out; put quotes around a text that begins with & or *",
        line,
        column,
    )


# The parsers' own messages, by a piece of them that both share, in the words of somebody who fills in a form:
# piece, code, message, remedy, and whether the place is where the thing began (True) or where it went wrong (False).
_WORDS: tuple[tuple[str, str, str, str, bool], ...] = (
    ("nesting depth", "yaml.depth", "nested too deeply", "nest less deeply", False),
    ("unexpected end of stream", "yaml.quote", "a quotation mark is opened here and never closed",
     "close it; a quotation mark inside the text is written twice ('') or as \\\"", True),
    ("document indicator", "yaml.quote", "a quotation mark is opened here and never closed",
     "close it before the line `---` or `...`", True),
    ("unknown escape", "yaml.escape", "a backslash between double quotes begins an escape, and this one is not known",
     "use single quotes, or write the backslash twice", False),
    ("hexadecimal", "yaml.escape", "the escape after the backslash is not complete", "use single quotes", False),
    ("hexdec", "yaml.escape", "the escape after the backslash is not complete", "use single quotes", False),
    ("escape code", "yaml.escape", "the escape after the backslash names no character", "use single quotes", False),
    ("mapping values are not allowed", "yaml.colon", "there is a second colon here, or the line stands too far in",
     "put quotes around a value that holds a colon and a blank; put the key below its neighbours", False),
    ("expected ':'", "yaml.colon", "a line without a key, or a key without its colon", "write `key: value`", True),
    ("sequence entries are not allowed", "yaml.dash", "a dash cannot stand here",
     "put the list on its own lines below the key, or write it as [a, b]", False),
    ("',' or ']'", "yaml.bracket", "a [ is opened here and not closed, or a comma is missing",
     "separate the values with commas and close with ]", True),
    ("',' or '}'", "yaml.bracket", "a { is opened here and not closed, or a comma is missing",
     "separate the pairs with commas and close with }", True),
    ("comment or line break", "yaml.block", "nothing may stand after | or > on the same line",
     "write the text on the next lines, further in", False),
    ("comment or a line break", "yaml.block", "nothing may stand after | or > on the same line",
     "write the text on the next lines, further in", False),
    ("indentation indicator", "yaml.block", "a number after | or > is not allowed here", "leave the number out", False),
    ("leading space", "yaml.block", "an empty line at the start of the block is longer than its first line",
     "delete the blanks in that empty line", False),
    ("YAML document", "yaml.directive", "this version of YAML is not known",
     "delete the line that begins with %", False),
    ("directive", "yaml.directive", "a line that begins with % is an order to the parser, and not allowed here",
     "delete it, or put quotes around the text", False),
    ("document start", "yaml.indent", "this line belongs to nothing above it",
     "put it below its neighbours: the same number of blanks in front", False),
    ("tag", "yaml.tag", "a text that begins with ! is a tag, and tags are not allowed",
     "put quotes around the text", True),
    ("alphabetic or numeric", "yaml.alias", "anchors (&) and aliases (*) are not allowed",
     "put quotes around a text that begins with & or *", True),
    ("anchor", "yaml.alias", "anchors (&) and aliases (*) are not allowed",
     "put quotes around a text that begins with & or *", True),
    ("expected key", "yaml.indent", "this line is not in line with the keys above it",
     "put it below its neighbours: the same number of blanks in front, no tab", False),
    ("'-' indicator", "yaml.indent", "this line is not in line with the list above it",
     "begin it with a dash below the other dashes, or put it further in", False),
    ("block end", "yaml.indent", "this line is not in line with what is above it",
     "put it below its neighbours: the same number of blanks in front, no tab", False),
    ("node content", "yaml.syntax", "a value is expected here",
     "write a value, or take the sign before it away", False),
)  # fmt: skip


def _in_our_words(error: yaml.MarkedYAMLError, text: str) -> _Fault:
    said = f"{error.problem or ''} {error.context or ''}"
    wrong = error.problem_mark or error.context_mark
    began = error.context_mark or wrong
    if wrong is None or began is None:  # No place: the file as a whole.
        return _Fault("yaml.syntax", f"this is not YAML: {said[:120]}", "compare it with a file that works", 1, 1, 0)
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    shown = lines[wrong.line] if wrong.line < len(lines) else ""
    first = shown[wrong.column : wrong.column + 1]
    if "cannot start any token" in said:
        return _Fault(
            "yaml.character",
            f"a text cannot begin with {first or 'this'}",
            "put quotes around the text",
            wrong.line + 1,
            wrong.column + 1,
        )
    # A key glued to its value swallows the next line, so the parsers complain one line below.
    for number in (began.line, wrong.line, wrong.line - 1):
        if 0 <= number < len(lines) and ("':'" in said or "mapping values" in said):
            glued = _GLUED.match(lines[number])
            if glued:
                return _glued(glued[1], number + 1, glued.start(1) + 1)
    before = shown[: wrong.column].rstrip()
    if "key" in said or "block end" in said or "document start" in said:
        special = None
        if first == ":" and not before:
            special = ("yaml.key", "there is no key before the colon", "write a word before the colon")
        elif first in ("}", "]"):
            special = ("yaml.bracket", f"this {first} closes nothing", "delete it, or open the bracket before it")
        elif before.endswith(("'", '"')) or before.count("'") % 2 or before.count('"') % 2:
            special = ("yaml.quote", "the text goes on after its closing quotation mark",
                       "write a quotation mark inside a text twice (''), or leave the outer ones out")  # fmt: skip
        if special:
            return _Fault(*special, wrong.line + 1, wrong.column + 1)
    for piece, code, message, remedy, at_start in _WORDS:
        if piece in said:
            mark = began if at_start else wrong
            return _Fault(code, message, remedy, mark.line + 1, mark.column + 1)
    return _Fault(
        "yaml.syntax",
        f"this is not YAML: {said.strip()[:120]}",
        "compare the line with a file that works",
        wrong.line + 1,
        wrong.column + 1,
    )
