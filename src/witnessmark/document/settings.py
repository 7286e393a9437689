"""What stands on every page: vehicle, issue, status, verdict. Everything is given; nothing is looked up."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from witnessmark.document.blocks import Link, State
from witnessmark.document.text import clean
from witnessmark.language import Words, declared, say

__all__ = ["Attachment", "Chapter", "Listed", "Settings", "cleaned", "settings_from_json"]


_STATUS = Words({"draft": declared("draft"), "released": declared("released")})


@dataclass(frozen=True, slots=True)
class Chapter:
    """One line of the chapter list on screen: `note` is "5 gaps" or "1 concession", semibold; "" when all is shown."""

    page: str
    title: str
    number: str = ""
    note: str = ""
    flows: bool = False
    """Whether it is so short that print begins it below the chapter before, and not on a page of its own."""


@dataclass(frozen=True, slots=True)
class Listed:
    """One line of the list of states on screen: its page, and how many requirements it lists."""

    page: str
    state: State
    word: str
    count: int


@dataclass(frozen=True, slots=True)
class Settings:
    """Running head, foot and metadata.

    `status` is "draft" or "released"; `origin` says from which commit and how many files are not committed, and is
    printed on every page. `as_of` is the date in words, `epoch` the seconds since 1970 that go into the metadata.
    `verdict` is "Not ready to submit." with `verdict_detail` ("7 of 64 requirements stand in the way") and
    `verdict_link` (the gap register; print adds its page); `verdict_short` is "7 gaps". `ready` takes the tab away:
    it is False unless said otherwise. `stamps` are words that every page must carry, such as "Demonstration: all data
    invented".
    """

    title: str
    vehicle: str
    vin: str
    file_number: str
    issue: str
    status: str
    as_of: str
    epoch: int
    verdict: str
    ready: bool = False
    origin: str = ""
    verdict_detail: str = ""
    verdict_link: Link | None = None
    verdict_short: str = ""
    stamps: tuple[str, ...] = ()
    chapters: tuple[Chapter, ...] = ()
    states: tuple[Listed, ...] = ()
    author: str = ""
    language: str = "en"
    head: str = ""
    """For pages that are no technical file: what the running head says instead of file, issue and date."""
    list_name: str = field(default_factory=lambda: say("Chapters"))
    list_title: str = field(default_factory=lambda: say("Chapters, with what stands in the way"))
    search_title: str = field(default_factory=lambda: say("Search this file"))

    @property
    def line(self) -> str:
        """File, issue, status and date as the running head says them."""
        return self.head or say(
            "Technical file {number}, issue {issue}, {status}, as of {as_of}",
            number=self.file_number,
            issue=self.issue,
            status=_STATUS.get(self.status, self.status),
            as_of=self.as_of,
        )


@dataclass(frozen=True, slots=True)
class Attachment:
    """A file that goes into the PDF and beside the HTML. `path` is absolute, `name` is how pages call it.

    A name is one plain file name. `relationship` is source, data, supplement or alternative (ISO 32000-2, 14.13).
    """

    name: str
    path: str
    mime: str
    description: str = ""
    relationship: str = "supplement"


def settings_from_json(data: Mapping[str, Any]) -> Settings:
    """Settings from the JSON form of the same fields. Raises `BlockFault` like a block does."""
    from witnessmark.document.blockdata import record

    loaded: Settings = record(Settings, data, "settings")
    return loaded


def cleaned(value: Any) -> Any:
    """`value`, a dataclass of this module or a part of one, with every text as a page can carry it."""
    if isinstance(value, str):
        return clean(value)
    if isinstance(value, tuple):
        return tuple(cleaned(item) for item in value)
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return type(value)(**{item.name: cleaned(getattr(value, item.name)) for item in dataclasses.fields(value)})
    return value
