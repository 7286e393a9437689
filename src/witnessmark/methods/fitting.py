"""Least squares for curves that are not straight: parameters, their covariance, and how well the curve fits.

Source: least squares with covariance s²·(JᵀJ)⁻¹ and n − p degrees of freedom, as the certified values of the NIST
Statistical Reference Datasets (nonlinear regression) are stated.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["Fit", "durbin_watson", "fit_curve"]


@dataclass(frozen=True, slots=True)
class Fit:
    """`parameters`, their `covariance` (rows), residual sum of squares, residual standard deviation, and degrees of
    freedom. Units follow from the data."""

    parameters: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]
    residual_sum: float
    residual_deviation: float
    dof: int


def fit_curve(
    model: Callable[[Any, Any], Any], x: NDArray[np.float64], y: NDArray[np.float64], start: Sequence[float]
) -> Fit | None:
    """Fits y = model(parameters, x) from `start`; None when it does not settle or the data do not fix the parameters.

    `x` and `y` are arrays of one length, more points than parameters; the model settles the units, and `start` and the
    result have those of the parameters.
    Source: NIST StRD nonlinear regression (definition of the standard deviations of parameters).
    """
    import numpy as np
    from scipy.optimize import least_squares

    count = len(start)
    if len(x) <= count:
        return None
    scale = float(np.max(np.abs(y))) or 1.0
    # Parameters are fitted as multiples of their start, so that none is large beside another.
    unit = np.array([s or 1.0 for s in start], dtype=np.float64)

    def residual(p: Any) -> Any:
        with np.errstate(over="ignore", invalid="ignore"):
            r = (model(p * unit, x) - y) / scale
        return np.where(np.isfinite(r), r, 1e6)

    found = least_squares(
        residual,
        np.array(start, dtype=np.float64) / unit,
        jac="3-point",
        x_scale="jac",
        xtol=1e-15,
        ftol=1e-15,
        gtol=1e-15,
        max_nfev=2000,
    )
    normal = found.jac.T @ found.jac
    if not found.success or not np.all(np.isfinite(normal)) or np.linalg.matrix_rank(found.jac) < count:
        return None
    dof = len(x) - count
    rss = float(np.sum(found.fun**2))
    covariance = np.linalg.inv(normal) * rss / dof * np.outer(unit, unit)
    return Fit(
        tuple(float(v) for v in found.x * unit),
        tuple(tuple(float(v) for v in row) for row in covariance),
        rss * scale**2,
        (rss / dof) ** 0.5 * scale,
        dof,
    )


def durbin_watson(residuals: NDArray[np.float64]) -> float:
    """How `residuals`, in any unit, follow each other: near 2 for chance, near 0 when the curve has another shape
    than the model.

    Source: Durbin and Watson 1950 (definition; from memory).
    """
    import numpy as np

    square = float(np.sum(residuals**2))
    return float(np.sum(np.diff(residuals) ** 2)) / square if square > 0 else 2.0
