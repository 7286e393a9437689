"""The calculations that a case can name. README.md lists them for those who write cases.

Every call takes the `given` mapping of a case (all scalars as text) and gives its outputs by name, numbers in SI.
"""

from __future__ import annotations

from tests.published import arithmetic, decision_calls, form_calls, quantity_calls, uncertainty_calls, wider_calls
from tests.published.calling import Call, Given, Outputs, RefusedCase
from tests.published.method_calls import run_method
from tests.published.values import CaseFault
from witnessmark.methods.registry import method, method_ids
from witnessmark.quantities.quantity import QuantityError
from witnessmark.quantities.units import UnitFault

CALLS: dict[str, Call] = (
    uncertainty_calls.CALLS | decision_calls.CALLS | quantity_calls.CALLS | form_calls.CALLS | wider_calls.CALLS
)


def run(call: str, given: Given) -> Outputs:
    """The outputs of a call; raises `CaseFault` for a case that is written wrongly, `RefusedCase` for refused input."""
    try:
        if call in CALLS:
            return _run_call(CALLS[call], call, given)
        found = method(call)
        if found is None:
            raise CaseFault(f"no call is named {call!r}; there are {', '.join((*sorted(CALLS), *method_ids()))}")
        return run_method(found, given)
    except arithmetic.FormulaFault as fault:
        raise CaseFault(str(fault)) from fault
    except QuantityError as fault:
        raise RefusedCase((fault.code,), str(fault)) from fault
    except UnitFault as fault:
        raise RefusedCase(("quantity.unit",), str(fault)) from fault
    except (LookupError, TypeError, AttributeError) as fault:  # a list for a mapping, a key that is not there, ...
        shown = str(fault) or type(fault).__name__
        raise CaseFault(f"{call}: given has a form that this call does not take: {shown}") from fault
    except ZeroDivisionError as fault:
        raise RefusedCase(("value",), str(fault)) from fault
    except ValueError as fault:
        raise RefusedCase(("value",), str(fault)) from fault


def _run_call(call: Call, name: str, given: Given) -> Outputs:
    unknown = set(given) - set(call.required) - set(call.optional)
    missing = set(call.required) - set(given)
    if unknown or missing:
        raise CaseFault(f"{name}: unknown {sorted(unknown)}, missing {sorted(missing)}")
    many = {n: v for n, v in given.items() if isinstance(v, list)} if call.lists else {}
    if not many:
        return call.run(given)
    lengths = {len(v) for v in many.values()}
    if len(lengths) != 1:
        raise CaseFault(f"{name}: the lists {sorted(many)} differ in length")
    rows = [call.run({**given, **{n: v[i] for n, v in many.items()}}) for i in range(lengths.pop())]
    return {key: [row.get(key) for row in rows] for key in rows[0]}
