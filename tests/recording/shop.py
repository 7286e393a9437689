"""A small invented workshop with a history, in which isolation can be recorded."""

from __future__ import annotations

import subprocess
from datetime import UTC, datetime
from pathlib import Path

from tests.workshops import FILES, commit_all, make, seal_by_hand

__all__ = ["BASE", "NOW", "PINNED", "RECORD_TREE", "git", "shop"]

BASE = "evidence/vehicles/van-07"
NOW = datetime(2026, 10, 15, 6, 0, tzinfo=UTC)

EDITION = "requirements/mini/editions/one.yaml"

POLICY = "format: 1\npolicy: {decision_rule: {rule: guarded}}\nin_force: 2026-01-12\nby: jm\n"
MAY = "format: 1\nauthorises: jm\nfor: [all]\nfrom: 2026-01-12\nuntil: 2026-12-31\nbasis: electrician\nby: ao\n"
CALIBRATED = (
    "format: 1\ncalibration: mega-01\non: 2026-02-10\ndue: {due}\ncertificate: FB-26-0204\n"
    "laboratory: Fulmar Bench Laboratory (invented)\nas_found: first\naccuracy:\n"
    "  - {{function: insulation-resistance, low: 0 MΩ, high: 20 GΩ, percent_of_reading: 3, digits: 2,\n"
    "     resolution: 0.01 MΩ}}\n"
    "traits: {{}}\nby: jm\n"
)

RECORD_TREE = {
    "shows": {"isolation/value": {}},
    "part": "traction-bus",
    "performed": "2026-10-14T16:20+02:00",
    "by": {"tester": "jm"},
    "method": "insulation-tester/1",
    "instruments": {"tester": "mega-01"},
    "readings": {"test_voltage": "500 V", "resistance": "5.2 MΩ"},
}


PINNED = FILES["evidence/workshop.yaml"] + (
    "demonstration: {as_of: 2026-10-15, notice: Invented for tests., history: consulted}\n"
)
"""The end of that day is the recorder's clock, whatever the real one says."""


def shop(root: Path, *, due: str = "2027-02-09", pinned: bool = False) -> Path:
    """Facts, sets, policy, authorisation and calibration are sealed and committed; no record yet."""
    from datetime import date

    from witnessmark.reading.workshop import Reading, read_everything
    from witnessmark.recording.editions import edition_draft

    early = "2026-10-01T10:00+02:00"
    facts = FILES[f"{BASE}/facts/first.yaml"].replace(
        "  working_voltage", "  requirement_sets: {value: [mini], source: order}\n  working_voltage"
    )
    sets = (
        FILES["requirements/facts.yaml"]
        + "  requirement_sets: {title: choice of requirement sets, ask: Which?, why: So., text: yes, several: yes}\n"
    )
    make(
        root,
        {
            "requirements/facts.yaml": sets,
            **({"evidence/workshop.yaml": PINNED} if pinned else {}),
            ".gitattributes": "* -text\n",
            f"{BASE}/facts/first.yaml": seal_by_hand(facts, "facts2", on=early),
            "evidence/policy/2026.yaml": seal_by_hand(POLICY, "pqwcy2", on=early, vehicle=None),
            "evidence/people/authorisations/jm.yaml": seal_by_hand(MAY, "may234", on=early, by="ao", vehicle=None),
            "evidence/instruments/mega-01/calibrations/2026.yaml": seal_by_hand(
                CALIBRATED.format(due=due), "cagbr2", on=early, vehicle=None
            ),
        },
    )
    reading = read_everything(root, use_cache=False)
    assert isinstance(reading, Reading)
    path, draft = edition_draft(reading, "mini", edition="one", issued=date(2026, 9, 1), by="jm")
    make(root, {path: seal_by_hand(draft.decode(), "edtn22", on=early, vehicle=None)} | dict.fromkeys(FILES))
    commit_all(root)
    return root


def git(root: Path, *arguments: str) -> str:
    """What git says; in nobody's name, so that it needs no settings of the user's."""
    somebody = ["-c", "user.name=Test", "-c", "user.email=test@example.invalid"]
    done = subprocess.run(["git", *somebody, *arguments], cwd=root, check=True, capture_output=True, text=True)
    return done.stdout.strip()
