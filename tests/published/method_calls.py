"""Methods of measurement as calls: readings, facts, limits and logs as a case writes them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, cast

from tests.published import arithmetic
from tests.published.calling import Given, Outputs, RefusedCase, with_unit
from tests.published.decision_calls import limit_of, rule_of, said
from tests.published.uncertainty_calls import array_functions
from tests.published.values import CaseFault, quantity, si
from witnessmark.methods.base import Method, Refused
from witnessmark.methods.written import facts_as_written, readings_as_written
from witnessmark.quantities.decision import (
    decide,
)
from witnessmark.quantities.units import parse_unit

_METHOD_KEYS = {"facts", "readings", "log", "limits", "rule", "cap"}
_MOST_ROWS = 10_000_000


def _column(name: str, given: Any, unit: str, time: Any) -> Any:
    """A column in the unit of its channel: numbers, {values, unit}, {from, to, step}, or {formula} of t in s."""
    import numpy as np

    factor = parse_unit(unit)
    if isinstance(given, Mapping) and "formula" in given:
        functions = array_functions()
        made = arithmetic.compute(str(given["formula"]), {"t": time}, functions)
        return np.broadcast_to(np.asarray(made, dtype=np.float64), time.shape).copy()
    if isinstance(given, Mapping) and set(given) == {"from", "to", "step"}:
        low, high, step = (si(with_unit(given[n], unit), name) for n in ("from", "to", "step"))
        count = round((high - low) / step) + 1
        if not 0 < count <= _MOST_ROWS:
            raise CaseFault(f"{name}: from, to and step make {count} rows; 1 to {_MOST_ROWS} are taken")
        return low + step * np.arange(count)
    own = str(given.get("unit", unit)) if isinstance(given, Mapping) else unit
    values = given.get("values") if isinstance(given, Mapping) and set(given) <= {"values", "unit"} else given
    if not isinstance(values, list):
        raise CaseFault(f"{name}: a column is a list, values with unit, from/to/step, or a formula of t")
    made_values = []
    for item in values:
        text = str(item).strip()
        if text.lower().lstrip("+-") in ("nan", ".nan", "inf", ".inf"):
            made_values.append(float(text.lower().replace(".", "")))
        else:
            found = quantity(with_unit(text, own), like=unit, what=name)
            made_values.append(float(found.to(factor).value))
    return np.asarray(made_values)


def run_method(found: Method, given: Given) -> Outputs:
    import numpy as np

    inputs = {spec.name for spec in found.inputs}
    facts = {spec.name for spec in found.facts}
    channels = {spec.name: spec for spec in found.channels}
    options = {spec.name: spec for spec in found.options}
    flat: dict[str, Any] = {}
    for group in ("facts", "readings", "log"):
        flat |= cast("Given", given.get(group) or {})
    flat |= {name: value for name, value in given.items() if name not in _METHOD_KEYS}
    unknown = set(flat) - inputs - facts - set(channels) - set(options)
    # A reading that the method does not know is the method's to refuse; what is not called a reading is a mistake.
    unknown -= set(cast("Given", given.get("readings") or {}))
    if unknown:
        raise CaseFault(f"{found.id} takes no {sorted(unknown)}")
    known_inputs = {n: v for n, v in flat.items() if n not in facts and n not in channels and n not in options}
    readings, reading_faults = readings_as_written(found, known_inputs)
    stated, fact_faults = facts_as_written(found, {n: str(v) for n, v in flat.items() if n in facts})
    faults = (*reading_faults, *fact_faults)
    if faults:
        raise RefusedCase(tuple(p.code for _, p in faults), "; ".join(p.message for _, p in faults))
    figures: Mapping[str, object] | None = None
    if channels and any(n in channels for n in flat):
        columns: dict[str, Any] = {}
        time = _column("time", flat["time"], "s", np.empty(0)) if "time" in flat else np.empty(0)
        for name, spec in channels.items():
            if name not in flat:
                continue
            if name == "time":
                columns["time"] = time
            elif spec.many:
                for column, values in flat[name].items():
                    columns[f"{name}:{column}"] = _column(f"{name}:{column}", values, spec.unit, time)
            else:
                columns[name] = _column(name, flat[name], spec.unit, time)
        chosen = {n: si(with_unit(flat[n], options[n].unit), n) for n in options if n in flat}
        figures = found.reduce(columns, chosen)
    result = found.evaluate(readings, stated, figures)
    if isinstance(result, Refused):
        raise RefusedCase(tuple(p.code for p in result.faults), "; ".join(p.message for p in result.faults))
    outputs: Outputs = {
        "alarms": sorted({alarm.code for alarm in result.alarms}),
        "fatal_alarms": sorted({alarm.code for alarm in result.alarms if alarm.fatal}),
        "believable": result.believable,
    }
    limits = cast("Given", given.get("limits") or {})
    for output in result.outputs:
        name = output.measurand
        outputs |= {
            name: output.value, f"{name}.u": output.u, f"{name}.U": output.U, f"{name}.k": output.k,
            f"{name}.dof": output.dof, f"{name}.bound": output.bound, f"{name}.where": output.where,
        }  # fmt: skip
        for row in output.budget:
            outputs |= {f"{name}.share.{row.name}": row.share, f"{name}.contribution.{row.name}": row.contribution}
        if name in limits:
            decided = said(
                decide(output.value, output.U, output.bound, limit_of(limits[name]), rule_of(given), u=output.u)
            )
            outputs |= {f"{name}.{key}": value for key, value in decided.items()}
    missing = set(limits) - {output.measurand for output in result.outputs}
    if missing:
        raise CaseFault(f"limits for {sorted(missing)}, which {found.id} does not yield here")
    return outputs
