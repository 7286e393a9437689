"""Dates, durations, counts and names as the technical file prints them. Pure text; no clock and no locale."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime

from witnessmark.assessment.model import Axes, RequirementState, Review, Reviewed, State, Verdict
from witnessmark.records.sets import Criterion, DecisionRule, Leaf, LeafKind, Limit, Source

__all__ = [
    "CONFIDENCE",
    "FINDING",
    "NOT_ADOPTED",
    "NOT_COMPARED",
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
    "plural",
    "rule_words",
    "sentence",
    "short_day",
    "shortened",
    "sign",
    "source_words",
    "state_word",
    "tally",
    "worst_first",
]

_MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
_SIGNS: Mapping[str, str] = {"at_least": "≥", "more_than": ">", "at_most": "≤", "less_than": "<"}

CONFIDENCE: Mapping[str, str] = {
    "seen": "own words, source seen",
    "seen-summary": "own words, seen in a summary",
    "seen-family-text": "own words, seen in a text of the same family",
    "from-memory": "own words, from memory",
    "mixed": "own words, partly seen, partly from memory",
    "practice": "common practice, no source",
    "own": "this workshop's own rule",
}
NOT_COMPARED = "not compared with the official text"
NOT_ADOPTED = "no limit of law, and adopted by nobody of this workshop"
FINDING: Mapping[str, str] = {"meets": "meets", "does-not-meet": "does not meet", "undecided": "undecided"}
VERDICT: Mapping[Verdict, str] = {Verdict.PASS: "pass", Verdict.UNDECIDED: "undecided", Verdict.FAIL: "fail"}


def day(value: date | datetime) -> str:
    """`24 November 2026`."""
    return f"{value.day} {_MONTHS[value.month - 1]} {value.year}"


def short_day(value: date | datetime) -> str:
    """`24 Nov. 2026`; months of up to four letters stay whole."""
    name = _MONTHS[value.month - 1]
    return f"{value.day} {name if len(name) <= 4 else name[:3] + '.'} {value.year}"


def instant(value: datetime) -> str:
    """`14 Oct. 2026, 16:20`, in the zone that the record was written in."""
    return f"{short_day(value)}, {value.hour:02d}:{value.minute:02d}"


def count(n: int) -> str:
    """The number in words up to twelve, in digits from thirteen on."""
    return _NUMBERS[n] if 0 <= n < len(_NUMBERS) else str(n)


def plural(n: int, one: str, many: str = "") -> str:
    """`one job`, `seven jobs`."""
    return f"{count(n)} {one if n == 1 else many or one + 's'}"


def capital(text: str) -> str:
    """The first letter large, the rest as it is; the name of a key (`cable_run`) stays as it is written."""
    if "_" in text.partition(" ")[0]:
        return text
    return text[:1].upper() + text[1:]


def duration(minutes: int) -> str:
    """`25 min`, `1 h`, `1 h 20 min`."""
    hours, rest = divmod(minutes, 60)
    return " ".join([*([f"{hours} h"] if hours else []), *([f"{rest} min"] if rest or not hours else [])])


def effort(minutes: int) -> str:
    """A sum of times as people say it, to the half hour: `about three hours`."""
    if minutes < 60:
        return f"about {minutes} minutes"
    halves = round(minutes / 30)
    whole, half = divmod(halves, 2)
    if half:
        return f"about {count(whole)} and a half hours"
    return f"about {plural(whole, 'hour')}"


def joined(items: Iterable[str], last: str = "and") -> str:
    """`a`, `a and b`, `a, b and c`."""
    names = list(items)
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


def state_word(state: State) -> str:
    """The one word of a state."""
    return state.words


def tally(states: Sequence[State]) -> str:
    """`12 conform, 2 not shown, 1 lapsed`: best first, without states that do not occur."""
    words = {
        State.CONFORMS: ("conforms", "conform"),
        State.UNDER_CONCESSION: ("is under concession", "are under concession"),
        State.UNDECIDED: ("is undecided", "are undecided"),
        State.NOT_SHOWN: ("is not shown", "are not shown"),
        State.LAPSED: ("has lapsed", "have lapsed"),
        State.NONCONFORMING: ("is nonconforming", "are nonconforming"),
        State.NOT_APPLICABLE: ("does not apply", "do not apply"),
    }
    found = [(sum(1 for s in states if s is state), forms) for state, forms in words.items()]
    return ", ".join(f"{n} {one if n == 1 else many}" for n, (one, many) in found if n)


def asked(criterion: Criterion) -> str:
    """`≥ 500 Ω/V`; a limit taken from a fact is named by its fact."""
    limit = criterion.limit
    words = f"{plain_name(limit.fact)} as stated" if isinstance(limit, Limit) else str(limit)
    return f"{_SIGNS[criterion.how]} {words}"


def sign(limit: str) -> str:
    """`at least 500 Ω/V` as `≥ 500 Ω/V`."""
    for how, mark in _SIGNS.items():
        limit = limit.replace(how.replace("_", " "), mark, 1)
    return limit


def leaf_asks(leaf: Leaf) -> str:
    """What one leaf asks, in words."""
    if leaf.kind is LeafKind.MEASURE:
        return f"{plain_name(leaf.words)}: " + joined((asked(c) for c in leaf.criteria.values()), "or")
    return leaf.words


def source_words(source: Source, review: Review, by: str) -> str:
    """Where the wording is from, how sure that is, and what `by` did about it. What nobody did is said."""
    words = CONFIDENCE[source.confidence]
    match review.what:
        case Reviewed.COMPARED:
            words += f"; compared with the official text by {by}, {_day_of(review)} ({review.official})"
        case Reviewed.DIFFERS:
            words += f"; DIFFERS from the official text, says {by}, {_day_of(review)}: {review.words}"
        case Reviewed.ADOPTED:
            words += f"; adopted by {by} for this workshop, {_day_of(review)}"
            words += f": {review.words}" if review.words else ""
        case Reviewed.NOBODY:
            words += f"; {NOT_ADOPTED if source.without_official_text else NOT_COMPARED}"
    return words


def _day_of(review: Review) -> str:
    return day(review.on) if review.on is not None else "no day given"


def rule_words(rule: DecisionRule) -> str:
    """The decision rule in a line."""
    if rule.probability is not None:
        return f"guarded, w for a conformance probability of {rule.probability}"
    if rule.rule == "guarded":
        return "guarded, w = U, 95 %"
    return f"simple, with U at most {rule.cap} of the limit"


def axes_words(axes: Axes) -> str:
    """What stands behind the word, on one line."""
    applies, valid = axes.applies.value.replace("-", " "), "yes" if axes.valid else "no"
    return f"applies: {applies}; valid: {valid}; result: {axes.result.words}"


def worst_first(states: Iterable[RequirementState]) -> list[RequirementState]:
    """Requirements with the worst word first, else in the order of the file."""
    rank = {state: n for n, state in enumerate(State)}
    return sorted(states, key=lambda r: rank[r.state])
