"""Asking at the terminal: one blank at a time, its preset in brackets, `?` for why it is asked, alarms at once.

Questions go to standard error, so that standard output holds results only.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from datetime import UTC, datetime

from witnessmark.problems import Problem
from witnessmark.recording.answering import blank
from witnessmark.recording.forms.base import Form
from witnessmark.recording.questions import Answer, Given, Question, unasked, understood

from .show import harmless, progress, wrapped

__all__ = ["Gone", "ask_all", "ask_one", "choose"]

NO_TIME = datetime.min.replace(tzinfo=UTC)
"""Where a question asks no time, none is needed to understand it."""

LISTED = 12
"""Choices up to this number are shown with the question; more are shown on `?`."""


class Gone(Exception):
    """The person gave up; nothing was kept."""


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
    warned: set[str] = set()
    while (question := unasked(form.questions(found), found)) is not None:
        for caution in form.cautions(found):
            if caution not in warned:
                warned.add(caution)
                for number, line in enumerate(wrapped(f"CAUTION. {harmless(caution)}", indent=2)):
                    progress(f"\n{line}" if not number else line)
        found[question.key] = blank(question.several) if question.quiet else ask_one(question, clock)
    return found


def ask_one(question: Question, clock: Callable[[], datetime], *, listed: bool = False) -> Answer:
    """Ask until the answer makes sense. `listed`: its choices are shown, however many there are."""
    if question.shown:
        progress("")
    for line in question.shown:
        for text in wrapped(harmless(line), indent=2):
            progress(text)
    listed = listed or _is_listed(question)
    if listed:
        _list(question)
    elif question.told:
        _head(question)
    if question.several and question.sort == "quantity":
        return _one_after_another(question, clock)
    prompt = _answer(question) if listed else _below(question) if question.told else _prompt(question)
    while True:
        text = _read(prompt)
        if text.strip() == "?":
            _explain(question)
            continue
        meant = understood(question, text, clock())
        if isinstance(meant, Problem):
            _refuse(meant, question)
            continue
        for alarm in meant.alarms:
            progress(f"    LOOK AGAIN: {alarm}.")
        shown = meant.value if isinstance(meant.value, str) else ", ".join(meant.value)
        if meant.alarms and not _sure(shown):
            continue
        if shown and shown != text.strip():
            progress(f"    {harmless(shown)}")
        return meant.value


def _is_listed(question: Question) -> bool:
    """Choices that are mere words, or a single one, stand in the prompt."""
    return 1 < len(question.choices) <= LISTED and any(question.choices.values())


def _one_after_another(question: Question, clock: Callable[[], datetime]) -> Answer:
    from dataclasses import replace

    found: list[str] = []
    while True:
        one = replace(question, several=False, required=question.required and not found)
        done = " (blank when done)" if found else ""
        value = ask_one(replace(one, ask=f"{question.ask}, reading {len(found) + 1}{done}"), clock)
        if not value:
            return tuple(found)
        found.append(str(value))


def _sure(shown: str) -> bool:
    return _read(f"    Is it really {harmless(shown)}? yes, or Enter to read it again: ").strip().casefold() in (
        "y",
        "yes",
    )


def _prompt(question: Question) -> str:
    end = "" if question.ask.endswith("?") else ":"
    return f"{harmless(question.ask)}{_form(question)}{_rest(question)}{end} "


def _form(question: Question) -> str:
    """What an answer looks like: its words, or its unit."""
    words = ""
    if question.choices and not _is_listed(question):
        words = f" ({', '.join(question.choices)})" if len(question.choices) <= LISTED else " (? lists them)"
    unit = f" in {question.unit}" if question.unit and question.unit != "1" else ""
    return f"{harmless(words)}{unit}"


def _below(question: Question) -> str:
    """The prompt below a question that stands there with its reason."""
    return f"      answer{_form(question)}{_rest(question)}: "


def _rest(question: Question) -> str:
    preset = question.preset if isinstance(question.preset, str) else ", ".join(question.preset)
    if preset:
        return f" [{harmless(preset)}]"
    return "" if question.required or "(blank" in question.ask else " (blank: none)"


def _answer(question: Question) -> str:
    """The prompt below a list that carries the question itself."""
    which = "which, with commas between" if question.several else "which"
    return f"      {which}{_rest(question)}: "


def _head(question: Question) -> None:
    """The question by itself, with why it is asked where that is told."""
    progress(f"{harmless(question.ask)}{'' if question.ask.endswith('?') else ':'}")
    for line in wrapped(harmless(question.why), indent=4) if question.told and question.why else ():
        progress(line)


def _list(question: Question) -> None:
    _head(question)
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


def _refuse(problem: Problem, question: Question) -> None:
    what = harmless(problem.message.removeprefix(f"{question.ask}: "))
    progress(f"    {what}. {harmless(problem.remedy)[:1].upper()}{harmless(problem.remedy)[1:]}.")


def choose(ask: str, choices: dict[str, str], *, preset: str = "") -> str:
    """One of a few words, by the word or its beginning."""
    question = Question("choice", ask, "choice", choices=choices, preset=preset)
    words = ", ".join(f"{word} ({meaning})" if meaning else word for word, meaning in choices.items())
    while True:
        text = _read(f"{ask}: {words}{f' [{preset}]' if preset else ''}: ")
        meant = understood(question, text, NO_TIME)
        if isinstance(meant, Problem):
            _refuse(meant, question)
            continue
        return str(meant.value)
