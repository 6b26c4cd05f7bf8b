"""Movement: how far wood and paper move between carving and printing, and what register error is left."""

from dataclasses import dataclass
from math import hypot
from typing import Literal

from blockwright.model.units import PointMm

Corner = Literal["upper left", "upper right", "lower left", "lower right"]
Side = Literal["width", "height"]


@dataclass(frozen=True, slots=True)
class CornerError:
    """How far (right, down, mm) the image's corner lies from its place on the print, as the print is seen.

    Of a part block it is the corner of what that covers of the image.
    ``before_mm`` if the drawing is left as designed, ``left_mm`` as it is drawn.
    """

    corner: Corner
    before_mm: PointMm
    left_mm: PointMm


@dataclass(frozen=True, slots=True)
class BoardMovement:
    """How a board's wood moves over the image. ``across`` is the image's side that crosses its grain.

    Of a part block it is what that covers of the image.

    Percents and mm are what it grows from carving to printing, negative where it shrinks. ``reckoned_as`` is
    the wood whose figures are taken, "" where the figure is the board's own (``own_figure``) or the
    setting's for a wood that is not known; ``coefficient`` is the part of the width for each point of
    moisture, across the grain.
    """

    board: str
    reckoned_as: str
    own_figure: bool
    cut: str
    coefficient: float
    across: Side
    width_percent: float
    height_percent: float
    width_mm: float
    height_mm: float


@dataclass(frozen=True, slots=True)
class ImpressionMovement:
    """The register error of one impression. ``damp`` tells the state of the sheet that takes it.

    ``scale_width`` and ``scale_height`` are what its drawing was scaled by, about the kagi; 1 as designed.
    """

    number: int
    face: str
    board: str
    damp: bool
    scale_width: float
    scale_height: float
    corners: tuple[CornerError, ...]


@dataclass(frozen=True, slots=True)
class Apart:
    """Two impressions (numbers, with their faces) that come to lie apart at one of the image's corners.

    ``at`` is the corner's place on the print, mm; with ``of_image`` False it is the corner of what both may
    print, as one of them is on a part block.
    """

    impressions: tuple[int, int]
    faces: tuple[str, str]
    corner: Corner
    at: PointMm
    apart_mm: float
    of_image: bool = True


@dataclass(frozen=True, slots=True)
class Movement:
    """Everything about how the blocks of a print, and its sheet, move.

    The sheet's percents and mm are what it is larger damp than dry, the mm over the image. ``apart_before``
    and ``apart_left`` are the two impressions that lie farthest apart as designed and as drawn; None when no
    two do.
    """

    carving_moisture_percent: float
    printing_moisture_percent: float
    paper_width_percent: float
    paper_height_percent: float
    paper_width_mm: float
    paper_height_mm: float
    compensated: bool
    boards: tuple[BoardMovement, ...]
    impressions: tuple[ImpressionMovement, ...]
    apart_before: Apart | None
    apart_left: Apart | None

    @property
    def largest_mm(self) -> float:
        """The farthest that any block grows or shrinks over the image, mm, never negative."""
        return max((max(abs(b.width_mm), abs(b.height_mm)) for b in self.boards), default=0.0)

    def largest_corner_mm(self, *, left: bool, corner: Corner | None = None) -> float:
        """The farthest that a corner, or one of them, lies off, mm: as drawn (``left``) or as designed."""
        errors = [error for each in self.impressions for error in each.corners]
        return max(
            (hypot(*(e.left_mm if left else e.before_mm)) for e in errors if corner in (None, e.corner)),
            default=0.0,
        )

    def face(self, name: str) -> ImpressionMovement | None:
        """What a face's first impression does."""
        return next((each for each in self.impressions if each.face == name), None)

    def board(self, name: str) -> BoardMovement | None:
        """What a board does."""
        return next((each for each in self.boards if each.board == name), None)


NO_MOVEMENT = Movement(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, False, (), (), None, None)
"""Of blocks that nothing is predicted of."""
