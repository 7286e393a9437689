"""Instruments of a measurement: role filled, in calibration then, not out of tolerance since, good enough (A5)."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from datetime import date
from decimal import Decimal
from functools import lru_cache

from witnessmark.assessment.ledger import Ledger
from witnessmark.assessment.model import Cause, State
from witnessmark.assessment.words import day_text, key_words
from witnessmark.language import say
from witnessmark.methods.base import InputSpec, Method, RoleSpec
from witnessmark.quantities import Quantity, QuantityError, parse_quantity
from witnessmark.quantities.accuracy import Accuracy, reading_input
from witnessmark.quantities.propagation import Input
from witnessmark.records.acts import AccuracyRow, Calibration, Record
from witnessmark.records.world import Act

__all__ = [
    "accuracies",
    "accuracy_for",
    "calibration_in_force",
    "instrument_causes",
    "meter_causes",
    "meter_of",
    "range_fault",
]


def calibration_in_force(ledger: Ledger, instrument: str, day: date) -> tuple[Act, Calibration] | None:
    """The newest calibration up to that day, sound or not; those soundly withdrawn or corrected have no effect."""
    found = [
        (a, c) for a, c in ledger.of(Calibration) if c.calibration == instrument and c.on <= day and not ledger.gone(a)
    ]
    return max(
        found, key=lambda p: (p[1].on, p[0].appeared if p[0].appeared is not None else 10**9, p[0].code), default=None
    )


def _found_later(ledger: Ledger, instrument: str, day: date, used_on: date) -> tuple[Act, Calibration] | None:
    """A calibration after the work that found the instrument out of tolerance, up to the next sound good one."""
    later = sorted(
        (
            (a, c)
            for a, c in ledger.of(Calibration)
            if c.calibration == instrument and (c.on > day or c.on == day != used_on) and not ledger.gone(a)
        ),
        key=lambda p: (p[1].on, p[1].as_found == "in-tolerance", p[0].code),
    )
    for act, calibration in later:
        if calibration.as_found != "in-tolerance":
            return act, calibration
        if ledger.sound(act) and calibration.on > day:
            return None
    return None


def instrument_causes(ledger: Ledger, record: Record, method: Method) -> Iterator[Cause]:
    """All causes of A5 for one record of one method."""
    for role in method.roles:
        instrument = record.instruments.get(role.name)
        if instrument is None:
            if role.required:
                yield Cause(
                    "instrument.missing",
                    say("The record does not say which instrument was the {role}.", role=say(role.title)),
                    say("correct the record with the instrument that was used, or measure again"),
                    State.NOT_SHOWN,
                )
            continue
        yield from _one(ledger, record.performed.date(), role, instrument)


def meter_causes(ledger: Ledger, method: Method, instruments: Mapping[str, str], day: date) -> tuple[Cause, ...]:
    """Why these instruments, by role, would not count for a measurement on `day`; none for those that would."""
    return tuple(
        cause
        for role in method.roles
        if role.name in instruments
        for cause in _one(ledger, day, role, instruments[role.name])
    )


def meter_of(
    ledger: Ledger, method: Method, instruments: Mapping[str, str], day: date
) -> Callable[[InputSpec, str, Quantity], Input | None]:
    """The uncertainty of a reading on the instrument of its role, by the calibration in force on `day`.

    Of an input that no such instrument reads it is what was written with the reading.
    """

    def meter(spec: InputSpec, name: str, quantity: Quantity) -> Input | None:
        role = next((r for r in method.roles if r.name == spec.role), None)
        instrument = instruments.get(spec.role, "") if role else ""
        found = calibration_in_force(ledger, instrument, day) if instrument else None
        if role is None or found is None:
            return reading_input(name, quantity, None)
        return reading_input(name, quantity, accuracy_for(found[1], role, quantity), instrument)

    return meter


def _one(ledger: Ledger, day: date, role: RoleSpec, instrument: str) -> Iterator[Cause]:
    key = f"instrument:{instrument}"
    if instrument not in ledger.workshop.instruments:
        yield Cause(
            "instrument.unknown",
            say("{instrument} is not among the instruments.", instrument=instrument),
            say("add instruments/{instrument}/instrument.yaml", instrument=instrument),
            State.NOT_SHOWN,
            key,
            "desk",
        )
        return
    found = calibration_in_force(ledger, instrument, day)
    if found is None:
        yield Cause(
            "instrument.not-calibrated",
            say("There is no calibration of {instrument} from before {day}.", instrument=instrument, day=day_text(day)),
            say(
                "record the certificate that {instrument} had, or measure again with a calibrated instrument",
                instrument=instrument,
            ),
            State.NOT_SHOWN,
            key,
        )
        return
    act, calibration = found
    if calibration.due < day:
        yield Cause(
            "instrument.overdue",
            say(
                "The calibration of {instrument} was due on {day}; it was used on {used}.",
                instrument=instrument,
                day=day_text(calibration.due),
                used=day_text(day),
            ),
            say(
                "measure again with a calibrated instrument; have {instrument} calibrated before it is used",
                instrument=instrument,
            ),
            State.NOT_SHOWN,
            key,
        )
    if not ledger.sound(act):
        why = ledger.causes(act)[0]
        yield Cause(
            "instrument.calibration-not-sound",
            say(
                "The calibration {code} of {instrument} does not count: {why}",
                code=act.code,
                instrument=instrument,
                why=why.message,
            ),
            why.remedy,
            ledger.last_state(act),
            f"calibration:{act.code}",
            "desk",
        )
    later = _found_later(ledger, instrument, day, calibration.on)
    if later is not None:
        other, bad = later
        yield Cause(
            "instrument.found-out-of-tolerance",
            _found_bad(bad, instrument),
            say("measure again with an instrument that is in order"),
            State.LAPSED,
            f"calibration:{other.code}",
        )
    yield from _good_enough(calibration, role, instrument, key)


def _found_bad(bad: Calibration, instrument: str) -> str:
    """How a later calibration found it."""
    day = day_text(bad.on)
    if bad.as_found == "out-of-tolerance":
        if bad.found:
            return say(
                "On {day} {instrument} was out of tolerance ({found}). "
                "What it read since its last good calibration has lapsed.",
                day=day,
                instrument=instrument,
                found=bad.found,
            )
        return say(
            "On {day} {instrument} was out of tolerance. What it read since its last good calibration has lapsed.",
            day=day,
            instrument=instrument,
        )
    if bad.found:
        return say(
            "On {day} {instrument} was sent as if it were new, so nobody knows how it was ({found}). "
            "What it read since its last good calibration has lapsed.",
            day=day,
            instrument=instrument,
            found=bad.found,
        )
    return say(
        "On {day} {instrument} was sent as if it were new, so nobody knows how it was. "
        "What it read since its last good calibration has lapsed.",
        day=day,
        instrument=instrument,
    )


def _good_enough(calibration: Calibration, role: RoleSpec, instrument: str, key: str) -> Iterator[Cause]:
    """What the method asks of the instrument in this role, by what its calibration states."""
    again = say(
        "measure again with an instrument that suits; {role}: {demands}",
        role=say(role.title),
        demands=say(role.demands) or role.function,
    )
    rows = [row for row in calibration.accuracy if row.function == role.function]
    if role.function and not rows:
        yield Cause(
            "instrument.function",
            say(
                "The calibration of {instrument} states no accuracy for {function}.",
                instrument=instrument,
                function=role.function,
            ),
            again,
            State.NOT_SHOWN,
            f"{key}:{role.function}",
        )
    for name, least in role.traits:
        stated = calibration.traits.get(name)
        if stated is None or not _reaches(stated, least):
            yield Cause(
                "instrument.not-good-enough",
                say(
                    "{trait} of {least} or more is needed; {instrument} has {stated}.",
                    trait=key_words(name),
                    least=least,
                    instrument=instrument,
                    stated=stated,
                )
                if stated
                else say(
                    "{trait} of {least} or more is needed; {instrument} does not state it.",
                    trait=key_words(name),
                    least=least,
                    instrument=instrument,
                ),
                again,
                State.NOT_SHOWN,
                f"{key}:{name}",
            )
    if role.finest and rows and not any(row.resolution and _reaches(role.finest, row.resolution) for row in rows):
        yield Cause(
            "instrument.not-good-enough",
            say(
                "A resolution of {finest} or finer is needed; {instrument} states none.",
                finest=role.finest,
                instrument=instrument,
            ),
            again,
            State.NOT_SHOWN,
            f"{key}:resolution",
        )


def _reaches(stated: str, least: str) -> bool:
    try:
        one, other = parse_quantity(stated), parse_quantity(least)
    except QuantityError:
        return False
    if not one.unit.compatible(other.unit) or one.bound == "<":
        return False
    return one.si_exact >= other.si_exact


@lru_cache(maxsize=4096)
def _accuracy(row: AccuracyRow) -> Accuracy | None:
    """One row of a certificate as numbers; None when it cannot be read."""
    try:
        return Accuracy(
            row.function,
            parse_quantity(row.low),
            parse_quantity(row.high),
            row.percent_of_reading or Decimal(0),
            Decimal(row.digits or 0),
            parse_quantity(row.resolution) if row.resolution else None,
            parse_quantity(row.fixed) if row.fixed else None,
            parse_quantity(row.certificate_U) if row.certificate_U else None,
            row.certificate_k,
        )
    except (QuantityError, ValueError):
        return None


def accuracies(calibration: Calibration) -> tuple[Accuracy, ...]:
    return tuple(a for row in calibration.accuracy if (a := _accuracy(row)) is not None)


def accuracy_for(calibration: Calibration, role: RoleSpec, quantity: Quantity) -> Accuracy | None:
    """The row that holds for this reading: of the role's function if that reads this unit, else of another function.

    Of several that cover the reading the one with the smallest range: the range that was set.
    """
    rows = [a for a in accuracies(calibration) if a.low.unit.compatible(quantity.unit)]
    own = [a for a in rows if a.function == role.function] or rows
    covering = [a for a in own if a.covers(quantity)]
    return min(covering, key=lambda a: (a.high.si_exact, a.low.si_exact), default=None)


def range_fault(
    calibration: Calibration, role: RoleSpec, spec: InputSpec, quantity: Quantity, instrument: str
) -> Cause | None:
    """Why the reading lies outside what the instrument was calibrated for; None when it does not."""
    rows = [a for a in accuracies(calibration) if a.low.unit.compatible(quantity.unit) and a.function == role.function]
    if quantity.bound or not rows or any(a.covers(quantity) for a in rows):
        return None
    return Cause(
        "instrument.range",
        say(
            "{name} is {quantity}, outside every range in which {instrument} was calibrated for {function}.",
            name=spec.name,
            quantity=quantity,
            instrument=instrument,
            function=role.function,
        ),
        say("measure again in a calibrated range, or with another instrument"),
        State.NOT_SHOWN,
        f"instrument:{instrument}:{role.function}",
    )
