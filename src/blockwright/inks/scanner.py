"""What a scanner makes of colours, found from a reference chart whose patches have been measured.

Linear light as scanned is brought to true linear sRGB by a 3 by 3 matrix or by root-polynomial terms, which
like a matrix do not change with exposure (Finlayson, Mackiewicz and Hurlbert, "Color Correction Using
Root-Polynomial Regression", *IEEE Transactions on Image Processing* 24, 2015). Which terms, and how strongly
their size is held back (ridge regression; Hoerl and Kennard, *Technometrics* 12, 1970), is decided by leaving
out each patch in turn and predicting it from the others. A scanner does not see as the eye does: two inks
that the eye tells apart may scan alike, and no correction can mend that.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

from blockwright.colour.difference import delta_e00
from blockwright.colour.srgb import lab_to_linear, linear_to_lab, srgb_to_linear
from blockwright.model.errors import InkError

Terms = Literal["matrix", "square roots", "cube roots"]
"""Three terms; with the roots of products of two; and of three: 3, 6 and 13 terms."""

TERM_COUNTS: dict[Terms, int] = {"matrix": 3, "square roots": 6, "cube roots": 13}

LEAST_PATCHES = 8
"""A matrix has nine numbers, three from each patch; fewer patches say nothing of what is left over."""

RIDGES = (1e-6, 1e-5, 1e-4, 1e-3, 1e-2)
"""How strongly the size of the terms may be held back, as a part of their mean square."""

MOST_MEDIAN_DELTA_E00 = 10.0
"""A chart that fits worse has its patches in another order, or is another chart."""

INNER_PART = 0.5
"""Which part of the width of a chart's patch is looked at."""

_DARK = 0.03
"""Errors in linear light count as many times more in the dark as CIELAB makes of them, down to this light."""


@dataclass(frozen=True, slots=True, eq=False)
class ScannerCorrection:
    """A correction, and how well it does on patches that it was not fitted to (left out in turn).

    ``matrix`` has shape (terms, 3). ``before_delta_e00`` is the median without any correction.
    """

    terms: Terms
    ridge: float
    matrix: NDArray[np.float64]
    patches: int
    median_delta_e00: float
    p95_delta_e00: float
    max_delta_e00: float
    before_delta_e00: float

    def __call__(self, linear: NDArray[np.float64]) -> NDArray[np.float64]:
        """True linear sRGB of scanned linear light, both of shape (n, 3)."""
        true: NDArray[np.float64] = _terms(linear, self.terms) @ self.matrix
        return true


def fit_scanner(scanned_linear: ArrayLike, measured_lab: ArrayLike) -> ScannerCorrection:
    """Fit a correction to the patches of a chart.

    ``scanned_linear`` (n, 3) is linear light as scanned, ``measured_lab`` (n, 3) their CIELAB under D65.
    Raises InkError when there are fewer than LEAST_PATCHES, shapes differ, or the two do not go together.

    >>> rng = np.random.default_rng(1)
    >>> true = rng.uniform(0.05, 0.9, (24, 3))
    >>> crosstalk = np.array([[0.9, 0.1, 0.0], [0.05, 0.9, 0.05], [0.0, 0.1, 0.9]])
    >>> found = fit_scanner(true @ crosstalk, linear_to_lab(true))
    >>> found.terms, found.max_delta_e00 < 0.01
    ('matrix', True)
    """
    scanned = np.asarray(scanned_linear, dtype=np.float64)
    lab = np.asarray(measured_lab, dtype=np.float64)
    if scanned.shape != lab.shape or scanned.ndim != 2 or scanned.shape[1] != 3:
        raise InkError(f"The chart has {len(lab)} measured patches, but {len(scanned)} were scanned.")
    if len(scanned) < LEAST_PATCHES:
        raise InkError(f"The chart has {len(scanned)} patches; {LEAST_PATCHES} or more are needed.")
    best: ScannerCorrection | None = None
    for terms, count in TERM_COUNTS.items():
        if len(scanned) < 2 * count:
            continue
        for ridge in RIDGES:
            found = _fit(scanned, lab, terms, ridge)
            # A tie goes to the simpler, which comes first.
            if best is None or _score(found) < 0.98 * _score(best):
                best = found
    if best is None or best.median_delta_e00 > MOST_MEDIAN_DELTA_E00:
        raise InkError(
            "The scanned chart and its measured values do not go together; are the patches in the same "
            "order, row by row from the upper left corner?"
        )
    return best


def read_grid(
    pixels: NDArray[np.uint8], corners_px: Sequence[tuple[float, float]], *, columns: int, rows: int
) -> NDArray[np.float64]:
    """Read a chart of equal patches in a grid: linear light, shape (rows * columns, 3), row by row.

    ``pixels`` is (height, width, 3), sRGB 0..255; ``corners_px`` are the outer corners of the grid: upper
    left, upper right, lower right, lower left, as (x, y) in pixels. Raises InkError for a corner outside the
    picture, corners that are no such quadrilateral, or patches of a few pixels.
    """
    corners = np.array(corners_px, dtype=np.float64)
    height, width = pixels.shape[:2]
    if corners.shape != (4, 2):
        raise InkError(f"A chart has four corners, but {len(corners)} are given.")
    if not 1 <= columns <= 100 or not 1 <= rows <= 100:
        raise InkError(f"A chart has 1 to 100 columns and rows, not {columns} x {rows}.")
    for x, y in corners.tolist():
        if not (0.0 <= x <= width and 0.0 <= y <= height):
            raise InkError(
                f"The corner {x:g},{y:g} of the chart lies outside the picture of {width} x {height} pixels."
            )
    if not cv2.isContourConvex(corners.astype(np.float32)) or _signed_area(corners) <= 0.0:
        raise InkError(
            "The corners of a chart are given as upper left, upper right, lower right, lower left."
        )
    if _signed_area(corners) / (columns * rows) < 64.0:
        raise InkError("The patches of the chart are smaller than 8 pixels; scan it finer.")
    side = 24
    size = (columns * side, rows * side)
    grid = np.array([(0, 0), (size[0], 0), size, (0, size[1])], dtype=np.float32)
    matrix = cv2.getPerspectiveTransform(grid, corners.astype(np.float32))
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    laid = np.asarray(cv2.warpPerspective(np.ascontiguousarray(pixels), matrix, size, flags=flags))
    linear = srgb_to_linear(laid / 255.0).reshape(rows, side, columns, side, 3)
    rim = round(side * (1.0 - INNER_PART) / 2.0)
    inner = linear[:, rim : side - rim, :, rim : side - rim]
    middle: NDArray[np.float64] = np.median(inner, axis=(1, 3)).reshape(-1, 3)
    return middle


def _signed_area(corners: NDArray[np.float64]) -> float:
    """The area within the corners; above 0 when they go clockwise on a picture."""
    x, y = corners.T
    return float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum() / 2.0)


def _score(found: ScannerCorrection) -> float:
    return found.median_delta_e00 + 0.5 * found.p95_delta_e00


def _terms(linear: NDArray[np.float64], terms: Terms) -> NDArray[np.float64]:
    """The terms, shape (n, count); all of them of the first degree in exposure."""
    if terms == "matrix":
        return linear
    red, green, blue = np.maximum(linear, 0.0).T
    pairs = [np.sqrt(red * green), np.sqrt(green * blue), np.sqrt(red * blue)]
    if terms == "square roots":
        return np.column_stack([linear, *pairs])
    triples = [
        np.cbrt(one * other * other)
        for one, other in ((red, green), (green, blue), (red, blue), (green, red), (blue, green), (blue, red))
    ]
    return np.column_stack([linear, *pairs, *triples, np.cbrt(red * green * blue)])


def _fit(
    scanned: NDArray[np.float64], lab: NDArray[np.float64], terms: Terms, ridge: float
) -> ScannerCorrection:
    wanted = lab_to_linear(lab)
    matrix = _terms(scanned, terms)
    # CIELAB's slope against light: errors in the dark are seen more.
    weight = np.maximum(wanted.mean(axis=1), _DARK) ** (-2.0 / 3.0)
    heavy, goal = matrix * weight[:, None], wanted * weight[:, None]
    scale = np.sqrt((heavy**2).mean(axis=0))
    normal = heavy.T @ heavy + np.diag(ridge * len(heavy) * scale**2)
    solved = np.linalg.solve(normal, heavy.T)
    coefficients = solved @ goal
    leverage = np.einsum("ij,ji->i", heavy, solved)
    left_out = wanted - (goal - heavy @ coefficients) / (weight * (1.0 - leverage))[:, None]
    apart = delta_e00(linear_to_lab(left_out), lab)
    return ScannerCorrection(
        terms=terms,
        ridge=ridge,
        matrix=coefficients,
        patches=len(scanned),
        median_delta_e00=float(np.median(apart)),
        p95_delta_e00=float(np.quantile(apart, 0.95)),
        max_delta_e00=float(apart.max()),
        before_delta_e00=float(np.median(delta_e00(linear_to_lab(scanned), lab))),
    )
