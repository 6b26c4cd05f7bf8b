"""How blocks of one size are sawn from a stock board, by cuts from edge to edge, and what is left of it."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from blockwright.model.blocks import Grain, Piece, SawnBoard
from blockwright.model.settings import Stock

FIT_MM = 1e-6
"""A block this much larger than its board still fits, mm: sums of settings carry rounding errors."""

LEAST_OFFCUT_MM = 30.0
"""Narrower offcuts are waste, mm [CP]: no board so narrow can be named either."""


@dataclass(frozen=True, slots=True)
class Grid:
    """How blocks lie on a stock board: how many beside each other, and the size of one, as it lies there."""

    across: int
    down: int
    width_mm: float
    height_mm: float

    @property
    def blocks(self) -> int:
        """How many blocks the board gives."""
        return self.across * self.down


def grid_on_board(
    stock: Stock, *, width_mm: float, height_mm: float, grain: Grain, kerf_mm: float
) -> Grid | None:
    """Lay as many blocks of a size (mm) as fit on a stock board, with the grain along or across their length.

    All lie the same way round, since the grain of a board runs one way. The saw takes ``kerf_mm`` between
    two. None when not one fits.

    >>> board = Stock(name="p", wood="cherry", width_mm=900, height_mm=600, thickness_mm=20)
    >>> grid_on_board(board, width_mm=402, height_mm=282, grain="along", kerf_mm=3.0)
    Grid(across=2, down=2, width_mm=402, height_mm=282)
    """
    long, short = max(width_mm, height_mm), min(width_mm, height_mm)
    # The grain runs along the longer side of the board, or across it; a block's length follows or crosses it.
    lengthways = stock.grain == grain
    wide_board = stock.width_mm >= stock.height_mm
    width, height = (long, short) if lengthways == wide_board else (short, long)
    across, down = (
        math.floor((board + kerf_mm + FIT_MM) / (block + kerf_mm))
        for board, block in ((stock.width_mm, width), (stock.height_mm, height))
    )
    return Grid(across, down, width, height) if across > 0 and down > 0 else None


def saw_board(stock: Stock, grid: Grid, names: Sequence[str], *, name: str, kerf_mm: float) -> SawnBoard:
    """Saw the named blocks, at most as many as the grid has, and keep the largest offcut that can be kept.

    The blocks fill the grid row by row or column by column; the board is trimmed to them by a cut along and a
    cut across, in either order; what is left of a last row or column is an offcut too.
    """
    plans = [
        _sawn(stock, grid, len(names), by_rows=by_rows, across_first=across_first, kerf_mm=kerf_mm)
        for by_rows in (True, False)
        for across_first in (True, False)
    ]
    corners, offcuts = min(plans, key=lambda plan: _rank(plan[1]))
    return SawnBoard(
        name=name,
        stock=stock.name,
        width_mm=stock.width_mm,
        height_mm=stock.height_mm,
        blocks=tuple(
            Piece(each, x, y, grid.width_mm, grid.height_mm)
            for each, (x, y) in zip(names, corners, strict=True)
        ),
        offcuts=tuple(
            Piece(f"offcut {number} of {name}", *offcut) for number, offcut in enumerate(offcuts, start=1)
        ),
    )


Rectangle = tuple[float, float, float, float]
"""x, y, width and height in mm."""


def _rank(offcuts: Sequence[Rectangle]) -> tuple[float, int]:
    """The largest offcut first, then the fewest of them."""
    return -max((round(width * height, 3) for _, _, width, height in offcuts), default=0.0), len(offcuts)


def _sawn(
    stock: Stock, grid: Grid, count: int, *, by_rows: bool, across_first: bool, kerf_mm: float
) -> tuple[list[tuple[float, float]], list[Rectangle]]:
    """The blocks' corners and the offcuts, the largest first."""
    step_x, step_y = grid.width_mm + kerf_mm, grid.height_mm + kerf_mm
    in_line = grid.across if by_rows else grid.down
    lines, last = -(-count // in_line), (count - 1) % in_line + 1
    long = min(count, in_line)
    columns, rows = (long, lines) if by_rows else (lines, long)
    corners = [
        (k % in_line * step_x, k // in_line * step_y)
        if by_rows
        else (k // in_line * step_x, k % in_line * step_y)
        for k in range(count)
    ]
    used_x, used_y = columns * step_x, rows * step_y
    width, height = stock.width_mm, stock.height_mm
    trimmed_x, trimmed_y = used_x - kerf_mm, used_y - kerf_mm
    rest: list[Rectangle] = [
        (used_x, 0.0, width - used_x, height if across_first else trimmed_y),
        (0.0, used_y, trimmed_x if across_first else width, height - used_y),
    ]
    if by_rows:
        rest.append((last * step_x, used_y - step_y, trimmed_x - last * step_x, grid.height_mm))
    else:
        rest.append((used_x - step_x, last * step_y, grid.width_mm, trimmed_y - last * step_y))
    kept = [each for each in rest if min(each[2:]) >= LEAST_OFFCUT_MM]
    return corners, sorted(kept, key=lambda each: (-each[2] * each[3], each))
