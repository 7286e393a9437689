"""Model of what the authority or technical service answered to an issue of the technical file. It is never proof."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from .base import Day, FilePath, Frozen, Ident, Model, Phrase, Scalar
from .sealed import Sealable

__all__ = ["Answer", "Answered"]


class Answered(Model):
    """What was said of one requirement."""

    answer: Literal["accepted", "question", "refused"]
    words: Phrase | None = None
    """What is asked, or why it is refused; only an acceptance needs none."""

    @model_validator(mode="after")
    def _said(self) -> Answered:
        if self.answer != "accepted" and not self.words:
            raise ValueError(f"an answer '{self.answer}' says what is asked, or why: words: …")
        return self


class Answer(Sealable):
    """A letter of the authority or technical service about one issue of a vehicle's technical file."""

    answers: Scalar
    """The letter of the issue, such as B."""
    authority: Phrase
    number: Phrase
    """Number of the letter."""
    dated: Day
    document: FilePath | None = None
    """The letter as a file."""
    requirements: Frozen[Scalar, Answered] = Field(min_length=1)
    """By id, with `set:` before it where two sets share it."""
    by: Ident
    """Who has read the letter."""
