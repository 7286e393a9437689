"""Model of a risk analysis: what can fail, what it does to people, and which requirements show the controls against it.

The three ranks from 1 to 10 follow the usual failure mode and effects analysis (IEC 60812; scales from memory). No
product of them is formed: no rule sets a limit for one. A control is nothing but a pointer to requirements, so that a
test that lapses reopens the row.
"""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, model_validator

from .base import Count, Frozen, Ident, Instant, Model, Phrase, Scalar
from .sealed import Sealable

__all__ = ["SAFETY", "Control", "Risk", "RiskAnalysis"]

SAFETY = 9
"""From this severity on people can come to harm: the row needs a control, however seldom it is."""


def _rank(value: int) -> int:
    if not 1 <= value <= 10:
        raise ValueError("a rank goes from 1 to 10")
    return value


Rank = Annotated[Count, AfterValidator(_rank)]


class Control(Model):
    """One thing that prevents the failure, finds it, or limits what it does."""

    does: Phrase
    """Which part does it, from which threshold, and how."""
    sort: Literal["prevents", "detects", "limits"]
    driver: Phrase | None = None
    """What the driver sees or hears."""
    shown_by: tuple[Scalar, ...] = Field(min_length=1)
    """Requirements or leaves that show that it works: `crash-switch` or `crash-switch/opening`."""


class Risk(Model):
    """One row."""

    item: Phrase
    failure: Phrase
    cause: Phrase
    effect: Phrase
    """What it does to people in and around the vehicle."""
    severity: Rank
    """1 none to 10 harm without warning."""
    occurrence: Rank
    """1 excluded by design to 10 almost certain, with the controls."""
    detection: Rank
    """1 certain to be found to 10 cannot be found, with the controls."""
    controls: Frozen[Ident, Control] = Frozen()
    left: Phrase | None = None
    """What remains, and why that is borne."""

    @model_validator(mode="after")
    def _controlled(self) -> Risk:
        if self.severity >= SAFETY and not self.controls:
            raise ValueError(f"a severity of {SAFETY} or more needs a control: controls: …")
        if not self.controls and not self.left:
            raise ValueError("a row without a control says why that is borne: left: …")
        return self


class RiskAnalysis(Sealable):
    """The whole analysis of one vehicle; a later one takes its place."""

    analyses: Phrase
    """What is analysed, such as `cell runaway and failure of the controls`."""
    way: Phrase
    """By which method, and on what its ranks rest."""
    risks: Frozen[Ident, Risk] = Field(min_length=1)
    stated: Instant
    by: Ident

    @property
    def at(self) -> datetime:
        return self.stated
