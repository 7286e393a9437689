"""Small words that sentences of several modules need, in the language of the run. None of them decides anything."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime

from witnessmark import language
from witnessmark.language import say

__all__ = ["capital", "day_text", "does_not_apply", "either", "key_words", "moment", "no_such_part", "stated_as"]


def moment(instant: datetime) -> str:
    """The day of an instant as people say it: 14 October 2026."""
    return day_text(instant.date())


def day_text(day: date) -> str:
    """A day as people say it."""
    return language.day(day)


def either(names: Iterable[str]) -> str:
    """`a or b or c`."""
    return f" {say('or')} ".join(names)


def capital(text: str) -> str:
    """The first letter large."""
    return text[:1].upper() + text[1:]


def stated_as(fact: str, value: str) -> str:
    """What a fact is stated as, value with its source."""
    return say("{fact} is stated as {value}", fact=fact, value=value)


def does_not_apply(said: str, condition: str) -> str:
    """Why something is not applicable: what is stated, and where it would apply."""
    return say("{facts}. It applies where {condition}.", facts=capital(said), condition=condition)


def no_such_part(kind: str, sources: str) -> str:
    """Why nothing is asked of a kind of part."""
    return say("There is no {kind}: the list is stated as empty ({sources}).", kind=kind, sources=sources)


def key_words(key: str) -> str:
    """A name of the records as words: `supply_voltage` becomes `supply voltage`."""
    return key.replace("_", " ").replace("-", " ")
