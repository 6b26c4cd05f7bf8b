"""The fewest squares of one size that cover areas, with a lap where they meet inside.

A square *holds* a point of the area safely when the point lies in it, at least half the lap from every part
of its edges that runs inside the area. When each point is held safely by some square, squares that meet
inside the area lie over one another by the lap, measured across the edge; towards the area's own edge no lap
is asked for.

The area is laid on a grid whose pitch divides the square's side, a cell counting where the area touches it.
Wanted are the fewest squares on the grid that hold every such cell safely: a set cover. It is solved with a
growing part of the cells (row generation), so that every round gives a lower bound and the last one, whose
squares hold all cells, the fewest. See the documentation's page on the method for what that proves.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import MultiPolygon

from blockwright.geometry.square_cells import Cells
from blockwright.geometry.square_search import fewest_places
from blockwright.model.errors import SettingsError
from blockwright.model.units import Area, PointMm, Region

MOST_CELLS = 640
"""Cells along the longer side of an area at most: finer ones change no count that a hand could tell."""

CELLS_A_SIDE = 48
"""Cells along a square's side at least, unless the area is too large for that."""

MOST_CELLS_A_SIDE = 160

_TOUCH_MM = 1e-7
_CLOSE_MM = 1e-9


@dataclass(frozen=True, slots=True)
class Cover:
    """Squares that cover areas, in mm: their lower bound on the grid, and whether that is reached.

    ``squares`` go in rows from the top, each from the left (of the turned area, when ``turn_deg`` is not 0).
    """

    squares: tuple[Region, ...]
    fewest_known: int
    grid_mm: float

    @property
    def proven(self) -> bool:
        """Whether no fewer squares on the grid do."""
        return len(self.squares) == self.fewest_known


def cover_with_squares(area: Area, *, side_mm: float, lap_mm: float, turn_deg: float = 0.0) -> Cover:
    """Cover an area (mm) with the fewest squares, all turned by ``turn_deg`` (anticlockwise as seen).

    Raises SettingsError when the lap is half the side or more.

    >>> from shapely.geometry import box
    >>> cover = cover_with_squares(MultiPolygon([box(0, 0, 156, 80)]), side_mm=80.0, lap_mm=3.0)
    >>> len(cover.squares), cover.proven
    (2, True)
    """
    if lap_mm * 2 >= side_mm:
        raise SettingsError(
            f"[separation] leaf_lap_mm is {lap_mm:g}; it must be less than half of a leaf's {side_mm:g} mm."
        )
    if area.is_empty:
        return Cover((), 0, 0.0)
    middle = (0.0, 0.0)
    laid = affinity.rotate(area, turn_deg, origin=middle) if turn_deg else area
    groups, grid_mm = on_grid(laid, side_mm=side_mm, lap_mm=lap_mm)
    corners: list[PointMm] = []
    fewest = 0
    for group, cells in groups:
        chosen, bound = fewest_places(cells)
        left, top, _, _ = group.bounds
        found = [(left + column * grid_mm, top + row * grid_mm) for row, column in chosen]
        corners += _centred(found, group, side_mm, lap_mm)
        fewest += bound
    squares = [shapely.box(x, y, x + side_mm, y + side_mm) for x, y in _in_rows(corners, side_mm)]
    if turn_deg:
        squares = [affinity.rotate(each, -turn_deg, origin=middle) for each in squares]
    return Cover(tuple(squares), fewest, grid_mm)


def on_grid(area: Area, *, side_mm: float, lap_mm: float) -> tuple[list[tuple[Area, Cells]], float]:
    """The groups of an area (mm) that no square joins, each with its cells, and the grid's pitch, mm."""
    grid_mm, half_lap, side = _grid(area, side_mm, lap_mm)
    return [(group, _cells(group, grid_mm, side, half_lap)) for group in _groups(area, side_mm)], grid_mm


def held_safely(area: Area, squares: Sequence[Region], *, lap_mm: float) -> Area:
    """What of an area (mm) the squares hold safely, worked out exactly from the outlines."""
    inside = area.buffer(-_TOUCH_MM)
    held = []
    for square in squares:
        part = shapely.intersection(square, area)
        edges = shapely.intersection(square.exterior, inside)
        if lap_mm > 0 and not edges.is_empty:
            part = shapely.difference(part, shapely.buffer(edges, lap_mm / 2 - _TOUCH_MM))
        held.append(part)
    union = shapely.union_all(held)
    return MultiPolygon([p for p in shapely.get_parts(shapely.get_parts(union)) if p.geom_type == "Polygon"])


def _grid(area: Area, side_mm: float, lap_mm: float) -> tuple[float, int, int]:
    """The grid's pitch, half a lap and a side in cells: never less than the lap."""
    left, top, right, bottom = area.bounds
    half = lap_mm / 2
    wanted = min(side_mm / CELLS_A_SIDE, half or side_mm)
    coarsest = max(max(right - left, bottom - top) / MOST_CELLS, side_mm / MOST_CELLS_A_SIDE, wanted)
    # Half a lap that is a whole number of cells loses nothing by being rounded up.
    steps = max(1, floor(half / coarsest + _CLOSE_MM)) if half > 0 else 0
    pitch = half / steps if steps and half >= coarsest - _CLOSE_MM else coarsest
    side = max(2 * steps + 1, floor(side_mm / pitch + _CLOSE_MM))
    return side_mm / side, ceil(half / (side_mm / side) - _CLOSE_MM), side


def _groups(area: Area, side_mm: float) -> list[Area]:
    """Areas so far apart that no square reaches two of them, each by itself."""
    parts = list(area.geoms)
    boxes = shapely.box(*np.array([p.bounds for p in parts]).T)
    grown = [affinity.translate(shapely.box(*b.buffer(side_mm, join_style="mitre").bounds)) for b in boxes]
    group = list(range(len(parts)))
    for one, other in sorted(zip(*shapely.STRtree(boxes).query(grown, predicate="intersects"), strict=True)):
        low, high = sorted((group[one], group[other]))
        group = [low if each == high else each for each in group]
    return [
        MultiPolygon([p for p, g in zip(parts, group, strict=True) if g == name])
        for name in dict.fromkeys(group)
    ]


def _cells(area: Area, grid_mm: float, side: int, half_lap: int) -> Cells:
    """The cells of a grid from the area's upper left corner that the area touches."""
    left, top, right, bottom = area.bounds
    columns = max(1, ceil((right - left) / grid_mm - _TOUCH_MM))
    rows = max(1, ceil((bottom - top) / grid_mm - _TOUCH_MM))
    x = left + grid_mm * np.arange(columns)
    y = top + grid_mm * np.arange(rows)
    inner = grid_mm - _TOUCH_MM
    boxes = shapely.box(
        x[None, :] + _TOUCH_MM, y[:, None] + _TOUCH_MM, x[None, :] + inner, y[:, None] + inner
    )
    shapely.prepare(area)
    return Cells(np.asarray(shapely.intersects(area, boxes)), side, half_lap)


def _centred(found: list[PointMm], area: Area, side_mm: float, lap_mm: float) -> list[PointMm]:
    """The squares moved together so that they reach past the area alike on both sides, where they still hold.

    The grid hangs on the area's upper left corner, which leaves all that is over on the other sides.
    """
    x = np.array(found)
    left, top, right, bottom = area.bounds
    over = np.array([right, bottom]) - (x.max(axis=0) + side_mm) - (x.min(axis=0) - np.array([left, top]))
    # Laps were rounded up to whole cells; what they must be is checked exactly.
    for share in ((0.5, 0.5), (0.5, 0.0), (0.0, 0.5)):
        moved = x + over * share
        squares = [shapely.box(a, b, a + side_mm, b + side_mm) for a, b in moved.tolist()]
        held = held_safely(area, squares, lap_mm=lap_mm)
        if area.area - held.area <= 1e-6 * max(1.0, area.area):
            return [(float(a), float(b)) for a, b in moved]
    return found


def _in_rows(corners: list[PointMm], side_mm: float) -> list[PointMm]:
    """In the order of laying: rows from the top, in each from the left."""
    rest = sorted(corners, key=lambda at: (at[1], at[0]))
    rows: list[PointMm] = []
    while rest:
        top = rest[0][1]
        row = sorted(at for at in rest if at[1] < top + side_mm / 2)
        rows += row
        rest = [at for at in rest if at not in row]
    return rows
