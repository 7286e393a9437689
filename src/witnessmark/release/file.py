"""The release file (`data/release.json` in a bag): what was frozen, from which commit, by whom, with which program."""

from __future__ import annotations

import json
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from witnessmark.problems import Misuse, Place, Problem

__all__ = [
    "PreviousIssue",
    "ReleaseFile",
    "Someone",
    "ToolUsed",
    "WorkshopNamed",
    "read_release_file",
    "release_schema",
]

RELEASE = "data/release.json"

_Digest = Annotated[str, Field(pattern=r"^sha256:[0-9a-f]{64}$")]
_Ident = Annotated[str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$", max_length=80)]
_Letter = Annotated[str, Field(pattern=r"^[A-Z]{1,2}$")]
_Day = Annotated[str, Field(pattern=r"^\d{4}-\d{2}-\d{2}$")]
_Commit = Annotated[str, Field(pattern=r"^[0-9a-f]{40}$")]
_Number = Annotated[int, Field(ge=0)]


class _Part(BaseModel):
    # Keys are only ever added: what a later version says besides is passed over.
    model_config = ConfigDict(frozen=True, extra="ignore", strict=True)


class Someone(_Part):
    id: _Ident
    name: str


class WorkshopNamed(_Part):
    name: str
    place: str
    zone: str


class PreviousIssue(_Part):
    issue: _Letter
    as_of: _Day
    commit: _Commit
    manifest: _Digest


class ToolUsed(_Part):
    name: str
    version: str
    digest: _Digest
    """Over the source of the installed program."""
    templates: _Digest
    python: str
    system: str


class ReleaseFile(_Part):
    """One issue of one vehicle's technical file."""

    format: Literal[1]
    vehicle: _Ident
    title: str
    file_number: str
    issue: _Letter
    as_of: _Day
    """The states are those at the end of this day, in the workshop's zone."""
    commit: _Commit
    """The commit whose bytes are frozen: the newest in `history.bundle`."""
    workshop: WorkshopNamed
    by: Someone
    second: Someone | None = None
    previous: PreviousIssue | None = None
    why: str | None = None
    """Why there is a new issue."""
    with_gaps: str | None = None
    """Why it was released in spite of gaps, empty fields or limits that nobody has compared with the official text."""
    gaps: tuple[str, ...]
    """`set:requirement` of each that stands in the way: nonconforming, lapsed, not shown or undecided."""
    unconfirmed: tuple[str, ...]
    """`set:requirement` of each whose figures nobody has compared with the official text."""
    fields: tuple[str, ...] = ()
    """`set:form/item` of each field of the authority's forms that is empty; `set:form` where it is not known whether
    the form is to be filled."""
    requirements: _Number
    states: dict[str, _Number]
    """Number of requirements in each state."""
    demonstration: str | None = None
    """The notice of an invented demonstration."""
    tool: ToolUsed
    methods: dict[str, _Digest | None]
    """Digest of the source of each method that the records name; null where the program did not have it."""
    sets: dict[str, str]
    """Edition of each requirement set."""

    def text(self) -> str:
        return json.dumps(self.model_dump(mode="json"), ensure_ascii=False, indent=2, sort_keys=True) + "\n"


def read_release_file(data: bytes) -> ReleaseFile:
    """Misuse for what is no release file."""
    try:
        return ReleaseFile.model_validate_json(data)
    except ValidationError as fault:
        first = fault.errors()[0]
        where = ".".join(str(step) for step in first["loc"])
        raise Misuse(
            Problem(
                "release.file",
                f"{RELEASE} is not a release file: {where + ': ' if where else ''}{first['msg']}",
                "ask whoever gave you the release for it anew, or use a newer witnessmark",
                Place(RELEASE),
            )
        ) from None


def release_schema() -> dict[str, Any]:
    """The JSON Schema (2020-12) of the release file, as it lies beside it in a bag."""
    found: dict[str, Any] = ReleaseFile.model_json_schema()
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **found, "title": "Release file of a bag"}
