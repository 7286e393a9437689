"""Every command, every file and every answer of the two tutorials, in the order of their pages.

`python -m tests.job.test_tutorial` types the first page into a real terminal (tmux), where one is there.
"""

from __future__ import annotations

import shlex
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

import pytest

from .pages import ENTER, Followed, blocks, follow

FIRST, BY_HAND = "first-vehicle.md", "by-hand.md"


def _state(audit: str) -> str:
    """How bonding stands in the list of an audit."""
    (row,) = [line for line in audit.splitlines() if "UN R100" in line and line.endswith("  Bonding resistance")]
    return row.strip().partition("  ")[0]


def _states(followed: Followed) -> list[str]:
    return [_state(ran.out) for line, ran in followed.said if line.split()[1] == "audit"]


@pytest.fixture(scope="module", params=[FIRST, BY_HAND])
def followed(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory, home: Path) -> Followed:
    return follow(request.param, tmp_path_factory.mktemp("tutorial"), home)


def test_the_pages_have_commands_and_files() -> None:
    assert sum(kind == "sh" for kind, _ in blocks(FIRST)) >= 10
    assert sum(kind == "typed" for kind, _ in blocks(FIRST)) >= 7
    assert sum(kind == "sh" for kind, _ in blocks(BY_HAND)) >= 6
    assert sum(kind == "yaml" for kind, _ in blocks(BY_HAND)) >= 6


def test_every_command_does_what_the_page_says(followed: Followed) -> None:
    for line, ran in followed.said:
        assert ran.status == (1 if " audit " in line else 0), f"{line}\n{ran.out}{ran.err}"


def test_bonding_goes_from_not_shown_to_conforms(followed: Followed) -> None:
    audits = [ran.out for line, ran in followed.said if " audit " in line]
    if any(" change " in line for line, _ in followed.said):
        assert _states(followed) == ["not shown", "conforms", "lapsed"]
        (change,) = [ran for line, ran in followed.said if " change " in line]
        assert "conforms → lapsed" in change.out
        (measured,) = [ran for line, ran in followed.said if "record car-01 bonding-resistance" in line]
        assert measured.out.count("needs less than 0.1 Ω: PASS") == 2
    else:
        assert _states(followed) == ["not shown", "not shown", "conforms"]
        assert "1 of 2 are shown. There is no record for DC/DC converter." in audits[1]


def test_the_file_is_released(followed: Followed) -> None:
    released = any(" freeze " in line for line, _ in followed.said)
    assert (followed.folder / "builds/car-01/A/technical-file.pdf").is_file() is released


def in_a_terminal(page: str, base: Path) -> str:
    """The page typed into a terminal, each answer when its question stands there; what the last command said."""
    session, shop = f"witnessmark-{base.name}", base / "shop"

    def tmux(*words: str) -> str:
        return subprocess.run(["tmux", *words], check=True, capture_output=True, text=True).stdout

    def shown() -> str:
        return " ".join(tmux("capture-pane", "-p", "-J", "-t", session, "-S", "-3000").split())

    def wait_for(words: str, times: int = 1) -> None:
        end = time.monotonic() + 120
        while shown().count(" ".join(words.split())) < times:
            assert time.monotonic() < end, f"never shown: {words}\n{shown()[-2000:]}"
            time.sleep(0.05)

    command = f"{shlex.quote(sys.executable)} -m witnessmark"
    tmux("new-session", "-d", "-s", session, "-x", "200", "-y", "50", "-c", str(base))
    try:
        found = blocks(page)
        for number, (kind, text) in enumerate(found):
            if kind != "sh":
                continue
            where = shop if shop.exists() else base
            line = text.strip().replace("witnessmark", command, 1)
            tmux("send-keys", "-t", session, "-l", f"clear; cd {where}; {line}; echo done-$?-{number}")
            tmux("clear-history", "-t", session)
            tmux("send-keys", "-t", session, "Enter")
            if number + 1 < len(found) and found[number + 1][0] == "typed":
                pairs = [row.split(" → ") for row in found[number + 1][1].splitlines()]
                seen: Counter[str] = Counter()
                for question, answer in pairs:
                    seen[question] += 1
                    wait_for(question, seen[question])
                    time.sleep(0.05)
                    tmux("send-keys", "-t", session, *([] if answer == ENTER else ["-l", answer]))
                    tmux("send-keys", "-t", session, "Enter")
            wait_for(f"done-{1 if ' audit ' in text else 0}-{number}", 1)
        return tmux("capture-pane", "-p", "-t", session)
    finally:
        tmux("kill-session", "-t", session)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as name:
        sys.stdout.write(in_a_terminal(FIRST, Path(name)))
