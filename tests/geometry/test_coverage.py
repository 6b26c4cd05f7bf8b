"""Coverages of any label map are valid, whole and have every region once (predicates: GEOS)."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from blockwright.geometry.coverage import check_coverage, trace_coverage
from blockwright.geometry.labelling import label_regions

PALETTE = np.array([[230, 210, 180], [60, 80, 110], [190, 70, 50], [30, 30, 30]], float)


def _paint(labels: np.ndarray, seed: int) -> np.ndarray:
    noise = np.random.default_rng(seed).normal(0, 20, (*labels.shape, 3))
    pixels: np.ndarray = np.clip(PALETTE[labels] + noise, 0, 255).astype(np.uint8)
    return pixels


def _hold(labels: np.ndarray, pixels: np.ndarray, smoothing: float) -> None:
    coverage = trace_coverage(labels, pixels, PALETTE, pixels_per_mm=2.0, smoothing_mm=smoothing / 2.0)
    _, area, label = label_regions(labels)
    assert len(coverage.polygons) == len(area)
    assert (coverage.labels == label).all()
    assert (shapely.get_type_id(coverage.polygons) == 3).all()
    assert shapely.is_valid(coverage.polygons).all()
    height, width = labels.shape
    check = check_coverage(coverage.polygons, width_mm=width / 2, height_mm=height / 2)
    assert check.valid
    assert check.gap_mm2 == 0.0
    assert check.overlap_mm2 == 0.0
    # Independent of the check above: no two polygons share area, together they fill the frame.
    union = shapely.unary_union(coverage.polygons)
    assert union.area == pytest.approx(width * height / 4, rel=1e-9)
    assert shapely.area(coverage.polygons).sum() == pytest.approx(width * height / 4, rel=1e-9)


@settings(deadline=None, max_examples=60)
@given(
    hnp.arrays(np.uint8, hnp.array_shapes(min_dims=2, max_dims=2, max_side=14), elements=st.integers(0, 3)),
    st.integers(0, 99),
    st.sampled_from([0.0, 1.4, 4.0]),
)
def test_any_label_map_gives_a_valid_coverage(labels: np.ndarray, seed: int, smoothing: float) -> None:
    _hold(labels, _paint(labels, seed), smoothing)


@pytest.mark.parametrize("seed", range(4))
def test_blobs_with_thin_bridges_and_islands(seed: int) -> None:
    random = np.random.default_rng(seed)
    coarse = random.normal(size=(24, 30))
    field = np.kron(coarse, np.ones((8, 8)))
    kernel = np.hanning(13) / np.hanning(13).sum()
    for axis in (0, 1):
        field = np.apply_along_axis(lambda row: np.convolve(row, kernel, "same"), axis, field)
    labels = np.digitize(field, [-0.3, 0.0, 0.3]).astype(np.uint8)
    labels[random.random(labels.shape) < 0.02] = 3
    _hold(labels, _paint(labels, seed), 2.0)


def test_a_chequerboard_and_one_pixel_diagonals() -> None:
    board = (np.indices((12, 12)).sum(axis=0) % 2).astype(np.uint8)
    _hold(board, _paint(board, 1), 1.4)
    diagonal = np.eye(20, dtype=np.uint8)
    _hold(diagonal, _paint(diagonal, 2), 3.0)


def test_one_region_is_the_frame() -> None:
    _hold(np.zeros((5, 9), np.uint8), np.zeros((5, 9, 3), np.uint8), 1.0)


def test_gaps_and_overlaps_are_measured_when_there_are_any() -> None:
    apart = np.array([shapely.box(0, 0, 1, 1), shapely.box(1.2, 0, 2, 1)])
    check = check_coverage(apart, width_mm=2.0, height_mm=1.0)
    assert check.gap_mm2 == pytest.approx(0.2)
    over = np.array([shapely.box(0, 0, 1.1, 1), shapely.box(1, 0, 2, 1)])
    check = check_coverage(over, width_mm=2.0, height_mm=1.0)
    assert not check.valid
    assert check.overlap_mm2 == pytest.approx(0.1)
