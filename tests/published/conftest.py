"""Published cases as tests: one test for each case of a folder, and a count by source and provenance at the end."""

from __future__ import annotations

from collections import Counter
from collections.abc import Generator
from pathlib import Path

import pytest

from tests.published.casefile import Case, load_cases

_HERE = Path(__file__).parent
_RUN = pytest.StashKey[list[tuple[Case, bool]]]()


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--cases", default=None, metavar="DIR", help="run the published cases of DIR instead of our own")


def pytest_configure(config: pytest.Config) -> None:
    config.stash[_RUN] = []


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    if "published_case" in metafunc.fixturenames:
        given = metafunc.config.getoption("--cases", default=None)
        cases = load_cases(Path(given) if given else _HERE / "cases")
        metafunc.parametrize("published_case", cases, ids=[case.id for case in cases])


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item, call: pytest.CallInfo[None]
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    report = yield
    callspec = getattr(item, "callspec", None)
    case = callspec.params.get("published_case") if callspec is not None else None
    if not isinstance(case, Case):
        return report
    if report.skipped:  # a case that does not run shows nothing
        report.outcome = "failed"
        report.longrepr = f"{case.id} was skipped; a published case has to run"
    if report.when == "call" or report.failed:
        item.config.stash.setdefault(_RUN, []).append((case, report.passed))
    return report


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    run = config.stash.get(_RUN, [])
    if not run:
        return
    terminalreporter.section("published cases")
    sources: dict[str, list[tuple[Case, bool]]] = {}
    for case, passed in run:
        sources.setdefault(case.source or case.file, []).append((case, passed))
    for source, rows in sorted(sources.items()):
        met = sum(passed for _, passed in rows)
        terminalreporter.write_line(f"{met:4d} of {len(rows):4d} met: {source}")
    counts = Counter(case.provenance or "unreadable" for case, _ in run)
    met = sum(passed for _, passed in run)
    words = ", ".join(f"{n} {provenance}" for provenance, n in sorted(counts.items()))
    terminalreporter.write_line(f"{met} of {len(run)} published cases met, from {len(sources)} sources: {words}")
