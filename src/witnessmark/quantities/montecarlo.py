"""Propagation of distributions by random draws: the check on the first order where a model is bent.

The draws come from a seed that is an argument, in blocks of a fixed size: same seed, same result, anywhere.
Source: JCGM 101:2008, 5.3 to 7.7 and 6.4 (distributions).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from witnessmark.quantities.draws import standard_draws

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["Distribution", "Simulated", "monte_carlo", "numerical_tolerance", "summed_up", "validated"]

_BLOCK = 50_000
"""Size of a block of draws: part of the result, and therefore fixed."""


@dataclass(frozen=True, slots=True)
class Distribution:
    """A distribution in SI: `shape` with centre `value` and `spread`, which is the standard deviation for normal and t
    (scale, with `dof`), and the half-width for rectangular, triangular, arcsine, trapezoidal (`beta`) and curvilinear
    trapezoidal (`edge`: how inexactly the half-width is known)."""

    shape: str
    value: float
    spread: float
    dof: float = float("inf")
    beta: float = 0.0
    edge: float = 0.0

    def draw(self, bits: np.random.BitGenerator, n: int) -> NDArray[np.float64]:
        """`n` draws, shape (n,), in SI. Raises ValueError for an unknown shape."""
        import numpy as np

        if self.spread == 0:
            return np.full(n, self.value)
        unit = standard_draws(bits, n, self.shape, dof=self.dof, beta=self.beta, edge=self.edge / self.spread)
        drawn: NDArray[np.float64] = self.value + self.spread * unit
        return drawn


@dataclass(frozen=True, slots=True)
class Simulated:
    """Mean and standard deviation of the draws, symmetric and shortest coverage interval; unit of the result."""

    value: float
    u: float
    low: float
    high: float
    shortest_low: float
    shortest_high: float
    draws: int


def monte_carlo(
    model: Callable[[Mapping[str, NDArray[np.float64]]], Any],
    inputs: Mapping[str, Distribution],
    *,
    draws: int = 1_000_000,
    seed: int = 1,
    p: float = 0.95,
) -> Simulated:
    """Draw the inputs independently, put them through `model` (arrays in, array out) and sum up what comes.

    Raises ValueError for a result that is not finite. Source: JCGM 101:2008, 7.5 to 7.7.
    """
    import numpy as np

    if draws < 1000 or not 0 < p < 1:
        raise ValueError("at least 1000 draws, and a coverage probability between 0 and 1")
    blocks = -(-draws // _BLOCK)
    pieces: list[NDArray[np.float64]] = []
    for sequence in np.random.SeedSequence(seed).spawn(blocks):
        bits = np.random.PCG64(sequence)
        n = min(_BLOCK, draws - len(pieces) * _BLOCK)
        drawn = {name: inputs[name].draw(bits, n) for name in sorted(inputs)}
        pieces.append(np.broadcast_to(np.asarray(model(drawn), dtype=np.float64), (n,)))
    return summed_up(np.concatenate(pieces), p)


def summed_up(values: NDArray[np.float64], p: float = 0.95) -> Simulated:
    """What draws of a result, shape (n,), come to. Raises ValueError for one that is not finite.

    Source: JCGM 101:2008, 7.6 and 7.7.
    """
    import numpy as np

    draws = len(values)
    y = np.sort(values)
    if not np.isfinite(y).all():
        raise ValueError("the result is not finite for some draws")
    q = min(max(round(p * draws), 1), draws - 1)
    low = (draws - q) // 2
    widths = y[q:] - y[: draws - q]
    shortest = int(np.argmin(widths))
    return Simulated(
        float(np.mean(y)),
        float(np.std(y, ddof=1)),
        float(y[low]),
        float(y[low + q]),
        float(y[shortest]),
        float(y[shortest + q]),
        draws,
    )


def numerical_tolerance(u: float, digits: int = 2) -> float:
    """The numerical tolerance of a standard uncertainty `u` above zero with so many significant digits; unit of `u`.

    u = c·10^l with c a whole number of `digits` digits gives half of 10^l. Source: JCGM 101:2008, 7.9.2.
    """
    if not (math.isfinite(u) and u > 0 and digits >= 1):
        raise ValueError("a tolerance needs a standard uncertainty above zero and a digit at least")
    mantissa = f"{u:.{digits - 1}e}"
    return 0.5 * 10.0 ** (int(mantissa.partition("e")[2]) - digits + 1)


def validated(value: float, U: float, simulated: Simulated, tolerance: float) -> bool:
    """Whether both ends of `value` ± `U` lie within `tolerance` of those of the draws; all in one unit.

    Source: JCGM 101:2008, 8.1, equations 35 and 36.
    """
    return abs(value - U - simulated.low) <= tolerance and abs(value + U - simulated.high) <= tolerance
