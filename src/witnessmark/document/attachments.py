"""What goes into the PDF as files: every act behind it as text, readings as CSV, numbers taken from logs.

Photographs and logs stay outside: the document lists them with their hashes.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from witnessmark.document.tables import figures_csv, readings_csv
from witnessmark.document.views.book import Book
from witnessmark.document.views.instruments import used
from witnessmark.document.views.people import roles
from witnessmark.document.views.words import joined
from witnessmark.language import Words, declared, say
from witnessmark.problems import Problem
from witnessmark.records.acts import (
    Adoption,
    Answer,
    Authorisation,
    Calibration,
    CarryOver,
    Check,
    Comparison,
    Concession,
    DesignRevision,
    Event,
    Policy,
    Record,
    RiskAnalysis,
    SetEdition,
    Statement,
    Withdrawal,
)
from witnessmark.records.canonical import canonical_text
from witnessmark.records.release import Release
from witnessmark.records.world import Act, Held

__all__ = ["LIMIT", "Planned", "plan"]

_KINDS: Mapping[type, str] = Words(
    {
        Adoption: declared("Adoption of figures"),
        Answer: declared("Answer of the authority"),
        Authorisation: declared("Authorisation"),
        Calibration: declared("Calibration"),
        CarryOver: declared("Carry-over"),
        Check: declared("Check by a second person"),
        Comparison: declared("Comparison with the official text"),
        Concession: declared("Concession"),
        DesignRevision: declared("Design revision"),
        Event: declared("Event"),
        Policy: declared("Policy"),
        Record: declared("Record"),
        Release: declared("Release"),
        RiskAnalysis: declared("Risk analysis"),
        SetEdition: declared("Set edition"),
        Statement: declared("Statement"),
        Withdrawal: declared("Withdrawal"),
    }
)
_HELD = Words(
    {
        Held.UNCHANGED: declared("unchanged"),
        Held.EDITED: declared("edited"),
        Held.UNSEALED: declared("unsealed"),
        Held.DOUBLED: declared("doubled"),
        Held.MISSING: declared("missing"),
        Held.MISPLACED: declared("misplaced"),
    }
)

LIMIT = 20 * 1024 * 1024
"""Most bytes that are attached; what does not fit is listed with the reason."""


@dataclass(frozen=True, slots=True)
class Planned:
    """One attachment. `path` is the sealed file in the folder, taken as it lies there; else `text` is its content.

    `relationship` is source, data or supplement (ISO 32000-2, 14.13). `why_not` is said where it is left out.
    """

    name: str
    mime: str
    description: str
    relationship: str
    path: str = ""
    text: str = ""
    why_not: str = ""


def plan(book: Book) -> tuple[Planned, ...]:
    """Every attachment of this file, sorted by name."""
    out: list[Planned] = []
    for act in _acts(book):
        out.append(_act(book, act))
    for code, uses in book.uses.items():
        record = uses[0].result.record
        titles = joined(dict.fromkeys(use.requirement.requirement.title for use in uses))
        if record.readings:
            text = readings_csv(record, book.method(record.method))
            told = say("Readings of record {code}: {titles}", code=code, titles=titles)
            out.append(Planned(f"{code}.csv", "text/csv", told, "data", text=text))
        figures = book.workshop.figures.get(code)
        if figures and not isinstance(figures, Problem) and isinstance(figures, dict | type(book.acts)):
            out.append(
                Planned(
                    f"{code}-figures.csv",
                    "text/csv",
                    say("Numbers taken from the log of record {code}: {titles}", code=code, titles=titles),
                    "supplement",
                    text=figures_csv(figures),
                )
            )
    return tuple(sorted(out, key=lambda planned: planned.name))


def _act(book: Book, act: Act) -> Planned:
    words = say("{act} {code}", act=_kind(act), code=act.code)
    if isinstance(act.body, Record):
        uses = book.uses.get(act.code, ())
        titles = joined(dict.fromkeys(use.requirement.requirement.title for use in uses))
        words = say("{record}: {titles}", record=words, titles=titles) if titles else words
    if act.held is Held.UNCHANGED and act.seal_holds:
        return Planned(f"{act.code}.yaml", "application/yaml", words, "source", path=act.path)
    # The file in the folder is not what was first committed: that text is attached, in canonical form (JSON is YAML).
    text = json.dumps(json.loads(canonical_text(act.tree)), ensure_ascii=False, indent=1, sort_keys=True) + "\n"
    return Planned(
        f"{act.code}.yaml",
        "application/yaml",
        say("{act}, as first committed ({held} now)", act=words, held=_HELD[act.held]),
        "source",
        text=text,
    )


def _kind(act: Act) -> str:
    return _KINDS[type(act.body)]


def _acts(book: Book) -> Iterator[Act]:
    """Every act that the file rests on, by code."""
    instruments, people = set(used(book)), set(roles(book))
    sets = {set_id for set_id, _ in book.areas()}
    wanted = set(book.uses) | {act.code for act in book.acts_of_vehicle()}
    designs = {use.result.record.design for uses in book.uses.values() for use in uses}
    designs |= {line.design for line in book.parts}
    for act in book.workshop.acts:
        body = act.body
        match body:
            case Calibration():
                keep = body.calibration in instruments
            case Authorisation():
                keep = body.authorises in people
            case Concession():
                keep = body.concession.vehicle == book.assessment.vehicle
            case Policy():
                keep = True
            case SetEdition():
                keep = body.set in sets
            case Comparison():
                keep = body.compares in sets
            case Adoption():
                keep = body.adopts in sets
            case DesignRevision():
                keep = f"{body.design}/{body.revision}" in designs
            case _:
                keep = False
        if keep:
            wanted.add(act.code)
    # What takes back, corrects or carries over one of these belongs to it.
    grew = True
    while grew:
        grew = False
        for act in book.workshop.acts:
            if act.code not in wanted and wanted.intersection(_named(act)):
                wanted.add(act.code)
                grew = True
    for code in sorted(wanted):
        if code in book.acts:
            yield book.acts[code]


def _named(act: Act) -> Iterable[str]:
    body = act.body
    if isinstance(body, Withdrawal):
        yield body.withdraws
    if isinstance(body, CarryOver):
        yield body.carries_over
    if isinstance(body, Check):
        yield body.checks
    if body.corrects:
        yield body.corrects
