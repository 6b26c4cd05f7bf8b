"""Which board the blocks are cut from."""

from typing import Literal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from blockwright.blocks.stock import choose_stock, grain_on_block, least_wood
from blockwright.model.settings import USUAL_STOCK, Stock


def board(
    name: str,
    width_mm: float,
    height_mm: float,
    *,
    grain: Literal["along", "across"] = "along",
    count: int | None = None,
) -> Stock:
    return Stock(
        name=name,
        wood="cherry",
        width_mm=width_mm,
        height_mm=height_mm,
        thickness_mm=20.0,
        grain=grain,
        count=count,
    )


def codes(*stock: Stock, width_mm: float = 402, height_mm: float = 282, needed: int = 3) -> list[str]:
    choice = choose_stock(stock, width_mm=width_mm, height_mm=height_mm, boards_needed=needed)
    return [finding.code for finding in choice.findings]


def test_the_smallest_usual_board_that_holds_the_block() -> None:
    choice = choose_stock(USUAL_STOCK, width_mm=402, height_mm=282, boards_needed=7)
    assert choice.stock is not None
    assert (choice.stock.name, choice.grain, choice.findings) == ("middle linden plywood", "along", ())


def test_equal_boards_are_chosen_by_name() -> None:
    choice = choose_stock(
        [board("b", 450, 300), board("a", 300, 450)], width_mm=402, height_mm=282, boards_needed=1
    )
    assert choice.stock is not None
    assert choice.stock.name == "a"


def test_a_block_fits_either_way_round() -> None:
    assert grain_on_block(board("p", 300, 450), width_mm=402, height_mm=282) == "along"
    assert grain_on_block(board("p", 450, 300), width_mm=282, height_mm=402) == "along"
    assert grain_on_block(board("p", 401, 300), width_mm=402, height_mm=282) is None
    assert grain_on_block(board("p", 402, 282), width_mm=402, height_mm=282) == "along"


def test_a_board_with_its_grain_across_is_turned_when_it_is_large_enough() -> None:
    assert grain_on_block(board("p", 450, 402, grain="across"), width_mm=402, height_mm=282) == "along"
    assert grain_on_block(board("p", 450, 400, grain="across"), width_mm=402, height_mm=282) == "across"
    assert codes(board("p", 450, 400, grain="across")) == ["grain-across"]


@given(
    st.floats(50, 900),
    st.floats(50, 900),
    st.floats(50, 900),
    st.floats(50, 900),
    st.sampled_from(["along", "across"]),
)
def test_the_grain_is_along_whenever_some_way_of_laying_gives_it(
    block_w: float, block_h: float, board_w: float, board_h: float, grain: Literal["along", "across"]
) -> None:
    """Both ways of laying the block are tried one by one, with the grain as a direction on the board."""
    along_width = (board_w >= board_h) == (grain == "along")
    found = set()
    for w, h, width_along_grain in ((block_w, block_h, along_width), (block_h, block_w, not along_width)):
        if w <= board_w and h <= board_h:
            found.add("along" if (block_w >= block_h) == width_along_grain else "across")
    expected = "along" if "along" in found else "across" if found else None
    if board_w == board_h or block_w == block_h:
        return
    assert (
        grain_on_block(board("p", board_w, board_h, grain=grain), width_mm=block_w, height_mm=block_h)
        == expected
    )


def test_too_few_on_hand_and_no_other_kind() -> None:
    choice = choose_stock([board("p", 450, 300, count=1)], width_mm=402, height_mm=282, boards_needed=7)
    (finding,) = choice.findings
    assert (finding.code, finding.severity) == ("boards-short", "stop")
    assert finding.message.startswith("7 blocks are needed, and the boards on hand give 1: 6 short. Get more")
    assert finding.about == (("board", "p"), ("count", 7))
    assert choice.stock is not None


def test_too_few_of_the_smallest_but_enough_of_a_larger() -> None:
    stock = [board("small", 450, 300, count=2), board("large", 600, 450)]
    choice = choose_stock(stock, width_mm=402, height_mm=282, boards_needed=7)
    assert choice.stock is not None
    assert choice.stock.name == "large"
    assert [(kind.name, count) for kind, count in choice.taken] == [("small", 2), ("large", 5)]
    (finding,) = choice.findings
    assert (finding.code, finding.severity) == ("larger-board-taken", "note")
    assert "small" in finding.message
    assert finding.about == (("board", "small"), ("count", 7))
    assert "large" in finding.message


def test_just_enough_on_hand_is_no_finding() -> None:
    assert codes(board("p", 450, 300, count=3)) == []


def test_one_wood_and_thickness_for_a_whole_print() -> None:
    """Two cherry boards are too few, and what is missing is not made up with linden."""
    linden = Stock(name="linden", wood="linden", width_mm=500, height_mm=400, thickness_mm=12)
    choice = choose_stock(
        [board("cherry", 450, 300, count=2), linden], width_mm=402, height_mm=282, boards_needed=3
    )
    assert choice.taken == ((linden, 3),)
    assert [finding.code for finding in choice.findings] == ["larger-board-taken"]


def test_several_blocks_from_one_board() -> None:
    stock = [board("one", 450, 300), board("four", 900, 600)]
    choice = choose_stock(stock, width_mm=402, height_mm=282, boards_needed=9)
    assert [(kind.name, count) for kind, count in choice.taken] == [("one", 9)], "sawn the least"
    cheaper = [board("one", 450, 300), board("four", 880, 580)]
    choice = choose_stock(cheaper, width_mm=402, height_mm=282, boards_needed=9)
    assert [(kind.name, count) for kind, count in choice.taken] == [("one", 1), ("four", 2)]
    assert choice.findings == ()
    kerf = choose_stock(cheaper, width_mm=402, height_mm=282, boards_needed=9, kerf_mm=20.0)
    assert [(kind.name, count) for kind, count in kerf.taken] == [("one", 9)], "804 and 20 mm are too long"


def test_the_grain_must_run_along_where_that_is_asked() -> None:
    across = board("p", 450, 400, grain="across")
    choice = choose_stock([across], width_mm=402, height_mm=282, boards_needed=1, grain="along")
    (finding,) = choice.findings
    assert (finding.code, finding.severity) == ("no-board-big-enough", "stop")
    assert "no board holds one with the grain along its longer side" in finding.message
    larger = board("q", 900, 600)
    choice = choose_stock([across, larger], width_mm=402, height_mm=282, boards_needed=1, grain="along")
    assert (choice.stock, choice.grain, choice.findings) == (larger, "along", ())


@given(
    st.lists(
        st.tuples(st.integers(5, 60), st.integers(1, 6), st.none() | st.integers(0, 6)),
        min_size=1,
        max_size=5,
    ),
    st.integers(0, 20),
)
def test_the_least_wood_agrees_with_a_solver(kinds: list[tuple[int, int, int | None]], needed: int) -> None:
    """HiGHS, through scipy.optimize.milp: first the blocks that can be had, then the area for them."""
    counts, missing = least_wood(kinds, needed)
    given = sum(count * blocks for count, (_, blocks, _) in zip(counts, kinds, strict=True))
    assert missing == max(0, needed - given)
    assert all(
        on_hand is None or count <= on_hand for count, (*_, on_hand) in zip(counts, kinds, strict=True)
    )
    most = [needed if on_hand is None else on_hand for *_, on_hand in kinds]
    had = min(needed, sum(n * blocks for n, (_, blocks, _) in zip(most, kinds, strict=True)))
    assert missing == needed - had
    solved = milp(
        c=[area for area, _, _ in kinds],
        integrality=np.ones(len(kinds)),
        bounds=Bounds(0, most),
        constraints=LinearConstraint([[blocks for _, blocks, _ in kinds]], lb=had),
    )
    used = sum(count * area for count, (area, _, _) in zip(counts, kinds, strict=True))
    assert solved.success
    assert used == round(solved.fun)


@pytest.mark.parametrize("stock", [(), (board("p", 300, 225), board("q", 401, 500))])
def test_no_board_big_enough_stops_the_work(stock: tuple[Stock, ...]) -> None:
    choice = choose_stock(stock, width_mm=502, height_mm=402, boards_needed=2)
    (finding,) = choice.findings
    assert (finding.code, finding.severity, choice.holds) == ("no-board-big-enough", "stop", False)
    assert "502 x 402 mm" in finding.message
    assert finding.about == (("width_mm", 502), ("height_mm", 402))
    assert ("q, 401 x 500 mm" in finding.message) == bool(stock)
