"""Router: bits, machines, and what a bit is told to do on one face.

A face lies on the machine as the carver sees it, or turned by a quarter to the left. Its program has its zero
at the lower left corner of the block as it lies there, on the top face: x to the right, y away from the
operator, z up, so that the printing surface is at z = 0 and all cutting at z < 0. Mm, mm a minute and turns a
minute throughout.
"""

from dataclasses import dataclass
from math import cos, inf, radians, sin, sqrt, tan
from typing import Literal

import numpy as np
from numpy.typing import NDArray

BitKind = Literal["flat", "ball", "V", "tapered"]

CLEARING_KINDS: tuple[BitKind, ...] = ("flat", "ball")
"""Bits that clear the ground between walls, in the order of their work."""

RAPID, CUT, CLOCKWISE, ANTICLOCKWISE = 0, 1, 2, 3
"""Kinds of move: above the work, straight in the work, and arcs in a level plane (seen from above)."""


@dataclass(frozen=True, slots=True)
class Bit:
    """A router bit, as its maker's sheet tells it.

    ``number`` is its place in the machine's tool table. ``angle_deg`` is the whole angle at the tip of a V or
    tapered bit; ``tip_mm`` the width of a V's flat tip or the diameter of a tapered bit's round one.
    """

    number: int
    name: str
    kind: BitKind
    diameter_mm: float
    flutes: int
    cutting_mm: float
    angle_deg: float = 0.0
    tip_mm: float = 0.0
    shank_mm: float = 6.0

    @property
    def radius_mm(self) -> float:
        """Half of the largest diameter."""
        return self.diameter_mm / 2.0

    def rise_mm(self, away_mm: float) -> float:
        """How high above its tip the bit's edge is at a distance from its axis; infinite beyond the bit.

        >>> round(Bit(1, "V", "V", 6.0, 2, 12.0, angle_deg=90.0).rise_mm(2.0), 9)
        2.0
        >>> Bit(2, "ball", "ball", 6.0, 2, 12.0).rise_mm(3.0)
        3.0
        """
        if away_mm > self.radius_mm + 1e-9:
            return inf
        if self.kind == "flat":
            return 0.0
        if self.kind == "ball":
            return self.radius_mm - sqrt(max(self.radius_mm**2 - away_mm**2, 0.0))
        half = tan(radians(self.angle_deg / 2.0))
        if self.kind == "V":
            return max(away_mm - self.tip_mm / 2.0, 0.0) / half
        # A round tip that goes over into a cone where both have the same slope.
        tip, lean = self.tip_mm / 2.0, radians(self.angle_deg / 2.0)
        touch_mm = tip * cos(lean)
        if away_mm <= touch_mm:
            return tip - sqrt(max(tip**2 - away_mm**2, 0.0))
        return tip - tip * sin(lean) + (away_mm - touch_mm) / half


@dataclass(frozen=True, slots=True)
class Machine:
    """A router as it stands in the shop.

    ``reach_mm`` is how far it travels along x, y and z. ``acceleration_mm_s2`` holds for every axis, and
    ``junction_mm`` is how far it may cut a corner at speed. ``begin`` and ``end`` are lines of the user's own
    text that stand before and after the cutting of every program.
    """

    name: str
    reach_mm: tuple[float, float, float]
    feed_mm_min: float
    plunge_mm_min: float
    rapid_mm_min: float
    acceleration_mm_s2: float
    rpm: tuple[float, float]
    arcs: bool
    tool_change: bool
    safe_mm: float
    junction_mm: float = 0.02
    change_s: float = 60.0
    begin: tuple[str, ...] = ()
    end: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Moves:
    """Moves one after the other: ``kind`` (n,) uint8, where each ends (n, 3) mm, and for arcs the centre.

    ``centre`` (n, 2) is in mm, absolute; it means nothing for straight moves. The bit begins at ``start``.
    """

    start: tuple[float, float, float]
    kind: NDArray[np.uint8]
    end: NDArray[np.float64]
    centre: NDArray[np.float64]

    def __len__(self) -> int:
        return len(self.kind)


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """What one bit does without being changed: its speeds and its moves, and what for."""

    bit: Bit
    what: str
    rpm: float
    feed_mm_min: float
    plunge_mm_min: float
    moves: Moves
