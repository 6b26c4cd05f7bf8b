"""What a face prints: the areas of its impressions as one."""

from collections.abc import Sequence
from itertools import combinations

import shapely
from shapely.geometry import MultiPolygon

from blockwright.model.blocks import FacePart
from blockwright.model.units import Area


def all_that_prints(parts: Sequence[FacePart]) -> Area:
    """The areas of the parts as one: as they are where they lie apart, else joined."""
    areas = [part.printing for part in parts]
    if all(shapely.disjoint(one, other) for one, other in combinations(areas, 2)):
        return MultiPolygon([region for area in areas for region in area.geoms])
    joined = shapely.union_all(areas)
    return joined if isinstance(joined, MultiPolygon) else MultiPolygon([joined])
