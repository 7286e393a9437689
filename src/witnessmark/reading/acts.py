"""One file, one act: its model, its seal, and where the files that it names lie."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, cast

from pydantic import ValidationError

from witnessmark.problems import Place, Problem
from witnessmark.records.acts import (
    Answer,
    AnyAct,
    Event,
    Record,
    Release,
    RiskAnalysis,
    Seal,
    Sealable,
    Statement,
    act_model,
)
from witnessmark.records.base import CODE_ALPHABET
from witnessmark.records.canonical import content_digest

from .models import nearest, read_model
from .yamltree import Node, as_text, read_tree

__all__ = [
    "ActText",
    "as_far_as_legible",
    "folder_of_files",
    "owner_of",
    "place_in",
    "read_act",
    "vehicle_of",
]

_CODE = re.compile(f"[{CODE_ALPHABET}]{{6}}")
_TELLING = (
    "shows", "event", "withdraws", "carries_over", "checks", "calibration", "authorises", "concession", "policy",
    "edition", "revision", "facts", "parts", "release",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class ActText:
    """The text of one act, read from the tree or from history.

    `body` is None when it does not fit its model; `root` None when it is not even YAML. `digest` is that of its
    content, `sealed` whether it carries a seal (whatever the seal says), `holds` whether the seal is of this content.
    """

    path: str
    root: Node | None
    tree: Mapping[str, Any]
    body: AnyAct | None
    problems: tuple[Problem, ...]
    code: str | None
    sealed: bool
    digest: str
    holds: bool

    @property
    def seal(self) -> Seal | None:
        return self.body.seal if self.body is not None else None

    @property
    def place(self) -> Place:
        return Place(self.path, 1, 1)


def read_act(data: bytes, path: str) -> ActText:
    """The act in these bytes, with every fault in it; `path` is shown in problems."""
    root = read_tree(data, path)
    if isinstance(root, Problem):
        return ActText(path, None, {}, None, (root,), None, _looks_sealed(data), "", False)
    tree = as_text(root)
    if not isinstance(tree, dict):
        problem = Problem("act.form", "the file holds a list, but keys with values are needed",
                          "write lines such as `format: 1`", Place(path, root.line, root.column))  # fmt: skip
        return ActText(path, root, {}, None, (problem,), None, False, "", False)
    code = tree.get("code")
    sealed = "seal" in tree
    model = act_model(tree)
    if model is None:
        return ActText(path, root, tree, None, (_which_act(tree, root, path),), _code(code), sealed, "", False)
    body, problems = read_model(model, root, path, tree)
    digest = content_digest(tree, texts_only=True) if sealed else ""
    seal = tree.get("seal")
    stated = seal.get("content") if isinstance(seal, dict) else None
    holds = sealed and isinstance(stated, str) and _plain(stated) == _plain(digest)
    if sealed and body is not None and body.code is None:
        body = None
        problems = (
            Problem("act.no-code", "the file is sealed but has no code, so nothing can refer to it",
                    "take the seal out and seal it again; the tool writes the code", Place(path, 1, 1)),
        )  # fmt: skip
    return ActText(path, root, tree, cast("AnyAct | None", body), problems, _code(code), sealed, digest, holds)


def as_far_as_legible(act: ActText) -> ActText:
    """An act that does not fit its model, with a body from the keys that do: for finding the rest of its faults, and
    for nothing else. Without the keys that it must have it stays without a body."""
    model = act_model(act.tree)
    if act.body is not None or act.root is None or model is None:
        return act
    tree = dict(act.tree)
    while True:
        try:
            return replace(act, body=cast("AnyAct", model.model_validate(tree)))
        except ValidationError as error:
            wrong = {e["loc"][0] for e in error.errors() if e["loc"]} & set(tree)
            if not wrong:
                return act
            for key in wrong:
                del tree[str(key)]


def place_in(act: ActText, *steps: str | int, key: bool = False) -> Place:
    """The place of a value in the act's file, as far down as the steps lead; with `key` the key and not its value."""
    if act.root is None:
        return act.place
    from .yamltree import place_of

    return place_of(act.root, steps, "missing" if key else "value", act.path)


def owner_of(path: str) -> tuple[str, str]:
    """Whose folder a path under the root lies in: ("vehicle", id), ("design", id), or ("", "")."""
    parts = path.split("/")
    if len(parts) > 3 and parts[0] == "evidence" and parts[1] in ("vehicles", "designs"):
        return parts[1][:-1], parts[2]
    return "", ""


def vehicle_of(path: str) -> str | None:
    """The vehicle in whose folder a path lies, or None."""
    kind, name = owner_of(path)
    return name if kind == "vehicle" else None


def folder_of_files(body: Sealable, path: str) -> str:
    """The folder, from the root, that the paths in an act are relative to.

    A sealed act's files lie with the vehicle that its seal names, wherever the act itself was moved to.
    """
    kind, name = owner_of(path)
    seal = body.seal
    if seal is not None and seal.vehicle is not None and kind == "vehicle":
        return f"evidence/vehicles/{seal.vehicle.id}"
    return f"evidence/{kind}s/{name}" if kind else "evidence"


def belongs_to_a_vehicle(body: Sealable) -> bool:
    """Whether the act can only be about one vehicle and so lies in its folder."""
    if isinstance(body, Record):
        return body.design is None and body.seal is not None and body.seal.vehicle is not None
    return isinstance(body, Statement | Event | Answer | RiskAnalysis | Release)


def _plain(digest: str) -> str:
    return digest.removeprefix("sha256:")


def _code(value: object) -> str | None:
    return value if isinstance(value, str) and _CODE.fullmatch(value) else None


def _looks_sealed(data: bytes) -> bool:
    """For a file that cannot be read: whether a line of it begins with the seal's key."""
    return data.startswith(b"seal:") or b"\nseal:" in data


def _which_act(tree: Mapping[str, Any], root: Node, path: str) -> Problem:
    for key in tree:
        near = nearest(key, _TELLING, cutoff=0.75)
        if near is not None and isinstance(root.content, Mapping):
            node = root.content[key][0]
            return Problem("act.unknown", "the file does not say what it is: no key tells",
                           f"did you mean '{near}'?", Place(path, node.line, node.column, len(key)))  # fmt: skip
    return Problem(
        "act.unknown",
        "the file does not say what it is: no key tells",
        "a record has shows: …; other acts have event, withdraws, facts, parts, calibration, authorises, policy …",
        Place(path, root.line, root.column),
    )
