"""What is the same for every set of bits on a face: its waste, the largest bit's rings, the walls' lanes."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil

import numpy as np
import shapely
from shapely import affinity

from blockwright.cutting.distances import Distances, distances_in
from blockwright.cutting.feeds import Speeds, Steps
from blockwright.cutting.lanes import Lane, flank_slope, ring_lanes, wall_lanes
from blockwright.cutting.reaching import SLACK_MM
from blockwright.cutting.rising import rising_lanes
from blockwright.cutting.wanted import Floor, area_to_work, as_polygons
from blockwright.model.blocks import BlockSet, Face
from blockwright.model.router import Bit
from blockwright.model.units import Area, Region

UPRIGHT_DEG = 89.0
"""Walls without a bit that cuts sloping ones."""

_LAP_MM = 0.05
"""How far a wall's foot reaches into what flat bits cleared."""

_TOP_SHELF_MM = 0.06
"""How wide the step may be that a bit leaves at a printing edge, in a wall that leans more, mm [CP]."""

_SHELF_MM = 0.12
"""And the steps below it, mm: with walls of 60 degrees less high than the usual slack of the depth."""

_ALIKE = 0.02
"""Slopes that differ by less are the same."""

_ROUND_LACKS = 0.5
"""Where rings are rounded they lead so far from the edge that this part of the slack is lacking in depth."""

_LEAST_GROWTH = 1e-3
"""Floors that fall less, mm for each mm, are level."""


@dataclass(frozen=True, slots=True)
class Tool:
    """A bit with its speeds and steps in the wood of a face."""

    bit: Bit
    speeds: Speeds
    steps: Steps


@dataclass(frozen=True, slots=True)
class Manner:
    """How a face is routed; lengths in mm.

    ``least_left_mm2`` is the least waste that a larger bit left for which a smaller one is taken: less is
    left to the next, and at last to the hand. ``mark_depth_mm`` is the depth of the marks, ``slack_mm`` how
    much shallower than wanted a floor may be, ``change_s`` how long a change of bits takes.
    """

    floor: Floor
    stock_mm: float
    ramp_deg: float
    safe_mm: float
    least_left_mm2: float
    mark_depth_mm: float
    chamfer_mm: float
    change_s: float = 0.0
    slack_mm: float = SLACK_MM


@dataclass(frozen=True, slots=True, eq=False)
class Walls:
    """What a bit for sloping walls does: the floor as it cuts it, how wide to each side it then clears to the
    least depth, its lanes along the walls' feet, and those that rise into corners and gaps.
    """

    tool: Tool
    floor: Floor
    clears_mm: float
    feet: tuple[Lane, ...]
    rising: tuple[Lane, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """A face's waste on the machine, how deep it is wanted, and what larger bits do whatever the others do.

    ``rings`` are the lanes of the largest flat bit, if there is one; ``walls`` what the bluntest bit for
    sloping walls does, if there is one.
    """

    work: Area
    floor: Floor
    away: Distances
    rings: tuple[Lane, ...]
    walls: Walls | None


def ground_of(blocks: BlockSet, face: Face, clear: Area, tools: Sequence[Tool], manner: Manner) -> Ground:
    """Lay out a face's waste, and the lanes of the largest flat bit and of the one for sloping walls."""
    here = blocks.as_on(face)
    work = as_polygons(on_machine(area_to_work(clear, here.block), here.block))
    floor, away = floor_of(tools, manner), distances_in(work)
    flats = [tool for tool in tools if tool.bit.kind == "flat"]
    largest = max(flats, key=lambda tool: tool.bit.diameter_mm, default=None)
    rings = () if largest is None else tuple(rings_of(largest, work, floor, manner))
    sloping = [tool for tool in tools if tool.bit.kind in ("V", "tapered")]
    bluntest = max(sloping, key=lambda tool: tool.bit.angle_deg, default=None)
    return Ground(
        work, floor, away, rings, _walls_of(bluntest, work, floor, away, manner) if bluntest else None
    )


def rings_of(
    tool: Tool, work: Area, floor: Floor, manner: Manner, *, within: Area | None = None
) -> list[Lane]:
    """The rings of a flat bit, everywhere or where something is left."""
    return ring_lanes(
        work,
        tool.bit,
        floor,
        stock_mm=manner.stock_mm,
        step_over_mm=tool.steps.over_mm,
        step_down_mm=tool.steps.down_mm,
        within=within,
        deeper_mm=_deeper_mm(tool, manner),
        round_mm=_ROUND_LACKS * manner.slack_mm / max(manner.floor.growth, _LEAST_GROWTH),
    )


def _walls_of(tool: Tool, work: Area, floor: Floor, away: Distances, manner: Manner) -> Walls:
    deep, clears_mm = _deep_walls(tool, floor, manner)
    feet = _feet(work, tool.bit, deep)
    rising = rising_lanes(work, tool.bit, deep, walls=feet, away=away)
    return Walls(tool, deep, clears_mm, tuple(feet), tuple(rising))


def on_machine(geometry: shapely.Geometry, block: Region) -> shapely.Geometry:
    """A shape of a face as it lies on the machine: zero at the block's lower left corner, y away."""
    left, _, _, bottom = block.bounds
    return affinity.affine_transform(geometry, [1.0, 0.0, 0.0, -1.0, -left, bottom])


def off_machine(geometry: shapely.Geometry, block: Region) -> shapely.Geometry:
    """A shape on the machine as it lies on the face: :func:`on_machine` turned back."""
    left, _, _, bottom = block.bounds
    return affinity.affine_transform(geometry, [1.0, 0.0, 0.0, -1.0, left, bottom])


def _deep_walls(tool: Tool, floor: Floor, manner: Manner) -> tuple[Floor, float]:
    """The floor as a sloping bit cuts it, and how wide to each side it then clears to the least depth, mm.

    The deeper it goes the wider that is, and a wall as steep as the bit's flank stays the same: so it goes as
    deep as one pass may, and so deep that no ridge is left between a wall and what flat bits cleared.
    """
    tip_mm, flank = tool.bit.tip_mm / 2.0, flank_slope(tool.bit)
    beside_mm = manner.stock_mm + tip_mm + _LAP_MM
    least_mm = floor.least_mm + beside_mm * floor.slope
    if flank <= floor.slope + _ALIKE:
        least_mm = max(least_mm, min(tool.steps.down_mm, floor.most_mm))
    clears_mm = tip_mm + (least_mm - floor.least_mm) / max(flank, floor.slope)
    return replace(floor, least_mm=least_mm, most_mm=max(floor.most_mm, least_mm)), clears_mm - _LAP_MM


def _feet(work: Area, bit: Bit, deep: Floor) -> list[Lane]:
    """Lanes along all walls: at their foot, and down the wall in steps where it leans more than the bit."""
    shelf_mm = deep.least_mm * (1.0 / deep.slope - 1.0 / flank_slope(bit))
    shelves = [shelf_mm]
    if shelf_mm > _TOP_SHELF_MM:
        count = ceil((shelf_mm - _TOP_SHELF_MM) / _SHELF_MM)
        shelves = np.linspace(_TOP_SHELF_MM, shelf_mm, count + 1).tolist()
    depths = [deep.least_mm * shelf / shelf_mm for shelf in shelves] if shelf_mm > 0.0 else [deep.least_mm]
    return [lane for depth in depths for lane in wall_lanes(work, bit, replace(deep, least_mm=depth))]


def floor_of(tools: Sequence[Tool], manner: Manner) -> Floor:
    """How deep a face is wanted to be; with upright walls where no bit cuts sloping ones."""
    sloping = any(tool.bit.kind in ("V", "tapered", "ball") for tool in tools)
    return manner.floor if sloping else replace(manner.floor, wall_deg=UPRIGHT_DEG)


def _deeper_mm(tool: Tool, manner: Manner) -> float:
    """How much deeper than the floor under its middle a flat bit goes: so that what it clears on its far side
    lacks no more than the slack.
    """
    return max(manner.floor.growth * tool.bit.radius_mm - manner.slack_mm, 0.0)
