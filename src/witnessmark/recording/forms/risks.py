"""A risk analysis, row after row: what can fail, what it does, and which requirements show the controls against it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from witnessmark.assessment.ledger import Ledger
from witnessmark.assessment.risks import risk_state
from witnessmark.records.base import text_of_instant
from witnessmark.records.risks import SAFETY, Risk

from ..keep import Entered
from ..questions import Given, Question, one
from .base import Desk, Harmless, free_path, id_of, instant_question, note_question, person_question

__all__ = ["Analysis"]

SORTS = {
    "prevents": "it keeps the failure from happening",
    "detects": "it finds it",
    "limits": "it limits what follows",
}
LIKELY = (
    "One cell runs away by an internal short; coolant leaks; the battery controls fail; a sensor is open or shorted; a "
    "contactor is welded; precharge fails; isolation is lost; the interlock loop opens; the charger's voltage is too "
    "high; water enters; a crash; the 12 V supply is lost; unwanted torque; no brake assistance (common practice)."
)


@dataclass(frozen=True)
class Analysis(Harmless):
    """One analysis of one vehicle; rows of the one before can be taken over."""

    desk: Desk
    title: str = "A risk analysis"

    @cached_property
    def before(self) -> dict[str, Risk]:
        assessment = self.desk.assessment
        assert assessment is not None
        found = risk_state(Ledger(self.desk.workshop), assessment.vehicle, assessment.requirements)
        return dict(found.analysis.risks) if found else {}

    def questions(self, given: Given) -> tuple[Question, ...]:
        return tuple(self._questions(given))

    def _questions(self, given: Given) -> Iterator[Question]:
        yield Question(
            "analyses", "What is analysed", preset="cell runaway and failure of the controls", suggested=True
        )
        yield Question(
            "way", "By which method, and on what do the ranks rest",
            preset="failure mode and effects analysis after IEC 60812; ranks by judgement", suggested=True,
        )  # fmt: skip
        if self.before:
            rows = {ident: f"{r.item}: {r.failure}" for ident, r in self.before.items()}
            yield Question(
                "kept", "Which rows stay as they were (all: every one)", "choice", choices=rows, several=True,
                required=False,
            )  # fmt: skip
        number = 1
        while True:
            yield from self._row(f"row.{number}", given, number)
            if not one(given, f"row.{number}.item"):
                break
            number += 1
        yield instant_question(self.desk, "stated", "When was it stated")
        yield person_question(self.desk, "by", "Who states it", preset=self.desk.by)
        others = {i: w for i, w in self._people().items() if i != one(given, "by")}
        yield Question("second", "Second person who has checked it", "choice", choices=others, required=False)
        yield note_question()

    def _people(self) -> dict[str, str]:
        return {ident: person.name for ident, person in sorted(self.desk.workshop.people.items())}

    def _row(self, lead: str, given: Given, number: int) -> Iterator[Question]:
        more = " (blank: no further row)" if number > 1 or self.before else ""
        needed = number == 1 and not given.get("kept")
        yield Question(f"{lead}.item", f"Row {number}: which part{more}", required=needed, why=LIKELY)
        if not one(given, f"{lead}.item"):
            return
        yield Question(f"{lead}.failure", "What fails in it")
        yield Question(f"{lead}.cause", "By what cause")
        yield Question(f"{lead}.effect", "What does it do to people")
        yield Question(f"{lead}.severity", "Severity", "choice", "1 none to 10 harm without warning.", choices=RANKS)
        yield Question(
            f"{lead}.occurrence", "Occurrence", "choice", "1 excluded by design to 10 almost certain.", choices=RANKS
        )
        yield Question(
            f"{lead}.detection", "Detection", "choice", "1 certain to be found to 10 cannot be found.", choices=RANKS
        )
        severe = one(given, f"{lead}.severity").isdigit() and int(one(given, f"{lead}.severity")) >= SAFETY
        control = 1
        while True:
            at = f"{lead}.control.{control}"
            must = severe and control == 1
            words = "Which control acts, and how" if must else "Which control acts, and how (blank: no further one)"
            yield Question(f"{at}.does", words, required=must, why="Part, threshold, and what it does then.")
            if not one(given, f"{at}.does"):
                break
            yield Question(f"{at}.sort", "What does it do about the failure", "choice", choices=SORTS)
            yield Question(f"{at}.driver", "What does the driver see or hear", required=False)
            yield Question(
                f"{at}.shown_by", "Which requirements show that it works", "choice", choices=self._titles, several=True
            )
            control += 1
        none = control == 1
        yield Question(f"{lead}.left", "What remains, and why is it borne", required=none)

    @cached_property
    def _titles(self) -> dict[str, str]:
        assert self.desk.assessment is not None
        return {r.id: r.requirement.title for r in self.desk.assessment.requirements}

    def entered(self, given: Given) -> Entered:
        kept = given.get("kept", ())
        risks: dict[str, Any] = {
            ident: self.before[ident].model_dump(mode="json", exclude_none=True)
            for ident in ((kept,) if isinstance(kept, str) and kept else kept)
        }
        number = 1
        while item := one(given, f"row.{number}.item"):
            lead = f"row.{number}"
            row: dict[str, Any] = {"item": item}
            row |= {k: one(given, f"{lead}.{k}") for k in ("failure", "cause", "effect")}
            row |= {k: one(given, f"{lead}.{k}") for k in ("severity", "occurrence", "detection")}
            controls: dict[str, Any] = {}
            control = 1
            while does := one(given, f"{lead}.control.{control}.does"):
                at = f"{lead}.control.{control}"
                shown = given.get(f"{at}.shown_by", ())
                controls[self._free(does, controls)] = {
                    "does": does,
                    "sort": one(given, f"{at}.sort"),
                    "driver": one(given, f"{at}.driver"),
                    "shown_by": (shown,) if isinstance(shown, str) else shown,
                }
                control += 1
            row |= {"controls": controls} if controls else {}
            row |= {"left": one(given, f"{lead}.left")}
            risks[self._free(f"{item} {row['failure']}", risks)] = row
            number += 1
        tree: dict[str, Any] = {"analyses": one(given, "analyses"), "way": one(given, "way"), "risks": risks}
        tree |= {"stated": one(given, "stated") or text_of_instant(self.desk.now), "by": one(given, "by")}
        tree |= {"second": one(given, "second"), "note": one(given, "note")}
        base = f"evidence/vehicles/{self.desk.vehicle}"
        return Entered(free_path(self.desk, f"{base}/risks", one(given, "stated")[:10]), tree, base)

    @staticmethod
    def _free(words: str, taken: dict[str, Any]) -> str:
        stem = id_of(words)[:40].strip("-") or "row"
        return next(name for n in range(1, 1000) if (name := stem if n == 1 else f"{stem}-{n}") not in taken)

    def sentence(self, given: Given) -> str:
        return f"Risk analysis: {one(given, 'analyses')}"


RANKS = {str(n): "" for n in range(1, 11)}
