"""All readings of a release in one table: CSV that every spreadsheet takes and that starts nothing there."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator

from witnessmark.assessment.model import Assessment
from witnessmark.document.tables import defused
from witnessmark.records.acts import Record
from witnessmark.records.world import Workshop

__all__ = ["all_readings"]

HEAD = ("record", "vehicle", "design", "part", "performed", "tester", "method", "instruments", "shows", "reading",
        "repeat", "as written")  # fmt: skip


def all_readings(workshop: Workshop, assessment: Assessment) -> str:
    """Every reading of every sealed record that the vehicle's assessment looks at, by record and as written."""
    used = {r.act.code for s in assessment.requirements for p in s.parts for leaf in p.leaves for r in leaf.records}
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")  # RFC 4180, 2.1
    writer.writerow(HEAD)
    for act in sorted(workshop.acts, key=lambda a: a.code):
        body, seal = act.body, act.body.seal
        if not isinstance(body, Record) or seal is None:
            continue
        vehicle = seal.vehicle.id if seal.vehicle else ""
        if act.code not in used and vehicle != assessment.vehicle:
            continue
        about = (act.code, vehicle, body.design or "", body.part or "", body.performed.isoformat(),
                 body.by.get("tester") or "", body.method or "",
                 " ".join(f"{role}:{name}" for role, name in sorted(body.instruments.items())),
                 " ".join(sorted(body.shows)))  # fmt: skip
        for row in _readings(body):
            writer.writerow([defused(" ".join(cell.split())) for cell in (*about, *row)])
    return out.getvalue()


def _readings(record: Record) -> Iterator[tuple[str, str, str]]:
    for name, value in sorted(record.readings.items()):
        if isinstance(value, str):
            yield name, "", value
        else:
            yield from ((name, str(number), text) for number, text in enumerate(value, start=1))
