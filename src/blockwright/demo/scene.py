"""A picture as painted shapes, one over the other, whose true edges are therefore known."""

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon, box
from shapely.geometry.base import BaseGeometry

from blockwright.model.errors import PictureError


@dataclass(frozen=True, slots=True)
class PaintedShape:
    """One area in one flat colour, or in a vertical run from ``colour`` to ``fade_to``.

    Colours are ``#rrggbb`` (sRGB). The run starts at the top of the area's bounds and ends at their
    bottom; it is linear in the encoded values, as painting programs make it.
    """

    name: str
    area: MultiPolygon
    colour: str
    fade_to: str | None = None


@dataclass(frozen=True, slots=True)
class Scene:
    """A picture of ``width_mm`` by ``height_mm``; later shapes cover earlier ones."""

    title: str
    width_mm: float
    height_mm: float
    paper_hex: str
    shapes: tuple[PaintedShape, ...]


def as_area(*geometries: BaseGeometry) -> MultiPolygon:
    """Join geometries and keep their polygons; points and lines that an overlay leaves are dropped.

    >>> as_area(box(0, 0, 2, 1), box(1, 0, 3, 1)).area
    3.0
    """
    joined = geometries[0] if len(geometries) == 1 else shapely.union_all(geometries)
    parts = shapely.get_parts(shapely.get_parts(joined))
    return MultiPolygon([part for part in parts if isinstance(part, Polygon) and not part.is_empty])


def rgb_of(hex_colour: str) -> tuple[int, int, int]:
    """Red, green and blue (0 to 255) of ``#rrggbb``.

    >>> rgb_of("#f6efdf")
    (246, 239, 223)
    """
    digits = hex_colour.removeprefix("#")
    try:
        red, green, blue = bytes.fromhex(digits)
    except ValueError:
        raise PictureError(f"{hex_colour!r} is no colour; write it as #rrggbb.") from None
    return red, green, blue


def hex_of(rgb: NDArray[np.float64]) -> str:
    """``#rrggbb`` of three numbers from 0 to 255, each rounded to the nearest whole one.

    >>> hex_of(np.array([246.2, 238.9, 223.0]))
    '#f6efdf'
    """
    return "#" + bytes(int(value) for value in np.clip(np.rint(rgb), 0, 255)).hex()


def colour_at(shape: PaintedShape, y_mm: NDArray[np.float64]) -> NDArray[np.float64]:
    """The shape's colour at each height, as rows of red, green and blue from 0 to 255.

    Above and below the shape's bounds the run goes on with its end colours.
    """
    first = np.array(rgb_of(shape.colour), dtype=np.float64)
    if shape.fade_to is None:
        return np.tile(first, (len(y_mm), 1))
    last = np.array(rgb_of(shape.fade_to), dtype=np.float64)
    _, top, _, bottom = shape.area.bounds
    along = np.clip((y_mm - top) / (bottom - top), 0.0, 1.0)
    return np.asarray(first + along[:, None] * (last - first), dtype=np.float64)


@lru_cache(maxsize=4)
def visible_shapes(scene: Scene) -> tuple[PaintedShape, ...]:
    """What the eye sees of each shape once the later ones lie over it, in the same order.

    Shapes that are wholly covered are left out. Where a run is cut short, its end colours are moved to
    the visible bounds. Together with the paper that nothing covers, the areas tile the sheet.
    """
    open_sheet: BaseGeometry = box(0.0, 0.0, scene.width_mm, scene.height_mm)
    seen: list[PaintedShape] = []
    for shape in reversed(scene.shapes):
        area = as_area(shapely.intersection(shape.area, open_sheet))
        open_sheet = shapely.difference(open_sheet, shape.area)
        if not area.is_empty:
            seen.append(_cut_to(shape, area))
    bare = as_area(open_sheet)
    if not bare.is_empty:
        seen.append(PaintedShape("bare paper", bare, scene.paper_hex))
    return tuple(reversed(seen))


def _cut_to(shape: PaintedShape, area: MultiPolygon) -> PaintedShape:
    if shape.fade_to is None:
        return replace(shape, area=area)
    _, top, _, bottom = area.bounds
    ends = colour_at(shape, np.array([top, bottom]))
    return replace(shape, area=area, colour=hex_of(ends[0]), fade_to=hex_of(ends[1]))
