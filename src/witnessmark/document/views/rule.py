"""How a number decides: the rule in plain words, the policy entries, and where a set or a leaf has its own."""

from __future__ import annotations

from witnessmark.document.blocks import Block, Cell, Column, Note, Table, Text
from witnessmark.language import say

from .book import RULE, Book, Chapter, Page, View
from .stated import policies
from .words import plain_name, rule_words, short_day, woven

__all__ = ["VIEW"]


def chapters(book: Book) -> tuple[Chapter, ...]:
    return (Chapter(RULE, say("How results are decided"), say("Decision rule"), flows=True),)


def page(book: Book, chapter: Chapter) -> Page:
    made: dict[str, Block] = {}
    entries = policies(book.workshop)
    rows: list[tuple[Text | Cell, ...]] = [
        (
            short_day(body.in_force),
            rule_words(body.policy.decision_rule),
            book.person(body.by),
            book.record_link(act.code),
        )
        for act, body in entries
    ]
    if rows:
        made["policy"] = Table(
            (
                Column(say("In force from")),
                Column(say("Rule"), width=2),
                Column(say("By"), width=1.4),
                Column(say("Act"), width=0.8),
            ),
            tuple(rows),
            say("Policy of this workshop; the entry in force when a reading was taken decides on it"),
            f"{chapter.number}-1",
            id="b.policy",
        )
    else:
        made["policy"] = Note(
            say("No policy entry was found. Without one the guarded rule holds, w = U, 95 %."), id="b.policy"
        )
    own = _own(book)
    if own:
        made["own"] = Table(
            (Column(say("Where"), width=2.4), Column(say("Rule"), width=2)),
            tuple(own),
            say("Rules of a set, a requirement or a leaf"),
            f"{chapter.number}-2",
            id="b.own",
        )
    return Page({"title": chapter.heading, "keys": list(made)}, made)


def _own(book: Book) -> list[tuple[Text | Cell, ...]]:
    rows: list[tuple[Text | Cell, ...]] = []
    for set_id in dict.fromkeys(s for s, _ in book.areas()):
        found = book.set_of(set_id)
        if found and found.file.decision_rule:
            rows.append((say("{set}, all of it", set=found.file.title), rule_words(found.file.decision_rule)))
    for state in book.assessment.requirements:
        if state.requirement.decision_rule:
            rows.append(
                ((book.link(state, state.requirement.title, page=True),), rule_words(state.requirement.decision_rule))
            )
        for name, leaf in state.requirement.leaves.items():
            if leaf.decision_rule:
                where = woven(
                    "{requirement}, leaf {leaf}",
                    requirement=book.link(state, state.requirement.title, page=True),
                    leaf=plain_name(name),
                )
                rows.append((where, rule_words(leaf.decision_rule)))
    return rows


VIEW = View("decision-rule.rst.j2", chapters, page)
