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
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import MultiPolygon

from blockwright.model.errors import SettingsError
from blockwright.model.units import Area, PointMm, Region

MOST_CELLS = 640
"""Cells along the longer side of an area at most: finer ones change no count that a hand could tell."""

CELLS_A_SIDE = 48
"""Cells along a square's side at least, unless the area is too large for that."""

MOST_CELLS_A_SIDE = 160

SEARCH_LIMIT = 1.0
"""Deterministic time of the solver in all rounds for one group: some seconds on one core."""

MOST_HELD = 10_000_000
"""Squares times cells that are looked at for one group, at most: beyond it the bound so far holds."""

_MOST_COMPARED = 4000
"""Squares at most that are compared with one another, each with each."""

_MOST_PAIRED = 60
"""Squares at most for which the longer look for cells that are far apart pays."""

_FEW_MISSING = 0.05
"""Share of the cells that may be missing for the gaps to be worth filling."""

_ROUNDS = 60
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


@dataclass(frozen=True, slots=True)
class Cells:
    """An area on the grid: which cells it touches, a square's side and half a lap in cells."""

    filled: NDArray[np.bool_]
    side: int
    half_lap: int

    @property
    def places(self) -> tuple[int, int]:
        """How many rows and columns the upper left cell of a square may have.

        Squares do not reach past the area's upper and left edge, nor farther past the lower and right one
        than they must.
        """
        rows, columns = self.filled.shape
        return max(0, rows - self.side) + 1, max(0, columns - self.side) + 1


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
    grid_mm, half_lap, side = _grid(laid, side_mm, lap_mm)
    corners: list[PointMm] = []
    fewest = 0
    for group in _groups(laid, side_mm):
        cells = _cells(group, grid_mm, side, half_lap)
        chosen, bound = fewest_places(cells)
        left, top, _, _ = group.bounds
        found = [(left + column * grid_mm, top + row * grid_mm) for row, column in chosen]
        corners += _centred(found, group, side_mm, lap_mm)
        fewest += bound
    squares = [shapely.box(x, y, x + side_mm, y + side_mm) for x, y in _in_rows(corners, side_mm)]
    if turn_deg:
        squares = [affinity.rotate(each, -turn_deg, origin=middle) for each in squares]
    return Cover(tuple(squares), fewest, grid_mm)


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


def fewest_places(cells: Cells) -> tuple[list[tuple[int, int]], int]:
    """Upper left cells (row, column) of the fewest squares that hold every filled cell, and a lower bound.

    The bound is the number itself unless the search came to its limit.
    """
    wanted = _far_apart(cells)
    bound = len(wanted)
    best = min(_in_rank_and_file(cells), _one_by_one(cells, cells.filled), key=len)
    if bound < len(best) <= _MOST_PAIRED:
        wanted = max(_far_apart(cells, laps=True), wanted, key=len)
        bound = len(wanted)
    if len(best) == bound:
        return best, bound
    places, effort = _all_places(cells), SEARCH_LIMIT
    holding = np.zeros((len(places), 0), dtype=np.bool_)
    for _ in range(_ROUNDS):
        if holding.size + len(places) * len(wanted) > MOST_HELD or effort <= 0.0:
            break
        holding = np.concatenate([holding, _holding(cells, places, wanted)], axis=1)
        chosen, bound_now, spent = _cover_of(places, holding, most_effort=effort)
        bound, effort = max(bound, bound_now), effort - spent
        if not chosen or bound >= len(best):
            break
        missing = cells.filled & ~_held(cells, chosen)
        if not missing.any():
            best = min(best, chosen, key=len)
            break
        # What the gaps take besides is a cover too, should the search end here.
        if missing.sum() < _FEW_MISSING * cells.filled.sum():
            best = min(best, [*chosen, *_one_by_one(cells, missing)], key=len)
        wanted = _one_of_each(missing)
    return best, min(bound, len(best))


def _held(cells: Cells, places: Sequence[tuple[int, int]]) -> NDArray[np.bool_]:
    """Which cells some of the squares hold safely."""
    held = np.zeros_like(cells.filled)
    rows, columns = np.nonzero(cells.filled)
    if places and len(rows):
        points = np.column_stack([rows, columns])
        held[rows, columns] = holds(cells, np.array(places), points).any(axis=0)
    return held


def holds(cells: Cells, places: NDArray[np.int64], points: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Whether squares, by their upper left cells (n, 2), hold cells (m, 2) safely: an array (n, m).

    A cell is not safe within half a lap of a part of the square's edge across which the area goes on.
    """
    row, column = places[:, 0, None], places[:, 1, None]
    down, along = points[None, :, 0] - row, points[None, :, 1] - column
    inside = (down >= 0) & (down < cells.side) & (along >= 0) & (along < cells.side)
    if not cells.half_lap:
        return inside
    for turned in (False, True):
        filled = cells.filled.T if turned else cells.filled
        r, c = (column, row) if turned else (row, column)
        d, a = (along, down) if turned else (down, along)
        inside &= ~_near_open_side(cells, filled, (r, c), (d, a))
    return inside


def _near_open_side(
    cells: Cells,
    filled: NDArray[np.bool_],
    place: tuple[NDArray[np.int64], NDArray[np.int64]],
    within: tuple[NDArray[np.int64], NDArray[np.int64]],
) -> NDArray[np.bool_]:
    """Whether cells lie too near a left or right edge across which the area goes on."""
    (row, column), (down, along) = place, within
    rows, columns = filled.shape
    crossing = np.zeros((rows + 1, columns + 1), dtype=np.int64)
    # crossing[r, c]: how many of the rows above r go on from column c - 1 to column c.
    crossing[1:, 1:-1] = np.cumsum(filled[:, :-1] & filled[:, 1:], axis=0)
    first = np.clip(row + np.maximum(down - cells.half_lap, 0), 0, rows)
    last = np.clip(row + np.minimum(down + cells.half_lap + 1, cells.side), 0, rows)
    near = np.zeros(np.broadcast_shapes(down.shape, along.shape), dtype=np.bool_)
    for edge, close in (
        (column, along < cells.half_lap),
        (column + cells.side, along >= cells.side - cells.half_lap),
    ):
        at = np.clip(edge, 0, columns)
        open_rows = crossing[np.maximum(last, first), at] - crossing[first, at]
        near |= close & (edge >= 0) & (edge <= columns) & (open_rows > 0)
    return near


def _all_places(cells: Cells) -> NDArray[np.int64]:
    rows, columns = cells.places
    return np.indices((rows, columns)).reshape(2, -1).T


def _far_apart(cells: Cells, *, laps: bool = False) -> NDArray[np.int64]:
    """Cells, row by row, of which no square holds two: each needs one of its own.

    With ``laps`` also cells that one square would reach, but not both of them safely; this takes longer.
    """
    rest = cells.filled.copy()
    chosen = []
    while rest.any():
        first = np.argwhere(rest)[0]
        chosen.append(first)
        low = np.maximum(first - cells.side + 1, 0)
        near = tuple(slice(int(a), int(b) + cells.side) for a, b in zip(low, first, strict=True))
        left = np.argwhere(rest[near]) + low
        rest[near] = False
        if laps and cells.half_lap:
            reach = np.abs(left - first).max(axis=1)
            left = left[reach >= cells.side - 2 * cells.half_lap - 1]
            apart = left[~_held_with(cells, first, left)]
            rest[apart[:, 0], apart[:, 1]] = True
    return np.array(chosen, dtype=np.int64).reshape(-1, 2)


def _held_with(cells: Cells, first: NDArray[np.int64], others: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Which of the others some square holds safely together with the first cell."""
    low = np.clip(first - cells.side + 1, 0, np.array(cells.places) - 1)
    high = np.minimum(first, np.array(cells.places) - 1)
    rows, columns = (np.arange(a, b + 1) for a, b in zip(low, high, strict=True))
    places = np.stack(np.meshgrid(rows, columns, indexing="ij"), axis=-1).reshape(-1, 2)
    places = places[holds(cells, places, first[None, :])[:, 0]]
    together: NDArray[np.bool_] = np.any(holds(cells, places, others), axis=0)
    return together


def _in_rank_and_file(cells: Cells) -> list[tuple[int, int]]:
    """Squares in straight rows and columns, those left out that hold nothing: often the fewest."""
    step = cells.side - 2 * cells.half_lap
    rows, columns = cells.filled.shape
    counts = [max(1, ceil((length - cells.side) / step) + 1) for length in (rows, columns)]
    places = np.indices(counts).reshape(2, -1).T * step
    points = np.argwhere(cells.filled)
    kept = [place for place in places if holds(cells, place[None, :], points).any()]
    return [(int(row), int(column)) for row, column in kept]


def _one_by_one(cells: Cells, asked: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Squares from the top: each holds the first of the cells asked for that is left, and more if it can."""
    places = _all_places(cells)
    left = np.argwhere(asked)
    chosen: list[tuple[int, int]] = []
    while len(left):
        first = left[0]
        near = places[np.all((places <= first) & (places > first - cells.side), axis=1)]
        near = near[holds(cells, near, first[None, :])[:, 0]]
        # The farthest down and right first; of those that hold most the first.
        near = near[np.lexsort((-near[:, 1], -near[:, 0]))][:: max(1, len(near) // 600)]
        local = left[np.all(np.abs(left - first) < 2 * cells.side, axis=1)]
        seen = local[:: max(1, len(local) // 400)]
        best = near[int(np.argmax(holds(cells, near, seen).sum(axis=1)))]
        chosen.append((int(best[0]), int(best[1])))
        left = left[~holds(cells, best[None, :], left)[0]]
    return chosen


def _one_of_each(missing: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Of every connected part of the cells that are missing two that lie at its ends."""
    import cv2

    count, part = cv2.connectedComponents(missing.astype(np.uint8), connectivity=8)
    found = []
    for each in range(1, count):
        points = np.argwhere(part == each)
        found += [points[0], points[-1], points[np.argmin(points[:, 1])], points[np.argmax(points[:, 1])]]
    return np.array(found, dtype=np.int64)


def _holding(cells: Cells, places: NDArray[np.int64], points: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Which squares hold which cells, in parts that fit into memory."""
    parts = np.array_split(places, 1 + len(places) * len(points) // 1_000_000)
    return np.concatenate([holds(cells, part, points) for part in parts])


def _cover_of(
    places: NDArray[np.int64], holding: NDArray[np.bool_], *, most_effort: float
) -> tuple[list[tuple[int, int]], int, float]:
    """The fewest squares that hold all the cells that are asked for, a lower bound, and the effort spent."""
    from ortools.sat.python import cp_model

    places, holding = _different(places, holding)
    model = cp_model.CpModel()
    taken = [model.new_bool_var("") for _ in places]
    for column in holding.T:
        model.add_bool_or([taken[k] for k in np.flatnonzero(column)])
    model.minimize(sum(taken))
    solver = cp_model.CpSolver()
    # One worker and a limit in counted steps: the same squares on every machine.
    solver.parameters.catch_sigint_signal = False  # Ctrl-C stays with who runs the job, during and after
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 0
    solver.parameters.linearization_level = 2  # linear bounds prove covers soonest
    solver.parameters.max_deterministic_time = most_effort
    status = solver.solve(model)
    bound = ceil(solver.best_objective_bound - 1e-6)
    spent = solver.response_proto.deterministic_time
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return [], bound, spent
    chosen = [places[k] for k, each in enumerate(taken) if solver.value(each)]
    return [(int(row), int(column)) for row, column in chosen], bound, spent


def _different(
    places: NDArray[np.int64], holding: NDArray[np.bool_]
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """The squares that hold any of the wanted cells, of those that hold the same ones the middle one."""
    packed = np.packbits(holding, axis=1)
    rows = np.ascontiguousarray(packed).view(np.dtype((np.void, packed.shape[1]))).ravel()
    _, which = np.unique(rows, return_inverse=True)
    order = np.argsort(which.ravel(), kind="stable")
    starts = np.flatnonzero(np.diff(which.ravel()[order], prepend=-1))
    ends = np.append(starts[1:], len(order))
    chosen = np.sort(order[(starts + ends - 1) // 2])
    chosen = chosen[holding[chosen].any(axis=1)]
    if len(chosen) > _MOST_COMPARED:
        return places[chosen], holding[chosen]
    return _undominated(places[chosen], holding[chosen])


def _undominated(
    places: NDArray[np.int64], holding: NDArray[np.bool_]
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Leave out squares that hold nothing that another does not hold with more."""
    few = holding.astype(np.float32)
    size = few.sum(axis=1)
    shared = few @ few.T
    beaten = (shared == size[:, None]) & (size[None, :] > size[:, None])
    kept = ~beaten.any(axis=1)
    return places[kept], holding[kept]


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
