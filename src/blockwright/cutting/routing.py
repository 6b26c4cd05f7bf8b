"""From a face to what each bit does on it: roughing, what larger bits left, walls, corners, marks, rim."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from math import ceil, inf

import numpy as np
import shapely
from shapely.geometry import MultiPolygon

from blockwright.cutting.ball_lanes import Ball, ball_lanes, left_by_ball
from blockwright.cutting.distances import Distances
from blockwright.cutting.ground import (
    Ground,
    Manner,
    Tool,
    ground_of,
    off_machine,
    on_machine,
    rings_of,
)
from blockwright.cutting.joining import Ways, joined, way_through
from blockwright.cutting.lanes import (
    Lane,
    left_after,
    ring_lanes,
    standing,
    steepest,
    wall_lanes,
)
from blockwright.cutting.marks_and_rim import into_corner, mark_lanes, rim_lane
from blockwright.cutting.ordering import in_order
from blockwright.cutting.timing import BitShare, lower_bound_s
from blockwright.cutting.tours import tours
from blockwright.cutting.wanted import Floor, as_polygons, shrunk
from blockwright.model.blocks import BlockSet, Face, Kento
from blockwright.model.router import Bit, Run
from blockwright.model.units import Area, PointMm, Region

_LEAST_TOLD_MM2 = 0.05
"""Waste left standing that is smaller takes no ink to speak of."""

_FINER = 0.05
"""A V bit comes by all walls anyway: waste of this part of the least area is worth its turning aside."""

_SLACK_MM = 0.02
"""A lane is taken to clear by this more than its bit, so that no threads are told."""

_PIECE_MM = 0.25
"""Lanes that rise are taken to be as deep as the shallower end of pieces so long."""

_GENEROUS_MM = 0.06
"""What is granted beyond a relieved corner and the rim."""

_LIFT_MM = 30.0
"""What a lift and a new entry are worth in mm of way: about a second."""

_MARKS_MM = 3.0
"""The thickest bit that the marks are cut with, if there is a choice, mm [CP]: half of it goes on into the
corner where the sheet seats."""

_ENTRY_S = 1.8
"""Turning aside to another part and coming back, s."""

_ASIDE_MM = 8.0
"""Ways there and back through the work that are longer than this take longer than a lift."""

_LINK_DIAMETERS = 0.7
"""The next ring lies within so many diameters."""


@dataclass(frozen=True, slots=True, eq=False)
class Routed:
    """What the bits do on one face, in machine coordinates, and what they leave.

    ``floor`` is how deep it is wanted to be; ``left`` the waste that no bit is sent for, and the recesses of
    marks that none fits into, in face coordinates. ``widest_mm`` is how far from all wood that stays its
    widest place is, ``beside_s`` the least time, s, that marks and rim take at full feed.
    ``ground`` serves for smaller sets of bits.
    """

    runs: tuple[Run, ...]
    floor: Floor
    left: Area
    widest_mm: float = inf
    beside_s: float = 0.0
    ground: Ground | None = None


def route_face(
    blocks: BlockSet,
    face: Face,
    clear: Area,
    tools: Sequence[Tool],
    manner: Manner,
    *,
    ground: Ground | None = None,
) -> Routed:
    """Say what each bit does on a face, the largest first.

    ``ground`` is that of a larger set of bits with the same largest flat bit and the same one for walls.

    Of bits for sloping walls the bluntest is taken; without one the smallest ball bit steps down the walls,
    and without that they are upright. Ball bits clear what flat ones left, or all of it where there is no
    flat bit; marks are then left. Raises ValueError when there is neither.
    """
    here = blocks.as_on(face)
    flats = sorted(
        (tool for tool in tools if tool.bit.kind == "flat"), key=lambda tool: -tool.bit.diameter_mm
    )
    sloping = sorted(
        (tool for tool in tools if tool.bit.kind in ("V", "tapered")), key=lambda tool: -tool.bit.angle_deg
    )
    balls = sorted(
        (tool for tool in tools if tool.bit.kind == "ball"), key=lambda tool: -tool.bit.diameter_mm
    )
    if not flats and not balls:
        raise ValueError("a face is cleared by flat or ball bits; there is none")
    ground = ground or ground_of(blocks, face, clear, tools, manner)
    work, floor, away = ground.work, ground.floor, ground.away
    rest = shrunk(work, floor.foot_mm + manner.stock_mm)
    runs: list[Run] = []
    marking = for_marks(flats)
    beside_s = lower_bound_s(_mark_shares(blocks, face, marking))
    for place, tool in enumerate(flats):
        lanes = list(ground.rings)
        if place > 0:
            worth = _worth_coming(rest, tool, sloping[0] if sloping else None, manner, marking is tool)
            lanes = rings_of(tool, work, floor, manner, within=worth)
        if place > 0 and all(len(lane.layers) == 1 for lane in lanes):
            way = partial(way_through, bit=tool.bit, floor=floor, away=away, ramp_deg=manner.ramp_deg)
            lanes = tours(lanes, (), way=way, link_mm=_ASIDE_MM)
        if tool is flats[-1] and not sloping and not balls:
            lanes += wall_lanes(work, tool.bit, floor)
        what = "clearing" if lanes else "marks"
        lanes += _marks(blocks, face, tool.bit, manner) if tool is marking else []
        if place == 0:
            rest = left_after(rest, work, tool.bit, floor, manner.stock_mm, slack_mm=manner.slack_mm)
        else:
            rest = _left_by_lanes(rest, lanes, tool.bit.radius_mm)
        runs += _run(lanes, tool, what, floor, away, manner)
    if balls:
        more, rest = _clear_hollows(
            balls, work, rest, floor, away, manner, whole=not flats, walls=not sloping
        )
        runs += more
    if ground.walls is not None:
        walls = ground.walls
        tool, deep, clears_mm = walls.tool, walls.floor, walls.clears_mm
        rest = _left_by_lanes(_left_by_rising(rest, walls.rising, tool.bit, floor), walls.feet, clears_mm)
        lanes = ring_lanes(
            work,
            tool.bit,
            deep,
            stock_mm=0.0,
            step_over_mm=min(tool.steps.over_mm, 2.0 * clears_mm),
            step_down_mm=deep.most_mm + deep.least_mm,
            within=_worth(rest, manner.least_left_mm2 * _FINER),
            along_walls=False,
            clears_mm=clears_mm,
        )
        rest = _left_by_lanes(rest, lanes, clears_mm)
        lanes = tours(
            [*walls.feet, *lanes],
            walls.rising,
            way=partial(way_through, bit=tool.bit, floor=deep, away=away, ramp_deg=manner.ramp_deg),
            link_mm=_ASIDE_MM,
        )
        rim = rim_lane(here.block, tool.bit, chamfer_mm=manner.chamfer_mm)
        lanes += [_moved(rim, here.block)] if rim else []
        beside_s += 60.0 * rim.length_mm / tool.speeds.feed_mm_min if rim else 0.0
        runs += _run(lanes, tool, "walls", deep, away, manner)
    rest = _worth(
        as_polygons(shapely.union_all([rest, *_marks_left(blocks, face, marking)])), _LEAST_TOLD_MM2
    )
    return Routed(
        tuple(runs),
        floor,
        as_polygons(off_machine(rest, here.block)),
        _widest_mm(work, flats, floor, manner),
        beside_s,
        ground,
    )


def _widest_mm(work: Area, flats: Sequence[Tool], floor: Floor, manner: Manner) -> float:
    """How far its widest place is from the edge, where some flat bit fits nowhere; else not asked."""
    if all(not standing(work, tool.bit, floor, manner.stock_mm).is_empty for tool in flats):
        return inf
    return max((float(shapely.maximum_inscribed_circle(part).length) for part in work.geoms), default=0.0)


def _clear_hollows(
    balls: Sequence[Tool],
    work: Area,
    rest: Area,
    floor: Floor,
    away: Distances,
    manner: Manner,
    *,
    whole: bool,
    walls: bool,
) -> tuple[list[Run], Area]:
    """What ball bits do, the largest first, and what they leave of the waste that was left to them.

    ``whole``: nothing was cleared before. ``walls``: the smallest cuts the walls too.
    """
    runs: list[Run] = []
    taken_mm = floor.foot_mm + 2.0 * manner.stock_mm
    for tool in balls:
        first, last = whole and tool is balls[0], walls and tool is balls[-1]
        ball = Ball(tool.bit, floor, tool.steps, 0.0 if walls else manner.stock_mm, manner.slack_mm)
        within = None if first else _worth(rest, manner.least_left_mm2)
        lanes = ball_lanes(work, ball, within=within, walls=last)
        rest = left_by_ball(rest, work, ball, lanes, whole=first, walls=last, taken_mm=taken_mm)
        runs += _run(lanes, tool, "clearing", floor, away, manner)
    return runs, rest


def relief_of(blocks: BlockSet, face: Face, tools: Sequence[Tool], manner: Manner) -> Area:
    """What is cut besides the waste and the marks' recesses, a little generously, face coordinates: their
    relieved corners and the chamfered rim.
    """
    block = blocks.as_on(face).block
    marking = for_marks([tool for tool in tools if tool.bit.kind == "flat"])
    radius = 0.0 if marking is None else marking.bit.radius_mm
    parts = [
        shapely.linestrings(into_corner(kento.kagi_wall, radius)).buffer(radius + _GENEROUS_MM)
        for kento in (blocks.marks_of(face) if marking else ())
    ]
    if manner.chamfer_mm > 0.0 and any(tool.bit.kind == "V" for tool in tools):
        parts.append(shapely.difference(block, block.buffer(-(manner.chamfer_mm + _GENEROUS_MM))))
    return as_polygons(shapely.union_all(parts))


def _left_by_lanes(rest: Area, lanes: Sequence[Lane], clears_mm: float) -> Area:
    """What is left of waste by a bit that goes along lanes, and nowhere else, and clears so wide."""
    lines = [
        shapely.linestrings(
            np.vstack([lane.points, lane.points[:1]])[:, :2] if lane.closed else lane.points[:, :2]
        )
        for lane in lanes
        if len(lane.points) > 1
    ]
    cut = shapely.union_all(shapely.buffer(lines, clears_mm + _SLACK_MM, quad_segs=8))
    return as_polygons(shapely.difference(rest, cut))


def _left_by_rising(rest: Area, lanes: Sequence[Lane], bit: Bit, floor: Floor) -> Area:
    """What is left of waste by lanes that clear the wider the deeper they are than the least depth."""
    if not lanes:
        return rest
    places = [
        shapely.get_coordinates(
            shapely.segmentize(shapely.linestrings(lane.points), _PIECE_MM), include_z=True
        )
        for lane in lanes
    ]
    pieces = np.concatenate([np.stack([points[:-1], points[1:]], axis=1) for points in places])
    deeper_mm = -pieces[:, :, 2].max(axis=1) - floor.least_mm
    deep = deeper_mm > 0.0
    clears_mm = bit.tip_mm / 2.0 + deeper_mm[deep] / steepest(bit, floor) + _SLACK_MM
    cut = shapely.union_all(
        shapely.buffer(shapely.linestrings(pieces[deep][:, :, :2]), clears_mm, quad_segs=8)
    )
    return as_polygons(shapely.difference(rest, cut))


def _worth(rest: Area, least_mm2: float) -> Area:
    """The parts of what is left that are worth a bit's coming."""
    return as_polygons(shapely.union_all([part for part in rest.geoms if part.area >= least_mm2]))


def for_marks(flats: Sequence[Tool]) -> Tool | None:
    """The flat bit that cuts the marks: the largest one that is slender enough, or the smallest, if any."""
    if not flats:
        return None
    slender = [tool for tool in flats if tool.bit.diameter_mm <= _MARKS_MM]
    return max(slender or [min(flats, key=_diameter)], key=_diameter)


def _diameter(tool: Tool) -> float:
    return tool.bit.diameter_mm


def _worth_coming(rest: Area, tool: Tool, finer: Tool | None, manner: Manner, comes: bool) -> Area:
    """The parts of what larger bits left that a flat bit is sent for.

    Where a sloping bit comes by all walls afterwards, a part is worth it only if the flat bit clears it
    sooner, its turning aside reckoned in, and if all of them save more than the change of bits takes;
    ``comes`` says that it comes anyway.
    """
    if finer is None:
        return _worth(rest, manner.least_left_mm2)
    layers = ceil(manner.floor.least_mm / tool.steps.down_mm - 1e-9)
    saved_s = 60.0 / _clears(finer) - 60.0 * layers / _clears(tool)
    if saved_s <= 0.0:
        return MultiPolygon()
    worth = _worth(rest, max(manner.least_left_mm2, _ENTRY_S / saved_s))
    saves_s = worth.area * saved_s - len(worth.geoms) * _ENTRY_S
    return worth if saves_s > (0.0 if comes else manner.change_s) else MultiPolygon()


def _clears(tool: Tool) -> float:
    """What a bit clears at best, mm2 a minute."""
    return tool.steps.over_mm * tool.speeds.feed_mm_min


def _run(
    lanes: Sequence[Lane], tool: Tool, what: str, floor: Floor, away: Distances, manner: Manner
) -> list[Run]:
    if not lanes:
        return []
    bit, speeds = tool.bit, tool.speeds
    order = in_order(lanes, lift_mm=_LIFT_MM, link_mm=_LINK_DIAMETERS * bit.diameter_mm)
    moves = joined(lanes, order, bit, floor, away, Ways(manner.ramp_deg, manner.safe_mm))
    return [Run(bit, what, speeds.rpm, speeds.feed_mm_min, speeds.plunge_mm_min, moves)]


def _marks(blocks: BlockSet, face: Face, bit: Bit, manner: Manner) -> list[Lane]:
    """The marks of a face; a bit that does not fit into one leaves that to the hand."""
    lanes: list[Lane] = []
    for recess, corner in _recesses_of(blocks, face):
        if _fits(bit, recess):
            lanes += mark_lanes(recess, bit, depth_mm=manner.mark_depth_mm, corner=corner)
    return lanes


def _mark_shares(blocks: BlockSet, face: Face, marking: Tool | None) -> list[BitShare]:
    """What the bit for the marks has to clear in the recesses that it fits into."""
    return [
        BitShare(recess.area, marking.steps.over_mm, marking.speeds.feed_mm_min)
        for recess, _ in _recesses_of(blocks, face)
        if marking is not None and _fits(marking.bit, recess)
    ]


def _marks_left(blocks: BlockSet, face: Face, marking: Tool | None) -> list[Region]:
    """The recesses of a face's marks, on the machine, that the bit for the marks does not fit into."""
    return [
        recess
        for recess, _ in _recesses_of(blocks, face)
        if marking is None or not _fits(marking.bit, recess)
    ]


def _fits(bit: Bit, recess: Region) -> bool:
    return not recess.buffer(-bit.radius_mm).is_empty


def _recesses_of(
    blocks: BlockSet, face: Face
) -> list[tuple[Region, tuple[PointMm, PointMm, PointMm] | None]]:
    """The recesses of a face's marks, on the machine, with the corner where the sheet seats."""
    here = blocks.as_on(face)
    return [each for kento in blocks.marks_of(face) for each in _recesses(kento, here.block)]


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
