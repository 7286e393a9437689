"""Text trees become models, and what does not fit becomes problems in a person's words.

A validator's own messages never reach anybody: each kind of fault is worded here, with its place in the file, what was
written, and what to write. One cause gives one problem: a mistyped key is not also a missing one, and a value that fits
no branch of a union is not reported once per branch.
"""

from __future__ import annotations

import types
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Literal, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError

from witnessmark.problems import Place, Problem, in_order
from witnessmark.quantities import QuantityError
from witnessmark.records.base import Misfits

from .yamltree import Node, as_text, place_of

__all__ = ["nearest", "read_model"]

M = TypeVar("M", bound=BaseModel)

# Kinds that only say "another form was expected": in a union they are noise beside any other fault.
_FORM = frozenset(
    (
        "model_type", "dict_type", "tuple_type", "string_type", "dataclass_exact_type", "dataclass_type",
        "is_instance_of", "literal_error", "int_type", "decimal_type", "date_type", "datetime_type", "bool_type",
    )
)  # fmt: skip


def read_model(model: type[M], root: Node, file: str, tree: Any = None) -> tuple[M | None, tuple[Problem, ...]]:
    """The model of a tree, or None and every fault in it, by place.

    `file` is the path to show; `tree` may be given where `as_text(root)` is already at hand.
    """
    text = as_text(root) if tree is None else tree
    try:
        return model.model_validate(text), ()
    except ValidationError as error:
        return None, in_order(_worded(error.errors(include_url=False), model, root, file))


def nearest(word: str, known: Iterable[str], cutoff: float = 0.6) -> str | None:
    """The known word most like this one, or None if none is near."""
    import difflib

    found = difflib.get_close_matches(word.lower(), sorted(known), n=1, cutoff=cutoff)
    return found[0] if found else None


def _worded(errors: Sequence[Any], model: type[BaseModel], root: Node, file: str) -> list[Problem]:
    kept = _without_echoes(errors, root)
    problems: list[Problem] = []
    mistyped: set[tuple[tuple[str | int, ...], str]] = set()
    for error, path in kept:
        kind, loc = error["type"], error["loc"]
        place = place_of(root, loc, kind, file)
        key = next((str(step) for step in reversed(path) if isinstance(step, str)), "")
        if kind == "extra_forbidden" or (kind == "literal_error" and loc[-1:] == ("[key]",)):
            known = _keys_at(model, path[:-1])
            near = nearest(str(path[-1]), known)
            if near is not None:
                mistyped.add((path[:-1], near))
            problems.append(_unknown(str(path[-1]), near, known, place))
        elif kind == "missing":
            continue
        else:
            fault = error.get("ctx", {}).get("error")
            if isinstance(fault, Misfits):
                problems += [
                    Problem("model.rule", message, remedy, place_of(root, (*loc, *steps), "missing", file))
                    for steps, message, remedy in fault.found
                ]
                continue
            problems += _value(error, key, path, model, place)
    for error, path in kept:
        # The last step of `loc` is the key that is not there; a near miss of it has been named already.
        if error["type"] != "missing" or (path, str(error["loc"][-1])) in mistyped:
            continue
        name = str(error["loc"][-1])
        place = place_of(root, path, "missing", file)
        within = next((str(step) for step in reversed(path) if isinstance(step, str)), "")
        example = _example(model, (*path, name))
        problems.append(
            Problem(
                "model.missing-key",
                f"'{name}' is missing" + (f" in '{within}'" if within else ""),
                f"write {name}: {example}",
                place,
            )
        )
    return problems


def _without_echoes(errors: Sequence[Any], root: Node) -> list[tuple[Any, tuple[str | int, ...]]]:
    """Each fault with its path in the file; of the branches of one union only what a person can act on."""
    placed = [(error, _path(root, error["loc"])) for error in errors]
    kept: list[tuple[Any, tuple[str | int, ...]]] = []
    forms: set[tuple[str | int, ...]] = set()
    for error, path in placed:
        in_union = len(path) < len(error["loc"]) - (error["type"] == "missing")
        key = error["loc"][-1:] == ("[key]",)
        if error["type"] in _FORM and in_union and not key:
            others = [
                p for other, p in placed if other is not error and p[: len(path)] == path and other["type"] not in _FORM
            ]
            if others or path in forms:
                continue
            deeper = [p for other, p in placed if len(p) > len(path) and p[: len(path)] == path]
            if deeper:
                continue
            forms.add(path)
        if error["type"] == "too_short" and any(len(p) > len(path) and p[: len(path)] == path for _, p in placed):
            continue  # What it holds does not fit; it is not empty.
        kept.append((error, path))
    return kept


def _path(root: Node, loc: Sequence[str | int]) -> tuple[str | int, ...]:
    """The steps of a location that are in the file."""
    at = root
    path: list[str | int] = []
    for step in loc:
        content = at.content
        if isinstance(content, tuple):
            if isinstance(step, int) and step < len(content):
                at = content[step]
                path.append(step)
        elif not isinstance(content, str) and isinstance(step, str) and step in content:
            at = content[step][1]
            path.append(step)
    return tuple(path)


def _unknown(key: str, near: str | None, known: Sequence[str], place: Place) -> Problem:
    if near is not None:
        remedy = f"did you mean '{near}'?"
    elif known:
        remedy = f"leave it out; known here are {', '.join(known)}"
    else:
        remedy = "leave it out"
    return Problem("model.unknown-key", f"the key '{key[:60]}' is not known here", remedy, place)


def _value(error: Any, key: str, path: tuple[str | int, ...], model: type[BaseModel], place: Place) -> list[Problem]:
    kind, given = error["type"], error["input"]
    name = f"'{key}'" if key else "the file"
    shown = _shown(given)
    if error["loc"][-1:] == ("[key]",):
        why = str(error.get("ctx", {}).get("error", "write another word"))
        return [Problem("model.key", f"{shown} cannot be a key here", why, place)]
    if kind == "value_error":
        whole = any(isinstance(a, type) and issubclass(a, BaseModel) for a in _annotations(model, path))
        return _own(error, name, shown, whole, place)
    if kind == "literal_error":
        words = error["ctx"]["expected"].replace("'", "").replace(" or ", ", ").split(", ")
        near = nearest(given, words, cutoff=0.7) if isinstance(given, str) else None
        listed = ", ".join(words)
        remedy = f"did you mean '{near}'? possible are {listed}" if near else f"write one of {listed}"
        if len(words) == 1:
            remedy = f"write {listed}"
        return [Problem("model.choice", f"{name} is {shown}, which is not one of its words", remedy, place)]
    if kind in ("too_short", "string_too_short"):
        return [Problem("model.empty", f"{name} is empty", f"write {key}: {_example(model, path)}", place)]
    if kind in ("string_too_long", "too_long"):
        most = error["ctx"].get("max_length", "")
        what = "entries" if isinstance(given, tuple | list) else "characters"
        return [Problem("model.long", f"{name} is too long", f"write at most {most} {what}", place)]
    wanted = _wanted(kind, model, path)
    return [
        Problem(
            "model.form",
            f"{name} is {_form(given)}, but {wanted} is needed",
            f"write {_as_key(key)}{_example(model, path)}",
            place,
        )
    ]


def _own(error: Any, name: str, shown: str, whole: bool, place: Place) -> list[Problem]:
    fault = error["ctx"]["error"]
    cause = fault.__context__
    if isinstance(cause, QuantityError):
        return [Problem(cause.code, cause.message, cause.remedy, place)]
    text = str(fault)
    if text.startswith("is "):
        what, _, remedy = text.partition(": ")
        return [Problem("model.value", f"{name} {what}", remedy or "write another value", place)]
    if not whole:
        return [Problem("model.value", f"{name} is {shown}, which does not fit", text, place)]
    # From a model as a whole: each part of it is a fault of its own.
    problems = []
    for part in text.split("; "):
        what, _, remedy = part.partition(", such as ") if ", such as " in part else part.partition(": ")
        problems.append(Problem("model.rule", what, f"write {remedy}" if remedy else "make the two agree", place))
    return problems


def _shown(given: object) -> str:
    if isinstance(given, str):
        return f"'{given[:60]}…'" if len(given) > 60 else f"'{given}'"
    return _form(given)


def _form(given: object) -> str:
    if given == "" or given is None:
        return "empty"
    if isinstance(given, str):
        return f"the text {_shown(given)}"
    return "a list" if isinstance(given, tuple | list) else "a mapping of keys and values"


def _as_key(key: str) -> str:
    return f"{key}: " if key else ""


def _wanted(kind: str, model: type[BaseModel], path: tuple[str | int, ...]) -> str:
    found = _annotations(model, path)
    branches = [_branch(a) for a in found]
    words = list(dict.fromkeys(branches))
    if words:
        return " or ".join(words)
    return {"model_type": "a mapping", "dict_type": "a mapping", "tuple_type": "a list"}.get(kind, "a text")


def _branch(annotation: Any) -> str:
    origin = get_origin(annotation) or annotation
    if origin is tuple:
        return "a list"
    if isinstance(origin, type) and (issubclass(origin, BaseModel) or issubclass(origin, Mapping)):
        return "a mapping of keys and values"
    if getattr(origin, "__module__", "").endswith("conditions"):
        return "a mapping of keys and values"
    return "a text"


def _example(model: type[BaseModel], path: tuple[str | int, ...]) -> str:
    """What may be written there, shown by form."""
    found = _annotations(model, path)
    for annotation in found:
        origin = get_origin(annotation) or annotation
        if origin is Literal:
            return " or ".join(str(a) for a in get_args(annotation))
    form = _branch(found[0]) if found else "a text"
    last = path[-1] if path else ""
    known = {
        "format": "1",
        "performed": "2026-10-14T16:20+02:00",
        "stated": "2026-10-14T16:20+02:00",
        "at": "2026-10-14T16:20+02:00",
    }
    if last in known:
        return known[str(last)]
    if form == "a list":
        return "[…, …]"
    if form.startswith("a mapping"):
        keys = _keys_at(model, path)
        return "{" + f"{keys[0]}: …" + "}" if keys else "{…: …}"
    return "…"


def _plain(annotation: Any) -> list[Any]:
    """An annotation without `Annotated`, and the branches of a union."""
    if hasattr(annotation, "__metadata__"):
        return _plain(annotation.__origin__)
    if get_origin(annotation) in (Union, types.UnionType):
        return [b for a in get_args(annotation) if a is not type(None) for b in _plain(a)]
    return [annotation]


def _annotations(model: type[BaseModel], path: Sequence[str | int]) -> list[Any]:
    """The types that stand at a path of the file."""
    at: list[Any] = [model]
    for step in path:
        below: list[Any] = []
        for annotation in at:
            origin = get_origin(annotation) or annotation
            if isinstance(step, int):
                if origin is tuple:
                    below += _plain(get_args(annotation)[0])
            elif isinstance(origin, type) and issubclass(origin, BaseModel):
                for name, field in origin.model_fields.items():
                    if (field.alias or name) == step:
                        below += _plain(field.annotation)
            elif isinstance(origin, type) and issubclass(origin, Mapping) and len(get_args(annotation)) == 2:
                below += _plain(get_args(annotation)[1])
        at = below
    return at


def _keys_at(model: type[BaseModel], path: Sequence[str | int]) -> tuple[str, ...]:
    """The keys that are known at a path."""
    keys: list[str] = []
    for annotation in _annotations(model, path):
        origin = get_origin(annotation) or annotation
        if isinstance(origin, type) and issubclass(origin, BaseModel):
            keys += [field.alias or name for name, field in origin.model_fields.items()]
        elif isinstance(origin, type) and issubclass(origin, Mapping) and len(get_args(annotation)) == 2:
            for key in _plain(get_args(annotation)[0]):
                if get_origin(key) is Literal:
                    keys += [str(word) for word in get_args(key)]
    return tuple(dict.fromkeys(keys))
