"""Writes the editions of the shipped sets, unsealed: the digest of every requirement as it stands in its file.

    python -m tests.demonstration.write_editions

Run it, then `reseal`, whenever a shipped set has changed.
"""

from __future__ import annotations

from pathlib import Path

from tests.sets.loading import ROOT, SET_FOLDERS, tree_of
from witnessmark.records.canonical import digest_of

ISSUED = "2026-01-05"


def edition(folder: Path) -> str:
    """The text of one edition, areas in their order."""
    files = [tree_of(p) for p in sorted(folder.glob("*.yaml")) if p.name != "set.yaml"]
    digests = {
        r["id"]: digest_of(r) for area in sorted(files, key=lambda a: int(a["order"])) for r in area["requirements"]
    }
    head = f"format: 1\nedition: 2026-1\nset: {folder.name}\ncount: {len(digests)}\nrequirements:\n"
    body = "".join(f"  {ident}: {digest}\n" for ident, digest in digests.items())
    return f"{head}{body}issued: {ISSUED}\nby: shipped\n"


def main() -> None:
    for folder in SET_FOLDERS:
        path = folder / "editions" / "2026-1.yaml"
        path.parent.mkdir(exist_ok=True)
        path.write_text(edition(folder), encoding="utf-8")
        print(path.relative_to(ROOT))  # noqa: T201 - this is a command


if __name__ == "__main__":
    main()
