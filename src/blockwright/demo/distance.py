"""What lies behind the mill: sky, sun, mist, the far shore, the pond's lights and the heron."""

import shapely
from shapely import affinity
from shapely.geometry import Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from blockwright.demo import palette
from blockwright.demo.curves import close_gaps, land_under, lens, ribbon, smooth_area
from blockwright.demo.scene import PaintedShape, as_area
from blockwright.model.units import PointMm

SHORE_MM = 104.5
"""Where the pond meets the far shore."""
SKY_END_MM = 93.5
"""Where the sky's run ends: at the lowest saddle of the hills, so that its warmest colour is seen."""
SUN_MM = (104.0, 72.5)
SUN_RADIUS_MM = 13.0
FEATHER_MM = 0.55
"""Sky that parts the heron's far wing from the near one."""

CLOUDS = (
    (170, 71.0, 72, 2.0), (173, 67.2, 34, 1.6), (44, 62.0, 60, 2.0), (44, 58.4, 32, 1.6),
    (342, 60.0, 60, 2.2), (351, 56.2, 42, 1.6),
)  # fmt: skip
SUN_GLINTS = ((104, 107.6, 30, 1.3), (102, 110.6, 20, 1.2), (107, 113.6, 28, 1.4), (104, 117.0, 16, 1.3))
HEADLAND_GLINTS = ((20, 106.6, 84, 2.6), (12, 109.6, 50, 1.6), (30, 112.2, 30, 1.1))
HILL_GLINTS = (
    (176, 106.4, 70, 2.0), (160, 109.6, 44, 1.4), (182, 113.2, 30, 1.2),
    (334, 106.6, 60, 2.0), (346, 110, 40, 1.4),
)  # fmt: skip
"""Level strokes: middle, length and thickness, mm."""
MIST = ((166, 240, 97.0, 3.2), (136, 240, 100.8, 2.4), (280, 372, 98.4, 3.0), (322, 372, 95.8, 2.8))
"""Bars of mist: from, to, height in the picture and thickness, mm."""


def sky_and_sun() -> list[PaintedShape]:
    """The graded sky, bars of cloud, and the sun."""
    first, last = palette.SKY
    sun = Point(SUN_MM).buffer(SUN_RADIUS_MM, quad_segs=48)
    return [
        PaintedShape("dusk sky", as_area(box(0, 0, 360, SKY_END_MM)), first, last),
        PaintedShape("clouds", _strokes(CLOUDS), palette.LILAC),
        PaintedShape("sun", as_area(sun), palette.GOLD),
    ]


def _strokes(strokes: tuple[tuple[float, float, float, float], ...]) -> BaseGeometry:
    return as_area(*[lens((x, y), long, thick) for x, y, long, thick in strokes])


def far_shore() -> list[PaintedShape]:
    """Three ranks of land, each nearer one darker, with bars of mist between them."""
    far = land_under(
        [(-8, 84), (22, 79), (52, 83), (86, 90), (118, 92.5), (150, 86), (182, 76.5), (206, 73), (232, 78),
         (268, 86), (300, 84), (330, 78), (368, 83)],
        SHORE_MM + 1,
    )  # fmt: skip
    middle = land_under(
        [(-8, 90), (20, 89), (48, 94), (80, 98.5), (112, 100), (140, 98), (172, 93.5), (214, 89), (250, 92),
         (290, 95), (322, 91), (368, 93)],
        SHORE_MM + 1,
    )  # fmt: skip
    mist = [ribbon([(a, y), ((a + b) / 2, y), (b, y)], [thick] * 3) for a, b, y, thick in MIST]
    return [
        PaintedShape("far hills", as_area(far), palette.LILAC),
        PaintedShape("middle hills", as_area(middle), palette.SLATE),
        PaintedShape("mist", as_area(*mist), palette.PAPER),
        PaintedShape("headland", as_area(_headland()), palette.PINE),
    ]


def _headland() -> BaseGeometry:
    """The point on the left where the dam lands, with its pines."""
    crest = [(-8, 98.5), (8, 97.6), (22, 99), (36, 99.4), (50, 101.4), (66, 102.6), (78, 103.4), (84, 108)]
    bushes = [
        _dome((x, y), r) for x, y, r in ((-1, 99.5, 5.5), (16, 99.6, 3.6), (40, 101, 3.6), (57, 103, 3.2))
    ]
    ground = close_gaps(shapely.union_all([land_under(crest, 110), *bushes]), gap=3.0)
    pines = [
        _pine((9, 99), 21.0, 3.5),
        _pine((23, 100), 13.5, -1.5),
        _pine((35, 101), 17.0, 4.0),
        _pine((50, 102.5), 9.5, -1.2),
    ]
    return close_gaps(shapely.union_all([ground, *pines]), gap=0.6)


def _dome(foot: PointMm, radius: float) -> Polygon:
    outline = ((-1.0, 0.0), (-0.6, -0.7), (0.0, -1.0), (0.7, -0.6), (1.0, 0.0))
    return smooth_area([(foot[0] + radius * a, foot[1] + radius * b) for a, b in outline])


def _pine(foot: PointMm, tall: float, lean: float) -> BaseGeometry:
    """A shore pine: a leaning trunk with level pads of needles, the widest in the middle."""
    x, y = foot
    trunk = [
        (x, y + 1),
        (x + 0.1 * lean, y - 0.35 * tall),
        (x + 0.65 * lean, y - 0.7 * tall),
        (x + lean, y - 0.97 * tall),
    ]
    pads = [
        _pad((x + lean * share**1.6 + side * tall, y - share * tall), length * tall, 0.13 * tall)
        for share, length, side in (
            (0.46, 0.42, 0.16),
            (0.58, 0.62, -0.14),
            (0.74, 0.56, 0.1),
            (0.87, 0.46, -0.04),
            (0.98, 0.28, 0.0),
        )
    ]
    return shapely.union_all([ribbon(trunk, [0.085 * tall, 0.07 * tall, 0.055 * tall, 0.5]), *pads])


def _pad(middle: PointMm, length: float, thick: float) -> Polygon:
    """A level pad of needles: domed above, nearly flat below."""
    outline = (
        (-0.5, 0.1), (-0.36, -0.5), (-0.12, -0.8), (0.1, -1.0), (0.34, -0.55), (0.5, 0.05),
        (0.2, 0.3), (-0.2, 0.3),
    )  # fmt: skip
    return smooth_area([(middle[0] + length * a, middle[1] + thick * b) for a, b in outline])


def lights_on_the_pond() -> list[PaintedShape]:
    """What the standing water gives back of hills, headland and sun."""
    return [
        PaintedShape("hills in the water", _strokes(HILL_GLINTS), palette.LILAC),
        PaintedShape("headland in the water", _strokes(HEADLAND_GLINTS), palette.SLATE),
        PaintedShape("sun glints", _strokes(SUN_GLINTS), palette.PAPER),
    ]


def heron() -> list[PaintedShape]:
    """A heron on the wing, meant for blind embossing."""
    near_wing = _wing(
        [(-5.0, 2.0), (-6.2, -3.6), (-4.6, -10.0), (0.4, -16.4), (7.0, -20.6), (11.0, -20.0), (11.6, -15.6),
         (10.2, -10.0), (9.0, -4.0), (7.2, 2.2)],
        wrist=(6.4, -17.0),
        tips=[(13.6, -26.6), (16.4, -24.0), (18.0, -20.6), (18.2, -16.8)],
    )  # fmt: skip
    far_wing = _wing(
        [(-3.5, 1.8), (-8.8, -3.0), (-12.6, -8.4), (-15.0, -14.4), (-14.4, -18.0), (-10.6, -17.4),
         (-6.6, -12.4), (-3.0, -6.0), (-0.6, 1.0)],
        wrist=(-12.6, -14.0),
        tips=[(-18.4, -21.8), (-16.0, -23.6), (-12.8, -23.4)],
    )  # fmt: skip
    neck_and_back = ribbon(
        [
            (-10.2, 0.4),
            (-8.6, -0.4),
            (-6.6, 0.6),
            (-7.2, 2.6),
            (-4.4, 3.4),
            (1.0, 3.0),
            (6.0, 3.0),
            (10.0, 3.4),
        ],
        [1.8, 2.5, 2.0, 2.2, 4.6, 5.4, 3.8, 2.0],
    )
    bill = ribbon([(-8.6, -0.2), (-12.6, 0.7), (-17.6, 1.7)], [2.3, 1.2, 0.5])
    legs = ribbon([(5, 3), (14, 4.6), (20, 5.2), (22.4, 5.1), (24.8, 5.8)], [3.0, 1.0, 0.7, 0.9, 0.5])
    near = close_gaps(shapely.union_all([near_wing, neck_and_back, bill, legs]), gap=1.0)
    bird = as_area(near, shapely.difference(far_wing, near.buffer(FEATHER_MM)))
    return [PaintedShape("heron", affinity.translate(bird, 162, 51), palette.HERON)]


def _wing(arm: list[PointMm], *, wrist: PointMm, tips: list[PointMm]) -> BaseGeometry:
    """A wing: the arm's area, and primaries that spread from the wrist."""
    feathers = [
        ribbon([wrist, ((wrist[0] + x) / 2, (wrist[1] + y) / 2), (x, y)], [3.0, 2.9, 1.0]) for x, y in tips
    ]
    return shapely.union_all([smooth_area(arm).buffer(0), *feathers])
