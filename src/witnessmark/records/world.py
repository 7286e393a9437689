"""What `reading` hands to everything above it: the whole workshop as immutable values, without a clock."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from typing import Any

from witnessmark.language import Language
from witnessmark.problems import Place, Problem

from .acts import AnyAct
from .sets import FactDefinition, RequirementSet
from .workshop import InstrumentFile, PersonFile, VehicleFile, WorkshopFile

__all__ = ["Act", "Draft", "FileState", "Held", "History", "Picture", "Workshop"]


class Held(StrEnum):
    """Whether the tree holds the sealed text as it was first committed, exactly once."""

    UNCHANGED = "unchanged"
    EDITED = "edited"
    UNSEALED = "unsealed"
    DOUBLED = "doubled"
    MISSING = "missing"
    MISPLACED = "misplaced"
    """It lies in the folder of another vehicle than its seal names."""


@dataclass(frozen=True, slots=True)
class FileState:
    """A file that an act names: what it should be and what was found. `found` is None when it is missing."""

    name: str
    sha256: str
    found: str | None

    @property
    def intact(self) -> bool:
        return self.found == self.sha256


@dataclass(frozen=True, slots=True)
class Act:
    """One sealed act: the text as first committed (or, when not committed, as it lies in the tree).

    `appeared` is its place in the order of history (0 first), None when not committed.
    `clash`: history holds two texts under this code and does not say which was first.
    `seal_holds`: `seal.content` is the digest of the text.
    """

    code: str
    body: AnyAct
    path: str
    place: Place
    tree: Mapping[str, Any]
    appeared: int | None
    held: Held = Held.UNCHANGED
    seal_holds: bool = True
    clash: bool = False
    files: tuple[FileState, ...] = ()
    by_commit: str = ""


@dataclass(frozen=True, slots=True)
class Draft:
    """An act without a seal, or one that cannot be read: listed, and counts for nothing."""

    path: str
    place: Place
    vehicle: str | None
    body: AnyAct | None = None


@dataclass(frozen=True, slots=True)
class Picture:
    """What the bounded look at a picture found. `taken` as the camera wrote it, without a zone."""

    path: str
    sha256: str
    width: int
    height: int
    taken: str | None = None
    has_position: bool = False


@dataclass(frozen=True, slots=True)
class History:
    """What git says. `consulted` is False in the pinned demonstration, where every sealed file counts as committed."""

    consulted: bool
    commit: str | None = None
    uncommitted: int = 0
    complete: bool = True
    """False in a shallow clone or with a damaged history: nobody can say what was there before."""


@dataclass(frozen=True, slots=True)
class Workshop:
    """Everything that assessment may know.

    `figures` maps the code of a record with a log to what its method's `reduce` found (JSON-able), or to Problems.
    `as_of` is aware, in the workshop's zone: the end of the day asked for.
    """

    file: WorkshopFile
    as_of: datetime
    people: Mapping[str, PersonFile]
    instruments: Mapping[str, InstrumentFile]
    vehicles: Mapping[str, VehicleFile]
    sets: Mapping[str, RequirementSet]
    facts: Mapping[str, FactDefinition]
    acts: tuple[Act, ...]
    drafts: tuple[Draft, ...] = ()
    figures: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    pictures: Mapping[str, Picture] = field(default_factory=dict)
    unused_files: tuple[str, ...] = ()
    """Files under evidence that no act names (photos, logs, reports)."""
    mark: Picture | None = None
    """The workshop's own sign, if it is fit to be printed. It shows nothing."""
    history: History = History(consulted=False)
    language: Language = field(default_factory=Language)
    """What the documents are written in, with its texts."""
    problems: tuple[Problem, ...] = ()
