"""Every kind of file that a team writes, key by key: made from the same schemas that editors get."""

from __future__ import annotations

import inspect
from collections.abc import Mapping
from typing import Any

from pydantic import TypeAdapter

from witnessmark.document.blocks import Text
from witnessmark.exports.schemas import FILES, schema_of
from witnessmark.records import base

from .written import Written, cell, table

__all__ = ["files_page"]

_KINDS: tuple[tuple[Any, str], ...] = (
    (base.Ident, "id: a to z, 0 to 9, single hyphens"),
    (base.Key, "name: a to z, 0 to 9, hyphens and underscores"),
    (base.Code, "code of six characters"),
    (base.Digest, "digest, sha256"),
    (base.MethodId, "method with version, such as name/1"),
    (base.LeafRef, "leaf: requirement/leaf"),
    (base.FilePath, "path of a file below the vehicle's folder"),
    (base.Format, "1"),
    (base.Instant, "time: 2026-10-14T16:20+02:00"),
    (base.Day, "day: 2026-10-14"),
    (base.Count, "whole number"),
    (base.Number, "number with a decimal point"),
)
_LAYOUT = (
    ("evidence/workshop.yaml", "the workshop: name, place, time zone"),
    ("evidence/people/ID.yaml", "one person; authorisations in people/authorisations/"),
    ("evidence/instruments/ID/", "instrument.yaml, and one file for each calibration in calibrations/"),
    ("evidence/designs/ID/", "one file for each revision, and records of tests on samples"),
    ("evidence/policy/", "how numbers decide, with the day from which it holds"),
    ("evidence/concessions/", "what somebody outside the workshop permits"),
    ("evidence/vehicles/ID/", "vehicle.yaml, facts/, events/, records/, photos/, logs/, reports/, releases/"),
    ("requirements/SET/", "set.yaml, a file for each area, and its sealed editions"),
)


def files_page() -> Written:
    page = Written("files", "Files", "what a team writes, file by file and key by key")
    page.paragraph(
        "One file holds one act, so that several people can work at once. A file that claims something counts only "
        "once it is sealed and committed; from then on it is never edited. A correction is a new file. The same tables "
        "are to be had as JSON Schemas for an editor."
    )
    page.block(table("b.layout", (("Where", 2), ("What", 4)), [*_LAYOUT]))
    patterns = {TypeAdapter(kind).json_schema().get("pattern", ""): words for kind, words in _KINDS}
    done: set[str] = set()
    for name, model in FILES:
        schema = schema_of(model, name)
        page.heading(name.replace("-", " "))
        page.paragraph(_said(inspect.getdoc(model) or ""))
        _table(page, name, schema, patterns)
        for inner, part in schema.get("$defs", {}).items():
            if inner in done or "properties" not in part:
                continue
            done.add(inner)
            page.heading(_spaced(inner), 3)
            if part.get("description"):
                page.paragraph(_said(part["description"]))
            _table(page, inner, part, patterns)
    return page


def _table(page: Written, name: str, schema: Mapping[str, Any], patterns: Mapping[str, str]) -> None:
    needed = set(schema.get("required", ()))
    rows: list[tuple[Text, ...]] = []
    for key, part in schema.get("properties", {}).items():
        words = _said(part.get("description", ""))
        if part.get("pattern") in patterns and words in _OWN:
            words = ""
        rows.append((key, "yes" if key in needed else "no", _kind(part, patterns), cell(words)))
    if rows:
        page.block(
            table(f"b.{name.lower()}", (("Key", 1.1), ("Needed", 0.7), ("What it holds", 2), ("Meaning", 3)), rows)
        )


_OWN = frozenset(TypeAdapter(kind).json_schema().get("description", "") for kind, _ in _KINDS)
"""What the kinds say of themselves: it stands in the column before already."""


def _kind(part: Mapping[str, Any], patterns: Mapping[str, str]) -> str:
    if "$ref" in part:
        return _spaced(str(part["$ref"]).rpartition("/")[2])
    if "enum" in part:
        choices = [str(c) for c in part["enum"] if not isinstance(c, bool)]
        return " or ".join(choices)
    if part.get("const") is not None:
        return str(part["const"])
    for several in ("anyOf", "oneOf"):
        if several in part:
            return ", or ".join(dict.fromkeys(_kind(one, patterns) for one in part[several]))
    if part.get("pattern") in patterns:
        return patterns[part["pattern"]]
    if part.get("type") == "array":
        return f"list of: {_kind(part.get('items', {}), patterns)}"
    if part.get("type") == "object":
        inner = part.get("patternProperties") or {}
        for pattern, value in inner.items():
            key = patterns.get(pattern, "name").partition(":")[0]
            return f"by {key}: {_kind(value, patterns)}"
        extra = part.get("additionalProperties")
        return f"by name: {_kind(extra, patterns)}" if isinstance(extra, dict) else "keys of its own"
    if part.get("type") == "string":
        return part["description"] if part.get("description") == "a number with its unit" else "words"
    if isinstance(part.get("type"), list):
        return "a value as written"
    return "anything"


def _said(text: str) -> str:
    """A docstring as one line of words."""
    return " ".join(text.replace("`", "").split())


def _spaced(name: str) -> str:
    """`CarryOver` as words."""
    return "".join(f" {c.lower()}" if c.isupper() and at else c.lower() for at, c in enumerate(name))
