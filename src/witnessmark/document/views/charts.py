"""Figures of a chapter: all results against their limit on one chart, and what a method drew from a log."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.assessment.model import CriterionResult, Verdict
from witnessmark.document.blocks import (
    Band,
    Curve,
    Curves,
    Decay,
    Extreme,
    Figure,
    IntervalChart,
    IntervalRow,
    Limit,
    Mark,
)
from witnessmark.language import marked, say
from witnessmark.methods.base import FigureData
from witnessmark.quantities import parse_unit
from witnessmark.quantities.decision import Decision, LimitKind
from witnessmark.quantities.format import show

from .book import Book, Use
from .results import display_unit, in_unit, leading, shown
from .words import capital, plain_name

__all__ = ["drawn", "interval_charts"]


@dataclass(frozen=True, slots=True)
class _Point:
    use: Use
    criterion: CriterionResult
    decision: Decision


def interval_charts(book: Book, uses: Sequence[Use], number: str, ident: str) -> list[Figure]:
    """One chart for each measurand and limit that at least two results of a chapter share; `number` is its number."""
    groups: dict[tuple[str, str, str], list[_Point]] = {}
    for use in uses:
        first = leading(use.result)
        output = use.result.output
        if first is None or first.decision is None or output is None or output.U is None or output.bound:
            continue
        limit = first.decision.limit
        groups.setdefault((output.measurand, str(limit), limit.unit.symbol), []).append(
            _Point(use, first, first.decision)
        )
    charts: list[Figure] = []
    for (measurand, asked, _), points in groups.items():
        if len(points) > 1:
            charts.append(
                _chart(book, measurand, asked, points, f"{number}-{len(charts) + 1}", f"{ident}-{len(charts) + 1}")
            )
    return charts


def _chart(book: Book, measurand: str, limit: str, points: Sequence[_Point], number: str, ident: str) -> Figure:
    lower = points[0].decision.limit.lower
    unit = min((u for p in points if (u := display_unit(p.use.result))), key=lambda u: u.scale)
    titles = _labels(book, [point.use for point in points])
    rows = []
    for point, title in zip(points, titles, strict=True):
        output, like = point.use.result.output, shown(point.use.result, unit)
        assert output is not None and output.U is not None and like is not None
        begin = point.decision.acceptance_limit
        counts = point.use.result.valid and not point.use.result.withdrawn
        rows.append(
            IntervalRow(
                label=title,
                value=in_unit(output.value, unit),
                u=output.U / float(unit.scale),
                shown=like.value,
                shown_u=like.U,
                statement=point.criterion.statement if counts else say("does not count"),
                passed=point.criterion.verdict is Verdict.PASS and counts,
                passes_from=None if begin is None else in_unit(begin, unit),
            )
        )
    method = book.method(points[0].use.result.record.method)
    spec = method.measurand(measurand) if method else None
    title = say(spec.title) if spec else plain_name(measurand)
    spoken = "; ".join(f"{r.label}: {r.shown} ± {r.shown_u} {unit.symbol}, {r.statement}" for r in rows)
    rule = points[0].decision.rule
    guarded = rule.kind == "guarded"
    band = "w" if rule.probability is not None else "U"
    edge = show(float(points[0].decision.limit.si), None, unit, significant=6, choose_prefix=False).value
    edge = marked(edge.rstrip("0").rstrip(".") if "." in edge else edge)
    asked = _asked(points[0].decision.limit.kind, edge)
    passes = f"{edge} {'+' if lower else '−'} {band}"
    words = say("{limit}, or {passes} to pass", limit=asked, passes=passes) if guarded else asked
    return Figure(
        data=IntervalChart(
            rows=tuple(rows),
            limit=in_unit(float(points[0].decision.limit.si), unit),
            limit_words=words,
            limit_words_short=asked,
            axis=title if unit.symbol == "1" else f"{title}, {unit.symbol}",
            side="at-least" if lower else "at-most",
        ),
        number=number,
        caption=say("All results: {quantity}", quantity=title),
        key=say("Hatched: not permitted. Short tick: where a pass begins. Hollow: no pass. Arrow: off the scale."),
        spoken=say("{quantity}, {limit} is asked. {results}.", quantity=capital(title), limit=limit, results=spoken),
        id=ident,
    )


def _asked(kind: LimitKind, edge: str) -> str:
    """What is asked, with the number as the axis has it; its unit stands at the axis."""
    match kind:
        case "at_least":
            return say("at least {limit}", limit=edge)
        case "more_than":
            return say("more than {limit}", limit=edge)
        case "at_most":
            return say("at most {limit}", limit=edge)
        case "less_than":
            return say("less than {limit}", limit=edge)


def _labels(book: Book, uses: Sequence[Use]) -> list[str]:
    """What stands before each bar: the part, up to its first comma where that tells them apart, and the leaf's name."""
    long = [capital(book.part_title(use.part.part)) for use in uses]
    short = [title.partition(",")[0] for title in long]
    titles = short if len(set(short)) == len(set(long)) else long
    out = []
    for title, use in zip(titles, uses, strict=True):
        same = [leaf for leaf in use.part.leaves if leaf.result and leaf.result.output]
        out.append(f"{title}, {plain_name(use.leaf.name)}" if len(same) > 1 else title)
    return out


def drawn(data: FigureData, limits: Sequence[Decision], number: str, ident: str, *, passed: bool) -> Figure | None:
    """A method's own figure with the limits that were decided on; None for the plain interval, which the chapter's
    chart shows, and for what lacks its data."""
    if data.kind == "decay":
        return _decay(data, limits, number, ident, passed)
    if data.kind == "band":
        return _band(data, limits, number, ident)
    if data.kind == "curves":
        return _curves(data, number, ident)
    return None


def _decay(data: FigureData, limits: Sequence[Decision], number: str, ident: str, passed: bool) -> Figure | None:
    time, voltage = data.arrays.get("time", ()), data.arrays.get("voltage", ())
    limit = data.numbers.get("limit")
    if len(time) < 2 or len(time) != len(voltage) or limit is None:
        return None
    crossing = data.numbers.get("crossing")
    low, high = data.numbers.get("crossing_low", crossing), data.numbers.get("crossing_high", crossing)
    spread = (high - low) / 2 if low is not None and high is not None else 0.0
    words = "" if crossing is None else f"{marked(f'{crossing:.2f}')} s ± {marked(f'{spread:.2f}')} s"
    from_, to = f"{marked(f'{voltage[0]:.0f}')} {data.y_unit}", f"{marked(f'{limit:g}')} {data.y_unit}"
    upper = [float(d.limit.si) for d in limits if not d.limit.lower]
    allowed = min(upper, default=time[-1])
    return Figure(
        data=Decay(
            time=tuple(time),
            voltage=tuple(voltage),
            limit=limit,
            limit_words=to,
            allowed=allowed,
            allowed_words=say("not after {seconds} s", seconds=marked(f"{allowed:.2f}")),
            crossing=crossing,
            crossing_u=spread,
            crossing_words=words,
            passed=passed,
            axis=f"{data.x_label}, {data.x_unit}",
            unit=data.y_unit,
        ),
        number=number,
        caption=data.title,
        key=say("The crossing carries its interval. Hatched: above the limit after the time allowed."),
        spoken=say("{title}: from {start}; it does not stay below {limit}.", title=data.title, start=from_, limit=to)
        if crossing is None
        else say("{title}: from {start}; {time} to {limit}.", title=data.title, start=from_, time=words, limit=to),
        id=ident,
    )


def _band(data: FigureData, limits: Sequence[Decision], number: str, ident: str) -> Figure | None:
    time, low, high = (tuple(data.arrays.get(name, ())) for name in ("time", "low", "high"))
    if len(low) < 2 or len(low) != len(high) or len(time) not in (len(low), len(low) + 1):
        return None
    edges = time if len(time) == len(low) + 1 else (*time, 2 * time[-1] - time[-2])
    unit, every, axis = data.y_unit, 1.0, f"{data.x_label}, {data.x_unit}"
    if data.x_unit == "s" and edges[-1] - edges[0] > 600:
        every, axis = 60.0, f"{data.x_label}, min"
    drawn_limits: dict[tuple[float, bool], Limit] = {}
    nearest: tuple[float, Extreme] | None = None
    for decision in limits:
        limit = decision.limit
        value = _in(unit, float(limit.si))
        drawn_limits.setdefault((value, not limit.lower), Limit(value, str(limit), not limit.lower))
        end = "lowest" if limit.lower else "highest"
        if f"{end}_value" in data.numbers:
            y = data.numbers[f"{end}_value"]
            at = data.numbers.get(f"{end}_time", edges[0]) / every
            shown_ = f"{marked(f'{y:.4g}')} {unit}"
            words = say("lowest {value}", value=shown_) if limit.lower else say("highest {value}", value=shown_)
            words = ", ".join(filter(None, (words, data.words.get(end, ""))))
            room = (y - value) if limit.lower else (value - y)
            if nearest is None or room < nearest[0]:
                nearest = (room, Extreme(at, y, words, decision.passes))
    return Figure(
        data=Band(
            x=tuple(x / every for x in edges),
            low=low,
            high=high,
            axis=axis,
            unit=unit,
            limits=tuple(drawn_limits.values()),
            extreme=nearest[1] if nearest else None,
        ),
        number=number,
        caption=data.title,
        key=say("Lowest and highest are both kept in every bin, so that no spike is lost. Hatched: not permitted."),
        spoken=say(
            "{title}: from {low} to {high} {unit}.",
            title=data.title,
            low=marked(f"{min(low):.4g}"),
            high=marked(f"{max(high):.4g}"),
            unit=unit,
        ),
        id=ident,
    )


def _curves(data: FigureData, number: str, ident: str) -> Figure | None:
    """Lines on logarithmic axes. `words` name lines and marks by their name in `arrays` and `numbers`; its entry
    `up` lists the marks that stand on the axis of y, `between` the two marks that bound the gap, if there is one."""
    names = [name.removesuffix("_current") for name in data.arrays if name.endswith("_current")]
    lines = [
        Curve(data.words.get(name, plain_name(name)), tuple(xs), tuple(ys))
        for name in names
        if len(xs := data.arrays[f"{name}_current"]) == len(ys := data.arrays.get(f"{name}_time", ())) > 1
    ]
    if not lines:
        return None
    on_y, bounds = data.words.get("up", "").split(), data.words.get("between", "").split()
    marks: dict[bool, list[Mark]] = {True: [], False: []}
    for name, value in data.numbers.items():
        unit = data.y_unit if name in on_y else data.x_unit
        marks[name in on_y].append(
            Mark(value, f"{data.words.get(name, plain_name(name))} {marked(f'{value:.4g}')} {unit}")
        )
    gap = sorted(data.numbers[name] for name in bounds if name in data.numbers)
    shaded = len(gap) == 2
    gap_words = data.words.get("gap", "")
    if shaded:
        gap_words = say(
            "{low} to {high} {unit}: {gap}",
            low=marked(f"{gap[0]:.4g}"),
            high=marked(f"{gap[1]:.4g}"),
            unit=data.x_unit,
            gap=gap_words or say("gap"),
        )
    note = say("Hatched: the gap.") if shaded else gap_words and f"{capital(gap_words)}."
    said = "; ".join(mark.words for mark in [*marks[False], *marks[True]])
    return Figure(
        data=Curves(
            curves=tuple(lines),
            axis=f"{data.x_label}, {data.x_unit}",
            unit=f"{data.y_label}, {data.y_unit}",
            across=tuple(marks[False]),
            up=tuple(marks[True]),
            gap_from=gap[0] if shaded else None,
            gap_to=gap[1] if shaded else None,
            gap_words=gap_words,
        ),
        number=number,
        caption=data.title,
        key=" ".join(filter(None, (say("Both axes are logarithmic."), note))),
        spoken=". ".join(filter(None, (f"{data.title}: {said}", capital(gap_words)))) + ".",
        id=ident,
    )


def _in(unit: str, si: float) -> float:
    """A limit in the coherent SI unit as a number on the figure's axis; the figure's own numbers are in its unit."""
    return in_unit(si, parse_unit(unit))
