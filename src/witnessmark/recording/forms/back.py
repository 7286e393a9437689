"""Acts about other acts: corrected, withdrawn, carried over, checked by a second person."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any, ClassVar

from witnessmark.assessment.ledger import by_of
from witnessmark.assessment.model import RecordResult
from witnessmark.problems import Misuse, Problem
from witnessmark.records.acts import Record
from witnessmark.records.world import Act

from ..keep import Entered
from ..questions import Answer, Given, Question, one
from .base import (
    Desk,
    Harmless,
    free_path,
    instant_question,
    known_act,
    note_question,
    people,
    person_question,
    second_question,
)

__all__ = ["CarryOver", "Check", "Correction", "Withdrawal", "lines_of"]


def _folder(act: Act) -> str:
    return act.path.rpartition("/")[0]


def _base(act: Act) -> str:
    parts = act.path.split("/")
    return "/".join(parts[:3]) if parts[1] in ("vehicles", "designs") else "evidence"


def lines_of(tree: Mapping[str, Any]) -> dict[str, Answer]:
    """Every single value of an act, by its path in the text (`readings.ub`, `by.tester`); lists of values as one."""
    found: dict[str, Answer] = {}

    def walk(value: Any, path: str) -> None:
        if isinstance(value, Mapping):
            for key, inner in value.items():
                walk(inner, f"{path}.{key}" if path else str(key))
        elif isinstance(value, tuple | list):
            if all(isinstance(item, str) for item in value):
                found[path] = tuple(value)
            else:
                for number, item in enumerate(value):
                    walk(item, f"{path}.{number}")
        else:
            found[path] = str(value)

    walk(
        {k: v for k, v in tree.items() if k not in ("format", "code", "files", "seal", "corrects", "proof", "second")},
        "",
    )
    return found


def _said(act: Act) -> tuple[str, ...]:
    """An act as a person reads it, one line for each value."""
    return tuple(f"{k}: {'; '.join(v) if isinstance(v, tuple) else v}" for k, v in lines_of(act.tree).items())


def _replaced(value: Any, changed: Mapping[str, Answer], path: str = "") -> Any:
    if path in changed:
        return changed[path]
    if isinstance(value, Mapping):
        return {k: _replaced(v, changed, f"{path}.{k}" if path else str(k)) for k, v in value.items()}
    if isinstance(value, tuple | list):
        return [_replaced(v, changed, f"{path}.{n}") for n, v in enumerate(value)]
    return value


@dataclass(frozen=True)
class _AboutAct(Harmless):
    """What all of these have: the act with that code, shown before anything is asked. `heading` is the form's title."""

    desk: Desk
    code: str
    heading: ClassVar[str]

    @property
    def title(self) -> str:
        return f"{self.heading.format(code=self.code)}: {self.act.path.rpartition('/')[2]}"

    @property
    def says(self) -> tuple[str, ...]:
        return _said(self.act)

    @cached_property
    def act(self) -> Act:
        return known_act(self.desk, self.code)

    def beside(self, *words: str) -> str:
        """A free file name in the folder where the act lies."""
        return free_path(self.desk, _folder(self.act), *words)


@dataclass(frozen=True)
class Correction(_AboutAct):
    """A typing error put right: the same act again with other values, what proves it, and a second person."""

    heading = "Correction of {code}"

    @cached_property
    def lines(self) -> dict[str, Answer]:
        return lines_of(self.act.tree)

    def questions(self, given: Given) -> tuple[Question, ...]:
        return tuple(self._questions(given))

    def _questions(self, given: Given) -> Iterator[Question]:
        shown = {path: "; ".join(v) if isinstance(v, tuple) else v for path, v in self.lines.items()}
        yield Question(
            "lines",
            "Which lines are wrong",
            "choice",
            "What was measured wrongly is measured again, not corrected.",
            choices=shown,
            several=True,
        )
        wrong = given.get("lines", ())
        for path in (wrong,) if isinstance(wrong, str) else wrong:
            listed = isinstance(self.lines.get(path), tuple)
            yield Question(f"new.{path}", f"{path}: what it should be, instead of {shown.get(path)}", several=listed)
        yield Question(
            "proof", "What proves the error", why="Such as the photograph of the meter, or the sheet filled in by hand."
        )
        yield second_question(self.desk, by_of(self.act.body) or self.desk.by)
        yield note_question()

    def entered(self, given: Given) -> Entered:
        changed = {k.removeprefix("new."): v for k, v in given.items() if k.startswith("new.")}
        kept = {
            k: v
            for k, v in self.act.tree.items()
            if k not in ("format", "code", "files", "seal", "proof", "second", "note")
        }
        tree: dict[str, Any] = {"corrects": self.code, "proof": one(given, "proof"), "second": one(given, "second")}
        body = _replaced({k: v for k, v in kept.items() if k != "corrects"}, changed)
        note = one(given, "note") or ("" if "note" in changed else str(self.act.tree.get("note", "")))
        tree |= body | {"note": one({**changed, "note": changed.get("note", note)}, "note")}
        stem = self.act.path.rpartition("/")[2].removesuffix(".yaml")
        return Entered(self.beside(stem, "corrected"), tree, _base(self.act))

    def sentence(self, given: Given) -> str:
        wrong = given.get("lines", ())
        return f"Correct {self.code}: {', '.join((wrong,) if isinstance(wrong, str) else wrong)}"


BECAUSE = {
    "mistaken": "it says something that never was so",
    "moved": "it belongs elsewhere, where it is recorded anew",
    "set-aside": "it is true, and is set aside for a reason",
}


@dataclass(frozen=True)
class Withdrawal(_AboutAct):
    """An act is taken back for good; it leaves a blank that is printed."""

    heading = "Withdrawal of {code}"

    def questions(self, given: Given) -> tuple[Question, ...]:
        asked = [Question("because", "Why is it taken back", "choice", choices=BECAUSE)]
        if one(given, "because") == "moved":
            asked.append(
                Question("moved_to", "Where does it belong", why="The code of the new record, or what it is about.")
            )
        return (
            *asked,
            Question("reason", "The reason in words", why="It is printed."),
            instant_question(self.desk, "at", "When"),
            person_question(self.desk, "by", "Who takes it back", preset=self.desk.by),
            second_question(self.desk, one(given, "by") or self.desk.by),
        )

    def entered(self, given: Given) -> Entered:
        tree: dict[str, Any] = {"withdraws": self.code}
        tree |= {k: one(given, k) for k in ("because", "moved_to", "reason", "at", "by", "second")}
        return Entered(self.beside("withdrawal", self.code), tree, _base(self.act))

    def sentence(self, given: Given) -> str:
        return f"Withdraw {self.code}: {one(given, 'because')}"


@dataclass(frozen=True)
class CarryOver(_AboutAct):
    """A signed statement that a record still holds although something happened since."""

    heading = "Carry {code} over"

    @cached_property
    def act(self) -> Act:
        act = known_act(self.desk, self.code)
        if not isinstance(act.body, Record):
            raise Misuse(
                Problem(
                    "carry.record", f"{self.code} is no record", "only records lapse and are carried over", act.place
                )
            )
        return act

    @cached_property
    def causes(self) -> dict[str, str]:
        """What the record lapsed by: code of the event, or `against:DIGEST`, with words."""
        from witnessmark.assessment.seals import against

        found: dict[str, str] = {}
        for result in self._results():
            for cause in result.causes:
                sort, _, rest = cause.key.partition(":")
                if cause.code.startswith("event.") and sort == "event":
                    found[rest.partition(":")[0]] = cause.message
                elif cause.code == "against.changed" and isinstance(self.act.body, Record):
                    vehicle = None if self.act.body.design else self.desk.vehicle
                    found[f"against:{against(self.desk.workshop, vehicle, self.act.body)}"] = cause.message
        if not found:
            raise Misuse(
                Problem(
                    "carry.current",
                    f"{self.code} has not lapsed by anything",
                    "there is nothing to carry it over",
                    self.act.place,
                )
            )
        return found

    def _results(self) -> Iterator[RecordResult]:
        if self.desk.assessment is None:
            return
        for state in self.desk.assessment.requirements:
            for part in state.parts:
                for leaf in part.leaves:
                    yield from (r for r in leaf.records if r.act.code == self.code)

    def questions(self, given: Given) -> tuple[Question, ...]:
        cause = next(iter(self.causes)) if len(self.causes) == 1 else ""
        return (
            Question("cause", "In spite of what does it still hold", "choice", choices=self.causes, preset=cause),
            Question("reason", "Why does it still hold", why="It is printed beside the record."),
            instant_question(self.desk, "at", "When"),
            person_question(self.desk, "by", "Who says so", preset=self.desk.by),
            second_question(self.desk, one(given, "by") or self.desk.by),
        )

    def entered(self, given: Given) -> Entered:
        cause = one(given, "cause")
        tree: dict[str, Any] = {"carries_over": self.code}
        tree |= {"against": cause.partition(":")[2]} if cause.startswith("against:") else {"event": cause}
        tree |= {k: one(given, k) for k in ("reason", "at", "by", "second")}
        return Entered(self.beside("carry-over", self.code), tree, _base(self.act))

    def sentence(self, given: Given) -> str:
        return f"Carry {self.code} over"


@dataclass(frozen=True)
class Check(_AboutAct):
    """A second person has looked at an act and agrees, or does not."""

    heading = "Second person's check of {code}"

    def questions(self, given: Given) -> tuple[Question, ...]:
        body = self.act.body
        makers = {by_of(body), body.seal.by if body.seal else None}
        return (
            Question(
                "by",
                "Who has checked it",
                "choice",
                "Somebody other than who made it.",
                choices={i: w for i, w in people(self.desk.workshop).items() if i not in makers},
                preset="" if self.desk.by in makers else self.desk.by,
            ),
            Question(
                "agrees",
                "Do you agree",
                "choice",
                choices={"yes": "it is so", "no": "it is not: it then does not count"},
            ),
            Question("reason", "Why not", required=one(given, "agrees") == "no"),
            instant_question(self.desk, "at", "When"),
            note_question(),
        )

    def entered(self, given: Given) -> Entered:
        tree: dict[str, Any] = {"checks": self.code}
        tree |= {k: one(given, k) for k in ("agrees", "reason", "at", "by", "note")}
        return Entered(self.beside("check", self.code, one(given, "by")), tree, _base(self.act))

    def sentence(self, given: Given) -> str:
        return f"Check of {self.code} by {one(given, 'by')}"
