"""Blocks as JSON and back: strict, so that a slip in a block is a sentence and not a hole in a page."""

from __future__ import annotations

import dataclasses
import functools
import re
import types
import typing
from collections.abc import Mapping, Sequence
from typing import Any, Literal, Union

from witnessmark.document.blocks import (
    KINDS,
    Band,
    Block,
    Curves,
    Decay,
    IntervalChart,
    Link,
    OneLine,
    Outlines,
    Piece,
    Strong,
    Symbol,
    Text,
)
from witnessmark.document.drawings import Issues

__all__ = ["BlockFault", "as_json", "load", "plain", "record"]

_FIGURES: Mapping[str, type[Any]] = types.MappingProxyType(
    {
        "interval": IntervalChart,
        "decay": Decay,
        "band": Band,
        "curves": Curves,
        "one-line": OneLine,
        "outlines": Outlines,
        "issues": Issues,
    }
)
_ID = re.compile(r"[A-Za-z][A-Za-z0-9_.-]*\Z")


class BlockFault(ValueError):
    """The data of a block does not fit its kind. The message names the field and what was expected."""


def as_json(block: Any) -> Any:
    """The JSON form of a block or a part of one: dictionaries, lists, strings, numbers. Defaults are left out."""
    if dataclasses.is_dataclass(block) and not isinstance(block, type):
        out: dict[str, Any] = {}
        for field in dataclasses.fields(block):
            value = getattr(block, field.name)
            default = field.default_factory() if callable(field.default_factory) else field.default
            if field.name != "kind" and default is not dataclasses.MISSING and value == default:
                continue
            out[field.name] = as_json(value)
        for name, cls in _FIGURES.items():
            if isinstance(block, cls):
                out["figure"] = name
        return out
    if isinstance(block, (list, tuple)):
        return [as_json(item) for item in block]
    return block


def load(data: object) -> Block:
    """The block that a JSON value describes.

    Raises `BlockFault` when the kind is unknown, a field is missing, unknown or of the wrong type, or an id is no id.
    """
    if not isinstance(data, Mapping):
        raise BlockFault("a block is an object with a kind")
    kind = data.get("kind")
    if not isinstance(kind, str) or kind not in KINDS:
        raise BlockFault(f"kind is {kind!r}; it is one of {', '.join(sorted(KINDS))}")
    block = record(KINDS[kind], data, kind)
    return typing.cast(Block, block)


def plain(text: Text) -> str:
    """The words of a text, without links and weight."""
    if isinstance(text, str):
        return text
    return "".join(_words(piece) for piece in text)


def _words(piece: Piece) -> str:
    if isinstance(piece, Link):
        return piece.text
    if isinstance(piece, Strong):
        return piece.strong
    if isinstance(piece, Symbol):
        return piece.spoken or piece.symbol
    return piece


@functools.cache
def _hints(cls: Any) -> dict[str, Any]:
    return typing.get_type_hints(cls)


def record(cls: Any, data: Mapping[Any, Any], where: str) -> Any:
    """`data` as one dataclass; `where` names the place in messages. Raises `BlockFault`."""
    fields = {field.name: field for field in dataclasses.fields(cls)}
    extra = sorted(str(key) for key in data if key not in fields and key != "figure")
    if extra:
        raise BlockFault(f"{where}: unknown field {extra[0]!r}; it has {', '.join(fields)}")
    hints = _hints(cls)
    values: dict[str, Any] = {}
    for name, field in fields.items():
        if name not in data:
            if field.default is dataclasses.MISSING and field.default_factory is dataclasses.MISSING:
                raise BlockFault(f"{where}: field {name!r} is missing")
            continue
        values[name] = _value(hints[name], data[name], f"{where}.{name}")
    if values.get("id") and not _ID.match(values["id"]):
        raise BlockFault(f"{where}.id: {values['id']!r} is no id; use letters, digits, hyphen, underscore and dot")
    return cls(**values)


def _value(hint: Any, value: Any, where: str) -> Any:
    origin, args = typing.get_origin(hint), typing.get_args(hint)
    if hint in (str, int, float, bool, type(None)):
        return _scalar(hint, value, where)
    if origin is Literal:
        if value not in args:
            raise BlockFault(f"{where}: {value!r} is not one of {', '.join(map(str, args))}")
        return value
    if origin is tuple:
        if not isinstance(value, Sequence) or isinstance(value, str):
            raise BlockFault(f"{where}: a list is expected, not {type(value).__name__}")
        return tuple(_value(args[0], item, f"{where}[{n}]") for n, item in enumerate(value))
    if origin in (Union, types.UnionType):
        return _one_of(args, value, where)
    if not isinstance(value, Mapping):
        raise BlockFault(f"{where}: an object is expected, not {type(value).__name__}")
    return record(hint, value, where)


def _one_of(args: tuple[Any, ...], value: Any, where: str) -> Any:
    if value is None:
        if type(None) in args:
            return None
        raise BlockFault(f"{where}: null is not allowed")
    if isinstance(value, str):
        literal = [arg for arg in args if typing.get_origin(arg) is Literal]
        return _value(literal[0] if literal else str, value, where)
    if isinstance(value, Mapping):
        if "figure" in value:
            if value["figure"] not in _FIGURES:
                raise BlockFault(f"{where}: figure is one of {', '.join(_FIGURES)}")
            return record(_FIGURES[value["figure"]], value, where)
        classes = [arg for arg in args if dataclasses.is_dataclass(arg)]
        for cls in classes:
            assert isinstance(cls, type)
            required = [f.name for f in dataclasses.fields(cls) if f.default is dataclasses.MISSING]
            names = {f.name for f in dataclasses.fields(cls)}
            if len(classes) == 1 or (all(name in value for name in required) and set(value) <= names):
                return record(cls, value, where)
        raise BlockFault(f"{where}: an object with the keys {', '.join(map(str, value))} fits nothing here")
    for arg in args:
        if typing.get_origin(arg) is tuple and isinstance(value, Sequence):
            return _value(arg, value, where)
        if arg in (int, float, bool) and isinstance(value, (int, float)):
            return _value(arg, value, where)
    raise BlockFault(f"{where}: {type(value).__name__} does not fit here")


def _scalar(hint: Any, value: Any, where: str) -> Any:
    fits = {
        str: isinstance(value, str),
        bool: isinstance(value, bool),
        int: isinstance(value, int) and not isinstance(value, bool),
        float: isinstance(value, (int, float)) and not isinstance(value, bool),
        type(None): value is None,
    }
    if not fits[hint]:
        raise BlockFault(f"{where}: {hint.__name__} is expected, not {type(value).__name__} {value!r}")
    if hint is float and not abs(float(value)) < float("inf"):  # NaN compares false as well
        raise BlockFault(f"{where}: {value!r} is not a number that can be drawn")
    return value
