"""Which board the blocks are cut from."""

from typing import Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blockwright.blocks.stock import choose_stock, grain_on_block
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
    assert (finding.code, finding.severity) == ("boards-short", "warn")
    assert finding.message.startswith("7 boards are needed and only 1 of p is on hand: 6 short. Get more")
    assert finding.about == (("board", "p"), ("count", 7))
    assert choice.stock is not None


def test_too_few_of_the_smallest_but_enough_of_a_larger() -> None:
    stock = [board("small", 450, 300, count=2), board("large", 600, 450)]
    choice = choose_stock(stock, width_mm=402, height_mm=282, boards_needed=7)
    assert choice.stock is not None
    assert choice.stock.name == "large"
    (finding,) = choice.findings
    assert (finding.code, finding.severity) == ("larger-board-taken", "note")
    assert "small" in finding.message
    assert finding.about == (("board", "small"), ("count", 7))
    assert "large" in finding.message


def test_just_enough_on_hand_is_no_finding() -> None:
    assert codes(board("p", 450, 300, count=3)) == []


@pytest.mark.parametrize("stock", [(), (board("p", 300, 225), board("q", 401, 500))])
def test_no_board_big_enough_stops_the_work(stock: tuple[Stock, ...]) -> None:
    choice = choose_stock(stock, width_mm=502, height_mm=402, boards_needed=2)
    (finding,) = choice.findings
    assert (finding.code, finding.severity, choice.holds) == ("no-board-big-enough", "stop", False)
    assert "502 x 402 mm" in finding.message
    assert finding.about == (("width_mm", 502), ("height_mm", 402))
    assert ("q, 401 x 500 mm" in finding.message) == bool(stock)
