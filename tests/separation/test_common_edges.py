"""Common edges found by their segments, against GEOS."""

from itertools import combinations

import numpy as np
import pytest
import shapely
from drawn import strips, voronoi_coverage

from blockwright.separation.edges import shared_edges


@pytest.mark.parametrize("seed", range(4))
def test_lengths_agree_with_geos(seed: int) -> None:
    regions = voronoi_coverage(seed, 25)
    edges = shared_edges(regions)
    found: dict[tuple[int, int], float] = {}
    for a, b, length in zip(
        edges.first.tolist(), edges.second.tolist(), edges.length_mm.tolist(), strict=True
    ):
        pair = (min(a, b), max(a, b))
        found[pair] = found.get(pair, 0.0) + length
    for a, b in combinations(range(len(regions)), 2):
        common = shapely.intersection(regions[a].boundary, regions[b].boundary).length
        assert found.get((a, b), 0.0) == pytest.approx(common, abs=1e-6)


def test_holes_count_too() -> None:
    island = shapely.box(2, 2, 4, 4)
    edges = shared_edges(np.array([shapely.box(0, 0, 6, 6).difference(island), island]))
    assert edges.length_mm.sum() == pytest.approx(8.0)


def test_outer_border_is_nobodys_common_edge() -> None:
    edges = shared_edges(np.array(strips(2.0, 3.0)))
    assert edges.length_mm.tolist() == [20.0]


def test_nothing_in_common() -> None:
    assert len(shared_edges(np.array([shapely.box(0, 0, 1, 1), shapely.box(5, 5, 6, 6)])).first) == 0
    assert len(shared_edges(np.array([], dtype=object)).first) == 0
