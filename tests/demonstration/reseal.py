"""Seals the whole demonstration anew, act by act in order of time, from `seals.yaml`.

Each act is sealed in the world of the acts before it, as `record` would have done at that moment. Run it after any
change of the demonstration's acts or of the requirement sets; what does not change keeps its bytes.

    PYTHONPATH=src:. python -m tests.demonstration.reseal
"""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

from witnessmark.problems import Misuse
from witnessmark.reading.acts import read_act
from witnessmark.reading.workshop import Reading, read_everything
from witnessmark.reading.yamltree import Node, as_text, read_tree
from witnessmark.recording.atomic import write_atomically
from witnessmark.recording.roundtrip import with_keys
from witnessmark.recording.seal import seal, unsealed

__all__ = ["reseal", "sealings"]

ROOT = Path(__file__).parents[2]


def sealings(file: Path) -> list[dict[str, str]]:
    """The rows of `seals.yaml`, in order: path, code, on, by."""
    root = read_tree(file.read_bytes(), file.name)
    assert isinstance(root, Node), root
    rows: Any = as_text(root)
    return sorted((dict(row) for row in rows), key=lambda row: (datetime.fromisoformat(row["on"]), row["path"]))


def reseal(root: Path, rows: Sequence[Mapping[str, str]]) -> int:
    """Seal every act that `rows` names in the folder `root`; gives how many files changed. Raises Misuse."""
    before = {row["path"]: (root / row["path"]).read_bytes() for row in rows}
    for row in rows:
        path = row["path"]
        data = before[path]
        text = read_act(data, path)
        if text.sealed or text.body is None or text.body.files:
            data = unsealed(data, path)
        if text.code is None:
            data = with_keys(data, path, {"code": row["code"]}, after={"code": "format"})
        write_atomically(root / path, data)
    changed = 0
    for row in rows:
        path = row["path"]
        reading = read_everything(root, look=False)
        if not isinstance(reading, Reading):
            raise Misuse(*reading.problems)
        on = datetime.fromisoformat(row["on"])
        done = seal(reading, path, on=on, by=row["by"], now=reading.workshop.as_of, code=row["code"])
        write_atomically(root / path, done.data)
        changed += done.data != before[path]
    return changed


def main() -> int:
    rows = sealings(Path(__file__).with_name("seals.yaml"))
    try:
        changed = reseal(ROOT, rows)
    except Misuse as misuse:
        for problem in misuse.problems:
            print(f"{problem.place}: {problem.message}; {problem.remedy}", file=sys.stderr)  # noqa: T201 - a command
        return 2
    print(f"{len(rows)} acts sealed, {changed} files changed")  # noqa: T201 - a command
    return 0


if __name__ == "__main__":
    sys.exit(main())
