"""All readings of a release in one table: CSV that every spreadsheet takes and that starts nothing there."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator

from witnessmark.assessment.instruments import accuracy_for, calibration_in_force
from witnessmark.assessment.ledger import Ledger
from witnessmark.assessment.model import Assessment
from witnessmark.document.tables import defused
from witnessmark.methods.base import InputSpec, Method
from witnessmark.methods.registry import method
from witnessmark.quantities import Quantity, QuantityError, parse_quantity, parse_unit
from witnessmark.quantities.accuracy import reading_input
from witnessmark.quantities.format import decimal_string
from witnessmark.quantities.propagation import NoResult
from witnessmark.quantities.quantity import decimal_text
from witnessmark.records.acts import Record
from witnessmark.records.world import Workshop

__all__ = ["HEAD", "all_readings"]

HEAD = ("code", "vehicle", "design", "part", "method", "quantity", "repeat", "value", "unit", "U", "k", "instrument",
        "when", "tester", "shows", "as written")  # fmt: skip
_K = 2.0
"""Coverage factor of the U of one reading: twice its standard uncertainty, as JCGM 100, 6.2 defines U = k·u."""


def all_readings(workshop: Workshop, assessment: Assessment) -> str:
    """Every reading of every sealed record of the vehicle, and of others that its assessment looks at; by record.

    `U` is the expanded uncertainty (k beside it) that the calibration in force or the reading itself gives, in `unit`;
    empty where none is known. `value` holds a bound (`>999`) as it was read; a word stands there as it is.
    """
    used = {r.act.code for s in assessment.requirements for p in s.parts for leaf in p.leaves for r in leaf.records}
    ledger = Ledger(workshop)
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")  # RFC 4180, 2.1
    writer.writerow(HEAD)
    for act in sorted(workshop.acts, key=lambda a: a.code):
        body, seal = act.body, act.body.seal
        if not isinstance(body, Record) or seal is None:
            continue
        vehicle = seal.vehicle.id if seal.vehicle else ""
        if act.code not in used and vehicle != assessment.vehicle:
            continue
        about = (act.code, vehicle, body.design or "", body.part or "", body.method or "")
        said = (body.performed.isoformat(), body.by.get("tester") or "", " ".join(sorted(body.shows)))
        for name, repeat, value, unit, spread, k, instrument, text in _readings(ledger, body):
            cells = (*about, name, repeat, value, unit, spread, k, instrument, *said, text)
            writer.writerow([defused(" ".join(cell.split())) for cell in cells])
    return out.getvalue()


def _readings(ledger: Ledger, record: Record) -> Iterator[tuple[str, ...]]:
    found = method(record.method or "")
    for name, given in sorted(record.readings.items()):
        texts = (given,) if isinstance(given, str) else tuple(given)
        spec = found.input(name) if found else None
        for number, text in enumerate(texts, start=1):
            repeat = str(number) if len(texts) > 1 else ""
            yield (name, repeat, *_parsed(ledger, record, found, spec, text), text)


def _parsed(
    ledger: Ledger, record: Record, found: Method | None, spec: InputSpec | None, text: str
) -> tuple[str, str, str, str, str]:
    """Value, unit, U, k and instrument; the text itself as the value where it is no quantity."""
    if found is None or spec is None or spec.choices:
        return text, "", "", "", ""
    instrument = record.instruments.get(spec.role, "") if spec.role else ""
    try:
        quantity = parse_quantity(text, like=parse_unit(spec.unit) if spec.unit else None)
        spread = _expanded(ledger, record, found, spec, quantity, instrument)
    except (QuantityError, NoResult, ValueError):
        return text, "", "", "", instrument
    k = decimal_string(_K) if spread else ""
    return quantity.bound + decimal_text(quantity.value), quantity.unit.symbol, spread, k, instrument


def _expanded(
    ledger: Ledger, record: Record, found: Method, spec: InputSpec, quantity: Quantity, instrument: str
) -> str:
    role = next((r for r in found.roles if r.name == spec.role), None)
    calibration = calibration_in_force(ledger, instrument, record.performed.date()) if instrument else None
    accuracy = accuracy_for(calibration[1], role, quantity) if calibration and role else None
    given = reading_input(spec.name, quantity, accuracy, instrument)
    if given is None:
        return ""
    # Four digits: an uncertainty is never known better (JCGM 100, 7.2.6 asks for at most two in a statement).
    return decimal_string(float(f"{_K * given.u / float(quantity.unit.scale):.4g}"))
