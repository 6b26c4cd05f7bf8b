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


def left_within(around: Area, clears_mm: float) -> Area:
    """What a bit leaves within an area that it goes round."""
    return shrunk(around, clears_mm - _LAP_MM)


def rounded(part: Region, left: Area, step_over_mm: float, clears_mm: float, most_shift_mm: float) -> Region:
    """A polygon whose outline turns less sharply, for a bit that went round ``step_over_mm`` outside it.

    ``left`` is what that left (:func:`left_within`). No place of the new outline is farther from the old
    one's sides by more than ``most_shift_mm``, and of what was left outside it nothing stays.
    """
    clears = clears_mm - _LAP_MM
    here = shapely.intersection(left, part.buffer(max(step_over_mm - clears, 0.0) + _FAINT_MM))
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
        part = _without(part, ends, here, clears)
    return part


def _without(part: Region, ends: list[Region], left: shapely.Geometry, clears_mm: float) -> Region:
    """A polygon without those of its ends that nothing is left in when it is gone round."""
    for _ in range(2):
        if not ends:
            break
        # Where a tip runs out along the edge it leaves a thread, and a step.
        less = as_polygons(shapely.difference(part, shapely.union_all(ends)))
        less = as_polygons(shapely.simplify(grown(shrunk(less, _THREAD_MM), _THREAD_MM), _STEP_MM))
        if len(less.geoms) != 1:
            break
        stays = shapely.difference(left, grown(less, clears_mm))
        if stays.is_empty:
            return less.geoms[0]
        near = shapely.dwithin(np.asarray(ends, dtype=object), stays, 2.0 * clears_mm)
        ends = [end for end, spoilt in zip(ends, near, strict=True) if not spoilt]
    return part


def _is_an_end(tip: Region, opened: Area) -> bool:
    """Whether a tip hangs on what is opened at one side only; else it is a neck."""
    side = shapely.intersection(tip, shapely.buffer(shapely.intersection(opened, tip.buffer(0.02)), 0.01))
    return len(as_polygons(side).geoms) == 1
