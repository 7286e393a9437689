"""Quantities: reading, changing and printing them; readings of instruments. README.md lists arguments and outputs."""

from __future__ import annotations

from decimal import Decimal

from tests.published.calling import Call, Given, Outputs
from tests.published.values import quantity, si, span_si
from witnessmark.quantities.accuracy import Accuracy, maximum_permissible_error, reading_input
from witnessmark.quantities.format import show
from witnessmark.quantities.quantity import parse_quantity
from witnessmark.quantities.units import parse_unit


def _parse_quantity(given: Given) -> Outputs:
    like = parse_unit(str(given["like"])) if "like" in given else None
    found = parse_quantity(str(given["text"]), like=like, bare=str(given.get("bare", "no")) in ("yes", "true"))
    return {
        "value": found.si, "number": str(found.value), "unit": found.unit.symbol, "bound": found.bound,
        "U": None if found.U is None else float(found.U) * float(found.unit.scale),
        "k": None if found.k is None else float(found.k), "u": found.u_si, "text": str(found),
    }  # fmt: skip


def _parse_unit(given: Given) -> Outputs:
    unit = parse_unit(str(given["text"]))
    return {"symbol": unit.symbol, "scale": float(unit.scale), "offset": float(unit.offset)}


def _convert(given: Given) -> Outputs:
    found = quantity(given["value"]).to(parse_unit(str(given["to"])))
    return {"value": found.si, "number": float(found.value), "text": str(found)}


def _show(given: Given) -> Outputs:
    unit = quantity(given["value"]).unit
    U = span_si(given["U"]) if "U" in given else None
    found = show(si(given["value"]), U, unit, choose_prefix=str(given.get("prefix", "yes")) in ("yes", "true"))
    return {
        "text": str(found).replace("\u202f", " "),
        "value": found.value.replace("\u202f", " "),
        "U": found.U,
        "unit": found.unit,
    }


def _reading(given: Given) -> Outputs:
    found = quantity(given["reading"])
    zero, largest = "0 " + found.unit.symbol, f"1e12 {found.unit.symbol}"
    accuracy = Accuracy(
        "",
        quantity(given.get("low", zero)),
        quantity(given.get("high", largest)),
        Decimal(str(given.get("percent_of_reading", "0"))),
        Decimal(str(given.get("digits", "0"))),
        quantity(given["resolution"]) if "resolution" in given else None,
        quantity(given["fixed"]) if "fixed" in given else None,
        quantity(given["certificate_U"]) if "certificate_U" in given else None,
        Decimal(str(given["certificate_k"])) if "certificate_k" in given else None,
    )
    made = reading_input("reading", found, accuracy)
    return {
        "half_width": maximum_permissible_error(found, accuracy),
        "u": None if made is None else made.u,
        "in_range": accuracy.covers(found),
    }


CALLS: dict[str, Call] = {
    "parse_quantity": Call(_parse_quantity, ("text",), ("like", "bare")),
    "parse_unit": Call(_parse_unit, ("text",)),
    "convert": Call(_convert, ("value", "to"), lists=True),
    "show": Call(_show, ("value",), ("U", "prefix")),
    "reading": Call(
        _reading,
        ("reading",),
        ("percent_of_reading", "digits", "resolution", "fixed", "certificate_U", "certificate_k", "low", "high"),
    ),
}
