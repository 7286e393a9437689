"""Methods of third parties: a distribution that a workshop names with its version offers them by entry points.

Nothing of a distribution that is not named is imported. A method of ours cannot be replaced.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from importlib import metadata

from witnessmark.methods.base import Method
from witnessmark.methods.registry import METHODS, source_digest
from witnessmark.problems import Problem

__all__ = ["GROUP", "Plugin", "load_plugins"]

GROUP = "witnessmark.methods"
"""The entry-point group in which a distribution offers methods; each entry point is a `Method` by its id."""

_NAMED = re.compile(r"\s*([A-Za-z0-9][A-Za-z0-9._-]*)\s*==\s*([A-Za-z0-9][A-Za-z0-9.!+_-]*)\s*")


@dataclass(frozen=True, slots=True)
class Plugin:
    """A method of a third party: what it is, and which distribution, version and source digest it came from."""

    method: Method
    distribution: str
    version: str
    digest: str


def load_plugins(named: Iterable[str]) -> tuple[dict[str, Plugin], tuple[Problem, ...]]:
    """The methods of the named distributions by id, and every fault. `named`: texts such as `winding-tools==1.2`."""
    found: dict[str, Plugin] = {}
    faults: list[Problem] = []
    for text in dict.fromkeys(named):
        match = _NAMED.fullmatch(text)
        if match is None:
            remedy = "write the distribution and its version, such as winding-tools==1.2"
            faults.append(Problem("plugin.form", f"{text!r} names no plug-in", remedy))
            continue
        name, version = match[1], match[2]
        try:
            distribution = metadata.distribution(name)
        except metadata.PackageNotFoundError:
            message = f"the plug-in {name} is named, and is not installed here"
            remedy = f"install it with: python -m pip install '{name}=={version}'"
            faults.append(Problem("plugin.not-installed", message, remedy))
            continue
        if distribution.version != version:
            message = f"the plug-in {name} is named as {version}, and {distribution.version} is installed here"
            remedy = f"install {name}=={version}, or write a policy that names the other version"
            faults.append(Problem("plugin.version", message, remedy))
            continue
        points = [point for point in distribution.entry_points if point.group == GROUP]
        if not points:
            message = f"the plug-in {name} offers no methods"
            faults.append(Problem("plugin.nothing", message, "take its name out, or ask those who made it"))
        for point in sorted(points, key=lambda p: p.name):
            loaded = _load(point, name)
            if isinstance(loaded, Method) and (loaded.id in METHODS or loaded.id in found):
                message = f"the plug-in {name} offers {loaded.id}, and there is such a method already"
                loaded = Problem("plugin.doubled", message, "ask those who made it to give it a name of its own")
            if isinstance(loaded, Problem):
                faults.append(loaded)
            else:
                found[loaded.id] = Plugin(loaded, name, version, source_digest(loaded))
    return found, tuple(faults)


def _load(point: metadata.EntryPoint, name: str) -> Method | Problem:
    ask = "ask those who made it, or take its name out"
    try:
        loaded = point.load()
    except Exception as fault:  # a third party's code may raise anything on import
        words = f"the plug-in {name} cannot be loaded: {type(fault).__name__}: {fault}"
        return Problem("plugin.broken", words[:300], ask)
    if not isinstance(loaded, Method) or loaded.id != point.name:
        return Problem("plugin.broken", f"what the plug-in {name} offers as {point.name} is no method of that id", ask)
    return loaded
