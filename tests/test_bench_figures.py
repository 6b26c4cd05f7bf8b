"""The measures of the bench on cases with known answers, and once on the painted demonstration picture."""

import sys
from pathlib import Path

import numpy as np
import pytest
import shapely
from bench.child import StepError, run_command, run_step
from bench.design_steps import svg_polygons
from bench.edge_error import compare_edges, edge_error
from bench.edges import edges_of, points_along
from bench.figures import Row, Section, at_most, verdict
from bench.pictures import BEGIN, END, put_between_marks
from bench.tiling import measure_tiling
from bench.truth import Truth, area_errors, truth_of
from shapely import affinity
from shapely.geometry import MultiPolygon, Point, box
from shapely.geometry.base import BaseGeometry

from blockwright.colour import hex_to_lab
from blockwright.demo import PaintedShape, Scene, paint, tide_mill
from blockwright.design import make_design
from blockwright.model.design import Design, PaletteColour, Shape
from blockwright.model.settings import DesignTable

PIXELS_PER_MM = 10.0
SHEET = box(0.0, 0.0, 40.0, 30.0)
SQUARE = box(10.0, 8.0, 30.0, 22.0)


def scene_of(*shapes: tuple[BaseGeometry, str, str | None]) -> Scene:
    painted = tuple(
        PaintedShape(f"shape {k}", MultiPolygon([area]), colour, fade_to)
        for k, (area, colour, fade_to) in enumerate(shapes)
    )
    return Scene("test", 40.0, 30.0, "#ffffff", painted)


def truth_of_square() -> Truth:
    return truth_of(scene_of((SHEET, "#ffffff", None), (SQUARE, "#203050", None)))


def test_an_edge_that_is_where_it_should_be_is_off_by_nothing() -> None:
    truth = truth_of_square()
    error = compare_edges(truth.edges, truth, pixels_per_mm=PIXELS_PER_MM)
    assert error.found_to_true.max_px == pytest.approx(0.0, abs=1e-9)
    assert error.true_to_found.max_px == pytest.approx(0.0, abs=1e-9)
    # The square's outline is 68 mm, a point every pixel.
    assert error.found_to_true.points == pytest.approx(680, abs=1)


def test_an_edge_a_quarter_pixel_off_has_an_error_of_a_quarter_pixel() -> None:
    truth = truth_of_square()
    grown = SQUARE.buffer(0.25 / PIXELS_PER_MM, join_style="mitre")
    found = edges_of([SHEET.difference(grown), grown], [0, 1])
    error = compare_edges(found, truth, pixels_per_mm=PIXELS_PER_MM)
    for direction in (error.found_to_true, error.true_to_found):
        # Points on the grown square's four corner pieces are nearest to the true corner, a little farther.
        assert direction.rms_px == pytest.approx(0.25, abs=5e-4)
        assert direction.median_px == pytest.approx(0.25, abs=1e-6)
        assert direction.far_percent == 0.0
        assert direction.other_colours_percent == 0.0


def test_a_shift_along_x_moves_only_the_upright_edges() -> None:
    truth = truth_of_square()
    moved = affinity.translate(SQUARE, 0.25 / PIXELS_PER_MM)
    found = edges_of([SHEET.difference(moved), moved], [0, 1])
    error = compare_edges(found, truth, pixels_per_mm=PIXELS_PER_MM)
    upright = 2 * 14.0 / 68.0
    assert error.true_to_found.rms_px == pytest.approx(0.25 * upright**0.5, rel=0.01)


def test_a_missing_shape_counts_in_full_one_way_and_an_invented_one_the_other() -> None:
    truth = truth_of_square()
    dot = Point(35.0, 15.0).buffer(1.0)
    invented = edges_of([SHEET.difference(SQUARE).difference(dot), SQUARE, dot], [0, 1, 1])
    error = compare_edges(invented, truth, pixels_per_mm=PIXELS_PER_MM)
    # The dot's far side is 6 mm, 60 px, from the square.
    assert error.found_to_true.max_px == pytest.approx(60.0, abs=0.1)
    assert error.true_to_found.max_px == pytest.approx(0.0, abs=1e-9)
    assert error.worst[0][0] == pytest.approx(36.0, abs=0.05)
    missing = compare_edges(
        truth.edges,
        truth_of(scene_of((SHEET, "#ffffff", None), (SQUARE, "#203050", None), (dot, "#203050", None))),
        pixels_per_mm=PIXELS_PER_MM,
    )
    assert missing.true_to_found.max_px == pytest.approx(60.0, abs=0.1)
    assert missing.found_to_true.max_px == pytest.approx(0.0, abs=1e-9)


def test_an_edge_between_wrong_colours_is_told() -> None:
    shapes = ((SHEET, "#ffffff", None), (SQUARE, "#203050", None), (box(2, 2, 5, 5), "#cc2020", None))
    truth = truth_of(scene_of(*shapes))
    wrong = edges_of(
        [SHEET.difference(SQUARE).difference(box(2, 2, 5, 5)), SQUARE, box(2, 2, 5, 5)], [0, 2, 2]
    )
    error = compare_edges(wrong, truth, pixels_per_mm=PIXELS_PER_MM)
    assert error.found_to_true.rms_px == pytest.approx(0.0, abs=1e-9)
    assert error.found_to_true.other_colours_percent == pytest.approx(100.0 * 68.0 / 80.0, abs=0.5)


def test_points_near_junctions_frame_and_runs_are_left_out() -> None:
    left, right = box(0, 0, 20, 20), box(20, 0, 40, 20)
    run = box(0, 20, 40, 30)
    truth = truth_of(scene_of((left, "#ffffff", None), (right, "#203050", None), (run, "#101010", "#f0f0f0")))
    # One junction where three meet and three on the frame: at (0, 20), (40, 20) and (20, 0).
    assert sorted(map(tuple, truth.edges.junctions.round(6))) == [(0, 20), (20, 0), (20, 20), (40, 20)]
    error = compare_edges(truth.edges, truth, pixels_per_mm=PIXELS_PER_MM)
    # Of the 200 px between the flats 3 px are left out at either end; the run's edge is told apart.
    assert error.true_to_found.points == 194
    assert error.runs_to_found.points == pytest.approx(400 - 4 * 3, abs=1)


def test_same_colours_side_by_side_have_no_edge() -> None:
    edges = edges_of([box(0, 0, 1, 1), box(1, 0, 2, 1)], [4, 4])
    assert shapely.length(edges.lines).sum() == pytest.approx(6.0)
    assert len(edges.inner.lines) == 0


def test_points_along_are_even_whatever_the_vertices() -> None:
    line = shapely.linestrings([[0.0, 0.0], [0.1, 0.0], [0.11, 0.0], [7.0, 0.0], [10.0, 0.0]])
    points, which = points_along(np.array([line, line]), step=1.0)
    assert np.diff(points[:10, 0]) == pytest.approx(np.ones(9))
    assert which.tolist() == [0] * 10 + [1] * 10


def test_gap_overlap_and_outside_are_measured_apart() -> None:
    polygons = [box(0, 0, 2, 2), box(1.5, 0, 4, 2), box(3, 2, 5, 3)]
    tiling = measure_tiling(polygons, width_mm=4.0, height_mm=4.0)
    assert tiling.overlap_mm2 == pytest.approx(1.0)
    assert tiling.outside_mm2 == pytest.approx(1.0)
    assert tiling.gap_mm2 == pytest.approx(16.0 - 8.0 - 1.0)
    assert tiling.invalid == 0


def test_a_place_covered_three_times_counts_twice() -> None:
    tiling = measure_tiling([box(0, 0, 1, 1)] * 3, width_mm=1.0, height_mm=1.0)
    assert tiling.overlap_mm2 == pytest.approx(2.0)
    assert tiling.gap_mm2 == 0.0


def test_an_invalid_polygon_is_counted() -> None:
    bow_tie = shapely.Polygon([(0, 0), (1, 1), (1, 0), (0, 1)])
    assert measure_tiling([box(2, 0, 3, 1), bow_tie.buffer(0)], width_mm=3.0, height_mm=1.0).invalid == 0
    with pytest.raises(shapely.errors.GEOSException):
        measure_tiling([box(0, 0, 3, 1), bow_tie], width_mm=3.0, height_mm=1.0)


def design_of(*regions: tuple[BaseGeometry, str]) -> Design:
    hexes = list(dict.fromkeys(colour for _, colour in regions))
    palette = tuple(PaletteColour(h, h, hex_to_lab(h)) for h in hexes)
    shapes = tuple(Shape(hexes.index(h), region, (0.0, 0.0)) for region, h in regions)
    return Design("test", 40.0, 30.0, PIXELS_PER_MM, "#ffffff", palette, shapes, True, 0.0, 0.0, 0.0, 0.0)


def test_areas_are_compared_colour_by_colour() -> None:
    truth = truth_of_square()
    less = box(10.0, 8.0, 30.0, 20.6)
    white, blue = area_errors(design_of((SHEET.difference(less), "#fefefe"), (less, "#213151")), truth)
    assert (white.true_hex, white.found_hex) == ("#ffffff", "#fefefe")
    assert blue.percent == pytest.approx(-10.0)
    assert white.found_mm2 - white.true_mm2 == pytest.approx(28.0)


def test_vtracer_paths_are_read_as_areas(tmp_path: Path) -> None:
    svg = tmp_path / "shapes.svg"
    svg.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="20" height="20">'
        '<path d="M0 0 L10 0 L10 10 L0 10 Z M2 2 L4 2 L4 4 L2 4 Z" transform="translate(5,5)"/>'
        '<path d="M0 0 C0 0 6 0 6 0 C6 0 6 6 6 6 C6 6 0 6 0 6 Z"/></svg>'
    )
    frame, square = svg_polygons(svg)
    assert frame.area == pytest.approx(100.0 - 4.0)
    assert frame.bounds == (5.0, 5.0, 15.0, 15.0)
    assert square.area == pytest.approx(36.0)


def test_a_missed_target_is_said_plainly() -> None:
    met, missed = at_most("reading", 1.0, most=2.0, unit="s"), at_most("tracing", 5.0, most=4.0, unit="s")
    assert (met.met, missed.met) == (True, False)
    said = verdict([Section("x", "X", (), (met, missed, Row("no target", "3 s")))])
    assert said == "1 of 2 targets are MISSED:\n\n- tracing: 5.00 s, wanted 4 s or less"


def test_what_the_writer_wrote_stays() -> None:
    page = put_between_marks("# Mine\n\nText.\n", "first")
    again = put_between_marks(page + "After.\n", "second")
    assert again.startswith("# Mine\n\nText.\n")
    assert again.endswith("After.\n")
    assert "second" in again
    assert "first" not in again
    assert again.count(BEGIN) == again.count(END) == 1


def test_a_child_s_peak_is_its_own() -> None:
    """A hundred million bytes held by the child show in its peak, and not what this process holds."""
    held = np.ones(200_000_000, np.uint8)
    small = run_command([sys.executable, "-c", "pass"])
    large = run_command([sys.executable, "-c", "x = b'1' * 100_000_000"])
    assert held[-1] == 1
    assert small.peak_bytes < 60e6
    assert 90e6 < large.peak_bytes - small.peak_bytes < 115e6


def test_a_step_that_fails_says_why() -> None:
    with pytest.raises(StepError, match="no_such"):
        run_step("machine.no_such")


def test_found_edges_of_the_demonstration_picture_are_true() -> None:
    """Outside truth: the picture's own vector edges. Root-mean-square distance 0.35 px or less, both ways."""
    scene = tide_mill()
    design = make_design(
        paint(scene, dpi=150),
        title=scene.title,
        width_mm=scene.width_mm,
        paper_hex=scene.paper_hex,
        settings=DesignTable(),
    )
    error = edge_error(design, truth_of(scene))
    for direction in (error.found_to_true, error.true_to_found):
        assert direction.points > 50_000
        assert direction.rms_px <= 0.35
        assert direction.far_percent < 0.5
        assert direction.other_colours_percent < 5.0
    assert error.runs_to_found.rms_px <= 0.35
    tiling = measure_tiling(
        [shape.region for shape in design.shapes], width_mm=design.width_mm, height_mm=design.height_mm
    )
    assert tiling.gap_mm2 < 1e-6
    assert abs(tiling.overlap_mm2) < 1e-6
