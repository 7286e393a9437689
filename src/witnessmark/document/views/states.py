"""Every requirement by its state: a page for each state that occurs, on the screen only, in order of chapters."""

from __future__ import annotations

from witnessmark.assessment.model import RequirementState, State
from witnessmark.document.blocks import Block, Link, ListedRow, Listing, Note
from witnessmark.language import Words, declared, in_words, say, say_n

from .book import REGISTER, Book, Chapter, Page, View, among, area_page, listed, state_page
from .requirement import brief, gap_words
from .words import capital, sentence, state_word, woven

__all__ = ["MEANS", "VIEW", "occurring"]

MEANS = Words(
    {
        State.NONCONFORMING: declared(
            "A result or finding is against it. It stays so until a later sound record that names it passes."
        ),
        State.LAPSED: declared(
            "It was shown once; then something that the showing rested on was changed, opened or ran out."
        ),
        State.NOT_SHOWN: declared("Nothing that counts shows it yet."),
        State.UNDECIDED: declared(
            "The limit lies inside the interval of the result, so that it is neither a pass nor a fail."
        ),
        State.UNDER_CONCESSION: declared("It stands by permission of somebody outside the workshop, not by proof."),
        State.CONFORMS: declared("Sound and current records show it, in the word of this workshop."),
        State.NOT_APPLICABLE: declared("A stated fact says, with its source, that it does not apply to this vehicle."),
    }
)


def occurring(book: Book) -> tuple[State, ...]:
    """The states that at least one requirement has, worst first."""
    return tuple(state for state in State if book.assessment.summary[state])


def chapters(book: Book) -> tuple[Chapter, ...]:
    return tuple(
        Chapter(state_page(state), capital(state_word(state)), subject=(state.value,), printed=False)
        for state in occurring(book)
    )


def page(book: Book, chapter: Chapter) -> Page:
    state = State(chapter.subject[0])
    total, some = len(book.assessment.requirements), in_words(book.assessment.summary[state])
    counted = say_n("{some} of {count} requirement.", "{some} of {count} requirements.", total, some=some)
    made: dict[str, Block] = {"lead": Note(f"{capital(counted)} {MEANS[state]}", style="lead")}
    if state.is_gap:
        made["order"] = Note(
            woven("In the order of work: {register}.", register=Link(REGISTER, say("gap register"))), style="quiet"
        )
    sections = []
    for set_id, area in book.areas():
        all_ = book.area(set_id, area)
        found = [r for r in all_ if r.state is state]
        if not found:
            continue
        name = area_page(set_id, area)
        home = next(c for c in book.chapters if c.name == name)
        made[name] = Listing(tuple(_row(book, r) for r in found), id=among(name))
        of = say_n("{n} of {all} here", "{n} of {all} here", len(found), all=len(all_))
        sections.append({"title": home.heading, "key": name, "page": name, "of": of})
    return Page({"title": chapter.title, "keys": [k for k in ("lead", "order") if k in made], "areas": sections}, made)


def _row(book: Book, state: RequirementState) -> ListedRow:
    first = state.gaps[0] if state.gaps else None
    why, do = "", ""
    if state.state.is_gap and first is not None:
        why, do = gap_words(first)
        if len(state.gaps) > 1:
            why += f" {capital(say_n('{count} more gap.', '{count} more gaps.', len(state.gaps) - 1))}"
    elif state.state is State.NOT_APPLICABLE:
        why = sentence(state.why or say("Why it does not apply is not recorded"))
    elif state.state is State.UNDER_CONCESSION:
        why = say("{state} beneath.", state=capital(state_word(state.beneath)))
    short = "" if state.state is State.NOT_APPLICABLE else brief(state)
    return ListedRow(
        state=state.state.value,
        word=state_word(state.state),
        title=f"{book.number(state)} {state.requirement.title}".strip(),
        clause=book.clause(state),
        brief="" if short == state_word(state.state) else short,
        why=why,
        do=do,
        to=book.target(state),
        id=listed(state),
    )


VIEW = View("state.rst.j2", chapters, page, numbered=False)
