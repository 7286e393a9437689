"""What the authority or technical service answered to an issue: accepted, asked or refused, row by row."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from witnessmark.assessment.ledger import Ledger
from witnessmark.assessment.model import State
from witnessmark.problems import Misuse, Problem
from witnessmark.records.acts import Release

from ..keep import Entered
from ..questions import Given, Question, one
from .base import Desk, Harmless, brought, free_path, note_question, person_question

__all__ = ["Answer"]


@dataclass(frozen=True)
class Answer(Harmless):
    """One letter about one frozen issue."""

    desk: Desk
    title: str = "An answer of the authority or technical service"

    def questions(self, given: Given) -> tuple[Question, ...]:
        return tuple(self._questions(given))

    def _questions(self, given: Given) -> Iterator[Question]:
        assessment = self.desk.assessment
        assert assessment is not None
        issues = self._issues()
        if not issues:
            raise Misuse(
                Problem(
                    "issue.none",
                    f"no issue of {self.desk.vehicle} was frozen yet, so nobody can have answered one",
                    f"freeze it first: witnessmark freeze {self.desk.vehicle}",
                )
            )
        yield Question("answers", "Which issue is it about", "choice", choices=issues, preset=list(issues)[-1])
        service = self.desk.workshop.vehicles[self.desk.vehicle or ""].service
        yield Question("authority", "Who answers", preset=service or "", suggested=True)
        yield Question("number", "Number of the letter")
        yield Question("dated", "Of which day is it", "day")
        yield Question("document", "The letter as a file (blank: none)", "file", required=False)
        titles = {
            self._name(r.set_id, r.id): r.requirement.title
            for r in assessment.requirements
            if r.state is not State.NOT_APPLICABLE
        }
        yield Question(
            "refused", "Which requirements are refused", "choice", choices=titles, several=True, required=False
        )
        refused = self._several(given, "refused")
        yield from (Question(f"words.{name}", f"Why is it refused: {titles.get(name, name)}") for name in refused)
        rest = {name: title for name, title in titles.items() if name not in refused}
        yield Question(
            "question", "About which is something asked", "choice", choices=rest, several=True, required=False
        )
        asked = self._several(given, "question")
        yield from (Question(f"words.{name}", f"What is asked: {rest.get(name, name)}") for name in asked)
        left = {name: title for name, title in rest.items() if name not in asked}
        yield Question(
            "accepted",
            "Which are accepted (all: every one that is left)",
            "choice",
            choices=left,
            several=True,
            required=False,
        )
        yield person_question(self.desk, "by", "Who has read the letter", preset=self.desk.by)
        yield note_question()

    def _issues(self) -> dict[str, str]:
        ledger = Ledger(self.desk.workshop)
        found = [(act, body) for act, body in ledger.of(Release, self.desk.vehicle) if not ledger.gone(act)]
        return {body.release: f"as of {body.as_of}" for _, body in sorted(found, key=lambda pair: pair[1].release)}

    def _name(self, set_id: str, ident: str) -> str:
        assert self.desk.assessment is not None
        twice = sum(1 for r in self.desk.assessment.requirements if r.id == ident) > 1
        return f"{set_id}:{ident}" if twice else ident

    @staticmethod
    def _several(given: Given, key: str) -> tuple[str, ...]:
        value = given.get(key, ())
        return (value,) if isinstance(value, str) and value else tuple(value)

    def entered(self, given: Given) -> Entered:
        files: dict[str, Path] = {}
        document = brought(given, "document", "answers", files)
        said: dict[str, Any] = {}
        for answer in ("refused", "question", "accepted"):
            for name in self._several(given, answer):
                words = one(given, f"words.{name}")
                said[name] = {"answer": answer, **({"words": words} if words else {})}
        if not said:
            raise Misuse(
                Problem("answer.none", "the letter says nothing of any requirement", "name those that it speaks of")
            )
        tree: dict[str, Any] = {k: one(given, k) for k in ("answers", "authority", "number", "dated")}
        tree |= {"document": document, "requirements": said, "by": one(given, "by"), "note": one(given, "note")}
        base = f"evidence/vehicles/{self.desk.vehicle}"
        return Entered(free_path(self.desk, f"{base}/answers", one(given, "dated")), tree, base, files)

    def sentence(self, given: Given) -> str:
        return f"Answer {one(given, 'number')} of {one(given, 'authority')} to issue {one(given, 'answers')}"
