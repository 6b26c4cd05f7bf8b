"""Allowing for movement: what wood and sheet do between carving and printing, and drawings scaled for it.

Everything is reckoned from the kagi, where the sheet's corner seats: the one point of a block that lies where
it should whatever moves. A point p of the drawing prints, on the dry sheet, at
kagi + (1 + wood) / (1 + sheet) k (p - kagi), axis by axis: ``wood`` is what the block has grown since it was
carved, ``sheet`` how much larger the sheet is damp than dry, and k what the drawing was scaled by. With
k = (1 + sheet) / (1 + wood) the dry print is as designed.

A part block grows from the corner that its stops hold, and these are carried by the registration board,
which is of the same wood with the grain the same way: kagi + (1 + wood) (corner - kagi) + (1 + wood)
(p - corner) is the same place. So for it, too, all is reckoned from the kagi, and looked at where it prints.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import dist

import numpy as np
from numpy.typing import NDArray

from blockwright.blocks.carried import all_that_prints
from blockwright.blocks.mirror import mirror_point, move_area
from blockwright.blocks.moisture import equilibrium_moisture_percent
from blockwright.blocks.movement import movement_mm
from blockwright.blocks.woods import Coefficients, coefficients_of
from blockwright.model.blocks import Board, Face
from blockwright.model.movement import (
    Apart,
    BoardMovement,
    Corner,
    CornerError,
    ImpressionMovement,
    Movement,
    Side,
)
from blockwright.model.separation import Impression, Separation
from blockwright.model.settings import BlocksTable, Stock
from blockwright.model.units import Area, PointMm, Region

DRY_KINDS = frozenset({"karazuri", "leaf"})
"""Kinds that are printed when the sheet is dry (Tokuno 1894 and Phillips 1926 for karazuri; leaf [CP])."""

_PLACES = 6
"""Lengths in mm are told to so many places: what is left below them is rounding."""

_HUNDRED = 100.0


Extent = tuple[float, float, float, float]
"""Left, top, right and lower edge on the print, mm."""


def _corners(extent: Extent) -> tuple[tuple[Corner, PointMm], ...]:
    left, top, right, bottom = extent
    return (
        ("upper left", (left, top)),
        ("upper right", (right, top)),
        ("lower left", (left, bottom)),
        ("lower right", (right, bottom)),
    )


@dataclass(frozen=True, slots=True)
class Place:
    """Where the image and its kagi lie: sizes in mm, the block's rectangle and the kagi on the face."""

    width_mm: float
    height_mm: float
    block: Region
    kagi: PointMm

    @property
    def kagi_on_print(self) -> PointMm:
        """The kagi as the print is seen."""
        return mirror_point(self.kagi, width_mm=self.width_mm)

    def extent(self, face: Face) -> Extent:
        """What a face may print, as the print is seen: the image, or of a part block what lies under it."""
        if face.part is None:
            return (0.0, 0.0, self.width_mm, self.height_mm)
        left, top, right, bottom = face.part.bounds
        return (
            max(0.0, self.width_mm - right),
            max(0.0, top),
            min(self.width_mm, self.width_mm - left),
            min(self.height_mm, bottom),
        )


def predict_movement(
    boards: Sequence[Board], separation: Separation, settings: BlocksTable, *, place: Place
) -> Movement:
    """Predict what boards and sheet do, how each face's drawing is scaled, and what error that leaves.

    The drawings of ``boards`` are taken as designed; :func:`scale_faces` scales them as is told here.
    """
    carving, printing = moistures_percent(settings)
    kinds = {impression.number: impression for impression in separation.impressions}
    moved = tuple(
        _move_board(board, settings, place=place, from_percent=carving, to_percent=printing)
        for board in boards
    )
    paper = _paper_percent(settings)
    image = (0.0, 0.0, place.width_mm, place.height_mm)
    extents = {face.name: place.extent(face) for board in boards for face in board.faces}
    impressions = tuple(
        each
        for board, wood in zip(boards, moved, strict=True)
        for face in board.faces
        for each in _move_face(
            [kinds[number] for number in face.impressions if number in kinds],
            face,
            wood,
            paper=paper,
            compensate=settings.compensate,
            place=place,
        )
    )
    return Movement(
        carving_moisture_percent=carving,
        printing_moisture_percent=printing,
        paper_width_percent=paper[0],
        paper_height_percent=paper[1],
        paper_width_mm=_told(place.width_mm * paper[0] / _HUNDRED),
        paper_height_mm=_told(place.height_mm * paper[1] / _HUNDRED),
        compensated=settings.compensate,
        boards=moved,
        impressions=impressions,
        apart_before=_farthest_apart(impressions, extents, image, left=False),
        apart_left=_farthest_apart(impressions, extents, image, left=True),
    )


def scale_faces(
    boards: Sequence[Board], movement: Movement, *, kagi: PointMm, turned_kagi: PointMm
) -> tuple[Board, ...]:
    """Scale what each face prints, about the kagi, as the movement tells; what is not scaled is not touched.

    What is printed with the block turned by half is scaled about ``turned_kagi``, where the sheet's corner
    then seats. The marks stay: the kagi is the centre, and the walls of both marks lie on lines through it,
    so that a scaled hikitsuke would stop the same edge of the sheet at the same line.
    """
    if not movement.compensated:
        return tuple(boards)
    return tuple(
        replace(
            board,
            faces=tuple(
                _scaled(face, (told.scale_width, told.scale_height), kagi, turned_kagi)
                if (told := movement.face(face.name))
                else face
                for face in board.faces
            ),
        )
        for board in boards
    )


def _scaled(face: Face, by: tuple[float, float], kagi: PointMm, turned_kagi: PointMm) -> Face:
    if not face.parts:
        return replace(face, printing=scale_area(face.printing, about=kagi, by=by))
    parts = tuple(
        replace(part, printing=scale_area(part.printing, about=turned_kagi if part.turned else kagi, by=by))
        for part in face.parts
    )
    return replace(face, printing=all_that_prints(parts), parts=parts)


def scale_area(area: Area, *, about: PointMm, by: tuple[float, float]) -> Area:
    """Scale areas (mm) about a place, each axis by its own factor.

    >>> from shapely.geometry import MultiPolygon, box
    >>> scale_area(MultiPolygon([box(0, 0, 10, 5)]), about=(20.0, 5.0), by=(1.1, 2.0)).bounds
    (-2.0, -5.0, 9.0, 5.0)
    """
    if by == (1.0, 1.0):
        return area
    centre, factors = np.asarray(about), np.asarray(by)

    def scaled(points: NDArray[np.float64]) -> NDArray[np.float64]:
        moved: NDArray[np.float64] = centre + (points - centre) * factors
        return moved

    return move_area(area, scaled)


def moistures_percent(settings: BlocksTable) -> tuple[float, float]:
    """The wood's moisture content when carved and when printed, percent: as measured, or from the room."""
    carving, printing = settings.carving_moisture_percent, settings.printing_moisture_percent
    if carving is None:
        carving = equilibrium_moisture_percent(
            humidity_percent=settings.carving_humidity_percent, temperature_c=settings.carving_temperature_c
        )
    if printing is None:
        printing = equilibrium_moisture_percent(
            humidity_percent=settings.printing_humidity_percent, temperature_c=settings.printing_temperature_c
        )
    return carving, printing


def stock_of(board: Board, settings: BlocksTable) -> Stock | None:
    """The kind of board that a block is sawn from; where none is big enough, the one it would be of."""
    named = [each for each in settings.stock if each.name == board.stock]
    alike = [each for each in settings.stock if each.wood == board.wood]
    return next(iter([*named, *alike]), None)


def _side_across(board: Board) -> Side:
    """The image's side that crosses the grain, which runs along the block's longer side or across it."""
    wide = board.width_mm >= board.height_mm
    return "height" if wide == (board.grain == "along") else "width"


def _move_board(
    board: Board, settings: BlocksTable, *, place: Place, from_percent: float, to_percent: float
) -> BoardMovement:
    stock = stock_of(board, settings)
    moves = coefficients_of(stock, settings) if stock else Coefficients(0.0, 0.0, "")
    across = _side_across(board)
    left, top, right, bottom = place.extent(board.faces[0])
    width, height = (moves.across, moves.along) if across == "width" else (moves.along, moves.across)

    def grown(size: float, coefficient: float) -> float:
        return movement_mm(size, coefficient, from_percent=from_percent, to_percent=to_percent)

    return BoardMovement(
        board=board.name,
        reckoned_as=moves.reckoned_as,
        own_figure=moves.own,
        cut=stock.cut if stock else "",
        coefficient=moves.across,
        across=across,
        width_percent=grown(_HUNDRED, width),
        height_percent=grown(_HUNDRED, height),
        width_mm=_told(grown(right - left, width)),
        height_mm=_told(grown(bottom - top, height)),
    )


def _paper_percent(settings: BlocksTable) -> tuple[float, float]:
    most, other = settings.paper_growth_percent, settings.paper_growth_other_percent
    return (most, other) if settings.paper_grows == "width" else (other, most)


def _ratio(grown_percent: float, by_percent: float) -> float:
    return (_HUNDRED + grown_percent) / (_HUNDRED + by_percent)


def _move_face(
    impressions: Sequence[Impression],
    face: Face,
    wood: BoardMovement,
    *,
    paper: tuple[float, float],
    compensate: bool,
    place: Place,
) -> list[ImpressionMovement]:
    """What each impression of a face does; the face is scaled for the damp sheet if any is printed on it."""
    damp = [impression.kind not in DRY_KINDS for impression in impressions]
    grown = (wood.width_percent, wood.height_percent)

    def prints(on_damp: bool) -> tuple[float, float]:
        sheet = paper if on_damp else (0.0, 0.0)
        return _ratio(grown[0], sheet[0]), _ratio(grown[1], sheet[1])

    width, height = prints(any(damp))
    scale = (1.0 / width, 1.0 / height) if compensate else (1.0, 1.0)
    return [
        ImpressionMovement(
            number=impression.number,
            face=face.name,
            board=wood.board,
            damp=on_damp,
            scale_width=scale[0],
            scale_height=scale[1],
            corners=_corner_errors(place, place.extent(face), prints(on_damp), scale),
        )
        for impression, on_damp in zip(impressions, damp, strict=True)
    ]


def _corner_errors(
    place: Place, extent: Extent, prints: tuple[float, float], scale: tuple[float, float]
) -> tuple[CornerError, ...]:
    """How far each corner lies off: ``prints`` is what a length of the drawing is multiplied by, each way."""
    kagi = place.kagi_on_print

    def off(at: PointMm, factors: tuple[float, float]) -> PointMm:
        return _told((factors[0] - 1.0) * (at[0] - kagi[0])), _told((factors[1] - 1.0) * (at[1] - kagi[1]))

    left = prints[0] * scale[0], prints[1] * scale[1]
    return tuple(CornerError(corner, off(at, prints), off(at, left)) for corner, at in _corners(extent))


def _farthest_apart(
    impressions: Sequence[ImpressionMovement], extents: Mapping[str, Extent], image: Extent, *, left: bool
) -> Apart | None:
    """The two impressions that lie farthest apart at a corner of what both may print; of equals the first."""
    found: Apart | None = None
    for one, other in combinations(impressions, 2):
        both = extents[one.face], extents[other.face]
        common = _common(*both)
        for corner, at in _corners(common) if common else ():
            apart = _told(
                dist(
                    *(
                        _error_at(each, extent, at, left=left)
                        for each, extent in zip((one, other), both, strict=True)
                    )
                )
            )
            if apart > (found.apart_mm if found else 0.0):
                found = Apart(
                    impressions=(one.number, other.number),
                    faces=(one.face, other.face),
                    corner=corner,
                    at=at,
                    apart_mm=apart,
                    of_image=common == image,
                )
    return found


def _common(one: Extent, other: Extent) -> Extent | None:
    left, top = max(one[0], other[0]), max(one[1], other[1])
    right, bottom = min(one[2], other[2]), min(one[3], other[3])
    return (left, top, right, bottom) if left < right and top < bottom else None


def _error_at(moved: ImpressionMovement, extent: Extent, at: PointMm, *, left: bool) -> PointMm:
    """The error at a place: it runs evenly from one corner of what is printed to the next, each way."""
    first, last = moved.corners[0], moved.corners[-1]
    start, end = (first.left_mm, last.left_mm) if left else (first.before_mm, last.before_mm)
    parts = [
        (at[axis] - extent[axis]) / long if (long := extent[axis + 2] - extent[axis]) > 0 else 0.0
        for axis in (0, 1)
    ]
    return (
        (1 - parts[0]) * start[0] + parts[0] * end[0],
        (1 - parts[1]) * start[1] + parts[1] * end[1],
    )


def _told(length_mm: float) -> float:
    """A length without the rounding of floating point, and never minus nought."""
    return round(length_mm, _PLACES) + 0.0
