"""Models of files that describe and claim nothing: workshop, person, instrument, vehicle. Free to edit."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from .base import Day, Format, Frozen, Key, Model, Phrase, Scalar, text_form

__all__ = ["Contact", "Demonstration", "InstrumentFile", "PersonFile", "VehicleFile", "WorkshopFile"]

Line = Annotated[Phrase, StringConstraints(max_length=70)]
"""One line of a letterhead."""


class Demonstration(Model):
    """Says that everything here is invented. States are given at `as_of`, whatever the clock says."""

    as_of: Day
    notice: Phrase
    history: Literal["consulted", "not-consulted"] = "not-consulted"
    """Whether git is asked what was committed and when; if not, every sealed file counts as committed."""


class Contact(Model):
    """How the workshop is reached. Printed as it is written; nothing is dialled, fetched or linked."""

    telephone: Line | None = None
    mail: Line | None = None
    web: Line | None = None


class WorkshopFile(Model):
    """`evidence/workshop.yaml`."""

    format: Format
    name: Phrase
    place: Phrase
    address: Annotated[tuple[Line, ...], Field(min_length=1, max_length=6)] | None = None
    """Postal address, line by line. Test reports and the cover carry it; without it they carry the place."""
    contact: Contact | None = None
    mark: (
        Annotated[
            str,
            StringConstraints(max_length=120),
            *text_form(
                r"(?!/)(?!.*(?:^|/)\.\.?(?:/|$))[^\\:*?\"<>|\x00-\x1f]+",
                "a path is relative to evidence/, with / between, and never leaves it, such as mark.png",
            ),
        ]
        | None
    ) = None
    """The workshop's sign as a picture in evidence/: PNG or JPEG, its longer side 600 pixels or more."""
    zone: Scalar
    """Time zone of the tz database, such as `Europe/Stockholm`."""
    language: Scalar = "en"
    """What documents are written in: `en`, or a language with its texts in `templates/TAG.po`."""
    demonstration: Demonstration | None = None

    @property
    def where(self) -> str:
        """The address in one line; the place where no address is written."""
        return ", ".join(self.address) if self.address else self.place


class PersonFile(Model):
    """`evidence/people/ID.yaml`."""

    format: Format
    name: Phrase
    role: Phrase
    email: Scalar | None = None
    outside: Literal["yes", "no"] = "no"
    """Whether the person is from outside the workshop."""
    firm: Phrase | None = None


class InstrumentFile(Model):
    """`evidence/instruments/ID/instrument.yaml`. Its accuracy stands in sealed calibrations."""

    format: Format
    title: Phrase
    serial: Scalar
    functions: tuple[Key, ...]
    note: Phrase | None = None


class VehicleFile(Model):
    """`evidence/vehicles/ID/vehicle.yaml`. VIN, category and chosen sets are facts, stated and sealed."""

    format: Format
    title: Phrase
    file_number: Scalar
    """Number of the technical file, such as `SEC-07`."""
    issue: Scalar
    """Letter of the issue that is being prepared."""
    owner: Phrase | None = None
    service: Phrase | None = None
    """The technical service or authority that it goes to."""
    contacts: Frozen[Key, Phrase] = Frozen()
