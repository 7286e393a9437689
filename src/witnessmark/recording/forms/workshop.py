"""What stands in `workshop.yaml`: name, address, how it is reached, and the mark as a picture."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from witnessmark.reading.folder import WORKSHOP
from witnessmark.records.workshop import Contact

from ..questions import Given, Question, one
from .base import Amended, Desk, Harmless, brought

__all__ = ["Workshop"]

_CONTACT = {"telephone": "Telephone", "mail": "Mail address", "web": "Page on the web"}


@dataclass(frozen=True)
class Workshop(Harmless):
    """Who stands behind the files. A blank leaves what is there."""

    desk: Desk
    title: str = "This workshop: name, address, mark"

    def questions(self, given: Given) -> tuple[Question, ...]:
        file = self.desk.workshop.file
        contact = file.contact or Contact()
        return (
            Question("name", "Name of the workshop", preset=file.name),
            Question("place", "Place, in short", preset=file.place, why="It stands on the test sheets."),
            Question(
                "address",
                "Address, line by line, with ; between",
                several=True,
                required=False,
                preset=file.address or (),
                why="Cover and test reports carry it.",
            ),
            *(
                Question(key, ask, required=False, preset=getattr(contact, key) or "", why="Printed as it is written.")
                for key, ask in _CONTACT.items()
            ),
            Question(
                "mark",
                "Mark of the workshop as a picture" + (f" (blank: {file.mark} stays)" if file.mark else ""),
                "file",
                "A PNG or JPEG of at least 600 pixels, dark on white. It is copied into evidence/.",
                required=False,
            ),
        )

    def entered(self, given: Given) -> Amended:
        files: dict[str, Path] = {}
        changes: dict[str, object] = {"name": one(given, "name"), "place": one(given, "place")}
        if given["address"]:
            changes["address"] = list(given["address"])
        contact = {key: one(given, key) for key in _CONTACT if one(given, key)}
        if contact:
            changes["contact"] = contact
        path = brought(given, "mark", "evidence", files)
        if path:
            changes["mark"] = path.removeprefix("evidence/")
        return Amended(WORKSHOP, changes, files)

    def sentence(self, given: Given) -> str:
        return f"Describe the workshop: {one(given, 'name')}"
