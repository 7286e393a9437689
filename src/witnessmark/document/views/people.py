"""Who did the work, and what each was allowed to do."""

from __future__ import annotations

from witnessmark.document.blocks import Block, Cell, Column, Note, Table, Text
from witnessmark.language import say, say_in, say_n
from witnessmark.records.acts import Authorisation

from .book import PEOPLE, Book, Chapter, Page, View
from .words import capital, joined, plain_name, short_day

__all__ = ["VIEW", "roles"]


def chapters(book: Book) -> tuple[Chapter, ...]:
    return (Chapter(PEOPLE, say("People and authorisations"), say("People"), flows=True),)


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
    none = say("none")
    for ident, done in roles(book).items():
        person = book.workshop.people.get(ident)
        did = joined(_did(role, len(codes)) for role, codes in sorted(done.items()))
        if person is None:
            rows.append((ident, Cell(say("not described"), strong=True), none, did))
        else:
            firm = person.firm or book.workshop.file.name
            rows.append((person.name, person.role, firm if person.outside == "yes" else say("this workshop"), did))
        found = [
            (a, a.body) for a in book.workshop.acts if isinstance(a.body, Authorisation) and a.body.authorises == ident
        ]
        if not found and "tester" in done:
            gaps.append(len(permits))
            permits.append((book.person(ident), Cell(say("no authorisation"), strong=True), none, none, none, none))
        for act, body in sorted(found, key=lambda pair: (pair[1].valid_from, pair[0].code)):
            past = body.until < book.assessment.as_of.date()
            permits.append(
                (
                    book.person(ident),
                    joined(plain_name(w) for w in body.work),
                    short_day(body.valid_from),
                    Cell(say("{day}, past", day=short_day(body.until)) if past else short_day(body.until), strong=past),
                    say("{basis}, given by {who}", basis=body.basis, who=book.person(body.by)),
                    book.record_link(act.code),
                )
            )
    if not rows:
        return Page(
            {"title": chapter.heading, "keys": ["none"]}, {"none": Note(say("No record names a person."), id="b.none")}
        )
    made: dict[str, Block] = {
        "people": Table(
            (
                Column(say("Name"), width=1.4),
                Column(say("Role"), width=1.6),
                Column(say_in("firm of a person", "From"), width=1.6),
                Column(say("Records"), width=2.4),
            ),
            tuple(rows),
            capital(say_n("{count} person named in the records", "{count} people named in the records", len(rows))),
            f"{chapter.number}-1",
            id="b.people",
        )
    }
    if permits:
        made["authorisations"] = Table(
            (
                Column(say("Name"), width=1.2),
                Column(say("May do"), width=2),
                Column(say_in("first day", "From")),
                Column(say("Until"), width=1.2),
                Column(say("Basis"), width=2.4),
                Column(say("Act"), width=0.7),
            ),
            tuple(permits),
            say("Authorisations"),
            f"{chapter.number}-2",
            gaps=tuple(gaps),
            wide=True,
            id="b.authorisations",
        )
    return Page({"title": chapter.heading, "keys": list(made)}, made)


def _did(role: str, n: int) -> str:
    """`tester of 12`: in how many records somebody stood, and as what."""
    match role:
        case "tester":
            return say_n("tester of {n}", "tester of {n}", n)
        case "witness":
            return say_n("witness of {n}", "witness of {n}", n)
        case "judge":
            return say_n("judge of {n}", "judge of {n}", n)
        case _:
            return say_n("sealed of {n}", "sealed of {n}", n)


VIEW = View("people.rst.j2", chapters, page)
