"""What every act has, and the seal that makes it one: written by the tool, never by hand."""

from __future__ import annotations

from datetime import datetime
from typing import Literal

from .base import Code, Count, Digest, FilePath, Format, Frozen, Ident, Instant, Model, Phrase, Scalar

__all__ = ["FileEntry", "Seal", "Sealable", "VehicleRef"]


class VehicleRef(Model):
    id: Ident
    vin: Scalar | None = None


class Seal(Model):
    """Written by the tool. `found` is never believed where it helps, always where it hurts."""

    on: Instant
    by: Ident
    vehicle: VehicleRef | None = None
    """The vehicle that the act belongs to, whatever folder it lies in. Absent: design's or workshop's."""
    members: Frozen[Ident, Scalar] = Frozen()
    """Serial of every member that was built in when performed, as the tool computed it."""
    against: Digest | None = None
    """What a record was judged against: leaves, edition, decision rule, fact values used."""
    found: Frozen[Scalar, Literal["pass", "undecided", "fail"]] = Frozen()
    """Verdict per `requirement/leaf/criterion` when sealed."""
    content: Digest


class FileEntry(Model):
    """A file that the act rests on, as it was hashed."""

    name: FilePath
    bytes: Count
    sha256: Digest


class Sealable(Model):
    """What every act has."""

    format: Format
    code: Code | None = None
    """Its only identity; written by the tool."""
    corrects: Code | None = None
    """The act that this one replaces; needs `proof` or `reason`, and a second person."""
    proof: Phrase | None = None
    reason: Phrase | None = None
    second: Ident | None = None
    """The second person, who may be from outside the workshop."""
    files: tuple[FileEntry, ...] = ()
    note: Phrase | None = None
    seal: Seal | None = None

    @property
    def at(self) -> datetime | None:
        """The instant that the act speaks of; None where only its sealing counts."""
        return None
