"""How evenly a page was lit, from places of it that are bare paper.

The logarithm of what the paper sends back is a smooth surface over the page: powers of x and y up to the
second, and their products. Places that do not fit, because ink ran onto them, count less (Tukey's biweight;
Beaton and Tukey, *Technometrics* 16, 1974). Pieces of paper that were pasted on may be lighter or darker than
the sheet by one factor, which is found as well.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

_ALL_TERMS_FROM = 24
"""With fewer places the surface has no products of squares."""

_LEAST_SPREAD = 0.004
"""Paper and sensor are uneven by at least this part; places are not judged more strictly."""

_CUT = 4.685
"""Where Tukey's weight falls to nothing, in standard deviations."""

_DARKEST = 1e-4
"""Linear light is taken for at least this much before its logarithm."""

_ROUNDS = 12


@dataclass(frozen=True, slots=True, eq=False)
class PageLight:
    """The light over a page: ``coefficients`` of shape (terms, 3), over x and y from -1 to 1.

    ``pasted`` is by what factor bare patches are lighter than the sheet, for red, green and blue, ``odd``
    tells which of the places do not fit.
    """

    coefficients: NDArray[np.float64]
    size_mm: tuple[float, float]
    pasted: NDArray[np.float64]
    odd: NDArray[np.bool_]

    def at(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """What the sheet's own paper sends back at places of shape (n, 2): linear light, shape (n, 3)."""
        terms = _terms(points_mm, self.size_mm, len(self.coefficients))
        light: NDArray[np.float64] = np.exp(terms @ self.coefficients)
        return light


def fit_light(
    points_mm: NDArray[np.float64],
    linear: NDArray[np.float64],
    in_patch: NDArray[np.bool_],
    *,
    size_mm: tuple[float, float],
) -> PageLight:
    """Fit the light to places (n, 2) of bare paper and their linear light (n, 3).

    ``in_patch`` (n,) says which places are patches, where paper may have been pasted. Needs at least 8
    places, raises ValueError otherwise.

    >>> places = np.array([(x, y) for x in (0.0, 50.0, 100.0) for y in (0.0, 50.0, 100.0)])
    >>> seen = np.repeat(0.8 - 0.002 * places[:, :1], 3, axis=1)
    >>> light = fit_light(places, seen, np.zeros(9, dtype=bool), size_mm=(100.0, 100.0))
    >>> light.at(np.array([[25.0, 70.0]])).round(2).tolist()
    [[0.75, 0.75, 0.75]]
    """
    if len(points_mm) < 8:
        raise ValueError("at least 8 places of bare paper are needed")
    count = 9 if len(points_mm) >= _ALL_TERMS_FROM else 6
    matrix = _terms(points_mm, size_mm, count)
    own_factor = bool(in_patch.any()) and not bool(in_patch.all())
    if own_factor:
        matrix = np.column_stack([matrix, in_patch.astype(np.float64)])
    wanted = np.log(np.maximum(linear, _DARKEST))
    weight = np.ones(len(points_mm))
    # The first round must not be led astray: it starts from what is bright, as ink only darkens.
    weight[wanted.mean(axis=1) < np.median(wanted.mean(axis=1)) - 0.7] = 0.0
    for _ in range(_ROUNDS):
        root = np.sqrt(weight)[:, None]
        found, *_ = np.linalg.lstsq(matrix * root, wanted * root, rcond=None)
        rest = np.abs(wanted - matrix @ found).max(axis=1)
        spread = max(_LEAST_SPREAD, 1.4826 * float(np.median(rest)))
        weight = np.maximum(1.0 - (rest / (_CUT * spread)) ** 2, 0.0) ** 2
    pasted = np.exp(found[-1]) if own_factor else np.ones(3)
    return PageLight(found[:count], size_mm, pasted, weight == 0.0)


def _terms(points_mm: NDArray[np.float64], size_mm: tuple[float, float], count: int) -> NDArray[np.float64]:
    x, y = (2.0 * points_mm / np.array(size_mm) - 1.0).T
    terms = [np.ones_like(x), x, y, x * y, x * x, y * y, x * x * y, x * y * y, x * x * y * y]
    return np.column_stack(terms[:count])
