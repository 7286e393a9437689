"""Models of what people say of the requirements of a set: compared with the official text, or adopted by name.

Both name each requirement by the digest of its text, so that a changed figure is compared, or adopted, anew. They lie
in `requirements/SET/reviews/`; they change no requirement and lapse no record.
"""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from .base import Day, Digest, Frozen, Ident, Model, Phrase
from .sealed import Sealable

__all__ = ["Adoption", "Compared", "Comparison"]


class Compared(Model):
    """One requirement held beside the official text."""

    digest: Digest
    """Of the requirement's text as it was compared."""
    agrees: Literal["yes", "no"]
    """Whether clause, conditions and every figure are those of the official text."""
    differs: Phrase | None = None
    """What the official text says otherwise; `no` needs it."""

    @model_validator(mode="after")
    def _said(self) -> Compared:
        if self.agrees == "no" and not self.differs:
            raise ValueError("who finds a difference says which: differs: …")
        return self


class Comparison(Sealable):
    """A named person has compared requirements of a set with the official text."""

    compares: Ident
    """The set."""
    official: Phrase
    """What was read: document, edition, supplement, page."""
    requirements: Frozen[Ident, Compared] = Field(min_length=1)
    on: Day
    by: Ident


class Adoption(Sealable):
    """A named person of the workshop takes figures that no official text holds as the workshop's own."""

    adopts: Ident
    """The set."""
    requirements: Frozen[Ident, Digest] = Field(min_length=1)
    """Of each requirement's text as it was adopted."""
    on: Day
    by: Ident
