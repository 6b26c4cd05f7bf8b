"""The wood that does not print: what stands for the marks, what is cleared, what may stay as an island.

All areas are in face coordinates, mm.
"""

from collections.abc import Sequence
from functools import lru_cache
from typing import Any

import shapely
from shapely.geometry import MultiPolygon, Polygon, box

from blockwright.model.blocks import BlockSet, Kento
from blockwright.model.units import Area, Region

PAD_MM = 6.0
"""Wood left standing round the marks, mm [CP]: the sheet rests on it and the walls keep their strength."""

ISLAND_MM = 20.0
"""Standing waste narrower than this is not worth leaving, mm [CP]: its shoulders are rounded from all sides.
The wood outside the sheet and round the marks stands too, and counts towards the width."""

OFFSET_STEPS = (1 / 16, 3 / 16, 3 / 4)
"""The reach is offset in these parts. One step of a rough edge, every tooth of which throws its own arc,
takes minutes where three take a second: the first small one smooths the edge for the next."""

STRAY = 1 / 100
"""How far the copy that is offset may stray from the edge before each step, as a part of the whole reach
and then of the step before: in all not 0.4 mm of 25 mm, less than a gouge follows."""

_FACES_KEPT = 128
"""Faces whose waste a process remembers, for what the next edit leaves alone: some prints' worth."""


def stand_marks(blocks: BlockSet, marks: Sequence[Kento] | None = None) -> Area:
    """Return the marks with the pad of standing wood round them, outside the image, on the block.

    ``marks`` are those of a face, two pairs where the block is also laid down turned and none on a part
    block; None stands for those that all full faces have. The pad keeps off the image, where standing wood
    would take ink; the recesses are always part of it.
    """
    if marks is None:
        marks = (blocks.kento,)
    recesses = shapely.union_all(
        [recess for kento in marks for recess in (kento.kagi_recess, kento.hikitsuke_recess)]
    )
    image = image_on_face(blocks, turned=len(marks) > 1)
    pad = shapely.difference(shapely.buffer(recesses, PAD_MM, join_style="mitre"), image)
    return as_area(shapely.intersection(shapely.union(pad, recesses), blocks.block))


def find_waste(blocks: BlockSet, printing: Area, marks: Sequence[Kento] | None = None) -> Area:
    """Return what lies under the sheet, on the block, and neither prints nor stands for the marks.

    ``marks`` are as for :func:`stand_marks`; where the block is also laid down turned, the sheet lies on it
    in both ways.
    """
    sheet = blocks.sheet
    if marks is not None and len(marks) > 1:
        sheet = shapely.union(sheet, _turned(sheet, blocks))
    under_sheet = shapely.intersection(sheet, blocks.block)
    return as_area(shapely.difference(shapely.difference(under_sheet, stand_marks(blocks, marks)), printing))


def image_on_face(blocks: BlockSet, *, turned: bool) -> Region | Area:
    """Return where the image lies on the face; ``turned``: in both ways in which the block is laid down."""
    image = box(0, 0, blocks.image_width_mm, blocks.image_height_mm)
    return shapely.union(image, _turned(image, blocks)) if turned else image


def _turned(region: Region, blocks: BlockSet) -> Region:
    """A rectangle as it lies when the block is turned by half about its middle."""
    left, top, right, bottom = blocks.block.bounds
    x0, y0, x1, y1 = region.bounds
    return box(left + right - x1, top + bottom - y1, left + right - x0, top + bottom - y0)


@lru_cache(maxsize=_FACES_KEPT)
def split_waste(waste: Area, printing: Area, *, reach_mm: float) -> tuple[Area, Area]:
    """Split waste into what is cleared and what may stay as an island.

    Islands lie farther than ``reach_mm`` from every printing edge and are, with the standing wood that they
    join, at least :data:`ISLAND_MM` wide; everything else is cleared. The process remembers what it split.
    """
    near = _grow(printing, reach_mm)
    if waste.is_empty or shapely.covers(near, box(*waste.bounds)):
        return waste, MultiPolygon()
    left, top, right, bottom = waste.bounds
    round_about = box(left - ISLAND_MM, top - ISLAND_MM, right + ISLAND_MM, bottom + ISLAND_MM)
    standing = shapely.difference(round_about, near)
    core = shapely.buffer(standing, -ISLAND_MM / 2, quad_segs=16)
    wide = shapely.intersection(shapely.buffer(core, ISLAND_MM / 2, quad_segs=16), standing)
    island = as_area(shapely.intersection(waste, wide))
    return as_area(shapely.difference(waste, island)), island


def _grow(printing: Area, reach_mm: float) -> Any:
    """Return what lies within ``reach_mm`` of the printing area, to a fiftieth of the reach."""
    grown, stray_mm = printing, reach_mm * STRAY
    for part in OFFSET_STEPS:
        step_mm = reach_mm * part
        grown = shapely.buffer(shapely.simplify(grown, stray_mm), step_mm, quad_segs=16)
        stray_mm = step_mm * STRAY
    return grown


def as_area(geometry: Any) -> Area:
    """Keep the polygons of any geometry, as one area; lines and points, which have no area, are dropped.

    >>> as_area(box(0, 0, 2, 1)).area
    2.0
    """
    parts = shapely.get_parts(geometry)
    return MultiPolygon([part for part in parts if isinstance(part, Polygon) and not part.is_empty])
