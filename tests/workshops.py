"""Small invented workshops on disk, for tests of what reads, checks and writes them. Everything in them is made up."""

from __future__ import annotations

import hashlib
import os
import subprocess
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from witnessmark.reading.yamltree import Node, as_text, read_tree
from witnessmark.recording.roundtrip import with_keys
from witnessmark.records.canonical import content_digest

__all__ = ["FILES", "RECORD", "commit_all", "make", "seal_by_hand"]

RECORD = """\
format: 1
shows:
  isolation/value: {}
part: traction-bus
performed: 2026-10-14T16:20+02:00
by: {tester: jm}
method: insulation-tester/1
instruments: {tester: mega-01}
conditions: {}
readings:
  test_voltage: 500 V
  resistance: 5.2 MΩ
"""

FILES: Mapping[str, str] = {
    "evidence/workshop.yaml": "format: 1\nname: Test yard\nplace: Nowhere\nzone: Europe/Stockholm\n",
    "evidence/people/jm.yaml": "format: 1\nname: J. Marram\nrole: electrician\n",
    "evidence/people/ao.yaml": "format: 1\nname: A. Orchis\nrole: engineer\n",
    "evidence/instruments/mega-01/instrument.yaml": (
        "format: 1\ntitle: Insulation tester\nserial: M-1\nfunctions: [insulation-resistance]\n"
    ),
    "evidence/vehicles/van-07/vehicle.yaml": "format: 1\ntitle: A van\nfile_number: SEC-07\nissue: A\n",
    "evidence/vehicles/van-07/facts/first.yaml": (
        "format: 1\n"
        "facts:\n"
        "  vin: {value: SAMPLE7VAN0000007, source: stamped plate}\n"
        "  working_voltage: {value: 403.2 V, source: data sheet of the cell}\n"
        "parts:\n"
        "  hv-bus:\n"
        "    source: wiring diagram\n"
        "    list:\n"
        "      traction-bus: {title: Traction bus}\n"
        "stated: 2026-10-01T09:00+02:00\n"
        "by: jm\n"
    ),
    "requirements/facts.yaml": (
        "format: 1\n"
        "facts:\n"
        "  vin: {title: VIN, ask: Which number?, why: Records name it., text: yes}\n"
        "  working_voltage: {title: working voltage, ask: How high?, why: So., unit: V, lowest: 0, highest: 1500}\n"
        "  charging: {title: charging, ask: How?, why: Other rules., choices: {ac: mains, none: not at all}}\n"
    ),
    "requirements/mini/set.yaml": "format: 1\ntitle: A small set\nshort: Mini\nnote: Invented for tests.\n",
    "requirements/mini/bus.yaml": (
        "format: 1\n"
        "area: bus\n"
        "title: The bus\n"
        "order: 1\n"
        "requirements:\n"
        "  - id: isolation\n"
        '    clause: "1.1"\n'
        "    title: Isolation of the bus\n"
        "    statement: The bus is isolated from the chassis.\n"
        "    source: {confidence: from-memory}\n"
        "    each: {part: hv-bus}\n"
        "    leaves:\n"
        "      value: {measure: isolation-resistance, criteria: {full: {at_least: 1 MΩ}}}\n"
        "      picture: {photograph: the set-up}\n"
        "    shown: {all: [value, picture]}\n"
    ),
}


def make(root: Path, changed: Mapping[str, str | bytes | None] | None = None) -> Path:
    """The workshop in a folder; `changed` adds or replaces files, None leaves one out."""
    files: dict[str, str | bytes | None] = {**FILES, **(changed or {})}
    for path, content in files.items():
        if content is None:
            continue
        target = root / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(content.encode() if isinstance(content, str) else content)
    return root


def seal_by_hand(
    draft: str,
    code: str,
    *,
    on: str = "2026-10-14T18:00+02:00",
    by: str = "jm",
    vehicle: str | None = "van-07",
    files: Iterable[tuple[str, bytes]] = (),
    found: Mapping[str, str] | None = None,
) -> str:
    """A draft with a code, the digests of its files and a seal: what the tool writes, without what it computes."""
    added: dict[str, Any] = {"code": code}
    rows = [{"name": n, "bytes": len(data), "sha256": hashlib.sha256(data).hexdigest()} for n, data in files]
    if rows:
        added["files"] = rows
    seal: dict[str, Any] = {"on": on, "by": by}
    if vehicle is not None:
        seal["vehicle"] = {"id": vehicle}
    if found:
        seal["found"] = dict(found)
    whole = with_keys(draft.encode(), "draft", added, after={"code": "format"})
    root = read_tree(with_keys(whole, "draft", {"seal": seal}), "draft")
    assert isinstance(root, Node)
    tree = as_text(root)
    assert isinstance(tree, dict)
    return with_keys(whole, "draft", {"seal": {**seal, "content": content_digest(tree)}}).decode()


def commit_all(root: Path, message: str = "work", *, when: str = "2026-10-15T08:00:00+02:00") -> str:
    """Commit everything in the folder, making the repository first if need be; gives the commit's id."""
    environment = {
        "PATH": os.environ["PATH"],
        "HOME": str(root),
        "GIT_CONFIG_NOSYSTEM": "1",
        "GIT_CONFIG_GLOBAL": os.devnull,
        **{f"GIT_{role}_{key}": value for role in ("AUTHOR", "COMMITTER") for key, value in (
            ("NAME", "Test"), ("EMAIL", "test@example.invalid"), ("DATE", when))},
    }  # fmt: skip

    def git(*arguments: str) -> str:
        done = subprocess.run(
            ["git", *arguments], cwd=root, env=environment, check=True, capture_output=True, text=True
        )
        return done.stdout.strip()

    if not (root / ".git").exists():
        git("init", "--quiet", "--template=", "--initial-branch=main")
    git("add", "--all", "--force")
    git("commit", "--quiet", "--allow-empty", "-m", message)
    return git("rev-parse", "HEAD")
