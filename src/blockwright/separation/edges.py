"""Common edges of the shapes of a coverage, by matching their segments end for end."""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class SharedEdges:
    """Segments that two shapes have in common, one row each; shapes are numbered as given.

    ``first`` and ``second`` are the shapes on either side, ``ends`` has shape (n, 2, 2): two points in mm.
    The rows follow the outlines, so that neighbouring segments of one edge mostly are neighbours here too.
    Where rows are stretches of longer segments of the outlines, ``of`` has those.
    """

    first: NDArray[np.int64]
    second: NDArray[np.int64]
    ends: NDArray[np.float64]
    of: NDArray[np.float64] | None = None

    @property
    def outlines(self) -> NDArray[np.float64]:
        """The segments of the outlines that the rows are, or are stretches of: two points each."""
        return self.ends if self.of is None else self.of

    @property
    def length_mm(self) -> NDArray[np.float64]:
        """Length of every segment."""
        along = self.ends[:, 1] - self.ends[:, 0]
        length: NDArray[np.float64] = np.hypot(along[:, 0], along[:, 1])
        return length


def shared_edges(regions: NDArray[np.object_]) -> SharedEdges:
    """Find every segment that two polygons of a coverage share.

    In a valid coverage the polygons on both sides of an edge have exactly the same vertices along it (OGC
    Simple Features as GEOS tests it), so equal end points decide. Edges of an invalid coverage whose vertices
    differ are not found.

    >>> pair = np.array([shapely.box(0, 0, 1, 2), shapely.box(1, 0, 3, 2)])
    >>> edges = shared_edges(pair)
    >>> edges.length_mm.tolist(), sorted([int(edges.first[0]), int(edges.second[0])])
    ([2.0], [0, 1])
    """
    rings, ring_owner = shapely.get_rings(regions, return_index=True)
    points, ring_of_point = shapely.get_coordinates(rings, return_index=True)
    if len(points) == 0:
        nobody = np.empty(0, dtype=np.int64)
        return SharedEdges(nobody, nobody, np.empty((0, 2, 2)))
    _, node = np.unique(np.ascontiguousarray(points).view(np.complex128).ravel(), return_inverse=True)
    starts = np.flatnonzero((ring_of_point[1:] == ring_of_point[:-1]) & (node[1:] != node[:-1]))
    low = np.minimum(node[starts], node[starts + 1]).astype(np.int64)
    high = np.maximum(node[starts], node[starts + 1]).astype(np.int64)
    key = low * (int(node.max()) + 1) + high
    order = np.argsort(key, kind="stable")
    twice = np.flatnonzero(key[order][1:] == key[order][:-1])
    # The sort is stable, so that "one" is the earlier of the two along all outlines.
    one, other = starts[order[twice]], starts[order[twice + 1]]
    along = np.argsort(one)
    one, other = one[along], other[along]
    return SharedEdges(
        first=ring_owner[ring_of_point[one]],
        second=ring_owner[ring_of_point[other]],
        ends=np.stack([points[one], points[one + 1]], axis=1),
    )
