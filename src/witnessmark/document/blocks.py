"""The visual blocks of a technical file: the contract between what is said and how it looks.

How a page is made
    A page is reStructuredText for headings and prose. Everything that comes from records goes into a JSON file
    beside the page and is placed with a directive::

        .. block:: data/isolation.json#result
           :ids: r-8-3-1

    The key names one entry of the JSON object in that file; the entry is `blockdata.as_json(block)` of one block below.
    `:ids:` gives the block anchors, so that `{"to": "page#r-8-3-1", ...}` finds it. A file name is taken relative
    to the folder of the sources.

Text
    Text is plain. Nothing in it is markup: a star stays a star and a tag stays a tag. A field of type `Text` is a
    string, or a list of pieces: strings, `Link`, `Strong` and `Symbol` (LaTeX of a quantity, such as ``U_b``).
    Numbers arrive formatted (true minus, decimal mark, digits of the uncertainty); only figures take floats.
    "" means: there is nothing here, and the layout closes up. In a table write "none" or "not asked" instead.

Links
    `Link(to, text)`. `to` is ``page#id``, ``page``, ``attachment:NAME`` or an address with http, https or mailto.
    A target that does not exist becomes a note and the text stays. Print adds page numbers where a block asks for
    them (`Gap.link`, `Entry.link`, `MatrixRow.link`, any `Link(..., page=True)`); do not write page numbers yourself.

    Keep a number and its unit together with a no-break space (U+00A0).

Titles and numbers
    Titles are section titles of the page, with their number in them ("8.3.1 Isolation of the traction bus"); nothing is
    numbered by the layout. A `RequirementHead` is the first thing below the title of its own section: the rail and the
    mark belong to that whole section. A section with a `Matrix` lies across in print, with its title and prose. A page
    whose section holds a `Cover` takes the cover's title. Two or more requirements on a page give it a line that
    counts them by state, with links to the pages of those states.

States
    `state` is one of `STATES`. The mark and the edge tab come from it. The word is printed as it is given
    (`word`, or the state's own word), so that nothing depends on a picture.

Gaps
    Whatever stands in the way carries a tab at the page's edge: `GAPS` says for which states. A fifth sort of gap,
    a photograph that nobody has judged, is `Photo(finding=None)`.

Errors: `blockdata.load` raises `BlockFault` with a sentence that names the field; the engine makes it a `Problem` with
file and key.
"""

from __future__ import annotations

import types
import typing
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from witnessmark.language import say

from .drawings import (
    Band,
    Bus,
    Curve,
    Curves,
    Decay,
    Extreme,
    Figure,
    IntervalChart,
    IntervalRow,
    Limit,
    Mark,
    OnBus,
    OneLine,
    Outlines,
    Placed,
)
from .lists import ListedRow, Listing
from .paragraphs import Cautions, Letterhead, Note, Pairs
from .pieces import GAPS, STATES, Link, Pair, Piece, State, Strong, Symbol, Text

__all__ = [
    "GAPS",
    "KINDS",
    "STATES",
    "Band",
    "Block",
    "Budget",
    "BudgetRow",
    "Bus",
    "Cautions",
    "Cell",
    "Column",
    "Concession",
    "Contents",
    "Cover",
    "Curve",
    "Curves",
    "Decay",
    "Entry",
    "Extreme",
    "Figure",
    "Gap",
    "Group",
    "IntervalChart",
    "IntervalRow",
    "LeafRow",
    "Leaves",
    "Letterhead",
    "Limit",
    "Link",
    "ListedRow",
    "Listing",
    "Mark",
    "Matrix",
    "MatrixRow",
    "Note",
    "OnBus",
    "OneLine",
    "Outlines",
    "Pair",
    "Pairs",
    "Photo",
    "Piece",
    "Placed",
    "Reading",
    "Readings",
    "Register",
    "RequirementHead",
    "ResultBlock",
    "RunColumn",
    "State",
    "StateCount",
    "Step",
    "Strong",
    "Symbol",
    "Table",
    "Text",
    "Worked",
]


# ---------------------------------------------------------------- cover


@dataclass(frozen=True, slots=True)
class Gap:
    """One row of the cover: what is wrong and what to do. `link` leads to the requirement; print shows its page.

    On screen the requirement's name is the link; the link's own text is not printed.
    """

    state: State
    requirement: str
    wrong: Text
    todo: Text
    link: Link | None = None
    word: str = ""


@dataclass(frozen=True, slots=True)
class Concession:
    """One concession: what is permitted, with "nonconforming beneath", issuer and last day in `text`."""

    text: Text
    link: Link | None = None


@dataclass(frozen=True, slots=True)
class RunColumn:
    """One column of the run: a chapter's number and short label, and its states from the first requirement up."""

    number: str
    label: str
    states: tuple[State, ...]
    link: Link | None = None


@dataclass(frozen=True, slots=True)
class StateCount:
    """The key beside the run: how many requirements have this state."""

    state: State
    count: int


@dataclass(frozen=True, slots=True)
class Cover:
    """The first page: the answer first.

    `head_left` is the workshop, `head_right` file, issue and as-of date. `title` is the page's title, `question`
    and `answer` stand large ("Can it be submitted?", "Not yet."), `sentence` gives number and effort. `gaps` are
    the rows to show (at most nine), `more` says what is left out ("and 14 more, page 3" is a list with a link).
    """

    title: str
    question: str
    answer: str
    sentence: Text
    head_left: Text = ""
    head_right: Text = ""
    gaps: tuple[Gap, ...] = ()
    more: Text = ""
    concessions: tuple[Concession, ...] = ()
    run_title: str = ""
    run: tuple[RunColumn, ...] = ()
    counts: tuple[StateCount, ...] = ()
    identity: tuple[tuple[Pair, ...], ...] = ()
    statement: Text = ""
    kind: Literal["cover"] = "cover"


@dataclass(frozen=True, slots=True)
class Contents:
    """The list of chapters and sections with page numbers; `depth` levels of headings."""

    title: str = ""
    depth: int = 2
    kind: Literal["contents"] = "contents"


# ---------------------------------------------------------------- gap register


@dataclass(frozen=True, slots=True)
class Entry:
    """One job of the register. `why` says what is and why it matters, `do` what to do; `facts` are sheet, time, who."""

    state: State
    title: str
    why: Text
    do: Text
    clause: str = ""
    facts: tuple[Pair, ...] = ()
    link: Link | None = None
    id: str = ""
    word: str = ""


@dataclass(frozen=True, slots=True)
class Group:
    """Jobs that can be done at the same time: "Now, bus dead and covers off", "three jobs, about 1 h 20 min"."""

    title: str
    summary: str
    entries: tuple[Entry, ...]


@dataclass(frozen=True, slots=True)
class Register:
    """All that stands in the way, grouped by what can be done now. `permissions` are the concessions below."""

    groups: tuple[Group, ...]
    permissions: tuple[Concession, ...] = ()
    permissions_title: str = field(default_factory=lambda: say("Stands by permission, not by proof:"))
    kind: Literal["register"] = "register"


# ---------------------------------------------------------------- one requirement


@dataclass(frozen=True, slots=True)
class RequirementHead:
    """The state of one requirement, as the first thing below its section title. It draws the rail along the section.

    `number` is the number the section title starts with ("8.3.1"), `brief` the result in one line for the list on
    screen ("1097 Ω/V ± 10 Ω/V"). `statement` is the requirement in own words, `source` where it is from and how well
    that is known, `note` what else is to be known of the source. `side` goes into the side column: record, read, by,
    witness, method, meter. A gap says `why` and `do`; `todo` is the line below (sheet, instrument, time). `beneath` is
    for a concession: the state below it, issuer and last day.
    """

    state: State
    title: str
    clause: str
    statement: Text
    number: str = ""
    word: str = ""
    source: str = ""
    note: str = ""
    brief: str = ""
    beneath: str = ""
    why: Text = ""
    do: Text = ""
    todo: Text = ""
    side: tuple[Pair, ...] = ()
    id: str = ""
    kind: Literal["requirement"] = "requirement"


@dataclass(frozen=True, slots=True)
class ResultBlock:
    """One result: "1097", "10", "Ω/V", the statement word ("Pass."), the sentence beside it and a small rule line.

    `value` with `bound` ("at least", ">") for a result that is only a bound. `u` is the expanded uncertainty.
    """

    value: str
    unit: str
    statement: str
    sentence: Text
    u: str = ""
    bound: str = ""
    rule: Text = ""
    side: tuple[Pair, ...] = ()
    id: str = ""
    kind: Literal["result"] = "result"


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading: `symbol` in LaTeX, `value` as read, `u` the ± of the meter, `used` where it goes."""

    title: str
    value: str
    unit: str
    symbol: str = ""
    u: str = ""
    used: str = ""


@dataclass(frozen=True, slots=True)
class Readings:
    """Readings in the order taken, with the table's `number` ("8-7") and `caption`; `note` below, `side` at left."""

    rows: tuple[Reading, ...]
    caption: str = field(default_factory=lambda: say("Readings, in the order taken"))
    number: str = ""
    note: Text = ""
    side: tuple[Pair, ...] = ()
    side_note: Text = ""
    id: str = ""
    kind: Literal["readings"] = "readings"


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the calculation: words, the LaTeX with the numbers put in, and how it is spoken."""

    formula: str
    spoken: str
    words: Text = ""


@dataclass(frozen=True, slots=True)
class Worked:
    """The calculation with the numbers put in."""

    steps: tuple[Step, ...]
    side_note: Text = ""
    id: str = ""
    kind: Literal["worked"] = "worked"


@dataclass(frozen=True, slots=True)
class BudgetRow:
    """One contribution: u with unit, its distribution, sensitivity with unit, share; `part` of the variance, 0 to 1."""

    title: str
    u: str
    unit: str
    shape: str
    sensitivity: str
    sensitivity_unit: str
    share: str
    part: float
    symbol: str = ""


@dataclass(frozen=True, slots=True)
class Budget:
    """Uncertainty budget, largest part first. `combined` is the root sum of squares, `expanded` the last cell."""

    rows: tuple[BudgetRow, ...]
    of: str
    share_unit: str
    combined: str
    expanded: str
    of_symbol: str = ""
    caption: str = field(default_factory=lambda: say("Uncertainty budget"))
    number: str = ""
    side_note: Text = ""
    id: str = ""
    kind: Literal["budget"] = "budget"


@dataclass(frozen=True, slots=True)
class Photo:
    """A photograph, uncropped. `file` lies below the sources (JPEG or PNG, position data already taken out).

    `finding` is "meets", "does not meet" or None: then "Nobody has judged this picture" stands there with a tab.
    `seen` is what the judge saw, `judged` who and when, `taken` the time, `original` the first file's name.
    """

    file: str
    spoken: str
    finding: str | None
    number: str = ""
    seen: Text = ""
    judged: str = ""
    taken: str = ""
    original: Text = ""
    sha256: str = ""
    shows: Text = ""
    id: str = ""
    kind: Literal["photo"] = "photo"


# ---------------------------------------------------------------- tables


@dataclass(frozen=True, slots=True)
class LeafRow:
    """One demonstration: leaf, part, its verdict (a state, or a statement word with state None) and the records."""

    leaf: Text
    part: Text
    word: str
    state: State | None = None
    records: Text = ""
    detail: Text = ""
    gap: bool = False


@dataclass(frozen=True, slots=True)
class Leaves:
    """How one requirement is shown: leaf, part, verdict, records."""

    rows: tuple[LeafRow, ...]
    caption: str = field(default_factory=lambda: say("How it is shown"))
    number: str = ""
    rule: Text = ""
    id: str = ""
    kind: Literal["leaves"] = "leaves"


@dataclass(frozen=True, slots=True)
class MatrixRow:
    """One requirement in the matrix. `value` and `u` go beside each other on the mark, `result` is words (or follows).

    `missing` is said in the result column, semibold. Print shows the page of `link`.
    """

    state: State
    clause: str
    title: str
    how: Text
    asked: str
    record: Text
    value: str = ""
    u: str = ""
    result: Text = ""
    missing: str = ""
    link: Link | None = None
    word: str = ""
    id: str = ""


@dataclass(frozen=True, slots=True)
class Matrix:
    """The compliance matrix, landscape in print. `after` is the line below it."""

    rows: tuple[MatrixRow, ...]
    title: str
    summary: str = ""
    after: Text = ""
    id: str = ""
    kind: Literal["matrix"] = "matrix"


@dataclass(frozen=True, slots=True)
class Column:
    """A column: `align` "decimal" lines up the decimal mark; `width` is a share of the width, 0 as narrow as can be."""

    head: Text
    align: Literal["left", "right", "decimal"] = "left"
    width: float = 1.0


@dataclass(frozen=True, slots=True)
class Cell:
    """A cell with more than text: `strong` for what is missing, `state` for a mark (the word is still the text)."""

    text: Text
    strong: bool = False
    quiet: bool = False
    state: State | None = None


@dataclass(frozen=True, slots=True)
class Table:
    """Any other table. `rows` hold cells: a `Text` or a `Cell`. `gaps` are row numbers (from 0) that carry a tab."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[Text | Cell, ...], ...]
    caption: str = ""
    number: str = ""
    note: Text = ""
    gaps: tuple[int, ...] = ()
    wide: bool = False
    id: str = ""
    kind: Literal["table"] = "table"


Block = (
    Cover
    | Letterhead
    | Contents
    | Register
    | Listing
    | RequirementHead
    | ResultBlock
    | Readings
    | Worked
    | Budget
    | Figure
    | Photo
    | Leaves
    | Matrix
    | Table
    | Cautions
    | Pairs
    | Note
)
KINDS: Mapping[str, type[Any]] = types.MappingProxyType(
    {cls.__dataclass_fields__["kind"].default: cls for cls in typing.get_args(Block)}
)
