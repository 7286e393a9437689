"""One requirement in its chapter: state, leaves and parts, every result, photographs, and every earlier record."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from witnessmark.assessment.model import (
    Gap,
    LeafState,
    PartState,
    RecordResult,
    RequirementState,
    State,
)
from witnessmark.document.blocks import (
    Block,
    Cell,
    Column,
    LeafRow,
    Leaves,
    Link,
    Pair,
    RequirementHead,
    Table,
    Text,
)
from witnessmark.language import Words, declared, say, say_n
from witnessmark.methods.base import FigureData
from witnessmark.quantities import parse_unit
from witnessmark.records import conditions
from witnessmark.records.sets import LeafKind

from . import charts, results
from .authority import ANSWER
from .book import AUTHORITY, CONCESSIONS, REGISTER, Book, Counter, anchor
from .history import history as earlier_records
from .photos import photograph, photographs
from .words import (
    FINDING,
    axes_words,
    capital,
    day,
    duration,
    instant,
    joined,
    leaf_asks,
    plain_name,
    rule_words,
    sentence,
    source_words,
    state_word,
    woven,
)

__all__ = ["Shown", "about_words", "brief", "gap_words", "met_words", "permissions", "requirement"]

_WHERE = Words(
    {
        "dead": declared("Bus dead"),
        "live": declared("Bus live"),
        "desk": declared("At the desk"),
        "away": declared("Waits for somebody else"),
    }
)
_ABOUT = Words({"design": declared("the design"), "workshop": declared("the workshop")})


class Shown:
    """What one requirement puts on its page: a title, and names of blocks under titles of their own."""

    def __init__(self, title: str) -> None:
        self.title = title
        self.blocks: dict[str, Block] = {}
        self.groups: list[dict[str, object]] = []

    def group(self, title: str) -> None:
        """A new group of blocks; without a title it follows the head directly."""
        self.groups.append({"title": title, "keys": []})

    def add(self, key: str, block: Block | None) -> None:
        if block is None:
            return
        if not self.groups:
            self.group("")
        keys = self.groups[-1]["keys"]
        assert isinstance(keys, list)
        keys.append(key)
        self.blocks[key] = block

    @property
    def context(self) -> dict[str, object]:
        return {"title": self.title, "groups": [g for g in self.groups if g["keys"]]}


def requirement(book: Book, state: RequirementState, counter: Counter) -> Shown:
    """Everything there is about one requirement."""
    number = book.number(state)
    key = state.id
    shown = Shown(f"{number} {state.requirement.title}".strip())
    shown.add(f"{key}.head", _head(book, state))
    if not state.gaps and state.state is State.NOT_APPLICABLE and not state.parts:
        return shown
    shown.add(f"{key}.more-gaps", _more_gaps(book, state, counter))
    shown.add(f"{key}.leaves", _leaves(book, state, counter))
    measured = [(p, leaf) for p in state.parts for leaf in p.leaves if leaf.result and leaf.result.output]
    done: set[str] = set()
    for part, leaf in measured:
        assert leaf.result is not None
        shown.group(_result_title(book, part, leaf, len(measured)))
        _result(book, shown, f"{key}.{part.part or ''}.{leaf.name}", part, leaf, leaf.result, counter, done)
    photos = list(photographs(book, state))
    if photos:
        shown.group(say("Photographs") if measured else "")
        for n, (use, photo) in enumerate(photos, 1):
            shown.add(f"{key}.photo-{n}", photograph(book, use, photo, state))
    history = earlier_records(book, state, counter)
    if history:
        shown.group(say("Earlier records") if measured or photos else "")
        shown.add(f"{key}.history", history)
    return shown


# ---------------------------------------------------------------- head


def gap_words(gap: Gap) -> tuple[str, str]:
    """What is wrong and what to do, as sentences. The keys that are typed into a file are for the command line only:
    on paper the titles of fact and part stand before them already."""
    remedy = gap.remedy
    if gap.key.startswith("fact:"):
        _, part, key = gap.key.split(":", 2)
        remedy = remedy.replace(f" ({key})", "").replace(f" ({key}, {part})", "")
    return sentence(gap.message), sentence(remedy)


def _head(book: Book, state: RequirementState) -> RequirementHead:
    requirement_ = state.requirement
    first = state.gaps[0] if state.gaps else None
    why: Text = ""
    do: Text = ""
    todo = ""
    if first is not None and state.state is not State.CONFORMS:
        wrong, what = gap_words(first)
        why = _placed(book, first, wrong)
        do, todo = (what, _effort(first)) if state.state.is_gap else ("", "")
        if todo and len(state.gaps) > 1:
            more = say_n("{count} more gap below", "{count} more gaps below", len(state.gaps) - 1)
            todo = joined(t for t in (todo, more) if t)
    elif state.state is State.NOT_APPLICABLE:
        why = sentence(state.why or say("Why it does not apply is not recorded"))
    return RequirementHead(
        state=state.state.value,
        word=state_word(state.state),
        title=requirement_.title,
        clause=book.clause(state),
        statement=requirement_.statement,
        number=book.number(state),
        source=source_words(requirement_.source, state.review, book.person(state.review.by)),
        note=_note(book, state),
        brief=brief(state),
        beneath=_beneath(state),
        why=why,
        do=do,
        todo=todo,
        side=_head_side(book, state),
        id=anchor(state),
    )


def _note(book: Book, state: RequirementState) -> str:
    """What is to be known of its source, and how this workshop changed it."""
    note = state.requirement.source.note
    change = book.set_changes.get((state.set_id, state.id))
    words = [sentence(note)] if note else []
    if change is not None:
        words.append(say("This workshop's own: {change}", change=change.words))
    return " ".join(words)


def _placed(book: Book, gap: Gap, words: str) -> str:
    """The words, with the part where they do not name it."""
    if gap.part is None or book.part_title(gap.part).lower() in words.lower() or gap.part in words:
        return words
    return f"{capital(book.part_title(gap.part))}: {words}"


def _effort(gap: Gap) -> str:
    words = [_WHERE.get(gap.group, plain_name(gap.group))]
    if gap.take:
        words.append(gap.take)
    if gap.minutes is not None:
        words.append(duration(gap.minutes))
    if gap.persons:
        words.append(say_n("{count} person", "{count} persons", gap.persons))
    return "; ".join(words)


def _beneath(state: RequirementState) -> str:
    if not state.concessions or state.state is not State.UNDER_CONCESSION:
        return ""
    return say("{state} beneath; {permissions}", state=state_word(state.beneath), permissions=permissions(state))


def permissions(state: RequirementState) -> str:
    """The concessions that cover something: from whom, which, to which day."""
    return joined(
        say("{issuer}, {number}, to {last_day}", issuer=c.issuer, number=c.number, last_day=c.last_day)
        for c in state.concessions
        if not c.idle
    )


def about_words(about: str) -> str:
    """What a requirement is about, where that is not the vehicle."""
    return _ABOUT.get(about, about)


def _head_side(book: Book, state: RequirementState) -> tuple[Pair, ...]:
    pairs = [] if state.requirement.about == "vehicle" else [Pair(say("About"), about_words(state.requirement.about))]
    if state.requirement.each:
        pairs.append(Pair(say("For each"), plain_name(state.requirement.each.part)))
    if state.state.is_gap or state.state is State.UNDER_CONCESSION:
        pairs.append(Pair(say("Behind the word"), axes_words(state.axes)))
    if state.requirement.decision_rule:
        pairs.append(Pair(say("Own rule"), rule_words(state.requirement.decision_rule)))
    for note in state.concessions:
        link = Link(CONCESSIONS, f"{note.issuer}, {note.number}", True)
        pairs.append(
            Pair(say("Concession"), woven("{permission}, covers nothing", permission=link) if note.idle else (link,))
        )
    if (answer := state.authority) is not None:
        said = woven(
            "{authority}, {answer} ({number}, {day}, issue {issue})",
            authority=Link(AUTHORITY, answer.authority, True),
            answer=ANSWER[answer.answer],
            number=answer.number,
            day=day(answer.dated),
            issue=answer.issue,
        )
        pairs.append(Pair(say("Authority"), (*said, f": {answer.words}") if answer.words else said))
    return tuple(pairs)


def brief(state: RequirementState) -> str:
    """The result in one line for lists: one value, or how many of the leaves are met."""
    found = [
        leaf.result
        for part in state.parts
        for leaf in part.leaves
        if leaf.result and leaf.result.valid and not leaf.result.withdrawn and results.as_text(leaf.result)
    ]
    if len(found) == 1:
        return results.as_text(found[0])
    extreme = results.nearest(found)
    if not extreme:
        return met_words(state)
    return extreme if state.state is State.CONFORMS else "; ".join(w for w in (met_words(state), extreme) if w)


def met_words(state: RequirementState) -> str:
    """How much of it is met: by parts where there are several, by leaves where every one is needed."""
    if len(state.parts) > 1:
        met = sum(1 for p in state.parts if p.state is State.CONFORMS)
        return say_n("{n} of {all} parts", "{n} of {all} parts", met, all=len(state.parts))
    leaves = [leaf for part in state.parts for leaf in part.leaves]
    met = sum(1 for leaf in leaves if leaf.state is State.CONFORMS)
    if not leaves:
        return ""
    if state.state is State.CONFORMS:
        return say("meets")
    if len(leaves) == 1:
        return state_word(leaves[0].state)
    if _choice(state.requirement.shown):
        return ""
    return say_n("{n} of {all} met", "{n} of {all} met", met, all=len(leaves))


def _choice(shown: conditions.Shown) -> bool:
    """Whether one leaf can stand for another."""
    match shown:
        case conditions.NeedAny(parts=parts):
            return len(parts) > 1 or any(map(_choice, parts))
        case conditions.NeedAll(parts=parts):
            return any(map(_choice, parts))
        case _:
            return False


def _more_gaps(book: Book, state: RequirementState, counter: Counter) -> Table | None:
    if len(state.gaps) < 2:
        return None
    rows: list[tuple[Text | Cell, ...]] = []
    for gap in state.gaps:
        wrong, what = gap_words(gap)
        rows.append(
            (
                Cell(state_word(gap.state), strong=True, state=gap.state.value),
                capital(book.part_title(gap.part)),
                wrong,
                Cell(what, strong=True),
                _effort(gap),
            )
        )
    return Table(
        columns=(
            Column(say("State"), width=1.1),
            Column(say("Part"), width=1.1),
            Column(say("What is wrong"), width=2.6),
            Column(say("Do this"), width=2.4),
            Column(say("How"), width=1.2),
        ),
        rows=tuple(rows),
        caption=say("All gaps of this requirement, {n}", n=len(rows)),
        number=counter.table(),
        note=woven("The same in the order of work: {register}.", register=Link(REGISTER, say("gap register"), True)),
        gaps=tuple(range(len(rows))) if state.state.is_gap else (),
        id=f"b.gaps.{state.id}",
    )


# ---------------------------------------------------------------- leaves


def _leaves(book: Book, state: RequirementState, counter: Counter) -> Leaves | None:
    rows = [row for part in state.parts for row in _of_part(book, state, part)]
    if not rows:
        return None
    rule = ""
    if len(state.requirement.leaves) > 1:
        rule = say("Shown by: {leaves}.", leaves=_named(state.requirement.shown)) + " "
    if _by_name(state):
        asks = [f"{capital(plain_name(n))}: {leaf_asks(leaf)}" for n, leaf in state.requirement.leaves.items()]
        rule += " ".join(sentence(text) for text in asks)
    return Leaves(rows=tuple(rows), number=counter.table(), rule=rule, id=f"b.leaves.{state.id}")


def _of_part(book: Book, state: RequirementState, part: PartState) -> Iterator[LeafRow]:
    """A row for each leaf; those that are not needed and were never recorded share one row, where there are several."""
    spare = [leaf for leaf in part.leaves if leaf.state.is_gap and part.state is State.CONFORMS and not leaf.records]
    together = spare if len(spare) > 1 else []
    for leaf in part.leaves:
        if leaf not in together:
            yield _leaf(book, state, part, leaf)
    if together:
        names = joined(plain_name(leaf.name) for leaf in together)
        yield replace(_leaf(book, state, part, together[0]), leaf=capital(names), detail="")


def part_name(book: Book, state: RequirementState, part: PartState) -> str:
    """The part, or what the requirement is about where it has none."""
    if part.part is None and state.requirement.about != "vehicle":
        return about_words(state.requirement.about)
    return book.part_title(part.part)


def _by_name(state: RequirementState) -> bool:
    """Whether leaves stand by name in the table, and what each asks below it: where they come again for many parts."""
    return len(state.parts) > 1 or len(state.requirement.leaves) > 4


def _named(shown: conditions.Shown, *, within: bool = False) -> str:
    """The combination without the brackets round the whole, its leaves as words."""
    if isinstance(shown, conditions.Need):
        return str(shown).replace("/", " ").replace("-", " ")
    names = [_named(part, within=True) for part in shown.parts]
    word = say("and") if isinstance(shown, conditions.NeedAll) else say("or")
    whole = f" {word} ".join(names)
    return f"({whole})" if within else whole


def _leaf(book: Book, state: RequirementState, part: PartState, leaf: LeafState) -> LeafRow:
    result = leaf.result
    stands_in_the_way = leaf.state.is_gap and part.state is not State.CONFORMS
    spare = leaf.state.is_gap and not stands_in_the_way
    conceded = stands_in_the_way and state.state is State.UNDER_CONCESSION
    word = _leaf_word(leaf, result)
    if conceded:
        word = say("{state}; under concession", state=word)
    return LeafRow(
        leaf=capital(plain_name(leaf.name)) if _by_name(state) else capital(leaf_asks(leaf.leaf)),
        part=capital(part_name(book, state, part)),
        word=say("not needed, another route shows it ({state})", state=word) if spare else word,
        state=None if spare or conceded else leaf.state.value,
        records=_codes(book, leaf),
        detail=_detail(book, leaf, result),
        gap=stands_in_the_way and not conceded,
    )


def _leaf_word(leaf: LeafState, result: RecordResult | None) -> str:
    """The state's word, with what was found beside it where the two are not the same."""
    word = state_word(leaf.state)
    if result is None:
        return word
    if leaf.leaf.kind is LeafKind.MEASURE:
        first = results.leading(result)
        value = results.as_text(result)
        said = ", ".join(w for w in (value, first.statement if first else "") if w) if value else ""
    else:
        said = FINDING.get(result.claim.finding or "", say("nobody has stated a finding"))
    if said and leaf.state is State.CONFORMS:
        return said
    return f"{word}: {said}" if said else word


def _codes(book: Book, leaf: LeafState) -> Text:
    if not leaf.governs:
        return say("none")
    pieces: list[str | Link] = []
    for code in leaf.governs:
        pieces += ([", "] if pieces else []) + [
            piece for piece in book.record_link(code) if isinstance(piece, str | Link)
        ]
    earlier = len(leaf.records) - len(leaf.governs)
    if earlier > 0:
        pieces.append("; " + say_n("{n} earlier", "{n} earlier", earlier))
    return tuple(pieces)


def _detail(book: Book, leaf: LeafState, result: RecordResult | None) -> Text:
    words: list[str | Link] = []
    if result is not None:
        claim, record = result.claim, result.record
        who = book.person(claim.by or record.by.get("judge") or record.by.get("tester"))
        if claim.seen:
            words.append(sentence(claim.seen) + " ")
        if claim.number or claim.file:
            pages = f", {claim.pages}" if claim.pages else ""
            paper = claim.number or say("Paper without a number")
            words.append(f"{paper}{pages}: {claim.file or say('no file')}. ")
        if claim.exemption:
            exemption = leaf.leaf.exemptions.get(claim.exemption, claim.exemption)
            words.append(say("Exemption: {exemption}.", exemption=exemption) + " ")
        if claim.shared:
            words.append(say("Shared with another part: {why}", why=sentence(claim.shared)) + " ")
        words.append(f"{who}, {instant(record.performed)}. ")
        against = results.does_not_count(result)
        if against:
            words.append(against)
    elif leaf.causes:
        words.append(" ".join(sentence(cause.message) for cause in leaf.causes))
    return tuple(words) if words else ""


# ---------------------------------------------------------------- results


def _result_title(book: Book, part: PartState, leaf: LeafState, several: int) -> str:
    """A title where there is more than one result; a single one stands below the head without."""
    if several < 2:
        return ""
    title = capital(book.part_title(part.part))
    same = [other for other in part.leaves if other.result and other.result.output]
    return f"{title}, {plain_name(leaf.name)}" if len(same) > 1 else title


def _result(
    book: Book,
    shown: Shown,
    key: str,
    part: PartState,
    leaf: LeafState,
    result: RecordResult,
    counter: Counter,
    done: set[str],
) -> None:
    """One result; readings, steps and figures of a record that shows several leaves stand once, with the first."""
    code = result.act.code
    tabled = bool(result.record.readings) and code not in done
    shown.add(
        f"{key}.result",
        results.result_block(book, leaf, result, f"b.result.{key}", beside=not tabled and code not in done),
    )
    if tabled:
        shown.add(f"{key}.readings", results.readings(book, result, counter.table(), f"b.readings.{key}"))
    if code not in done:
        shown.add(f"{key}.worked", results.worked(result, f"b.worked.{key}"))
    done.add(code)
    if result.output is not None and result.output.budget:
        shown.add(f"{key}.budget", results.budget(book, result, counter.table(), f"b.budget.{key}"))
    first = results.leading(result)
    passed = bool(first and first.decision and first.decision.passes) and result.valid and not result.withdrawn
    for n, data in enumerate(result.result.figures if result.result else (), 1):
        known = f"{code} {data.title}"
        if data.kind == "interval" or known in done or not _fits(data, result):
            continue
        done.add(known)
        same = [other.result for other in part.leaves if other.result and other.result.act.code == code]
        limits = [d for r in same if _fits(data, r) and (c := results.leading(r)) and (d := c.decision)]
        figure = charts.drawn(data, limits, counter.figure(), f"b.figure.{key}.{n}", passed=passed)
        shown.add(f"{key}.figure-{n}", figure)


def _fits(data: FigureData, result: RecordResult) -> bool:
    """Whether the figure is about this result: a decay is about a time, a band about what its axis shows, curves
    about all that their method makes of the readings."""
    if result.output is None:
        return False
    if data.kind == "curves":
        return True
    unit = data.x_unit if data.kind == "decay" else data.y_unit
    return parse_unit(unit).compatible(result.output.unit)
