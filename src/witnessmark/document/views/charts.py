"""Figures of a chapter: all results against their limit on one chart, and what a method drew from a log."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from witnessmark.assessment.model import CriterionResult, Verdict
from witnessmark.document.blocks import Band, Decay, Extreme, Figure, IntervalChart, IntervalRow, Limit
from witnessmark.methods.base import FigureData
from witnessmark.quantities import QuantityError, parse_unit
from witnessmark.quantities.decision import Decision

from .book import Book, Use
from .results import in_unit, leading, shown
from .words import capital, plain_name

__all__ = ["drawn", "interval_charts"]


@dataclass(frozen=True, slots=True)
class _Point:
    use: Use
    criterion: CriterionResult
    decision: Decision


def interval_charts(book: Book, uses: Sequence[Use], number: str, ident: str) -> list[Figure]:
    """One chart for each measurand and limit that at least two results of the chapter share. `number` is the chapter's."""
    groups: dict[tuple[str, str, str], list[_Point]] = {}
    for use in uses:
        first = leading(use.result)
        output = use.result.output
        if first is None or first.decision is None or output is None or output.U is None or output.bound:
            continue
        limit = first.decision.limit
        groups.setdefault((output.measurand, str(limit), limit.unit.symbol), []).append(_Point(use, first, first.decision))
    charts = []
    for (measurand, limit, _), points in groups.items():
        if len(points) > 1:
            charts.append(_chart(book, measurand, limit, points, f"{number}-{len(charts) + 1}", f"{ident}-{len(charts) + 1}"))
    return charts


def _chart(book: Book, measurand: str, limit: str, points: Sequence[_Point], number: str, ident: str) -> Figure:
    lower = points[0].decision.limit.lower
    unit = points[0].decision.limit.unit
    rows = []
    for point in points:
        output, like = point.use.result.output, shown(point.use.result)
        assert output is not None and output.U is not None and like is not None
        begin = point.decision.acceptance_limit
        counts = point.use.result.valid and not point.use.result.withdrawn
        rows.append(
            IntervalRow(
                label=_label(book, point.use),
                value=in_unit(output.value, unit),
                u=output.U / float(unit.scale),
                shown=like.value,
                shown_u=like.U,
                statement=point.criterion.statement if counts else f"{point.criterion.statement}, does not count",
                passed=point.criterion.verdict is Verdict.PASS and counts,
                passes_from=None if begin is None else in_unit(begin, unit),
            )
        )
    method = book.method(points[0].use.result.record.method)
    spec = method.measurand(measurand) if method else None
    title = spec.title if spec else plain_name(measurand)
    spoken = "; ".join(f"{r.label}: {r.shown} ± {r.shown_u} {unit.symbol}, {r.statement}" for r in rows)
    guarded = points[0].decision.rule.kind == "guarded"
    number_text = limit.removesuffix(f" {unit.symbol}")
    words = f"{number_text}, or {number_text.rpartition(' ')[2]} {'+' if lower else '−'} U to pass" if guarded else number_text
    return Figure(
        data=IntervalChart(
            rows=tuple(rows), limit=in_unit(float(points[0].decision.limit.si), unit), limit_words=words,
            limit_words_short=number_text, axis=title if unit.symbol == "1" else f"{title}, {unit.symbol}",
            side="at-least" if lower else "at-most",
        ),
        number=number, caption=f"All results: {title}",
        key="Hatched: not permitted. Short tick: where a pass begins. Hollow: no pass. Arrow: off the scale.",
        spoken=f"{capital(title)}, {limit} is asked. {spoken}.", id=ident,
    )  # fmt: skip


def _label(book: Book, use: Use) -> str:
    part = capital(book.part_title(use.part.part))
    same = [leaf for leaf in use.part.leaves if leaf.result and leaf.result.output]
    return f"{part}, {plain_name(use.leaf.name)}" if len(same) > 1 else part


def drawn(data: FigureData, number: str, ident: str, *, passed: bool) -> Figure | None:
    """A method's own figure; the plain interval is left to the chapter's chart, and what lacks its data is not drawn."""
    if data.kind == "decay":
        return _decay(data, number, ident, passed)
    if data.kind == "band":
        return _band(data, number, ident, passed)
    return None


def _decay(data: FigureData, number: str, ident: str, passed: bool) -> Figure | None:
    time, voltage = data.arrays.get("time", ()), data.arrays.get("voltage", ())
    limit = data.numbers.get("limit")
    if len(time) < 2 or len(time) != len(voltage) or limit is None:
        return None
    crossing = data.numbers.get("crossing")
    low, high = data.numbers.get("crossing_low", crossing), data.numbers.get("crossing_high", crossing)
    spread = (high - low) / 2 if low is not None and high is not None else 0.0
    words = data.words.get("crossing") or ("" if crossing is None else f"{crossing:.2f} s ± {spread:.2f} s")
    allowed = data.numbers.get("allowed", 1.0)
    return Figure(
        data=Decay(
            time=tuple(time), voltage=tuple(voltage), limit=limit, limit_words=data.words.get("limit", f"{limit:g} V DC"),
            allowed=allowed, allowed_words=data.words.get("allowed", f"not after {allowed:.2f} s"),
            crossing=crossing, crossing_u=spread, crossing_words=words, passed=passed,
            axis=f"{data.x_label}, {data.x_unit}", unit=data.y_unit,
        ),
        number=number, caption=data.title,
        key="The crossing carries its interval. Hatched: above the limit after the time allowed.",
        spoken=f"{data.title}: from {voltage[0]:.0f} V; {'it never falls to' if crossing is None else words + ' to'} {limit:g} V.",
        id=ident,
    )  # fmt: skip


def _band(data: FigureData, number: str, ident: str, passed: bool) -> Figure | None:
    time, low, high = (tuple(data.arrays.get(name, ())) for name in ("time", "low", "high"))
    if len(low) < 2 or len(low) != len(high) or len(time) not in (len(low), len(low) + 1):
        return None
    edges = time if len(time) == len(low) + 1 else (*time, 2 * time[-1] - time[-2])
    offset, scale = _scale(data.y_unit)
    low, high = tuple((y - offset) / scale for y in low), tuple((y - offset) / scale for y in high)
    limits = []
    for name, above in (("limit_high", True), ("limit_low", False)):
        value = data.numbers.get(name)
        if value is not None:
            limits.append(Limit((value - offset) / scale, data.words.get(name, plain_name(name)), above))
    extremes = [name for name in ("extreme", "lowest", "highest") if name in data.numbers and f"{name}_at" in data.numbers]
    extreme = None
    if extremes:
        name = extremes[0]
        extreme = Extreme(
            data.numbers[f"{name}_at"], (data.numbers[name] - offset) / scale, data.words.get(name, plain_name(name)), passed
        )
    return Figure(
        data=Band(x=edges, low=low, high=high, axis=f"{data.x_label}, {data.x_unit}", unit=data.y_unit,
                  limits=tuple(limits), extreme=extreme),
        number=number, caption=data.title, key="Lowest and highest are both kept in every bin, so that no spike is lost.",
        spoken=f"{data.title}: from {min(low):.4g} to {max(high):.4g} {data.y_unit}.", id=ident,
    )  # fmt: skip


def _scale(unit: str) -> tuple[float, float]:
    """Offset and scale of a unit to the coherent SI unit: figures come in SI and are read in their own unit."""
    try:
        found = parse_unit(unit)
    except (QuantityError, ValueError):
        return 0.0, 1.0
    return float(found.offset), float(found.scale)
