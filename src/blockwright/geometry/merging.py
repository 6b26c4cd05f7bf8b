"""Neighbours within a coverage, and shapes that grow together when they get the same label."""

import numpy as np
import shapely

from blockwright.geometry.coverage import Coverage

_EDGE_MM = 1e-6
"""A common edge shorter than this is a touching corner."""


def neighbours(
    coverage: Coverage, shape: int, tree: shapely.STRtree | None = None
) -> list[tuple[int, float]]:
    """Shapes that share an edge with the given one, and the length of that edge in mm.

    ``tree`` is a search tree over the coverage's polygons; without it one is made.

    >>> row = np.array([shapely.box(0, 0, 1, 1), shapely.box(1, 0, 2, 1), shapely.box(2, 0, 3, 1)])
    >>> neighbours(Coverage(row, np.array([0, 1, 0], np.uint8)), 0)
    [(1, 1.0)]
    """
    polygon = coverage.polygons[shape]
    near = (tree or shapely.STRtree(coverage.polygons)).query(polygon, predicate="intersects")
    near = np.sort(near[near != shape])
    edges = shapely.length(shapely.intersection(polygon.boundary, shapely.boundary(coverage.polygons[near])))
    return [(int(n), float(e)) for n, e in zip(near, edges, strict=True) if e > _EDGE_MM]


def dissolve(coverage: Coverage, changed: list[int]) -> Coverage:
    """Join the changed shapes with the neighbours that have their label.

    >>> row = np.array([shapely.box(0, 0, 1, 1), shapely.box(1, 0, 2, 1), shapely.box(2, 0, 3, 1)])
    >>> joined = dissolve(Coverage(row, np.array([0, 0, 1], np.uint8)), [1])
    >>> [polygon.area for polygon in joined.polygons], joined.labels.tolist()
    ([2.0, 1.0], [0, 1])
    """
    tree = shapely.STRtree(coverage.polygons)
    group: dict[int, set[int]] = {shape: {shape} for shape in changed}
    for shape in changed:
        for neighbour, _ in neighbours(coverage, shape, tree):
            if coverage.labels[neighbour] == coverage.labels[shape]:
                joined = group[shape] | group.get(neighbour, {neighbour})
                for member in joined:
                    group[member] = joined
    polygons, labels = coverage.polygons.copy(), coverage.labels
    gone: set[int] = set()
    for members in {frozenset(g) for g in group.values() if len(g) > 1}:
        first, *rest = sorted(members)
        union = shapely.coverage_union_all(coverage.polygons[[first, *rest]])
        polygons[first] = shapely.get_parts(union)[0]
        gone.update(rest)
    keep = np.array([k not in gone for k in range(len(polygons))])
    return Coverage(polygons[keep], labels[keep])


def absorb_small(coverage: Coverage, *, least_mm2: float) -> Coverage:
    """Give every shape under ``least_mm2`` to the neighbour with the longest common edge, smallest first.

    >>> row = np.array([shapely.box(0, 0, 3, 1), shapely.box(3, 0, 3.1, 1), shapely.box(3.1, 0, 6, 1)])
    >>> calm = absorb_small(Coverage(row, np.array([0, 1, 2], np.uint8)), least_mm2=0.5)
    >>> calm.labels.tolist()
    [0, 2]
    """
    while True:
        area = shapely.area(coverage.polygons)
        small = np.flatnonzero(area < least_mm2)
        if not len(small) or len(coverage.polygons) == 1:
            return coverage
        tree = shapely.STRtree(coverage.polygons)
        labels = coverage.labels.copy()
        changed: list[int] = []
        touched: set[int] = set()
        for shape in small[np.argsort(area[small], kind="stable")].tolist():
            around = neighbours(coverage, shape, tree)
            if shape in touched or not around:
                continue
            widest = max(around, key=lambda pair: (pair[1], -pair[0]))[0]
            labels[shape] = labels[widest]
            changed.append(shape)
            # A neighbour that is small too waits for the next round, when it may have grown.
            touched.update({shape, *(n for n, _ in around)})
        if not changed:
            return coverage
        coverage = dissolve(Coverage(coverage.polygons, labels), changed)
