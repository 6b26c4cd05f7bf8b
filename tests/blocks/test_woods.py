"""What a board's wood is reckoned as, and the table of woods itself."""

from typing import Any

import pytest

from blockwright.blocks.movement import is_drawn_on, movement_mm
from blockwright.blocks.woods import coefficients_of, find_wood, known_woods
from blockwright.model.settings import USUAL_STOCK, BlocksTable, Stock


def board(wood: str, **more: Any) -> Stock:
    return Stock(name="board", wood=wood, width_mm=450.0, height_mm=300.0, thickness_mm=20.0, **more)


@pytest.mark.parametrize(
    ("wood", "radial", "tangential"),
    [
        ("black cherry", 0.00126, 0.00248),
        ("basswood", 0.00230, 0.00330),
        ("yellow birch", 0.00256, 0.00338),
        ("paper birch", 0.00219, 0.00304),
        ("southern magnolia", 0.00187, 0.00230),
        ("sugar maple", 0.00165, 0.00353),
        ("red maple", 0.00137, 0.00289),
        ("redwood", 0.00120, 0.00205),
    ],
)
def test_the_table_is_the_handbooks(wood: str, radial: float, tangential: float) -> None:
    """Wood Handbook, FPL-GTR-190, table 13-5; redwood from memory, and tagged so."""
    found = find_wood(wood)
    assert found is not None
    assert (found.name, found.radial, found.tangential, found.along) == (wood, radial, tangential, 0.0)
    assert found.tag == ("mem" if wood == "redwood" else "pub")


def test_every_wood_has_a_source_and_names_of_its_own() -> None:
    names = [name for wood in known_woods() for name in (wood.name, *wood.also)]
    assert len(set(names)) == len(names)
    for wood in known_woods():
        assert wood.source
        assert 0 <= wood.along <= wood.radial <= wood.tangential < 0.01


@pytest.mark.parametrize(
    ("called", "wood"),
    [
        ("cherry", "black cherry"),
        ("Black  Cherry, planed", "black cherry"),
        ("yamazakura", "black cherry"),
        ("linden", "basswood"),
        ("shina", "basswood"),
        ("linden plywood", "plywood"),
        ("Birch ply", "plywood"),
        ("shina-plywood", "plywood"),
        ("white birch", "paper birch"),
        ("birch", "yellow birch"),
        ("red maple", "red maple"),
        ("maple", "sugar maple"),
        ("ho wood", "southern magnolia"),
        ("applewood", None),
        ("pear", None),
        ("", None),
    ],
)
def test_woods_are_known_by_their_common_names(called: str, wood: str | None) -> None:
    found = find_wood(called)
    assert (found.name if found else None) == wood


def test_the_cut_chooses_the_direction() -> None:
    flat = coefficients_of(board("cherry"), BlocksTable())
    quarter = coefficients_of(board("cherry", cut="quarter sawn"), BlocksTable())
    assert (flat.across, quarter.across, flat.along) == (0.00248, 0.00126, 0.0)


def test_plywood_moves_little_and_alike_both_ways() -> None:
    """Common practice, no source."""
    found = coefficients_of(USUAL_STOCK[0], BlocksTable())
    assert (found.across, found.along, found.reckoned_as) == (0.0003, 0.0003, "plywood")


def test_a_boards_own_figure_comes_before_its_wood() -> None:
    own = coefficients_of(board("cherry", moves_percent=0.2), BlocksTable())
    assert (own.across, own.along) == pytest.approx((0.002, 0.0))
    assert own.own
    plies = coefficients_of(board("plywood", moves_percent=0.05), BlocksTable())
    assert plies.along == plies.across == pytest.approx(0.0005)


def test_a_wood_that_is_not_known_takes_the_settings_figure() -> None:
    found = coefficients_of(board("pear"), BlocksTable(unknown_wood_percent=0.4))
    assert (found.across, found.along) == pytest.approx((0.004, 0.0))
    assert found.reckoned_as == ""


def test_the_usual_figure_of_an_unknown_wood_is_the_mean_of_the_flat_sawn() -> None:
    flat = [wood.tangential for wood in known_woods() if wood.tag == "pub"]
    mean_percent = 100 * sum(flat) / len(flat)
    assert BlocksTable().unknown_wood_percent == pytest.approx(mean_percent, abs=0.01)


def test_a_flat_sawn_cherry_board_moves_as_the_handbook_has_it() -> None:
    """250 mm, from 9 to 13 %: 2.48 mm by Wood Handbook, FPL-GTR-190, table 13-5 and its formula."""
    found = movement_mm(250.0, 0.00248, from_percent=9.0, to_percent=13.0)
    assert found == pytest.approx(2.48, abs=1e-9)
    assert movement_mm(250.0, 0.00248, from_percent=13.0, to_percent=9.0) == pytest.approx(-2.48)


@pytest.mark.parametrize(("percent", "drawn_on"), [(5.9, True), (6.0, False), (14.0, False), (14.1, True)])
def test_where_the_figures_hold(percent: float, drawn_on: bool) -> None:
    """Valid from 6 to 14 %: Wood Handbook, FPL-GTR-190, chapter 13."""
    assert is_drawn_on(percent) == drawn_on
