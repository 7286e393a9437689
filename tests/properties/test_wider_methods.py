"""Properties of the wider methods: inverse solves agree, limits are monotone, doubt never helps."""

from __future__ import annotations

import math
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.unit.methods.wider_examples import EXAMPLES, evaluate
from witnessmark.methods.base import Output, Result
from witnessmark.methods.conductor_data import adiabatic_k, awg_area_mm2
from witnessmark.methods.coolant_data import freezing_point, properties
from witnessmark.methods.fuse_curve import Points, current_for, melting_time
from witnessmark.methods.gas_flow import critical_ratio
from witnessmark.methods.insulation_tables import ALTITUDE, CLEARANCE, GROUPS, IMPULSE, creepage_rows, look_up
from witnessmark.methods.plate_pressure_drop import laminar_product
from witnessmark.methods.shock_data import CORRIDORS, curve, filtered
from witnessmark.methods.vibration_profile import profile
from witnessmark.quantities.propagation import Input, Uncertain, uncertain

POINTS: Points = ([100.0, 200.0, 300.0, 400.0, 1000.0, 1500.0], [4000.0, 100.0, 10.0, 2.0, 0.04, 0.01])


def _x(value: float) -> Uncertain:
    return uncertain(Input("x", value, 0.0))


def _out(id: str, measurand: str, readings: dict[str, str], facts: dict[str, str] | None = None) -> Output:
    result = evaluate(id, dict(readings), facts)
    assert isinstance(result, Result), result
    output = result.output(measurand)
    assert output is not None
    return output


def _d(x: float) -> str:
    return format(Decimal(repr(x)), "f")


@given(st.floats(100, 1500))
def test_a_fuse_curve_and_its_inverse_agree_and_it_falls(current: float) -> None:
    t = melting_time(POINTS, _x(current)).value
    assert current_for(POINTS, _x(t)).value == pytest.approx(current, rel=1e-9)
    assert melting_time(POINTS, _x(current * 1.001)).value < t
    assert 0.01 * (1 - 1e-9) <= t <= 4000 * (1 + 1e-9)


@given(st.floats(100, 1500))
def test_the_slope_of_a_fuse_curve_is_the_numerical_one(current: float) -> None:
    step = current * 1e-6
    if any(abs(current - i) < 2 * step for i in POINTS[0]):
        return
    numeric = (melting_time(POINTS, _x(current + step)).value - melting_time(POINTS, _x(current - step)).value) / (
        2 * step
    )
    assert melting_time(POINTS, _x(current)).slopes["x"] == pytest.approx(numeric, rel=1e-5)


@given(st.sampled_from(["1", "2", "3"]), st.sampled_from(GROUPS), st.floats(10, 10000), st.floats(1, 1.5))
def test_creepage_never_falls_with_voltage_dirt_or_worse_material(
    degree: str, group: str, u: float, more: float
) -> None:
    rows = creepage_rows(degree, group, "general")
    assert rows is not None
    higher = min(u * more, 10000.0)
    for rule in ("next-row", "interpolate"):
        d = look_up(rows, u, rule)[0]
        assert look_up(rows, higher, rule)[0] >= d > 0
        for other in {"1": "23", "2": "3", "3": ""}[degree]:
            dirtier = creepage_rows(other, group, "general")
            assert dirtier is not None and look_up(dirtier, u, rule)[0] >= d
        worse = creepage_rows(degree, GROUPS[min(GROUPS.index(group) + 1, 3)], "general")
        assert worse is not None and look_up(worse, u, rule)[0] >= d
    assert look_up(rows, u, "next-row")[0] >= look_up(rows, u, "interpolate")[0] * (1 - 1e-12)


def test_every_table_of_insulation_rises() -> None:
    tables = [ALTITUDE, *IMPULSE.values(), *(rows for field in CLEARANCE.values() for rows in field.values())]
    for rows in tables:
        keys, values = zip(*rows, strict=True)
        assert list(keys) == sorted(set(keys)) and list(values) == sorted(values)
    for degree in ("1", "2", "3"):
        ordinary, even = CLEARANCE["inhomogeneous"][degree], CLEARANCE["homogeneous"][degree]
        assert all(a[1] >= b[1] for a, b in zip(ordinary, even, strict=True))


@given(st.floats(1.01, 1.66), st.floats(0.55, 0.999))
@settings(max_examples=40)
def test_vent_area_and_vent_flow_are_inverses(kappa: float, ratio: float) -> None:
    gas = {"isentropic_exponent": _d(kappa), "outside_pressure": f"{_d(130 * ratio)} kPa"}
    rate = _out("vent-flow/1", "vent-mass-rate", gas | {"area": "500 mm²"})
    area = _out("vent-area/1", "vent-area", gas | {"mass_rate": f"{_d(rate.value)} kg/s"})
    assert area.value == pytest.approx(500e-6, rel=1e-9)
    assert area.where == rate.where


@given(st.floats(1.01, 1.66))
def test_the_two_branches_of_vent_flow_meet(kappa: float) -> None:
    critical = critical_ratio(_x(kappa)).value
    flows = [
        _out(
            "vent-flow/1",
            "vent-mass-rate",
            {"isentropic_exponent": _d(kappa), "outside_pressure": f"{_d(130 * critical * factor)} kPa"},
        ).value
        for factor in (1 - 1e-7, 1 + 1e-7)
    ]
    assert flows[0] == pytest.approx(flows[1], rel=1e-9)


@given(st.floats(1, 2000), st.floats(0.5, 100))
@settings(max_examples=40)
def test_coolant_duty_is_its_own_inverse(heat: float, rise: float) -> None:
    base = {"density": "1053 kg/m³", "heat_capacity": "3413 J/kg/K"}
    flow = evaluate(
        "coolant-duty/1", {**base, "solve": "flow", "heat": f"{_d(heat)} W", "rise": f"{_d(rise)} K", "flow": None}
    )
    assert isinstance(flow, Result)
    back = _out(
        "coolant-duty/1",
        "coolant-heat",
        {**base, "solve": "heat", "flow": f"{_d(flow.outputs[0].value)} m³/s", "rise": f"{_d(rise)} K"},
    )
    assert back.value == pytest.approx(heat, rel=1e-9)


@given(st.floats(20, 900), st.floats(0.05, 20))
@settings(max_examples=40)
def test_a_discharge_calculated_is_found_again_from_two_readings(start: float, tau: float) -> None:
    safe, t1, t2 = start / 5, tau / 3, tau
    again = evaluate(
        "discharge-two-readings/1",
        {
            "t_first": f"{_d(t1)} s",
            "u_first": f"{_d(start * math.exp(-t1 / tau))} V",
            "t_second": f"{_d(t2)} s",
            "u_second": f"{_d(start * math.exp(-t2 / tau))} V",
            "safe_voltage": f"{_d(safe)} V",
        },
    )
    assert isinstance(again, Result)
    found = {o.measurand: o.value for o in again.outputs}
    assert found["discharge-time-constant"] == pytest.approx(tau, rel=1e-9)
    assert found["estimated-time-to-safe-voltage"] == pytest.approx(tau * math.log(5), rel=1e-9)
    assert found["voltage-at-start"] == pytest.approx(start, rel=1e-9)


@given(st.floats(30e3, 900e3), st.floats(10e3, 5e6), st.floats(10e3, 1e6), st.floats(20e6, 100e6))
@settings(max_examples=60)
def test_two_meters_left_on_give_the_true_pole(weak: float, other: float, ro: float, meter: float) -> None:
    def divided(lower: float, upper: float) -> tuple[float, float]:
        return 400 * lower / (lower + upper), 400 * upper / (lower + upper)

    def beside(*r: float) -> float:
        return 1 / math.fsum(1 / x for x in r)

    u1, u2 = divided(beside(other, meter), beside(weak, meter))
    l1, l2 = divided(beside(other, meter, ro), beside(weak, meter))
    found = _out(
        "voltmeter-pair-own-source/1",
        "isolation-resistance",
        {
            "ub": "400 V",
            "u1": f"{_d(u1)} V",
            "u2": f"{_d(u2)} V",
            "u1_loaded": f"{_d(l1)} V",
            "u2_loaded": f"{_d(l2)} V",
            "ro": f"{_d(ro)} Ω",
            "meter_resistance": f"{_d(meter)} Ω",
        },
    )
    assert found.value == pytest.approx(weak, rel=1e-6)


@given(st.lists(st.floats(0.01, 1000), min_size=1, max_size=8), st.floats(0.01, 1000))
@settings(max_examples=40)
def test_one_more_section_never_raises_isolation(sections: list[float], one_more: float) -> None:
    def isolation(resistances: list[float]) -> float:
        result = evaluate("isolation-parallel/1", {"resistance": [f"{_d(r)} MΩ" for r in resistances]})
        assert isinstance(result, Result)
        return result.outputs[0].value

    assert isolation([*sections, one_more]) < isolation(sections) <= 1e6 * min(sections) * (1 + 1e-12)


@given(st.floats(0.001, 0.2))
@settings(max_examples=40)
def test_a_bound_in_parallel_is_on_the_safe_side(spread: float) -> None:
    """Uncertain sections and "more than" never make the bound larger than the worst that may be."""
    low = 5.0 * (1 - spread)
    result = evaluate("isolation-parallel/1", {"resistance": [f"5.0 MΩ ± {_d(5.0 * spread)} MΩ (k=2)", "> 10 MΩ"]})
    assert isinstance(result, Result) and result.outputs[0].bound == ">"
    assert result.outputs[0].value <= 1 / (1 / (low * 1e6) + 1e-7) * (1 + spread**2)


@given(st.integers(40, 400), st.floats(0.1, 1.0))
@settings(max_examples=40)
def test_a_reaction_time_covers_the_truth(steps: int, delay: float) -> None:
    """Whatever the sampling, the time that was put in lies inside what is told: interval or bound."""
    time = np.linspace(0, 3, steps)
    columns = {"time": time, "event": (time > 0.7).astype(float), "response": np.where(time > 0.7 + delay, 0.0, 400.0)}
    result = evaluate("reaction-time/1", columns=columns)
    assert isinstance(result, Result)
    output, step = result.outputs[0], 3 / (steps - 1)
    if output.bound == "<":
        assert delay < output.value
    else:
        assert abs(output.value - delay) <= step * (1 + 1e-9)
        assert output.U is not None and output.U > 0


@given(st.floats(0, 0.6), st.floats(0, 0.05), st.floats(-5, 90))
def test_more_glycol_freezes_later_and_flows_worse(x: float, more: float, celsius: float) -> None:
    y, t = min(x + more, 0.6), celsius + 273.15
    assert freezing_point(y) <= freezing_point(x) + 1e-9
    if t > freezing_point(x) and y > x:
        thin, thick = properties(x, t), properties(y, t)
        assert thick["viscosity"] >= thin["viscosity"] and thick["heat-capacity"] <= thin["heat-capacity"] * (1 + 1e-3)


@given(st.floats(0, 1))
def test_laminar_flow_of_a_rectangle_lies_between_square_and_slit(aspect: float) -> None:
    assert 56.8 <= laminar_product(aspect) <= 96.0


@given(st.floats(20, 200), st.floats(1, 300))
def test_k_grows_with_the_end_temperature(start: float, rise: float) -> None:
    assert adiabatic_k("copper", start, start + rise) < adiabatic_k("copper", start, start + rise + 1)


@given(st.integers(-3, 39))
def test_a_higher_gauge_is_a_thinner_wire(gauge: int) -> None:
    assert awg_area_mm2(gauge + 1) < awg_area_mm2(gauge)


@given(st.sampled_from(sorted(CORRIDORS)), st.floats(20, 100))
def test_the_lower_curve_of_a_corridor_lies_below_the_upper(key: tuple[str, str], milliseconds: float) -> None:
    low, high = curve(CORRIDORS[key].lower, milliseconds), curve(CORRIDORS[key].upper, milliseconds)
    assert low is not None and high is not None and low < high


@given(st.floats(7, 50))
def test_the_vibration_profile_stays_between_its_levels(frequency: float) -> None:
    assert 2 <= profile(frequency) <= 10


def test_the_channel_filter_leaves_a_constant_alone() -> None:
    assert filtered(np.full(500, 3.5), 60, 10000.0) == pytest.approx([3.5] * 500)


@pytest.mark.parametrize("id", sorted(EXAMPLES))
def test_more_uncertainty_never_narrows_a_result(id: str) -> None:
    plain = evaluate(id)
    doubled = {
        name: text.replace("(k=2)", "(k=1)")
        for name, text in EXAMPLES[id]["readings"].items()
        if isinstance(text, str) and "(k=2)" in text
    }
    if not doubled:
        return
    wide = evaluate(id, doubled)
    assert isinstance(plain, Result) and isinstance(wide, Result)
    for a, b in zip(plain.outputs, wide.outputs, strict=True):
        assert a.value == pytest.approx(b.value, rel=1e-12)
        assert a.u is None or (b.u is not None and b.u >= a.u * (1 - 1e-12))
