"""How much ink an edition needs."""

import math

import pytest

from blockwright.inks import (
    Need,
    covered_sheets,
    ink_needed_g,
    laydown_g_per_m2,
    pot_warning,
)
from blockwright.model.errors import InkError
from blockwright.model.inks import MixedInk, Optics

NEED = Need(area_mm2=200.0 * 150.0, passes=2, sheets=60)


def pot(grams: float | None) -> MixedInk:
    return MixedInk(7, "dull ochre", (), 0.8, Optics((0.1,) * 36, (0.1,) * 36), "scanned", pot_g=grams)


def test_the_ink_of_an_edition_by_hand() -> None:
    # 0.03 m2, twice on each of 60 sheets, 12 g/m2.
    assert ink_needed_g(NEED) == pytest.approx(0.03 * 2 * 60 * 12.0)
    half = Need(NEED.area_mm2, NEED.passes, NEED.sheets, coverage=0.5)
    assert ink_needed_g(half, laydown=24.0) == pytest.approx(ink_needed_g(NEED))


def test_weighing_the_bowl_gives_back_what_was_laid_down() -> None:
    found = laydown_g_per_m2(150.0, 150.0 - 10 * 0.03 * 9.5, pulls=10, area_mm2=30_000)
    assert found == pytest.approx(9.5)
    assert ink_needed_g(Need(30_000, 1, 10), laydown=found) == pytest.approx(10 * 0.03 * 9.5)


def test_a_pot_that_will_not_last_is_told() -> None:
    assert pot_warning(pot(60.0), NEED) is None
    short = pot_warning(pot(20.0), NEED)
    assert short == (
        "dull ochre: the pot's 20 g last for about 27 of 60 sheets; mix 32 g more before you begin."
    )
    assert covered_sheets(20.0, NEED) == math.floor(20.0 / 0.72) == 27
    thin = pot_warning(pot(45.0), NEED)
    assert thin is not None
    assert "all 60 sheets, but 7 g of the reserve" in thin
    unweighed = pot_warning(pot(None), NEED)
    assert unweighed is not None
    assert "weigh the pot; the edition needs 52 g" in unweighed


def test_a_full_pot_covers_no_more_than_the_edition() -> None:
    assert covered_sheets(1000.0, NEED) == 60
    assert covered_sheets(0.0, NEED) == 0
    # Rounding does not cost a sheet.
    assert covered_sheets(0.72 * 33, NEED) == 33


@pytest.mark.parametrize(
    ("need", "told"),
    [
        (Need(0.0, 1, 10), "area of the impression, in mm2, is 0"),
        (Need(float("nan"), 1, 10), "area of the impression"),
        (Need(100.0, 0, 10), "not 0 on 10"),
        (Need(100.0, 1, 0), "not 1 on 0"),
        (Need(100.0, 1, 10, coverage=1.5), "coverage is 1.5"),
        (Need(100.0, 1, 10, coverage=0.0), "coverage is 0"),
    ],
)
def test_an_edition_that_cannot_be_is_refused(need: Need, told: str) -> None:
    with pytest.raises(InkError, match=told):
        ink_needed_g(need)


def test_weighings_and_shares_that_cannot_be_are_refused() -> None:
    with pytest.raises(InkError, match="must have become lighter"):
        laydown_g_per_m2(100.0, 100.0, pulls=10, area_mm2=100.0)
    with pytest.raises(InkError, match="at least one pull"):
        laydown_g_per_m2(100.0, 90.0, pulls=0, area_mm2=100.0)
    with pytest.raises(InkError, match="before, in g, is -1"):
        laydown_g_per_m2(-1.0, -2.0, pulls=10, area_mm2=100.0)
    with pytest.raises(InkError, match="0 g or more, not -5"):
        covered_sheets(-5.0, NEED)
    with pytest.raises(InkError, match="ink of one pass, in g/m2, is 0"):
        ink_needed_g(NEED, laydown=0.0)
