"""What is found does not depend on the language: states, verdicts, digests and every order, all but the words."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from functools import cache
from typing import Any

import pytest

from tests.language.pseudo import MARK, pseudo
from tests.language.texts import ROOT
from witnessmark.assessment.against import against_digest
from witnessmark.assessment.assess import assess
from witnessmark.assessment.judging import World
from witnessmark.assessment.ledger import Ledger, vehicle_of
from witnessmark.assessment.model import Assessment
from witnessmark.assessment.seals import found
from witnessmark.language import Language, speaking
from witnessmark.methods.registry import method
from witnessmark.reading.workshop import read_workshop
from witnessmark.records.acts import Record
from witnessmark.records.world import Workshop
from witnessmark.release.compare import differences
from witnessmark.release.describe import describe

VEHICLE = "van-07"
WORDS = {
    "Cause": ("message", "remedy"),
    "ConcessionNote": ("last_day", "terms"),
    "CriterionResult": ("asked", "statement"),
    "Decision": ("reason",),
    "Field": ("why",),
    "FieldGap": ("question", "why", "remedy"),
    "FieldValue": ("words", "source"),
    "FilledForm": ("why",),
    "Gap": ("message", "remedy"),
    "JobGroup": ("title",),
    "PartState": ("title", "facts"),
    "Problem": ("message", "remedy"),
    "RequirementState": ("why",),
    "Review": ("official", "words"),
    "RiskState": ("unsound",),
    "Unused": ("message", "remedy"),
}
"""Fields that hold words of ours, by the class that they stand in. Everything else has to be the same."""
BEYOND = ("result", "output")
"""Of a record: what its method says, which has words of its own; its numbers stand in the description below."""


@cache
def workshop(*, english: bool) -> Workshop:
    world = read_workshop(ROOT)
    return world if english else dataclasses.replace(world, language=pseudo())


@cache
def assessed(*, english: bool) -> Assessment:
    return assess(workshop(english=english), VEHICLE)


def without_words(value: Any) -> Any:
    """The value as plain data without words of ours."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        name = type(value).__name__
        left = {*WORDS.get(name, ()), *(BEYOND if name == "RecordResult" else ())}
        return name, {
            f.name: without_words(getattr(value, f.name)) for f in dataclasses.fields(value) if f.name not in left
        }
    if isinstance(value, tuple | list):
        return [without_words(item) for item in value]
    if isinstance(value, dict):
        return {key: without_words(item) for key, item in value.items()}
    return value


def said(value: Any) -> Iterator[str]:
    """Every text of ours that stands in the value."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        for field in dataclasses.fields(value):
            inner = getattr(value, field.name)
            if field.name in WORDS.get(type(value).__name__, ()) and isinstance(inner, str):
                yield inner
            elif field.name not in BEYOND:
                yield from said(inner)
    elif isinstance(value, tuple | list):
        for item in value:
            yield from said(item)


def test_the_other_language_is_spoken() -> None:
    """Else the tests below compare English with itself."""
    texts = [text for text in said(assessed(english=False)) if text]
    assert len(texts) > 100
    assert sum(MARK in text for text in texts) > len(texts) / 2
    assert not any(MARK in text for text in said(assessed(english=True)))


def test_without_its_words_the_assessment_is_the_same() -> None:
    one, other = (without_words(assessed(english=english)) for english in (True, False))
    for part in ("requirements", "jobs", "forms", "unused", "risks"):
        assert one[1][part] == other[1][part], part
    codes = [sorted(p["code"] for _, p in each[1]["problems"]) for each in (one, other)]
    assert codes[0] == codes[1]


@pytest.mark.parametrize("english", [True, False])
def test_what_seals_hold_is_found_again(english: bool) -> None:
    """Digests `against` and verdicts `found` of the sealed records of the demonstration, in either language."""
    world = workshop(english=english)
    with speaking(world.language):
        judged = World(Ledger(world), VEHICLE, None, method)
        checked = 0
        for act, record in judged.ledger.of(Record, VEHICLE):
            seal = act.body.seal
            assert seal is not None
            digest = against_digest(judged, record, of_vehicle=vehicle_of(act) is not None)
            with speaking(Language()):
                assert digest == against_digest(
                    World(Ledger(world), VEHICLE, None, method), record, of_vehicle=vehicle_of(act) is not None
                )
            if seal.found:
                checked += found(world, VEHICLE, record, code=act.code) == dict(seal.found)
        assert checked > 10


def test_what_a_release_keeps_is_the_same_in_every_language() -> None:
    one, other = (describe(workshop(english=e), assessed(english=e)) for e in (True, False))
    assert one == other
    assert differences(one, other) == ()
    assert MARK not in str(other.audit) + str(other.results) + str(other.built)
