"""The tide mill: a timber house on a stone foot, its gable to the evening light."""

import math
from collections.abc import Callable

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from blockwright.demo import palette
from blockwright.demo.camera import EYE, Place
from blockwright.demo.curves import line
from blockwright.demo.scene import PaintedShape, as_area

TURN = math.radians(35.0)
CORNER_M = (4.9, 55.5)
"""The nearest corner, metres to the right of the eye and away from it; the long wall runs off by TURN."""
LENGTH_M, DEPTH_M = 11.5, 7.0
HALF_M = DEPTH_M / 2
FOOT_M, EAVES_M, RIDGE_M = 2.3, 6.3, 11.0
"""Heights of the stone foot, of the walls and of the roof."""
WEED_M = 0.95
"""How high the tide stains the stone."""
LAP_M, OVER_M, THICK_M = 0.7, 0.6, 0.45
"""How far the roof reaches past the long walls and past the gable, and how thick its edge is."""
LOW_M = EAVES_M - LAP_M * (RIDGE_M - EAVES_M) / HALF_M
SHADE_M = 0.75
"""How far below the eaves their shadow falls."""
COURSE_M = 1.62
"""Height of the joint in the stone foot."""
FLOOR_M, TIE_M = 5.0, 7.1
"""Heights of the two timbers across the gable."""
WINDOW_M = (1.0, 2.2, 3.3, 4.5)
GABLE_WINDOW_M = (2.8, 4.1, 3.1, 4.4)
DOOR_M = (2.75, 4.25, 5.2, 7.1)
"""Openings: from, to along the wall, and from, to in height."""

POST_MM, FRAME_MM, OUTLINE_MM, PLANK_MM = 1.0, 0.8, 0.6, 0.4
"""Key lines on the paper: sill, timbers, outlines, and the thinnest, which stands for planks and joints."""
RIDGE_MM = 2.4


def at(along: float, out: float, up: float) -> Place:
    """Where the eye has a place of the mill's own frame.

    The frame counts metres along the long wall, out from it, and above the water.
    """
    right = CORNER_M[0] + along * math.cos(TURN) + out * math.sin(TURN)
    away = CORNER_M[1] + along * math.sin(TURN) - out * math.cos(TURN)
    return right, away, up


def seen(places: list[Place]) -> NDArray[np.float64]:
    """Places in the mill's own frame to points of the picture, mm."""
    return EYE.project([at(*place) for place in places])


def face(places: list[Place]) -> Polygon:
    """The area of the picture inside places in the mill's own frame."""
    return Polygon(seen(places))


def edge(places: list[Place], width_mm: float = OUTLINE_MM, *, flat: bool = False) -> BaseGeometry:
    """A line of the picture through places in the mill's own frame; its width is that on the paper."""
    return line(seen(places), width_mm, flat=flat)


def on_wall(t0: float, t1: float, z0: float, z1: float) -> Polygon:
    """A rectangle on the long wall."""
    return face([(t0, 0, z0), (t1, 0, z0), (t1, 0, z1), (t0, 0, z1)])


def on_gable(s0: float, s1: float, z0: float, z1: float) -> Polygon:
    """A rectangle on the gable wall, counted in metres back from the nearest corner."""
    return face([(0, -s0, z0), (0, -s1, z0), (0, -s1, z1), (0, -s0, z1)])


def house(behind_wheel: BaseGeometry) -> list[PaintedShape]:
    """Walls, roof, windows and their key lines; planks and joints are left out behind the wheel."""
    gable = face(
        [
            (0, 0, FOOT_M),
            (0, 0, EAVES_M),
            (0, -HALF_M, RIDGE_M),
            (0, -DEPTH_M, EAVES_M),
            (0, -DEPTH_M, FOOT_M),
        ]
    )
    weed = as_area(on_wall(0, LENGTH_M, 0, WEED_M), on_gable(0, DEPTH_M, 0, WEED_M))
    shade = on_wall(0, LENGTH_M, LOW_M - SHADE_M, EAVES_M)
    windows = as_area(on_wall(*WINDOW_M), on_gable(*GABLE_WINDOW_M))
    boards = shapely.difference(shapely.union(_planks(), _stones()), behind_wheel)
    lines = as_area(boards, _timbers(), _bars(on_wall, WINDOW_M), _bars(on_gable, GABLE_WINDOW_M))
    return [
        PaintedShape("lime-washed gable", as_area(gable), palette.PAPER),
        PaintedShape("lit stone foot", as_area(on_gable(0, DEPTH_M, 0, FOOT_M)), palette.CLAY),
        PaintedShape("shaded stone foot", as_area(on_wall(0, LENGTH_M, 0, FOOT_M)), palette.SLATE),
        PaintedShape("weed on the foot", weed, palette.UMBER),
        PaintedShape("boarded wall", as_area(on_wall(0, LENGTH_M, FOOT_M, EAVES_M)), palette.RUSSET),
        PaintedShape("eaves shadow", as_area(shade), palette.UMBER),
        PaintedShape("lit windows", windows, palette.SAND),
        PaintedShape("hoist door", as_area(on_gable(*DOOR_M)), palette.MADDER),
        PaintedShape("wall lines", lines, palette.BLACK),
        *_roof(),
    ]


def _planks() -> BaseGeometry:
    heights = np.arange(FOOT_M + 0.55, LOW_M - SHADE_M - 0.05, 0.5)
    lines = shapely.union_all([edge([(0, 0, z), (LENGTH_M, 0, z)], PLANK_MM) for z in heights])
    sill = edge([(0, 0, FOOT_M), (LENGTH_M, 0, FOOT_M)])
    return shapely.union(shapely.difference(lines, on_wall(*WINDOW_M)), sill)


def _timbers() -> BaseGeometry:
    door = on_gable(*DOOR_M)
    leaf = (DOOR_M[0] + DOOR_M[1]) / 2
    corners = [edge([(t, -s, 0), (t, -s, EAVES_M)]) for t, s in ((0, 0), (0, DEPTH_M), (LENGTH_M, 0))]
    posts = [edge([(0, -s, FOOT_M), (0, -s, TIE_M)], FRAME_MM) for s in (1.75, 5.25)]
    return shapely.union_all(
        [
            *corners,
            *posts,
            edge([(0, 0, FOOT_M), (0, -DEPTH_M, FOOT_M)], POST_MM),
            edge([(0, 0, FLOOR_M), (0, -DEPTH_M, FLOOR_M)], FRAME_MM),
            edge([(0, -0.5, TIE_M), (0, -DEPTH_M + 0.5, TIE_M)], FRAME_MM),
            door.exterior.buffer(OUTLINE_MM / 2),
            edge([(0, -leaf, DOOR_M[2]), (0, -leaf, DOOR_M[3])], PLANK_MM),
        ]
    )


def _bars(
    rectangle: Callable[[float, float, float, float], Polygon], opening: tuple[float, float, float, float]
) -> BaseGeometry:
    """The frame of a window and one bar each way."""
    pane = rectangle(*opening)
    corners = np.asarray(pane.exterior.coords)[:4]
    low, right, high, left = (corners + np.roll(corners, -1, axis=0)) / 2
    bars = [line(np.array([low, high]), PLANK_MM), line(np.array([left, right]), PLANK_MM)]
    return shapely.union_all([pane.exterior.buffer(OUTLINE_MM / 2), *bars])


def _stones() -> BaseGeometry:
    joints = [
        edge([(0, 0, COURSE_M), (LENGTH_M, 0, COURSE_M)], PLANK_MM),
        edge([(0, 0, COURSE_M), (0, -DEPTH_M, COURSE_M)], PLANK_MM),
    ]
    for low, high, first_t, first_s in ((WEED_M, COURSE_M, 0.9, 1.0), (COURSE_M, FOOT_M, 1.5, 1.8)):
        joints += [edge([(t, 0, low), (t, 0, high)], PLANK_MM) for t in np.arange(first_t, LENGTH_M, 1.35)]
        joints += [edge([(0, -s, low), (0, -s, high)], PLANK_MM) for s in np.arange(first_s, DEPTH_M, 1.7)]
    return shapely.union_all(joints)


def _roof() -> list[PaintedShape]:
    """The long slope that faces the eye, its edge, the soffit and the bargeboards of the gable."""
    end, back = LENGTH_M + OVER_M, -DEPTH_M - LAP_M
    near_low, near_high = (-OVER_M, LAP_M, LOW_M), (-OVER_M, -HALF_M, RIDGE_M)
    far_low, far_high = (end, LAP_M, LOW_M), (end, -HALF_M, RIDGE_M)
    under = LOW_M - THICK_M
    eaves = face([near_low, far_low, (end, LAP_M, under), (-OVER_M, LAP_M, under)])
    soffit = face([near_high, (-OVER_M, back, LOW_M), (0.3, back, LOW_M), (0.3, -HALF_M, RIDGE_M - THICK_M)])
    barge = face(
        [
            near_low,
            near_high,
            (-OVER_M, back, LOW_M),
            (-OVER_M, back, under),
            (-OVER_M, -HALF_M, RIDGE_M - 1.7 * THICK_M),
            (-OVER_M, LAP_M, under),
        ]
    )
    outline = [edge([near_low, far_low, far_high]), edge([near_low, near_high])]
    ridge = edge([(-OVER_M - 0.2, -HALF_M, RIDGE_M + 0.1), (end + 0.2, -HALF_M, RIDGE_M + 0.1)], RIDGE_MM)
    return [
        PaintedShape("soffit", as_area(soffit), palette.BLACK),
        PaintedShape("roof", as_area(face([near_low, far_low, far_high, near_high])), palette.PINE),
        PaintedShape("roof edge", as_area(eaves, barge), palette.UMBER),
        PaintedShape("roof lines", as_area(*outline, *_roof_courses()), palette.BLACK),
        PaintedShape("ridge", as_area(ridge), palette.UMBER),
    ]


def _roof_courses() -> list[BaseGeometry]:
    """Level courses of the slope, each broken in its own place."""
    breaks = (
        ((0.0, 0.36), (0.43, 0.9)),
        ((0.08, 0.55), (0.62, 1.0)),
        ((0.0, 0.2), (0.26, 0.74)),
        ((0.14, 0.62), (0.7, 1.0)),
    )
    span = LENGTH_M + 2 * OVER_M
    lines = []
    for course in range(1, 8):
        share = course / 8
        out = LAP_M - share * (HALF_M + LAP_M)
        up = LOW_M + share * (RIDGE_M - LOW_M)
        for start, stop in breaks[course % 4]:
            ends: list[Place] = [(-OVER_M + span * start, out, up), (-OVER_M + span * stop, out, up)]
            lines.append(edge(ends, PLANK_MM))
    return lines
