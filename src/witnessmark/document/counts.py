"""After the build: is every requirement there, once, with its own state and word, on the screen and in print?

Templates are anybody's, so what they made is not believed: the finished HTML and the tree that the PDF is set from are
counted against the assessment. A requirement that is missing, doubled, hidden or has another word stops the build.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any

from witnessmark.document.layout_words import concessions_words, fields_words, gaps_words
from witnessmark.problems import Place, Problem

__all__ = ["Expected", "Seen", "Wanted", "compare", "odd", "seen_in_html", "seen_in_tree"]

HEAD, ROW, TODO = "chapter", "matrix", "register"
"""Where a requirement has to stand: in its chapter and in the matrix once, and, as a gap, in the register."""
LISTED, COUNT = "list of its state", "count"
"""On the screen besides: once on the page of its state; and each link that says how many it leads to."""
COVER, CAUTIONS = "cover", "cautions"
"""What else no template may leave out: the answer on the first page, and the hazard band of every chapter."""

_VOID = frozenset(
    ["area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"]
)


@dataclass(frozen=True, slots=True)
class Expected:
    """One requirement: `target` is ``page#id`` of its chapter entry, `row` of its row in the matrix."""

    name: str
    target: str
    row: str
    register: str
    state: str
    word: str
    gap: bool
    clause: str = ""
    title: str = ""
    number: str = ""
    listed: str = ""
    """``page#id`` on the page of its state, for the screen."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """A block that has to be there, with these words: the answer of the cover, the voltage of a hazard band."""

    where: str
    target: str
    words: str


@dataclass(frozen=True, slots=True)
class Seen:
    """One place in an output: `where` is one of those above, `hidden` says that its surroundings can hide it."""

    where: str
    target: str
    state: str
    word: str
    hidden: bool = False


def compare(
    expected: Sequence[Expected], seen: Iterable[Seen], output: str, wanted: Sequence[Wanted] = (), empty: int = 0
) -> tuple[Problem, ...]:
    """What differs, as problems (`count.*`); `output` is "HTML" or "PDF", `empty` the number of empty fields."""
    found: dict[tuple[str, str], list[Seen]] = {}
    for one in seen:
        found.setdefault((one.where, one.target), []).append(one)
    problems: list[Problem] = []
    known: set[tuple[str, str]] = set()
    for want in expected:
        for where, target in ((HEAD, want.target), (ROW, want.row)):
            known.add((where, target))
            problems += _one(want, found.get((where, target), []), where, target, output)
        if want.listed and output == "HTML":
            known.add((LISTED, want.listed))
            problems += _one(want, found.get((LISTED, want.listed), []), LISTED, want.listed, output)
        known.add((TODO, want.target))
        listed = [s for s in found.get((TODO, want.target), []) if not s.hidden]
        if want.gap and not listed:
            problems.append(
                _problem(
                    "count.gap",
                    f"{want.name} is {want.word}, but the gap register in the {output} does not name it",
                    want.register,
                    "register",
                )
            )
    for block in wanted:
        known.add((block.where, block.target))
        shown = [" ".join(s.word.split()) for s in found.get((block.where, block.target), []) if not s.hidden]
        if " ".join(block.words.split()) not in shown:
            what = f"the {block.where} “{block.words}”" if block.words else f"the {block.where}"
            problems.append(
                _problem(
                    "count.block", f"{what} is missing from {block.target} in the {output}", block.target, block.where
                )
            )
    for (where, target), places in sorted(found.items()):
        if where == COUNT:
            problems += _miscounted(expected, target, places, output, empty)
        elif (where, target) not in known and where in (HEAD, ROW, LISTED):
            problems.append(
                _problem(
                    "count.unknown",
                    f"the {where} in the {output} shows {target} as {places[0].word}, which was not assessed",
                    target,
                    where,
                )
            )
    return tuple(problems)


def _miscounted(
    expected: Sequence[Expected], target: str, places: list[Seen], output: str, empty: int
) -> Iterator[Problem]:
    """Links whose number is not that of the requirements, or of the empty fields, which they lead to."""
    page, _, anchor = target.partition("#")
    listed = [e for e in expected if e.listed.partition("#")[0] == page]
    among = [e for e in listed if not anchor or e.target.partition("#")[0] == anchor.removeprefix("l.")]
    here = [e for e in expected if e.target.partition("#")[0] == page] or expected
    for said in sorted({one.word for one in places}):
        right = len(among) if listed else _right(said, here, empty)
        if not listed and not right and not re.search(r"\d", said):
            continue  # nothing is counted, and nothing is said to be
        if _plain(said) != (str(right) if listed else _plain(_words_of(said)(right))):
            yield _problem(
                "count.link",
                f"a link to {target} in the {output} says {said!r}, where it has to say {right}",
                target,
                COUNT,
            )


def _plain(said: str) -> str:
    return " ".join(said.split())


def _words_of(said: str) -> Callable[[int], str]:
    """What is counted, told by the words round the number: gaps where no other words fit."""
    number = re.search(r"\d+", said)
    n = int(number[0]) if number else 1  # some languages say one without a digit
    return next(
        (words for words in (gaps_words, concessions_words, fields_words) if _plain(words(n)) == _plain(said)),
        gaps_words,
    )


def _right(said: str, here: Sequence[Expected], empty: int) -> int:
    """How many of what is counted there are."""
    words = _words_of(said)
    if words is fields_words:
        return empty
    return sum(e.state == "under-concession" if words is concessions_words else e.gap for e in here)


def _one(want: Expected, places: list[Seen], where: str, target: str, output: str) -> Iterator[Problem]:
    shown = [s for s in places if not s.hidden]
    if not shown:
        how = "stands where it can be hidden" if places else "is missing"
        yield _problem(
            "count.missing", f"{want.name} ({want.word}) {how} in the {where} of the {output}", target, where
        )
    elif len(places) > 1:
        yield _problem(
            "count.twice", f"{want.name} stands {len(places)} times in the {where} of the {output}", target, where
        )
    for one in shown:
        if one.state != want.state or " ".join(one.word.split()) != want.word:
            said = f"{one.state}, “{one.word}”" if one.word != one.state else one.state
            yield _problem(
                "count.word", f"{want.name} is {want.word}, but the {where} of the {output} says {said}", target, where
            )


def _problem(code: str, message: str, target: str, where: str) -> Problem:
    page = target.partition("#")[0]
    return Problem(
        code,
        message,
        f"mend the template of the page {page}: place each block of the {where} once, and nothing that hides it",
        Place(f"{page}.rst"),
    )


# ---------------------------------------------------------------- screen


@dataclass(slots=True)
class _Element:
    tag: str
    classes: tuple[str, ...]
    id: str
    odd: bool
    """Whether it, or what it stands in, is something that no page of ours has: it may hide what it holds."""
    words: list[str] = field(default_factory=list)
    leads: str = ""
    said: str = ""
    """Of a link with a number beside it: where it leads, and the number as it is said."""
    state: str = ""
    word: str = ""
    target: str = ""


class _Reader(HTMLParser):
    """Finds requirements, rows of the matrix and entries of the register in one page."""

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.page = page
        self.stack: list[_Element] = []
        self.seen: list[Seen] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        classes = tuple(given.get("class", "").split())
        above = self.stack[-1] if self.stack else None
        element = _Element(
            tag, classes, given.get("id", ""), (above is not None and above.odd) or odd(tag, classes, given)
        )
        state = next((c.removeprefix("state-") for c in classes if c.startswith("state-")), "")
        if state and (tag in ("section", "tr") or "listed" in classes):
            element.state = state
            element.target = element.id
        if tag == "a" and (entry := self._within("entry")) is not None:
            target = self._target(given.get("href", ""))
            if target:
                self.seen.append(Seen(TODO, target, "", "", element.odd))
            entry.target = entry.target or target
        if tag == "a" and (link := element if "counted" in classes else self._within("counted")) is not None:
            page, _, anchor = given.get("href", "").partition("#")
            link.leads = f"{page.removesuffix('.html') or self.page}#{anchor}"
        if element.id and "reqhead" in classes and (section := self._section()) is not None:
            section.target = element.id
        if tag not in _VOID:
            self.stack.append(element)

    def handle_endtag(self, tag: str) -> None:
        if not any(element.tag == tag for element in self.stack):
            return
        while self.stack:
            element = self.stack.pop()
            self._closed(element)
            if element.tag == tag:
                return

    def handle_data(self, data: str) -> None:
        if self.stack:
            self.stack[-1].words.append(data)

    def _closed(self, element: _Element) -> None:
        text = "".join(element.words)
        if self.stack:
            self.stack[-1].words.append(text)
        if "word" in element.classes:
            holder = self._within("listed") or self._section()
            if holder is not None:
                holder.word = " ".join(text.split())
        if "count" in element.classes and (link := self._within("counted")) is not None:
            link.said = " ".join(text.split())
        if element.said[:1].isdigit():
            self.seen.append(Seen(COUNT, element.leads or f"{self.page}#", "", element.said, element.odd))
        if "said" in element.classes and self._within("cover") is not None:
            self.seen.append(Seen(COVER, f"{self.page}#", "", " ".join(text.split()), element.odd))
        if "volts" in element.classes and (band := self._within("cautions")) is not None:
            self.seen.append(Seen(CAUTIONS, f"{self.page}#{band.id}", "", " ".join(text.split()), element.odd))
        if element.tag == "td" and (row := self._within("", "tr")) is not None and row.state and not row.word:
            row.word = " ".join(text.split())
        if element.state and element.target:
            where = LISTED if "listed" in element.classes else HEAD if element.tag == "section" else ROW
            self.seen.append(Seen(where, f"{self.page}#{element.target}", element.state, element.word, element.odd))

    def _section(self) -> _Element | None:
        return next((e for e in reversed(self.stack) if e.tag == "section" and e.state), None)

    def _within(self, name: str, tag: str = "") -> _Element | None:
        return next(
            (e for e in reversed(self.stack) if (not name or name in e.classes) and (not tag or e.tag == tag)), None
        )

    def _target(self, href: str) -> str:
        page, _, anchor = href.partition("#")
        return f"{page.removesuffix('.html') or self.page}#{anchor}" if anchor else ""


def odd(tag: str, classes: tuple[str, ...], given: Mapping[str, str]) -> bool:
    """Whether an element is none that a page of ours has: it may hide what it holds."""
    if "hidden" in given or ("style" in given and tag in ("section", "div", "tr", "li")):
        return True
    if tag == "section":
        return any(c not in ("requirement", "gap") and not c.startswith("state-") for c in classes)
    return tag == "div" and "container" in classes


def seen_in_html(pages: Mapping[str, str]) -> tuple[Seen, ...]:
    """What the pages (name without ending, to text) show."""
    out: list[Seen] = []
    for page in sorted(pages):
        reader = _Reader(page)
        reader.feed(pages[page])
        reader.close()
        out += reader.seen
    return tuple(out)


# ---------------------------------------------------------------- print


def seen_in_tree(tree: Mapping[str, Any]) -> tuple[Seen, ...]:
    """What the tree of the PDF shows. A label that is empty belongs to a block that stands there a second time."""
    return tuple(_blocks(tree.get("body", [])))


def _blocks(value: Any) -> Iterator[Seen]:
    if isinstance(value, list) and len(value) == 3 and value[0] == "block" and isinstance(value[1], dict):
        yield from _block(value[1])
    elif isinstance(value, list):
        for item in value:
            yield from _blocks(item)
    elif isinstance(value, dict):
        for item in value.values():
            yield from _blocks(item)


def _block(data: Mapping[str, Any]) -> Iterator[Seen]:
    kind = data.get("kind")
    if kind == "requirement":
        yield Seen(HEAD, _label(data), data["state"], data["word"])
    elif kind == "matrix":
        for row in data["rows"]:
            yield Seen(ROW, _label(row), row["state"], row["word"])
    elif kind == "cover":
        yield Seen(COVER, "index#", "", data["answer"])
    elif kind == "cautions":
        yield Seen(CAUTIONS, _label(data), "", data["voltage"])
    elif kind == "register":
        for group in data["groups"]:
            for entry in group["entries"]:
                for link in _links(entry):
                    yield Seen(TODO, link, entry["state"], entry["word"])


def _label(data: Mapping[str, Any]) -> str:
    return str(data.get("id") or "a second time#")


def _links(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        if isinstance(value.get("to"), str) and "#" in value["to"]:
            yield value["to"]
        for item in value.values():
            yield from _links(item)
    elif isinstance(value, list):
        for item in value:
            yield from _links(item)
