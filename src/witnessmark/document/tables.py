"""What was read for one record as a table: CSV that every spreadsheet takes, and that starts nothing there."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping
from typing import Any

from witnessmark.methods.base import Method
from witnessmark.quantities import QuantityError, parse_quantity, parse_unit
from witnessmark.quantities.quantity import decimal_text
from witnessmark.records.acts import Record

__all__ = ["defused", "figures_csv", "readings_csv"]

_STARTS = ("=", "+", "-", "@", "\t", "\r")
_NUMBER = re.compile(r"[+-]?[0-9]+(?:\.[0-9]+)?(?:e[+-]?[0-9]+)?\Z")


def defused(cell: str) -> str:
    """A cell that no spreadsheet takes for a formula: an apostrophe before =, +, -, @ and tab; numbers stay numbers."""
    if cell.startswith(_STARTS) and not _NUMBER.match(cell):
        return "'" + cell
    return cell


def _table(head: Iterable[str], rows: Iterable[Iterable[str]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")  # RFC 4180, 2.1
    writer.writerow(list(head))
    for row in rows:
        writer.writerow([defused(" ".join(cell.split("\n"))) for cell in row])
    return out.getvalue()


def readings_csv(record: Record, method: Method | None) -> str:
    """The readings in the order of the method: name, title, number of the repeat, value, unit, bound, text as written.

    A reading that cannot be parsed keeps its text and has no value.
    """
    order = {spec.name: (spec.order, n) for n, spec in enumerate(method.inputs)} if method else {}
    rows = []
    for name in sorted(record.readings, key=lambda n: (order.get(n, (10**6, 0)), n)):
        spec = method.input(name) if method else None
        value = record.readings[name]
        texts = value if isinstance(value, tuple) else (value,)
        for n, text in enumerate(texts, 1):
            number, unit, bound = "", "", ""
            if spec is not None and not spec.choices:
                try:
                    found = parse_quantity(text, like=parse_unit(spec.unit) if spec.unit else None, bare=True)
                    number, unit, bound = decimal_text(found.value), found.unit.symbol, found.bound
                except QuantityError:
                    pass
            rows.append((name, spec.title if spec else "", str(n) if len(texts) > 1 else "", number, unit, bound, text))
    return _table(("reading", "title", "repeat", "value", "unit", "bound", "as written"), rows)


def figures_csv(figures: Mapping[str, Any]) -> str:
    """What a method took from a log, flat: the path of each number and its value; lists one line for each entry."""

    def lines(path: str, value: Any) -> Iterable[tuple[str, str]]:
        if isinstance(value, Mapping):
            for key in sorted(value, key=str):
                yield from lines(f"{path}.{key}" if path else str(key), value[key])
        elif isinstance(value, list | tuple):
            for n, item in enumerate(value):
                yield from lines(f"{path}[{n}]", item)
        else:
            yield path, "" if value is None else str(value)

    return _table(("figure", "value"), lines("", figures))
