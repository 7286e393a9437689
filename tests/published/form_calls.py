"""Closed forms. README.md lists arguments and outputs."""

from __future__ import annotations

import math

from tests.published.calling import Call, Given, Outputs
from tests.published.values import numbers, plain, si
from witnessmark.methods import formulas


def _isolation(given: Given) -> Outputs:
    ri = formulas.isolation_resistance(si(given["ro"]), si(given["ub"]), si(given["u_loaded"]), si(given["u"]))
    outputs: Outputs = {"ri": ri}
    if "working_voltage" in given:
        outputs["per_volt"] = ri / si(given["working_voltage"])
    if "meter" in given:
        outputs["corrected"] = formulas.two_meter_correction(ri, si(given["meter"]))
    return outputs


def _two_meters(given: Given) -> Outputs:
    return {"resistance": formulas.two_meter_correction(si(given["read"]), si(given["meter"]))}


def _monitor(given: Given) -> Outputs:
    low, high = formulas.monitor_resistor_window(
        si(given["working_voltage"]), si(given["isolation"]), si(given["per_volt"])
    )
    return {"low": low, "high": high, "window": [low, high]}


def _parallel(given: Given) -> Outputs:
    return {"resistance": formulas.parallel(numbers(given["resistances"], str(given.get("unit", ""))))}


def _settling(given: Given) -> Outputs:
    tau = si(given["tau"]) if "tau" in given else si(given["resistance"]) * si(given["capacitance"])
    return {"tau": tau, "time": formulas.settling_time(tau, plain(given["part"])) if "part" in given else None}


def _capacitor_energy(given: Given) -> Outputs:
    residual = si(given["residual"]) if "residual" in given else 0.0
    return {"energy": formulas.capacitor_energy(si(given["capacitance"]), si(given["voltage"]), residual)}


def _discharge(given: Given) -> Outputs:
    tau = si(given["tau"]) if "tau" in given else si(given["resistance"]) * si(given["capacitance"])
    outputs: Outputs = {"tau": tau}
    start = si(given["start"]) if "start" in given else None
    if start is not None and "end" in given:
        outputs["time"] = formulas.discharge_time(start, si(given["end"]), tau)
    if "at" in given:
        at = si(given["at"])
        outputs["ratio"] = math.exp(-at / tau)
        if start is not None:
            outputs["voltage"] = formulas.discharge_voltage(start, tau, 1.0, at)
            if "capacitance" in given:
                outputs["energy"] = formulas.capacitor_energy(si(given["capacitance"]), outputs["voltage"])
    return outputs


def _time_constant(given: Given) -> Outputs:
    t1, u1, t2, u2 = (si(given[name]) for name in ("t1", "u1", "t2", "u2"))
    tau = formulas.time_constant(t1, u1, t2, u2)
    start = u1 * math.exp(t1 / tau)
    outputs: Outputs = {"tau": tau, "start": start}
    if "end" in given:
        outputs["time"] = formulas.discharge_time(start, si(given["end"]), tau)
    return outputs


def _constant_current(given: Given) -> Outputs:
    arguments = (si(given[name]) for name in ("capacitance", "start", "end", "current"))
    return {"time": formulas.constant_current_time(*arguments)}


def _four_wire(given: Given) -> Outputs:
    if "u_reverse" in given:
        uf, ur, jf, jr = (si(given[n]) for n in ("u_forward", "u_reverse", "i_forward", "i_reverse"))
        r = formulas.reversed_resistance(uf, ur, jf, jr)
        return {"resistance": r, "offset": (uf + ur) / 2, "single": uf / jf, "error": uf / jf - r}
    return {"resistance": formulas.four_wire_resistance(si(given["u_forward"]), si(given["i_forward"]))}


CALLS: dict[str, Call] = {
    "isolation_resistance": Call(_isolation, ("ro", "ub", "u", "u_loaded"), ("working_voltage", "meter"), lists=True),
    "two_meter_correction": Call(_two_meters, ("read", "meter"), lists=True),
    "monitor_resistor_window": Call(_monitor, ("working_voltage", "isolation", "per_volt")),
    "parallel": Call(_parallel, ("resistances",), ("unit",)),
    "settling": Call(_settling, (), ("tau", "resistance", "capacitance", "part"), lists=True),
    "capacitor_energy": Call(_capacitor_energy, ("capacitance", "voltage"), ("residual",), lists=True),
    "discharge": Call(_discharge, (), ("start", "end", "at", "tau", "resistance", "capacitance"), lists=True),
    "time_constant": Call(_time_constant, ("t1", "u1", "t2", "u2"), ("end",)),
    "constant_current_discharge": Call(_constant_current, ("capacitance", "start", "end", "current"), lists=True),
    "four_wire_resistance": Call(_four_wire, ("u_forward", "i_forward"), ("u_reverse", "i_reverse"), lists=True),
}
