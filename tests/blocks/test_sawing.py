"""How blocks are sawn from a stock board: by cuts from edge to edge, with the kerf, and what is left."""

from itertools import combinations
from typing import Literal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import box

from blockwright.blocks.lettering import letter_board
from blockwright.blocks.sawing import LEAST_OFFCUT_MM, grid_on_board, saw_board
from blockwright.blocks.stock import grain_on_block
from blockwright.model.blocks import Piece, SawnBoard
from blockwright.model.settings import Stock

Box = tuple[float, float, float, float]


def stock(width_mm: float, height_mm: float, grain: Literal["along", "across"] = "along") -> Stock:
    return Stock(
        name="p", wood="cherry", width_mm=width_mm, height_mm=height_mm, thickness_mm=20, grain=grain
    )


def bounds(piece: Piece) -> Box:
    return piece.x_mm, piece.y_mm, piece.x_mm + piece.width_mm, piece.y_mm + piece.height_mm


def can_be_sawn(pieces: list[Box]) -> bool:
    """Whether cuts from edge to edge part the pieces: one goes through none, and so on in both halves."""
    if len(pieces) <= 1:
        return True
    for axis in (0, 1):
        for cut in sorted({piece[axis + 2] for piece in pieces}):
            near = [piece for piece in pieces if piece[axis + 2] <= cut + 1e-6]
            far = [piece for piece in pieces if piece[axis] >= cut - 1e-6]
            if near and far and len(near) + len(far) == len(pieces):
                return can_be_sawn(near) and can_be_sawn(far)
    return False


def apart_mm(one: Box, other: Box) -> float:
    """The larger of the gaps along the two sides; below nought where they overlap."""
    return max(max(one[k] - other[k + 2], other[k] - one[k + 2]) for k in (0, 1))


def check(sawn: SawnBoard, kerf_mm: float) -> None:
    pieces = [bounds(piece) for piece in (*sawn.blocks, *sawn.offcuts)]
    board = box(0, 0, sawn.width_mm + 1e-5, sawn.height_mm + 1e-5)
    assert all(board.covers(box(*piece)) for piece in pieces)
    assert all(apart_mm(one, other) >= kerf_mm - 1e-6 for one, other in combinations(pieces, 2))
    assert can_be_sawn(pieces)
    assert all(min(piece.width_mm, piece.height_mm) >= LEAST_OFFCUT_MM for piece in sawn.offcuts)


@settings(max_examples=200, deadline=None)
@given(
    st.floats(60, 1500),
    st.floats(60, 1500),
    st.floats(40, 500),
    st.floats(40, 500),
    st.sampled_from(["along", "across"]),
    st.floats(0, 8),
    st.data(),
)
def test_whatever_is_sawn_can_be(
    width_mm: float,
    height_mm: float,
    block_w: float,
    block_h: float,
    grain: Literal["along", "across"],
    kerf_mm: float,
    data: st.DataObject,
) -> None:
    board = stock(width_mm, height_mm, grain)
    runs = grain_on_block(board, width_mm=block_w, height_mm=block_h)
    if runs is None:
        return
    grid = grid_on_board(board, width_mm=block_w, height_mm=block_h, grain=runs, kerf_mm=kerf_mm)
    assert grid is not None
    count = data.draw(st.integers(1, grid.blocks))
    names = [letter_board(k) for k in range(count)]
    sawn = saw_board(board, grid, names, name="p 1", kerf_mm=kerf_mm)
    assert [piece.name for piece in sawn.blocks] == names
    assert {(piece.width_mm, piece.height_mm) for piece in sawn.blocks} <= {
        (block_w, block_h),
        (block_h, block_w),
    }
    check(sawn, kerf_mm)


def test_no_more_blocks_fit_than_the_board_is_long() -> None:
    """Two of 402 mm and a kerf of 3 mm are 807 mm."""
    for width_mm, blocks in ((807.0, 2), (806.9, 1), (402.0, 1)):
        grid = grid_on_board(stock(width_mm, 300), width_mm=402, height_mm=282, grain="along", kerf_mm=3.0)
        assert grid is not None
        assert grid.blocks == blocks
    assert grid_on_board(stock(401, 300), width_mm=402, height_mm=282, grain="along", kerf_mm=3.0) is None


@pytest.mark.parametrize(("width_mm", "height_mm"), [(900.0, 600.0), (600.0, 900.0)])
def test_the_grain_runs_along_the_blocks_however_the_board_is_named(
    width_mm: float, height_mm: float
) -> None:
    """The longer side of every block lies along the longer side of the board, where the grain runs."""
    board = stock(width_mm, height_mm)
    grid = grid_on_board(board, width_mm=282, height_mm=402, grain="along", kerf_mm=3.0)
    assert grid is not None
    assert (grid.width_mm > grid.height_mm) == (width_mm > height_mm)
    across = grid_on_board(board, width_mm=282, height_mm=402, grain="across", kerf_mm=3.0)
    assert across is not None
    assert (across.width_mm > across.height_mm) == (width_mm < height_mm)


def test_the_largest_offcut_is_kept() -> None:
    """One block of four: what is left is a strip the whole length of the board, and the piece beside it."""
    board = stock(900, 600)
    grid = grid_on_board(board, width_mm=402, height_mm=282, grain="along", kerf_mm=3.0)
    assert grid is not None
    sawn = saw_board(board, grid, ["A"], name="p 1", kerf_mm=3.0)
    sizes = [(piece.width_mm, piece.height_mm) for piece in sawn.offcuts]
    assert sizes == [(495.0, 600.0), (402.0, 315.0)]
    assert [piece.name for piece in sawn.offcuts] == ["offcut 1 of p 1", "offcut 2 of p 1"]
    three = saw_board(board, grid, ["A", "B", "C"], name="p 1", kerf_mm=3.0)
    check(three, 3.0)
    assert max(piece.width_mm * piece.height_mm for piece in three.offcuts) == 402.0 * 282.0
