"""Real spherical harmonics on the sky, plain numpy: the functions that the star counts are a sum of.

Orthonormal on the sphere, without the Condon–Shortley sign: with z = sin(dec) and α the right ascension

    Y_l0 = P_l0(z),  Y_lm = √2·P_lm(z)·cos(mα),  Y_l,−m = √2·P_lm(z)·sin(mα)  (m > 0),

where P_lm is the associated Legendre function times √((2l + 1)/4π · (l − m)!/(l + m)!). It is built by the recurrence
upward in l at fixed m, which is stable, and with that factor inside nothing overflows (Holmes & Featherstone 2002,
Journal of Geodesy 76, 279, section 2.1). Towards a pole P_lm may underflow to 0 for large m; it is that small there.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]


def term_count(degree: int) -> int:
    """Return the number of harmonics up to a degree: (degree + 1)²."""
    return (degree + 1) ** 2


def degrees_of_terms(degree: int) -> NDArray[np.int64]:
    """Return the degree l of each harmonic in the order of `harmonics`."""
    return np.repeat(np.arange(degree + 1), 2 * np.arange(degree + 1) + 1)


def harmonics(ra_deg: ArrayLike, dec_deg: ArrayLike, degree: int) -> FloatArray:
    """Return every real harmonic up to `degree` at places on the sky.

    Parameters
    ----------
    ra_deg, dec_deg : array_like, shape (n,)
        Degrees; right ascension any turn, declination in [−90, 90].
    degree : int
        Largest l, ≥ 0.

    Returns
    -------
    ndarray, shape (n, (degree + 1)²)
        Column l² + l + m holds Y_lm, −l ≤ m ≤ l.
    """
    ra, dec = (np.radians(np.atleast_1d(np.asarray(angle, dtype=np.float64))) for angle in (ra_deg, dec_deg))
    turn = np.arange(degree + 1)[:, None] * ra
    cosine, sine = math.sqrt(2.0) * np.cos(turn), math.sqrt(2.0) * np.sin(turn)
    cosine[0] = 1.0
    values = np.empty((term_count(degree), len(ra)))
    for order, legendre in enumerate(_legendre_rows(np.sin(dec), np.cos(dec), degree)):
        middle = order * order + order
        values[middle : middle + order + 1] = legendre * cosine[: order + 1]
        values[middle - order : middle] = (legendre[1:] * sine[1 : order + 1])[::-1]
    return np.ascontiguousarray(values.T)


def _legendre_rows(z: FloatArray, sine: FloatArray, degree: int) -> list[FloatArray]:
    """Return, for each l, the rows m = 0 … l of the normalised P_lm, shape (l + 1, n)."""
    rows = [np.full((1, len(z)), math.sqrt(1.0 / (4.0 * math.pi)))]
    for l in range(1, degree + 1):  # noqa: E741 (the letter of the formula)
        row = np.empty((l + 1, len(z)))
        row[l] = rows[-1][l - 1] * sine * math.sqrt((2 * l + 1) / (2 * l))
        row[l - 1] = rows[-1][l - 1] * z * math.sqrt(2 * l + 1)
        if l > 1:
            m_squared = np.arange(l - 1)[:, None] ** 2.0
            step = np.sqrt((4.0 * l * l - 1.0) / (l * l - m_squared))
            before = np.sqrt(((l - 1.0) ** 2 - m_squared) / (4.0 * (l - 1.0) ** 2 - 1.0))
            row[: l - 1] = step * (z * rows[-1][: l - 1] - before * rows[-2])
        rows.append(row)
    return rows
