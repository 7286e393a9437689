"""Asking at the terminal: one blank at a time, its preset in brackets, `?` for why it is asked, alarms at once.

Questions go to standard error, so that standard output holds results only.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from datetime import datetime

from witnessmark.problems import Problem
from witnessmark.recording.answering import blank
from witnessmark.recording.forms.base import Form
from witnessmark.recording.questions import Answer, Given, Question, unasked, understood

from .show import harmless, progress, wrapped

__all__ = ["Gone", "ask_all", "ask_one", "choose", "is_terminal"]

LISTED = 12
"""Choices up to this number are shown with the question; more are shown on `?`."""


class Gone(Exception):
    """The person gave up; nothing was kept."""


def is_terminal() -> bool:
    """Whether somebody sits there."""
    return sys.stdin.isatty()


def _read(prompt: str) -> str:
    sys.stderr.write(prompt)
    sys.stderr.flush()
    line = sys.stdin.readline()
    if not line:
        progress("")
        raise Gone
    return line.rstrip("\r\n")


def ask_all(form: Form, given: Given, clock: Callable[[], datetime]) -> Given:
    """Every question of the form that has no answer yet, in its order. Raises Gone when the person gives up."""
    found: dict[str, Answer] = dict(given)
    while (question := unasked(form.questions(found), found)) is not None:
        found[question.key] = blank(question.several) if question.quiet else ask_one(question, clock)
    return found


def ask_one(question: Question, clock: Callable[[], datetime]) -> Answer:
    """Ask until the answer makes sense."""
    if question.choices and len(question.choices) <= LISTED:
        _list(question)
    if question.several and question.sort == "quantity":
        return _one_after_another(question, clock)
    while True:
        text = _read(_prompt(question))
        if text.strip() == "?":
            _explain(question)
            continue
        meant = understood(question, text, clock())
        if isinstance(meant, Problem):
            _refuse(meant)
            continue
        for alarm in meant.alarms:
            progress(f"    LOOK AGAIN: {alarm}.")
        shown = meant.value if isinstance(meant.value, str) else ", ".join(meant.value)
        if meant.alarms and not _sure(shown):
            continue
        if shown and shown != text.strip():
            progress(f"    {harmless(shown)}")
        return meant.value


def _one_after_another(question: Question, clock: Callable[[], datetime]) -> Answer:
    from dataclasses import replace

    found: list[str] = []
    while True:
        one = replace(question, several=False, required=question.required and not found)
        number = f" (reading {len(found) + 1}, blank when done)" if found else " (reading 1)"
        value = ask_one(replace(one, ask=question.ask + number), clock)
        if not value:
            return tuple(found)
        found.append(str(value))


def _sure(shown: str) -> bool:
    return _read(f"    Is it really {harmless(shown)}? yes, or Enter to read it again: ").strip().casefold() in (
        "y",
        "yes",
    )


def _prompt(question: Question) -> str:
    preset = question.preset if isinstance(question.preset, str) else ", ".join(question.preset)
    unit = f" in {question.unit}" if question.unit and question.unit != "1" else ""
    rest = f" [{harmless(preset)}]" if preset else "" if question.required else " (blank: none)"
    if "(blank" in question.ask:
        rest = f" [{harmless(preset)}]" if preset else ""
    return f"{harmless(question.ask)}{unit}{rest}: "


def _list(question: Question) -> None:
    progress(f"{harmless(question.ask)}:")
    width = max(len(word) for word in question.choices)
    for number, (word, meaning) in enumerate(question.choices.items(), start=1):
        lines = wrapped(harmless(meaning), width=80) if meaning else [""]
        progress(f"  {number:>2}  {harmless(word):<{width}}  {lines[0]}".rstrip())
        for line in lines[1:]:
            progress(" " * (width + 8) + line)


def _explain(question: Question) -> None:
    if question.choices and len(question.choices) > LISTED:
        _list(question)
    for line in wrapped(harmless(question.why or "There is no more to say about this one."), indent=4):
        progress(line)
    if question.low is not None and question.high is not None:
        progress(f"    Plausible is {question.low:g} to {question.high:g} {question.unit}.")


def _refuse(problem: Problem) -> None:
    progress(f"    {harmless(problem.message)}. {harmless(problem.remedy)[:1].upper()}{harmless(problem.remedy)[1:]}.")


def choose(ask: str, choices: dict[str, str], *, preset: str = "") -> str:
    """One of a few words, by the word or its beginning."""
    question = Question("choice", ask, "choice", choices=choices, preset=preset)
    words = ", ".join(f"{word} ({meaning})" if meaning else word for word, meaning in choices.items())
    while True:
        text = _read(f"{ask}: {words}{f' [{preset}]' if preset else ''}: ")
        meant = understood(question, text, datetime.min)  # noqa: DTZ901  # no time is asked for here
        if isinstance(meant, Problem):
            _refuse(meant)
            continue
        return str(meant.value)
