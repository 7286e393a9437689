"""Numbers with unit and uncertainty: parse, compute, decide, print."""

from witnessmark.quantities.quantity import Quantity, QuantityError, parse_quantity
from witnessmark.quantities.units import Unit, UnitFault, parse_unit

__all__ = ["Quantity", "QuantityError", "Unit", "UnitFault", "parse_quantity", "parse_unit"]
