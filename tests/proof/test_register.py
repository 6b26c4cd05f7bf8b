"""The register risk: edges weighed by their length, each with the reach that the separation told."""

from dataclasses import replace

import pytest
import shapely

from blockwright.colour import hex_to_lab
from blockwright.geometry.drift import gape_probability
from blockwright.model.separation import EdgeTrap, Impression, Separation
from blockwright.proof.register import gaping_edges, risk_percent
from spectral_inks import ink

CLEAR = ink("clear", (0.0, 0.0, 0.0), (0.0, 0.0, 0.0))


def impression(number: int, hex_colour: str, *, trap_mm: float = 0.5) -> Impression:
    area = shapely.MultiPolygon()
    lab = hex_to_lab(hex_colour)
    return Impression(number, hex_colour, "colour", CLEAR, 1, (), area, trap_mm, hex_colour, lab)


def edge(over: int, under: int, length_mm: float, *, trap_mm: float, reach_mm: float) -> EdgeTrap:
    earlier, later = sorted((over, under))
    return EdgeTrap(earlier, later, under, length_mm, trap_mm, reach_mm, 0.0, 9.0, "seen", (0.0, 0.0))


def test_risk_weighs_edges_by_length_and_takes_the_reach_of_the_ink_below() -> None:
    # The dark key is printed first; the light inks still carry the traps.
    inks = (impression(1, "#221e19"), impression(2, "#d9b26a"), impression(3, "#a4502f"))
    edges = (edge(1, 2, 30.0, trap_mm=0.5, reach_mm=0.5), edge(1, 3, 10.0, trap_mm=0.0, reach_mm=0.0))
    separation = Separation(inks, (), ((1, 2, 30.0), (1, 3, 10.0)), 0.0, 0.0, edges=edges)
    gaping = gaping_edges(separation, drift_mm=0.3)
    assert [i.number for i, _ in gaping] == [2, 3]
    expected = 100.0 * (30.0 * gape_probability(0.5, 0.3) + 10.0 * 0.5) / 40.0
    assert risk_percent(separation, gaping) == pytest.approx(expected)
    better = risk_percent(separation, gaping_edges(separation, drift_mm=0.3, least_trap_mm=0.5))
    assert better == pytest.approx(100.0 * gape_probability(0.5, 0.3))
    assert risk_percent(replace(separation, edges=()), ()) == 0.0


def test_no_wider_trap_helps_where_a_thin_line_ends_it() -> None:
    inks = (impression(1, "#d9b26a"), impression(2, "#221e19"))
    thin = edge(2, 1, 30.0, trap_mm=0.5, reach_mm=0.2)
    separation = Separation(inks, (), ((1, 2, 30.0),), 0.0, 0.0, edges=(thin,))
    hoped = gaping_edges(separation, drift_mm=0.3, least_trap_mm=1.0)
    assert hoped[0][1] == pytest.approx(30.0 * gape_probability(0.2, 0.3))
