"""Whether the registration marks come out where and as deep as they should: cut anew on much finer cells."""

from dataclasses import dataclass

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray

from blockwright.cutting.cells import cells_inside
from blockwright.cutting.simulating import Stretches, Surface, carve
from blockwright.cutting.sweeping import AX, AY, FLAT_MM
from blockwright.model.blocks import Kento
from blockwright.model.units import PointMm, Region

MARK_CELL_MM = 0.02
"""Cells on which marks are looked at, mm."""

AROUND_MM = 1.0
"""How much of what is round a recess is looked at, mm."""

MARK_WITHIN_MM = 0.05
"""How far a wall may be out of place, and a recess out of its depth, mm [CP]."""

_ALONG = (0.25, 0.75)
"""The part of a wall that is measured: its ends may be relieved for the sheet's corner."""

_OFF_WALL_MM = 0.6
"""How far to both sides of a wall the crossing is looked for, mm."""


@dataclass(frozen=True, slots=True)
class MarkCheck:
    """One recess: its name, whether it is cut at all, how far its walls and its depth are out, mm.

    ``position_mm`` is that of the wall farthest out of place, ``depth_mm`` the middle depth, ``uneven_mm``
    how far any place away from the walls is from the depth that is wanted, or any place at all below it.
    """

    name: str
    at: PointMm
    cut: bool
    position_mm: float
    depth_mm: float
    uneven_mm: float

    @property
    def good(self) -> bool:
        """Cut, in place and as deep as wanted.

        >>> MarkCheck("kagi", (0.0, 0.0), True, 0.01, 0.3, 0.06).good
        False
        """
        return self.cut and max(self.position_mm, self.uneven_mm) <= MARK_WITHIN_MM


def check_marks(stretches: Stretches, kento: Kento, *, depth_mm: float) -> tuple[MarkCheck, MarkCheck]:
    """Look at the kagi and the hikitsuke as they are cut (face coordinates), ``depth_mm`` deep if well.

    The bit that cuts a mark leaves its round in every corner.
    """
    corner = kento.kagi_wall
    kagi = _check(
        stretches,
        "kagi",
        kento.kagi_recess,
        ((corner[0], corner[1]), (corner[1], corner[2])),
        depth_mm,
    )
    hikitsuke = _check(stretches, "hikitsuke", kento.hikitsuke_recess, (kento.hikitsuke_wall,), depth_mm)
    return kagi, hikitsuke


def _check(
    stretches: Stretches,
    name: str,
    recess: Region,
    walls: tuple[tuple[PointMm, PointMm], ...],
    depth_mm: float,
) -> MarkCheck:
    left, top, right, bottom = recess.bounds
    window = (left - AROUND_MM, top - AROUND_MM, right + AROUND_MM, bottom + AROUND_MM)
    surface = carve(stretches, window, step_mm=MARK_CELL_MM)
    # What a round bit leaves in a corner lies within (1 - 1/sqrt 2) of its radius from both walls.
    round_mm = _round_mm(stretches, recess)
    inner = shapely.buffer(recess, -(0.3 * round_mm + 3 * MARK_CELL_MM), join_style="mitre")
    floor = surface.heights[
        cells_inside(inner, surface.origin, MARK_CELL_MM, surface.heights.shape).astype(bool)
    ]
    inside = cells_inside(recess, surface.origin, MARK_CELL_MM, surface.heights.shape).astype(bool)
    x, y = shapely.point_on_surface(recess).coords[0]
    if not floor.size or not (floor < -depth_mm / 4).any():
        return MarkCheck(name, (x, y), cut=False, position_mm=0.0, depth_mm=0.0, uneven_mm=0.0)
    out = max(_out_of_place(surface, recess, wall, depth_mm) for wall in walls)
    return MarkCheck(
        name,
        (x, y),
        cut=True,
        position_mm=out,
        depth_mm=float(-np.median(floor)),
        uneven_mm=max(
            float(np.abs(floor + depth_mm).max()), float(-surface.heights[inside].min()) - depth_mm
        ),
    )


def _round_mm(stretches: Stretches, recess: Region) -> float:
    """The radius of the smallest flat that cuts within a recess, 0 where none does."""
    begin = stretches.parts[:, [AX, AY]]
    inside = shapely.contains_xy(recess, begin[:, 0], begin[:, 1])
    flats = stretches.shapes[stretches.bits[inside], FLAT_MM]
    return float(flats[flats > 0.0].min(initial=np.inf)) if (flats > 0.0).any() else 0.0


def _out_of_place(surface: Surface, recess: Region, wall: tuple[PointMm, PointMm], depth_mm: float) -> float:
    """How far a wall, where the height crosses half of the depth, is from where it should be, at the most."""
    a, b = np.array(wall[0]), np.array(wall[1])
    length = float(np.hypot(*(b - a)))
    along = (b - a) / length
    inwards = np.array([-along[1], along[0]])
    middle = (a + b) / 2 + inwards * 0.1
    if not shapely.contains_xy(recess, middle[0], middle[1]):
        inwards = -inwards
    places = a + np.outer(np.linspace(_ALONG[0], _ALONG[1], max(int(length / 0.2), 5)) * length, along)
    offsets = np.arange(-_OFF_WALL_MM, _OFF_WALL_MM + 1e-9, MARK_CELL_MM / 2)
    points = places[:, None, :] + offsets[None, :, None] * inwards
    heights = _sampled(surface, points)
    # From inside the recess outwards: the first place that is higher than half of the depth.
    high = heights[:, ::-1] > -depth_mm / 2
    first = high.argmax(axis=1)
    found = np.where(high.any(axis=1), offsets[::-1][first], -_OFF_WALL_MM)
    return float(np.abs(found + MARK_CELL_MM / 4).max())


def _sampled(surface: Surface, points: NDArray[np.float64]) -> NDArray[np.float32]:
    cells = (points - np.array(surface.origin)) / surface.step_mm - 0.5
    sampled: NDArray[np.float32] = cv2.remap(
        surface.heights,
        cells[..., 0].astype(np.float32),
        cells[..., 1].astype(np.float32),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return sampled
