"""Calculations against values that others published. README.md says how a case is written."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from tests.published.calling import RefusedCase
from tests.published.calls import CALLS, run
from tests.published.casefile import Case, load_cases
from tests.published.readme import README, with_table
from tests.published.values import CaseFault, compare
from witnessmark.methods.registry import METHODS


def check(case: Case) -> list[str]:
    """What is wrong with a case; empty when it is met."""
    if case.fault:
        return [case.fault]
    assert case.given is not None
    try:
        outputs = run(case.call, case.given)
    except CaseFault as fault:
        return [str(fault)]
    except RefusedCase as refused:
        if not case.problem:
            return [f"refused: {', '.join(refused.codes)}: {refused}"]
        missing = [code for code in case.problem if code not in refused.codes]
        return [f"refused with {', '.join(refused.codes)}, not with {', '.join(missing)}"] if missing else []
    if case.problem:
        return [f"the problem {', '.join(case.problem)} is expected, but the input was accepted"]
    wrong: list[str] = []
    for name, wanted in (case.expect or {}).items():
        if name not in outputs:
            wrong.append(f"there is no output {name}; there are {', '.join(sorted(outputs))}")
            continue
        try:
            difference = compare(name, outputs[name], wanted)
        except CaseFault as fault:
            difference = str(fault)
        if difference:
            wrong.append(difference)
    return wrong


def test_published(published_case: Case) -> None:
    wrong = check(published_case)
    assert not wrong, f"{published_case.file}: {published_case.id}:\n  " + "\n  ".join(wrong)


BROKEN = """
source: {title: Broken on purpose, provenance: closed-form}
cases:
  - {id: ok, call: evaluate, given: {formula: a + 1, with: {a: "1"}}, expect: {value: {value: 2}}}
  - {id: unknown-call, call: nothing-such, given: {a: "1"}, expect: {value: 2}}
  - {id: unknown-given, call: coverage_factor, given: {dof: 4, q: 1}, expect: {k: 2.78}}
  - {id: unknown-expect, call: coverage_factor, given: {dof: 4}, expect: {kk: 2.78}}
  - {id: wrong-value, call: coverage_factor, given: {dof: 4}, expect: {k: 2.79}}
  - {id: wrong-unit, call: expand, given: {u: 1 V}, expect: {U: {value: 1.96, unit: V, within: 0.01 A}}}
  - {id: no-expect, call: coverage_factor, given: {dof: 4}}
  - {id: accepted, call: parse_quantity, given: {text: 3 V}, problem: quantity.comma}
  - {id: other-problem, call: parse_quantity, given: {text: "3,4 V"}, problem: quantity.unit}
  - {id: unknown-key, call: coverage_factor, given: {dof: 4}, expect: {k: 2.78}, skip: yes}
  - {id: unknown-method, call: voltage-decay/99, given: {a: 1}, expect: {k: 2.78}}
  - {id: unknown-reading, call: insulation-tester/1, given: {colour: red}, expect: {k: 2.78}}
"""

FOREIGN = """
source: {title: Written by somebody else, provenance: closed-form}
cases:
  - {id: met, call: coverage_factor, given: {dof: 4}, expect: {k: 2.78}}
  - {id: name, call: coverage_facto, given: {dof: 4}, expect: {k: 2.78}}
  - {id: mapping, call: coverage_factor, given: {dof: {a: 4}}, expect: {k: 2.78}}
  - {id: heard, provenance: heard, call: coverage_factor, given: {dof: 4}, expect: {k: 2.78}}
  - {id: inputs, call: propagate, given: {model: a + b, inputs: 3}, expect: {value: 5}}
  - {id: step, call: voltage-decay/1, given: {time: {from: 0, to: 1}, voltage: [3]}, expect: {time-to-safe-voltage: 1}}
  - {id: long, call: voltage-decay/1, given: {time: {from: 0, to: 1e9, step: 1e-3}}, expect: {time-to-safe-voltage: 1}}
  - {id: bare, call: capacitor_energy, given: {capacitance: [1 F, x], voltage: [1 V]}, expect: {energy: 1}}
"""
SAID = {
    "met": "",
    "name": "no call is named 'coverage_facto'",
    "mapping": "given: {'a': '4'} is no number",
    "heard": "no provenance is called 'heard'",
    "inputs": "inputs: a mapping of names is asked for",
    "step": "time: a column is a list",
    "long": "1000000000001 rows",
    "bare": "differ in length",
}


def test_what_is_wrong_with_a_foreign_case_is_said(tmp_path: Path) -> None:
    """One file, as `--cases FILE` takes it. Each message names what is wrong; none is a stop of the program."""
    file = tmp_path / "foreign.yaml"
    file.write_text(FOREIGN, encoding="utf-8")
    said = {case.id: "; ".join(check(case)) for case in load_cases(file)}
    assert set(said) == set(SAID)
    assert not said.pop("met") and not [(id, text) for id, text in said.items() if SAID[id] not in text]
    assert "there is no folder and no file" in check(load_cases(tmp_path / "nowhere")[0])[0]


def test_the_run_ends_with_counts_by_source_and_provenance(tmp_path: Path) -> None:
    """As it is run by hand, on a file of somebody else: in this process, and in a worker's."""
    file = tmp_path / "foreign.yaml"
    file.write_text(FOREIGN, encoding="utf-8")
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", f"{__file__}::test_published"]
    for more in ([], ["-n", "1"]):
        done = subprocess.run(
            [*command, "--cases", str(file), *more],
            capture_output=True,
            text=True,
            cwd=Path(__file__).parents[2],
            check=False,
        )
        assert done.returncode == 1
        assert "   1 of    8 met: Written by somebody else" in done.stdout
        assert "1 of 8 published cases met, from 1 sources: 7 closed-form, 1 unreadable" in done.stdout


def test_a_wrong_case_never_counts_as_met(tmp_path: Path) -> None:
    (tmp_path / "broken.yaml").write_text(BROKEN, encoding="utf-8")
    assert [case.id for case in load_cases(tmp_path) if not check(case)] == ["ok"]


@pytest.mark.parametrize(
    "text", ["", "source: 3\n", "cases: []\n", "source: {title: x, provenance: seen}\ncases: []\n", "a: [\n"]
)
def test_a_file_without_cases_is_a_failure(tmp_path: Path, text: str) -> None:
    (tmp_path / "file.yaml").write_text(text, encoding="utf-8")
    assert all(check(case) for case in load_cases(tmp_path))


def test_an_empty_folder_is_a_failure(tmp_path: Path) -> None:
    assert [bool(check(case)) for case in load_cases(tmp_path)] == [True]


def test_the_readme_names_every_call_and_method() -> None:
    """Written anew by `python -m tests.published.readme`."""
    text = README.read_text(encoding="utf-8")
    assert with_table(text) == text, "run: python -m tests.published.readme"
    assert not [name for name in CALLS if f"`{name}`" not in text]


def test_every_method_is_called_by_a_case_of_ours() -> None:
    called = {case.call for case in load_cases(README.parent / "cases")}
    assert not set(METHODS) - called
