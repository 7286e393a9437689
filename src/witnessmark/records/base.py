"""The base of all models, and the kinds of text they are made of.

Every scalar of a file arrives as text exactly as written. Each field says what that text must be; nothing is coerced,
unknown keys are refused, and what comes out is frozen: attributes, lists (tuples) and mappings (`Frozen`) alike.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Mapping
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from typing import Annotated, Any, TypeVar, get_args

from pydantic import BaseModel, BeforeValidator, ConfigDict, GetCoreSchemaHandler, StringConstraints, WithJsonSchema
from pydantic_core import CoreSchema, core_schema

from witnessmark.quantities import Quantity, QuantityError, parse_quantity

__all__ = [
    "CODE_ALPHABET",
    "Code",
    "Count",
    "Day",
    "Digest",
    "FilePath",
    "Format",
    "Frozen",
    "Ident",
    "Instant",
    "Key",
    "LeafRef",
    "MethodId",
    "Misfits",
    "Model",
    "Number",
    "Phrase",
    "Scalar",
    "Size",
    "Value",
    "YesNo",
    "is_day",
    "text_form",
    "text_of_instant",
]

K = TypeVar("K")
V = TypeVar("V", covariant=True)

CODE_ALPHABET = "23456789abcdefghjkmnpqrstuvwxyz"
"""Letters and digits of a record's code: none that can be taken for another (no 0 o, 1 l i)."""


class Model(BaseModel):
    """Strict and frozen; an unknown key is an error."""

    # The words below a field are read by `exports.schemas` when asked: at import that would cost a quarter of a second.
    model_config = ConfigDict(frozen=True, strict=True, extra="forbid", arbitrary_types_allowed=True)


class Misfits(ValueError):
    """Faults of one model as a whole: each with the steps to its place in the model, what is wrong, and what to do."""

    def __init__(self, *found: tuple[tuple[str, ...], str, str]) -> None:
        super().__init__("; ".join(f"{message}: {remedy}" for _, message, remedy in found))
        self.found = found


class Frozen(Mapping[K, V]):
    """An immutable, hashable mapping that keeps the order of its keys as written; equality ignores that order."""

    __slots__ = ("_hash", "_items")

    def __init__(self, items: Mapping[K, V] | None = None) -> None:
        self._items: dict[K, V] = dict(items or {})
        self._hash: int | None = None

    def __getitem__(self, key: K) -> V:
        return self._items[key]

    def __iter__(self) -> Iterator[K]:
        return iter(self._items)

    def __len__(self) -> int:
        return len(self._items)

    def __hash__(self) -> int:
        if self._hash is None:
            self._hash = hash(frozenset(self._items.items()))
        return self._hash

    def __eq__(self, other: object) -> bool:
        return self._items == dict(other) if isinstance(other, Mapping) else NotImplemented

    def __repr__(self) -> str:
        return f"Frozen({self._items!r})"

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        key, value = get_args(source) or (Any, Any)
        inner = handler.generate_schema(dict.__class_getitem__((key, value)))
        return core_schema.no_info_after_validator_function(
            cls,
            core_schema.no_info_before_validator_function(_plain_dict, inner),
            serialization=core_schema.plain_serializer_function_ser_schema(dict),
        )


def _plain_dict(value: object) -> object:
    return dict(value) if isinstance(value, Frozen) else value


def _from_text(name: str, pattern: str, what: str) -> BeforeValidator:
    compiled = re.compile(pattern)

    def check(value: object) -> object:
        if isinstance(value, str) and not compiled.fullmatch(value):
            raise ValueError(what)
        return value

    check.__name__ = name
    return BeforeValidator(check)


def text_form(pattern: str, what: str, **schema: Any) -> Any:
    """What makes an annotated text of one form: the check, with its words, and the JSON Schema."""
    return (
        _from_text("text", pattern, what),
        WithJsonSchema({"type": ["string", "number"], "pattern": f"^(?:{pattern})$", "description": what, **schema}),
    )


def _phrase(value: object) -> object:
    if isinstance(value, str):
        stripped = value.strip()
        if not stripped:
            raise ValueError("is empty: write it, or leave the key out")
        return unicodedata.normalize("NFC", stripped)
    return value


_SCALAR_SCHEMA: dict[str, Any] = {"type": ["string", "number", "boolean"]}

Phrase = Annotated[str, BeforeValidator(_phrase), WithJsonSchema({"type": "string", "minLength": 1})]
"""Words for people: not empty, NFC."""

Scalar = Annotated[str, BeforeValidator(_phrase), WithJsonSchema(_SCALAR_SCHEMA)]
"""One value as written, whatever it is: a word, a number, a quantity with its unit."""

Value = Annotated[
    str | tuple[Scalar, ...],
    WithJsonSchema({"anyOf": [_SCALAR_SCHEMA, {"type": "array", "items": _SCALAR_SCHEMA}]}),
]
"""One value or a list of them, as written."""

Ident = Annotated[
    str,
    StringConstraints(max_length=80),
    *text_form(r"[a-z0-9]+(?:-[a-z0-9]+)*", "an id is a-z, 0-9 and single hyphens"),
]
Key = Annotated[
    str,
    StringConstraints(max_length=80),
    *text_form(r"[a-z][a-z0-9]*(?:[_-][a-z0-9]+)*", "a name is a-z, 0-9, hyphens and underscores"),
]
Code = Annotated[str, *text_form(f"[{CODE_ALPHABET}]{{6}}", "a code is six characters, none of 0 o 1 l i")]
Digest = Annotated[
    str, *text_form(r"sha256:[0-9a-f]{64}|[0-9a-f]{64}", "a digest is sha256: and 64 hexadecimal digits")
]
MethodId = Annotated[
    str, *text_form(r"[a-z0-9]+(?:-[a-z0-9]+)*/[1-9][0-9]*", "a method is name/version, such as name/1")
]
LeafRef = Annotated[
    str,
    *text_form(
        r"(?:[a-z0-9-]+:)?[a-z0-9]+(?:-[a-z0-9]+)*/[a-z0-9]+(?:-[a-z0-9]+)*",
        "a leaf is named requirement/leaf, with set: before it where two chosen sets share the id",
    ),
]
FilePath = Annotated[
    str,
    StringConstraints(max_length=240),
    *text_form(
        r"(?!/)(?!.*(?:^|/)\.\.?(?:/|$))[^\\:*?\"<>|\x00-\x1f]+",
        "a path is relative to the vehicle's folder, with / between, and never leaves it",
    ),
]
Format = Annotated[str, *text_form("1", "this version reads format: 1")]


def _instant(value: object) -> object:
    if not isinstance(value, str):
        return value
    if not re.fullmatch(
        r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}(?::[0-9]{2})?(?:[+-][0-9]{2}:[0-9]{2}|Z)", value
    ):
        raise ValueError("a time is written 2026-10-14T16:20+02:00: day, T, time and the difference to UTC")
    try:
        return datetime.fromisoformat(value)
    except ValueError:
        raise ValueError(f"{value} is not a time that exists") from None


def _day(value: object) -> object:
    if not isinstance(value, str):
        return value
    if not re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", value):
        raise ValueError("a day is written 2026-10-14")
    try:
        return date.fromisoformat(value)
    except ValueError:
        raise ValueError(f"{value} is not a day that exists") from None


def is_day(text: str) -> bool:
    """Whether the text is a day that exists, as files write it."""
    try:
        _day(text)
    except ValueError:
        return False
    return True


def _count(value: object) -> object:
    if isinstance(value, str):
        if not re.fullmatch(r"0|[1-9][0-9]{0,8}", value):
            raise ValueError("a count is a whole number without sign or unit")
        return int(value)
    return value


def _number(value: object) -> object:
    if isinstance(value, str):
        if not re.fullmatch(r"[-+]?[0-9]{1,30}(?:\.[0-9]{1,30})?", value):
            raise ValueError("a number is written with digits and a point, such as 203.4")
        try:
            return Decimal(value)
        except InvalidOperation:
            raise ValueError("is not a number") from None
    return value


def _yes_no(value: object) -> object:
    if isinstance(value, str):
        if value not in ("yes", "no"):
            raise ValueError("write yes or no")
        return value == "yes"
    return value


def _size(value: object) -> object:
    if isinstance(value, str):
        try:
            return parse_quantity(value)
        except QuantityError as fault:
            raise ValueError(f"{fault.message}: {fault.remedy}") from None
    return value


Instant = Annotated[
    datetime,
    BeforeValidator(_instant),
    WithJsonSchema(
        {
            "type": "string",
            "description": "a time with its difference to UTC",
            "pattern": "^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}(?::[0-9]{2})?(?:[+-][0-9]{2}:[0-9]{2}|Z)$",
        }
    ),
]
Day = Annotated[
    date,
    BeforeValidator(_day),
    WithJsonSchema({"type": "string", "description": "a day, 2026-10-14", "pattern": "^[0-9]{4}-[0-9]{2}-[0-9]{2}$"}),
]
Count = Annotated[
    int,
    BeforeValidator(_count),
    WithJsonSchema({"type": ["string", "integer"], "minimum": 0, "pattern": "^(?:0|[1-9][0-9]{0,8})$"}),
]
Number = Annotated[
    Decimal,
    BeforeValidator(_number),
    WithJsonSchema({"type": ["string", "number"], "pattern": r"^[-+]?[0-9]{1,30}(?:\.[0-9]{1,30})?$"}),
]
YesNo = Annotated[bool, BeforeValidator(_yes_no), WithJsonSchema({"enum": ["yes", "no", True, False]})]
Size = Annotated[
    Quantity, BeforeValidator(_size), WithJsonSchema({"type": "string", "description": "a number with its unit"})
]
"""A number with its unit, such as `500 Ω/V`."""


def text_of_instant(instant: datetime) -> str:
    """As the files write it: minutes unless there are seconds."""
    return instant.isoformat(timespec="seconds" if instant.second else "minutes")
