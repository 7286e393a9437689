"""`calculate`: one method at the bench, without any folder."""

from __future__ import annotations

import argparse
import difflib
from pathlib import Path
from typing import TYPE_CHECKING

from witnessmark.language import declared, say
from witnessmark.problems import Misuse, Problem

from .exits import Exit
from .folder import day
from .meters import meters_for, print_meters
from .plain import plain_formula
from .show import harmless, progress, put, table, wrapped

if TYPE_CHECKING:
    from collections.abc import Mapping
    from decimal import Decimal

    from witnessmark.methods.base import Method, Output, Reading, Result
    from witnessmark.methods.simulating import Compared
    from witnessmark.quantities import Quantity
    from witnessmark.quantities.decision import Decision, DecisionRule, Limit

__all__ = ["arguments", "call"]

KINDS = {"at least": "at_least", "more than": "more_than", "at most": "at_most", "less than": "less_than"}
SIGNS = {">=": "at_least", "≥": "at_least", ">": "more_than", "<=": "at_most", "≤": "at_most", "<": "less_than"}


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("method", metavar="METHOD", help="such as voltmeter-own-source/1; see witnessmark list methods")
    parser.add_argument(
        "given", nargs="*", metavar="NAME=VALUE", help="readings and facts, such as ub='402.9 V ± 0.8 V (k=2)'"
    )
    parser.add_argument("--limit", metavar="LIMIT", help="such as 'at least 500 Ω/V'")
    parser.add_argument(
        "--measurand", metavar="NAME", help="which result the limit is for (default: the one with that unit)"
    )
    parser.add_argument(
        "--rule", choices=("guarded", "simple"), default="guarded", help="decision rule (default: guarded, w = U)"
    )
    parser.add_argument(
        "--guard-for",
        metavar="P",
        help="guarded: make the guard band for this conformance probability, such as '99 %%' (default: w = U)",
    )
    parser.add_argument("--cap", default="10 %", help="simple: the largest U relative to the limit (default: 10 %%)")
    parser.add_argument(
        "--probability",
        metavar="P",
        help="also tell where results begin that conform with this probability, such as '99 %%'; it decides nothing",
    )
    parser.add_argument(
        "--meter",
        action="append",
        default=[],
        metavar="INSTRUMENT",
        help="an instrument of the folder, or ROLE=INSTRUMENT: its accuracy counts for the readings (default of these: "
        "as last taken); with --limit also what would just pass, and whether it is good enough",
    )
    parser.add_argument(
        "--folder", type=Path, default=Path(), metavar="DIR", help="for --meter: the workshop's folder (default: here)"
    )
    parser.add_argument("--as-of", type=day, metavar="DAY", help="for --meter: calibrations as of this day")
    parser.add_argument("--log", type=Path, metavar="FILE", help="the log, for a method that reads one")
    parser.add_argument(
        "--channel",
        action="append",
        default=[],
        metavar="CHANNEL=COLUMN",
        help="which column is which; a pattern such as cell_* names several",
    )
    parser.add_argument(
        "--option",
        action="append",
        default=[],
        metavar="NAME=VALUE",
        help="how the log is written (delimiter, decimal, header, join, bus, dbc) and reduced",
    )
    parser.add_argument(
        "--monte-carlo",
        nargs="?",
        type=int,
        const=0,
        metavar="DRAWS",
        help="check the uncertainty by random draws (default: 20000); a result that differs is undecided",
    )
    parser.add_argument(
        "--plugin",
        action="append",
        default=[],
        metavar="NAME==VERSION",
        help="an installed package whose methods are to be known; in a workshop's folder its policy names them",
    )
    parser.add_argument("--explain", action="store_true", help="what the method is, what it needs and what it warns of")
    parser.add_argument("--format", choices=("text", "json"), default="text")


def call(options: argparse.Namespace) -> int:
    """Exit 0 when a result was computed, 2 when the input is wrong."""
    from witnessmark.methods.base import Refused
    from witnessmark.methods.written import facts_as_written, readings_as_written

    if options.plugin:
        from witnessmark.methods.plugins import load_plugins
        from witnessmark.methods.registry import adopt

        found, plugin_faults = load_plugins(options.plugin)
        if plugin_faults:
            raise Misuse(*plugin_faults)
        adopt(found)
    method = _method(options.method)
    if options.explain:
        _explain(method)
        return Exit.DONE
    meters = meters_for(options, method) if options.meter else None
    if meters is not None and options.log is None:
        options.given += meters.readings_for(options.given)
    if not options.given and options.log is None:
        raise Misuse(_nothing_given(method))
    pairs = _pairs(options.given, "reading")
    fact_names = {spec.name for spec in method.facts}
    unknown = [n for n in pairs if n not in fact_names and method.input(n) is None]
    facts, fact_faults = facts_as_written(method, {n: v[-1] for n, v in pairs.items() if n in fact_names})
    written = {n: v for n, v in pairs.items() if n not in fact_names}
    readings, faults = readings_as_written(method, written, meters.input_of if meters else None)
    problems = [_unknown(method, name) for name in unknown] + [p for _, p in (*fact_faults, *faults)]
    limit = _limit(options.limit, problems) if options.limit else None
    rule = _rule(options, problems)
    probability = _probability(options.probability, options.limit, problems)
    figures = _figures(options, method, problems) if options.log else None
    if problems:
        raise Misuse(*problems)
    result = method.evaluate(readings, facts, figures)
    if isinstance(result, Refused):
        raise Misuse(*result.faults)
    judged = _judge(method, result, limit, options.measurand, rule)
    compared = _compare(options.monte_carlo, method, readings, facts, figures)
    if judged and compared:
        from witnessmark.methods.simulating import as_checked

        name, decision = judged
        one = next(c for c in compared if c.output.measurand == name and c.output.unit.compatible(decision.limit.unit))
        judged = name, as_checked(decision, one)
    planned = meters.plan(readings, facts, judged) if meters and judged and not options.log else None
    if options.format == "json":
        from witnessmark.exports.calculation import calculation_envelope

        put(
            calculation_envelope(
                method, result, judged, compared, probability, planned, meters.causes if meters else ()
            )
        )
    else:
        _print(method, result, judged, compared, probability)
        if meters is not None:
            print_meters(meters, planned)
        _cautions(method)
    return Exit.DONE


def _method(name: str) -> Method:
    from witnessmark.methods.registry import method, method_ids

    versions = sorted((i for i in method_ids() if i.partition("/")[0] == name), key=lambda i: int(i.partition("/")[2]))
    found = method(versions[-1] if versions else name)
    if found is not None:
        return found
    near = difflib.get_close_matches(name, method_ids(), n=1, cutoff=0.5)
    remedy = f"did you mean {near[0]}?" if near else "the methods are listed by witnessmark list methods"
    raise Misuse(Problem("method.unknown", f"there is no method {name!r}", remedy))


def _pairs(given: list[str], what: str) -> dict[str, list[str]]:
    pairs: dict[str, list[str]] = {}
    wrong = []
    for text in given:
        name, equals, value = text.partition("=")
        if not equals or not name.strip() or not value.strip():
            wrong.append(Problem(f"{what}.form", f"{text!r} is not NAME=VALUE", "write it as ub='402.9 V'"))
        else:
            pairs.setdefault(name.strip(), []).append(value.strip())
    if wrong:
        raise Misuse(*wrong)
    return pairs


def _unknown(method: Method, name: str) -> Problem:
    known = [s.name for s in method.inputs] + [s.name for s in method.facts]
    near = difflib.get_close_matches(name, known, n=1)
    return Problem(
        "reading.unknown",
        f"{method.id} has no reading or fact called {name!r}",
        f"did you mean {near[0]}?" if near else f"it takes {', '.join(known)}",
    )


def _nothing_given(method: Method) -> Problem:
    units = {s.name: s.unit or " or ".join(s.choices) for s in method.inputs if s.required}
    units |= {s.name: s.unit for s in method.facts if s.required}
    if method.channels:
        return Problem(
            "log.missing",
            f"{method.id} reads a log",
            f"give --log FILE and --channel for {', '.join(c.name for c in method.channels)}; see --explain",
        )
    needed = " ".join(f"{name}='… {unit}'" for name, unit in units.items())
    return Problem("reading.missing", "no readings were given", f"give them as {needed}; see --explain")


def _limit(text: str, problems: list[Problem]) -> Limit | None:
    from witnessmark.quantities.decision import Limit
    from witnessmark.quantities.quantity import QuantityError, parse_quantity

    for words, kind in (*KINDS.items(), *SIGNS.items()):
        if text.strip().startswith(words):
            try:
                return Limit.of(kind, parse_quantity(text.strip()[len(words) :].strip(), bare=True))  # type: ignore[arg-type] # one of KINDS
            except (QuantityError, ValueError) as fault:
                problems.append(Problem("limit.quantity", f"--limit: {fault}", "write it as 'at least 500 Ω/V'"))
                return None
    problems.append(
        Problem(
            "limit.form", f"--limit {text!r} does not say which side passes", f"begin with one of: {', '.join(KINDS)}"
        )
    )
    return None


def _rule(options: argparse.Namespace, problems: list[Problem]) -> DecisionRule:
    from decimal import Decimal

    from witnessmark.quantities.decision import DecisionRule
    from witnessmark.quantities.quantity import QuantityError, parse_quantity

    if options.guard_for is not None:
        from pydantic import ValidationError

        from witnessmark.records.sets import DecisionRule as Written

        try:
            return DecisionRule.guarded(Written(rule=options.rule, probability=options.guard_for).conformance)
        except ValidationError as wrong:
            why = str(wrong.errors()[0]["msg"]).removeprefix("Value error, ")
            problems.append(Problem("rule.probability", f"--guard-for: {why}", "write it as --guard-for '99 %'"))
            return DecisionRule.guarded()
    if options.rule == "guarded":
        return DecisionRule.guarded()
    try:
        return DecisionRule.simple(Decimal(str(float(parse_quantity(options.cap).si_exact))))
    except (QuantityError, ValueError) as fault:
        problems.append(Problem("rule.cap", f"--cap: {fault}", "write it as --cap '5 %'"))
        return DecisionRule.guarded()


def _probability(text: str | None, limit: str | None, problems: list[Problem]) -> float | None:
    from witnessmark.quantities.quantity import QuantityError, parse_quantity
    from witnessmark.quantities.units import ONE

    if text is None:
        return None
    if limit is None:
        problems.append(
            Problem("probability.limit", "--probability says nothing without a limit", "give --limit with it")
        )
        return None
    try:
        stated = parse_quantity(text)
    except QuantityError as fault:
        problems.append(Problem("probability.quantity", f"--probability: {fault}", "write it as --probability '99 %'"))
        return None
    bare = stated.unit.compatible(ONE) and stated.U is None and not stated.bound
    if not bare or not 0.5 <= stated.si < 1:
        problems.append(
            Problem(
                "probability.range",
                f"--probability {text!r} does not lie from 50 % to below 100 %",
                "write it as --probability '99 %'",
            )
        )
        return None
    return stated.si


def _figures(options: argparse.Namespace, method: Method, problems: list[Problem]) -> dict[str, object] | None:
    from witnessmark.reading.figures import figures_of_file

    channels = {n: v if len(v) > 1 else v[0] for n, v in _pairs(options.channel, "channel").items()}
    chosen = {n: v[-1] for n, v in _pairs(options.option, "option").items()}
    figures, faults = figures_of_file(method.id, options.log, channels, chosen, options.plugin)
    problems.extend(faults)
    return figures


def _judge(
    method: Method, result: Result, limit: Limit | None, name: str | None, rule: DecisionRule
) -> tuple[str, Decision] | None:
    from witnessmark.quantities.decision import decide

    if limit is None:
        return None
    fitting = [o for o in result.outputs if (name is None or o.measurand == name) and o.unit.compatible(limit.unit)]
    if not fitting:
        names = ", ".join(f"{o.measurand} in {o.unit.symbol}" for o in result.outputs)
        raise Misuse(
            Problem("limit.measurand", f"no result of {method.id} can be compared with {limit}", f"it yields {names}")
        )
    one = fitting[0]
    return one.measurand, decide(one.value, one.U, one.bound, limit, rule, u=one.u, dof=one.dof)


def _compare(
    draws: int | None,
    method: Method,
    readings: Mapping[str, tuple[Reading, ...]],
    facts: Mapping[str, Quantity | str],
    figures: Mapping[str, object] | None,
) -> tuple[Compared, ...]:
    if draws is None:
        return ()
    from witnessmark.methods.base import Refused
    from witnessmark.methods.simulating import DRAWS, simulate

    if draws and not 1000 <= draws <= 10_000_000:
        raise Misuse(
            Problem("monte-carlo.draws", f"--monte-carlo {draws} is not from 1000 to 10000000", "leave the number out")
        )
    progress(say("drawing {n} times …", n=draws or DRAWS))
    compared = simulate(method, readings, facts, figures, draws=draws or DRAWS)
    if isinstance(compared, Refused):
        raise Misuse(*compared.faults)
    return compared


def _value(output: Output) -> str:
    from witnessmark.quantities.format import show

    return str(show(output.value, output.U, output.unit, bound=output.bound))


def _print(
    method: Method,
    result: Result,
    judged: tuple[str, Decision] | None,
    compared: tuple[Compared, ...] = (),
    probability: float | None = None,
) -> None:
    from witnessmark.quantities.format import decimal_string, number, show

    put(f"{method.id}: {say(method.title)}")
    put()
    for output in result.outputs:
        spec = method.measurand(output.measurand)
        value = _value(output) + (f"  (k = {output.k:.3g})" if output.k else "")
        if output.where:
            value = say("{value} at {place}", value=value, place=output.where)
        put(f"  {say(spec.title) if spec else output.measurand}: {value}")
    if judged:
        name, decision = judged
        output = next(o for o in result.outputs if o.measurand == name)
        put()
        words = say(
            "{statement}: {limit} is asked; {reason}.",
            statement=decision.statement.words.upper(),
            limit=decision.limit,
            reason=decision.reason,
        )
        put(f"  {words}")
        if decision.acceptance_limit is not None and decision.rule.kind == "guarded":
            edge = show(decision.acceptance_limit, None, output.unit, significant=4)
            put("  " + say("With this uncertainty a pass begins at {value}.", value=edge))
        _print_probability(decision, output, probability)
    if result.alarms:
        put()
        for alarm in result.alarms:
            words = say("{what} Do this: {remedy}", what=alarm.message, remedy=alarm.remedy)
            if alarm.fatal:
                words = f"{say('DO NOT BELIEVE THIS RESULT.')} {words}"
            for line in wrapped(words, indent=2):
                put(line)
    if result.steps:
        put()
        put(say("Worked"))
        for step in result.steps:
            for line in wrapped(step.words, indent=2):
                put(line)
            if step.formula:
                put(f"      {plain_formula(step.formula)}")
    for output in result.outputs:
        if output.budget:
            put()
            put(
                say("Uncertainty budget of {measurand}, in {unit}", measurand=output.measurand, unit=output.unit.symbol)
            )
            rows = [(say("input"), "u", say("share"), say("basis"))]
            scale = float(output.unit.scale)
            for row in output.budget:
                u = number(_digits(abs(row.contribution) / scale))
                rows.append((row.name, u, f"{100 * row.share:.0f} %", row.basis))
            for line in table(rows):
                put(line)
            if output.u is not None:
                total = number(_digits(output.u / scale))
                dof = say("infinite") if output.dof == float("inf") else decimal_string(round(output.dof, 1))
                words = say("combined u = {u}, degrees of freedom {dof}", u=f"{total} {output.unit.symbol}", dof=dof)
                put(f"  {words}")
    if compared:
        _print_compared(compared)


def _print_probability(decision: Decision, output: Output, asked: float | None) -> None:
    """How probable it is that the true value conforms, and where the probability asked for begins: both for reading."""
    from witnessmark.quantities.decision import begins_with, probability_words
    from witnessmark.quantities.format import show

    if decision.probability is not None:
        words = probability_words(decision)
        put(f"  {words[0].upper()}{words[1:]}.")
    if asked is not None and output.u is not None and decision.probability is not None:
        begin = show(begins_with(decision.limit, output.u, asked, output.dof), None, output.unit, significant=4)
        words = say(
            "Results that conform with {percent} % probability begin at {value}; the rule decides.",
            percent=f"{100 * asked:.6g}",
            value=begin,
        )
        put(f"  {words}")


def _print_compared(compared: tuple[Compared, ...]) -> None:
    from witnessmark.methods.simulating import LIMIT
    from witnessmark.quantities.format import show

    put()
    put(say("Monte Carlo, as a check on the first order (JCGM 101, clause 8)"))
    rows = [(say("result"), say("95 % of the draws"), say("differs by"), "")]
    for one in compared:
        unit = one.output.unit
        if one.low is None or one.high is None or one.difference is None:
            rows.append(
                (one.output.measurand, "", "", say("not compared: {why}", why=one.why) if one.valid else one.why)
            )
            continue
        low, high = (show(end, None, unit, significant=5) for end in (one.low, one.high))
        verdict = say("agrees")
        if not one.valid:
            text = declared("DIFFERS by more than {percent} % of U: undecided")
            if one.narrower:
                text = declared(
                    "DIFFERS by more than {percent} % of U: undecided "
                    "(the draws lie within U: by the shape of the inputs U is larger than it takes)"
                )
            verdict = say(text, percent=f"{100 * LIMIT:.0f}")
        part = say("{percent} % of U", percent=f"{100 * one.difference:.1f}")
        rows.append((one.output.measurand, say("{low} to {high}", low=low, high=high), part, verdict))
    for line in table(rows):
        put(line)


def _digits(value: float) -> Decimal:
    from decimal import Decimal

    if not value:
        return Decimal(0)
    exact = Decimal(repr(value))
    return exact.quantize(Decimal(1).scaleb(min(exact.adjusted() - 2, 0)))


def _cautions(method: Method) -> None:
    put()
    put(say("CAUTION"))
    for caution in method.cautions:
        for line in wrapped(harmless(say(caution.text)), indent=2):
            put(line)
    put("  " + say("Local codes and qualified persons decide what may be done."))


def _explain(method: Method) -> None:
    from witnessmark.assessment.words import either

    put(f"{method.id}: {say(method.title)}")
    for line in wrapped(say(method.purpose), indent=2):
        put(line)
    put("  " + say("Source: {source} ({confidence})", source=say(method.source), confidence=say(method.confidence)))
    put("  " + say("Equation: {formula}", formula=plain_formula(method.equation)))
    for line in wrapped(say("Valid: {where}", where=say(method.validity)), indent=2):
        put(line)
    if method.second_order:
        put("  " + say("Uncertainty: with the terms of second order (JCGM 100, 5.1.2, note)."))
    put()
    put(say("Readings, in the order of taking"))
    for line in table(
        [
            (s.name, s.unit or either(s.choices), say(s.title), "" if s.required else say("optional"))
            for s in method.inputs
        ]
    ):
        put(line)
    sections: tuple[tuple[str, list[tuple[str, ...]]], ...] = (
        (say("Facts"), [(s.name, s.unit, say(s.title)) for s in method.facts]),
        (say("Channels of the log"), [(s.name, s.unit, say(s.title)) for s in method.channels]),
        (say("Options"), [(s.name, s.unit, say(s.title)) for s in method.options]),
        (say("Instruments"), [(s.name, say(s.title), say(s.demands)) for s in method.roles]),
        (say("Conditions"), [(s.name, say(s.title), s.must) for s in method.conditions]),
        (say("Yields"), [(s.name, s.unit, say(s.title)) for s in method.measurands]),
    )
    for title, rows in sections:
        if rows:
            put()
            put(title)
            for line in table(rows):
                put(line)
    _cautions(method)
