"""Who did the work, and what each was allowed to do."""

from __future__ import annotations

from witnessmark.document.blocks import Block, Cell, Column, Note, Table, Text
from witnessmark.records.acts import Authorisation

from .book import PEOPLE, Book, Chapter, Page, View
from .words import joined, plain_name, plural, short_day

__all__ = ["VIEW", "roles"]


def chapters(book: Book) -> tuple[Chapter, ...]:
    return (Chapter(PEOPLE, "People and authorisations", "People", flows=True),)


def roles(book: Book) -> dict[str, dict[str, set[str]]]:
    """Person to what they did (tester, witness, judge, sealed) to the codes of the records."""
    found: dict[str, dict[str, set[str]]] = {}
    for code, uses in book.uses.items():
        record = uses[0].result.record
        done: list[tuple[str, str]] = list(record.by.items())
        done += [("judge", use.result.claim.by) for use in uses if use.result.claim.by]
        done += [("sealed", record.seal.by)] if record.seal else []
        for role, who in done:
            found.setdefault(who, {}).setdefault(role, set()).add(code)
    return dict(sorted(found.items()))


def page(book: Book, chapter: Chapter) -> Page:
    rows: list[tuple[Text | Cell, ...]] = []
    permits: list[tuple[Text | Cell, ...]] = []
    gaps: list[int] = []
    for ident, done in roles(book).items():
        person = book.workshop.people.get(ident)
        did = joined(f"{role} of {len(codes)}" for role, codes in sorted(done.items()))
        if person is None:
            rows.append((ident, Cell("not described", strong=True), "none", did))
        else:
            firm = person.firm or book.workshop.file.name
            rows.append((person.name, person.role, firm if person.outside == "yes" else "this workshop", did))
        found = [
            (a, a.body) for a in book.workshop.acts if isinstance(a.body, Authorisation) and a.body.authorises == ident
        ]
        if not found and "tester" in done:
            gaps.append(len(permits))
            permits.append((book.person(ident), Cell("no authorisation", strong=True), "none", "none", "none", "none"))
        for act, body in sorted(found, key=lambda pair: (pair[1].valid_from, pair[0].code)):
            past = body.until < book.assessment.as_of.date()
            permits.append(
                (
                    book.person(ident),
                    joined(plain_name(w) for w in body.work),
                    short_day(body.valid_from),
                    Cell(short_day(body.until) + (", past" if past else ""), strong=past),
                    f"{body.basis}, given by {book.person(body.by)}",
                    book.record_link(act.code),
                )
            )
    if not rows:
        return Page(
            {"title": chapter.heading, "keys": ["none"]}, {"none": Note("No record names a person.", id="b.none")}
        )
    made: dict[str, Block] = {
        "people": Table(
            (
                Column("Name", width=1.4),
                Column("Role", width=1.6),
                Column("From", width=1.6),
                Column("Records", width=2.4),
            ),
            tuple(rows),
            f"{plural(len(rows), 'person', 'people').capitalize()} named in the records",
            f"{chapter.number}-1",
            id="b.people",
        )
    }
    if permits:
        made["authorisations"] = Table(
            (
                Column("Name", width=1.2),
                Column("May do", width=2),
                Column("From"),
                Column("Until", width=1.2),
                Column("Basis", width=2.4),
                Column("Act", width=0.7),
            ),
            tuple(permits),
            "Authorisations",
            f"{chapter.number}-2",
            gaps=tuple(gaps),
            wide=True,
            id="b.authorisations",
        )
    return Page({"title": chapter.heading, "keys": list(made)}, made)


VIEW = View("people.rst.j2", chapters, page)
