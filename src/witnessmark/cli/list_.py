"""`list`: methods, sets and their requirements, what nobody has compared with the official text, schemas, formats."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from witnessmark.language import language_of, say, say_n

from .exits import Exit
from .folder import root_of
from .show import harmless, put, table, wrapped

__all__ = ["arguments", "call"]


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("what", choices=("methods", "sets", "requirements", "unconfirmed", "schemas", "logs", "texts"))
    parser.add_argument(
        "name",
        nargs="?",
        help="schemas: print this one; requirements, unconfirmed: of this set; texts: the language, such as de",
    )
    parser.add_argument(
        "--folder",
        type=Path,
        default=Path(),
        metavar="DIR",
        help="sets, requirements, unconfirmed, texts: the workshop's folder",
    )
    parser.add_argument(
        "--output", type=Path, metavar="PATH", help="schemas: write each into this folder; texts: write this file"
    )


def call(options: argparse.Namespace) -> int:
    commands = {
        "methods": _methods, "sets": _sets, "requirements": _requirements, "unconfirmed": _unconfirmed,
        "schemas": _schemas, "logs": _logs, "texts": _texts,
    }  # fmt: skip
    return commands[options.what](options)


def _texts(options: argparse.Namespace) -> int:
    """The language file with every text of ours: what is translated already stays."""
    from witnessmark.problems import Misuse, Place, Problem
    from witnessmark.reading.files import read_file, resolve_inside
    from witnessmark.reading.language import LIMIT, language_file, translators_file

    tag = options.name or ""
    known = None
    if language_of(tag) is None:
        raise Misuse(
            Problem("language.unknown", f"'{harmless(tag)}' is no language", "name one: witnessmark list texts de")
        )
    from witnessmark.reading.folder import find_root

    root = find_root(options.folder)
    if not isinstance(root, Problem):
        path = resolve_inside(root, language_file(tag))
        known = read_file(path, language_file(tag), limit=LIMIT) if isinstance(path, Path) and path.exists() else None
    if isinstance(known, Problem):
        raise Misuse(known)
    try:
        made = translators_file(tag, known)
    except Exception as fault:  # the parser raises many kinds for what is no PO file
        raise Misuse(
            Problem(
                "language.syntax", f"this is no PO file: {harmless(str(fault))}", "mend it", Place(language_file(tag))
            )
        ) from None
    if options.output:
        from witnessmark.recording.atomic import write_atomically

        options.output.parent.mkdir(parents=True, exist_ok=True)
        write_atomically(options.output, made.encode("utf-8"))
        put(say("The texts lie in {file}", file=options.output))
    else:
        put(made.rstrip("\n"))
    return Exit.DONE


def _methods(options: argparse.Namespace) -> int:
    from witnessmark.methods.registry import method, method_ids

    methods = [found for found in map(method, method_ids()) if found is not None]
    for line in table([(m.id, say(m.title)) for m in methods]):
        put(line)
    put()
    put(say("More on one: {command}", command="witnessmark calculate METHOD --explain"))
    return Exit.DONE


def _sets(options: argparse.Namespace) -> int:
    from witnessmark.assessment.editions import governing_edition
    from witnessmark.assessment.ledger import Ledger
    from witnessmark.assessment.reviews import changes_of
    from witnessmark.reading.set_differences import differences_of, differences_of_facts, shipped_sets
    from witnessmark.reading.workshop import read_workshop
    from witnessmark.records.canonical import digest_of

    workshop = read_workshop(root_of(options))
    ledger = Ledger(workshop)
    sets = sorted(workshop.sets.values(), key=lambda s: s.id)
    found = {s.id: differences_of(s) for s in sets}
    rows = [
        (
            say("set"),
            say("edition"),
            say("requirements"),
            say("digest"),
            say("beside what came with the tool"),
            say("title"),
        )
    ]
    for one in sets:
        digest = digest_of(dict(sorted(one.digests.items()))).removeprefix("sha256:")[:12]
        edition = governing_edition(ledger, one.id)
        rows.append(
            (
                one.id,
                edition.edition or say("none"),
                str(len(one.requirements)),
                digest,
                found[one.id].words,
                one.file.title,
            )
        )
    for line in table(rows):
        put(line)
    for ident, difference in found.items():
        why = {requirement: (edition.edition, words) for _, edition, requirement, words in changes_of(ledger, ident)}
        for line in (one for words in difference.head for one in wrapped(f"{ident}: {harmless(words)}", indent=2)):
            put(line)
        for form, words in difference.forms:
            put("  " + say("{set}: the form {form}: {what}", set=ident, form=form, what=harmless(words)))
        for word, ids in (
            (say("added"), difference.added), (say("taken out"), difference.taken_out),
            (say("changed"), difference.changed),
        ):  # fmt: skip
            for requirement in ids if not difference.own else ():
                named, reason = why.get(requirement, ("", ""))
                put(f"  {ident}:{requirement} {word}")
                for line in wrapped(
                    say("edition {edition}: {reason}", edition=harmless(named), reason=harmless(reason))
                    if reason
                    else say("no edition says why"),
                    indent=6,
                ):
                    put(line)
                for less in (difference.loosened or {}).get(requirement, ()) if ids is difference.changed else ():
                    for line in wrapped(say("LOOSENED: {what}", what=harmless(less)), indent=6):
                        put(line)
    for words in differences_of_facts(workshop.facts):
        put(f"  facts.yaml: {harmless(words)}")
    missing = sorted(shipped_sets().keys() - workshop.sets.keys())
    if missing:
        for line in wrapped(say("Came with the tool, and not in this folder: {sets}.", sets=", ".join(missing))):
            put(line)
    return Exit.DONE


def _requirements(options: argparse.Namespace) -> int:
    """What each requirement of the folder's sets applies to, and what shows it."""
    from witnessmark.document.views.requirement_list import listed
    from witnessmark.problems import Misuse, Problem
    from witnessmark.reading.workshop import read_workshop

    workshop = read_workshop(root_of(options))
    sets = workshop.sets
    if options.name and options.name not in sets:
        raise Misuse(Problem("set.unknown", f"there is no set {options.name!r}", f"known: {', '.join(sorted(sets))}"))
    total = 0
    for ident in sorted(sets) if not options.name else (options.name,):
        put(f"{ident}: {harmless(sets[ident].file.title)}")
        for row in listed(sets[ident], workshop.facts):
            total += 1
            put()
            for line in wrapped(f"{harmless(row.clause)}  {row.id}: {harmless(row.title)}", indent=2):
                put(line)
            for line in wrapped(say("applies to {what}", what=harmless(row.applies)), indent=6):
                put(line)
            for name, kind, asks in row.leaves:
                for line in wrapped(f"- {name} ({kind}): {harmless(asks)}", indent=6):
                    put(line)
        put()
    put(say_n("{n} requirement.", "{n} requirements.", total))
    return Exit.DONE


def _unconfirmed(options: argparse.Namespace) -> int:
    from witnessmark.assessment.ledger import Ledger
    from witnessmark.problems import Misuse, Problem
    from witnessmark.reading.workshop import read_workshop
    from witnessmark.recording.forms.sets import waiting

    workshop = read_workshop(root_of(options))
    sets, ledger = workshop.sets, Ledger(workshop)
    if options.name and options.name not in sets:
        raise Misuse(Problem("set.unknown", f"there is no set {options.name!r}", f"known: {', '.join(sorted(sets))}"))
    chosen = [one for one in sorted(sets.values(), key=lambda s: s.id) if options.name in (None, one.id)]
    for official, command in ((True, "comparison"), (False, "adoption")):
        rows = [
            (
                one.id,
                r.clause,
                r.id,
                say("DIFFERS: {what}", what=review.words) if review.words else r.source.confidence,
                r.title,
            )
            for one in chosen
            for r, review in waiting(ledger, one, official=official)
        ]
        if official:
            counted = say_n(
                "{n} requirement held beside the official text by nobody, or found to differ from it",
                "{n} requirements held beside the official text by nobody, or found to differ from it",
                len(rows),
            )
        else:
            counted = say_n(
                "{n} requirement without any official text, and adopted by nobody",
                "{n} requirements without any official text, and adopted by nobody",
                len(rows),
            )
        put(f"{counted}{':' if rows else '.'}")
        head = (say("set"), say("clause"), say("requirement"), say("how it was read"), say("title"))
        for line in table([head, *rows]) if rows else ():
            put(harmless(line))
        if rows:
            work = f"witnessmark record {command} {chosen[0].id if len(chosen) == 1 else 'SET'}"
            put(say("Work through them: {command}", command=work))
        put()
    return Exit.DONE


def _logs(options: argparse.Namespace) -> int:
    from witnessmark.logs import listed

    for line in table([(say("ending"), say("format"), say("a record may say"))] + [row[:3] for row in listed()]):
        put(line)
    put()
    put(say("MDF and CAN need: {command}", command="python -m pip install 'witnessmark[logs]'"))
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
        put(say("{n} schemas lie in {folder}", n=len(known), folder=options.output))
    elif options.name:
        if options.name not in known:
            raise Misuse(
                Problem("schema.unknown", f"there is no schema {options.name!r}", f"known: {', '.join(known)}")
            )
        put(json.dumps(known[options.name], ensure_ascii=False, indent=2))
    else:
        for name in known:
            put(name)
    return Exit.DONE
