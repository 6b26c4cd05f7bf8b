"""Arcs on the pixel lattice: GEOS must find exactly the regions' areas between them."""

import numpy as np
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from blockwright.geometry.arcs import trace_arcs
from blockwright.geometry.labelling import label_regions

maps = hnp.arrays(np.uint8, hnp.array_shapes(min_dims=2, max_dims=2, max_side=16), elements=st.integers(0, 2))


@settings(deadline=None)
@given(maps)
def test_polygons_between_the_arcs_are_the_regions(labels: np.ndarray) -> None:
    # Outside truth: areas by GEOS's polygonizer, against counted pixels.
    arcs = trace_arcs(labels)
    lines = [
        shapely.LineString(arcs.points[a:b]) for a, b in zip(arcs.start[:-1], arcs.start[1:], strict=True)
    ]
    polygons = shapely.get_parts(shapely.polygonize(lines))
    _, area, _ = label_regions(labels)
    assert sorted(shapely.area(polygons).tolist()) == sorted(area.astype(float).tolist())


@settings(deadline=None)
@given(maps)
def test_every_crack_is_walked_once_and_knows_its_sides(labels: np.ndarray) -> None:
    height, width = labels.shape
    arcs = trace_arcs(labels)
    cracks = 2 * (height + width)
    cracks += int((labels[:, 1:] != labels[:, :-1]).sum() + (labels[1:] != labels[:-1]).sum())
    steps = np.concatenate(
        [np.diff(arcs.points[a:b], axis=0) for a, b in zip(arcs.start[:-1], arcs.start[1:], strict=True)]
    )
    assert len(steps) == cracks
    assert (np.abs(steps).sum(axis=1) == 1).all()
    flat = labels.ravel().astype(int)
    left = np.where(arcs.left >= 0, flat[arcs.left], -1)
    right = np.where(arcs.right >= 0, flat[arcs.right], -1)
    assert (left != right).all()


def test_a_disc_on_a_ground_is_one_closed_arc() -> None:
    labels = np.zeros((20, 20), np.uint8)
    labels[5:12, 6:14] = 1
    arcs = trace_arcs(labels)
    assert arcs.closed.sum() == 1
    assert len(arcs.left) == 5
