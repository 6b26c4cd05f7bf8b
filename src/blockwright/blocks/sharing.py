"""Which impressions cannot stand on one face, and a proven lower bound for the number of faces.

Two impressions whose areas lie too near one another cannot share a face, because the brush of one ink would
touch the other. Impressions that are all too near each other, a clique of this conflict graph, need a face
each; so the largest clique is a lower bound for the number of faces.
"""

from collections.abc import Sequence
from math import nextafter

import numpy as np
import shapely

from blockwright.model.units import Area

WORK_LIMIT = 200_000
"""Steps of the search after which the best clique so far is taken. It is still a valid bound. Graphs of 40
impressions take a few hundred steps; the limit is for hostile ones of hundreds."""

SAME_MM = 0.01
"""Areas whose edges lie no farther apart are the same, mm: no gouge follows less."""


def find_conflicts(
    areas: Sequence[Area],
    *,
    nearer_than_mm: float,
    others: Sequence[Area] | None = None,
    masked: int = 0,
    masked_mm: float = 0.0,
) -> list[int]:
    """Return for each area the set of the others that lie nearer than a distance (mm), as a bit mask.

    Areas that overlap always conflict, whatever the distance, but for two that are the same: one carving
    serves both. Areas that are exactly as far apart as the distance do not conflict, and an empty area does
    with none. Between two areas of the bit mask ``masked`` the distance is ``masked_mm`` where that is less.
    ``others`` are the same areas as they lie for the second of each pair, such as turned.

    >>> from shapely.geometry import MultiPolygon, box
    >>> near, far = MultiPolygon([box(0, 0, 10, 10)]), MultiPolygon([box(40, 0, 50, 10)])
    >>> find_conflicts([near, far], nearer_than_mm=30.0), find_conflicts([near, far], nearer_than_mm=31.0)
    ([0, 0], [2, 1])
    """
    conflicts = [0] * len(areas)
    seconds = areas if others is None else others
    for i, first in enumerate(areas):
        shapely.prepare(first)
        for j in range(i + 1, len(areas)):
            both_masked = masked >> i & masked >> j & 1
            distance_mm = min(masked_mm, nearer_than_mm) if both_masked else nearer_than_mm
            if _too_near(first, seconds[j], distance_mm) and not same_area(first, seconds[j]):
                conflicts[i] |= 1 << j
                conflicts[j] |= 1 << i
        shapely.destroy_prepared(first)
    return conflicts


def overlap(first: Area, second: Area) -> bool:
    """Whether two areas have wood in common and are not the same: no face can carry both."""
    return _too_near(first, second, 0.0) and not same_area(first, second)


def same_area(first: Area, second: Area) -> bool:
    """Whether two areas are the same but for :data:`SAME_MM` along their edges."""
    edge_mm = float(first.length)
    if first.is_empty or abs(edge_mm - second.length) > 0.05 * edge_mm:
        return False
    allowed_mm2 = edge_mm * SAME_MM
    if abs(first.area - second.area) > allowed_mm2:
        return False
    return bool(shapely.symmetric_difference(first, second).area <= allowed_mm2)


def _too_near(first: Area, second: Area, nearer_than_mm: float) -> bool:
    # GEOS measures level segments through a division by zero that it catches, but the flag stays set.
    with np.errstate(divide="ignore", invalid="ignore"):
        if nearer_than_mm > 0:
            return bool(shapely.dwithin(first, second, nextafter(nearer_than_mm, 0.0)))
        return bool(shapely.intersects(first, second) and not shapely.touches(first, second))


def largest_clique(conflicts: Sequence[int], *, work_limit: int = WORK_LIMIT) -> tuple[int, ...]:
    """Return a largest set of vertices that all conflict with each other, in rising order.

    ``conflicts`` holds a bit mask of neighbours for each vertex. Branch and bound: the candidates are
    coloured greedily, and a branch is left when its colours cannot beat the best clique yet (Tomita & Seki,
    "An efficient branch-and-bound algorithm for finding a maximum clique", DMTCS 2003). When ``work_limit``
    steps are used up, the largest clique found so far is returned.

    >>> largest_clique([0b0110, 0b0101, 0b1011, 0b0100])
    (0, 1, 2)
    """
    best: list[int] = []
    steps = 0

    def extend(clique: list[int], candidates: int) -> None:
        nonlocal best, steps
        if len(clique) > len(best):
            best = list(clique)
        for vertex, colours in reversed(_colour(candidates, conflicts)):
            if len(clique) + colours <= len(best) or steps >= work_limit:
                return
            steps += 1
            extend([*clique, vertex], candidates & conflicts[vertex])
            candidates &= ~(1 << vertex)

    extend([], (1 << len(conflicts)) - 1)
    return tuple(sorted(best))


def _colour(candidates: int, conflicts: Sequence[int]) -> list[tuple[int, int]]:
    """Colour the candidates greedily; return (vertex, colours used so far), fewest colours first."""
    coloured = []
    colours = 0
    while candidates:
        colours += 1
        free = candidates
        while free:
            vertex = (free & -free).bit_length() - 1
            coloured.append((vertex, colours))
            candidates &= ~(1 << vertex)
            free &= ~(1 << vertex) & ~conflicts[vertex]
    return coloured
