"""The water wheel at the long wall, and the sluice in the dam that feeds it."""

import math

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from blockwright.demo import palette
from blockwright.demo.camera import Place
from blockwright.demo.mill import EAVES_M, FRAME_MM, LENGTH_M, OUTLINE_MM, PLANK_MM, edge, face, on_wall
from blockwright.demo.scene import PaintedShape, as_area

CENTRE_M, AXLE_M = 6.0, 2.45
"""Where the axle stands: metres along the long wall and above the water."""
BACK_M, FRONT_M = 0.7, 2.1
"""How far the wheel's two rims stand out from the wall."""
TIP_M, ROOT_M, RIM_M, INNER_M, HUB_M = 2.85, 2.05, 2.62, 2.36, 0.42
"""Radii: the floats' tips and roots, the rim, its inside, the hub."""
FLOATS, SPOKES = 16, 8
SPOKE_MM, GATE_POST_MM, GATE_BEAM_MM = 1.3, 1.5, 1.3
GATE_M = (0.9, 3.1)
"""From where to where the sluice opens, metres out from the long wall's line."""


def water_wheel() -> list[PaintedShape]:
    """The back rim, the floats, the front rim with its spokes, and the hub."""
    # the floats farther along the wall are farther from the eye, and so are covered by the others
    order = sorted(range(FLOATS), key=lambda n: (-round(math.cos(math.tau * n / FLOATS), 9), n))
    floats = [_float(n / FLOATS) for n in order]
    spokes = [
        edge([_on_wheel(0.2, n / SPOKES, FRONT_M), _on_wheel(INNER_M + 0.1, n / SPOKES, FRONT_M)], SPOKE_MM)
        for n in range(SPOKES)
    ]
    front = as_area(_ring(RIM_M, INNER_M, FRONT_M), _disc(HUB_M, FRONT_M), *spokes)
    return [
        PaintedShape("wheel back", as_area(_ring(RIM_M, INNER_M + 0.06, BACK_M)), palette.BLACK),
        PaintedShape("wheel floats", as_area(*floats), palette.SAGE),
        PaintedShape("float edges", as_area(_outlines_from_behind(floats)), palette.BLACK),
        PaintedShape("wheel front", front, palette.BLACK),
    ]


def covered_wall() -> BaseGeometry:
    """What the wheel covers of the long wall, and the wall from there to its far end."""
    rims = shapely.union_all([_disc(INNER_M, out) for out in (BACK_M, FRONT_M)]).convex_hull
    return shapely.union(rims, on_wall(CENTRE_M + INNER_M, LENGTH_M, 0.0, EAVES_M))


def _on_wheel(radius: float, turn: float, out: float) -> Place:
    """A place on the wheel; ``turn`` in whole turns from the far side upwards."""
    angle = math.tau * turn
    return CENTRE_M + radius * math.cos(angle), out, AXLE_M + radius * math.sin(angle)


def _disc(radius: float, out: float) -> Polygon:
    return face([_on_wheel(radius, step / 180, out) for step in range(180)])


def _ring(outer: float, inner: float, out: float) -> BaseGeometry:
    return shapely.difference(_disc(outer, out), _disc(inner, out))


def _float(turn: float) -> Polygon:
    corners = ((ROOT_M, BACK_M), (TIP_M, BACK_M), (TIP_M, FRONT_M), (ROOT_M, FRONT_M))
    return face([_on_wheel(radius, turn, out) for radius, out in corners])


def _outlines_from_behind(areas: list[Polygon]) -> BaseGeometry:
    """Outlines of areas of which each covers those before it."""
    lines: BaseGeometry = Polygon()
    for area in areas:
        lines = shapely.union(shapely.difference(lines, area), area.exterior.buffer(PLANK_MM / 2))
    return lines


def sluice() -> list[PaintedShape]:
    """The opening in the dam, its gate half drawn, the frame that lifts it, and the rail on the dam."""
    left, right = GATE_M
    frame = [
        *[_upright(out, -0.4, 4.9, GATE_POST_MM) for out in GATE_M],
        *[_level(left - 0.5, right + 0.5, up, GATE_BEAM_MM) for up in (2.3, 4.6)],
        *[_level(left, right, up, PLANK_MM) for up in (1.35, 1.8)],
        _upright((left + right) / 2, 1.0, 5.4, FRAME_MM),
    ]
    return [
        PaintedShape("sluice mouth", as_area(_in_dam(left, right, -0.4, 2.2)), palette.BLACK),
        PaintedShape("sluice gate", as_area(_in_dam(left, right, 0.9, 2.2)), palette.RUSSET),
        PaintedShape("sluice frame", as_area(*frame, *_rail()), palette.BLACK),
    ]


def _rail() -> list[BaseGeometry]:
    """The handrail along the dam's near end."""
    posts = [_upright(float(out), 1.6, 3.1, FRAME_MM) for out in np.arange(4.6, 12.0, 1.7)]
    return [*posts, _level(3.1, 12.0, 3.0, OUTLINE_MM)]


def _in_dam(out0: float, out1: float, low: float, high: float) -> Polygon:
    return face(
        [(LENGTH_M, out0, low), (LENGTH_M, out1, low), (LENGTH_M, out1, high), (LENGTH_M, out0, high)]
    )


def _upright(out: float, low: float, high: float, width_mm: float) -> BaseGeometry:
    return edge([(LENGTH_M, out, low), (LENGTH_M, out, high)], width_mm, flat=True)


def _level(out0: float, out1: float, up: float, width_mm: float) -> BaseGeometry:
    return edge([(LENGTH_M, out0, up), (LENGTH_M, out1, up)], width_mm, flat=True)
