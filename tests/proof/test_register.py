"""The register risk against scipy's normal distribution and against drifting shapes measured by GEOS."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
import shapely.affinity
from scipy.stats import norm

from blockwright.colour import hex_to_lab
from blockwright.model.separation import Impression, Separation
from blockwright.proof import gape_probability, trap_for_probability
from blockwright.proof.register import gaping_edges, risk_percent
from spectral_inks import ink

CLEAR = ink("clear", (0.0, 0.0, 0.0), (0.0, 0.0, 0.0))


def impression(number: int, hex_colour: str, *, trap_mm: float = 0.5) -> Impression:
    area = shapely.MultiPolygon()
    lab = hex_to_lab(hex_colour)
    return Impression(number, hex_colour, "colour", CLEAR, 1, (), area, trap_mm, hex_colour, lab)


@pytest.mark.parametrize("trap_mm", [0.0, 0.1, 0.5, 1.0])
@pytest.mark.parametrize("drift_mm", [0.05, 0.3, 1.0])
def test_probability_is_the_normal_tail(trap_mm: float, drift_mm: float) -> None:
    sigma = np.sqrt(2.0) * drift_mm / norm.ppf(0.975)
    assert gape_probability(trap_mm, drift_mm) == pytest.approx(norm.sf(trap_mm, scale=sigma), abs=1e-9)


@pytest.mark.parametrize("drift_mm", [0.05, 0.3, 1.0])
def test_proposed_trap_is_the_least_step_that_is_enough(drift_mm: float) -> None:
    trap = trap_for_probability(0.05, drift_mm)
    assert gape_probability(trap, drift_mm) <= 0.05 < gape_probability(trap - 0.05, drift_mm)


def test_drifting_shapes_gape_as_often_as_predicted() -> None:
    # A slanting edge: the light ink runs 0.2 mm under the dark one; each is moved by its own drift.
    rng = np.random.default_rng(8)
    drift_mm, trap_mm = 0.3, 0.2
    light = shapely.affinity.rotate(shapely.box(-10, -5, trap_mm, 5), 30, origin=(0, 0))
    dark = shapely.affinity.rotate(shapely.box(0, -5, 10, 5), 30, origin=(0, 0))
    across = shapely.affinity.rotate(shapely.LineString([(-4, 0), (4, 0)]), 30, origin=(0, 0))
    gaped = 0
    for moves in rng.normal(0.0, drift_mm / 1.96, (2000, 4)):
        pulled = [
            shapely.affinity.translate(light, *moves[:2]),
            shapely.affinity.translate(dark, *moves[2:]),
        ]
        gaped += across.difference(shapely.union_all(pulled)).length > 0.0
    expected = gape_probability(trap_mm, drift_mm)
    assert gaped / 2000 == pytest.approx(expected, abs=4 * np.sqrt(expected * (1 - expected) / 2000))


def test_risk_weighs_edges_by_length_and_takes_the_lighter_inks_trap() -> None:
    # The dark key is printed first; the light inks still carry the traps.
    inks = (
        impression(1, "#221e19", trap_mm=9.0),
        impression(2, "#d9b26a", trap_mm=0.5),
        impression(3, "#a4502f", trap_mm=0.0),
    )
    separation = Separation(inks, (), ((1, 2, 30.0), (1, 3, 10.0)), 0.0, 0.0)
    gaping = gaping_edges(separation, drift_mm=0.3)
    assert [i.number for i, _ in gaping] == [2, 3]
    expected = 100.0 * (30.0 * gape_probability(0.5, 0.3) + 10.0 * 0.5) / 40.0
    assert risk_percent(separation, gaping) == pytest.approx(expected)
    better = risk_percent(separation, gaping_edges(separation, drift_mm=0.3, least_trap_mm=0.5))
    assert better == pytest.approx(100.0 * gape_probability(0.5, 0.3))
    assert risk_percent(replace(separation, edges_mm=()), ()) == 0.0
