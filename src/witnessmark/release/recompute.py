"""Computing a release again: from the bag's own inputs, by the methods that are installed here, in a folder of its own.

Nothing of the bag is imported or executed. Pictures and logs are decoded in the confined child, as ever. Two results
are the same when all numbers agree within 1e-9 of their size and every verdict and state is the same word.
"""

from __future__ import annotations

import csv
import io
import json
import shutil
import tempfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any, cast

from witnessmark.assessment.assess import assess
from witnessmark.methods.registry import method, source_digest
from witnessmark.problems import Misuse, Place, Problem
from witnessmark.reading.files import Hashed, hash_file
from witnessmark.reading.workshop import read_workshop
from witnessmark.records.world import Workshop

from .compare import same_number
from .describe import Description, Json, describe
from .file import ReleaseFile
from .gitwork import restore
from .readings import all_readings
from .store import Store

__all__ = ["BUNDLE", "INPUTS", "Recomputed", "described", "recompute"]

BUNDLE, INPUTS = "data/history.bundle", "data/inputs/"
FOLDERS = ("evidence", "requirements", "templates")
_LARGEST = 512 * 1024 * 1024
"""Of a file of results that is taken into memory."""
_SHOWN = 40


@dataclass(frozen=True, slots=True)
class Recomputed:
    """`same`: True or False; None where it cannot be computed here, for the reasons in `missing`."""

    same: bool | None
    requirements: int = 0
    results: int = 0
    problems: tuple[Problem, ...] = ()
    missing: tuple[str, ...] = ()
    other_methods: tuple[str, ...] = ()
    """Methods whose source is not the one that made the release; their results were compared all the same."""


def described(store: Store) -> Description:
    """What the bag says of the vehicle. Raises Misuse where its files of results are none."""
    found = [_read_json(store, f"data/results/{name}.json") for name in ("states", "results", "built")]
    return Description(*found)


def recompute(store: Store, release: ReleaseFile, payload: Mapping[str, str]) -> Recomputed:
    """Compute everything again and compare. `payload` is the bag's manifest: path to SHA-256. Raises Misuse where the
    bag's own files do not fit each other."""
    was = described(store)
    with tempfile.TemporaryDirectory(prefix="witnessmark-") as name:
        folder = Path(name) / "folder"
        folder.mkdir()
        with store.open(BUNDLE) as stream, tempfile.TemporaryFile() as bundle:
            shutil.copyfileobj(stream, bundle, 1 << 16)
            bundle.seek(0)
            sizes = {p.removeprefix(INPUTS): n for p, n in store.files.items() if p.startswith(INPUTS)}
            newest = restore(bundle, folder, FOLDERS, sizes=sizes)
        if newest != release.commit:
            raise Misuse(_differs("bag.commit", BUNDLE, "its newest commit is not the one that was frozen"))
        problems = [*_inputs(folder, payload)]
        if problems:
            return Recomputed(False, problems=tuple(problems))
        workshop = read_workshop(folder, as_of=date.fromisoformat(release.as_of), use_cache=False)
        missing = tuple(_missing(release, workshop))
        if missing:
            return Recomputed(None, missing=missing)
        if release.vehicle not in workshop.vehicles:
            raise Misuse(_differs("release.vehicle", "data/release.json", f"there is no vehicle {release.vehicle}"))
        assessment = assess(workshop, release.vehicle)
        now = describe(workshop, assessment)
        problems += _states(was.audit, now.audit)
        problems += _forms(was.audit, now.audit)
        problems += _results(was.results, now.results)
        problems += _said(release, now)
        problems += _readings(store, all_readings(workshop, assessment))
    return Recomputed(
        not problems,
        len(now.audit["requirements"]),
        len(now.results["records"]),
        tuple(problems[:_SHOWN]),
        (),
        tuple(n for n, d in sorted(release.methods.items()) if d is not None and _source(n) != d),
    )


def _missing(release: ReleaseFile, workshop: Workshop) -> Iterator[str]:
    """What is not installed here: methods, also of plug-ins that the policy names, and libraries that read logs."""
    for name, digest in sorted(release.methods.items()):
        if digest is not None and method(name) is None:
            yield f"the method {name} is not installed here"
    faults = {
        fault["message"]
        for figures in workshop.figures.values()
        for fault in figures.get("faults", ())
        if fault["code"] == "log.extra"
    }
    yield from sorted(faults)


def _source(name: str) -> str:
    found = method(name)
    return "" if found is None else source_digest(found)


def _differs(code: str, path: str, message: str) -> Problem:
    return Problem(
        code,
        message,
        "do not rely on this release; ask the workshop how it came about",
        Place(path),
    )


def _read_json(store: Store, path: str) -> Json:
    if store.files.get(path, _LARGEST + 1) > _LARGEST:
        raise Misuse(_differs("bag.results", path, "this file of results is missing or too large"))
    with store.open(path) as stream:
        try:
            found: object = json.loads(stream.read(_LARGEST + 1))
        except (ValueError, RecursionError):
            found = None
    if not isinstance(found, dict):
        raise Misuse(_differs("bag.results", path, "this is not a file of results"))
    return cast("Json", found)


# ---- what is compared ---------------------------------------------------------------------------------------


def _inputs(folder: Path, payload: Mapping[str, str]) -> Iterator[Problem]:
    """The plain files of the bag are those of the history, byte for byte, all of them."""
    wanted = {p.removeprefix(INPUTS): digest for p, digest in payload.items() if p.startswith(INPUTS)}
    there = {
        path.relative_to(folder).as_posix(): path for name in FOLDERS for path in (folder / name).rglob("*")
        if path.is_file()
    }  # fmt: skip
    for path in sorted(set(wanted) ^ set(there)):
        words = "it is not in the commit that was frozen" if path in wanted else "the bag lacks this file of the commit"
        yield _differs("bag.inputs", INPUTS + path, words)
    for path in sorted(set(wanted) & set(there)):
        hashed = hash_file(there[path], path, keep=0)
        if not isinstance(hashed, Hashed) or hashed.sha256 != wanted[path]:
            yield _differs("bag.inputs", INPUTS + path, "it is not as it was committed")


def _states(was: Json, now: Json) -> Iterator[Problem]:
    path = "data/results/states.json"
    before, after = (_by(rows, "set", "id") for rows in (was.get("requirements"), now["requirements"]))
    for name in dict.fromkeys([*before, *after]):
        one, other = before.get(name), after.get(name)
        if one is None or other is None:
            yield _differs("differs.requirement", path, f"the requirement {name} stands in only one of the two")
            continue
        for key in ("state", "beneath", "axes", "unconfirmed"):
            if one.get(key) != other[key]:
                yield _differs(
                    "differs.state", path, f"{name}: {key} is {_word(one.get(key))}, computed now {_word(other[key])}"
                )
        pairs = tuple(_by(rows, "part", "name") for rows in (one.get("leaves"), other["leaves"]))
        for leaf in dict.fromkeys([*pairs[0], *pairs[1]]):
            if not _same_leaf(pairs[0].get(leaf), pairs[1].get(leaf)):
                yield _differs("differs.leaf", path, f"{name}: the leaf {leaf} has another state or other records")


def _forms(was: Json, now: Json) -> Iterator[Problem]:
    """What stands in the authority's forms; a release of an older program knew none."""
    path = "data/results/states.json"
    if "forms" not in was:
        return
    before, after = (_by(rows, "set", "id") for rows in (was["forms"], now["forms"]))
    for name in dict.fromkeys([*before, *after]):
        one, other = before.get(name), after.get(name)
        if one is None or other is None:
            yield _differs("differs.form", path, f"the form {name} stands in only one of the two")
            continue
        for key in ("applies", "asked", "filled", "empty"):
            if one.get(key) != other[key]:
                was_, now_ = _word(one.get(key)), _word(other[key])
                yield _differs("differs.form", path, f"{name}: {key} is {was_}, computed now {now_}")
        pairs = tuple(_by(rows, "number") for rows in (one.get("fields"), other["fields"]))
        for number in dict.fromkeys([*pairs[0], *pairs[1]]):
            fields = [found.get(number, {}) for found in pairs]
            said = [[v.get("words") for v in f.get("values") or ()] for f in fields]
            if fields[0].get("state") != fields[1].get("state") or said[0] != said[1]:
                yield _differs("differs.form", path, f"{name}: item {number} has another state or another value")


def _same_leaf(one: Json | None, other: Json | None) -> bool:
    if one is None or other is None or one.get("state") != other["state"]:
        return False
    keys = ("code", "verdict", "governs", "sound", "current", "withdrawn", "ended", "causes")
    rows = one.get("records")
    return isinstance(rows, list) and [[r.get(k) for k in keys] for r in rows] == [
        [r[k] for k in keys] for r in other["records"]
    ]


def _results(was: Json, now: Json) -> Iterator[Problem]:
    path = "data/results/results.json"
    keys = ("set", "requirement", "part", "leaf", "code")
    before, after = (_by(rows, *keys) for rows in (was.get("records"), now["records"]))
    for name in dict.fromkeys([*before, *after]):
        one, other = before.get(name), after.get(name)
        if one is None or other is None:
            yield _differs("differs.record", path, f"the record {name} stands in only one of the two")
            continue
        for key in ("verdict", "governs", "criteria", "outputs", "alarms"):
            words = _unlike(one.get(key), other[key], key)
            if words:
                yield _differs("differs.result", path, f"{name}: {words}")
    for code, figures in now["figures"].items():
        words = _unlike((was.get("figures") or {}).get(code), figures, "figures")
        if words:
            yield _differs("differs.figures", path, f"{code}: {words}")


_WORDING = frozenset({"basis", "message", "asked", "rule", "words", "spoken", "name", "notes"})
"""Keys that hold sentences: a later version may say the same in other words."""


def _unlike(one: Any, other: Any, where: str) -> str:
    """The first difference, in words; "" when there is none. What only the newer one says is passed over."""
    if isinstance(one, dict) and isinstance(other, dict):
        for key in one:
            if key not in other:
                return f"{where}.{key} is not computed any more"
            words = "" if key in _WORDING else _unlike(one[key], other[key], f"{where}.{key}")
            if words:
                return words
        return ""
    if isinstance(one, list) and isinstance(other, list):
        if len(one) != len(other):
            return f"{where} has {len(one)} entries, computed now {len(other)}"
        found = (_unlike(a, b, f"{where}[{n}]") for n, (a, b) in enumerate(zip(one, other, strict=True)))
        return next(filter(None, found), "")
    return "" if same_number(one, other) else f"{where} is {_word(one)}, computed now {_word(other)}"


def _said(release: ReleaseFile, now: Description) -> Iterator[Problem]:
    """What the release file says of gaps and limits is what is computed."""
    rows = now.audit["requirements"]
    gaps = {"nonconforming", "lapsed", "not-shown", "undecided"}
    found = {
        "gaps": [f"{r['set']}:{r['id']}" for r in rows if r["state"] in gaps],
        "unconfirmed": [f"{r['set']}:{r['id']}" for r in rows if r["unconfirmed"] and r["state"] != "not-applicable"],
    }
    if "fields" in release.model_fields_set:  # A release of an older program knew no forms.
        found["fields"] = [name for form in now.audit["forms"] for name in form["empty"]]
    for key, names in found.items():
        if list(getattr(release, key)) != names:
            yield _differs("differs.release", "data/release.json", f"{key} does not name what is computed now")
    if release.requirements != len(rows):
        yield _differs("differs.release", "data/release.json", "requirements is not the number that is computed now")


def _readings(store: Store, now: str) -> Iterator[Problem]:
    """The table of readings says what the records say, in the columns that both know."""
    path = "data/readings.csv"
    if store.files.get(path, _LARGEST + 1) > _LARGEST:
        yield _differs("differs.readings", path, "the table of readings is missing or too large")
        return
    with store.open(path) as stream:
        text = stream.read(_LARGEST).decode("utf-8", "replace")
    before, after = (list(csv.DictReader(io.StringIO(t, newline=""))) for t in (text, now))
    columns = [c for c in (before[0] if before else {}) if after and c in after[0]]
    rows = zip(before, after, strict=False)
    if len(before) != len(after) or any(not same_number(a[c], b[c]) for a, b in rows for c in columns):
        yield _differs("differs.readings", path, "the table of readings is not what the records say")


def _by(rows: Any, *keys: str) -> dict[str, Json]:
    """Rows by what names them; a second row of one name gets a number."""
    found: dict[str, Json] = {}
    for row in rows if isinstance(rows, list) else ():
        if not isinstance(row, dict):
            continue
        name = " ".join(str(row.get(key)) for key in keys if row.get(key) is not None)
        number = 2
        while name in found:
            name, number = f"{name.partition(' #')[0]} #{number}", number + 1
        found[name] = row
    return found


def _word(value: Any) -> str:
    text = json.dumps(value, ensure_ascii=False) if not isinstance(value, str) else value
    return text if len(text) <= 80 else text[:77] + "…"
