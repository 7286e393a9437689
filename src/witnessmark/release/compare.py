"""What differs between two descriptions of a vehicle: states, results, parts, facts and requirement sets."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any

from .describe import Description, Json

__all__ = ["KINDS", "Difference", "differences", "same_number"]

KINDS = ("state", "result", "part", "fact", "set")
TOLERANCE = Decimal("1e-9")
"""Relative; as far as two processors may differ in the last digits of a double."""


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that is not the same: what it is, and what was said before and after ("" : nothing)."""

    kind: str
    what: str
    was: str
    now: str


def differences(before: Description, after: Description) -> tuple[Difference, ...]:
    """Everything that differs, by kind and in the order of the later description."""
    return (
        *_pairs("state", _states(before), _states(after)),
        *_results(before, after),
        *_pairs("part", _parts(before.built), _parts(after.built)),
        *_pairs("fact", _facts(before.built), _facts(after.built)),
        *_sets(before.built, after.built),
    )


def same_number(one: object, other: object) -> bool:
    """Whether two decimal strings are the same number within 1e-9 of the larger; other values must be equal."""
    if one == other:
        return True
    if not (isinstance(one, str) and isinstance(other, str)):
        return False
    try:
        a, b = Decimal(one), Decimal(other)
    except InvalidOperation:
        return False
    return a.is_finite() and b.is_finite() and abs(a - b) <= TOLERANCE * max(abs(a), abs(b))


def _pairs(kind: str, was: Mapping[str, str], now: Mapping[str, str]) -> Iterator[Difference]:
    for name in [*now, *(key for key in was if key not in now)]:
        if was.get(name, "") != now.get(name, ""):
            yield Difference(kind, name, was.get(name, ""), now.get(name, ""))


def _states(found: Description) -> dict[str, str]:
    return {
        f"{r['set']}:{r['id']}": str(r["state"]).replace("-", " ")
        + (f" ({str(r['beneath']).replace('-', ' ')} beneath)" if r["state"] == "under-concession" else "")
        for r in found.audit.get("requirements", [])
    }


def _governing(found: Description) -> dict[str, Json]:
    rows: dict[str, Json] = {}
    for row in found.results.get("records", []):
        if row["governs"]:
            part = f" of {row['part']}" if row["part"] else ""
            rows.setdefault(f"{row['set']}:{row['requirement']}/{row['leaf']}{part}", row)
    return rows


def _results(before: Description, after: Description) -> Iterator[Difference]:
    was, now = _governing(before), _governing(after)
    for name in [*now, *(key for key in was if key not in now)]:
        one, other = was.get(name), now.get(name)
        if one is None or other is None or not _same_result(one, other):
            yield Difference("result", name, _said(one), _said(other))


def _same_result(one: Json, other: Json) -> bool:
    if (one["code"], one["verdict"]) != (other["code"], other["verdict"]):
        return False
    pairs = zip(one["outputs"], other["outputs"], strict=False)
    return len(one["outputs"]) == len(other["outputs"]) and all(
        same_number(a[key], b[key]) for a, b in pairs for key in ("value", "U")
    )


def _said(row: Json | None) -> str:
    """A result as a line: record, verdict, value."""
    if row is None:
        return ""
    words = f"{row['code']}, {row['verdict'] or 'no verdict'}"
    chosen = next((o for o in row["outputs"] if o["measurand"] == row["measurand"]), None)
    if chosen is None:
        return words
    spread = f" ± {_short(chosen['U'])}" if chosen["U"] is not None else ""
    return f"{words}, {chosen['bound']}{_short(chosen['value'])}{spread} {chosen['unit']}"


def _short(text: Any) -> str:
    return f"{float(text):.4g}"


def _parts(built: Json) -> dict[str, str]:
    return {
        p["id"]: ", ".join(
            [p["title"], f"serial {p['serial'] or 'not stated'}", *([p["design"]] if p["design"] else [])]
            + (["removed"] if p["removed"] else [])
        )
        for p in built.get("parts", [])
    }


def _facts(built: Json) -> dict[str, str]:
    return {f["key"] + (f" of {f['part']}" if f["part"] else ""): str(f["value"]) for f in built.get("facts", [])}


def _sets(was: Json, now: Json) -> Iterator[Difference]:
    before, after = was.get("sets", {}), now.get("sets", {})
    for name in [*after, *(key for key in before if key not in after)]:
        one, other = before.get(name), after.get(name)
        if one is None or other is None:
            yield Difference("set", name, _edition(one), _edition(other))
            continue
        if one["edition"] != other["edition"]:
            yield Difference("set", name, _edition(one), _edition(other))
        old, new = one["requirements"], other["requirements"]
        for ident in [*new, *(key for key in old if key not in new)]:
            if old.get(ident) != new.get(ident):
                words = ("" if ident not in old else "its text", "" if ident not in new else "another text")
                yield Difference("set", f"{name}:{ident}", *words)


def _edition(found: Json | None) -> str:
    return "" if found is None else f"edition {found['edition']}"
