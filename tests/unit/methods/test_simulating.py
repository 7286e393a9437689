"""The check by draws: it agrees where a method is straight, says so where it is bent, and never makes a pass.

Expected numbers: normal quantiles of Python's `statistics`; t quantiles as SciPy; tolerances as in JCGM 101:2008, 7.9.2
(examples; from memory); the exact interval of 1/x for a normal x from its quantiles (closed form).
"""

from __future__ import annotations

import json
from dataclasses import replace
from statistics import NormalDist
from typing import Any

import numpy as np
import pytest

from tests.first_order_against_monte_carlo import EXAMPLES, cases_of, most_bent, rows_of
from witnessmark.methods.base import Refused
from witnessmark.methods.registry import METHODS, method
from witnessmark.methods.simulating import as_checked, simulate
from witnessmark.methods.working import Working, worked
from witnessmark.methods.written import readings_as_written
from witnessmark.quantities.decision import Decision, DecisionRule, Limit, Statement, decide
from witnessmark.quantities.draws import normal_quantiles, standard_draws
from witnessmark.quantities.montecarlo import Simulated, numerical_tolerance, validated
from witnessmark.quantities.propagation import Input, Shifts, deviation, shifted, uncertain
from witnessmark.quantities.quantity import parse_quantity


def test_normal_quantiles() -> None:
    p = np.array([1e-300, 1e-17, 1e-9, 0.01, 0.0749, 0.075, 0.3, 0.5, 0.7, 0.925, 0.9251, 0.99, 1 - 1e-9])
    wanted = [NormalDist().inv_cdf(x) for x in p.tolist()]
    assert normal_quantiles(p).tolist() == pytest.approx(wanted, rel=1e-14, abs=1e-15)


def test_the_stream_stays_as_it_is() -> None:
    """A pin of our own: the first normal draws of seed 1. A library that changes them would change every check."""
    drawn = standard_draws(np.random.PCG64(np.random.SeedSequence(1)), 3, "normal")
    raw = np.random.PCG64(np.random.SeedSequence(1)).random_raw(3)
    by_hand = [NormalDist().inv_cdf(((int(bits) >> 11) + 0.5) / 2**53) for bits in raw]
    assert drawn.tolist() == pytest.approx(by_hand, rel=1e-14)
    assert drawn.tolist() == pytest.approx(PINNED, rel=1e-13)


PINNED = [0.02963675666589534, 1.6493663344832399, -1.061815998455608]


def test_tolerances_of_the_guide() -> None:
    assert numerical_tolerance(0.00035) == pytest.approx(0.000005)
    assert numerical_tolerance(2.0, 1) == pytest.approx(0.5)
    assert numerical_tolerance(0.0996, 2) == pytest.approx(0.005)
    done = Simulated(10.0, 1.0, 8.05, 11.97, 8.0, 12.0, 1000)
    assert validated(10.0, 1.96, done, 0.05) and not validated(10.0, 1.96, done, 0.005)
    with pytest.raises(ValueError, match="above zero"):
        numerical_tolerance(0.0)


def test_inputs_move_only_while_they_are_shifted() -> None:
    one = Input("x", 1.0, 0.1)
    with shifted(Shifts({"x": 5.0})) as shifts:
        assert uncertain(one).value == 1.5
        assert deviation(uncertain(one)).value == 0.5
    assert deviation(uncertain(one)).value == 0.0
    assert uncertain(one).value == 1.0 and list(shifts.seen) == ["x"]


def _simulated(id: str, texts: dict[str, Any], **how: Any) -> Any:
    found = method(id)
    assert found is not None
    made, faults = readings_as_written(found, texts)
    assert not faults
    return simulate(found, made, {"working_voltage": parse_quantity("403.2 V")}, **how)


TESTED = {"resistance": "22.4 MΩ ± 1.2 MΩ (k=2)", "test_voltage": "500 V"}


def test_same_seed_same_check() -> None:
    one, again, other = (_simulated("insulation-tester/1", TESTED, draws=2000, seed=s) for s in (1, 1, 2))
    assert one == again != other
    assert one[0].valid and one[0].difference == pytest.approx(0.0, abs=0.05)


def test_a_straight_method_agrees_and_a_bent_one_does_not() -> None:
    """Isolation by voltmeter with a loaded reading of ± 25 %: (u1 − u1′)/u1′ is bent like 1/x."""
    example = dict(EXAMPLES["voltmeter-own-source/1"]["readings"])
    found = method("voltmeter-own-source/1")
    assert found is not None
    facts = {"working_voltage": parse_quantity("403.2 V")}

    def check(spread: str) -> Any:
        readings = example | {"u1_loaded": f"96.1 V ± {spread} V (k=2)"}
        made, _ = readings_as_written(found, readings)
        return simulate(found, made, facts, draws=3000)

    assert all(one.valid for one in check("0.6"))
    bent = check("24")
    assert all(not one.valid and one.difference > 0.05 for one in bent)
    # The share of 96.1 V that is drawn: Ri falls with u1_loaded, so the long tail lies above.
    assert bent[0].high - bent[0].output.value > bent[0].output.value - bent[0].low
    refused = simulate(found, {}, facts, draws=1000)
    assert isinstance(refused, Refused)
    with pytest.raises(ValueError, match="1000"):
        simulate(found, {}, facts, draws=10)


def test_a_check_that_fails_makes_it_undecided_and_nothing_more() -> None:
    plain_check = _simulated("insulation-tester/1", TESTED, draws=1000)[0]
    wrong = replace(plain_check, valid=False, difference=0.2)
    limit = Limit.of("at_least", parse_quantity("1 MΩ"))
    for value in (22.4e6, 1.1e6, 0.9e6, 0.1e6):
        plain: Decision = decide(value, 0.2e6, "", limit, DecisionRule.guarded(), u=0.1e6)
        assert as_checked(plain, replace(plain_check, valid=True)) == plain
        checked = as_checked(plain, wrong)
        assert checked.statement is Statement.UNDECIDED and "20 % of U" in checked.reason


def test_the_table_knows_every_method() -> None:
    assert set(EXAMPLES) == set(METHODS)
    assert {c.what for c in cases_of("voltmeter-own-source/1")} > {"example", "ro × 2"}
    # Half the isolation is the more bent: the current is 1/(R + Z).
    assert [c.what for c in most_bent("touch-current/1")] == ["example", "isolation × 0.5"]
    for id in ("touch-current/1", "access-probe/1"):
        cases = most_bent(id)
        assert cases[0].what == "example" and len(list(cases_of(id))) >= len(cases)
        for row in rows_of(cases[-1], 1000):
            assert row[0] == id and len(row) == 8


def test_calculate_shows_the_check(capsys: pytest.CaptureFixture[str]) -> None:
    from witnessmark.cli.main import main

    given = ["calculate", "insulation-tester/1", "resistance=22.4 MΩ ± 1.2 MΩ (k=2)", "test_voltage=500 V"]
    given.append("working_voltage=403.2 V")
    assert main([*given, "--limit", "at least 1 MΩ", "--monte-carlo", "2000"]) == 0
    said = capsys.readouterr().out
    assert "Monte Carlo" in said and "agrees" in said and "PASS" in said and "High voltage can kill" in said
    assert main([*given, "--format", "json", "--monte-carlo", "2000"]) == 0
    [one] = [x for x in json.loads(capsys.readouterr().out)["monte_carlo"] if x["measurand"] == "isolation-resistance"]
    assert one["valid"] is True and 21.1e6 < float(one["low"]) < 21.4e6
    assert main([*given, "--monte-carlo", "5"]) == 2
    own = EXAMPLES["voltmeter-own-source/1"]["readings"] | {"u1_loaded": "96.1 V ± 24 V (k=2)"}
    given = ["calculate", "voltmeter-own-source/1", *(f"{k}={v}" for k, v in own.items()), "working_voltage=403.2 V"]
    assert main([*given, "--limit", "at least 100 Ω/V", "--monte-carlo", "2000"]) == 0
    said = capsys.readouterr().out
    assert "UNDECIDED" in said and "DIFFERS" in said and "first order and Monte Carlo differ" in said
    assert "Conformance probability" not in said and "a pass begins" not in said


def test_a_part_of_U_that_the_calculation_does_not_see_is_not_compared() -> None:
    """A method that adds an uncertainty by its sensitivity alone: drawing would seem to show a smaller U."""
    base = method("touch-current/1")
    assert base is not None

    def work(readings: Any, facts: Any, figures: Any) -> Any:
        def blind(w: Working) -> Any:
            voltage = w.x["voltage"]
            w.output("touch-current", w.x["body"] * 0.0 + (voltage - voltage.value) * 1e-3 + 0.1)
            return w.result()

        return worked(base, blind, readings, facts)

    made, _ = readings_as_written(base, {"voltage": "400 V ± 4 V (k=2)", "isolation": "200 kΩ", "body": "1000 Ω"})
    compared = simulate(replace(base, evaluate_with=work), made, {}, draws=1000)
    assert not isinstance(compared, Refused)
    (one,) = compared
    assert one.difference is None and one.valid
    assert "no draw can move" in one.why


def test_the_check_of_a_logger_and_a_doubled_name_are_drawn() -> None:
    """Logger checks enter as deviations, and "fit" names two inputs of different spread: both are drawn by their own u.

    The log's own scatter is t with many degrees of freedom, so that the draws agree with the first order.
    """
    for id in ("discharge-energy/1", "discharge-fit/1"):
        case = next(iter(cases_of(id)))
        compared = simulate(case.method, case.readings, case.facts, case.figures, draws=3000)
        assert not isinstance(compared, Refused)
        for one in compared:
            assert one.u == pytest.approx(one.output.u, rel=0.05), (id, one.output.measurand)


def test_a_draw_outside_what_the_method_takes_is_counted_and_no_fault_of_ours() -> None:
    """A concentration near zero: a draw below zero is refused, and the words for it need no number shown."""
    case = next(iter(cases_of("hydrogen-mass/1")))
    compared = simulate(case.method, case.readings, case.facts, case.figures, draws=1000)
    assert not isinstance(compared, Refused) and len(compared) == 1


def _of_voltage(work: Any, voltage: Input) -> Any:
    """The check of a method that makes `work` of one voltage alone."""
    base = method("touch-current/1")
    assert base is not None

    def evaluate(readings: Any, facts: Any, figures: Any) -> Any:
        def of_voltage(w: Working) -> Any:
            w.output("touch-current", work(w.x["voltage"]))
            return w.result()

        return worked(base, of_voltage, readings, facts)

    made, _ = readings_as_written(base, {"voltage": "400 V", "isolation": "200 kΩ", "body": "1000 Ω"})
    made["voltage"] = (replace(made["voltage"][0], input=voltage),)
    compared = simulate(replace(base, evaluate_with=evaluate), made, {}, draws=20_000)
    assert not isinstance(compared, Refused)
    return compared[0]


def test_a_dominating_rectangle_differs_and_is_told_to_be_narrower() -> None:
    """Evenly spread within ± a: 95 % lie within 0.95 a = 1.645 u, and 1.96 u is more (EA-4/02 S9 takes k = 1.65)."""
    a = 4.0
    spread = Input("voltage", 400.0, a / 3**0.5, shape="rectangular")
    one = _of_voltage(lambda v: v * 1e-3, spread)
    assert not one.valid and one.narrower
    assert one.difference == pytest.approx((1.96 - 1.645) / 1.96, abs=0.01)
    assert (one.high - one.low) / 2 == pytest.approx(0.95 * a * 1e-3, rel=0.01)


def test_what_sticks_out_or_is_bent_is_never_called_narrower() -> None:
    """1/v of a rectangle as wide as half of v: bent, whatever its shape. 5 % of U over is too much too."""
    spread = Input("voltage", 400.0, 200.0 / 3**0.5, shape="rectangular")
    bent = _of_voltage(lambda v: 1.0 / v, spread)
    assert not bent.valid and not bent.narrower
    # A half parabola: its draws lie within the straight one on one side and far out on the other.
    square = _of_voltage(lambda v: (v - 400.0) * (v - 400.0) * 1e-6 + v * 1e-6, Input("voltage", 400.0, 40.0))
    assert not square.valid and not square.narrower
