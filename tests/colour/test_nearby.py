"""Near-misses among the inks of the shelf."""

from dataclasses import replace

import numpy as np
import pytest

from blockwright.colour import delta_e00
from blockwright.colour.films import overprinted
from blockwright.colour.mixtures import recipe_reflectance
from blockwright.colour.nearby import near_on_shelf, nearest_inks
from blockwright.colour.optics import MIXTURE_DELTA_E00
from blockwright.colour.pigments import starter_pigments
from blockwright.colour.spectra import reflectance_to_lab
from blockwright.colour.wanted import Wanted, wanted_reflectance
from blockwright.model.errors import InkError
from blockwright.model.inks import MixedInk, Optics, Part

PAPER = np.full(36, 0.85)
SHELF = starter_pigments()


def ink(number: int, pigment: int, share: float) -> MixedInk:
    own = SHELF[pigment]
    optics = Optics(tuple(share * v for v in own.optics.k), tuple(share * v for v in own.optics.s))
    parts = (Part(own.name, share),)
    return MixedInk(number, f"{own.name} {share}", parts, 1.0 - share, optics, "literature")


INKS = [ink(1, 0, 0.10), ink(2, 0, 0.205), ink(3, 1, 0.3), ink(4, 0, 0.11)]


def rose(share: float, passes: int) -> Wanted:
    return wanted_reflectance(recipe_reflectance([Part(SHELF[0].name, share)], passes, SHELF, PAPER))


def test_near_inks_are_told_in_the_passes_that_bring_them_nearest() -> None:
    wanted = rose(0.2, 1)
    found = near_on_shelf(INKS, wanted, PAPER)
    assert [(near.ink.number, near.passes) for near in found] == [(1, 2), (2, 1), (4, 2)]
    assert found[0].delta_e00 < 1e-3
    for near in found:
        share = near.ink.parts[0].share
        lab = reflectance_to_lab(recipe_reflectance([Part(SHELF[0].name, share)], near.passes, SHELF, PAPER))
        assert near.delta_e00 == pytest.approx(float(delta_e00(lab, wanted.lab)), abs=1e-6)
        assert near.uncertainty_delta_e00 > 0.1


def test_passes_can_be_given_and_the_limit_holds() -> None:
    wanted = rose(0.2, 1)
    assert [near.ink.number for near in near_on_shelf(INKS, wanted, PAPER, passes=1)] == [2]
    assert [near.ink.number for near in near_on_shelf(INKS, wanted, PAPER, within_delta_e00=0.01)] == [1]


def test_a_retired_ink_is_not_offered() -> None:
    gone = [replace(each, retired=True) for each in INKS]
    assert near_on_shelf(gone, rose(0.2, 1), PAPER) == ()
    assert near_on_shelf([], rose(0.2, 1), PAPER) == ()


def test_a_mixture_that_is_reckoned_is_less_sure_than_one_known_by_its_swatch_only() -> None:
    parts = (Part(SHELF[0].name, 0.1), Part(SHELF[1].name, 0.1))
    reckoned = replace(INKS[1], parts=parts, origin="measured")
    lost = replace(reckoned, parts=())
    own = replace(reckoned, known_by="own swatch")
    told = [near_on_shelf([each], rose(0.2, 1), PAPER)[0] for each in (lost, own, reckoned)]
    sure = [each.uncertainty_delta_e00 for each in told]
    assert sure[0] == sure[1]
    assert sure[2] == pytest.approx(np.hypot(sure[0], MIXTURE_DELTA_E00))


def test_later_passes_lay_down_what_the_ink_carries_over() -> None:
    half = replace(INKS[1], transfer=(0.5,))
    wanted = wanted_reflectance(
        overprinted(half.optics.k, half.optics.s, PAPER, passes=3, transfer=half.transfer)
    )
    found = near_on_shelf([half], wanted, PAPER, passes=3)
    assert found[0].delta_e00 == pytest.approx(0.0, abs=1e-9)
    assert nearest_inks([INKS[1]], wanted.lab, PAPER, passes=3)[0].delta_e00 > 1.0


def test_limits_that_cannot_be_are_refused() -> None:
    with pytest.raises(InkError, match="0 or more, not -1"):
        near_on_shelf(INKS, rose(0.2, 1), PAPER, within_delta_e00=-1.0)
    with pytest.raises(InkError, match="1 to 4 passes, not 7"):
        near_on_shelf(INKS, rose(0.2, 1), PAPER, passes=7)
