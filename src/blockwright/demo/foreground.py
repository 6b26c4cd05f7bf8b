"""What stands nearest: the reed banks, the stranded boat, the mooring posts and two small birds."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from blockwright.demo import palette
from blockwright.demo.curves import close_gaps, land_under, line, ribbon, smooth_area, spline
from blockwright.demo.scene import PaintedShape, as_area
from blockwright.model.units import PointMm

GRASS_SEED = 11
"""How the blades on the near banks stand and lean."""
BELOW_MM = 250.0
"""Under the picture's lower edge, where the near banks end."""
THINNEST_MM = 0.4
"""The thinnest line drawn: ropes, legs and bills."""


@dataclass(frozen=True, slots=True)
class Blade:
    """A reed's blade: where it leaves the stem (a share of it), to which side, and how far it reaches."""

    share: float
    side: int
    reach_mm: float


@dataclass(frozen=True, slots=True)
class Reed:
    """A reed: x of its foot, height, how far its tip leans to the right, and its blades."""

    foot_mm: float
    tall_mm: float
    lean_mm: float
    blades: tuple[Blade, ...]


REEDS = (
    Reed(5.0, 66, 9, (Blade(0.30, 1, 30),)),
    Reed(12.5, 86, 17, (Blade(0.26, -1, 24),)),
    Reed(21.0, 72, 13, (Blade(0.20, 1, 25), Blade(0.42, -1, 20))),
    Reed(30.0, 92, 21, (Blade(0.34, 1, 30),)),
    Reed(39.0, 60, 15, (Blade(0.24, -1, 18),)),
    Reed(49.0, 70, 19, (Blade(0.18, 1, 24), Blade(0.40, 1, 22))),
    Reed(61.0, 48, 14, (Blade(0.26, 1, 23),)),
    Reed(323.0, 36, -7, (Blade(0.34, -1, 20),)),
    Reed(335.0, 52, -10, (Blade(0.30, 1, 22), Blade(0.50, -1, 18))),
    Reed(349.0, 43, -9, (Blade(0.36, -1, 20),)),
)


def near_banks() -> list[PaintedShape]:
    """Dark mud and two ranks of salt grass in the lower corners."""
    mud = (
        [(-10, 214), (12, 211), (34, 214), (58, 220.5), (84, 224.4), (108, 229.4), (130, 235.4), (148, 244)],
        [(262, 246), (276, 238), (296, 232), (318, 224), (340, 217), (370, 210)],
    )
    pale = (
        [(-9, 215.4), (13, 213), (37, 216.4), (61, 224.4), (87, 229.4), (113, 237.4), (121, 244)],
        [(287, 245.4), (303, 237), (323, 229.8), (343, 222), (371, 214.4)],
    )
    dark = (
        [(-10, 219), (14, 216.5), (40, 220), (62, 228), (86, 232), (104, 238), (112, 244)],
        [(292, 246), (306, 239), (324, 233), (342, 225), (370, 218)],
    )
    return [
        PaintedShape("near mud", as_area(*[land_under(crest, BELOW_MM) for crest in mud]), palette.UMBER),
        PaintedShape("pale salt grass", as_area(*[_tufted(crest) for crest in pale]), palette.SAGE),
        PaintedShape("salt grass", as_area(*[_tufted(crest) for crest in dark]), palette.PINE),
    ]


def _tufted(crest: Sequence[PointMm]) -> BaseGeometry:
    """A grassy bank with short blades along its upper edge."""
    random = np.random.default_rng(GRASS_SEED)
    rim = spline(crest)
    blades = []
    for x, y in rim[:: max(1, len(rim) // 60)]:
        tall = random.uniform(3.0, 8.0)
        lean = random.uniform(-0.2, 0.7) * tall
        course = [(x, y + 2.0), (x + 0.35 * lean, y - 0.5 * tall), (x + lean, y - tall)]
        blades.append(ribbon(course, [2.6, 1.8, 0.6]))
    return close_gaps(shapely.union_all([land_under(crest, BELOW_MM), *blades]))


def reeds() -> list[PaintedShape]:
    """Reed stems and blades in the darkest colour, with russet heads."""
    stems, heads = zip(*[_reed(reed) for reed in REEDS], strict=True)
    return [
        PaintedShape("reed heads", as_area(*heads), palette.RUSSET),
        PaintedShape("reeds", as_area(*stems), palette.BLACK),
    ]


def _reed(reed: Reed) -> tuple[BaseGeometry, BaseGeometry]:
    """A reed's stem with its blades, and its head."""
    x, y, tall, lean = reed.foot_mm, 243.0, reed.tall_mm, reed.lean_mm
    stem = spline(
        [(x, y), (x + 0.12 * lean, y - 0.4 * tall), (x + 0.45 * lean, y - 0.78 * tall), (x + lean, y - tall)]
    )
    joints = stem[::8]
    strokes = [ribbon(joints, np.linspace(0.8, 0.5, len(joints)).tolist())]
    for blade in reed.blades:
        start = stem[int(blade.share * len(stem))]
        steps = np.array([(0, 0), (0.12, -0.42), (0.38, -0.80), (0.72, -0.94), (1.0, -0.80)])
        course = start + steps * np.array((blade.side, 1)) * blade.reach_mm
        strokes.append(ribbon(course, [0.75, 0.8, 0.8, 0.65, 0.4]))
    way = np.array((np.copysign(1.0, lean), 1.0))
    plume = joints[-1] + way * np.array([(-0.3, 0.8), (1.8, -3.2), (5.4, -5.6), (9.8, -5.0)])
    return shapely.union_all(strokes), ribbon(plume, [0.8, 2.3, 1.9, 0.6])


def boat() -> list[PaintedShape]:
    """A flat-bottomed boat that the tide left on the sand."""
    sheer = spline([(-21.0, -6.4), (-14, -3.2), (-4, -1.6), (6, -1.4), (15, -2.6), (22.0, -5.2)])
    far = spline([(22.0, -5.2), (11, -5.0), (-4, -4.9), (-13, -5.4), (-21.0, -6.4)])
    keel = spline([(17.5, 3.2), (7, 5.2), (-7, 5.2), (-16.5, 2.6)])
    inside = Polygon(np.vstack([sheer, far]))
    thwarts = as_area(*[Polygon([(x, -6), (x + 2.2, -6), (x + 3.2, 0), (x + 0.8, 0)]) for x in (-8.0, 4.5)])
    shadow = smooth_area(
        [(-17.5, 2.0), (-8, 3.6), (7, 3.6), (18, 2.0), (25, 3.0), (17, 5.4), (6, 6.5), (-8, 6.5), (-16, 4.6)]
    )
    parts = (
        ("boat shadow", shadow, palette.UMBER),
        ("boat inside", inside, palette.BLACK),
        ("boat thwarts", shapely.intersection(thwarts, inside), palette.CLAY),
        ("boat side", Polygon(np.vstack([sheer, keel])), palette.SLATE),
        ("boat strake", Polygon(np.vstack([sheer, (sheer + np.array((0.0, 2.0)))[::-1]])), palette.MADDER),
        ("boat rim", as_area(line(sheer, 0.6), line(far, 0.5)), palette.BLACK),
    )
    return [PaintedShape(name, as_area(_beached(part)), colour) for name, part, colour in parts]


def _beached(part: BaseGeometry) -> BaseGeometry:
    """A part of the boat, heeled a little and put on its place on the sand."""
    return affinity.translate(affinity.rotate(part, -3, origin=(0, 0)), 155.0, 191.6)


def mooring_posts() -> list[PaintedShape]:
    """Three posts in the race with their reflections, and the boat's rope."""
    posts = ((209, 189.5, 16.5, 1.7), (199, 190.6, 13.0, 1.6), (192, 189.4, 14.5, 1.6))
    upright = [line([(x, y), (x + 0.4, y - tall)], wide, flat=True) for x, y, tall, wide in posts]
    mirrored = [
        line([(x, y - 0.2), (x - 0.5, y + 0.22 * tall)], wide, flat=True) for x, y, tall, wide in posts
    ]
    rope = line(spline([(176.6, 185.4), (182, 185.4), (188, 182.6), (192.2, 177.6)]), THINNEST_MM)
    return [
        PaintedShape("posts in the water", as_area(*mirrored), palette.UMBER),
        PaintedShape("mooring posts", as_area(*upright, rope), palette.BLACK),
    ]


def waders() -> list[PaintedShape]:
    """Two small birds that feed on the flats."""
    bird = as_area(
        ribbon([(-2.2, -0.3), (-0.6, 0.0), (1.2, -0.5), (2.0, -1.6)], [0.6, 1.9, 1.5, 1.0]),
        line([(2.2, -1.7), (4.3, -0.7)], THINNEST_MM),
        line([(-0.3, 0.6), (-0.6, 3.2)], THINNEST_MM),
        line([(0.5, 0.6), (0.9, 3.0)], THINNEST_MM),
    )
    left = affinity.translate(affinity.scale(bird, -1, 1, origin=(0, 0)), 258, 187.5)
    return [PaintedShape("waders", as_area(left, affinity.translate(bird, 270, 190)), palette.BLACK)]
