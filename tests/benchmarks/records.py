"""A generated workshop of any size: one vehicle, one small set, many sealed inspections. For benchmarks only."""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from witnessmark.records.base import CODE_ALPHABET
from witnessmark.records.canonical import content_digest, digest_of

ROOT = Path(__file__).parents[2]
PARTS = 500


def code_of(number: int) -> str:
    """A code for each number."""
    letters = ""
    for _ in range(6):
        number, rest = divmod(number, len(CODE_ALPHABET))
        letters = CODE_ALPHABET[rest] + letters
    return letters


def _yaml(tree: Any, indent: int = 0) -> str:
    pad = "  " * indent
    lines = []
    for key, value in tree.items():
        if isinstance(value, Mapping) and value:
            lines.append(f"{pad}{key}:\n{_yaml(value, indent + 1)}")
        elif isinstance(value, list):
            lines.append(f"{pad}{key}: [" + ", ".join(f'"{v}"' for v in value) + "]")
        elif isinstance(value, Mapping):
            lines.append(f"{pad}{key}: {{}}")
        else:
            lines.append(f'{pad}{key}: "{value}"')
    return "\n".join(lines)


def sealed(tree: dict[str, Any], **seal: Any) -> str:
    """The text of an act with its seal."""
    document = {**tree, "seal": {"on": "2026-03-02T18:00+01:00", "by": "jm", **seal}}
    document["seal"]["content"] = content_digest(document)
    return _yaml(document) + "\n"


def write_workshop(folder: Path, count: int) -> None:
    """`count` sealed records of about 800 bytes each, spread over the parts of one vehicle."""
    evidence, requirements = folder / "evidence", folder / "requirements"
    vehicle = evidence / "vehicles" / "car-01"
    for made in (vehicle / "records", vehicle / "facts", evidence / "people", requirements / "small" / "editions"):
        made.mkdir(parents=True)
    shutil.copy(ROOT / "requirements" / "facts.yaml", requirements / "facts.yaml")
    (evidence / "workshop.yaml").write_text(
        "format: 1\nname: Generated\nplace: nowhere\nzone: UTC\n"
        "demonstration: {as_of: 2026-11-24, notice: generated for a benchmark}\n",
        encoding="utf-8",
    )
    (evidence / "people" / "jm.yaml").write_text("format: 1\nname: J. Marram\nrole: fitter\n", encoding="utf-8")
    (vehicle / "vehicle.yaml").write_text(
        'format: 1\ntitle: Generated car\nfile_number: "G-01"\nissue: A\n', encoding="utf-8"
    )
    requirement = {
        "id": "barriers",
        "clause": "1",
        "title": "Barriers",
        "statement": "Barriers stay shut.",
        "source": {"confidence": "own"},
        "each": {"part": "cover"},
        "leaves": {"shut": {"inspect": "the cover stays shut"}},
        "shown": "shut",
    }
    (requirements / "small" / "set.yaml").write_text(
        "format: 1\ntitle: Small\nshort: S\nnote: generated\n", encoding="utf-8"
    )
    (requirements / "small" / "area.yaml").write_text(
        "format: 1\narea: one\ntitle: One\norder: 1\nrequirements:\n  -\n" + _yaml(requirement, 2) + "\n",
        encoding="utf-8",
    )
    edition = {
        "format": "1",
        "code": code_of(count + 10),
        "edition": "1",
        "set": "small",
        "count": "1",
        "requirements": {"barriers": digest_of(requirement)},
        "issued": "2026-01-02",
        "by": "jm",
    }
    (requirements / "small" / "editions" / "1.yaml").write_text(sealed(edition), encoding="utf-8")
    names = [f"cover-{n}" for n in range(min(PARTS, count))]
    facts = {
        "format": "1",
        "code": code_of(count + 11),
        "stated": "2026-03-01T10:00+01:00",
        "by": "jm",
        "facts": {"requirement_sets": {"value": ["small"], "source": "order"}},
        "parts": {"cover": {"source": "drawing 1", "list": {n: {"title": f"Cover {n}"} for n in names}}},
    }
    (vehicle / "facts" / "first.yaml").write_text(sealed(facts, vehicle={"id": "car-01"}), encoding="utf-8")
    for number in range(count):
        record = {
            "format": "1",
            "code": code_of(number),
            "shows": {"barriers/shut": {"finding": "meets", "seen": "four screws, all tight " * 6}},
            "part": names[number % len(names)],
            "performed": f"2026-03-02T{8 + number % 9:02}:{number % 60:02}+01:00",
            "by": {"tester": "jm"},
            "place": "bay 2",
            "conditions": {"contactors": "parted", "air": "18 °C"},
            "note": "torque marks painted after the check, one photograph of the whole row in the shop book",
        }
        text = sealed(record, vehicle={"id": "car-01"}, found={"barriers/shut/meets": "pass"})
        (vehicle / "records" / f"{number:05}.yaml").write_text(text, encoding="utf-8")
