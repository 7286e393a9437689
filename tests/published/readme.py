"""The table of methods in README.md, written from what the methods declare.

`python -m tests.published.readme` writes it anew; a test says when it is out of date.
"""

from __future__ import annotations

from pathlib import Path

from witnessmark.methods.base import InputSpec, Method
from witnessmark.methods.registry import METHODS, method

README = Path(__file__).parent / "README.md"
BEGIN, END = "<!-- methods: begin -->", "<!-- methods: end -->"


def _input(spec: InputSpec) -> str:
    text = f"{spec.name} [{spec.unit or ' | '.join(spec.choices)}]"
    if spec.repeats:
        text += " (list)"
    return text if spec.required else f"({text})"


def _row(found: Method) -> str:
    """One method: readings, facts, channels with options, measurands; what may be left out in brackets."""
    readings = ", ".join(_input(s) for s in sorted(found.inputs, key=lambda s: s.order)) or "none"
    facts = [
        f"{s.name} [{s.unit or 'word'}]" if s.required else f"({s.name} [{s.unit or 'word'}])" for s in found.facts
    ]
    lines = [f"- **`{found.id}`** {found.title}", f"  - readings: {readings}"]
    if facts:
        lines.append("  - facts: " + ", ".join(facts))
    if found.channels:
        channels = [f"{s.name} [{s.unit}]{' (mapping)' if s.many else ''}" for s in found.channels]
        lines.append("  - channels: " + ", ".join(channels))
    if found.options:
        options = [
            f"{s.name} [{s.unit}]" + (f" = {s.default:g}" if s.default is not None else "") for s in found.options
        ]
        lines.append("  - options: " + ", ".join(options))
    lines.append("  - gives: " + ", ".join(f"{s.name} [{s.unit}]" for s in found.measurands))
    return "\n".join(lines)


def table() -> str:
    """All methods, in the order of their ids."""
    found = [m for id in sorted(METHODS) if (m := method(id)) is not None]
    return "\n".join(_row(m) for m in found)


def with_table(text: str) -> str:
    """The README with its table as it has to be."""
    before, _, rest = text.partition(BEGIN)
    _, _, after = rest.partition(END)
    return f"{before}{BEGIN}\n{table()}\n{END}{after}"


if __name__ == "__main__":
    README.write_text(with_table(README.read_text(encoding="utf-8")), encoding="utf-8")
