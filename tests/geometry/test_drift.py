"""The law of drift against scipy's normal distribution and against drifting shapes measured by GEOS."""

import numpy as np
import pytest
import shapely
import shapely.affinity
from scipy.integrate import quad
from scipy.stats import norm

from blockwright.geometry.drift import (
    expected_gap_mm,
    gape_probability,
    trap_for_probability,
    trap_of_probability,
)


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


@pytest.mark.parametrize("trap_mm", [0.0, 0.1, 0.5])
def test_expected_gap_is_the_mean_excess(trap_mm: float) -> None:
    sigma = np.sqrt(2.0) * 0.3 / norm.ppf(0.975)
    mean, _ = quad(lambda x: (x - trap_mm) * norm.pdf(x, scale=sigma), trap_mm, 8.0 * sigma)
    assert expected_gap_mm(trap_mm, 0.3) == pytest.approx(mean, abs=1e-9)


def test_drifting_shapes_leave_as_much_paper_as_expected() -> None:
    # Monte Carlo: an edge of 10 mm, the light ink 0.15 mm under the dark one, measured away from its ends.
    rng = np.random.default_rng(21)
    drift_mm, trap_mm, drawn = 0.3, 0.15, 3000
    light, dark = shapely.box(-10, -20, trap_mm, 20), shapely.box(0, -20, 10, 20)
    window = shapely.box(-3, -5, 3, 5)
    moves = rng.normal(0.0, drift_mm / norm.ppf(0.975), (drawn, 4))
    bare = [
        window.area
        - window.intersection(
            shapely.union(
                shapely.affinity.translate(light, *move[:2]), shapely.affinity.translate(dark, *move[2:])
            )
        ).area
        for move in moves
    ]
    expected = 10.0 * expected_gap_mm(trap_mm, drift_mm)
    assert np.mean(bare) == pytest.approx(expected, abs=4 * np.std(bare) / np.sqrt(drawn))


@pytest.mark.parametrize("trap_mm", [0.0, 0.2, 0.55])
def test_a_chance_and_its_trap_belong_together(trap_mm: float) -> None:
    assert trap_of_probability(gape_probability(trap_mm, 0.3), 0.3) == pytest.approx(trap_mm, abs=1e-9)
    assert trap_of_probability(0.7, 0.3) == 0.0
