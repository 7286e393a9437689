"""What the authority answered to the issues of this file, requirement by requirement; what is not settled first."""

from __future__ import annotations

from collections import Counter as Tally

from witnessmark.assessment.model import AuthorityNote, RequirementState, State
from witnessmark.document.blocks import Block, Cell, Column, Note, Table, Text
from witnessmark.language import Words, declared, say, say_in, say_n
from witnessmark.records.acts import Answer

from .book import AUTHORITY, Book, Chapter, Counter, Page, View
from .words import capital, day, joined, sentence, state_word

__all__ = ["ANSWER", "VIEW", "answered", "verdict_of_the_authority"]

ANSWER = Words(
    {
        "accepted": declared("accepted"),
        "question": declared("a question is open"),
        "refused": declared("refused"),
    }
)
_ORDER = ("refused", "question", "accepted")


def chapters(book: Book) -> tuple[Chapter, ...]:
    if not answered(book):
        return ()
    return (Chapter(AUTHORITY, say("Answers of the authority"), say("Authority"), flows=True),)


def answered(book: Book) -> tuple[tuple[RequirementState, AuthorityNote], ...]:
    """Every requirement that was answered, what is not settled first, else in the order of the file."""
    found = [(state, state.authority) for state in book.assessment.requirements if state.authority is not None]
    return tuple(sorted(found, key=lambda pair: _ORDER.index(pair[1].answer)))


def verdict_of_the_authority(book: Book) -> str:
    """One sentence for the cover; "" where nothing was answered yet."""
    found = answered(book)
    if not found:
        return ""
    numbers = Tally(note.answer for _, note in found)
    said = joined(_counted(a, numbers[a]) for a in _ORDER if numbers[a])
    who = joined(dict.fromkeys(note.authority for _, note in found))
    open_ = sum(1 for r in book.assessment.requirements if r.authority is None and r.state is not State.NOT_APPLICABLE)
    if not open_:
        return say("{who} answered: {answers}.", who=who, answers=said)
    return say_n(
        "{who} answered: {answers}; to {count} requirement nothing was answered yet.",
        "{who} answered: {answers}; to {count} requirements nothing was answered yet.",
        open_,
        who=who,
        answers=said,
    )


def _counted(answer: str, n: int) -> str:
    match answer:
        case "refused":
            return say_n("{n} refused", "{n} refused", n)
        case "question":
            return say_n("{n} with a question", "{n} with a question", n)
        case _:
            return say_n("{n} accepted", "{n} accepted", n)


def page(book: Book, chapter: Chapter) -> Page:
    counter = Counter(chapter.number)
    found = answered(book)
    left = [pair for pair in found if not pair[1].is_settled]
    made: dict[str, Block] = {"lead": Note(verdict_of_the_authority(book), style="lead")}
    letters = [(act, act.body) for act in book.acts_of_vehicle() if isinstance(act.body, Answer)]
    made["letters"] = Table(
        (
            Column(say("Letter"), width=1.4),
            Column(say_in("day of a letter", "Of"), width=1),
            Column(say_in("writer of a letter", "From"), width=1.8),
            Column(say("About issue"), width=0.7),
            Column(say("Read by"), width=1),
            Column(say("Act"), width=0.7),
        ),
        tuple(
            (body.number, day(body.dated), body.authority, body.answers, book.person(body.by), book.record_link(a.code))
            for a, body in sorted(letters, key=lambda pair: (pair[1].dated, pair[0].code))
        ),
        say("Letters about this file"),
        counter.table(),
        id="b.letters",
    )
    if left:
        caption = say_n(
            "Not accepted, or with a question: {count} requirement",
            "Not accepted, or with a question: {count} requirements",
            len(left),
        )
        made["left"] = _table(book, left, caption, counter.table(), "b.answers.left")
    settled = [pair for pair in found if pair[1].is_settled]
    if settled:
        made["accepted"] = Table(
            (Column(say("Requirement"), width=3), Column(say("State now"), width=1), Column(say("Letter"), width=1.4)),
            tuple(
                (
                    (book.link(state, state.requirement.title, page=True),),
                    Cell(state_word(state.state), strong=state.state.is_gap),
                    _letter(note),
                )
                for state, note in settled
            ),
            say_n("Accepted: {count} requirement", "Accepted: {count} requirements", len(settled)),
            counter.table(),
            id="b.answers.accepted",
        )
    return Page({"title": chapter.heading, "keys": [key for key in made if key != "lead"]}, made)


def _table(
    book: Book, rows: list[tuple[RequirementState, AuthorityNote]], caption: str, number: str, ident: str
) -> Table:
    cells: list[tuple[Text | Cell, ...]] = [
        (
            (book.link(state, state.requirement.title, page=True),),
            Cell(state_word(state.state), strong=state.state.is_gap),
            Cell(capital(ANSWER[note.answer]), strong=not note.is_settled),
            sentence(note.words) if note.words else say("nothing more"),
            _letter(note),
        )
        for state, note in rows
    ]
    return Table(
        (
            Column(say("Requirement"), width=2),
            Column(say("State now"), width=1),
            Column(say("Answer"), width=1),
            Column(say("What was said"), width=2.6),
            Column(say("Letter"), width=1.2),
        ),
        tuple(cells),
        caption,
        number,
        id=ident,
    )


def _letter(note: AuthorityNote) -> str:
    return say("{letter}, issue {issue}", letter=note.number, issue=note.issue)


VIEW = View("authority-answers.rst.j2", chapters, page)
