"""Adding keys to a file that a person wrote: comments, order and every scalar stay as they were.

Only ever given a file that our own reader has accepted, and what comes out is read again by it and compared.
"""

from __future__ import annotations

import io
import re
from collections.abc import Mapping
from typing import Any

from witnessmark.problems import Problem
from witnessmark.reading.yamltree import Node, Text, as_text, read_tree

__all__ = ["plain_yaml", "with_keys", "without_keys"]

# What an editor's own YAML parser would take for a number, a truth value or nothing: quoted, so that all read the same.
_TYPED = re.compile(
    r"[-+]?(?:0x[0-9a-fA-F]+|0o[0-7]+|[0-9][0-9_]*(?:\.[0-9_]*)?(?:[eE][-+]?[0-9]+)?|\.[0-9]+|\.(?i:inf|nan))"
    r"|(?i:true|false|yes|no|on|off|null|y|n)|~|"
)


def with_keys(data: bytes, file: str, added: Mapping[str, Any], *, after: Mapping[str, str] | None = None) -> bytes:
    """The file with these keys set (texts, lists, mappings); a key that is there is replaced in its place.

    `after`: which key a new one follows; others go to the end. Where only new keys come to a plain block of keys, what
    the person wrote stays byte for byte. Raises AssertionError when the result does not read as the old text with
    exactly these keys changed: our own fault, and nothing is to be written then.
    """
    root, tree = _read(data, file)
    expected = {**tree, **{key: _text(value) for key, value in added.items()}}
    result = _inserted(data, root, added, after or {})
    if result is None or _tree_of(result, file) != expected:
        result = _round_trip(data, added, after or {})
    assert _tree_of(result, file) == expected, f"{file} does not read as it was meant to be written"
    return result


def without_keys(data: bytes, file: str, keys: tuple[str, ...]) -> bytes:
    """The file without these keys; all other lines stay as they are."""
    root, tree = _read(data, file)
    assert isinstance(root.content, Mapping)
    lines = data.decode().splitlines(keepends=True)
    starts = [pair[0].line for pair in root.content.values()] + [len(lines) + 1]
    gone: set[int] = set()
    for number, key in enumerate(root.content):
        if key in keys:
            gone.update(range(starts[number], starts[number + 1]))
    result = "".join(line for number, line in enumerate(lines, 1) if number not in gone).encode()
    assert _tree_of(result, file) == {k: v for k, v in tree.items() if k not in keys}, f"{file} lost more than its keys"
    return result


def _inserted(data: bytes, root: Node, added: Mapping[str, Any], after: Mapping[str, str]) -> bytes | None:
    """The new keys as lines of their own between the person's lines; None where that cannot be done."""
    text = data.decode("utf-8")
    content = root.content
    assert isinstance(content, Mapping)
    if text.lstrip("\ufeff \n\r").startswith("{") or root.column != 1 or any(key in content for key in added):
        return None
    end = "\r\n" if "\r\n" in text else "\n"
    lines = text.splitlines(keepends=True)
    if lines and not lines[-1].endswith(("\n", "\r")):
        lines[-1] += end
    for key, value in added.items():
        new = plain_yaml({key: value}).decode().replace("\n", end)
        follows = content.get(after.get(key, ""))
        place = follows[1].line if follows is not None and isinstance(follows[1].content, str) else len(lines)
        lines.insert(place, new)
    return "".join(lines).encode()


def _round_trip(data: bytes, added: Mapping[str, Any], after: Mapping[str, str]) -> bytes:
    engine = _engine(data)
    document = engine.load(data.decode("utf-8-sig"))
    for key, value in added.items():
        written = _written(value)
        if key in document:
            document[key] = written
            continue
        keys = list(document)
        before = after.get(key)
        document.insert(keys.index(before) + 1 if before in keys else len(keys), key, written)
    stream = io.StringIO()
    engine.dump(document, stream)
    return stream.getvalue().encode()


def plain_yaml(tree: Mapping[str, Any], file: str = "") -> bytes:
    """A new file with these keys, in their order; read again and compared, as above."""
    engine = _engine(b"")
    stream = io.StringIO()
    engine.dump(_written(tree), stream)
    result = stream.getvalue().encode()
    assert _tree_of(result, file) == _text(tree), "the new file does not read as it was meant to be written"
    return result


def _read(data: bytes, file: str) -> tuple[Node, dict[str, Text]]:
    root = read_tree(data, file)
    assert not isinstance(root, Problem), root
    tree = as_text(root)
    assert isinstance(tree, dict)
    return root, tree


def _tree_of(data: bytes, file: str) -> dict[str, Text]:
    return _read(data, file)[1]


def _text(value: Any) -> Text:
    if isinstance(value, Mapping):
        return {str(key): _text(item) for key, item in value.items()}
    if isinstance(value, tuple | list):
        return tuple(_text(item) for item in value)
    return str(value)


def _written(value: Any) -> Any:
    from ruamel.yaml.comments import CommentedMap, CommentedSeq
    from ruamel.yaml.scalarstring import DoubleQuotedScalarString

    if isinstance(value, Mapping):
        return CommentedMap((str(key), _written(item)) for key, item in value.items())
    if isinstance(value, tuple | list):
        return CommentedSeq(_written(item) for item in value)
    text = str(value)
    if isinstance(value, str) and _TYPED.fullmatch(text):  # A count is given as a number and stays one.
        return DoubleQuotedScalarString(text)
    return text


def _engine(data: bytes) -> Any:
    """A round trip that types nothing: every scalar is text, as in our reader."""
    from ruamel.yaml import YAML
    from ruamel.yaml.resolver import VersionedResolver

    class TextOnly(VersionedResolver):
        def resolve(self, kind: Any, value: Any, implicit: Any) -> Any:
            from ruamel.yaml.nodes import MappingNode, ScalarNode, SequenceNode

            if kind is ScalarNode:
                return self.DEFAULT_SCALAR_TAG
            return (
                self.DEFAULT_MAPPING_TAG
                if kind is MappingNode
                else (self.DEFAULT_SEQUENCE_TAG if kind is SequenceNode else super().resolve(kind, value, implicit))
            )

    engine = YAML(typ="rt", pure=True)
    engine.Resolver = TextOnly
    engine.preserve_quotes = True
    engine.width = 4096
    engine.allow_unicode = True
    mapping, sequence, offset = _indents(data)
    engine.indent(mapping=mapping, sequence=sequence, offset=offset)
    return engine


def _indents(data: bytes) -> tuple[int, int, int]:
    """How the file is indented: mapping, sequence, and the dash within a sequence."""
    text = data.decode("utf-8-sig")
    dashed = re.search(r"(?m)^( *)[^\s#-][^\n]*:[ \t]*(?:#[^\n]*)?\n(?:[ \t]*(?:#[^\n]*)?\n)*( *)- ", text)
    nested = re.search(r"(?m)^( *)[^\s#-][^\n]*:[ \t]*(?:#[^\n]*)?\n( +)[^\s#-]", text)
    mapping = max(2, len(nested[2]) - len(nested[1])) if nested else 2
    offset = max(0, len(dashed[2]) - len(dashed[1])) if dashed else 2
    return mapping, offset + 2, offset
