"""Random draws that are the same everywhere and for ever: raw bits of a generator through inverse distributions.

A library may change how it makes normal numbers of its bits from one version to the next; the bits themselves, PCG64
seeded by a SeedSequence, are promised to stay (NumPy's compatibility policy, NEP 19).
Source: M. J. Wichura, Algorithm AS 241, Applied Statistics 37 (1988) 477-484, for normal quantiles; JCGM 101:2008, 6.4
and annex C for the others.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["normal_quantiles", "standard_draws", "uniforms"]

_CENTRE = (
    (
        2.5090809287301226727e3,
        3.3430575583588128105e4,
        6.7265770927008700853e4,
        4.5921953931549871457e4,
        1.3731693765509461125e4,
        1.9715909503065514427e3,
        1.3314166789178437745e2,
        3.3871328727963666080e0,
    ),
    (
        5.2264952788528545610e3,
        2.8729085735721942674e4,
        3.9307895800092710610e4,
        2.1213794301586595867e4,
        5.3941960214247511077e3,
        6.8718700749205790830e2,
        4.2313330701600911252e1,
        1.0,
    ),
)
_MIDDLE = (
    (
        7.74545014278341407640e-4,
        2.27238449892691845833e-2,
        2.41780725177450611770e-1,
        1.27045825245236838258e0,
        3.64784832476320460504e0,
        5.76949722146069140550e0,
        4.63033784615654529590e0,
        1.42343711074968357734e0,
    ),
    (
        1.05075007164441684324e-9,
        5.47593808499534494600e-4,
        1.51986665636164571966e-2,
        1.48103976427480074590e-1,
        6.89767334985100004550e-1,
        1.67638483018380384940e0,
        2.05319162663775882187e0,
        1.0,
    ),
)
_TAIL = (
    (
        2.01033439929228813265e-7,
        2.71155556874348757815e-5,
        1.24266094738807843860e-3,
        2.65321895265761230930e-2,
        2.96560571828504891230e-1,
        1.78482653991729133580e0,
        5.46378491116411436990e0,
        6.65790464350110377720e0,
    ),
    (
        2.04426310338993978564e-15,
        1.42151175831644588870e-7,
        1.84631831751005468180e-5,
        7.86869131145613259100e-4,
        1.48753612908506148525e-2,
        1.36929880922735805310e-1,
        5.99832206555887937690e-1,
        1.0,
    ),
)
"""Coefficients of numerator and denominator, highest power first, of AS 241 (function PPND16)."""


def uniforms(bits: np.random.BitGenerator, n: int) -> Floats:
    """`n` numbers strictly between 0 and 1, shape (n,): the upper 53 of 64 raw bits, and a half."""
    import numpy as np

    raw = np.asarray(bits.random_raw(n), dtype=np.uint64)
    drawn: Floats = ((raw >> np.uint64(11)).astype(np.float64) + 0.5) * 2.0**-53
    return drawn


def normal_quantiles(p: Floats) -> Floats:
    """The standard normal quantiles of probabilities `p` strictly between 0 and 1, shape (n,); relative error 1e-15."""
    import numpy as np

    q = p - 0.5
    r = 0.180625 - q * q
    found = q * _ratio(_CENTRE, r)
    outer = np.flatnonzero(np.abs(q) > 0.425)
    t = np.sqrt(-np.log(np.where(q[outer] <= 0, p[outer], 1.0 - p[outer])))
    size = np.where(t <= 5.0, _ratio(_MIDDLE, t - 1.6), _ratio(_TAIL, t - 5.0))
    found[outer] = np.where(q[outer] < 0, -size, size)
    return found


def _ratio(coefficients: tuple[tuple[float, ...], tuple[float, ...]], r: Floats) -> Floats:
    import numpy as np

    above, below = (np.polyval(np.array(part), r) for part in coefficients)
    divided: Floats = above / below
    return divided


def standard_draws(
    bits: np.random.BitGenerator, n: int, shape: str, *, dof: float = float("inf"), beta: float = 0.0, edge: float = 0.0
) -> Floats:
    """`n` draws with centre 0, shape (n,): normal with standard deviation 1, t with scale 1, others of half-width 1.

    `dof`: of t; `beta`: top to base of a trapezoid; `edge`: how inexactly the half-width is known, in half-widths, of a
    curvilinear trapezoid. Raises ValueError for another shape. Source: JCGM 101:2008, 6.4.2 to 6.4.9.
    """
    import numpy as np

    u = uniforms(bits, n)
    match shape:
        case "normal":
            return normal_quantiles(u)
        case "t":
            from scipy.special import stdtrit

            return np.asarray(stdtrit(dof, u), dtype=np.float64)
        case "rectangular":
            return 2 * u - 1
        case "triangular":
            return u + uniforms(bits, n) - 1
        case "trapezoidal":
            return (1 + beta) / 2 * (2 * u - 1) + (1 - beta) / 2 * (2 * uniforms(bits, n) - 1)
        case "arcsine":
            return np.sin(2 * np.pi * u)
        case "curvilinear-trapezoidal":  # JCGM 101:2008, 6.4.3
            lower = -1.0 - edge + 2 * edge * u
            return lower - 2 * lower * uniforms(bits, n)
        case _:
            raise ValueError(f"no distribution is called {shape!r}")
