"""BlockSet: boards, their faces, what each face carries, and the registration marks.

Everything here is *as the carver sees the face*: mirrored, with the upper left corner of the mirrored
image at (0, 0), x right, y down. A point (x, y) of the print lies at (image width - x, y) on the face.

A face that presses the sheet's back is the one exception: the sheet lies on it face up, so that it is not
mirrored, and neither are its marks: a point of the print lies at (x, y) on it.
"""

from dataclasses import dataclass, replace
from typing import Literal

from blockwright.model.findings import Finding
from blockwright.model.units import Area, PointMm, Region

FaceSide = Literal["front", "back"]
Grain = Literal["along", "across"]


@dataclass(frozen=True, slots=True)
class Kento:
    """The registration marks, at the same place on every face.

    ``kagi`` is the point where the sheet's corner seats; ``hikitsuke`` the middle of the straight stop,
    on the sheet's edge. ``kagi_recess`` and ``hikitsuke_recess`` are the areas let into the wood, one
    sheet's thickness deep (``depth_mm``); the sheet stops against their outer walls, ``kagi_wall`` (three
    points, the middle one the corner) and ``hikitsuke_wall`` (two points).
    """

    kagi: PointMm
    hikitsuke: PointMm
    kagi_wall: tuple[PointMm, PointMm, PointMm]
    hikitsuke_wall: tuple[PointMm, PointMm]
    kagi_recess: Region
    hikitsuke_recess: Region
    depth_mm: float


@dataclass(frozen=True, slots=True)
class Face:
    """One side of a board, with the numbers of its impressions and the area that prints.

    ``mirrored`` is False for a face that presses the sheet's back.
    """

    name: str
    side: FaceSide
    impressions: tuple[int, ...]
    printing: Area
    mirrored: bool = True


@dataclass(frozen=True, slots=True)
class FromTheBack:
    """Block, sheet and marks on faces that press the sheet's back, in those faces' coordinates."""

    block: Region
    sheet: Region
    kento: Kento


@dataclass(frozen=True, slots=True)
class Board:
    """A piece of wood cut to the block's size from a stock board."""

    name: str
    stock: str
    wood: str
    width_mm: float
    height_mm: float
    thickness_mm: float
    grain: Grain
    faces: tuple[Face, ...]


@dataclass(frozen=True, slots=True)
class BlockSet:
    """All boards of a print. ``block`` and ``sheet`` are rectangles in face coordinates, mm.

    ``from_the_back`` is None unless a face presses the sheet's back.
    """

    image_width_mm: float
    image_height_mm: float
    block: Region
    sheet: Region
    kento: Kento
    boards: tuple[Board, ...]
    faces_lower_bound: int
    proven_fewest: bool
    findings: tuple[Finding, ...] = ()
    from_the_back: FromTheBack | None = None

    @property
    def faces(self) -> tuple[Face, ...]:
        """Every face, in the order of the boards."""
        return tuple(face for board in self.boards for face in board.faces)

    def as_on(self, face: Face) -> "BlockSet":
        """The set with block, sheet and marks as they lie on this face."""
        own = self.from_the_back
        if face.mirrored or own is None:
            return self
        return replace(self, block=own.block, sheet=own.sheet, kento=own.kento)
