"""Narrow bands at the ends of a run: where it sets in so steeply that no soft border joins them to it."""

import numpy as np
import shapely
from numpy.typing import NDArray

from blockwright.geometry.coverage import Coverage
from blockwright.model.design import Run

_WIDEST_MM = 4.0
"""A run that sets in steeply has a first band of this width at most, mm: in it the colour steps off more
quickly than a soft border may."""

_AHEAD = 24.0
"""The colour of that band is ahead of the run's end by less than this, CIELAB units."""

_ASIDE, _ASIDE_SHARE = 2.0, 0.25
"""And aside of the run's own way by less than the first and this part of what it is ahead."""

_ALONG = 0.3
"""Of its outline at least this part is common with the run: a band has two sides."""


def first_bands(
    coverage: Coverage,
    beside: NDArray[np.int64],
    colours: NDArray[np.float64],
    run: Run,
    regions: NDArray[np.int64],
) -> list[int]:
    """Which of the regions ``beside`` a run's own may be its first band, in order.

    ``colours`` (n, 3) are the mean colours of those beside, CIELAB.
    """
    shapes = coverage.polygons[beside]
    narrow = 2.0 * shapely.area(shapes) < _WIDEST_MM * shapely.length(shapes)
    likely = beside[narrow & _ahead(colours, run)].tolist()
    return [k for k in likely if _along(coverage, k, regions)]


def _ahead(colours: NDArray[np.float64], run: Run) -> NDArray[np.bool_]:
    """Which colours lie ahead of either end of a run, by a little and on its own way."""
    found = np.zeros(len(colours), dtype=np.bool_)
    for end, other in ((run.lab[0], run.lab[-1]), (run.lab[-1], run.lab[0])):
        way = np.subtract(end, other) / np.linalg.norm(np.subtract(end, other))
        by = (colours - end) @ way
        aside = np.linalg.norm(colours - end - by[:, None] * way, axis=1)
        found |= (by > 0.0) & (by < _AHEAD) & (aside < _ASIDE + _ASIDE_SHARE * by)
    return found


def _along(coverage: Coverage, region: int, regions: NDArray[np.int64]) -> bool:
    """Whether a region lies along some others: a good part of its outline is common with them."""
    outline = shapely.boundary(coverage.polygons[region])
    common = shapely.length(shapely.intersection(outline, coverage.polygons[regions]))
    return bool(common.sum() > _ALONG * shapely.length(outline))
