"""Recipes of the routes to an approval: which papers, in which order, and who adds which. The data is `routes.toml`."""

from __future__ import annotations

import functools
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, cast

from witnessmark.language import say

__all__ = ["SOURCES", "Item", "Route", "route", "routes"]

SOURCES = ("technical-file", "documents", "reports", "photographs", "data", "sheets", "")
"""What of a workshop's folder can fill an item; "" for what somebody adds by hand."""
Who = Literal["applicant", "service", "authority"]


@dataclass(frozen=True, slots=True)
class Item:
    """One line of the index: its number in the route's list, its title in English, who brings it, and what fills it."""

    no: str
    title: str
    by: Who
    source: str
    of: tuple[str, ...] = ()
    """Of papers: only those that show one of these requirements, which then stand under no item that asks for any."""

    @property
    def words(self) -> str:
        """Its title in the language of the run."""
        return say(self.title)


@dataclass(frozen=True, slots=True)
class Route:
    """One recipe. `to` is who receives it, `confidence` how well the route is known: in English, to be said."""

    id: str
    title: str
    to: str
    confidence: str
    items: tuple[Item, ...]


@functools.cache
def routes() -> tuple[Route, ...]:
    """All recipes, by id."""
    data = tomllib.loads((Path(__file__).parent / "routes.toml").read_text(encoding="utf-8"))
    return tuple(
        Route(
            ident,
            told["title"],
            told["to"],
            told["confidence"],
            tuple(
                Item(i["no"], i["title"], cast("Who", i["by"]), i["from"], tuple(i.get("of", ()))) for i in told["item"]
            ),
        )
        for ident, told in sorted(data.items())
    )


def route(ident: str) -> Route | None:
    """The recipe of that id, None where there is none."""
    return next((r for r in routes() if r.id == ident), None)
