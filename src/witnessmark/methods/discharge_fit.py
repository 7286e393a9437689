r"""Time to a safe voltage from a log, by a fitted exponential with its confidence band.

U(t) = U0 · exp(−t/τ) is fitted to the samples from the start on, down to a smallest voltage. The interval of the time
comes from the fit (n − 2 degrees of freedom) and from the logger. A curve of another shape is refused as evidence: then
the first crossing in the log counts, and not a fit.

Source: closed form; least squares as in the NIST Statistical Reference Datasets.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, cast

from witnessmark.language import declared, marked, say
from witnessmark.methods.base import (
    Caution,
    ChannelSpec,
    ConditionSpec,
    FigureData,
    InputSpec,
    MeasurandSpec,
    Method,
    OptionSpec,
    Reading,
    Refused,
    Result,
    RoleSpec,
)
from witnessmark.methods.checking import Quantities, output_of
from witnessmark.methods.fitting import durbin_watson, fit_curve
from witnessmark.methods.series import as_floats, checked_time, log_fault, thinned
from witnessmark.methods.working import Working, ordered, worked
from witnessmark.quantities.propagation import Input, deviation, uncertain

__all__ = ["METHOD"]

_BINS = 200
_GRID = 60
WORST_SHAPE = 0.02
"""Largest residual standard deviation as a part of U0 that still counts as this curve (common practice, no source)."""


def _reduce(columns: Mapping[str, Any], options: Mapping[str, float]) -> dict[str, object]:
    import numpy as np

    start, safe, least = options.get("start", 0.0), options.get("safe_voltage", 60.0), options.get("fit_down_to", 20.0)
    time, faults = checked_time(columns)
    voltage, more = as_floats(columns, "voltage", len(time))
    faults += more
    figures: dict[str, object] = {"start": start, "safe_voltage": safe, "faults": faults}
    if faults:
        return figures
    size = np.abs(voltage)
    after = time >= start
    low = np.flatnonzero(after & (size < least))
    end = int(low[0]) if low.size else len(time)
    used = after & (np.arange(len(time)) < end)
    t, v = time[used] - start, size[used]
    if len(t) < 5:
        faults.append(
            log_fault(
                "fit.few",
                declared("only {samples} samples lie between the start and {least} V, and a fit needs five"),
                declared("log faster, or write start as the moment of switching off"),
                samples=len(t),
                least=float(least),
            )
        )
        return figures
    slope = np.polyfit(t, np.log(v), 1)
    tau = -1 / slope[0] if slope[0] < 0 else float(t[-1]) * 10
    fit = fit_curve(_curve, t, v, (float(np.exp(slope[1])), float(tau)))
    if fit is None or not (fit.parameters[0] > 0 and fit.parameters[1] > 0):
        faults.append(
            log_fault(
                "fit.none",
                declared("no falling exponential fits these samples"),
                declared("look at the log: is a source still on the bus?"),
            )
        )
        return figures
    u0, tau = fit.parameters
    grid = np.linspace(0.0, max(float(t[-1]), tau * float(np.log(max(u0 / safe, 1.0)))) * 1.05, _GRID)
    line = _curve(fit.parameters, grid)
    gradient = np.array([line / u0, line * grid / tau**2])
    spread = np.sqrt(np.maximum(np.einsum("ig,ij,jg->g", gradient, np.array(fit.covariance), gradient), 0.0))
    figures |= {
        "u0": u0,
        "tau": tau,
        "covariance": [list(row) for row in fit.covariance],
        "dof": fit.dof,
        "samples": len(t),
        "residual": fit.residual_deviation,
        "shape": durbin_watson(v - _curve(fit.parameters, t)),
        "last_voltage": float(v[-1]),
        "curve": thinned(t, v, _BINS),
        "grid": grid.tolist(),
        "line": line.tolist(),
        "spread": spread.tolist(),
    }
    return figures


def _curve(p: Any, t: Any) -> Any:
    import numpy as np

    return p[0] * np.exp(-t / p[1])


def _work(w: Working, f: Mapping[str, Any]) -> Result | Refused:
    safe, u0, tau = float(f["safe_voltage"]), float(f["u0"]), float(f["tau"])
    if u0 <= safe:
        w.fault(
            "validity.range",
            say(
                "the fitted voltage at the start is {u0} V, not above the safe voltage of {safe} V",
                u0=marked(f"{u0:.1f}"),
                safe=marked(f"{safe:g}"),
            ),
            say("write start as the moment of switching off, with the system energised"),
        )
        return w.result()
    cov = f["covariance"]
    w.let("u0", u0, "V")
    w.let("tau_fit", tau, "s")
    w.let("safe", safe, "V")
    # d t/d U0 = tau/U0 and d t/d tau = ln(U0/Us), with the covariance of the fit.
    d0, d1 = tau / u0, math.log(u0 / safe)
    u_time = math.sqrt(max(d0 * d0 * cov[0][0] + 2 * d0 * d1 * cov[0][1] + d1 * d1 * cov[1][1], 0.0))
    dof = float(f["dof"])
    time = uncertain(
        Input("fit", tau * d1, u_time, dof, "t", say("least squares, {samples} samples", samples=f["samples"]))
    )
    constant = uncertain(Input("fit", tau, math.sqrt(max(cov[1][1], 0.0)), dof, "t", say("least squares")))
    if w.has("logger_check"):
        check = w.x["logger_check"]
        # An error of the logger at the safe voltage moves the crossing by tau/Us of it.
        time = time + deviation(check) * (tau / safe)
    t = w.let("t", time, "s")
    w.step(say("Fitted to the samples."), r"U = <u0> \cdot \mathrm{exp} \left( - \frac{{t}}{{<tau_fit>}} \right)")
    w.step(say("Time to the safe voltage."), r"t = <tau_fit> \cdot \mathrm{ln} \frac{<u0>}{<safe>} = <t>")
    if float(f["residual"]) > WORST_SHAPE * u0:
        w.alarm(
            "fit.shape",
            say(
                "The samples lie {residual} V (one standard deviation) from the curve: no exponential.",
                residual=marked(f"{float(f['residual']):.1f}"),
            ),
            say("Use the crossing in the log instead of a fit."),
            fatal=True,
        )
    elif float(f["shape"]) < 0.5:
        w.alarm(
            "fit.correlated",
            say("The residuals follow each other: the fit's own interval is too narrow."),
            say("Use the crossing in the log, or look for a second time constant."),
        )
    if float(f["last_voltage"]) > safe:
        w.alarm(
            "discharge.extrapolated",
            say(
                "The log ends at {last_voltage} V, above {safe} V: the time is extrapolated.",
                last_voltage=marked(f"{float(f['last_voltage']):.1f}"),
                safe=marked(f"{safe:g}"),
            ),
            say("Log until the voltage is safe."),
        )
    if not w.has("logger_check"):
        w.alarm(
            "uncertainty.not-stated",
            say("The uncertainty of the logger is not stated, so none can be given for the result."),
            say("Name the instrument with its calibration."),
        )
    known = w.has("logger_check") and not w.unknown_in(time)
    for spec, value in ((METHOD.measurands[0], time), (METHOD.measurands[1], constant)):
        w.outputs.append(output_of(spec, value, known=known))
    figure = FigureData(
        "decay",
        say("Voltage after switching off, fitted"),
        say("time after switching off"),
        say("voltage"),
        "s",
        "V",
        arrays={
            "time": tuple(f["curve"]["time"]),
            "voltage": tuple(f["curve"]["high"]),
            "fit_time": tuple(f["grid"]),
            "fit": tuple(f["line"]),
            "fit_u": tuple(f["spread"]),
        },
        numbers={
            "limit": safe,
            "crossing": t.value,
            "crossing_low": t.value - (w.outputs[0].U or 0.0),
            "crossing_high": t.value + (w.outputs[0].U or 0.0),
        },
    )
    return w.result(figure)


def _evaluate(
    readings: Mapping[str, tuple[Reading, ...]], facts: Quantities, figures: Mapping[str, object]
) -> Result | Refused:
    found = cast("Mapping[str, Any]", figures)
    return worked(METHOD, lambda w: _work(w, found), readings, facts)


METHOD = Method(
    id="discharge-fit/1",
    title="Time to a safe voltage from a fitted decay",
    purpose="Gives the discharge time with its interval from all samples of a log.",
    source="closed form: U = U0 · exp(−t/τ); least squares as in the NIST Statistical Reference Datasets",
    confidence="closed form; limits for the shape: common practice, no source",
    equation=r"U = U_0 \cdot \mathrm{exp} \left( - \frac{t}{\tau} \right) \quad t = \tau \cdot \mathrm{ln} "
    r"\frac{U_0}{U_s}",
    validity="A passive discharge through one resistor; samples from the start down to 20 V or as stated. A curve of "
    "another shape (active discharge, a source still on) shows nothing here.",
    cautions=(
        Caution("High voltage can kill. The bus is live while it decays: connect the logger with the bus dead."),
        Caution("A fitted time proves nothing dead. Qualified persons only; local codes decide."),
    ),
    inputs=ordered(
        InputSpec(
            "logger_check",
            "U",
            "the logger near 60 V, for its accuracy",
            "V",
            1,
            1500,
            False,
            role="logger",
            preset="60 V",
        ),
    ),
    roles=(RoleSpec("logger", "voltage logger", "dc-voltage", "20 samples or more down to the safe voltage"),),
    channels=(ChannelSpec("time", "time", "s"), ChannelSpec("voltage", "voltage of the bus", "V", moves=True)),
    options=(
        OptionSpec("start", "moment of switching off, in the log's own time", "s", 0.0),
        OptionSpec("safe_voltage", "voltage that is safe", "V", 60.0, bench_only=True),
        OptionSpec("fit_down_to", "samples below this voltage are left out", "V", 20.0),
    ),
    conditions=(
        ConditionSpec("parted", "how the bus was parted from its source", required=False),
        ConditionSpec("air", "air temperature", required=False),
    ),
    measurands=(
        MeasurandSpec("fitted-time-to-safe-voltage", "time to the safe voltage", "t", "s"),
        MeasurandSpec("discharge-time-constant", "time constant", r"\tau", "s"),
    ),
    evaluate_with=_evaluate,
    reduce_with=_reduce,
)
