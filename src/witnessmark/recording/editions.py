"""The draft of a set's edition: the digest of every requirement as it stands in the folder, ready to be sealed."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from witnessmark.problems import Misuse, Place, Problem, Severity
from witnessmark.reading.set_linter import findings_in
from witnessmark.reading.workshop import Reading

from .roundtrip import plain_yaml

__all__ = ["edition_draft", "edition_tree"]


def edition_draft(reading: Reading, set_id: str, *, edition: str, issued: date, by: str) -> tuple[str, bytes]:
    """Path (from the root) and bytes of an unsealed edition of one set. Raises as `edition_tree`."""
    path, tree = edition_tree(reading, set_id, edition=edition, issued=issued, by=by)
    return path, plain_yaml({"format": 1, **tree}, path)


def edition_tree(
    reading: Reading, set_id: str, *, edition: str, issued: date, by: str, changes: Mapping[str, str] | None = None
) -> tuple[str, dict[str, Any]]:
    """Path (from the root) and text tree of an unsealed edition of one set, its requirements in the set's order.
    `changes` says why each requirement differs from the edition before.

    Raises Misuse for a set that there is not, that cannot be read whole, or whose edition of that name exists: an
    edition that leaves out what could not be read would take requirements away unseen. And for one in which something
    can never be shown, or would be shown wrongly.
    """
    known = reading.workshop.sets
    found = known.get(set_id)
    if found is None:
        raise Misuse(
            Problem(
                "set.unknown", f"there is no set '{set_id}'", f"the folder has {', '.join(sorted(known)) or 'none'}"
            )
        )
    folder = f"requirements/{set_id}/"
    faults = [p for p in reading.workshop.problems if p.place and p.place.file.startswith(folder)]
    if not faults:
        found_in = findings_in(reading.workshop, reading.folder.data)
        faults = [p for p in found_in if p.severity is Severity.PROBLEM and p.place and p.place.file.startswith(folder)]
    if faults:
        raise Misuse(*faults)
    path = f"{folder}editions/{edition}.yaml"
    if path in reading.folder.data:
        raise Misuse(
            Problem("set.edition-exists", f"the edition {edition} exists", "give the new one another name", Place(path))
        )
    rule = found.file.decision_rule
    tree: dict[str, Any] = {
        "edition": edition,
        "set": set_id,
        "count": len(found.digests),
        "requirements": dict(found.digests),
        **({"decision_rule": rule.model_dump(exclude_none=True)} if rule is not None else {}),
        **({"changes": dict(changes)} if changes else {}),
        "issued": issued.isoformat(),
        "by": by,
    }
    return path, tree
