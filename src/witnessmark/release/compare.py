"""What differs between two descriptions of a vehicle: states, results, parts, facts and requirement sets."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any

from witnessmark.assessment.model import State
from witnessmark.language import Words, declared, say

from .describe import Description, Json

__all__ = ["KINDS", "Difference", "differences", "same_number"]

_VERDICTS = Words(
    {"pass": declared("pass"), "undecided": declared("undecided"), "fail": declared("fail")},
)
KINDS = ("state", "result", "part", "fact", "set")
TOLERANCE = Decimal("1e-9")
"""Relative; as far as two processors may differ in the last digits of a double."""


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that is not the same: what it is, and what was said before and after ("" : nothing).

    `what` is a token (`set:requirement/leaf of part`), `was` and `now` are words in the language of the run.
    """

    kind: str
    what: str
    was: str
    now: str

    @property
    def named(self) -> str:
        """What it is, as people say it."""
        name, _, part = self.what.partition(" of ")
        return say("{name} of {part}", name=name, part=part) if part else name


@dataclass(frozen=True, slots=True)
class _Said:
    """What one side says of something: what is compared, and how it is told."""

    token: object = None
    words: str = ""


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


def _pairs(kind: str, was: Mapping[str, _Said], now: Mapping[str, _Said]) -> Iterator[Difference]:
    nothing = _Said()
    for name in [*now, *(key for key in was if key not in now)]:
        one, other = was.get(name, nothing), now.get(name, nothing)
        if one.token != other.token:
            yield Difference(kind, name, one.words, other.words)


def _states(found: Description) -> dict[str, _Said]:
    return {f"{r['set']}:{r['id']}": _state(r) for r in found.audit.get("requirements", [])}


def _state(row: Json) -> _Said:
    state, beneath = str(row["state"]), str(row["beneath"])
    if state != State.UNDER_CONCESSION.value:
        return _Said(state, _state_words(state))
    words = say("{state} ({beneath} beneath)", state=_state_words(state), beneath=_state_words(beneath))
    return _Said((state, beneath), words)


def _state_words(token: str) -> str:
    """The word of a state; a token that this version does not know stands as it is."""
    return State(token).words if token in list(State) else token


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
    verdict = row["verdict"]
    words = f"{row['code']}, {_VERDICTS.get(verdict, verdict) if verdict else say('no verdict')}"
    chosen = next((o for o in row["outputs"] if o["measurand"] == row["measurand"]), None)
    if chosen is None:
        return words
    spread = f" ± {_short(chosen['U'])}" if chosen["U"] is not None else ""
    return f"{words}, {chosen['bound']}{_short(chosen['value'])}{spread} {chosen['unit']}"


def _short(text: Any) -> str:
    return f"{float(text):.4g}"


def _parts(built: Json) -> dict[str, _Said]:
    return {p["id"]: _part(p) for p in built.get("parts", [])}


def _part(row: Json) -> _Said:
    serial = row["serial"]
    words = [
        row["title"],
        say("serial {serial}", serial=serial) if serial else say("serial not stated"),
        *([row["design"]] if row["design"] else []),
        *([say("removed")] if row["removed"] else []),
    ]
    return _Said((row["title"], serial or None, row["design"] or None, bool(row["removed"])), ", ".join(words))


def _facts(built: Json) -> dict[str, _Said]:
    return {
        f["key"] + (f" of {f['part']}" if f["part"] else ""): _Said(str(f["value"]), str(f["value"]))
        for f in built.get("facts", [])
    }


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
                words = ("" if ident not in old else say("its text"), "" if ident not in new else say("another text"))
                yield Difference("set", f"{name}:{ident}", *words)


def _edition(found: Json | None) -> str:
    return "" if found is None else say("edition {edition}", edition=found["edition"])
