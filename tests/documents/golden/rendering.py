"""From the small workshop's folder to the sources of its pages: reStructuredText, and the data of their blocks."""

from __future__ import annotations

import json
from pathlib import Path

from tests.sets.loading import tree_of
from witnessmark.assessment.assess import assess
from witnessmark.assessment.model import Assessment
from witnessmark.document.content import sources
from witnessmark.document.templates import render_templates
from witnessmark.reading.workshop import read_workshop
from witnessmark.records.canonical import digest_of
from witnessmark.records.world import Workshop
from witnessmark.shipped import shipped

__all__ = ["HERE", "KEPT", "WORKSHOP", "assessed", "edition", "rendered"]

HERE = Path(__file__).parent
WORKSHOP, KEPT = HERE / "workshop", HERE / "kept"
VEHICLE = "car-01"


def edition() -> None:
    """The edition of the small set, unsealed: the digest of every requirement as it stands in its file."""
    folder = WORKSHOP / "requirements" / "small"
    areas = sorted((tree_of(p) for p in folder.glob("*.yaml") if p.name != "set.yaml"), key=lambda a: int(a["order"]))
    digests = {r["id"]: digest_of(r) for area in areas for r in area["requirements"]}
    head = f"format: 1\nedition: one\nset: small\ncount: {len(digests)}\nrequirements:\n"
    body = "".join(f"  {ident}: {digest}\n" for ident, digest in digests.items())
    (folder / "editions" / "one.yaml").write_text(f"{head}{body}issued: 2026-01-05\nby: ao\n", encoding="utf-8")


def assessed() -> tuple[Workshop, Assessment]:
    """The folder as it is read and assessed."""
    workshop = read_workshop(WORKSHOP, use_cache=False)
    return workshop, assess(workshop, VEHICLE)


def rendered() -> dict[str, str]:
    """Every source by name: pages as Sphinx reads them, and the data of their blocks, one value a line."""
    made = sources(*assessed())
    pages = [{"template": template, "target": f"{name}.rst", "context": dict(c)} for template, name, c in made.pages]
    texts, problems = render_templates([shipped("templates")], pages)
    assert not problems, problems
    data = {
        n: json.dumps(json.loads(t), ensure_ascii=False, sort_keys=True, indent=1) + "\n" for n, t in made.data.items()
    }
    return {**texts, **data}
