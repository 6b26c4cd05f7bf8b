"""The leaves of a print: the ground that they stick to, where they are laid, and how many are bought."""

from collections.abc import Mapping, Sequence
from functools import lru_cache
from math import ceil

import numpy as np
import shapely
from shapely.geometry import MultiPolygon

from blockwright.geometry.square_cover import Cover, cover_with_squares
from blockwright.model.findings import Finding
from blockwright.model.leaf import Laying, Metal
from blockwright.model.separation import Impression
from blockwright.model.settings import SeparationTable
from blockwright.model.units import Area, PointMm
from blockwright.separation.finishes import Finishes

_COVERS_KEPT = 32
"""Covers that a process remembers: some prints' worth of metals."""

_CURVE = 16
"""Segments to a quarter circle of the ground's rounded corners."""


def leaves_for(leaves: int, *, sheets: int, waste_percent: float) -> int:
    """How many leaves an edition takes, what is spoilt counted.

    >>> leaves_for(3, sheets=60, waste_percent=15.0)
    207
    """
    return ceil(leaves * sheets * (100.0 + waste_percent) / 100.0 - 1e-9)


def lay_leaves(
    impressions: Sequence[Impression], finishes: Finishes, settings: SeparationTable, *, sheets: int
) -> tuple[Laying, ...]:
    """Lay the leaves of every metal on the fewest places; ``sheets`` are those that are printed.

    Raises SettingsError when the lap is half a leaf or more.
    """
    metals: Mapping[int, Metal] = finishes.leaf
    return tuple(
        _lay(each, metals[each.shapes[0]], settings, sheets) for each in impressions if each.kind == "leaf"
    )


def _lay(impression: Impression, metal: Metal, settings: SeparationTable, sheets: int) -> Laying:
    ground = ground_of(impression.area, settings.ground_beyond_mm)
    turn_deg = settings.leaf_turn_deg % 90.0
    cover = _covered(ground.wkb, metal.side_mm, settings.leaf_lap_mm, turn_deg)
    needed = leaves_for(len(cover.squares), sheets=sheets, waste_percent=settings.leaf_waste_percent)
    return Laying(
        impression=impression.number,
        metal=metal,
        ground=ground,
        leaves=cover.squares,
        lap_mm=settings.leaf_lap_mm,
        turn_deg=turn_deg,
        grid_mm=cover.grid_mm,
        fewest_known=cover.fewest_known,
        proven=cover.proven,
        sheets=sheets,
        leaves_needed=needed,
        books=ceil(needed / metal.per_book),
        at=_inside(ground),
    )


@lru_cache(maxsize=_COVERS_KEPT)
def _covered(ground_wkb: bytes, side_mm: float, lap_mm: float, turn_deg: float) -> Cover:
    """The cover of a ground, which an edit elsewhere leaves as it is."""
    ground: Area = shapely.from_wkb(ground_wkb)
    return cover_with_squares(ground, side_mm=side_mm, lap_mm=lap_mm, turn_deg=turn_deg)


def ground_of(area: Area, beyond_mm: float) -> Area:
    """The area that takes the ground, grown by ``beyond_mm`` or shrunk; a part that would vanish stays."""
    parts = np.array(list(area.geoms), dtype=object)
    grown = shapely.buffer(parts, beyond_mm, quad_segs=_CURVE)
    kept = np.where(shapely.is_empty(grown), parts, grown)
    union = shapely.union_all(kept)
    return MultiPolygon([each for each in shapely.get_parts(union) if each.geom_type == "Polygon"])


def _inside(area: Area) -> PointMm:
    largest = max(area.geoms, key=lambda part: part.area)
    point = shapely.point_on_surface(largest)
    return float(point.x), float(point.y)


def leaf_remarks(layings: Sequence[Laying]) -> list[Finding]:
    """What a careful colleague would say about the leaves."""
    remarks = []
    for laying in layings:
        name = laying.metal.name[:1].upper() + laying.metal.name[1:]
        small = [part for part in laying.ground.geoms if _longest_mm(part.bounds) < laying.lap_mm]
        if small:
            point = shapely.point_on_surface(small[0])
            what = "One shape" if len(small) == 1 else f"{len(small)} shapes"
            message = (
                f"{what} under {laying.metal.name} leaf would be smaller than the lap of "
                f"{laying.lap_mm:g} mm: leaf hardly holds on so little ground. "
                "Lay it from offcuts, or print it."
            )
            at = (float(point.x), float(point.y))
            remarks.append(Finding("leaf-small", "note", message, at, (("metal", laying.metal.name),)))
        if not laying.proven:
            message = (
                f"{name} leaf takes {len(laying.leaves)} leaves to a print; fewer may do, but no fewer than "
                f"{laying.fewest_known}: the search was ended. Look whether a row can be spared."
            )
            remarks.append(Finding("leaf-not-proven", "note", message, laying.at))
    return remarks


def _longest_mm(bounds: tuple[float, float, float, float]) -> float:
    left, top, right, bottom = bounds
    return max(right - left, bottom - top)
