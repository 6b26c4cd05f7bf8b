"""Rings rounded where they turn sharply, for a machine nearly stops at a sharp corner.

A ring within another one may leave out the tip of an inside corner: the bit is wide, and what lies in the tip
is cleared by the ring around. Where rings lie a step s apart, a bit of radius r clears r to each side, and a
corner is rounded by R so that its tip lies h farther from the ring than before, R / (R + h) is the sine of
half its angle, and of what lies on its middle line nothing is left while [der]

    (s + R - r) (R + h) / R <= r + R
"""

import numpy as np
import shapely
from shapely.geometry import MultiPolygon

from blockwright.cutting.wanted import as_polygons, grown, shrunk
from blockwright.model.units import Area, Region

_ROUNDS = (1.6, 1.0, 0.6, 0.3)
"""Radii that are tried, the largest first, for a bit that clears 1 mm to each side."""

_FAINT_MM = 0.03
"""Tips that are less high are left as they are."""

_THIN_MM = 0.01
"""What is thinner on average lies between two ways of drawing the same curve."""

_THREAD_MM = 0.03
"""Half of what a thread is wide at most."""

_STEP_MM = 0.015
"""Steps in an outline that are less high are straightened."""

_LAP_MM = 0.05
"""What a bit is taken to clear less than it is wide."""


def rounded(part: Region, step_over_mm: float, clears_mm: float, most_shift_mm: float) -> Region:
    """A polygon whose outline turns less sharply, for a bit that came round ``step_over_mm`` outside it too.

    No place of its outline is farther from the old one's sides by more than ``most_shift_mm``.
    """
    clears = clears_mm - _LAP_MM
    for share in _ROUNDS:
        radius = share * clears_mm
        opened = grown(shrunk(MultiPolygon([part]), radius), radius)
        if opened.is_empty:
            continue
        tips = np.asarray(as_polygons(shapely.difference(part, opened)).geoms, dtype=object)
        tips = tips[shapely.area(tips) > _THIN_MM * shapely.length(tips) / 2.0]
        if not len(tips):
            continue
        shapely.prepare(opened)
        places, of = shapely.get_coordinates(tips, return_index=True)
        high = np.zeros(len(tips))
        np.maximum.at(high, of, shapely.distance(opened, shapely.points(places)))
        blunt = (radius + high) / radius
        fit = (high > _FAINT_MM) & ((step_over_mm + radius - clears) * blunt <= clears + radius)
        fit &= high / blunt <= most_shift_mm
        ends = [tip for tip in tips[fit] if _is_an_end(tip, opened)]
        if not ends:
            continue
        # Where a tip runs out along the edge it leaves a thread, and a step.
        less = as_polygons(shapely.difference(part, shapely.union_all(ends)))
        less = as_polygons(shapely.simplify(grown(shrunk(less, _THREAD_MM), _THREAD_MM), _STEP_MM))
        if len(less.geoms) == 1:
            part = less.geoms[0]
    return part


def _is_an_end(tip: Region, opened: Area) -> bool:
    """Whether a tip hangs on what is opened at one side only; else it is a neck."""
    side = shapely.intersection(tip, shapely.buffer(shapely.intersection(opened, tip.buffer(0.02)), 0.01))
    return len(as_polygons(side).geoms) == 1
