"""`calculate`: conformance probability, specific risk, and where results of a stated probability begin.

Source: the table of the standard normal distribution, as in many handbooks: Φ(2.02) = 0.9783, Φ(1.6449) = 0.95 and
Φ(2.3263) = 0.99; JCGM 106:2012 for what they mean here.
"""

from __future__ import annotations

import json

import pytest

from witnessmark.cli.main import main
from witnessmark.quantities import parse_quantity
from witnessmark.quantities.decision import DecisionRule, Limit, begins_with, decide

_LIMIT = ["--limit", "at most 0.1 Ω"]
_BONDING = ["calculate", "bonding-four-wire/1", "current=1 A"]
_AT_MOST = Limit.of("at_most", parse_quantity("0.1 Ω"))
_AT_LEAST = Limit.of("at_least", parse_quantity("100 Ω"))


def _said(capsys: pytest.CaptureFixture[str], *given: str) -> str:
    assert main([*_BONDING, *given, *_LIMIT]) == 0
    return " ".join(capsys.readouterr().out.split())


def test_a_pass_has_the_consumers_risk_and_a_fail_the_producers(capsys: pytest.CaptureFixture[str]) -> None:
    said = _said(capsys, "resistance=89.9 mΩ ± 10 mΩ (k=2)")
    assert "PASS:" in said
    assert "Conformance probability 97.8 % (normal distribution), risk of a wrong statement 2.2 %." in said
    said = _said(capsys, "resistance=110.1 mΩ ± 10 mΩ (k=2)")
    assert "Conformance probability 2.2 % (normal distribution), risk of a wrong statement 2.2 %." in said
    said = _said(capsys, "resistance=95 mΩ ± 10 mΩ (k=2)")
    assert "Conformance probability 84.1 % (normal distribution)." in said
    assert "above 99.9 %" in _said(capsys, "resistance=10 mΩ ± 1 mΩ (k=2)")


def test_where_results_of_a_stated_probability_begin(capsys: pytest.CaptureFixture[str]) -> None:
    given = ("resistance=95 mΩ ± 10 mΩ (k=2)", "--probability", "95 %")
    assert "conform with 95 % probability begin at 91.78 mΩ; the rule decides." in _said(capsys, *given)
    assert main([*_BONDING, *given, *_LIMIT, "--format", "json"]) == 0
    decision = json.loads(capsys.readouterr().out)["decision"]
    assert float(decision["begins_with"]["value"]) == pytest.approx(100 - 1.6449 * 5, abs=1e-3)
    assert decision["begins_with"]["unit"] == "mΩ"
    assert float(decision["conformance_probability"]) == pytest.approx(0.8413, abs=5e-5)
    assert decision["specific_risk"] is None
    assert begins_with(_AT_LEAST, 2.0, 0.99) == pytest.approx(100 + 2 * 2.3263, abs=1e-3)
    assert begins_with(_AT_MOST, 0.0, 0.99) == pytest.approx(0.1)


def test_asking_for_a_probability_never_changes_the_statement(capsys: pytest.CaptureFixture[str]) -> None:
    given = "resistance=95 mΩ ± 10 mΩ (k=2)"
    with_it, without = _said(capsys, given, "--probability", "50 %"), _said(capsys, given)
    assert "CONDITIONAL PASS" in without
    assert "CONDITIONAL PASS" in with_it


@pytest.mark.parametrize("text", ["100 %", "49 %", "2", "nought", "95 % ± 1 % (k=2)", "0.95 V"])
def test_what_is_no_probability_is_a_problem(text: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*_BONDING, "resistance=95 mΩ ± 10 mΩ (k=2)", *_LIMIT, "--probability", text]) == 2
    assert "--probability" in capsys.readouterr().err


def test_without_a_limit_a_probability_means_nothing(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["calculate", "bonding-four-wire/1", "resistance=95 mΩ", "--probability", "95 %"]) == 2
    assert "--limit" in capsys.readouterr().err


def test_an_unknown_uncertainty_has_no_probability() -> None:
    decision = decide(0.05, None, "", _AT_MOST, DecisionRule.guarded())
    assert decision.probability is None
    assert decision.specific_risk is None
    with pytest.raises(ValueError, match="zero up"):
        begins_with(_AT_MOST, float("nan"), 0.95)
