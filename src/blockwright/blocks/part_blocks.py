"""Part blocks: the piece of wood that small areas need, and the registration board that it is laid on.

All in face coordinates, mirrored, mm: the sheet is laid face down on part block and pads as on any block.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import shapely
from shapely.geometry import box

from blockwright.blocks.kento import BAND_MM
from blockwright.model.blocks import Face, Kento
from blockwright.model.registration import RegistrationBoard, Seat
from blockwright.model.settings import BlocksTable
from blockwright.model.units import Area, PointMm, Region

PAD_WALL_MM = 3.0
"""Wood of a pad beside and behind its mark, mm, at least [CP]: a thinner wall breaks off."""

STOP_MM = (10.0, 60.0)
"""Width of a stop, and its length at most, mm [CP]: a strip that a screw holds."""

LEAST_STOP_MM = 15.0
"""Shorter stops do not hold a block square, mm [CP]."""

CORNER_FREE_MM = 5.0
"""The corner itself is left free, mm [CP], so that no chip or paste comes between block and stops."""

Bounds = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Pads:
    """The wood that carries the marks on a registration board: an L for the kagi, a strip for the hikitsuke.

    ``boxes`` are upright rectangles that make them up, each with its mark's name.
    """

    kagi: Region
    hikitsuke: Region
    boxes: tuple[tuple[str, Region], ...]


def place_pads(kento: Kento, settings: BlocksTable) -> Pads:
    """Return the pads (mm): the recesses of the marks, and wood for the walls round them, in whole mm.

    Behind the walls, where the sheet ends, there is the rim of a full block, at the ends what a wall needs.
    Nothing stands inside the kagi's arms, where the image may be.

    >>> from blockwright.blocks.kento import set_kento
    >>> pads = place_pads(set_kento(box(-15, -15, 375, 255), BlocksTable()), BlocksTable())
    >>> pads.kagi.bounds, pads.kagi.area
    ((352.0, 232.0, 383.0, 263.0), 736.0)
    """
    out = max(settings.rim_mm, PAD_WALL_MM)
    (x, y), band = kento.kagi, min(BAND_MM, settings.arm_mm)
    in_x = 1.0 if kento.kagi_wall[0][0] > x else -1.0
    in_y = 1.0 if kento.kagi_wall[2][1] > y else -1.0
    arm = settings.arm_mm + PAD_WALL_MM
    level = _whole_box(x - in_x * out, y - in_y * out, x + in_x * arm, y + in_y * band)
    upright = _whole_box(x - in_x * out, y - in_y * out, x + in_x * band, y + in_y * arm)
    (ax, ay), (bx, by) = kento.hikitsuke_wall
    if ay == by:
        low, high = min(ax, bx) - PAD_WALL_MM, max(ax, bx) + PAD_WALL_MM
        strip = _whole_box(low, ay - in_y * out, high, ay + in_y * BAND_MM)
    else:
        low, high = min(ay, by) - PAD_WALL_MM, max(ay, by) + PAD_WALL_MM
        strip = _whole_box(ax - in_x * out, low, ax + in_x * BAND_MM, high)
    kagi: Region = shapely.union(level, upright)
    return Pads(kagi, strip, (("kagi", level), ("kagi", upright), ("hikitsuke", strip)))


def _whole_box(x0: float, y0: float, x1: float, y1: float) -> Region:
    """A rectangle grown to whole millimetres."""
    low = math.floor(min(x0, x1)), math.floor(min(y0, y1))
    high = math.ceil(max(x0, x1)), math.ceil(max(y0, y1))
    return box(*(float(edge) for edge in (*low, *high)))


def part_rectangle(areas: Sequence[Area], *, pads: Pads | None, settings: BlocksTable) -> Region | None:
    """Return the part block that areas (mm) need, or None where it would lie in the way of the marks.

    It is their bounding rectangle and ``part_border_mm`` all round, in whole millimetres, less where a mark's
    pad is; on the two sides that are pushed against stops it reaches as far as a pad that is too near for a
    stop, which then is its stop.

    >>> from shapely.geometry import MultiPolygon
    >>> seal = MultiPolygon([box(20.2, 30, 44.9, 60)])
    >>> part_rectangle([seal], pads=None, settings=BlocksTable(part_border_mm=5)).bounds
    (15.0, 25.0, 50.0, 65.0)
    """
    printed = shapely.total_bounds(list(areas)).tolist()
    if any(math.isnan(each) for each in printed):
        return None
    border = settings.part_border_mm
    sides = [
        math.floor(printed[0] - border),
        math.floor(printed[1] - border),
        math.ceil(printed[2] + border),
        math.ceil(printed[3] + border),
    ]
    bounds: list[float] | None = [float(side) for side in sides]
    boxes = [each for _, each in pads.boxes] if pads else []
    for pad in boxes:
        bounds = _clear_of(bounds, printed, pad.bounds) if bounds else None
    if bounds is None:
        return None
    for side in _seat_sides(settings):
        bounds = _reach_pad(bounds, side, boxes)
    return box(*bounds)


def _meet(one: Sequence[float], other: Sequence[float]) -> bool:
    """Whether two rectangles have more in common than an edge."""
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def _clear_of(bounds: list[float], printed: Sequence[float], pad: Bounds) -> list[float] | None:
    """The rectangle trimmed on the one side where a pad takes the least of it, or None if it cannot be."""
    if not _meet(bounds, pad):
        return bounds
    trimmed = []
    for side, edge in ((0, pad[2]), (1, pad[3]), (2, pad[0]), (3, pad[1])):
        holds = edge <= printed[side] if side < 2 else edge >= printed[side]
        if holds:
            trimmed.append([*bounds[:side], edge, *bounds[side + 1 :]])
    return max(trimmed, key=_area, default=None)


def _area(bounds: Sequence[float]) -> float:
    return (bounds[2] - bounds[0]) * (bounds[3] - bounds[1])


def _seat_sides(settings: BlocksTable) -> tuple[int, int]:
    """The two sides that are pushed against stops, those at the kagi, as places in the bounds."""
    return (
        2 if settings.kagi_corner.endswith("right") else 0,
        3 if settings.kagi_corner.startswith("lower") else 1,
    )


def _beside(bounds: Sequence[float], side: int, depth_mm: float) -> list[float]:
    """The strip of a width along one side of a rectangle, outside it."""
    strip = list(bounds)
    outwards = 1.0 if side > 1 else -1.0
    strip[side] += outwards * depth_mm
    strip[(side + 2) % 4] = bounds[side]
    return strip


def _free_along(bounds: Sequence[float], side: int, pads: Sequence[Region]) -> tuple[float, float] | None:
    """The longest stretch of a side that has room for a stop, as two places along it, or None."""
    low = 1 if side % 2 == 0 else 0
    start, end = bounds[low], bounds[low + 2]
    strip = _beside(bounds, side, STOP_MM[0])
    taken = sorted((pad.bounds[low], pad.bounds[low + 2]) for pad in pads if _meet(strip, pad.bounds))
    free, at = [], start
    for first, last in taken:
        free.append((at, first))
        at = max(at, last)
    free.append((at, end))
    longest = max(free, key=lambda each: each[1] - each[0])
    return longest if longest[1] - longest[0] >= min(LEAST_STOP_MM, end - start) else None


def _reach_pad(bounds: list[float], side: int, pads: Sequence[Region]) -> list[float]:
    """The rectangle made to touch the nearest pad beyond a side that leaves no room for a stop."""
    if not pads or _free_along(bounds, side, pads) is not None:
        return bounds
    strip = _beside(bounds, side, STOP_MM[0])
    near = [pad.bounds[(side + 2) % 4] for pad in pads if _meet(strip, pad.bounds)]
    if not near:
        return bounds
    reached = list(bounds)
    reached[side] = min(near) if side > 1 else max(near)
    return reached


def lay_on_board(
    faces: Sequence[tuple[str, Face]], *, block: Region, kento: Kento, settings: BlocksTable
) -> RegistrationBoard:
    """Lay part blocks, given as names of their boards and faces, on a registration board for these marks.

    The board is as large as a full block, or larger where a stop would lie off it.
    """
    pads = place_pads(kento, settings)
    seats = [
        _seat(board, face.name, face.part, pads, settings) for board, face in faces if face.part is not None
    ]
    everything = [block, pads.kagi, pads.hikitsuke, *(stop for seat in seats for stop in seat.stops)]
    outline = box(*shapely.total_bounds(everything).tolist())
    return RegistrationBoard(
        outline=outline,
        kagi_pad=pads.kagi,
        hikitsuke_pad=pads.hikitsuke,
        seats=tuple(replace(seat, in_the_way=_in_the_way(seat, seats)) for seat in seats),
        sawn=settings.registration_board == "saw",
    )


def _in_the_way(seat: Seat, seats: Sequence[Seat]) -> tuple[str, ...]:
    return tuple(
        other.board
        for other in seats
        if other is not seat and any(_meet(stop.bounds, seat.block.bounds) for stop in other.stops)
    )


def _seat(board: str, face: str, block: Region, pads: Pads, settings: BlocksTable) -> Seat:
    bounds = block.bounds
    across, down = _seat_sides(settings)
    corner: PointMm = (bounds[across], bounds[down])
    stops: list[Region] = []
    against: list[str] = []
    for side in (across, down):
        free = _free_along(bounds, side, [each for _, each in pads.boxes])
        if free is None:
            strip = _beside(bounds, side, STOP_MM[0])
            against.append(next(name for name, each in pads.boxes if _meet(strip, each.bounds)))
            continue
        stops.append(_stop(bounds, side, free, corner))
    return Seat(
        board=board, face=face, block=block, corner=corner, stops=tuple(stops), against=tuple(against)
    )


def _stop(bounds: Bounds, side: int, free: tuple[float, float], corner: PointMm) -> Region:
    """A strip along a side, as near to the seat's corner as it may be."""
    low = 1 if side % 2 == 0 else 0
    start, end = free
    towards_end = corner[low] > (bounds[low] + bounds[low + 2]) / 2
    if towards_end:
        end = min(end, bounds[low + 2] - CORNER_FREE_MM)
        start = max(start, end - STOP_MM[1])
    else:
        start = max(start, bounds[low] + CORNER_FREE_MM)
        end = min(end, start + STOP_MM[1])
    strip = _beside(bounds, side, STOP_MM[0])
    strip[low], strip[low + 2] = start, end
    return box(*strip)
