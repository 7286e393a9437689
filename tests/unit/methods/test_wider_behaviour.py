"""Where the wider methods warn, refuse or stay silent. Figures are invented; limits are those of the clauses."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from tests.unit.methods.wider_examples import EXAMPLES, evaluate
from witnessmark.methods.base import Output, Refused, Result
from witnessmark.methods.working import speak
from witnessmark.quantities.decision import DecisionRule, Limit, Statement, decide
from witnessmark.quantities.quantity import parse_quantity


def _codes(result: Result | Refused) -> set[str]:
    if isinstance(result, Refused):
        return {p.code for p in result.faults}
    return {alarm.code for alarm in result.alarms}


def _fatal(result: Result | Refused) -> set[str]:
    assert isinstance(result, Result)
    return {alarm.code for alarm in result.alarms if alarm.fatal}


def _output(result: Result | Refused, measurand: str) -> Output:
    assert isinstance(result, Result), result
    output = result.output(measurand)
    assert output is not None
    return output


# Isolation


def test_the_wrong_pole_is_fatal_when_it_is_clear() -> None:
    swapped = {
        "u1": "150.0 V ± 0.6 V (k=2)",
        "u2": "252.9 V ± 0.6 V (k=2)",
        "u1_loaded": "96.1 V",
        "u2_loaded": "306.8 V",
    }
    for id in ("voltmeter-pair-own-source/1", "voltmeter-component/1"):
        assert "isolation.wrong-pole" in _fatal(evaluate(id, swapped))


def test_two_meters_share_the_bus_exactly_and_one_meter_may_read_low() -> None:
    low = {"u2": "170.0 V ± 0.6 V (k=2)", "u2_loaded": None}
    assert "isolation.sum" in _fatal(evaluate("voltmeter-pair-own-source/1", low))
    assert "isolation.sum" not in _codes(evaluate("voltmeter-component/1", low))


def test_a_component_below_its_nominal_voltage_shows_nothing() -> None:
    assert "isolation.bus-low" in _fatal(evaluate("voltmeter-component/1", facts={"nominal_voltage": "420 V"}))


def test_the_loaded_reading_of_the_side_is_needed() -> None:
    refused = evaluate("voltmeter-component/1", {"u1_loaded": None})
    assert isinstance(refused, Refused) and _codes(refused) == {"reading.missing"}


def test_a_section_that_reads_more_than_makes_a_bound_that_can_pass() -> None:
    result = evaluate("isolation-parallel/1", {"resistance": ["> 999 MΩ", "5.0 MΩ ± 0.5 MΩ (k=2)"]})
    output = _output(result, "summed-isolation-per-volt")
    assert output.bound == ">" and output.U is None
    limit = Limit.of("at_least", parse_quantity("500 Ω/V"))
    decided = decide(output.value, output.U, output.bound, limit, DecisionRule.guarded())
    assert decided.statement is Statement.PASS
    unstated = evaluate("isolation-parallel/1", {"resistance": ["> 999 MΩ", "5.0 MΩ"]})
    silent = _output(unstated, "summed-isolation-per-volt")
    assert silent.bound == "" and silent.U is None
    undecided = decide(silent.value, silent.U, silent.bound, limit, DecisionRule.guarded())
    assert undecided.statement is Statement.UNDECIDED
    assert _codes(evaluate("isolation-parallel/1", {"resistance": ["< 1 MΩ", "5 MΩ"]})) == {"reading.bound"}


@pytest.mark.parametrize(
    ("changed", "code"),
    [
        ({"ro": "36 kΩ ± 0.1 kΩ (k=2)"}, "monitor.resistor-outside"),
        ({"ro": "40.4 kΩ ± 0.5 kΩ (k=2)"}, "monitor.resistor-outside"),
        ({"warning_before": "shown"}, "monitor.warned-before"),
    ],
)
def test_a_monitor_check_that_shows_nothing_is_fatal(changed: dict[str, str], code: str) -> None:
    assert _fatal(evaluate("isolation-monitor-check/1", changed)) == {code}


def test_a_monitor_that_does_not_warn_fails() -> None:
    output = _output(evaluate("isolation-monitor-check/1", {"warning": "not shown"}), "monitor-warned")
    limit = Limit.of("more_than", parse_quantity("0.5", bare=True))
    assert decide(output.value, output.U, "", limit, DecisionRule.guarded()).statement is Statement.FAIL
    warned = _output(evaluate("isolation-monitor-check/1"), "monitor-warned")
    assert decide(warned.value, warned.U, "", limit, DecisionRule.guarded()).statement is Statement.PASS


def test_a_check_with_a_resistor_of_unknown_uncertainty_decides_nothing() -> None:
    assert _output(evaluate("isolation-monitor-check/1", {"ro": "39.4 kΩ"}), "monitor-warned").U is None
    assert _output(evaluate("isolation-monitor-check/1", {"ri": "> 999 MΩ"}), "monitor-warned").U == 0.0
    assert _output(evaluate("access-probe/1", {"force": "10 N"}), "live-part-touched").U is None


def test_the_window_of_a_bound_is_the_part_that_holds_for_every_value() -> None:
    exact = evaluate("isolation-monitor-check/1", {"ri": "999 MΩ ± 1 MΩ (k=2)"})
    bound = evaluate("isolation-monitor-check/1", {"ri": "> 999 MΩ"})
    assert _output(bound, "monitor-window-high").value == pytest.approx(40320)
    assert _output(bound, "monitor-window-high").value < _output(exact, "monitor-window-high").value
    assert _output(bound, "monitor-window-low").value == pytest.approx(_output(exact, "monitor-window-low").value)


def test_a_decade_that_was_turned_the_wrong_way_is_refused() -> None:
    assert _codes(evaluate("isolation-monitor-threshold/1", {"ro_silent": "40 kΩ ± 1 Ω (k=2)"})) == {"reading.range"}


def test_water_that_took_the_isolation_for_good_is_said() -> None:
    result = evaluate("isolation-sequence/1", {"after": "12 MΩ ± 1 MΩ (k=2)"})
    assert "isolation.not-recovered" in _codes(result)
    assert _output(result, "isolation-lowest-per-volt").where == "wet"


# Bonding


def test_two_wires_need_the_current_of_the_clause_and_leads_below_the_whole() -> None:
    assert "validity.range" in _codes(evaluate("bonding-lead-subtraction/1", {"current": "0.1 A ± 1 mA (k=2)"}))
    assert "calculation.range" in _codes(evaluate("bonding-lead-subtraction/1", {"leads": "60 mΩ ± 1 mΩ (k=2)"}))
    assert "bonding.leads-dominate" in _codes(evaluate("bonding-lead-subtraction/1", {"leads": "44 mΩ ± 1 mΩ (k=2)"}))


def test_parts_out_of_reach_are_not_asked_for() -> None:
    refused = evaluate("bonding-part-to-part/1", {"distance": "2.6 m"})
    assert isinstance(refused, Refused) and "above 2.5 m" in refused.faults[0].message
    both = evaluate("bonding-part-to-part/1", {"direct": "5 mΩ"})
    assert _codes(both) == {"reading.repeated"}


# Discharge and energy


def test_a_time_that_is_extrapolated_says_so() -> None:
    late = {"u_second": "155 V ± 1 V (k=2)"}
    assert "discharge.extrapolated" in _codes(evaluate("discharge-two-readings/1", late))
    assert "discharge.extrapolated" not in _codes(evaluate("discharge-two-readings/1"))


def test_a_bus_that_was_never_above_the_safe_voltage_shows_nothing() -> None:
    dead = {"u_first": "50 V ± 1 V (k=2)", "u_second": "40 V ± 1 V (k=2)"}
    assert "decay.not-energised" in _fatal(evaluate("discharge-two-readings/1", dead))


def test_readings_that_do_not_decay_are_refused() -> None:
    assert _codes(evaluate("discharge-two-readings/1", {"u_second": "310 V"})) == {"reading.range"}
    assert _codes(evaluate("discharge-two-readings/1", {"t_second": "1.0 s"})) == {"reading.range"}


def test_a_discharge_of_another_shape_is_no_evidence() -> None:
    time = np.arange(0, 1.9, 0.02)
    straight = {"time": time, "voltage": 400 - 200 * time}
    assert "fit.shape" in _fatal(evaluate("discharge-fit/1", columns=straight))
    assert "fit.few" in _codes(
        evaluate("discharge-fit/1", columns={"time": time, "voltage": 400 * np.exp(-time / 1e-3)})
    )
    rising = {"time": time, "voltage": 100 * np.exp(time)}
    assert isinstance(evaluate("discharge-fit/1", columns=rising), Refused)


def test_the_interval_of_a_fit_holds_the_truth_as_often_as_it_says() -> None:
    """Against simulation: with noise of a known size, the interval of 95 % holds the true time about that often."""
    noise, held, runs = np.random.default_rng(20261125), 0, 200
    time = np.arange(0, 4, 0.05)
    for _ in range(runs):
        columns = {"time": time, "voltage": 400 * np.exp(-time / 0.9) + noise.normal(0, 2.0, len(time))}
        result = evaluate("discharge-fit/1", {"logger_check": "60 V ± 1e-9 V (k=2)"}, columns=columns)
        output = _output(result, "fitted-time-to-safe-voltage")
        assert output.U is not None
        held += abs(output.value - 0.9 * np.log(400 / 60)) <= output.U
    assert 0.90 * runs <= held <= 0.99 * runs


def test_a_coarse_or_short_log_of_energy_is_said() -> None:
    time = np.arange(0, 0.2, 0.02)
    coarse = {"time": time, "voltage": 400 * np.exp(-time / 0.05), "current": 4 * np.exp(-time / 0.05)}
    assert "log.coarse" in _codes(evaluate("discharge-energy/1", columns=coarse))
    columns = EXAMPLES["discharge-energy/1"]["columns"]
    short = {name: values[:500] for name, values in columns.items()}
    assert "decay.never-safe" in _fatal(evaluate("discharge-energy/1", columns=short))
    dead = columns | {"voltage": columns["voltage"] / 100}
    assert "decay.not-energised" in _fatal(evaluate("discharge-energy/1", columns=dead))


# Reaction times


def _reaction(event: Any, response: Any, time: Any, **options: float) -> Result | Refused:
    return evaluate("reaction-time/1", columns={"time": time, "event": event, "response": response}, options=options)


def test_a_response_that_comes_back_counts_from_its_last_return() -> None:
    time = np.arange(0, 2, 0.01)
    event = (time > 0.5).astype(float)
    bounce = np.where((time > 0.7) & ~((time > 0.9) & (time < 1.1)), 0.0, 400.0)
    assert _output(_reaction(event, bounce, time), "reaction-time").value == pytest.approx(0.6, abs=0.02)


def test_no_response_and_a_response_before_the_event() -> None:
    time = np.arange(0, 2, 0.01)
    event = (time > 0.5).astype(float)
    never = _reaction(event, np.full_like(time, 400.0), time)
    assert _output(never, "reaction-time").bound == ">" and "reaction.none" in _codes(never)
    assert "reaction.early" in _fatal(_reaction(event, np.zeros_like(time), time))
    assert _codes(_reaction(np.ones_like(time), np.zeros_like(time), time)) == {"log.event"}
    assert _codes(_reaction(np.zeros_like(time), np.zeros_like(time), time)) == {"log.event"}


def test_too_slow_to_tell_against_the_time_that_is_asked() -> None:
    time = np.arange(0, 3, 0.3)
    event, response = (time > 0.5).astype(float), np.where(time > 1.3, 0.0, 400.0)
    assert "reaction.sampled-too-slowly" in _codes(_reaction(event, response, time, time_limit=1.0))
    assert "reaction.sampled-too-slowly" not in _codes(_reaction(event, response, time, time_limit=3.0))


# Conductors and fuses


def test_a_table_from_memory_says_so_in_the_step() -> None:
    seen, remembered = (evaluate("conductor-resistance/1", {"section": s}) for s in ("50 mm²", "6 mm²"))
    assert isinstance(seen, Result) and isinstance(remembered, Result)
    assert "(seen)" in seen.steps[0].words and "(from memory)" in remembered.steps[0].words
    assert "from memory" in remembered.outputs[0].notes[0]


def test_a_conductor_comes_from_one_place() -> None:
    assert _codes(evaluate("conductor-resistance/1", {"per_length": "0.4 Ω/km"})) == {"reading.missing"}


def test_a_gap_between_contactor_and_fuse_is_named_with_its_ends() -> None:
    result = evaluate("fuse-coordination/1")
    assert isinstance(result, Result)
    alarm = next(a for a in result.alarms if a.code == "coordination.gap")
    assert "800 A" in alarm.message and "1224.7 A" in alarm.message
    figure = result.figure
    assert figure is not None and figure.kind == "curves" and set(figure.arrays) >= {"fuse_current", "cable_current"}
    none = evaluate("fuse-coordination/1", {"contactor_break": "1300 A"})
    assert "coordination.gap" not in _codes(none) and _output(none, "coordination-gap").value < 0


def test_a_curve_without_its_tolerance_decides_nothing() -> None:
    bare = evaluate("fuse-coordination/1", {"curve_tolerance": None, "contactor_break": "1300 A"})
    gap = _output(bare, "coordination-gap")
    assert gap.value < 0 and gap.U is None and "uncertainty.not-stated" in _codes(bare)
    assert _output(evaluate("fuse-melting-time/1", {"curve_tolerance": None}), "melting-time").U is None


def test_the_largest_of_several_needs_all_of_them() -> None:
    some = evaluate("capacitor-energy/1", {"cy2": None, "u2": None})
    assert isinstance(some, Result) and some.output("energy-largest") is None and "energy.some" in _codes(some)
    cable = evaluate("fuse-let-through/1", {"contactor_withstand": None})
    assert isinstance(cable, Result) and cable.output("largest-let-through-ratio") is None
    axles = evaluate("axle-masses/1", {"permitted_rear": None})
    assert isinstance(axles, Result) and axles.output("mass-ratio-largest") is None


def test_a_curve_that_rises_or_lacks_a_time_is_refused() -> None:
    assert _codes(evaluate("fuse-melting-time/1", {"curve_time": ["4000 s", "100 s"]})) == {"reading.repeated"}
    rising = {"curve_time": ["1 s", "2 s", "3 s", "4 s", "5 s", "6 s"]}
    assert _codes(evaluate("fuse-melting-time/1", rising)) == {"reading.range"}


def test_the_order_of_curve_points_does_not_matter() -> None:
    example = EXAMPLES["fuse-melting-time/1"]["readings"]
    backward = {name: example[name][::-1] for name in ("curve_current", "curve_time")}
    assert _output(evaluate("fuse-melting-time/1", backward), "melting-time") == _output(
        evaluate("fuse-melting-time/1"), "melting-time"
    )


# Insulation distances


def test_the_rule_between_rows_changes_the_distance_and_stands_in_the_step() -> None:
    line, row = (
        evaluate("creepage/1", {"between_rows": rule, "clearance": None}) for rule in ("interpolate", "next-row")
    )
    assert _output(line, "required-creepage").value == pytest.approx(4.5e-3)
    assert _output(row, "required-creepage").value == pytest.approx(5.0e-3)
    assert isinstance(line, Result) and isinstance(row, Result)
    assert "straight line" in line.steps[0].words and "row of 500 V" in row.steps[0].words


def test_creepage_is_never_below_the_clearance_and_a_poor_material_has_none() -> None:
    assert _output(evaluate("creepage/1", {"clearance": "7 mm"}), "required-creepage").value == pytest.approx(7e-3)
    poor = evaluate("creepage/1", {"material_group": None, "cti": "99"})
    assert isinstance(poor, Refused) and "below 100" in poor.faults[0].message
    dirty = {"material_group": "IIIb", "pollution_degree": "3", "voltage": "700 V"}
    assert _codes(evaluate("creepage/1", dirty)) == {"validity.range"}


def test_table_values_are_exact_and_say_so() -> None:
    output = _output(evaluate("creepage/1"), "required-creepage")
    assert output.u == 0.0 and any("exactly" in note for note in output.notes)


# Relief, coolant, pack


def test_nothing_flows_out_against_a_higher_pressure() -> None:
    for id in ("vent-area/1", "vent-flow/1"):
        assert "validity.range" in _codes(evaluate(id, {"inside_pressure": "100 kPa"}))


def test_a_frozen_coolant_is_refused_with_its_freezing_point() -> None:
    refused = evaluate("glycol-properties/1", {"temperature": "-45 °C"})
    assert isinstance(refused, Refused) and "freezing point" in refused.faults[0].message


def test_mass_and_volume_are_not_the_same() -> None:
    volume, mass = (evaluate("glycol-properties/1", {"basis": basis}) for basis in ("volume", "mass"))
    assert _output(volume, "coolant-density").value > _output(mass, "coolant-density").value


def test_flow_between_laminar_and_turbulent_takes_the_larger_drop() -> None:
    result = evaluate("plate-pressure-drop/1", {"flow": "16 L/min"})
    assert "flow.between" in _codes(result) and _output(result, "pressure-drop").where == "turbulent"


def test_every_cell_of_the_string_is_read() -> None:
    assert _codes(evaluate("cell-readings/1", {"series": "5"})) == {"reading.missing"}


def test_the_cell_that_may_be_highest_is_named() -> None:
    doubtful = {"series": "2", "voltage": ["4.190 V ± 1 mV (k=2)", "4.185 V ± 20 mV (k=2)"]}
    assert _output(evaluate("cell-readings/1", doubtful), "cell-reading-highest").where == "cell 2"
    unstated = {"series": "2", "voltage": ["4.190 V ± 1 mV (k=2)", "4.185 V"]}
    assert _output(evaluate("cell-readings/1", unstated), "cell-reading-highest").U is None


def test_a_bus_that_is_charged_before_the_precharge_points_to_a_weld() -> None:
    columns = EXAMPLES["contactor-sequence/1"]["columns"]
    welded = columns | {"bus_voltage": np.full_like(columns["time"], 400.0)}
    assert "sequence.charged-before" in _codes(evaluate("contactor-sequence/1", columns=welded))
    swapped = columns | {"second": columns["first"], "first": columns["second"]}
    wrong = evaluate("contactor-sequence/1", columns=swapped)
    assert "sequence.order" in _codes(wrong) and _output(wrong, "sequence-in-order").value == 0.0


# Shock and probes


def test_a_pulse_that_is_too_soft_lies_below_the_lower_curve() -> None:
    columns = EXAMPLES["shock-corridor/1"]["columns"]
    soft = columns | {"acceleration": columns["acceleration"] / 2}
    assert _output(evaluate("shock-corridor/1", columns=soft), "shock-lower-margin").value < 0
    turned = columns | {"acceleration": -columns["acceleration"]}
    plain = _output(evaluate("shock-corridor/1"), "shock-lower-margin").value
    assert _output(evaluate("shock-corridor/1", columns=turned), "shock-lower-margin").value == pytest.approx(plain)
    assert "log.filter" in _codes(evaluate("shock-corridor/1", options={"cfc": 61.0}))
    assert "log.start" in _codes(evaluate("shock-corridor/1", options={"start": 0.15}))


def test_a_probe_that_was_not_pushed_shows_nothing() -> None:
    assert "probe.force-low" in _fatal(evaluate("access-probe/1", {"force": "8 N ± 0.2 N (k=2)"}))
    assert "probe.lamp" in _fatal(evaluate("access-probe/1", {"lamp_voltage": "24 V ± 0.1 V (k=2)"}))
    touched = _output(evaluate("access-probe/1", {"contact": "contact"}), "live-part-touched")
    limit = Limit.of("less_than", parse_quantity("0.5", bare=True))
    assert decide(touched.value, touched.U, "", limit, DecisionRule.guarded()).statement is Statement.FAIL


# Reading aloud


@pytest.mark.parametrize(
    ("formula", "words"),
    [
        (r"R = \frac{<a>}{1 + <b>}", "R is 3 V over open bracket 1 plus 2 A close bracket"),
        (r"\left( <a> \right)^2", "open bracket 3 V close bracket squared"),
        (r"U_1^{\prime} \leq U_{max}", "U 1 prime is at most U max"),
        (r"\sqrt{<a> \cdot <b>}", "the square root of open bracket 3 V times 2 A close bracket"),
        (r"\int_{0}^{<b>} U \, dt", "the integral from 0 to 2 A of U d t"),
        (r"\mathrm{ln} \frac{<a>}{<b>}", "the logarithm of 3 V over 2 A"),
        (r"\left| <a> - <b> \right|", "the size of 3 V minus 2 A"),
    ],
)
def test_formulas_are_read_aloud(formula: str, words: str) -> None:
    assert speak(formula, {"a": "3 V", "b": "2 A"}) == words
