"""An area laid on a grid, and which of its cells a square on the grid holds safely.

A square holds a cell safely when the cell lies in it, and not within half a lap of a part of the square's
edge across which the area goes on.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

_AT_ONCE = 1_000_000
"""Squares times cells that are looked at in one piece: what fits into a processor's memory."""


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


def holds(cells: Cells, places: NDArray[np.int64], points: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Whether squares, by their upper left cells (n, 2), hold cells (m, 2) safely: an array (n, m).

    A cell is not safe within half a lap of a part of the square's edge across which the area goes on.
    """
    return _safe(cells, places[:, None, :], points[None, :, :])


def _safe(cells: Cells, places: NDArray[np.int64], points: NDArray[np.int64]) -> NDArray[np.bool_]:
    """The same for squares and cells (..., 2) that are laid out against one another."""
    row, column = places[..., 0], places[..., 1]
    down, along = points[..., 0] - row, points[..., 1] - column
    inside = (down >= 0) & (down < cells.side) & (along >= 0) & (along < cells.side)
    if cells.half_lap:
        for turned in (False, True):
            r, c, d, a = (column, row, along, down) if turned else (row, column, down, along)
            _leave_out_open_sides(inside, cells, (r, c), (d, a), turned=turned)
    return inside


def _leave_out_open_sides(
    inside: NDArray[np.bool_],
    cells: Cells,
    place: tuple[NDArray[np.int64], NDArray[np.int64]],
    within: tuple[NDArray[np.int64], NDArray[np.int64]],
    *,
    turned: bool,
) -> None:
    """Clear, in place, what lies too near a left or right edge (upper or lower one) that the area crosses."""
    filled = cells.filled.T if turned else cells.filled
    rows, columns = filled.shape
    crossing = np.zeros((rows + 1, columns + 1), dtype=np.int64)
    # crossing[r, c]: how many of the rows above r go on from column c - 1 to column c.
    crossing[1:, 1:-1] = np.cumsum(filled[:, :-1] & filled[:, 1:], axis=0)
    along = within[1]
    # Few cells lie near an edge: only those are looked at closely.
    for beyond, close in ((0, along < cells.half_lap), (cells.side, along >= cells.side - cells.half_lap)):
        at = np.nonzero(inside & close)
        row, column, down = (np.broadcast_to(each, inside.shape)[at] for each in (*place, within[0]))
        first = row + np.maximum(down - cells.half_lap, 0)
        last = np.minimum(row + np.minimum(down + cells.half_lap + 1, cells.side), rows)
        edge = np.minimum(column + beyond, columns)
        inside[at] = crossing[last, edge] == crossing[first, edge]


def held_by(cells: Cells, places: Sequence[tuple[int, int]]) -> NDArray[np.bool_]:
    """Which cells some of the squares hold safely, in the grid's shape."""
    held = np.zeros_like(cells.filled)
    rows, columns = np.nonzero(cells.filled)
    if places and len(rows):
        points = np.column_stack([rows, columns])
        held[rows, columns] = holds(cells, np.array(places), points).any(axis=0)
    return held


def all_places(cells: Cells) -> NDArray[np.int64]:
    """The upper left cells of all squares that there are, row by row."""
    rows, columns = cells.places
    return np.indices((rows, columns)).reshape(2, -1).T


def holders(cells: Cells, points: NDArray[np.int64]) -> list[NDArray[np.int64]]:
    """For each cell (m, 2) the squares that hold it safely, as places in the list of all, in its order."""
    rows, columns = cells.places
    back = np.indices((cells.side, cells.side)).reshape(2, -1).T[::-1]
    found: list[NDArray[np.int64]] = []
    for part in np.array_split(points, 1 + len(points) * len(back) // _AT_ONCE):
        places = part[:, None, :] - back[None, :, :]
        there = np.all((places >= 0) & (places < (rows, columns)), axis=-1)
        safe = there & _safe(cells, places, part[:, None, :])
        index = places[..., 0] * columns + places[..., 1]
        found += [each[which] for each, which in zip(index, safe, strict=True)]
    return found
