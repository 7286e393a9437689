"""Names in acts: leaves, parts, persons, instruments, methods, codes, facts. Each must name something that there is."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from witnessmark.problems import Place, Problem
from witnessmark.quantities import QuantityError, parse_quantity, parse_unit
from witnessmark.records.acts import (
    Authorisation,
    Calibration,
    CarryOver,
    Check,
    Concession,
    DesignRevision,
    Event,
    Record,
    SetEdition,
    Statement,
    Withdrawal,
)
from witnessmark.records.approvals import ApprovalError, parse_approval
from witnessmark.records.base import is_day
from witnessmark.records.sets import FactDefinition, LeafKind

from . import names_of_sets
from .acts import ActText, place_in, vehicle_of
from .models import nearest
from .naming import Known, Step, everything, unknown
from .workshop import Reading

__all__ = ["names_in_acts"]

SHIPPED = "shipped"


def names_in_acts(reading: Reading) -> Iterator[Problem]:
    """Every name in every act and draft that names nothing, with the nearest that there is."""
    known = everything(reading)
    for text in reading.folder.texts:
        if text.body is None:
            continue
        yield from _common(text, known)
        rule = _RULES.get(type(text.body))
        if rule is not None:
            yield from rule(text, known)


def _person(text: ActText, known: Known, word: str, *steps: Step) -> Iterator[Problem]:
    if word not in known.people and not (word == SHIPPED and isinstance(text.body, SetEdition)):
        yield unknown(
            "person.unknown", "person", word, known.people, place_in(text, *steps), f"write people/{word}.yaml"
        )


def _code(text: ActText, known: Known, word: str, *steps: Step) -> Iterator[Problem]:
    if word not in known.codes:
        yield unknown(
            "code.unknown",
            "sealed act with the code",
            word,
            known.codes,
            place_in(text, *steps),
            "write the code of one that there is",
        )


def _common(text: ActText, known: Known) -> Iterator[Problem]:
    body = text.body
    assert body is not None
    if body.corrects is not None:
        yield from _code(text, known, body.corrects, "corrects")
    if body.second is not None:
        yield from _person(text, known, body.second, "second")
    by = getattr(body, "by", None)
    if isinstance(by, str):
        yield from _person(text, known, by, "by")
    if body.seal is not None and body.seal.by != by:
        yield from _person(text, known, body.seal.by, "seal", "by")


def _part(text: ActText, known: Known, word: str, *steps: Step) -> Iterator[Problem]:
    vehicle = vehicle_of(text.path)
    if vehicle is None:
        return
    mine = known.parts.get(vehicle, frozenset())
    if word not in mine:
        yield unknown(
            "part.unknown",
            f"part of {vehicle}",
            word,
            mine,
            place_in(text, *steps),
            "name it in a parts list, or fit it by an event",
        )


def _record(text: ActText, known: Known) -> Iterator[Problem]:
    body = text.body
    assert isinstance(body, Record)
    for reference, claim in body.shows.items():
        yield from _leaf(text, known, reference)
        if claim.by is not None:
            yield from _person(text, known, claim.by, "shows", reference, "by")
    for role, person in body.by.items():
        yield from _person(text, known, person, "by", role)
    if body.part is not None:
        yield from _part(text, known, body.part, "part")
    if body.design is not None and body.design not in known.designs:
        yield unknown(
            "design.unknown",
            "design revision",
            body.design,
            known.designs,
            place_in(text, "design"),
            "write it as id/REVISION",
        )
    if body.log is not None and body.log.design is not None and body.log.design not in known.designs:
        place = place_in(text, "log", "design")
        yield unknown(
            "design.unknown", "design revision", body.log.design, known.designs, place, "write it as id/REVISION"
        )
    for filled, instrument in body.instruments.items():
        if instrument not in known.instruments:
            yield unknown(
                "instrument.unknown",
                "instrument",
                instrument,
                known.instruments,
                place_in(text, "instruments", filled),
                f"write instruments/{instrument}/instrument.yaml",
            )
    if body.method is not None and body.method not in known.methods:
        yield unknown(
            "method.unknown",
            "method",
            body.method,
            known.methods,
            place_in(text, "method"),
            "see witnessmark list methods",
        )
    for number, code in enumerate(body.retest_of):
        yield from _code(text, known, code, "retest_of", number)


def _leaf(text: ActText, known: Known, reference: str) -> Iterator[Problem]:
    """`requirement/leaf`, or `set:requirement/leaf`."""
    chosen, _, rest = reference.rpartition(":")
    requirement, _, leaf = rest.partition("/")
    place = place_in(text, "shows", reference, key=True)
    if chosen and chosen not in known.sets:
        yield unknown("set.unknown", "requirement set", chosen, known.sets, place, "copy it into requirements/")
        return
    leaves = known.sets[chosen] if chosen else known.leaves
    if requirement not in leaves:
        yield unknown(
            "leaf.unknown-requirement", "requirement", requirement, leaves, place, "see the sets in requirements/"
        )
    elif leaf not in leaves[requirement]:
        names = ", ".join(sorted(leaves[requirement]))
        yield unknown(
            "leaf.unknown", f"leaf of {requirement}", leaf, leaves[requirement], place, f"its leaves are {names}"
        )


def _statement(text: ActText, known: Known) -> Iterator[Problem]:
    body = text.body
    assert isinstance(body, Statement)
    if body.part is not None:
        yield from _part(text, known, body.part, "part")
    for key, given in body.facts.items():
        yield from _fact(text, known, key, given.value, "facts", key, "value")
    for kind, listed in body.parts.items():
        for part, entry in listed.list.items():
            steps: tuple[Step, ...] = ("parts", kind, "list", part)
            if entry.within is not None:
                yield from _part(text, known, entry.within, *steps, "within")
            for number, member in enumerate(entry.members):
                yield from _part(text, known, member, *steps, "members", number)
            if entry.design is not None and entry.design not in known.designs:
                yield unknown(
                    "design.unknown",
                    "design revision",
                    entry.design,
                    known.designs,
                    place_in(text, *steps, "design"),
                    "write it as id/REVISION",
                )
            for key, value in entry.facts.items():
                yield from _fact(text, known, key, value, *steps, "facts", key)


def _event(text: ActText, known: Known) -> Iterator[Problem]:
    body = text.body
    assert isinstance(body, Event)
    yield from _part(text, known, body.part, "part")
    for key, given in body.facts.items():
        yield from _fact(text, known, key, given.value, "facts", key, "value")
    if body.fitted is not None:
        for key, value in body.fitted.facts.items():
            yield from _fact(text, known, key, value, "fitted", "facts", key)


def _fact(text: ActText, known: Known, key: str, value: str | tuple[str, ...], *steps: Step) -> Iterator[Problem]:
    """Whether the fact is one that is asked, and the value one that may be answered."""
    defined = known.facts.get(key)
    place = place_in(text, *steps)
    if defined is None:
        near = nearest(key, known.facts)
        remedy = f"did you mean '{near}'?" if near else "define it in requirements/facts.yaml"
        at = place_in(text, *(steps[:-1] if steps[-1] == "value" else steps), key=True)
        yield Problem("fact.unknown", f"no fact '{key}' is asked", remedy, at)
        return
    if isinstance(value, tuple) and defined.several != "yes":
        yield Problem(
            "fact.several",
            f"'{key}' is one value, and a list is given",
            "write one; a decimal has a point, no comma",
            place,
        )
        return
    for number, one in enumerate(value if isinstance(value, tuple) else (value,)):
        at = place_in(text, *steps, number) if isinstance(value, tuple) else place
        yield from _answer(key, defined, one, at)
    if key == "requirement_sets":
        for number, one in enumerate(value if isinstance(value, tuple) else (value,)):
            if one not in known.sets:
                at = place_in(text, *steps, number) if isinstance(value, tuple) else place
                yield unknown("set.unknown", "requirement set", one, known.sets, at, "copy it into requirements/")


def _answer(key: str, defined: FactDefinition, value: str, place: Place) -> Iterator[Problem]:
    if defined.choices:
        if value not in defined.choices:
            near = nearest(value, defined.choices)
            words = ", ".join(defined.choices)
            yield Problem(
                "fact.choice",
                f"'{key}' cannot be '{value}'",
                f"did you mean '{near}'?" if near else f"write one of {words}",
                place,
            )
        return
    if defined.approval == "yes":
        try:
            parse_approval(value)
        except ApprovalError as wrong:
            yield Problem("fact.approval", wrong.message, wrong.remedy, place)
        return
    if defined.day == "yes":
        if not is_day(value):
            yield Problem("fact.day", f"'{key}' is '{value}', which is no day", "write it as 2026-10-14", place)
        return
    if defined.unit is None:
        return
    unit = parse_unit(defined.unit)
    try:
        quantity = parse_quantity(value, like=unit, bare=defined.unit == "1")
    except QuantityError as fault:
        yield Problem(fault.code, fault.message, fault.remedy, place)
        return
    number = quantity.to(unit).value
    if (defined.lowest is not None and number < defined.lowest) or (
        defined.highest is not None and number > defined.highest
    ):
        yield Problem(
            "fact.range",
            f"'{key}' is {value}, outside what is plausible ({defined.lowest} to {defined.highest} {defined.unit})",
            "look at the unit and its prefix",
            place,
        )


def _withdrawal(text: ActText, known: Known) -> Iterator[Problem]:
    assert isinstance(text.body, Withdrawal)
    yield from _code(text, known, text.body.withdraws, "withdraws")


def _carry_over(text: ActText, known: Known) -> Iterator[Problem]:
    assert isinstance(text.body, CarryOver)
    yield from _code(text, known, text.body.carries_over, "carries_over")
    if text.body.event is not None:
        yield from _code(text, known, text.body.event, "event")


def _check(text: ActText, known: Known) -> Iterator[Problem]:
    assert isinstance(text.body, Check)
    yield from _code(text, known, text.body.checks, "checks")


def _calibration(text: ActText, known: Known) -> Iterator[Problem]:
    body = text.body
    assert isinstance(body, Calibration)
    if body.calibration not in known.instruments:
        yield unknown(
            "instrument.unknown",
            "instrument",
            body.calibration,
            known.instruments,
            place_in(text, "calibration"),
            f"write instruments/{body.calibration}/instrument.yaml",
        )
        return
    functions = known.functions.get(body.calibration)
    if functions is None:
        return
    for number, row in enumerate(body.accuracy):
        if row.function not in functions:
            yield unknown(
                "instrument.function",
                f"function of {body.calibration}",
                row.function,
                functions,
                place_in(text, "accuracy", number, "function"),
                f"its functions are {', '.join(functions)}",
            )


def _authorisation(text: ActText, known: Known) -> Iterator[Problem]:
    body = text.body
    assert isinstance(body, Authorisation)
    yield from _person(text, known, body.authorises, "authorises")
    work = {"all", *LeafKind, *(m.partition("/")[0] for m in known.methods)}
    for number, one in enumerate(body.work):
        if one not in work:
            yield unknown(
                "work.unknown",
                "kind of work",
                one,
                work,
                place_in(text, "for", number),
                "write a kind of leaf, the name of a method, or all",
            )


def _concession(text: ActText, known: Known) -> Iterator[Problem]:
    body = text.body
    assert isinstance(body, Concession)
    terms = body.concession
    requirement = terms.requirement.rpartition(":")[2]
    if requirement not in known.leaves:
        yield unknown(
            "leaf.unknown-requirement",
            "requirement",
            requirement,
            known.leaves,
            place_in(text, "concession", "requirement"),
            "see the sets in requirements/",
        )
    elif terms.leaf is not None and terms.leaf not in known.leaves[requirement]:
        yield unknown(
            "leaf.unknown",
            f"leaf of {requirement}",
            terms.leaf,
            known.leaves[requirement],
            place_in(text, "concession", "leaf"),
            f"its leaves are {', '.join(sorted(known.leaves[requirement]))}",
        )
    if terms.vehicle not in known.vehicles:
        yield unknown(
            "vehicle.unknown",
            "vehicle",
            terms.vehicle,
            known.vehicles,
            place_in(text, "concession", "vehicle"),
            "write the id of one that there is",
        )
    elif terms.part is not None and terms.part not in known.parts.get(terms.vehicle, ()):
        yield unknown(
            "part.unknown",
            f"part of {terms.vehicle}",
            terms.part,
            known.parts[terms.vehicle],
            place_in(text, "concession", "part"),
            "name it in a parts list",
        )


def _revision(text: ActText, known: Known) -> Iterator[Problem]:
    body = text.body
    assert isinstance(body, DesignRevision)
    for key, given in body.facts.items():
        yield from _fact(text, known, key, given.value, "facts", key, "value")
    for part, entry in body.parts.items():
        for key, value in entry.facts.items():
            yield from _fact(text, known, key, value, "parts", part, "facts", key)


_RULES: Mapping[type, Callable[[ActText, Known], Iterator[Problem]]] = {
    **names_of_sets.RULES,
    Record: _record,
    Statement: _statement,
    Event: _event,
    Withdrawal: _withdrawal,
    CarryOver: _carry_over,
    Check: _check,
    Calibration: _calibration,
    Authorisation: _authorisation,
    Concession: _concession,
    DesignRevision: _revision,
}
