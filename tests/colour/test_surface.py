"""The surface's own reflection, and damp sheets."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from blockwright.colour.surface import (
    BINDER_INDEX,
    WATER_INDEX,
    Surface,
    body_reflectance,
    damp_reflectance,
    dry_reflectance,
    seen_reflectance,
    surface_of_index,
    wetness_between,
)
from blockwright.model.errors import InkError

reflectances = st.floats(0.0, 1.0)
shares = st.floats(0.0, 1.0)


def fresnel_diffuse(index: float) -> float:
    """Reflectance of perfectly diffuse light from outside, by summing Fresnel's equations over the angles."""
    angle = (np.arange(200_000) + 0.5) / 200_000 * np.pi / 2.0
    inner = np.arcsin(np.sin(angle) / index)
    across = (np.cos(angle) - index * np.cos(inner)) / (np.cos(angle) + index * np.cos(inner))
    along = (index * np.cos(angle) - np.cos(inner)) / (index * np.cos(angle) + np.cos(inner))
    return float(np.mean((across**2 + along**2) / 2.0 * np.sin(2.0 * angle)) * np.pi / 2.0)


@pytest.mark.parametrize(
    ("index", "outside", "inside"),
    # Saunderson 1942 with Fresnel's equations: k1 and k2 as generally given.
    [(BINDER_INDEX, 0.0400, 0.5963), (WATER_INDEX, 0.0201, 0.4719)],
)
def test_published_coefficients(index: float, outside: float, inside: float) -> None:
    surface = surface_of_index(index)
    assert surface.outside == pytest.approx(outside, abs=5e-5)
    assert surface.inside == pytest.approx(inside, abs=5e-5)


@pytest.mark.parametrize("index", [1.05, 1.33, 1.5, 1.7, 2.4])
def test_closed_form_is_the_sum_of_fresnel_s_equations(index: float) -> None:
    inside = 1.0 - (1.0 - fresnel_diffuse(index)) / index**2
    assert surface_of_index(index).inside == pytest.approx(inside, abs=1e-6)


@given(reflectances, st.floats(1.01, 2.5), shares)
def test_there_and_back(body: float, index: float, gloss_share: float) -> None:
    surface = surface_of_index(index, gloss_share=gloss_share)
    seen = seen_reflectance(body, surface)
    assert 0.0 <= float(seen) <= 1.0
    assert float(body_reflectance(seen, surface)) == pytest.approx(body, abs=1e-9)


def test_a_perfect_white_with_all_its_gloss_stays_one() -> None:
    # Nothing is lost at a surface.
    assert float(seen_reflectance(1.0, surface_of_index(1.5, gloss_share=1.0))) == pytest.approx(1.0)


def test_impossible_surfaces_are_told() -> None:
    glossy = surface_of_index(1.5, gloss_share=1.0)
    with pytest.raises(InkError, match=r"^A reflectance of 0\.0200 is less than the surface alone reflects"):
        body_reflectance([0.5, 0.02], glossy)
    with pytest.raises(InkError, match="more than a perfect white"):
        body_reflectance(0.99, surface_of_index(1.5))
    with pytest.raises(InkError, match="above 1, not 1"):
        surface_of_index(1.0)
    with pytest.raises(InkError, match="0 to below 1"):
        Surface(1.0, 0.5)


@given(reflectances, shares)
def test_damp_and_dry(dry: float, wetness: float) -> None:
    damp = float(damp_reflectance(dry, wetness=wetness))
    assert damp <= dry + 1e-12
    assert float(damp_reflectance(dry, wetness=1.0)) <= damp + 1e-12
    assert float(dry_reflectance(damp, wetness=wetness)) == pytest.approx(dry, abs=1e-6)


def test_a_full_film_is_angstrom_s() -> None:
    # Angstrom 1925, as in Lekner and Dorf 1988: the film throws the part p of what the ground sends back
    # at it each time, so a wet ground that absorbs a of what meets it takes (1 - R) a / (1 - p (1 - a)).
    dry = np.array([0.05, 0.3, 0.8])
    entering, back = 1.0 - 0.02006, 0.47190
    absorbed = entering * (1.0 - dry) / (1.0 - back * dry)
    np.testing.assert_allclose(damp_reflectance(dry, wetness=1.0), entering - absorbed, atol=1e-4)


@given(st.lists(st.floats(0.05, 0.95), min_size=2, max_size=36), shares)
def test_wetness_is_found_from_one_patch(dry: list[float], wetness: float) -> None:
    assert wetness_between(dry, damp_reflectance(dry, wetness=wetness)) == pytest.approx(wetness, abs=1e-9)


def test_wrong_wetness_is_told() -> None:
    with pytest.raises(InkError, match=r"0 \(dry\) to 1 \(a full film of water\), not 1\.2"):
        damp_reflectance(0.5, wetness=1.2)
    with pytest.raises(InkError, match=r"not -0\.1"):
        dry_reflectance(0.5, wetness=-0.1)
    with pytest.raises(InkError, match="measure a lighter one"):
        wetness_between([0.0, 0.0], [0.0, 0.0])
    assert wetness_between([0.5], [0.6]) == 0.0
