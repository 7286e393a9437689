"""Going through a form with answers that lie ready: every fault is found, none stops the others."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from witnessmark.problems import Place, Problem

from .forms.base import Form
from .questions import Answer, Given, unasked, understood

__all__ = ["Answered", "answer_all", "blank"]


@dataclass(frozen=True, slots=True)
class Answered:
    """What the answers mean, the alarms they raise, and every fault in them."""

    given: Given
    alarms: tuple[str, ...]
    problems: tuple[Problem, ...]


def blank(several: bool) -> Answer:
    """The answer to a question that was left out."""
    return () if several else ""


def answer_all(
    form: Form,
    answers: Mapping[str, Answer],
    now: datetime,
    *,
    places: Mapping[str, Place] | None = None,
    elsewhere: Iterable[str] = (),
) -> Answered:
    """Answer the form from `answers`, by key. `elsewhere`: keys that other forms of the same file may need."""
    found = places or {}
    given: dict[str, Answer] = {}
    alarms: list[str] = []
    problems: list[Problem] = []
    asked: list[str] = []
    while (question := unasked(form.questions(given), given)) is not None:
        asked.append(question.key)
        answer = answers.get(question.key)
        if answer is None and question.quiet:
            given[question.key] = blank(question.several)
            continue
        if answer is None and question.suggested:
            question = replace(question, preset="")
        meant = understood(question, answer if answer is not None else "", now)
        if isinstance(meant, Problem):
            remedy = meant.remedy if answer is not None else f"{meant.remedy}; its key is '{question.key}'"
            problems.append(replace(meant, place=found.get(question.key), remedy=remedy))
            given[question.key] = blank(question.several)
        else:
            given[question.key] = meant.value
            alarms += meant.alarms
    for key in sorted(set(answers) - set(asked) - set(elsewhere)):
        near = difflib.get_close_matches(key, asked, n=1)
        problems.append(
            Problem(
                "answer.unknown",
                f"nothing is asked under the name '{key}'",
                f"did you mean '{near[0]}'?" if near else f"what is asked: {', '.join(asked)}",
                found.get(key),
            )
        )
    return Answered(given, tuple(alarms), tuple(problems))
