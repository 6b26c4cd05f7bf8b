"""From a face to what each bit does on it: roughing, what larger bits left, walls, corners, marks, rim."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import shapely
from shapely import affinity

from blockwright.cutting.distances import Distances, distances_in
from blockwright.cutting.joining import Ways, joined
from blockwright.cutting.lanes import Lane, left_after, ring_lanes, rising_lanes, wall_lanes, with_spurs
from blockwright.cutting.marks_and_rim import mark_lanes, rim_lane
from blockwright.cutting.ordering import in_order
from blockwright.cutting.wanted import Floor, area_to_work, as_polygons, shrunk
from blockwright.model.blocks import BlockSet, Face, Kento
from blockwright.model.router import Bit, Run
from blockwright.model.units import Area, PointMm, Region

UPRIGHT_DEG = 89.0
"""Walls without a bit that cuts sloping ones."""

_FINE_OVER_MM = 0.4
"""From lane to lane of a V bit on a floor, mm: the ridges between are a third of a mm high."""

_LIFT_MM = 30.0
"""What a lift and a new entry are worth in mm of way: about a second."""

_LINK_DIAMETERS = 0.7
"""The next ring lies within so many diameters."""


@dataclass(frozen=True, slots=True)
class Speed:
    """How fast one bit turns, goes and plunges."""

    rpm: float
    feed_mm_min: float
    plunge_mm_min: float


@dataclass(frozen=True, slots=True)
class Manner:
    """How faces are routed; lengths in mm.

    ``step_over`` and ``step_down`` are parts of a bit's diameter. ``least_left_mm2`` is the least waste that
    a larger bit left for which a smaller one is taken: less is left to the next, and at last to the hand.
    """

    floor: Floor
    stock_mm: float
    step_over: float
    step_down: float
    ramp_deg: float
    safe_mm: float
    least_left_mm2: float
    mark_extra_mm: float
    chamfer_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Routed:
    """What the bits do on one face, in machine coordinates, and what they did it from.

    ``work`` is where bits may be below the face, ``floor`` how deep it is wanted to be.
    """

    runs: tuple[Run, ...]
    work: Area
    floor: Floor
    away: Distances


def on_machine(geometry: shapely.Geometry, block: Region) -> shapely.Geometry:
    """A shape of a face as it lies on the machine: zero at the block's lower left corner, y away."""
    left, _, _, bottom = block.bounds
    return affinity.affine_transform(geometry, [1.0, 0.0, 0.0, -1.0, -left, bottom])


def route_face(
    blocks: BlockSet,
    face: Face,
    clear: Area,
    bits: Sequence[Bit],
    speeds: Mapping[int, Speed],
    manner: Manner,
) -> Routed:
    """Say what each bit does on a face, the largest first; ``speeds`` are by the bits' numbers.

    Without a bit for sloping walls they are upright. Raises ValueError when there is no flat bit.
    """
    here = blocks.as_on(face)
    work = as_polygons(on_machine(area_to_work(clear, here.block), here.block))
    flats = sorted((bit for bit in bits if bit.kind == "flat"), key=lambda bit: -bit.diameter_mm)
    sloping = sorted((bit for bit in bits if bit.kind in ("V", "tapered")), key=lambda bit: -bit.angle_deg)
    if not flats:
        raise ValueError("a face is cleared by flat bits; there is none")
    floor = manner.floor if sloping else replace(manner.floor, wall_deg=UPRIGHT_DEG)
    away = distances_in(work)
    rest = shrunk(work, floor.foot_mm + manner.stock_mm)
    runs: list[Run] = []
    for place, bit in enumerate(flats):
        lanes = ring_lanes(
            work,
            bit,
            floor,
            stock_mm=manner.stock_mm,
            step_over_mm=manner.step_over * bit.diameter_mm,
            step_down_mm=manner.step_down * bit.diameter_mm,
            within=None if place == 0 else rest,
        )
        if not sloping and place == len(flats) - 1:
            lanes += wall_lanes(work, bit, floor)
        if place == len(flats) - 1:
            lanes += _marks(blocks, face, bit, manner)
        rest = _worth(left_after(rest, work, bit, floor, manner.stock_mm), manner.least_left_mm2)
        runs += _run(lanes, bit, "clearing", floor, away, speeds, manner)
    for bit in sloping[:1]:
        lanes = ring_lanes(
            work,
            bit,
            floor,
            stock_mm=0.0,
            step_over_mm=_FINE_OVER_MM,
            step_down_mm=floor.most_mm,
            within=rest,
        )
        walls = wall_lanes(work, bit, floor)
        lanes += with_spurs(walls, rising_lanes(work, bit, floor, stock_mm=0.0))
        rim = rim_lane(here.block, bit, chamfer_mm=manner.chamfer_mm)
        runs += _run(
            [*lanes, *([_moved(rim, here.block)] if rim else [])], bit, "walls", floor, away, speeds, manner
        )
    return Routed(tuple(runs), work, floor, away)


def _worth(rest: Area, least_mm2: float) -> Area:
    """The parts of what is left that are worth a bit's coming."""
    return as_polygons(shapely.union_all([part for part in rest.geoms if part.area >= least_mm2]))


def _run(
    lanes: Sequence[Lane],
    bit: Bit,
    what: str,
    floor: Floor,
    away: Distances,
    speeds: Mapping[int, Speed],
    manner: Manner,
) -> list[Run]:
    if not lanes:
        return []
    order = in_order(lanes, lift_mm=_LIFT_MM, link_mm=_LINK_DIAMETERS * bit.diameter_mm)
    moves = joined(lanes, order, bit, floor, away, Ways(manner.ramp_deg, manner.safe_mm))
    speed = speeds[bit.number]
    return [Run(bit, what, speed.rpm, speed.feed_mm_min, speed.plunge_mm_min, moves)]


def _marks(blocks: BlockSet, face: Face, bit: Bit, manner: Manner) -> list[Lane]:
    """The marks of a face; a bit that does not fit into one leaves that to the hand."""
    here = blocks.as_on(face)
    lanes: list[Lane] = []
    for kento in blocks.marks_of(face):
        depth = kento.depth_mm + manner.mark_extra_mm
        for recess, corner in _recesses(kento, here.block):
            lanes += mark_lanes(recess, bit, depth_mm=depth, corner=corner)
    return lanes


def _recesses(kento: Kento, block: Region) -> list[tuple[Region, tuple[PointMm, PointMm, PointMm] | None]]:
    left, _, _, bottom = block.bounds
    one, at, other = ((x - left, bottom - y) for x, y in kento.kagi_wall)
    kagi, hikitsuke = (on_machine(each, block) for each in (kento.kagi_recess, kento.hikitsuke_recess))
    return [(kagi, (one, at, other)), (hikitsuke, None)]


def _moved(lane: Lane, block: Region) -> Lane:
    left, _, _, bottom = block.bounds
    points = lane.points.copy()
    points[:, 0] -= left
    points[:, 1] = bottom - points[:, 1]
    return Lane(points[::-1].copy(), lane.closed, lane.layers)
