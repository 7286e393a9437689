"""Every command, every file and every answer of the manual's pages, in the order of each page.

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

from witnessmark.cli.main import COMMANDS, help_of

from .pages import ENTER, Followed, boxes, follow, loose, mentioned, pages, start_of

FIRST, BY_HAND = "first-vehicle.md", "by-hand.md"
APART = (FIRST, BY_HAND, "sets.md")
"""Followed by tests of their own."""
WITH_COMMANDS = [page for page in pages() if any(box.kind == "sh" for box in boxes(page))]


@pytest.fixture(scope="module", params=[FIRST, BY_HAND])
def followed(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory, home: Path) -> Followed:
    return follow(request.param, tmp_path_factory.mktemp("tutorial"), home)


def _all_did_what_the_page_says(one: Followed) -> None:
    for (line, ran, _), ends in zip(one.said, one.ends, strict=True):
        expected = ends if ends is not None else 1 if line.startswith("witnessmark audit") else 0
        assert ran.status == expected, f"{line}\n{ran.out}{ran.err}"


@pytest.mark.parametrize("page", [page for page in WITH_COMMANDS if page not in APART])
def test_every_command_of_the_other_pages_runs(page: str, tmp_path: Path, home: Path) -> None:
    one = follow(page, tmp_path, home)
    assert one.said
    _all_did_what_the_page_says(one)


@pytest.mark.parametrize("page", pages())
def test_no_page_has_a_command_that_no_test_runs(page: str) -> None:
    """Boxes of kind `sh` are run above; a command in any other box is one that nobody runs."""
    assert loose(page) == []
    if page in WITH_COMMANDS and page not in (FIRST, BY_HAND):
        assert start_of(page) != ("", ""), "say to the tests where the page begins: <!-- after: first-vehicle.md -->"


@pytest.mark.parametrize("page", pages())
def test_commands_in_running_text_exist_with_their_options(page: str) -> None:
    known = dict(COMMANDS)
    for line in mentioned(page):
        words = shlex.split(line)
        assert words[1] in known, line
        told = help_of(words[1], known[words[1]], 96)
        for option in (word.partition("=")[0] for word in words if word.startswith("--")):
            assert option in told, line


def test_the_pages_have_commands_and_files() -> None:
    assert sum(box.kind == "sh" for box in boxes(FIRST)) >= 10
    assert sum(box.kind == "typed" for box in boxes(FIRST)) >= 7
    assert sum(box.kind == "sh" for box in boxes(BY_HAND)) >= 6
    assert sum(box.kind == "yaml" for box in boxes(BY_HAND)) >= 6


def test_every_command_does_what_the_page_says(followed: Followed) -> None:
    _all_did_what_the_page_says(followed)


def test_bonding_goes_from_not_shown_to_conforms(followed: Followed) -> None:
    audits = [ran.out for line, ran, _ in followed.said if " audit " in line]
    if any(" change " in line for line, _, _ in followed.said):
        assert followed.states == ["not shown", "conforms", "lapsed"]
        (change,) = [ran for line, ran, _ in followed.said if " change " in line]
        assert "conforms → lapsed" in change.out
        (measured,) = [ran for line, ran, _ in followed.said if "record car-01 bonding-resistance" in line]
        assert measured.out.count("needs less than 0.1 Ω: PASS") == 2
    else:
        assert followed.states == ["not shown", "not shown", "conforms"]
        assert "1 of 2 are shown. There is no record for DC/DC converter." in audits[1]


def test_the_file_is_released(followed: Followed) -> None:
    released = any(" freeze " in line for line, _, _ in followed.said)
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
        found = boxes(page)
        for number, box in enumerate(found):
            if box.kind != "sh":
                continue
            where = shop if shop.exists() else base
            line = box.text.strip().replace("witnessmark", command, 1)
            tmux("send-keys", "-t", session, "-l", f"clear; cd {where}; {line}; echo done-$?-{number}")
            tmux("clear-history", "-t", session)
            tmux("send-keys", "-t", session, "Enter")
            if number + 1 < len(found) and found[number + 1].kind == "typed":
                pairs = [row.split(" → ") for row in found[number + 1].text.splitlines()]
                seen: Counter[str] = Counter()
                for question, answer in pairs:
                    seen[question] += 1
                    wait_for(question, seen[question])
                    time.sleep(0.05)
                    tmux("send-keys", "-t", session, *([] if answer == ENTER else ["-l", answer]))
                    tmux("send-keys", "-t", session, "Enter")
            wait_for(f"done-{1 if ' audit ' in box.text else 0}-{number}", 1)
        return tmux("capture-pane", "-p", "-t", session)
    finally:
        tmux("kill-session", "-t", session)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as name:
        sys.stdout.write(in_a_terminal(FIRST, Path(name)))
