"""Logs become figures: channels named by the record, read and reduced by its method in the confined child.

What comes back is small and JSON-able, and is remembered by the digest of the log's bytes, by what the record says of
reading it, and by the source of reader and method. Faults stand in the figures under `faults`, so that nothing can be
computed from a log that was not understood; they are problems too, at their row.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib import metadata
from pathlib import Path
from typing import Any

from witnessmark.confined import ConfinedFault, Session
from witnessmark.methods.registry import METHODS, method, source_digest
from witnessmark.problems import Place, Problem
from witnessmark.quantities import QuantityError, UnitFault, parse_quantity, parse_unit
from witnessmark.records.acts import Log, Record

from .cache import Cache, stamp_of_code
from .channels import mapped, outside_map, with_units
from .folder import Folder

__all__ = ["Wanted", "figures_of", "figures_of_file", "reduce_in_child"]

SECONDS = 120.0
_WRITTEN = ("delimiter", "decimal", "encoding", "header", "bus", "join")
"""What a record may say about how its log is written."""
MEMORY_MB = 4096


@dataclass(frozen=True, slots=True)
class Wanted:
    """A record with a log: its code, the log's path from the root, and where the record names it."""

    code: str
    record: Record
    path: str
    place: Place


def figures_of(folder: Folder, wanted: Sequence[Wanted], *, use_cache: bool = True) -> Mapping[str, Mapping[str, Any]]:
    """The figures of each record by its code; with `faults` in them where the log could not be used."""
    cache = Cache("figures", stamp_of_code("logs", "methods", "quantities", "reading/figures.py"), use=use_cache)
    found: dict[str, Mapping[str, Any]] = {}
    code = _folders_of_plugins(folder.plugins, folder.root)
    with Session(memory_mb=MEMORY_MB, readable=[folder.root], code=code) as session:
        for one in wanted:
            found[one.code] = _one(folder, one, session, cache)
    return found


def figures_of_file(
    method_id: str,
    path: Path,
    channels: Mapping[str, str | Sequence[str]],
    options: Mapping[str, str],
    plugins: Sequence[str] = (),
) -> tuple[dict[str, Any] | None, tuple[Problem, ...]]:
    """The figures of one log outside any folder, for the bench, and every fault.

    `options` are how the file is written (`delimiter`, `decimal`, `encoding`, `header`, `units_row`, `bus`, `join`),
    `dbc`, the path of the DBC of a CAN log, `start`, and what else the method names, each with its unit. `plugins`
    are the distributions whose methods the child has to know.
    """
    known = ("start", "units_row", "dbc", *_WRITTEN)
    problems: list[Problem] = []
    dbc = Path(options["dbc"]) if "dbc" in options else None
    for file in (path, *(() if dbc is None else (dbc,))):
        if not file.is_file():
            problems.append(Problem("file.missing", f"the file '{file}' is not there", "give the path of the file"))
    start: float | None = None
    if "start" in options:
        try:
            start = parse_quantity(options["start"], like=parse_unit("s")).si
        except QuantityError as fault:
            problems.append(Problem(fault.code, f"start: {fault.message}", fault.remedy))
    if problems:
        return None, tuple(problems)
    argument = {
        "path": str(path.resolve()),
        "shown": path.as_posix(),
        "method": method_id,
        "channels": {name: value if isinstance(value, str) else list(value) for name, value in channels.items()},
        "options": {k: v for k, v in options.items() if k in _WRITTEN},
        "dbc": None if dbc is None else [str(dbc.resolve()), dbc.as_posix()],
        "map": {},
        "units_row": options.get("units_row"),
        "start": start,
        "reduce": {k: v for k, v in options.items() if k not in known},
        "bench": True,
        "plugins": list(plugins),
    }
    readable = {file.resolve().parent for file in (path, *(() if dbc is None else (dbc,)))}
    code = _folders_of_plugins(plugins, path.resolve().parent)
    with Session(memory_mb=MEMORY_MB, readable=sorted(readable), code=code) as session:
        answer = _ask(session, argument)
    faults = tuple(
        Problem(r["code"], r["message"], r["remedy"], Place(r.get("file") or path.as_posix(), r["line"], r["column"]))
        for r in answer["problems"]
    )
    return (None, faults) if faults else (answer["figures"], ())


def _one(folder: Folder, one: Wanted, session: Session, cache: Cache) -> Mapping[str, Any]:
    log = one.record.log
    assert log is not None
    dbc = None if log.dbc is None else one.path.removesuffix(log.file) + log.dbc
    digests: list[str] = []
    for name, path in ((log.file, one.path), *(() if log.dbc is None or dbc is None else ((log.dbc, dbc),))):
        sha256 = folder.sha256(path)
        if sha256 is None:
            return _faulty("file.missing", f"the log '{name}' is not there", "put it back as it was")
        sealed = next((e.sha256 for e in one.record.files if e.name == name), None)
        if sealed is not None and sealed.removeprefix("sha256:") != sha256:
            return _faulty("file.changed", f"the log '{name}' is not the one that was sealed", "put the first one back")
        digests.append(sha256)
    columns = mapped(log, folder.texts)
    if isinstance(columns, Problem):
        folder.problems.append(Problem(columns.code, columns.message, columns.remedy, one.place))
        return _faulty(columns.code, columns.message, columns.remedy)
    start: float | None = None
    if log.start is not None:
        try:
            start = parse_quantity(log.start, like=parse_unit("s")).si
        except QuantityError as fault:
            folder.problems.append(Problem(fault.code, f"log start: {fault.message}", fault.remedy, one.place))
            return _faulty(fault.code, fault.message, fault.remedy)
    argument = {
        "path": str(folder.entries[one.path].file),
        "shown": one.path,
        "method": one.record.method,
        "channels": columns[0],
        "map": columns[1],
        "options": _reading_options(log),
        "dbc": None if dbc is None else [str(folder.entries[dbc].file), dbc],
        "units_row": log.units_row,
        "start": start,
        "reduce": dict(log.options),
        "bench": False,
        "plugins": list(folder.plugins),
    }
    asked = {k: v for k, v in argument.items() if k not in ("path", "shown", "dbc")}
    key = json.dumps([digests, asked, _source_of_plugin(one.record.method)], sort_keys=True)
    answer = cache.get(key)
    if answer is None:
        answer = _ask(session, argument)
        if answer.get("sha256") not in (digests, None):
            answer = {"problems": [_row("file.restless", "the log changed while it was read", "try again")]}
        elif "sha256" in answer:
            cache.put(key, answer)
    for row in answer["problems"]:
        place = Place(row.get("file") or one.path, row["line"], row["column"]) if row.get("line") else one.place
        folder.problems.append(Problem(row["code"], row["message"], row["remedy"], place, related=(one.place,)))
    if answer["problems"]:
        return {"faults": [{k: row[k] for k in ("code", "message", "remedy")} for row in answer["problems"]]}
    figures: Mapping[str, Any] = answer["figures"]
    for row in figures.get("faults") or ():
        folder.problems.append(Problem(row["code"], row["message"], row["remedy"], one.place))
    return figures


def _folders_of_plugins(named: Sequence[str], root: Path) -> list[Path]:
    """Where the named plug-ins are installed, for the child, which knows no search path but its own.

    Nothing is ever imported from below `root`, the folder that is being read.
    """
    found: list[Path] = []
    for text in named:
        try:
            where = Path(str(metadata.distribution(text.partition("==")[0]).locate_file(""))).resolve()
        except (metadata.PackageNotFoundError, ValueError):
            continue  # loading it gives the problem
        if not where.is_relative_to(root.resolve()):
            found.append(where)
    return list(dict.fromkeys(found))


def _source_of_plugin(method_id: str | None) -> str:
    """The digest of a plug-in's source, which the version of our own code says nothing of; "" for our own methods."""
    if not method_id or method_id in METHODS:
        return ""
    found = method(method_id)
    return "" if found is None else source_digest(found)


def _ask(session: Session, argument: Mapping[str, Any]) -> dict[str, Any]:
    try:
        answer: dict[str, Any] = session.call("witnessmark.reading.figures:reduce_in_child", argument, seconds=SECONDS)
        return answer
    except ConfinedFault as fault:
        words = {
            "time": f"the log was not read within {SECONDS:g} s",
            "memory": f"reading the log needs more than {MEMORY_MB} MB",
        }.get(fault.code, f"the log cannot be read: {fault.detail[:300]}")
        return {"problems": [_row(f"log.{fault.code}", words, "export a shorter part of it, or fewer columns")]}


def _reading_options(log: Log) -> dict[str, str]:
    return {name: value for name in _WRITTEN if (value := getattr(log, name)) is not None}


def _faulty(code: str, message: str, remedy: str) -> Mapping[str, Any]:
    return {"faults": [{"code": code, "message": message, "remedy": remedy}]}


def _row(code: str, message: str, remedy: str, line: int = 0, column: int = 0) -> dict[str, Any]:
    return {"code": code, "message": message, "remedy": remedy, "line": line, "column": column}


# ---- in the child -------------------------------------------------------------------------------------------


def reduce_in_child(argument: Mapping[str, Any]) -> dict[str, Any]:
    """`{"sha256", "problems": [...], "figures": {...}}` for one log; the digest is that of the bytes that were used."""
    from witnessmark.logs import Columns, read_log
    from witnessmark.methods.registry import adopt

    if argument["plugins"]:
        from witnessmark.methods.plugins import load_plugins

        plugins, plugin_faults = load_plugins(argument["plugins"])
        adopt(plugins)
        if plugin_faults and argument["method"] and method(argument["method"]) is None:
            return {"problems": [_row_of(fault) for fault in plugin_faults]}
    found = method(argument["method"]) if argument["method"] else None
    if found is None or not found.channels:
        text = f"the method {argument['method']} reads no log"
        return {"problems": [_row("log.method", text, "take the log out, or name a method that reads one")]}
    dbc: bytes | None = None
    if argument["dbc"] is not None:
        try:
            dbc = Path(argument["dbc"][0]).read_bytes()
        except OSError as error:
            text = f"the DBC cannot be read: {error.strerror}"
            return {"problems": [_row("log.unreadable", text, "look at the path and its rights")]}
    columns = read_log(
        Path(argument["path"]),
        argument["shown"],
        argument["channels"],
        argument["options"],
        None if dbc is None else (dbc, argument["dbc"][1]),
    )
    if not isinstance(columns, Columns):
        return {"problems": [_row_of(p) for p in columns]}
    used = [columns.found.sha256, *([] if dbc is None else [hashlib.sha256(dbc).hexdigest()])]
    arrays: dict[str, Any] = {}
    problems: list[dict[str, Any]] = []
    if columns.found.longest_hold and not found.takes_held:
        text = f"{found.id} does not allow for channels that were held between their samples"
        problems.append(_row("log.join", text, "log the channels together, in one message or group"))
    found_row = "yes" if columns.found.units_line else "no"
    if argument["units_row"] not in (None, found_row):
        words = "has a row of units below its header" if found_row == "yes" else "has no row of units below its header"
        problems.append(
            _row("log.units-row", f"the log {words}, and the record says otherwise", f"write units_row: {found_row}")
        )
    units, said, unlike = with_units(columns.found.units, columns.names, argument["map"])
    problems += [_row("log.unit", message, remedy) for message, remedy in unlike]
    by_column = {
        name: columns.arrays[channel if channel in columns.arrays else f"{channel}:{name}"]
        for channel, names in columns.names.items()
        for name in names
    }
    own_time = columns.names.get("time")
    time = _in_unit(by_column[own_time[0]], units.get(own_time[0], ""), "s") if own_time else None
    if argument["map"] and not isinstance(time, str):
        hold = columns.found.longest_hold
        problems += [_row(*fault) for fault in outside_map(by_column, time, hold, said)]
    specs = {spec.name: spec for spec in found.channels}
    for channel, names in columns.names.items():
        spec = specs.get(channel)
        if spec is None:
            known = ", ".join(sorted(specs))
            problems.append(_row("log.channel", f"{found.id} has no channel '{channel}'", f"its channels are {known}"))
            continue
        for name in names:
            key = channel if channel in columns.arrays else f"{channel}:{name}"
            converted = _in_unit(columns.arrays[key], units.get(name, ""), spec.unit)
            if isinstance(converted, str):
                problems.append(_row("log.unit", f"the column '{name}' {converted}", f"export it in {spec.unit}"))
            else:
                arrays[f"{channel}:{name}" if spec.many else key] = converted
    if problems:
        return {"sha256": used, "problems": problems}
    options: dict[str, float] = {} if argument["start"] is None else {"start": argument["start"]}
    if columns.found.longest_hold:
        options["hold"] = columns.found.longest_hold
    taken = {spec.name: spec.unit for spec in found.options if argument["bench"] or not spec.bench_only}
    for name, text in argument["reduce"].items():
        if name not in taken:
            words = ", ".join(sorted(taken)) or "none"
            problems.append(_row("log.option", f"{found.id} has no option '{name}'", f"its options are {words}"))
            continue
        try:
            options[name] = parse_quantity(text, like=parse_unit(taken[name]), bare=taken[name] == "1").si
        except QuantityError as fault:
            problems.append(_row(fault.code, f"{name}: {fault.message}", fault.remedy))
    if problems:
        return {"sha256": used, "problems": problems}
    figures = {**found.reduce(arrays, options), "log": columns.as_json()}
    return {"sha256": used, "problems": [], "figures": figures}


def _row_of(p: Problem) -> dict[str, Any]:
    place = p.place or Place("")
    return _row(p.code, p.message, p.remedy, place.line, place.column) | {"file": place.file}


def _in_unit(values: Any, given: str, wanted: str) -> Any:
    """The numbers in the unit that the method takes, or why not; a column that states no unit is in that unit."""
    if not given or given == wanted or wanted == "1":  # a bare channel takes any unit: its thresholds are bare too
        return values
    try:
        own, target = parse_unit(given), parse_unit(wanted)
    except UnitFault as fault:
        return f"is in '{given}': {fault}"
    if not own.compatible(target):
        return f"is in '{given}', and {wanted} is asked for"
    scale = float(own.scale / target.scale)
    shift = float((own.offset - target.offset) / target.scale)
    return values * scale + shift
