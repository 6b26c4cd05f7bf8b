"""The way along which colour or an ink's film runs: straight, off an edge, round a point; and how printed."""

from dataclasses import dataclass
from typing import Literal

from blockwright.model.units import PointMm

Way = Literal["one ink", "over a flat", "futa-iro"]
"""How a colour that runs is printed: by one ink that thins, by bokashi over a flat of its lighter end, or by
two inks on one block."""


@dataclass(frozen=True, slots=True)
class Axis:
    """From where to where something runs, in mm, right-reading.

    A straight one runs from ``start`` to ``end`` and is the same along every line square to it. With an
    ``edge``, a line of points, what counts is the distance from it: the run begins at ``near_mm`` and ends at
    ``far_mm``, of which either may be the larger; ``start`` and ``end`` are then two places at these
    distances, for drawings. An edge of one point is a run round that point, in circles. See
    :func:`blockwright.geometry.running.position`.
    """

    start: PointMm
    end: PointMm
    edge: tuple[PointMm, ...] = ()
    near_mm: float = 0.0
    far_mm: float = 0.0

    @property
    def middle(self) -> PointMm | None:
        """The point that it runs round; None for a straight run and one along an edge."""
        return self.edge[0] if len(self.edge) == 1 else None

    @property
    def length_mm(self) -> float:
        """How long the run is, mm."""
        if self.edge:
            return abs(self.far_mm - self.near_mm)
        return float(((self.end[0] - self.start[0]) ** 2 + (self.end[1] - self.start[1]) ** 2) ** 0.5)

    def turned(self) -> "Axis":
        """The same way, the other way round."""
        return Axis(self.end, self.start, self.edge, self.far_mm, self.near_mm)
