"""The flats at low water: sand, wet margins, the creeks that drain them, and the water itself."""

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from blockwright.demo import palette
from blockwright.demo.camera import EYE
from blockwright.demo.curves import lens, ribbon, spline
from blockwright.demo.distance import SHORE_MM
from blockwright.demo.mill import LENGTH_M, at
from blockwright.demo.scene import PaintedShape, as_area
from blockwright.demo.shore import left_dam, raised, right_dam

BANK_M = 0.24
"""Height of the creek banks above the water."""
MARGIN_M = 1.5
"""How far the ground beside the creeks is wet."""
LAP_MM = 0.06
"""How far the water is painted over its near bank, so that no hair of another colour is left between."""

CREEKS = {
    "race": (
        (336, 172.5, 1.6), (314, 175, 1.9), (288, 177.6, 2.1), (256, 181.4, 2.2), (226, 186, 2.3),
        (196, 188.5, 2.0), (164, 186.5, 1.5), (134, 184.2, 1.25), (112, 186.5, 1.25), (108, 193, 1.3),
        (132, 199.5, 1.4), (172, 204, 1.5), (208, 209.5, 1.6), (226, 217, 1.9), (212, 228, 2.3),
        (170, 245, 2.9),
    ),
    "left": (
        (-10, 169, 0.45), (22, 166.5, 0.5), (46, 168.5, 0.55), (56, 173, 0.6), (50, 178.5, 0.65),
        (64, 184.5, 0.75), (92, 187.5, 0.95), (110, 189, 1.1),
    ),
    "right": (
        (372, 197, 0.4), (344, 200.5, 0.5), (314, 200, 0.55), (288, 204, 0.65), (262, 212, 0.8),
        (226, 217, 1.0),
    ),
}  # fmt: skip
"""Courses of the creeks: x and y in the picture in mm, and half the width on the ground in metres."""

RIPPLES = (
    (186, 232.5, 34, 1.2), (203, 225.5, 22, 1.0), (176, 237, 22, 1.1), (207, 220.3, 15, 0.9),
    (233, 187.3, 24, 1.0), (190, 189.6, 20, 1.0), (150, 204.2, 18, 0.9), (300, 174.4, 14, 0.9),
)  # fmt: skip
"""Light on the running water: middle, length and thickness, mm."""


def tidal_flats() -> list[PaintedShape]:
    """Sand with its wet margins, the far banks that show, all water, and the light on it."""
    channels = _channels()
    wet = _margin(shapely.union_all([_creek("race"), _creek("left")]), MARGIN_M)
    # the far bank is what the lowered water leaves open of the channel
    creeks = shapely.intersection(channels, _lowered(channels)).buffer(-0.5).buffer(0.5 + LAP_MM)
    water = shapely.intersection(shapely.union_all([_pond(), creeks]), box(0, 0, 360, 240))
    first, last = palette.WATER
    return [
        PaintedShape("sand flats", as_area(_flats()), palette.SAND),
        PaintedShape("wet margins", as_area(wet), palette.CLAY),
        PaintedShape("banks", as_area(channels), palette.UMBER),
        PaintedShape("water", as_area(water), first, last),
        PaintedShape("silver streak", _silver_streak(), palette.SILVER),
        PaintedShape(
            "ripples", as_area(*[lens((x, y), long, thick) for x, y, long, thick in RIPPLES]), palette.SILVER
        ),
    ]


def _flats() -> Polygon:
    """All the ground below the dam."""
    crest = raised(left_dam(), 0.3)[::-1]
    return Polygon(np.vstack([crest, [[370, 160], [370, 250], [crest[0, 0], 250]]]))


def _pond() -> Polygon:
    """The standing water, down to where the dam hides it."""
    near = np.vstack([raised(left_dam()[::-1], 0.9), raised(right_dam(), 0.9)])
    return Polygon(np.vstack([[[near[0, 0], SHORE_MM]], near, [[near[-1, 0], SHORE_MM]]]))


def _channels() -> BaseGeometry:
    """The creeks, joined to the pool at the long wall; corners rounded as water leaves them."""
    pool = EYE.project(
        [at(t, out, 0.0) for t, out in ((0.6, -0.5), (LENGTH_M, -0.5), (LENGTH_M, 3), (0.6, 3))]
    )
    joined = shapely.union_all([*(_creek(name) for name in CREEKS), Polygon(pool)])
    return joined.buffer(2.5).buffer(-3.3).buffer(0.8)


def _creek(name: str) -> BaseGeometry:
    """One creek as the eye sees it; what is narrower than 0.8 mm in the picture is left out."""
    course = spline(np.array(CREEKS[name]), step=1.0)
    ground = EYE.ground(course[:, :2])
    along = np.gradient(ground, axis=0)
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    aside = np.stack([-along[:, 1], along[:, 0]], axis=1) * course[:, 2:]
    left, right = EYE.on_ground(ground + aside), EYE.on_ground(ground - aside)
    quads = [Polygon([left[i], left[i + 1], right[i + 1], right[i]]) for i in range(len(left) - 1)]
    water = shapely.union_all([quad.buffer(0.01) for quad in quads])
    return water.buffer(0.8).buffer(-1.6).buffer(0.8)


def _lowered(area: BaseGeometry) -> BaseGeometry:
    """An area of the ground lowered by the height of the banks, as the eye sees it."""
    scale = 1 + BANK_M / EYE.eye_m

    def lower(points: NDArray[np.float64]) -> NDArray[np.float64]:
        below = (points[:, 1] - EYE.horizon_mm) * scale
        return np.column_stack([points[:, 0], EYE.horizon_mm + below])

    return shapely.transform(area, lower)


def _margin(area: BaseGeometry, reach_m: float) -> BaseGeometry:
    """The ground within ``reach_m`` of an area, as the eye sees it."""
    ground = shapely.transform(area.simplify(0.05), EYE.ground)
    return shapely.transform(ground.buffer(reach_m, quad_segs=24), EYE.on_ground)


def _silver_streak() -> BaseGeometry:
    """Water left standing on the flats below the dam, bright with the sky."""
    course = [
        (-8, 145), (18, 142.6), (44, 144.6), (66, 149.6), (92, 154.4), (122, 155.4), (146, 159.6), (168, 167),
    ]  # fmt: skip
    streak = ribbon(course, [1.4, 3.8, 1.6, 4.4, 2.2, 4.0, 2.0, 0.7])
    return as_area(streak, lens((108, 162.4), 34, 1.6), lens((266, 195.0), 34, 1.3))


def wall_in_the_race() -> list[PaintedShape]:
    """The long wall's dark reflection in the race."""
    along = np.linspace(0.1, LENGTH_M - 0.2, 60)
    reach = np.interp(along, [0.1, 1.5, LENGTH_M - 1.5, LENGTH_M - 0.2], [0.2, 1.5, 1.5, 0.2])
    reach *= 1 + 0.2 * np.sin(1.7 * along) + 0.13 * np.sin(3.9 * along + 1.0)
    near = EYE.project([at(float(t), float(out), 0.0) for t, out in zip(along, reach, strict=True)])
    wall = EYE.project([at(float(t), -0.2, 0.0) for t in along[::-1]])
    dark = Polygon(np.vstack([spline(near, step=0.5), wall]))
    return [PaintedShape("wall in the race", as_area(dark), palette.PINE)]
