"""Unequal pieces from one stock board by cuts from edge to edge, held against trying everything."""

from functools import cache
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from blockwright.blocks.nesting import Counts, find_fronts, pieces_in, rests_in
from blockwright.blocks.piece_stock import Runs, Wanted, grain_of, nest_pieces
from blockwright.blocks.stock import choose_stock
from blockwright.model.settings import BlocksTable, Stock

MM = 1000


def fits_by_trying(width: int, height: int, pieces: tuple[tuple[int, int], ...], kerf: int) -> bool:
    """Whether cuts from edge to edge give the pieces: every place of every first cut is tried, mm by mm."""

    @cache
    def fits(width: int, height: int, left: tuple[tuple[int, int], ...]) -> bool:
        if not left:
            return True
        if any(w > width or h > height for w, h in left):
            return False
        if len(left) == 1:
            return True
        for mask in range(1, 2 ** (len(left) - 1)):
            one = tuple(p for k, p in enumerate(left) if mask >> k & 1)
            other = tuple(p for k, p in enumerate(left) if not mask >> k & 1)
            for cut in range(1, width - kerf):
                if fits(cut, height, one) and fits(width - cut - kerf, height, other):
                    return True
                if fits(cut, height, other) and fits(width - cut - kerf, height, one):
                    return True
            for cut in range(1, height - kerf):
                if fits(width, cut, one) and fits(width, height - cut - kerf, other):
                    return True
                if fits(width, cut, other) and fits(width, height - cut - kerf, one):
                    return True
        return False

    return fits(width, height, tuple(sorted(pieces)))


@given(
    pieces=st.lists(st.tuples(st.integers(2, 9), st.integers(2, 9)), min_size=1, max_size=4),
    board=st.tuples(st.integers(5, 16), st.integers(5, 16)),
    kerf=st.integers(0, 2),
)
@settings(max_examples=150, deadline=None)
def test_what_a_board_gives_is_what_trying_every_cut_finds(
    pieces: list[tuple[int, int]], board: tuple[int, int], kerf: int
) -> None:
    counts = (1,) * len(pieces)
    fronts = find_fronts(pieces, counts, [board], kerf=kerf)
    for taken in product((0, 1), repeat=len(pieces)):
        some = tuple(p for p, there in zip(pieces, taken, strict=True) if there)
        if some:
            assert (taken in fronts) == fits_by_trying(*board, some, kerf), some


def _apart(one: tuple[int, int, int, int], other: tuple[int, int, int, int], kerf: int) -> bool:
    x, y, w, h = one
    a, b, c, d = other
    return x + w + kerf <= a or a + c + kerf <= x or y + h + kerf <= b or b + d + kerf <= y


@given(
    pieces=st.lists(st.tuples(st.integers(5, 60), st.integers(5, 60)), min_size=1, max_size=5),
    kerf=st.integers(0, 4),
)
@settings(max_examples=100, deadline=None)
def test_pieces_and_offcuts_lie_on_the_board_a_saw_apart(pieces: list[tuple[int, int]], kerf: int) -> None:
    board = (150, 120)
    fronts = find_fronts(pieces, (1,) * len(pieces), [board], kerf=kerf)
    for taken, least in fronts.items():
        for held in least:
            lying = [(x, y, *pieces[kind]) for kind, x, y in pieces_in(held)]
            assert sorted(kind for kind, _, _ in pieces_in(held)) == [k for k, n in enumerate(taken) if n]
            everything = [*lying, *rests_in(held, 0, 0, *board, kerf)]
            for k, one in enumerate(everything):
                assert one[0] >= 0
                assert one[1] >= 0
                assert one[0] + one[2] <= board[0]
                assert one[1] + one[3] <= board[1]
                assert all(_apart(one, other, kerf) for other in everything[k + 1 :])


def _highs(pieces: list[Wanted], stock: list[Stock], kerf: int) -> float | None:
    """The least area by HiGHS over every choice of pieces that trying finds to fit; None when short."""
    columns, areas, kinds = [], [], []
    for k, kind in enumerate(stock):
        for taken in product((0, 1), repeat=len(pieces)):
            some = tuple(
                (round(p.width_mm), round(p.height_mm)) for p, t in zip(pieces, taken, strict=True) if t
            )
            if some and fits_by_trying(round(kind.width_mm), round(kind.height_mm), some, kerf):
                columns.append(taken)
                areas.append(kind.width_mm * kind.height_mm)
                kinds.append(k)
    if not columns:
        return None
    cover = LinearConstraint(np.array(columns, dtype=float).T, lb=1)
    counts = np.array([[k == j for j in kinds] for k in range(len(stock))], dtype=float)
    most = [np.inf if kind.count is None else kind.count for kind in stock]
    found = milp(
        np.array(areas),
        constraints=[cover, LinearConstraint(counts, ub=most)],
        integrality=np.ones(len(areas)),
        bounds=Bounds(0, np.inf),
    )
    return float(found.fun) if found.success else None


@given(
    sizes=st.lists(st.tuples(st.integers(10, 29), st.integers(10, 29)), min_size=1, max_size=4),
    count=st.sampled_from([None, 0, 1]),
)
@settings(max_examples=30, deadline=None)
def test_the_least_wood_is_what_highs_finds(sizes: list[tuple[int, int]], count: int | None) -> None:
    """HiGHS by scipy.optimize.milp, over patterns found by trying every cut."""
    pieces = [Wanted(f"P{k}", w, h) for k, (w, h) in enumerate(sizes)]
    stock = [
        Stock(name="small", wood="cherry", width_mm=31, height_mm=30, thickness_mm=20),
        Stock(name="large", wood="cherry", width_mm=45, height_mm=33, thickness_mm=20, count=count),
    ]
    nested = nest_pieces(pieces, stock, kerf_mm=2.0, runs=("width",))
    assert nested is not None
    assert nested.proven
    assert nested.missing == ()
    assert nested.area_mm2 == pytest.approx(_highs(pieces, stock, 2))
    assert nested.at_least_mm2 == nested.area_mm2
    assert sorted(piece.name for board in nested.sawn for piece in board.blocks) == sorted(
        piece.name for piece in pieces
    )


@given(
    width=st.integers(60, 400),
    height=st.integers(60, 280),
    blocks=st.integers(1, 6),
    kerf=st.integers(0, 5),
)
@settings(max_examples=30, deadline=None)
def test_equal_blocks_take_the_wood_that_they_do_by_rows(
    width: int, height: int, blocks: int, kerf: int
) -> None:
    table = BlocksTable()
    by_rows = choose_stock(
        table.stock, width_mm=width, height_mm=height, boards_needed=blocks, kerf_mm=kerf, grain="along"
    )
    runs: Runs = "width" if width >= height else "height"
    pieces = [Wanted(f"B{k}", width, height) for k in range(blocks)]
    nested = nest_pieces(pieces, table.stock, kerf_mm=kerf, runs=(runs,))
    assert nested is not None
    assert nested.area_mm2 == sum(kind.width_mm * kind.height_mm * count for kind, count in by_rows.taken)


def test_the_grain_turns_the_pieces_and_not_the_wood() -> None:
    upright = Stock(name="u", wood="cherry", width_mm=100, height_mm=300, thickness_mm=20)
    nested = nest_pieces([Wanted("A", 250, 90)], [upright], kerf_mm=3.0, runs=("width",))
    assert nested is not None
    ((piece,),) = (board.blocks for board in nested.sawn)
    # The grain runs along the board's height, and along the block's width.
    assert (piece.width_mm, piece.height_mm) == (90.0, 250.0)
    crossed = nest_pieces([Wanted("A", 250, 90)], [upright], kerf_mm=3.0, runs=("height",))
    assert crossed is not None
    assert crossed.missing == ("A",)
    assert (grain_of(250, 90, "width"), grain_of(90, 250, "width")) == ("along", "across")


def test_what_matters_least_is_missing_first() -> None:
    one = Stock(name="one", wood="cherry", width_mm=100, height_mm=100, thickness_mm=20, count=1)
    pieces = [Wanted("board", 100, 100, 1), Wanted("part", 100, 100, 2), Wanted("A", 100, 100, 3)]
    nested = nest_pieces(pieces, [one], kerf_mm=3.0, runs=("width",))
    assert nested is not None
    assert sorted(nested.missing) == ["board", "part"]
    assert nest_pieces(pieces, [], kerf_mm=3.0, runs=("width",)) is None


def test_many_pieces_are_joined_and_the_bound_holds() -> None:
    plank = Stock(name="plank", wood="cherry", width_mm=450, height_mm=300, thickness_mm=20)
    pieces = [Wanted("A", 402, 282)] + [
        Wanted(f"P{k}", 40.0 + 7 * k % 31, 45.0 + 11 * k % 37, 2) for k in range(14)
    ]
    nested = nest_pieces(pieces, [plank], kerf_mm=3.0, runs=("width",))
    assert nested is not None
    assert nested.missing == ()
    assert nested.at_least_mm2 <= nested.area_mm2 == 2 * 450 * 300
    for board in nested.sawn:
        lying = [
            tuple(round(MM * each) for each in (p.x_mm, p.y_mm, p.width_mm, p.height_mm))
            for p in (*board.blocks, *board.offcuts)
        ]
        for k, first in enumerate(lying):
            assert first[0] + first[2] <= MM * board.width_mm
            assert first[1] + first[3] <= MM * board.height_mm
            for second in lying[k + 1 :]:
                assert _apart(first, second, 3 * MM)  # type: ignore[arg-type]
    assert nested == nest_pieces(pieces, [plank], kerf_mm=3.0, runs=("width",))


def test_counts_are_of_kinds() -> None:
    wanted: Counts = (3,)
    fronts = find_fronts([(10, 10)], wanted, [(32, 10)], kerf=1)
    assert sorted(fronts) == [(1,), (2,), (3,)]
    assert (fronts[(3,)][0].width, fronts[(3,)][0].height) == (32, 10)
