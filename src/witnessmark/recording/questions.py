"""One blank: what is asked, and what an answer as people type it means. Pure: no terminal, no file is written.

A form gives its questions for the answers so far; whoever asks (a terminal, a file of answers, a test) goes through
them in that order until none is left.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Literal

from witnessmark.problems import Problem
from witnessmark.quantities import QuantityError, parse_quantity, parse_unit
from witnessmark.records.approvals import ApprovalError, parse_approval
from witnessmark.records.base import text_of_instant

__all__ = ["Answer", "Given", "Question", "Understood", "one", "unasked", "understood"]

Answer = str | tuple[str, ...]
Given = Mapping[str, Answer]
"""Answers as understood, by the key of their question. An empty answer stands for a blank that was left."""

Sort = Literal["words", "choice", "quantity", "number", "count", "day", "instant", "file", "id", "code", "approval"]


@dataclass(frozen=True, slots=True)
class Question:
    """One blank.

    `key` is its name in a file of answers. `unit` is preset: a bare number gets it. `low` and `high` are what is
    plausible, in `unit`: outside is an alarm, not an error. `several`: a list; of quantities one reading after
    another. `each`: asked anew for every part. `over` is what `OL` stands for. `must` is what has to be so: a plain
    `yes` says it. `suggested`: the preset holds only for somebody who sees it. `quiet`: not asked at the terminal.
    `told`: `why` stands below the question without being asked for.
    `shown`: what lies before the person while it is asked, line by line.
    """

    key: str
    ask: str
    sort: Sort = "words"
    why: str = ""
    unit: str = ""
    choices: Mapping[str, str] = field(default_factory=dict)
    several: bool = False
    required: bool = True
    preset: Answer = ""
    low: float | None = None
    high: float | None = None
    each: bool = False
    bound: bool = False
    over: str = ""
    must: str = ""
    suggested: bool = False
    quiet: bool = False
    told: bool = False
    shown: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Understood:
    """What an answer means as it will be written, and alarms that a person wants to know now."""

    value: Answer
    alarms: tuple[str, ...] = ()


def one(given: Given, key: str) -> str:
    """A single answer; '' where the blank was left or not asked."""
    value = given.get(key, "")
    return value if isinstance(value, str) else ", ".join(value)


def unasked(questions: tuple[Question, ...], given: Given) -> Question | None:
    """The first question that has no answer yet."""
    return next((q for q in questions if q.key not in given), None)


def understood(question: Question, answer: Answer, now: datetime) -> Understood | Problem:
    """What the answer means. `now` is the recorder's clock, in the workshop's zone.

    Gives a Problem (without a place) that says what is wrong and what to type.
    """
    if question.several:
        return _several(question, answer, now)
    if not isinstance(answer, str):
        return Problem(
            "answer.several", f"{question.ask}: one answer is wanted, and there are {len(answer)}", "give one"
        )
    text = answer.strip()
    if not text:
        text = question.preset if isinstance(question.preset, str) else ""
    if not text:
        if question.required:
            return Problem("answer.missing", f"{question.ask}: this has to be answered", _how(question))
        return Understood("")
    if question.must and text.casefold() in ("y", "yes"):
        text = question.must
    return _one(question, text, now)


def _several(question: Question, answer: Answer, now: datetime) -> Understood | Problem:
    if isinstance(answer, str):
        separator = r"\s*;\s*" if question.sort in ("quantity", "number", "words") else r"\s*[;,]\s*|\s+"
        values = tuple(v for v in re.split(separator, answer.strip()) if v)
    else:
        values = tuple(v.strip() for v in answer if v.strip())
    if not values:
        values = (
            question.preset if isinstance(question.preset, tuple) else (question.preset,) if question.preset else ()
        )
    if question.choices and values == ("all",) and "all" not in question.choices:
        values = tuple(question.choices)
    if not values:
        if question.required:
            return Problem("answer.missing", f"{question.ask}: this has to be answered", _how(question))
        return Understood(())
    found: list[str] = []
    alarms: list[str] = []
    for value in values:
        single = _one(question, value, now)
        if isinstance(single, Problem):
            return single
        assert isinstance(single.value, str)
        found.append(single.value)
        alarms += single.alarms
    if len(set(found)) < len(found) and question.sort in ("choice", "id", "code"):
        return Problem("answer.twice", f"{question.ask}: {answer} names one twice", "name each once")
    return Understood(tuple(found), tuple(dict.fromkeys(alarms)))


def _one(question: Question, text: str, now: datetime) -> Understood | Problem:
    match question.sort:
        case "choice":
            return _choice(question, text)
        case "quantity":
            return _quantity(question, text)
        case "number":
            return _number(question, text)
        case "count":
            if re.fullmatch(r"0|[1-9][0-9]{0,8}", text):
                return Understood(text)
            return Problem("answer.count", f"{question.ask}: {text!r} is not a whole number", "type digits only")
        case "day":
            return _day(question, text, now)
        case "instant":
            return _instant(question, text, now)
        case "id":
            if re.fullmatch(r"[a-z0-9]+(?:-[a-z0-9]+)*", text) and len(text) <= 80:
                return Understood(text)
            return Problem(
                "answer.id",
                f"{question.ask}: {text!r} cannot be an id",
                "use a-z, 0-9 and single hyphens, such as pack-1",
            )
        case "code":
            if re.fullmatch(r"[23456789a-hjkmnp-z]{6}", text):
                return Understood(text)
            return Problem(
                "answer.code", f"{question.ask}: {text!r} is not a code", "a code has six characters, as in 7k4qxm"
            )
        case "approval":
            try:
                return Understood(str(parse_approval(text)))
            except ApprovalError as fault:
                return Problem("answer.approval", f"{question.ask}: {fault.message}", fault.remedy)
        case "words" | "file":
            return Understood(text)


def _choice(question: Question, text: str) -> Understood | Problem:
    """A choice by its word, by its number in the list, or by the beginning of its word."""
    words = list(question.choices)
    if text in question.choices:
        return Understood(text)
    if text.isdigit() and 1 <= int(text) <= len(words):
        return Understood(words[int(text) - 1])
    starts = [w for w in words if w.casefold().startswith(text.casefold())]
    if len(starts) == 1:
        return Understood(starts[0])
    near = difflib.get_close_matches(text, words, n=1)
    remedy = (
        f"did you mean {near[0]}?" if near else f"choose one of {', '.join(words)}" if words else "there is none yet"
    )
    return Problem("answer.choice", f"{question.ask}: {text!r} is not among the answers", remedy)


_NUMBER = r"[-+−]?[0-9]+(?:[.,][0-9]+)?"


def _point(text: str) -> str | None:
    """Decimal commas as points; None where a comma could be something else."""
    if re.search(r"[0-9]\.[0-9]+,|,[0-9]+[.,]|[0-9]\.[0-9]+\.", text):
        return None
    return re.sub(r"(?<=[0-9]),(?=[0-9])", ".", text)


def _quantity(question: Question, text: str) -> Understood | Problem:
    if text.casefold() in ("ol", "o.l", "o.l.", "ovl", "over"):
        if not question.bound:
            return Problem(
                "answer.overload",
                f"{question.ask}: the meter shows OL, so this is not a value",
                "choose a higher range, or find the open circuit, and read again",
            )
        if not question.over:
            return Problem(
                "answer.overload",
                f"{question.ask}: OL says more than the range, and the range of this instrument is not known",
                "type the end of the range, as in > 999 MΩ",
            )
        return Understood(f"> {question.over}")
    plain = _point(text)
    if plain is None:
        return Problem(
            "answer.separators",
            f"{question.ask}: {text!r} has points and commas, and could be two numbers",
            "type digits and one point or one comma, as in 1203.4",
        )
    if re.fullmatch(rf"[<>]?\s*{_NUMBER}", plain) and question.unit:
        plain = f"{plain} {question.unit}" if question.unit != "1" else plain
    plain = re.sub(r"^([<>])\s*", r"\1 ", plain)
    try:
        quantity = parse_quantity(
            plain, like=parse_unit(question.unit) if question.unit else None, bare=question.unit == "1"
        )
    except QuantityError as fault:
        return Problem(fault.code, f"{question.ask}: {fault.message}", fault.remedy)
    if quantity.bound and not question.bound:
        return Problem(
            "answer.bound",
            f"{question.ask}: {text!r} is a bound, and a value is needed",
            "choose another range and read again",
        )
    return Understood(plain, _alarms(question, plain))


def _alarms(question: Question, text: str) -> tuple[str, ...]:
    if not question.unit or (question.low is None and question.high is None):
        return ()
    unit = parse_unit(question.unit)
    quantity = parse_quantity(text, like=unit, bare=question.unit == "1")
    value = float(quantity.to(unit).value) if question.unit != "1" else float(quantity.value)
    low, high = question.low, question.high
    if quantity.bound != ">" and low is not None and value < low:
        return (
            f"{text} is less than is plausible here ({low:g} {question.unit}): look at range and unit, read it again",
        )
    if quantity.bound != "<" and high is not None and value > high:
        return (
            f"{text} is more than is plausible here ({high:g} {question.unit}): look at range and unit, read it again",
        )
    return ()


def _number(question: Question, text: str) -> Understood | Problem:
    plain = _point(text.removesuffix("%").strip())
    if plain is None or not re.fullmatch(r"[-+]?[0-9]{1,30}(?:\.[0-9]{1,30})?", plain):
        return Problem(
            "answer.number", f"{question.ask}: {text!r} is not a number", "type digits and one point, as in 0.15"
        )
    return Understood(plain)


def _day(question: Question, text: str, now: datetime) -> Understood | Problem:
    if text.casefold() == "today":
        return Understood(now.date().isoformat())
    european = re.fullmatch(r"([0-9]{1,2})\.([0-9]{1,2})\.([0-9]{4})", text)
    if european:
        text = f"{european[3]}-{int(european[2]):02}-{int(european[1]):02}"
    try:
        return Understood(date.fromisoformat(text).isoformat())
    except ValueError:
        return Problem("answer.day", f"{question.ask}: {text!r} is not a day", "type it as 2026-10-14, or today")


def _instant(question: Question, text: str, now: datetime) -> Understood | Problem:
    """`14:20` is today; `2026-10-14 14:20` is in the workshop's zone; a full time keeps its own difference to UTC."""
    wrong = Problem(
        "answer.instant", f"{question.ask}: {text!r} is not a time", "type it as 14:20, or as 2026-10-14 14:20, or now"
    )
    if text.casefold() == "now":
        return Understood(text_of_instant(now))
    if re.fullmatch(r"[0-9]{1,2}[:.][0-9]{2}", text):
        text = f"{now.date().isoformat()}T{text.replace('.', ':').rjust(5, '0')}"
    try:
        found = datetime.fromisoformat(text.replace(" ", "T", 1))
    except ValueError:
        return wrong
    if "T" not in text.replace(" ", "T", 1):
        return wrong
    if found.tzinfo is None:
        found = found.replace(tzinfo=now.tzinfo)
    if found > now:
        return Problem(
            "answer.ahead",
            f"{question.ask}: {text_of_instant(found)} lies ahead of the clock",
            "nothing is recorded before it is done",
        )
    return Understood(text_of_instant(found.replace(microsecond=0)))


def _how(question: Question) -> str:
    if question.choices:
        return f"choose one of {', '.join(question.choices)}"
    if question.unit and question.unit != "1":
        return f"type a number in {question.unit}"
    return "type it"
