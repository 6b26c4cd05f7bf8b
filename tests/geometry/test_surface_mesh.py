"""Bodies of height fields, judged by a library of others and measured anew sample by sample."""

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from numpy.typing import NDArray

from blockwright.geometry.surface_mesh import HOLLOW_TIMES, NEAR_MM, Body, body_of

STEP_MM, THICK_MM = 0.1, 12.0
ROUNDING_MM = 1e-5


def dome(rows: int = 140, columns: int = 190) -> NDArray[np.float32]:
    """A dome in a hollow with a sloping wall, and a line that stands in it."""
    y, x = np.mgrid[0:rows, 0:columns] * STEP_MM
    away = np.hypot(x - 8.0, y - 6.0)
    heights = -np.clip((away - 4.0) * 1.7, 0.0, 2.5 + 0.05 * away)
    heights[:, 150:154] = 0.0
    return np.asarray(heights, np.float32)


def strays(body: Body, heights: NDArray[np.float32]) -> NDArray[np.float64]:
    """How far the body's top lies from every sample, found triangle by triangle."""
    rows, columns = heights.shape
    off = np.full(heights.shape, np.nan)
    # The outermost points stand for the block's edges, half a step beyond their samples.
    places = np.rint(body.points[:, :2] / STEP_MM - 0.5).clip(0, [columns - 1, rows - 1])
    for corners in body.triangles:
        if body.points[corners, 2].min() == 0.0:
            continue  # a side or the bottom
        (ax, ay), (bx, by), (cx, cy) = places[corners]
        low, high = places[corners].min(axis=0).astype(int), places[corners].max(axis=0).astype(int)
        y, x = np.mgrid[low[1] : high[1] + 1, low[0] : high[0] + 1]
        whole = (bx - ax) * (cy - ay) - (cx - ax) * (by - ay)
        u = ((x - ax) * (cy - ay) - (cx - ax) * (y - ay)) / whole
        v = ((bx - ax) * (y - ay) - (x - ax) * (by - ay)) / whole
        a, b, c = body.points[corners, 2] - THICK_MM
        inside = (u >= -1e-9) & (v >= -1e-9) & (u + v <= 1 + 1e-9)
        level = a + u * (b - a) + v * (c - a)
        off[y[inside], x[inside]] = np.abs(level - heights[y, x])[inside]
    return off


def judged(body: Body) -> trimesh.Trimesh:
    mesh = trimesh.Trimesh(body.points, body.triangles, process=False)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.volume > 0.0
    return mesh


def test_a_face_keeps_to_its_tolerance_everywhere() -> None:
    heights = dome()
    body = body_of(heights, step_mm=STEP_MM, thickness_mm=THICK_MM)
    judged(body)
    off = strays(body, heights)
    assert not np.isnan(off).any(), "every sample lies under the top"
    near = heights >= -NEAR_MM
    assert off[near].max() <= 0.02 + ROUNDING_MM
    assert off[~near].max() <= 0.02 * HOLLOW_TIMES + ROUNDING_MM
    assert body.near_off_mm == pytest.approx(off[near].max(), abs=ROUNDING_MM)
    assert body.hollow_off_mm == pytest.approx(off.max(), abs=ROUNDING_MM)
    assert len(body.triangles) < heights.size / 2, "few where it is level"


def test_a_level_block_is_its_box() -> None:
    body = body_of(np.zeros((257, 514), np.float32), step_mm=STEP_MM, thickness_mm=THICK_MM)
    mesh = judged(body)
    assert mesh.volume == pytest.approx(25.7 * 51.4 * THICK_MM)
    assert mesh.bounds.ravel() == pytest.approx([0.0, 0.0, 0.0, 51.4, 25.7, THICK_MM])


def test_rows_run_along_y_and_the_first_is_the_lowest() -> None:
    heights = np.zeros((40, 60), np.float32)
    heights[:10, 50:] = -3.0
    points = body_of(heights, step_mm=STEP_MM, thickness_mm=THICK_MM).points
    low = points[np.isclose(points[:, 2], THICK_MM - 3.0)]
    assert low[:, 0].min() == pytest.approx(5.05)
    assert low[:, 1].max() == pytest.approx(0.95)


def test_the_tolerance_gives_way_to_the_number_of_triangles_and_is_told() -> None:
    heights = np.random.default_rng(4).uniform(-0.9, 0.0, (120, 120)).astype(np.float32)
    fine = body_of(heights, step_mm=STEP_MM, thickness_mm=THICK_MM)
    few = body_of(heights, step_mm=STEP_MM, thickness_mm=THICK_MM, most_triangles=len(fine.triangles) // 2)
    judged(few)
    assert len(few.triangles) < 0.6 * len(fine.triangles)
    assert few.near_off_mm > 0.02
    assert few.near_off_mm == pytest.approx(strays(few, heights).max(), abs=ROUNDING_MM)


@settings(max_examples=25, deadline=None)
@given(
    arrays(
        np.float32,
        st.tuples(st.integers(2, 40), st.integers(2, 40)),
        elements=st.floats(-4.0, 0.0, width=32),
    )
)
def test_any_heights_make_a_closed_body_of_the_right_size(heights: NDArray[np.float32]) -> None:
    body = body_of(heights, step_mm=STEP_MM, thickness_mm=THICK_MM)
    mesh = judged(body)
    rows, columns = heights.shape
    assert mesh.extents[:2] == pytest.approx([columns * STEP_MM, rows * STEP_MM])
    assert np.nanmax(strays(body, heights)) <= 0.02 * HOLLOW_TIMES + ROUNDING_MM


@pytest.mark.parametrize(
    "heights", [np.zeros((1, 5)), np.full((4, 4), 0.1), np.full((4, 4), -12.0), np.full((4, 4), np.nan)]
)
def test_what_makes_no_body_is_refused(heights: NDArray[np.float64]) -> None:
    with pytest.raises(ValueError, match="heights"):
        body_of(heights.astype(np.float32), step_mm=STEP_MM, thickness_mm=THICK_MM)
