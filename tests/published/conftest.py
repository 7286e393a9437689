"""Published cases as tests: one test for each case of a folder, and a count by source and provenance at the end."""

from __future__ import annotations

from collections import Counter
from collections.abc import Generator
from pathlib import Path

import pytest

from tests.published.casefile import Case, load_cases

_HERE = Path(__file__).parent
_PUBLISHED = "published"
"""Name of the property of a report that holds file, source and provenance of its case."""


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--cases",
        default=None,
        metavar="PATH",
        help="run the published cases of this folder, or file, instead of our own",
    )


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    if "published_case" in metafunc.fixturenames:
        given = metafunc.config.getoption("--cases", default=None)
        cases = load_cases(Path(given) if given else _HERE / "cases")
        metafunc.parametrize("published_case", cases, ids=[case.id for case in cases])


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item, call: pytest.CallInfo[None]
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    callspec = getattr(item, "callspec", None)
    case = callspec.params.get("published_case") if callspec is not None else None
    if isinstance(case, Case) and call.when == "setup":
        # In the report, not in this process: with several workers the counting is done elsewhere.
        item.user_properties.append((_PUBLISHED, (case.source or case.file, case.provenance or "unreadable")))
    report = yield
    if isinstance(case, Case) and report.skipped:  # a case that does not run shows nothing
        report.outcome = "failed"
        report.longrepr = f"{case.id} was skipped; a published case has to run"
    return report


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    run = [
        (*value, report.passed)
        for outcome in ("passed", "failed", "error")
        for report in terminalreporter.stats.get(outcome, [])
        for name, value in report.user_properties
        if name == _PUBLISHED
    ]
    if not run:
        return
    terminalreporter.section("published cases")
    sources: dict[str, list[bool]] = {}
    for source, _, passed in run:
        sources.setdefault(source, []).append(passed)
    for source, met in sorted(sources.items()):
        terminalreporter.write_line(f"{sum(met):4d} of {len(met):4d} met: {source}")
    counts = Counter(provenance for _, provenance, _ in run)
    words = ", ".join(f"{n} {provenance}" for provenance, n in sorted(counts.items()))
    whole = sum(passed for _, _, passed in run)
    terminalreporter.write_line(f"{whole} of {len(run)} published cases met, from {len(sources)} sources: {words}")
