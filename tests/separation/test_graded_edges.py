"""Traps at the edges of shapes whose ink runs go by the film of the place."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from drawn import PAPER, design_of

from blockwright.colour import (
    colour_reflectance,
    delta_e00,
    hex_to_lab,
    lab_to_hex,
    reflectance_to_lab,
    stack_reflectance,
)
from blockwright.geometry.running import film_share
from blockwright.model.axis import Axis
from blockwright.model.design import Design, Run
from blockwright.model.separation import EdgeTrap, Impression, Separation
from blockwright.model.settings import SeparationTable
from blockwright.separation import separate
from blockwright.separation.edges import shared_edges
from blockwright.separation.graded_edges import LAP_MM, in_stretches

DARK, PALE, GREY = "#324072", "#f9bd9e", "#8c9a92"
SKY, BESIDE = shapely.box(0, 0, 40, 100), shapely.box(40, 0, 70, 100)


def sky_beside(hex_beside: str, end: str, *, beside: shapely.Polygon = BESIDE) -> Design:
    """A sky that runs downwards from DARK to an end, and something flat beside it."""
    ends = np.array([hex_to_lab(DARK), hex_to_lab(end)])
    lab = tuple((float(a), float(b), float(c)) for a, b, c in ends)
    run = Run(Axis((20.0, 0.0), (20.0, 100.0)), lab, tuple(lab_to_hex(each) for each in lab))
    sky = shapely.box(0, 0, 70, 100).difference(beside)
    design = design_of([sky, beside], [0, 1], ["#8f8f9f", hex_beside])
    return replace(design, shapes=(replace(design.shapes[0], run=run), design.shapes[1]))


def made(design: Design, **settings: object) -> Separation:
    return separate(design, SeparationTable.model_validate({"key": "none", **settings}, strict=False))


def printing(separation: Separation, *words: str) -> Impression:
    return next(i for i in separation.impressions if all(word in i.name for word in words))


def reach_at(area: shapely.MultiPolygon, y: float, x_mm: float) -> float:
    """How far an area reaches beyond an upright edge at a height, to the right or to the left."""
    right = shapely.intersection(area, shapely.LineString([(x_mm, y), (x_mm + 5, y)])).length
    left = shapely.intersection(area, shapely.LineString([(x_mm - 5, y), (x_mm, y)])).length
    return float(min(left, right))


def test_who_runs_under_changes_along_the_ramp() -> None:
    separation = made(sky_beside(GREY, PAPER))
    (sky,) = (i for i in separation.impressions if i.gradation is not None)
    (flat,) = (i for i in separation.impressions if i.gradation is None)
    # Above the sky is the darker, below the grey: each time the lighter runs under.
    assert reach_at(flat.area, 5.0, 40.0) == pytest.approx(0.45, abs=0.06)
    assert reach_at(sky.area, 5.0, 40.0) == pytest.approx(0.0, abs=0.01)
    assert reach_at(flat.area, 95.0, 40.0) == pytest.approx(0.0, abs=0.01)
    assert reach_at(sky.area, 95.0, 40.0) == pytest.approx(0.45, abs=0.06)
    assert {e.runs_under for e in separation.edges} == {sky.number, flat.number}
    assert sum(e.length_mm for e in separation.edges) == pytest.approx(100.0)
    # It changes once: the share of the edge that the sky runs under is one piece.
    (under,) = shapely.get_parts(shapely.intersection(sky.area, shapely.box(40.1, 0, 42, 100)))
    share = film_share(sky.gradation, np.array([[40.0, under.bounds[1]]]))[0]  # type: ignore[arg-type]
    here = seen([(sky, float(share))])
    assert here[0] == pytest.approx(hex_to_lab(GREY)[0], abs=3.0)


def seen(films: list[tuple[Impression, float]]) -> np.ndarray:
    beds = [(i.printed_ink.k, i.printed_ink.s, i.passes * share) for i, share in films]
    return reflectance_to_lab(stack_reflectance(colour_reflectance(PAPER), beds))


def test_the_seam_is_told_by_the_film_that_lies_there() -> None:
    low = shapely.box(0, 70, 70, 100)
    separation = made(sky_beside("#b03a2e", PAPER, beside=low))
    (edge,) = separation.edges
    (sky,) = (i for i in separation.impressions if i.gradation is not None)
    (flat,) = (i for i in separation.impressions if i.gradation is None)
    assert sky.gradation is not None
    share = float(film_share(sky.gradation, np.array([[10.0, 70.0]]))[0])
    assert 0.05 < share < 0.6
    in_order = sorted([(sky, share), (flat, 1.0)], key=lambda film: film[0].number)
    both = seen(in_order)
    expected = min(float(delta_e00(both, seen([film]))) for film in in_order)
    assert edge.seam_delta_e00 == pytest.approx(expected, abs=0.05)


def test_the_flat_beneath_a_gradation_runs_under_alone_where_that_is_seen_less() -> None:
    sun = shapely.Point(35.0, 50.0).buffer(15.0, quad_segs=32)
    separation = made(sky_beside("#d9a437", PALE, beside=sun))
    flat, film = printing(separation, "flat"), printing(separation, "bokashi")
    flat_reach = shapely.area(shapely.intersection(flat.area, sun)) / sun.length
    film_reach = shapely.area(shapely.intersection(film.area, sun)) / sun.length
    assert flat_reach == pytest.approx(0.5, abs=0.06)
    assert film_reach == pytest.approx(LAP_MM, abs=0.02)
    edge: EdgeTrap
    (edge,) = separation.edges
    assert edge.runs_under == flat.number
    assert edge.gap_mm2 < 0.002 * sun.length
    # No paper is left, however the areas are drawn.
    whole = shapely.union_all([i.area for i in separation.impressions])
    assert shapely.box(0, 0, 70, 100).difference(whole).area < 1e-6


def test_the_printmakers_own_trap_comes_before() -> None:
    sun = shapely.Point(35.0, 50.0).buffer(15.0, quad_segs=32)
    design = sky_beside("#d9a437", PALE, beside=sun)
    separation = made(design, edge_trap=[{"at": (35.0, 35.0), "mm": 0.3}])
    assert {(e.trap_mm, e.reason) for e in separation.edges} == {(0.3, "edge")}
    one_for_all = made(design, traps="one for all", trap_mm=0.6)
    assert {(e.trap_mm, e.reason) for e in one_for_all.edges} == {(0.6, "one for all")}


def test_stretches_keep_their_ends_and_their_outline() -> None:
    edges = shared_edges(np.array([SKY, BESIDE]))
    fine = in_stretches(edges, np.array([True, False]))
    assert fine.length_mm.max() <= 2.0 + 1e-9
    assert np.array_equal(fine.ends[1:, 0], fine.ends[:-1, 1])
    assert np.array_equal(np.unique(fine.outlines, axis=0), edges.ends)
    assert in_stretches(edges, np.array([False, False])) is edges
