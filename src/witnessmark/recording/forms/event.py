"""What happened to a part: fitted, removed, replaced, opened, changed, new software."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from witnessmark.assessment.facts import VEHICLE
from witnessmark.assessment.judging import World
from witnessmark.assessment.ledger import Ledger
from witnessmark.methods.registry import method
from witnessmark.records.acts import DesignRevision

from ..keep import Entered
from ..questions import Given, Question, one
from .base import Desk, free_path, id_of, instant_question, note_question, person_question
from .statement import fact_question, facts_of_kind, of_sets

__all__ = ["Change"]

EVENTS = {
    "replaced": "another one sits in its place",
    "removed": "taken out, and nothing in its place",
    "fitted": "a part that was not there before",
    "opened": "a cover or connection was undone and closed again",
    "changed": "altered, repaired or set otherwise",
    "software": "new software or other settings",
}


@dataclass(frozen=True)
class Change:
    """One event. `part` empty: it is asked which."""

    desk: Desk
    part: str = ""

    @property
    def title(self) -> str:
        return "What happened to a part"

    @cached_property
    def world(self) -> World:
        return World(Ledger(self.desk.workshop), self.desk.vehicle or "", None, method)

    @cached_property
    def built_in(self) -> dict[str, str]:
        """Id and title of every part that is built in now, the vehicle as a whole last."""
        parts = self.world.parts
        known = {p: parts.title(p) for p in sorted(parts.known) if not parts.is_removed(p)}
        return {**known, VEHICLE: "the vehicle as a whole"}

    def questions(self, given: Given) -> tuple[Question, ...]:
        return tuple(self._questions(given))

    def _questions(self, given: Given) -> Iterator[Question]:
        yield Question("event", "What happened", "choice", choices=EVENTS)
        if "event" not in given:
            return
        event = one(given, "event")
        if not self.part:
            if event == "fitted":
                yield Question("new", "What is the new part called", why="As people say it, such as DC/DC converter.")
            else:
                yield Question("part", "To which part", "choice", choices=self.built_in)
        part = self._part(given)
        if not part:
            return
        yield instant_question(self.desk, "at", "When")
        yield person_question(self.desk, "by", "Who did it", preset=self.desk.by)
        if event in ("replaced", "removed"):
            now = self.world.parts.now(part)
            yield Question(
                "removed.serial",
                "Serial number of what came out",
                required=False,
                preset=now.serial or "",
                suggested=True,
            )
        if event == "fitted":
            kinds = dict.fromkeys(sorted(self.world.parts.kinds), "")
            yield Question("fitted.kind", "Of which kind is it", "choice" if kinds else "id", choices=kinds)
        if event in ("fitted", "replaced"):
            yield Question("fitted.serial", "Serial number of what is built in now", required=event == "replaced")
            designs = self._designs(part, one(given, "fitted.kind"))
            if designs:
                yield Question(
                    "fitted.design",
                    "Built to which design",
                    "choice",
                    choices=designs,
                    required=False,
                    preset=self.world.parts.now(part).design or "",
                    suggested=True,
                )
        if event == "fitted":
            yield Question(
                "fitted.within",
                "It sits in which part (blank: in the vehicle itself)",
                "choice",
                choices={p: t for p, t in self.built_in.items() if p not in (part, VEHICLE)},
                required=False,
            )
            for key, (definition, titles) in facts_of_kind(self.desk, one(given, "fitted.kind")).items():
                yield fact_question(key, definition, f"fitted.fact.{key}", titles=titles, required=False)
        if event in ("changed", "software", "replaced"):
            yield from self._facts(part, given)
        yield Question("why", "Why", required=False)
        yield note_question()

    def _facts(self, part: str, given: Given) -> Iterator[Question]:
        """Facts that are stated of the part, and are otherwise from now on."""
        facts = self.world.facts
        subject = None if part == VEHICLE else part
        stated = {k: facts.fact(k, subject) for k in sorted(self.desk.workshop.facts)}
        choices = {k: f"{facts.named(k)}, so far {f.said}" for k, f in stated.items() if f.said and not f.causes}
        if not choices:
            return
        yield Question(
            "facts",
            "Which facts are otherwise from now on (blank: none)",
            "choice",
            choices=choices,
            several=True,
            required=False,
        )
        chosen = given.get("facts", ())
        for key in (chosen,) if isinstance(chosen, str) and chosen else chosen:
            asked = fact_question(key, self.desk.workshop.facts[key], f"fact.{key}")
            yield of_sets(self.desk.workshop, asked, key)
            yield Question(f"source.{key}", "Where was it read")

    def _part(self, given: Given) -> str:
        return self.part or one(given, "part") or (id_of(one(given, "new")) if one(given, "new") else "")

    def _designs(self, part: str, kind: str) -> dict[str, str]:
        kinds = {k for k, parts in self.world.parts.kinds.items() if part in parts} | {kind}
        return {
            f"{a.body.design}/{a.body.revision}": a.body.title
            for a in self.desk.workshop.acts
            if isinstance(a.body, DesignRevision) and a.body.kind in kinds
        }

    def entered(self, given: Given) -> Entered:
        part, event = self._part(given), one(given, "event")
        tree: dict[str, Any] = {"event": event, "at": one(given, "at"), "by": one(given, "by"), "part": part}
        if one(given, "removed.serial"):
            tree["removed"] = {"serial": one(given, "removed.serial")}
        if event in ("fitted", "replaced"):
            new = one(given, "new") or self.built_in.get(part, "")
            fitted: dict[str, Any] = {"title": new}
            fitted |= {k: one(given, f"fitted.{k}") for k in ("kind", "serial", "design", "within")}
            lead = "fitted.fact."
            facts = {k.removeprefix(lead): v for k, v in given.items() if k.startswith(lead) and v}
            if facts:
                fitted["facts"] = facts
            tree["fitted"] = fitted
        stated = {
            k.removeprefix("fact."): {"value": v, "source": one(given, f"source.{k.removeprefix('fact.')}")}
            for k, v in given.items()
            if k.startswith("fact.") and v
        }
        if stated:
            tree["facts"] = stated
        tree |= {"why": one(given, "why"), "note": one(given, "note")}
        base = f"evidence/vehicles/{self.desk.vehicle}"
        return Entered(free_path(self.desk, f"{base}/events", one(given, "at")[:10], part, event), tree, base)

    @property
    def says(self) -> tuple[str, ...]:
        return ()

    def cautions(self, given: Given) -> tuple[str, ...]:
        return (
            "High voltage can kill. Before a part is opened, taken out or put in, the bus is made dead, secured "
            "against being switched on, and proved dead. Local codes and qualified persons decide.",
        )

    def sentence(self, given: Given) -> str:
        part = self._part(given)
        return f"{one(given, 'event').capitalize()}: {self.built_in.get(part) or one(given, 'new') or part}"
