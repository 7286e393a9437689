"""What differs between two descriptions of a vehicle: states, results, parts, facts and requirement sets."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any

from witnessmark.document.layout_words import STATE_WORDS
from witnessmark.language import Language, Words, declared, marked, say, speaking

from .describe import Description, Json

__all__ = ["KINDS", "Difference", "differences", "same_number"]

KINDS = ("state", "result", "part", "fact", "set")
_VERDICTS = Words(
    {
        "": declared("no verdict"),
        "fail": declared("fail"),
        "pass": declared("pass"),
        "undecided": declared("undecided"),
    }
)
TOLERANCE = Decimal("1e-9")
"""Relative; as far as two processors may differ in the last digits of a double."""


Side = tuple[Any, ...] | None
"""What is said of one thing on one side, as values; None where nothing is."""


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that is not the same: what it is (`part` "": the vehicle or no part), and the values on each side.

    The words are said when they are asked for, so that what is kept as data can be said in English.
    """

    kind: str
    subject: str
    part: str
    before: Side
    after: Side

    @property
    def what(self) -> str:
        """Its name: a requirement or leaf by its ids, a fact by its key."""
        return say("{subject} of {part}", subject=self.subject, part=self.part) if self.part else self.subject

    @property
    def was(self) -> str:
        """What was said before; "" where there was nothing."""
        return _words(self.kind, self.before)

    @property
    def now(self) -> str:
        """What is said after; "" where there is nothing."""
        return _words(self.kind, self.after)

    def as_json(self) -> Json:
        """In English, whatever is spoken: data hangs on no catalogue."""
        with speaking(Language()):
            return {"kind": self.kind, "what": self.what, "was": self.was or None, "now": self.now or None}


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


_Named = Mapping[tuple[str, str], Side]
"""Values by subject and part."""


def _pairs(kind: str, was: _Named, now: _Named) -> Iterator[Difference]:
    for name in [*now, *(key for key in was if key not in now)]:
        if was.get(name) != now.get(name):
            yield Difference(kind, *name, was.get(name), now.get(name))


def _states(found: Description) -> _Named:
    return {
        (f"{r['set']}:{r['id']}", ""): (r["state"], r["beneath"] if r["state"] == "under-concession" else "")
        for r in found.audit.get("requirements", [])
    }


def _governing(found: Description) -> dict[tuple[str, str], Json]:
    rows: dict[tuple[str, str], Json] = {}
    for row in found.results.get("records", []):
        if row["governs"]:
            rows.setdefault((f"{row['set']}:{row['requirement']}/{row['leaf']}", row["part"] or ""), row)
    return rows


def _results(before: Description, after: Description) -> Iterator[Difference]:
    was, now = _governing(before), _governing(after)
    for name in [*now, *(key for key in was if key not in now)]:
        one, other = was.get(name), now.get(name)
        if one is None or other is None or not _same_result(one, other):
            yield Difference("result", *name, _figures(one), _figures(other))


def _same_result(one: Json, other: Json) -> bool:
    if (one["code"], one["verdict"]) != (other["code"], other["verdict"]):
        return False
    pairs = zip(one["outputs"], other["outputs"], strict=False)
    return len(one["outputs"]) == len(other["outputs"]) and all(
        same_number(a[key], b[key]) for a, b in pairs for key in ("value", "U")
    )


def _figures(row: Json | None) -> Side:
    """Record, verdict, and bound, value, U and unit of the output that was judged."""
    if row is None:
        return None
    chosen = next((o for o in row["outputs"] if o["measurand"] == row["measurand"]), None)
    shown = () if chosen is None else tuple(chosen[key] for key in ("bound", "value", "U", "unit"))
    return (row["code"], row["verdict"] or "", *shown)


def _short(text: Any) -> str:
    return marked(f"{float(text):.4g}")


def _parts(built: Json) -> _Named:
    return {
        (p["id"], ""): (p["title"], p["serial"] or "", p["design"] or "", bool(p["removed"]))
        for p in built.get("parts", [])
    }


def _facts(built: Json) -> _Named:
    return {(f["key"], f["part"] or ""): (str(f["value"]),) for f in built.get("facts", [])}


def _sets(was: Json, now: Json) -> Iterator[Difference]:
    before, after = was.get("sets", {}), now.get("sets", {})
    for name in [*after, *(key for key in before if key not in after)]:
        one, other = before.get(name), after.get(name)
        if one is None or other is None:
            yield Difference("set", name, "", _edition(one), _edition(other))
            continue
        if one["edition"] != other["edition"]:
            yield Difference("set", name, "", _edition(one), _edition(other))
        old, new = one["requirements"], other["requirements"]
        for ident in [*new, *(key for key in old if key not in new)]:
            if old.get(ident) != new.get(ident):
                sides = (("text", "its") if ident in old else None, ("text", "another") if ident in new else None)
                yield Difference("set", f"{name}:{ident}", "", *sides)


def _edition(found: Json | None) -> Side:
    return None if found is None else ("edition", found["edition"])


# ---------------------------------------------------------------- words


def _words(kind: str, side: Side) -> str:
    if side is None:
        return ""
    match kind:
        case "state":
            state, beneath = side
            word = STATE_WORDS[state]
            return say("{state} ({beneath} beneath)", state=word, beneath=STATE_WORDS[beneath]) if beneath else word
        case "result":
            return _result(*side)
        case "part":
            return _part(*side)
        case "fact":
            return str(side[0])
    if side[0] == "edition":
        return say("edition {name}", name=side[1])
    return say("its text") if side[1] == "its" else say("another text")


def _result(code: str, verdict: str, *shown: Any) -> str:
    """Record, verdict and, where a number was judged, the number."""
    words = f"{code}, {_VERDICTS[verdict]}"
    if not shown:
        return words
    bound, value, spread, unit = shown
    with_spread = f"{_short(value)} ± {_short(spread)}" if spread is not None else _short(value)
    return f"{words}, {bound}{with_spread} {unit}"


def _part(title: str, serial: str, design: str, removed: bool) -> str:
    words = [title, say("serial {serial}", serial=serial or say("not stated")), *([design] if design else [])]
    return ", ".join([*words, *([say("removed")] if removed else [])])
