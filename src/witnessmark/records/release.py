"""The act by which an issue of a technical file was frozen."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated

from pydantic import Field, model_validator

from .base import Count, Day, Digest, Ident, Instant, Phrase, Scalar, text_form
from .sealed import Sealable

__all__ = ["Release"]


class Release(Sealable):
    """An issue of a vehicle's technical file was frozen: written by `freeze`, never by hand."""

    release: Annotated[str, *text_form(r"[A-Z]{1,2}", "an issue is a capital letter, such as A")]
    """Letter of the issue."""
    released_at: Instant = Field(alias="at")
    by: Ident
    as_of: Day
    """The states are those at the end of this day."""
    commit: Annotated[str, *text_form(r"[0-9a-f]{40}", "a commit is 40 hexadecimal digits")]
    """The commit whose bytes were frozen."""
    manifest: Digest
    """Of the bag's tagmanifest-sha256.txt, which covers every other file of the bag."""
    previous: Scalar | None = None
    """Letter of the issue before."""
    why: Phrase | None = None
    """Why there is a new issue."""
    gaps: Count
    """Requirements that stand in the way: nonconforming, lapsed, not shown or undecided."""
    unconfirmed: Count
    """Requirements whose figures nobody has compared with the official text."""
    fields: Count = 0
    """Fields of the authority's forms that are empty."""
    with_gaps: Phrase | None = None
    """Why it was released in spite of them."""

    @property
    def at(self) -> datetime:
        return self.released_at

    @model_validator(mode="after")
    def _reasons(self) -> Release:
        if (self.gaps or self.unconfirmed or self.fields) and not self.with_gaps:
            raise ValueError("a release with gaps, empty fields or unconfirmed limits says why: with_gaps: …")
        if self.previous and not self.why:
            raise ValueError("a later issue says why there is one: why: …")
        return self
