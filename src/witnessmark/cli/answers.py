"""A file of answers: for scripts, and for sheets that were filled in on paper and are typed in one go."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from witnessmark.problems import Misuse, Place, Problem
from witnessmark.reading.yamltree import Node, read_tree
from witnessmark.recording.questions import Answer

__all__ = ["Answers", "read_answers"]

ABOUT = ("format", "vehicle", "what", "by", "sheet", "each")
"""Keys that say what the answers are for; all others are answers."""
MOST_BYTES = 1_000_000


@dataclass(frozen=True, slots=True)
class Answers:
    """The answers by key (`reading.ub`), those of single parts by part, and where each stands."""

    path: str
    about: Mapping[str, str]
    common: Mapping[str, Answer]
    each: Mapping[str, Mapping[str, Answer]] = field(default_factory=dict)
    places: Mapping[str, Place] = field(default_factory=dict)

    def of(self, part: str) -> dict[str, Answer]:
        """The answers for one part: its own, and those that hold for all. Who sits there is who did it."""
        return {k: v for k, v in self.about.items() if k == "by"} | dict(self.common) | dict(self.each.get(part, {}))

    def places_of(self, part: str) -> dict[str, Place]:
        own = {k.removeprefix(f"{part}\0"): p for k, p in self.places.items() if k.startswith(f"{part}\0")}
        return {**{k: p for k, p in self.places.items() if "\0" not in k}, **own}


def read_answers(file: Path) -> Answers:
    """Read the file; Misuse with its place where it cannot be read."""
    try:
        with file.open("rb") as stream:
            data = stream.read(MOST_BYTES + 1)
    except OSError as fault:
        raise Misuse(
            Problem("answers.file", f"'{file}' cannot be read: {fault.strerror}", "give the path of the file")
        ) from None
    if len(data) > MOST_BYTES:
        raise Misuse(
            Problem("answers.size", f"'{file}' is larger than {MOST_BYTES} bytes", "answers are a page of text")
        )
    tree = read_tree(data, file.name)
    if isinstance(tree, Problem):
        raise Misuse(tree)
    content = tree.content
    if not isinstance(content, Mapping):
        raise Misuse(
            Problem(
                "answers.form", "answers are keys with values, such as tester: jm", "see the README", Place(file.name)
            )
        )
    about: dict[str, str] = {}
    common: dict[str, Answer] = {}
    each: dict[str, dict[str, Answer]] = {}
    places: dict[str, Place] = {}
    for key, (_, value) in content.items():
        if key == "each" and isinstance(value.content, Mapping):
            for part, (_, inner) in value.content.items():
                each[part] = {}
                _flatten(inner, "", each[part], places, file.name, f"{part}\0")
        elif key in ABOUT and isinstance(value.content, str):
            about[key] = value.content
            places[key] = _place(value, file.name)
        else:
            _flatten(value, key, common, places, file.name, "")
    if about.pop("format", "1") != "1":
        raise Misuse(Problem("answers.format", "this version reads format: 1", "write format: 1", places.get("format")))
    return Answers(file.name, about, common, each, places)


def _place(node: Node, name: str) -> Place:
    return Place(name, node.line, node.column)


def _flatten(node: Node, key: str, found: dict[str, Answer], places: dict[str, Place], name: str, lead: str) -> None:
    content = node.content
    if isinstance(content, Mapping):
        for inner, (_, value) in content.items():
            _flatten(value, f"{key}.{inner}" if key else inner, found, places, name, lead)
        return
    places[lead + key] = _place(node, name)
    if isinstance(content, str):
        found[key] = content
    else:
        found[key] = tuple(item.content for item in content if isinstance(item.content, str))
