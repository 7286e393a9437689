"""`list`: methods, sets, schemas and the formats of logs."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from .exits import Exit
from .folder import root_of
from .show import say, table

__all__ = ["arguments", "call"]


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("what", choices=("methods", "sets", "schemas", "logs"))
    parser.add_argument("name", nargs="?", help="schemas: print this one")
    parser.add_argument("--folder", type=Path, default=Path(), metavar="DIR", help="sets: the workshop's folder")
    parser.add_argument("--output", type=Path, metavar="DIR", help="schemas: write all of them there, one file each")


def call(options: argparse.Namespace) -> int:
    return {"methods": _methods, "sets": _sets, "schemas": _schemas, "logs": _logs}[options.what](options)


def _methods(options: argparse.Namespace) -> int:
    from witnessmark.methods.registry import method, method_ids

    methods = [found for found in map(method, method_ids()) if found is not None]
    for line in table([(m.id, m.title) for m in methods]):
        say(line)
    say()
    say("More on one: witnessmark calculate METHOD --explain")
    return Exit.DONE


def _sets(options: argparse.Namespace) -> int:
    from witnessmark.reading.workshop import read_workshop

    workshop = read_workshop(root_of(options))
    rows = [("set", "requirements", "title")]
    rows += [(s.id, str(len(s.requirements)), s.file.title) for s in sorted(workshop.sets.values(), key=lambda s: s.id)]
    for line in table(rows):
        say(line)
    return Exit.DONE


def _logs(options: argparse.Namespace) -> int:
    from witnessmark.logs import listed

    for line in table([("ending", "format", "a record may say")] + [row[:3] for row in listed()]):
        say(line)
    say()
    say("MDF and CAN need: python -m pip install 'witnessmark[logs]'")
    return Exit.DONE


def _schemas(options: argparse.Namespace) -> int:
    from witnessmark.exports.audit import audit_schema
    from witnessmark.exports.schemas import schemas
    from witnessmark.problems import Misuse, Problem

    known = {**schemas(), "audit": audit_schema()}
    if options.output:
        options.output.mkdir(parents=True, exist_ok=True)
        for name, schema in known.items():
            text = json.dumps(schema, ensure_ascii=False, indent=2) + "\n"
            (options.output / f"{name}.schema.json").write_text(text, encoding="utf-8")
        say(f"{len(known)} schemas lie in {options.output}")
    elif options.name:
        if options.name not in known:
            raise Misuse(
                Problem("schema.unknown", f"there is no schema {options.name!r}", f"known: {', '.join(known)}")
            )
        say(json.dumps(known[options.name], ensure_ascii=False, indent=2))
    else:
        for name in known:
            say(name)
    return Exit.DONE
