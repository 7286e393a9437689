"""The risk analysis: each row with its controls, and with what shows them as it stands today."""

from __future__ import annotations

from witnessmark.assessment.model import RiskControl, RiskRow, RiskState, State
from witnessmark.document.blocks import Block, Cell, Column, Link, Note, Table, Text
from witnessmark.language import Words, declared, in_words, say, say_in, say_n
from witnessmark.records.acts import RiskAnalysis

from .book import RISKS, Book, Chapter, Counter, Page, View
from .words import capital, day, joined, plain_name, sentence, state_word, woven

__all__ = ["VIEW"]

_SORTS = Words(
    {
        "detects": declared("Finds it: {how}"),
        "limits": declared("Limits it: {how}"),
        "prevents": declared("Prevents it: {how}"),
    }
)


def chapters(book: Book) -> tuple[Chapter, ...]:
    return (Chapter(RISKS, say("Risk analysis"), flows=True),) if book.assessment.risks is not None else ()


def page(book: Book, chapter: Chapter) -> Page:
    found = book.assessment.risks
    assert found is not None
    counter = Counter(chapter.number)
    body = found.analysis
    stated = (
        say(
            "Stated by {who} on {day}, checked by {second}; act {code}.",
            who=book.person(body.by),
            day=day(body.stated),
            second=book.person(body.second),
            code=found.code,
        )
        if body.second
        else say(
            "Stated by {who} on {day}; act {code}.", who=book.person(body.by), day=day(body.stated), code=found.code
        )
    )
    made: dict[str, Block] = {
        "lead": Note(_lead(found), style="lead"),
        "how": Note(f"{sentence(capital(body.analyses))} {sentence(capital(body.way))} {stated}"),
    }
    made["rows"] = Table(
        (
            Column(say("What can fail, and why"), width=2.2),
            Column(say("What it does to people"), width=1.8),
            Column(say_in("severity", "S"), align="right", width=0.35),
            Column(say_in("occurrence", "O"), align="right", width=0.35),
            Column(say_in("detection", "D"), align="right", width=0.35),
            Column(say("Controls"), width=3.1),
            Column(say("Today"), width=2.2),
        ),
        tuple(_row(book, found, row) for row in _worst_first(found)),
        say("Rows, the most severe first; S severity, O occurrence, D detection, each from 1 to 10"),
        counter.table(),
        wide=True,
        gaps=tuple(n for n, row in enumerate(_worst_first(found)) if row in found.open_rows),
        id="b.risks",
    )
    older = [act for act in book.acts_of_vehicle() if isinstance(act.body, RiskAnalysis) and act.code != found.code]
    if older:
        words = say_n(
            "It takes the place of {count} earlier analysis: {codes}.",
            "It takes the place of {count} earlier analyses: {codes}.",
            len(older),
            codes=joined(act.code for act in older),
        )
        made["older"] = Note(words, style="quiet")
    return Page({"title": chapter.heading, "keys": [k for k in made if k not in ("lead", "how")]}, made)


def _lead(found: RiskState) -> str:
    if found.unsound:
        return say("This analysis does not count: {why}", why=found.unsound)
    held = len(found.rows) - len(found.open_rows)
    if not found.open_rows:
        return say_n(
            "The one row holds: everything that shows its controls conforms.",
            "All {count} rows hold: everything that shows their controls conforms.",
            len(found.rows),
        )
    holding = say_n("{some} of {count} row hold.", "{some} of {count} rows hold.", len(found.rows), some=in_words(held))
    left = say_n(
        "{count} row is open, because what shows a control does not conform today.",
        "{count} rows are open, because what shows a control does not conform today.",
        len(found.open_rows),
    )
    return f"{capital(holding)} {capital(left)}"


def _worst_first(found: RiskState) -> list[RiskRow]:
    return sorted(found.rows, key=lambda row: -row.risk.severity)


def _row(book: Book, found: RiskState, row: RiskRow) -> tuple[Text | Cell, ...]:
    risk = row.risk
    open_ = row in found.open_rows
    return (
        say("{item}: {failure}. Cause: {cause}.", item=capital(risk.item), failure=risk.failure, cause=risk.cause),
        sentence(risk.effect),
        str(risk.severity),
        str(risk.occurrence),
        str(risk.detection),
        _controls(row.controls) if row.controls else say("None. {why}", why=sentence(risk.left or "")),
        Cell(_today(book, row), strong=open_) if row.controls else say_in("a risk without a control", "borne"),
    )


def _controls(controls: tuple[RiskControl, ...]) -> str:
    said = []
    for one in controls:
        said.append(_SORTS[one.control.sort].format(how=sentence(one.control.does)))
        if one.control.driver:
            said.append(say("The driver: {does}", does=sentence(one.control.driver)))
    return " ".join(said)


def _today(book: Book, row: RiskRow) -> Text:
    """What shows the controls, each name once, what does not conform first and with its state."""
    pieces: list[str | Link] = []
    shown = dict(pair for control in row.controls for pair in control.shown_by)
    for conforms in (False, True):
        for ref, state in shown.items():
            if (state is State.CONFORMS) is not conforms:
                continue
            name, _, leaf = ref.partition("/")
            states = book.requirements_called(name)
            words = states[0].requirement.title if states else plain_name(name)
            leaf_words = f", {plain_name(leaf)}" if leaf else ""
            pieces += [", "] if pieces else []
            pieces += [book.link(states[0], f"{words}{leaf_words}", page=True)] if states else [words]
            if state is not State.CONFORMS:
                pieces.append(f" ({state_word(state) if state is not None else say('not asked of this vehicle')})")
    names = tuple(pieces)
    return woven("Open: {names}", names=names) if row.is_open else woven("Holds: {names}", names=names)


VIEW = View("risk-analysis.rst.j2", chapters, page)
