"""Where a place lies along a run, and what runs there: a colour, or the share of an ink's film.

Runs are kept as an axis and a few steps and never as pixels: whoever wants a picture asks here for the places
of its pixels, at any scale.
"""

import numpy as np
import shapely
from numba import njit
from numpy.typing import ArrayLike, NDArray
from shapely.geometry.base import BaseGeometry

from blockwright.model.axis import Axis
from blockwright.model.design import Run
from blockwright.model.separation import Gradation

_FEW = 1e-9
"""A run shorter than this is a step, mm."""

_MEAN_PLACES = 2000
"""Places over which a mean is taken."""

_FINEST = 4096
"""Most cells along either side of the grid that looks for places inside an area."""


@njit(cache=True, nogil=True)
def _distances(x, y, wanted, edge, out):  # type: ignore[no-untyped-def]
    """The distance of every place that is wanted from a line of points, mm."""
    for i in range(len(x)):
        if not wanted[i]:
            continue
        least = np.inf
        for k in range(max(len(edge) - 1, 1)):
            ax, ay = edge[k, 0], edge[k, 1]
            after = min(k + 1, len(edge) - 1)
            bx, by = edge[after, 0] - ax, edge[after, 1] - ay
            px, py = x[i] - ax, y[i] - ay
            length = bx * bx + by * by
            t = 0.0
            if length > 0.0:
                t = min(max((px * bx + py * by) / length, 0.0), 1.0)
            dx, dy = px - t * bx, py - t * by
            least = min(least, dx * dx + dy * dy)
        out[i] = np.sqrt(least)


def distance_mm(
    edge: ArrayLike, points: NDArray[np.float64], *, wanted: NDArray[np.bool_] | None = None
) -> NDArray[np.float64]:
    """How far points (n, 2) are from a line of points (m, 2), mm; where not ``wanted`` (n,) it is 0.

    A line of one point is that point.

    >>> distance_mm([(0.0, 0.0), (4.0, 0.0)], np.array([[2.0, 3.0], [7.0, 4.0]])).tolist()
    [3.0, 5.0]
    >>> distance_mm([(0.0, 0.0)], np.array([[3.0, 4.0]])).tolist()
    [5.0]
    """
    found = np.zeros(len(points))
    asked = np.ones(len(points), dtype=np.bool_) if wanted is None else wanted
    x, y = np.ascontiguousarray(points[:, 0]), np.ascontiguousarray(points[:, 1])
    _distances(x, y, asked, np.asarray(edge, dtype=np.float64).reshape(-1, 2), found)
    return found


def position(
    axis: Axis, points: NDArray[np.float64], *, wanted: NDArray[np.bool_] | None = None
) -> NDArray[np.float64]:
    """Where points (n, 2), mm, lie along an axis: 0 at its start or before, 1 at its end or beyond.

    ``wanted`` (n,) spares those that nobody asks for.

    >>> position(Axis((0.0, 10.0), (0.0, 30.0)), np.array([[5.0, 0.0], [5.0, 15.0]])).tolist()
    [0.0, 0.25]
    """
    if axis.edge:
        away = distance_mm(axis.edge, points, wanted=wanted) - axis.near_mm
        length = axis.far_mm - axis.near_mm
    else:
        along = np.subtract(axis.end, axis.start)
        length = float(np.hypot(*along))
        away = (points - np.asarray(axis.start)) @ along / max(length, _FEW)
    if abs(length) < _FEW:
        length = _FEW
    placed: NDArray[np.float64] = np.clip(away / length, 0.0, 1.0)
    return placed


def _stepped(steps: ArrayLike, along: NDArray[np.float64]) -> NDArray[np.float64]:
    nodes = np.asarray(steps, dtype=np.float64)
    places = np.linspace(0.0, 1.0, len(nodes))
    if nodes.ndim == 1:
        return np.interp(along, places, nodes)
    return np.stack([np.interp(along, places, band) for band in nodes.T], axis=1)


def film_share(
    gradation: Gradation, points: NDArray[np.float64], *, wanted: NDArray[np.bool_] | None = None
) -> NDArray[np.float64]:
    """The share (n,) of the full film, 0 to 1, that a gradation lays at points (n, 2), mm.

    >>> sky = Gradation("fukisage", Axis((0.0, 0.0), (0.0, 40.0)), (1.0, 0.25, 0.0))
    >>> film_share(sky, np.array([[3.0, -1.0], [3.0, 10.0], [3.0, 20.0], [3.0, 90.0]])).tolist()
    [1.0, 0.625, 0.25, 0.0]
    """
    return _stepped(gradation.ramp, position(gradation.axis, points, wanted=wanted))


def film_share_of_pixels(
    gradation: Gradation,
    wanted: NDArray[np.bool_],
    *,
    origin_mm: tuple[float, float],
    pixels_per_mm: float,
) -> NDArray[np.float64]:
    """The share of the full film at the middles of the pixels of a picture, in its shape.

    ``wanted`` (height, width) spares those that nobody asks for; ``origin_mm`` is its upper left corner.

    >>> sky = Gradation("fukisage", Axis((0.0, 0.0), (0.0, 40.0)), (1.0, 0.25, 0.0))
    >>> wanted = np.ones((2, 1), dtype=np.bool_)
    >>> film_share_of_pixels(sky, wanted, origin_mm=(3.0, 5.0), pixels_per_mm=0.1).tolist()
    [[0.625], [0.25]]
    """
    height, width = wanted.shape
    axis = gradation.axis
    if axis.edge:
        places = pixel_places(
            origin_mm=origin_mm, pixels_per_mm=pixels_per_mm, width_px=width, height_px=height
        )
        return film_share(gradation, places, wanted=wanted.ravel()).reshape(wanted.shape)
    # Along a straight axis rows and columns count for themselves.
    dx, dy = np.subtract(axis.end, axis.start) / max(axis.length_mm, _FEW) ** 2
    across = (origin_mm[0] - axis.start[0] + (np.arange(width) + 0.5) / pixels_per_mm) * dx
    down = (origin_mm[1] - axis.start[1] + (np.arange(height) + 0.5) / pixels_per_mm) * dy
    return _stepped(gradation.ramp, np.clip(across[None] + down[:, None], 0.0, 1.0))


def mean_share(gradation: Gradation, area: BaseGeometry) -> float:
    """The mean share of the full film over an area: how much less ink a gradation takes than a flat.

    >>> even = Gradation("fukisage", Axis((0.0, 0.0), (0.0, 40.0)), (1.0, 0.0))
    >>> round(mean_share(even, shapely.box(0, 0, 10, 40)), 2)
    0.5
    """
    if area.is_empty:
        return 0.0
    return float(film_share(gradation, places_inside(area, about=_MEAN_PLACES)).mean())


def run_lab(run: Run, points: NDArray[np.float64]) -> NDArray[np.float64]:
    """The colour (n, 3), CIELAB, of a run at points (n, 2), mm."""
    return _stepped(run.lab, position(run.axis, points))


def run_levels(run: Run, points: NDArray[np.float64]) -> NDArray[np.float64]:
    """The colour (n, 3) of a run at points (n, 2), mm, in sRGB's coded values, 0 to 255."""
    levels = [[int(each[i : i + 2], 16) for i in (1, 3, 5)] for each in run.srgb_hex]
    return _stepped(levels, position(run.axis, points))


def lab_along(run: Run, along: NDArray[np.float64]) -> NDArray[np.float64]:
    """The colour (n, 3), CIELAB, of a run at positions (n,) along it, 0 to 1."""
    return _stepped(run.lab, along)


def pixel_places(
    *, origin_mm: tuple[float, float], pixels_per_mm: float, width_px: int, height_px: int
) -> NDArray[np.float64]:
    """The middles of a picture's pixels, row by row: (height_px * width_px, 2), mm."""
    x = origin_mm[0] + (np.arange(width_px) + 0.5) / pixels_per_mm
    y = origin_mm[1] + (np.arange(height_px) + 0.5) / pixels_per_mm
    return np.stack(np.meshgrid(x, y), axis=2).reshape(-1, 2)


def places_inside(area: BaseGeometry, *, about: int) -> NDArray[np.float64]:
    """Places (n, 2), mm, evenly spread over an area, about so many; one at least, if it is not empty.

    >>> places_inside(shapely.box(0, 0, 2, 1), about=2).tolist()
    [[0.5, 0.5], [1.5, 0.5]]
    """
    left, top, right, bottom = area.bounds
    cell = max((area.area / about) ** 0.5, (right - left) / _FINEST, (bottom - top) / _FINEST, _FEW)
    x = np.arange(left + cell / 2.0, right, cell)
    y = np.arange(top + cell / 2.0, bottom, cell)
    grid = np.stack(np.meshgrid(x, y), axis=2).reshape(-1, 2)
    shapely.prepare(area)
    inside: NDArray[np.float64] = grid[shapely.contains_xy(area, grid)]
    return inside if len(inside) else shapely.get_coordinates(shapely.point_on_surface(area))
