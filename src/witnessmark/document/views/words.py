"""Dates, durations, counts and names as the technical file prints them, in the language of the run; no clock."""

from __future__ import annotations

import re
import string
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime

from witnessmark import language
from witnessmark.assessment.model import Applies, Axes, RequirementState, Review, Reviewed, State, Verdict
from witnessmark.document.layout_words import STATE_WORDS
from witnessmark.document.pieces import Piece, Text
from witnessmark.language import Words, declared, say, say_n
from witnessmark.quantities import Quantity
from witnessmark.quantities.decision import Limit as Tolerance
from witnessmark.quantities.format import printed
from witnessmark.records.sets import Criterion, DecisionRule, Leaf, LeafKind, Limit, Source

__all__ = [
    "CONFIDENCE",
    "FINDING",
    "VERDICT",
    "asked",
    "axes_words",
    "capital",
    "count",
    "day",
    "duration",
    "effort",
    "first_sentence",
    "instant",
    "joined",
    "leaf_asks",
    "opening",
    "plain_name",
    "rule_words",
    "sentence",
    "short_day",
    "shortened",
    "sign",
    "source_words",
    "state_word",
    "tally",
    "worst_first",
    "woven",
]

_SIGNS: Mapping[str, str] = {"at_least": "≥", "more_than": ">", "at_most": "≤", "less_than": "<"}


CONFIDENCE: Mapping[str, str] = Words(
    {
        "from-memory": declared("own words, from memory"),
        "mixed": declared("own words, partly seen, partly from memory"),
        "own": declared("this workshop's own rule"),
        "practice": declared("common practice, no source"),
        "seen": declared("own words, source seen"),
        "seen-family-text": declared("own words, seen in a text of the same family"),
        "seen-summary": declared("own words, seen in a summary"),
    }
)
FINDING: Mapping[str, str] = Words(
    {
        "does-not-meet": declared("does not meet"),
        "meets": declared("meets"),
        "undecided": declared("undecided"),
    }
)
VERDICT: Mapping[Verdict, str] = Words(
    {
        Verdict.PASS: declared("pass"),
        Verdict.UNDECIDED: declared("undecided"),
        Verdict.FAIL: declared("fail"),
    }
)


_APPLIES = Words(
    {
        Applies.YES: declared("yes"),
        Applies.NO: declared("no"),
        Applies.NOT_STATED: declared("not stated"),
    }
)


def _counted(state: State, n: int) -> str:
    """`2 are not shown`."""
    match state:
        case State.CONFORMS:
            return say_n("{n} conforms", "{n} conform", n)
        case State.NONCONFORMING:
            return say_n("{n} is nonconforming", "{n} are nonconforming", n)
        case State.UNDECIDED:
            return say_n("{n} is undecided", "{n} are undecided", n)
        case State.NOT_SHOWN:
            return say_n("{n} is not shown", "{n} are not shown", n)
        case State.LAPSED:
            return say_n("{n} has lapsed", "{n} have lapsed", n)
        case State.UNDER_CONCESSION:
            return say_n("{n} is under concession", "{n} are under concession", n)
        case State.NOT_APPLICABLE:
            return say_n("{n} does not apply", "{n} do not apply", n)


def day(value: date | datetime) -> str:
    """`24 November 2026`."""
    return language.day(value)


def short_day(value: date | datetime) -> str:
    """`24 Nov 2026`."""
    return language.short_day(value)


def instant(value: datetime) -> str:
    """`14 Oct 2026, 16:20`, in the zone that the record was written in."""
    return f"{short_day(value)}, {value.hour:02d}:{value.minute:02d}"


def count(n: int) -> str:
    """The number in words up to twelve, in digits from thirteen on."""
    return language.in_words(n)


def capital(text: str) -> str:
    """The first letter large, the rest as it is; the name of a key (`cable_run`) stays as it is written."""
    if "_" in text.partition(" ")[0]:
        return text
    return text[:1].upper() + text[1:]


def duration(minutes: int) -> str:
    """`25 min`, `1 h`, `1 h 20 min`."""
    hours, rest = divmod(minutes, 60)
    said = [say("{n} h", n=hours)] if hours else []
    return " ".join([*said, *([say("{n} min", n=rest)] if rest or not hours else [])])


def effort(minutes: int) -> str:
    """A sum of times as people say it, to the half hour: `about three hours`."""
    if minutes < 60:
        return say_n("about {n} minute", "about {n} minutes", minutes)
    halves = round(minutes / 30)
    whole, half = divmod(halves, 2)
    if half:
        return say("about {count} and a half hours", count=language.in_words(whole))
    return say_n("about {count} hour", "about {count} hours", whole)


def joined(items: Iterable[str], last: str = "") -> str:
    """`a`, `a and b`, `a, b and c`; `last` in place of "and"."""
    names, last = list(items), last or say("and")
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} {last} {names[-1]}"


def first_sentence(text: str) -> str:
    """The first sentence without its full stop. The point behind an initial ("J. Marram") ends nothing, that behind a
    unit ("3.5 V.") does."""
    for end in re.finditer(r"\.(?=\s+[A-Z0-9])", text):
        before = text[: end.start()].split()
        initial = bool(before) and len(before[-1]) == 1 and before[-1].isupper()
        if not initial or (len(before) > 1 and before[-2][-1].isdigit()):
            return text[: end.start()].strip()
    return text.strip().removesuffix(".")


def opening(text: str, least: int = 36) -> str:
    """The first sentence, with the next ones as long as fewer than `least` characters are said; without a full stop."""
    first = first_sentence(text)
    rest = text[len(first) :].lstrip(". ")
    while rest and len(first) < least:
        more = first_sentence(rest)
        first, rest = f"{first}. {more}", rest[len(more) :].lstrip(". ")
    return first


def shortened(text: str, most: int = 110) -> str:
    """At most `most` characters, ended at a word with an ellipsis where more was said."""
    if len(text) <= most:
        return text
    return text[:most].rpartition(" ")[0].rstrip(" ,;:(") + " …"


def sentence(text: str) -> str:
    """The words as a sentence: a large letter first, a full stop last."""
    text = text.strip()
    return capital(text if text.endswith((".", "?")) else text + ".") if text else ""


def plain_name(ident: str) -> str:
    """An id as words: `traction-bus` becomes `traction bus`."""
    return " ".join(_LARGE.get(word, word) for word in ident.replace("-", " ").replace("_", " ").split(" "))


_LARGE: Mapping[str, str] = {"hv": "HV", "ac": "AC", "dc": "DC", "vin": "VIN", "bms": "BMS"}


def woven(text: str, /, **values: Text | Piece | int) -> tuple[Piece, ...]:
    """Like `say`, for a sentence with links in it: `woven("Told in {link}.", link=Link(...))`.

    A value is a piece, several pieces or a number. What stands in a value is never read as a text of ours.
    """
    pieces: list[Piece] = []
    for before, name, _, _ in string.Formatter().parse(say(text)):
        value = "" if name is None else values[name]
        for piece in (before, *(value if isinstance(value, tuple) else (value,))):
            words = str(piece) if isinstance(piece, str | int) else piece
            if isinstance(words, str) and pieces and isinstance(pieces[-1], str):
                pieces[-1] += words
            elif words != "":
                pieces.append(words)
    return tuple(pieces)


def state_word(state: State) -> str:
    """The one word of a state."""
    return STATE_WORDS[state.value]


def tally(states: Sequence[State]) -> str:
    """`12 conform, 2 not shown, 1 lapsed`: best first, without states that do not occur."""
    best = (
        State.CONFORMS,
        State.UNDER_CONCESSION,
        State.UNDECIDED,
        State.NOT_SHOWN,
        State.LAPSED,
        State.NONCONFORMING,
        State.NOT_APPLICABLE,
    )
    found = [(sum(1 for s in states if s is state), state) for state in best]
    return ", ".join(_counted(state, n) for n, state in found if n)


def asked(criterion: Criterion) -> str:
    """`≥ 500 Ω/V`; a limit taken from a fact is named by its fact."""
    limit = criterion.limit
    words = say("{fact} as stated", fact=plain_name(limit.fact)) if isinstance(limit, Limit) else printed(limit)
    return f"{_SIGNS[criterion.how]} {words}"


def sign(limit: Tolerance) -> str:
    """`≥ 500 Ω/V`: a limit as it was decided on."""
    return f"{_SIGNS[limit.kind]} {printed(Quantity(limit.value, limit.unit))}"


def leaf_asks(leaf: Leaf) -> str:
    """What one leaf asks, in words."""
    if leaf.kind is LeafKind.MEASURE:
        return f"{plain_name(leaf.words)}: " + joined((asked(c) for c in leaf.criteria.values()), say("or"))
    return leaf.words


def source_words(source: Source, review: Review, by: str) -> str:
    """Where the wording is from, how sure that is, and what `by` did about it. What nobody did is said."""
    return f"{CONFIDENCE[source.confidence]}; {_reviewed(source, review, by)}"


def _reviewed(source: Source, review: Review, by: str) -> str:
    match review.what:
        case Reviewed.COMPARED:
            return say(
                "compared with the official text by {who}, {day} ({document})",
                who=by,
                day=_day_of(review),
                document=review.official,
            )
        case Reviewed.DIFFERS:
            return say(
                "DIFFERS from the official text, says {who}, {day}: {difference}",
                who=by,
                day=_day_of(review),
                difference=review.words,
            )
        case Reviewed.ADOPTED:
            words = say("adopted by {who} for this workshop, {day}", who=by, day=_day_of(review))
            return f"{words}: {review.words}" if review.words else words
        case Reviewed.NOBODY:
            if source.without_official_text:
                return say("no limit of law, and adopted by nobody of this workshop")
            return say("not compared with the official text")


def _day_of(review: Review) -> str:
    return day(review.on) if review.on is not None else say("no day given")


def rule_words(rule: DecisionRule) -> str:
    """The decision rule in a line."""
    if rule.probability is not None:
        return say("guarded, w for a conformance probability of {probability}", probability=rule.probability)
    if rule.rule == "guarded":
        return say("guarded, w = U, 95 %")
    return say("simple, with U at most {cap} of the limit", cap=rule.cap)


_APPLIES = Words({Applies.YES: declared("yes"), Applies.NO: declared("no"), Applies.NOT_STATED: declared("not stated")})


def axes_words(axes: Axes) -> str:
    """What stands behind the word, on one line."""
    return say(
        "applies: {applies}; valid: {valid}; result: {result}",
        applies=_APPLIES[axes.applies],
        valid=say("yes") if axes.valid else say("no"),
        result=state_word(axes.result),
    )


def worst_first(states: Iterable[RequirementState]) -> list[RequirementState]:
    """Requirements with the worst word first, else in the order of the file."""
    rank = {state: n for n, state in enumerate(State)}
    return sorted(states, key=lambda r: rank[r.state])
