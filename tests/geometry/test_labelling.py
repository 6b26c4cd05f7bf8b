"""Regions against scipy's labelling, specks against hand-made maps."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from scipy import ndimage

from blockwright.geometry.labelling import fill_unlabelled, label_regions, remove_specks

maps = hnp.arrays(np.uint8, hnp.array_shapes(min_dims=2, max_dims=2, max_side=24), elements=st.integers(0, 3))


@settings(deadline=None)
@given(maps)
def test_regions_are_those_of_scipy(labels: np.ndarray) -> None:
    # Outside truth: scipy.ndimage.label with its default structure, which is 4-connectivity.
    regions, area, label = label_regions(labels)
    for value in np.unique(labels):
        expected, count = ndimage.label(labels == value)
        assert count == np.count_nonzero(label == value)
        pairs = np.unique(np.stack([expected[labels == value], regions[labels == value]]), axis=1)
        assert pairs.shape[1] == count
    assert area.sum() == labels.size
    assert (label[regions] == labels).all()
    assert (np.bincount(regions.ravel()) == area).all()


@settings(deadline=None)
@given(maps, st.integers(1, 30))
def test_no_speck_is_left_unless_all_are_specks(labels: np.ndarray, least: int) -> None:
    before = labels.copy()
    removed = remove_specks(labels, least_pixels=least)
    assert set(np.unique(labels)) <= set(np.unique(before))
    if removed == 0:
        assert (labels == before).all()
    _, area_before, _ = label_regions(before)
    kept = int((area_before >= least).sum())
    if kept:
        # What was large enough only grows.
        _, area, _ = label_regions(labels)
        assert area.min() >= min(least, area_before[area_before >= least].min())


def test_a_speck_is_shared_between_its_neighbours() -> None:
    labels = np.zeros((9, 12), np.uint8)
    labels[:, 6:] = 1
    labels[3:6, 5:7] = 2
    assert remove_specks(labels, least_pixels=10) == 1
    assert (labels[:, :6] == 0).all()
    assert (labels[:, 6:] == 1).all()


@pytest.mark.parametrize("labels", [np.full((3, 3), 255, np.uint8), np.zeros((3, 3), np.uint8)])
def test_nothing_to_fill_with_or_nothing_to_fill_is_left_alone(labels: np.ndarray) -> None:
    before = labels.copy()
    fill_unlabelled(labels)
    assert (labels == before).all()
