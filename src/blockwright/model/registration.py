"""The registration board: what carries the marks for blocks that are too small to carry them (soto-kento).

In face coordinates, as the printer sees it on the table, mirrored: the sheet is laid on it face down.
"""

from dataclasses import dataclass

from shapely.geometry import Polygon, box

from blockwright.model.units import PointMm, Region


@dataclass(frozen=True, slots=True)
class Seat:
    """Where a part block lies on the registration board, and what it is pushed against.

    ``corner`` is its corner on the kagi's side, which the ``stops`` hold: strips of wood lower than the
    block. ``against`` names the marks whose pads are its stops where there is no room for a strip. For this
    block the stops of the blocks ``in_the_way`` are taken off.
    """

    board: str
    face: str
    block: Region
    corner: PointMm
    stops: tuple[Region, ...]
    against: tuple[str, ...] = ()
    in_the_way: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class RegistrationBoard:
    """A flat board with a pad of wood for each mark, as thick as the blocks, and a seat for every part block.

    ``sawn`` tells whether board and pads come from the boards to be had.
    """

    outline: Region
    kagi_pad: Region
    hikitsuke_pad: Region
    seats: tuple[Seat, ...]
    sawn: bool

    def seat(self, face: str) -> Seat | None:
        """The seat of a face's block."""
        return next((each for each in self.seats if each.face == face), None)

    def place(self, at: PointMm) -> PointMm:
        """A place (mm, face coordinates) measured from the board's lower left corner, right and up."""
        left, _, _, bottom = self.outline.bounds
        return at[0] - left, bottom - at[1]


def common_rectangle(one: Region, other: Region) -> Region:
    """What two upright rectangles have in common, mm; the second where they are apart.

    >>> common_rectangle(box(0, 0, 10, 10), box(4, -5, 20, 5)).bounds
    (4.0, 0.0, 10.0, 5.0)
    """
    left, top, right, bottom = one.bounds
    x0, y0, x1, y1 = other.bounds
    common: Polygon = box(max(left, x0), max(top, y0), min(right, x1), min(bottom, y1))
    return common if max(left, x0) < min(right, x1) and max(top, y0) < min(bottom, y1) else other
