"""Propagation of distributions by random draws: the check on the first order where a model is bent.

The draws come from a seed that is an argument, in blocks of a fixed size: same seed, same result, anywhere.
Source: JCGM 101:2008, 5.3 to 7.7 and 6.4 (distributions).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["Distribution", "Simulated", "monte_carlo"]

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

    def draw(self, generator: np.random.Generator, n: int) -> NDArray[np.float64]:
        """`n` draws."""
        import numpy as np

        if self.spread == 0:
            return np.full(n, self.value)
        match self.shape:
            case "normal":
                unit = generator.standard_normal(n)
            case "t":
                unit = generator.standard_t(self.dof, n)
            case "rectangular":
                unit = generator.uniform(-1.0, 1.0, n)
            case "triangular":
                unit = generator.uniform(-1.0, 1.0, n) / 2 + generator.uniform(-1.0, 1.0, n) / 2
            case "trapezoidal":
                unit = (1 + self.beta) / 2 * generator.uniform(-1.0, 1.0, n)
                unit = unit + (1 - self.beta) / 2 * generator.uniform(-1.0, 1.0, n)
            case "arcsine":
                unit = np.sin(2 * np.pi * generator.uniform(0.0, 1.0, n))
            case "curvilinear-trapezoidal":  # JCGM 101:2008, 6.4.3
                lower = -self.spread - self.edge + 2 * self.edge * generator.uniform(0.0, 1.0, n)
                unit = (lower - 2 * lower * generator.uniform(0.0, 1.0, n)) / self.spread
            case _:
                raise ValueError(f"no distribution is called {self.shape!r}")
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
        generator = np.random.default_rng(sequence)
        n = min(_BLOCK, draws - len(pieces) * _BLOCK)
        drawn = {name: inputs[name].draw(generator, n) for name in sorted(inputs)}
        pieces.append(np.broadcast_to(np.asarray(model(drawn), dtype=np.float64), (n,)))
    y = np.sort(np.concatenate(pieces))
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
