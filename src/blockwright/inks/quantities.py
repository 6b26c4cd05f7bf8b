"""Grams and millilitres of an ink for an edition: area, passes and sheets, with what stays in bowl and brush.

No figure for the ink of one impression is published: weigh the bowl before and after ten pulls, and put in
what you find (:func:`laydown_g_per_m2`).
"""

from dataclasses import dataclass
from math import floor, isfinite

from blockwright.model.errors import InkError
from blockwright.model.inks import MixedInk

LAYDOWN_G_PER_M2 = 12.0
"""Wet ink that one pass takes off the block, grams to the square metre [mem]; calibrate by weighing."""

RESERVE_SHARE = 0.2
"""What is mixed beyond what is printed, as a part of it: bowl, brush, proofs [CP]."""

GLYCERIN_DENSITY_G_PER_ML = 1.26
"""Density of glycerin at room temperature [mem]."""

_MM2_PER_M2 = 1e6

_ABOVE_NOUGHT = {
    "before_g": "The weight of the bowl before, in g,",
    "after_g": "The weight of the bowl after, in g,",
    "area_mm2": "The area of the impression, in mm2,",
    "laydown": "The ink of one pass, in g/m2,",
}
"""What each number that must be above 0 is called."""


@dataclass(frozen=True, slots=True)
class Need:
    """What is to be printed with one ink.

    ``area_mm2`` is that of the impression; ``coverage`` the part of it that takes ink, 0 to 1, which a
    gradation lowers.
    """

    area_mm2: float
    passes: int
    sheets: int
    coverage: float = 1.0


def laydown_g_per_m2(before_g: float, after_g: float, *, pulls: int, area_mm2: float) -> float:
    """How much wet ink one pass takes, from the weight of the bowl (with its brush) before and after.

    ``pulls`` impressions of ``area_mm2`` lie between the weighings; ten are enough. Raises InkError when the
    bowl has not become lighter or a number is not above 0.

    >>> round(laydown_g_per_m2(183.4, 178.6, pulls=10, area_mm2=40_000), 2)
    12.0
    """
    _check_above(before_g=before_g, after_g=after_g, area_mm2=area_mm2)
    if pulls < 1:
        raise InkError(f"Between the weighings lies at least one pull, not {pulls}; ten are better.")
    if after_g >= before_g:
        raise InkError(
            f"The bowl weighed {before_g:g} g before and {after_g:g} g after; it must have become lighter."
        )
    return (before_g - after_g) / (pulls * area_mm2 / _MM2_PER_M2)


def ink_needed_g(need: Need, *, laydown: float = LAYDOWN_G_PER_M2) -> float:
    """Grams of wet ink that go onto the sheets, without reserve; ``laydown`` in g/m2 and pass.

    Raises InkError when a number is outside its range.

    >>> ink_needed_g(Need(area_mm2=40_000, passes=2, sheets=60))
    57.6
    """
    _check_need(need, laydown)
    printed = need.area_mm2 * need.coverage * need.passes * need.sheets / _MM2_PER_M2 * laydown
    return round(printed, 9)


def covered_sheets(pot_g: float, need: Need, *, laydown: float = LAYDOWN_G_PER_M2) -> int:
    """How many sheets a pot of ink prints, of those that are needed.

    >>> covered_sheets(48.0, Need(area_mm2=40_000, passes=2, sheets=60))
    50
    """
    if not isfinite(pot_g) or pot_g < 0.0:
        raise InkError(f"A pot holds 0 g or more, not {pot_g:g} g.")
    each = ink_needed_g(need, laydown=laydown) / need.sheets
    return min(need.sheets, floor(pot_g / each + 1e-9))


def pot_warning(
    ink: MixedInk,
    need: Need,
    *,
    laydown: float = LAYDOWN_G_PER_M2,
    reserve_share: float = RESERVE_SHARE,
) -> str | None:
    """What to say when a pot of the shelf will not last the edition; None when it will.

    A pot that was never weighed cannot be judged, which is said too.
    """
    wanted = ink_needed_g(need, laydown=laydown) * (1.0 + reserve_share)
    if ink.pot_g is None:
        return f"{ink.name}: weigh the pot; the edition needs {wanted:.0f} g with the reserve."
    if ink.pot_g >= wanted:
        return None
    lasts = covered_sheets(ink.pot_g, need, laydown=laydown)
    short = wanted - ink.pot_g
    if lasts >= need.sheets:
        return (
            f"{ink.name}: the pot's {ink.pot_g:.0f} g print all {need.sheets} sheets, "
            f"but {short:.0f} g of the reserve are missing."
        )
    return (
        f"{ink.name}: the pot's {ink.pot_g:.0f} g last for about {lasts} of {need.sheets} sheets; "
        f"mix {short:.0f} g more before you begin."
    )


def _check_above(**numbers: float) -> None:
    for name, number in numbers.items():
        if not (isfinite(number) and number > 0.0):
            raise InkError(f"{_ABOVE_NOUGHT[name]} is {number:g}; it is above 0.")


def _check_need(need: Need, laydown: float) -> None:
    _check_above(area_mm2=need.area_mm2, laydown=laydown)
    if need.passes < 1 or need.sheets < 1:
        raise InkError(f"At least one pass on one sheet is printed, not {need.passes} on {need.sheets}.")
    if not 0.0 < need.coverage <= 1.0:
        raise InkError(f"The coverage is {need.coverage:g}; it is above 0 and at most 1.")
