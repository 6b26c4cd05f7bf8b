"""Tidies what the shapes leave visible: no crumbs and no hairs between them that a knife could not keep."""

from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.strtree import STRtree

from blockwright.demo.scene import PaintedShape, Scene, as_area

LEAST_AREA_MM2 = 1.8
"""Smaller visible pieces go to a neighbour; 1 mm2 is about the least that holds in carving. [CP]"""
LEAST_WIDTH_MM = 0.34
"""Narrower parts go to a neighbour; the thinnest line drawn, 0.4 mm, stays."""
CRUMB_MM2 = 0.004
"""Bits below this are left: they are the rounding of corners, a third of a pixel at 300 dpi."""
LAP_MM = 0.002
"""How far a piece laps over its neighbours, so that no hair is left between; a fortieth of a pixel."""
FLATNESS_MM = 0.005
"""How far a simplified edge may lie from the drawn one; a seventeenth of a pixel at 300 dpi."""
ROUNDS = 5
"""Moving a piece can make another; after five rounds nothing that can be seen is left to move."""


def settle(scene: Scene) -> Scene:
    """Give every visible piece that is too small or too narrow to the neighbour it borders most.

    A neighbour that is painted later grows over the piece; under an earlier one the piece is cut away.
    """
    sheet = shapely.box(0.0, 0.0, scene.width_mm, scene.height_mm)
    shapes = [
        replace(shape, area=as_area(shapely.intersection(shape.area.simplify(FLATNESS_MM), sheet)))
        for shape in scene.shapes
    ]
    for find in (loose_pieces, small_pieces):
        for _ in range(ROUNDS):
            if not _move_pieces(shapes, find):
                break
    shapes = [replace(shape, area=as_area(shapely.intersection(shape.area, sheet))) for shape in shapes]
    return replace(scene, shapes=tuple(shape for shape in shapes if not shape.area.is_empty))


def _visible(shapes: list[PaintedShape]) -> list[MultiPolygon]:
    open_sheet: BaseGeometry = shapely.box(*shapely.total_bounds([shape.area for shape in shapes]))
    seen = []
    for shape in reversed(shapes):
        seen.append(as_area(shapely.intersection(shape.area, open_sheet)))
        open_sheet = shapely.difference(open_sheet, shape.area)
    return seen[::-1]


def small_pieces(area: MultiPolygon) -> list[Polygon]:
    """The parts of an area that are too small to keep."""
    return [part for part in area.geoms if part.area < LEAST_AREA_MM2]


def loose_pieces(area: MultiPolygon) -> list[Polygon]:
    """The parts of an area that are too small to keep, or narrower than the least width."""
    return [piece for part in area.geoms for piece in _loose_in(part)]


@lru_cache(maxsize=2048)
def _loose_in(part: Polygon) -> tuple[Polygon, ...]:
    if part.area < LEAST_AREA_MM2:
        return (part,)
    half = LEAST_WIDTH_MM / 2
    core = part.buffer(-half, join_style="mitre").buffer(half, join_style="mitre", mitre_limit=3)
    rest = as_area(shapely.difference(part, core.buffer(1e-6)))
    hairs = tuple(piece for piece in rest.geoms if piece.area > CRUMB_MM2)
    if len(shapely.get_parts(core)) == 1:
        return hairs
    kept = as_area(shapely.intersection(part, core))
    return (*hairs, *small_pieces(kept))


def _move_pieces(shapes: list[PaintedShape], find: Callable[[MultiPolygon], list[Polygon]]) -> int:
    """Move every piece that ``find`` finds; returns how many were moved."""
    visible = _visible(shapes)
    gains: dict[int, list[BaseGeometry]] = {}
    losses: dict[int, list[BaseGeometry]] = {}
    parts, part_owner = shapely.get_parts(visible, return_index=True)
    tree = STRtree(parts)
    moved = 0
    for owner, area in enumerate(visible):
        for piece in find(area):
            lap = piece.buffer(LAP_MM, join_style="mitre")
            near = np.sort(tree.query(lap, predicate="intersects"))
            near = near[part_owner[near] != owner]
            if len(near) == 0:
                continue
            common_mm2 = shapely.area(shapely.intersection(parts[near], lap))
            taker = int(part_owner[near[np.argmax(common_mm2)]])
            moved += 1
            side = gains.setdefault(taker, []) if taker > owner else losses.setdefault(owner, [])
            side.append(lap)
    for index in gains.keys() | losses.keys():
        area = shapely.union_all([shapes[index].area, *gains.get(index, [])])
        area = shapely.difference(area, shapely.union_all(losses.get(index, [])))
        shapes[index] = replace(shapes[index], area=as_area(area))
    return moved
