"""BlockSet: boards, their faces, what each face carries, and the registration marks.

Everything here is *as the carver sees the face*: mirrored, with the upper left corner of the mirrored
image at (0, 0), x right, y down. A point (x, y) of the print lies at (image width - x, y) on the face.

A face that presses the sheet's back is the one exception: the sheet lies on it face up, so that it is not
mirrored, and neither are its marks: a point of the print lies at (x, y) on it.
"""

from dataclasses import dataclass, replace
from typing import Literal

from blockwright.model.findings import Finding
from blockwright.model.movement import NO_MOVEMENT, Movement
from blockwright.model.registration import RegistrationBoard, common_rectangle
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
class FacePart:
    """What one impression prints from a face, mirrored.

    ``turned``: the block is laid down turned by half for it, and the area lies on the face as that takes.
    """

    impression: int
    printing: Area
    turned: bool = False


@dataclass(frozen=True, slots=True)
class Face:
    """One side of a board, with the numbers of its impressions and the area that prints, mirrored.

    Where it carries several impressions ``parts`` has the area of each, in printing order, and ``why`` says
    in a sentence how it comes that they can share it; of a single one the area is ``printing``.
    ``mirrored`` is False for a face that presses the sheet's back. ``part`` is the rectangle of the part
    block that it stands on, which has no marks of its own; None where the block is as large as all others.
    """

    name: str
    side: FaceSide
    impressions: tuple[int, ...]
    printing: Area
    parts: tuple[FacePart, ...] = ()
    why: str = ""
    mirrored: bool = True
    part: Region | None = None

    @property
    def each_part(self) -> tuple[FacePart, ...]:
        """What each impression prints; also where the face has only one."""
        return self.parts or tuple(FacePart(number, self.printing) for number in self.impressions)

    @property
    def turned(self) -> tuple[int, ...]:
        """The impressions for which the block is laid down turned by half."""
        return tuple(part.impression for part in self.parts if part.turned)


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
class Piece:
    """A block, or an offcut, as it is sawn from a stock board; ``x_mm`` and ``y_mm`` are its near corner."""

    name: str
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float


@dataclass(frozen=True, slots=True)
class SawnBoard:
    """A stock board as it is sawn up: its blocks and what is left, each to be had by cuts from edge to edge.

    x runs along the stock board's width, y along its height, from one corner.
    """

    name: str
    stock: str
    width_mm: float
    height_mm: float
    blocks: tuple[Piece, ...]
    offcuts: tuple[Piece, ...]


@dataclass(frozen=True, slots=True)
class BlockSet:
    """All boards of a print. ``block`` and ``sheet`` are rectangles in face coordinates, mm.

    ``turned_kento`` are the marks that serve a block laid down turned by half; only faces with an impression
    of that kind have them. ``sawn`` are the stock boards that the blocks come from.
    ``from_the_back`` is None unless a face presses the sheet's back, ``registration`` unless there are part
    blocks; then ``faces_lower_bound`` and ``proven_fewest`` are of the full faces.
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
    turned_kento: Kento | None = None
    sawn: tuple[SawnBoard, ...] = ()
    movement: Movement = NO_MOVEMENT
    from_the_back: FromTheBack | None = None
    registration: RegistrationBoard | None = None

    def marks_of(self, face: Face) -> tuple[Kento, ...]:
        """The marks that are cut into a face: one pair, or two where the block is also laid down turned.

        A part block has none.
        """
        if face.part is not None:
            return ()
        if self.turned_kento is None or not face.turned:
            return (self.as_on(face).kento,)
        return (self.kento, self.turned_kento)

    @property
    def faces(self) -> tuple[Face, ...]:
        """Every face, in the order of the boards."""
        return tuple(face for board in self.boards for face in board.faces)

    @property
    def full_faces(self) -> tuple[Face, ...]:
        """The faces of full blocks."""
        return tuple(face for face in self.faces if face.part is None)

    @property
    def part_faces(self) -> tuple[Face, ...]:
        """The faces of part blocks, one each."""
        return tuple(face for face in self.faces if face.part is not None)

    def as_on(self, face: Face) -> "BlockSet":
        """The set with block, sheet and marks as they lie on this face.

        Of a part block the sheet is what of it lies on that.
        """
        if face.part is not None:
            return replace(self, block=face.part, sheet=common_rectangle(self.sheet, face.part))
        own = self.from_the_back
        if face.mirrored or own is None:
            return self
        return replace(self, block=own.block, sheet=own.sheet, kento=own.kento)
