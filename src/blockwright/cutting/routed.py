"""A face routed: with which bits and how fast, how long it takes, and what is left to the hand."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import shapely

from blockwright.cutting.feeds import speeds_for, steps_for, wood_class_of
from blockwright.cutting.ground import Manner, Tool, floor_of
from blockwright.cutting.proving import FaceWanted, Proof
from blockwright.cutting.reaching import largest_bits
from blockwright.cutting.reading_program import ProgramMoves
from blockwright.cutting.routing import Routed, relief_of, route_face
from blockwright.cutting.timing import BitShare, lower_bound_s, router_time
from blockwright.cutting.wanted import Floor
from blockwright.geometry.narrowest import narrowest_width
from blockwright.model.blocks import BlockSet, Board, Face
from blockwright.model.cut import BitChoice, BitWork, FaceCut, Narrow, Routing
from blockwright.model.errors import SettingsError
from blockwright.model.router import CLEARING_KINDS, Bit, Machine
from blockwright.model.settings import CuttingTable
from blockwright.model.units import Area

_LEAST_WIDTH_MM = {"hardwood": 0.5, "softwood": 0.8, "MDF": 0.8}
"""What prints and is narrower does not stand when it is routed, mm [CP]."""

_MINUTES_A_PLACE = 0.25
"""Taking up a knife at a place that the bits left, minutes [CP]."""

_MOST_NARROW = 40
"""Narrow places that are told; of more, the narrowest."""

_S = 60.0


@dataclass(frozen=True, slots=True)
class Bench:
    """What a face is routed with: the machine, the tools for its wood, and how.

    ``quarter_turn``: blocks lie on the machine turned by a quarter to the left.
    """

    machine: Machine
    tools: tuple[Tool, ...]
    manner: Manner
    quarter_turn: bool = False

    @property
    def bits(self) -> tuple[Bit, ...]:
        """The bits, without speeds and steps."""
        return tuple(tool.bit for tool in self.tools)


def set_up(
    board: Board,
    marks_mm: float,
    table: CuttingTable,
    bits: Sequence[Bit],
    machine: Machine,
    *,
    bits_at: str = "[cutting.router] bits",
) -> Bench:
    """Lay out machine and bits for a board, with speeds and steps for its wood, as the settings say.

    ``marks_mm`` is how deep the marks are cut, ``bits_at`` where the print says which bits. Raises
    SettingsError where there is neither a flat nor a ball bit.
    """
    settings = table.router
    if all(bit.kind not in CLEARING_KINDS for bit in bits):
        raise SettingsError(
            f"print.toml: {bits_at} names no flat bit and no ball bit; one at least must clear the faces."
        )
    safe_mm = machine.safe_mm if settings.safe_mm is None else settings.safe_mm
    machine = replace(machine, arcs=machine.arcs and settings.arcs, safe_mm=safe_mm)
    wood = wood_class_of(board.wood)
    tools = []
    for bit in bits:
        steps = steps_for(bit, wood, settings)
        tools.append(Tool(bit, speeds_for(bit, wood, machine, steps.down_mm, settings), steps))
    manner = Manner(
        floor=Floor(
            settings.wall_deg, settings.least_depth_mm, settings.depth_growth, settings.most_depth_mm
        ),
        stock_mm=settings.stock_mm,
        ramp_deg=settings.ramp_deg,
        safe_mm=safe_mm,
        least_left_mm2=settings.smallest_area_mm2,
        mark_depth_mm=marks_mm,
        chamfer_mm=settings.rim_chamfer_mm,
        change_s=machine.change_s,
        slack_mm=settings.depth_slack_mm,
    )
    return Bench(machine, tuple(tools), manner, settings.quarter_turn)


def wanted_of(blocks: BlockSet, face: Face, board: Board, cut: FaceCut, bench: Bench) -> FaceWanted:
    """What a program should make of a face."""
    here = blocks.as_on(face)
    return FaceWanted(
        name=face.name,
        block=here.block,
        thickness_mm=board.thickness_mm,
        printing=face.printing,
        clear=cut.clear,
        floor=floor_of(bench.tools, bench.manner),
        marks=blocks.marks_of(face),
        mark_depth_mm=bench.manner.mark_depth_mm,
        relief=relief_of(blocks, face, bench.tools, bench.manner),
        image_width_mm=blocks.image_width_mm,
        mirrored=face.mirrored,
        quarter_turn=bench.quarter_turn,
    )


def choices(
    blocks: BlockSet, face: Face, cut: FaceCut, bench: Bench, routed: Routed
) -> list[tuple[tuple[Tool, ...], Routed]]:
    """The face routed by fewer and fewer bits: without the last that clears, without the two last.

    Flat bits come before ball bits, the largest of each kind first. Bits that do nothing on the face, by
    ``routed``, stand in no set.
    """
    used = {run.bit for run in routed.runs}
    at_work = [tool for tool in bench.tools if tool.bit in used]
    clearing = [tool for tool in at_work if tool.bit.kind in CLEARING_KINDS]
    clearing.sort(key=lambda tool: (CLEARING_KINDS.index(tool.bit.kind), -tool.bit.diameter_mm))
    others = tuple(tool for tool in at_work if tool.bit.kind not in CLEARING_KINDS)
    sets = [(*clearing[:count], *others) for count in range(len(clearing) - 1, 0, -1)]
    # With a bit for sloping walls the floor is the same for every set.
    ground = routed.ground if others else None
    return [
        (tools, route_face(blocks, face, cut.clear, tools, bench.manner, ground=ground)) for tools in sets
    ]


def hand_minutes(left: Area, table: CuttingTable) -> float:
    """What clearing by hand takes where bits left waste, at the rates in the settings."""
    return float(left.area) / table.clear_mm2_per_min + len(left.geoms) * _MINUTES_A_PLACE


def choice(
    tools: Sequence[Tool],
    routed: Routed,
    programs: Sequence[ProgramMoves],
    machine: Machine,
    table: CuttingTable,
) -> BitChoice:
    """What one set of bits takes of the router and leaves to the hand."""
    return BitChoice(
        bits=tuple(tool.bit.name for tool in tools),
        router_min=_minutes(programs, machine),
        hand_min=hand_minutes(routed.left, table),
        hand_mm2=float(routed.left.area),
    )


def _minutes(programs: Sequence[ProgramMoves], machine: Machine) -> float:
    """Minutes of programs one after the other, the bits changed between them."""
    return _run_minutes(programs, machine) + _change_minutes(programs, machine)


def _run_minutes(programs: Sequence[ProgramMoves], machine: Machine) -> float:
    times = [router_time(program, machine) for program in programs]
    return sum(each.total_s - each.changes_s for each in times) / _S


def _change_minutes(programs: Sequence[ProgramMoves], machine: Machine) -> float:
    within = sum(router_time(program, machine).changes_s for program in programs)
    return (within + (len(programs) - 1) * machine.change_s) / _S


def routing_of(
    face: Face,
    board: Board,
    bench: Bench,
    routed: Routed,
    proof: Proof,
    programs: Sequence[tuple[ProgramMoves, tuple[str, ...], str]],
    others: Sequence[BitChoice],
    table: CuttingTable,
) -> Routing:
    """What is told of a routed face; ``programs`` come with the names of their bits and of their files."""
    machine = bench.machine
    own = [moves for moves, _, _ in programs]
    areas = largest_bits(proof.reach, routed.floor, bench.bits)
    by_number = {tool.bit.number: tool for tool in bench.tools}
    shares = [
        BitShare(area, by_number[number].steps.over_mm, by_number[number].speeds.feed_mm_min)
        for number, area in areas.items()
    ]
    work = []
    for run in routed.runs:
        files = tuple(file for _, bits, file in programs if file and run.bit.name in bits)
        mine = [moves for moves, bits, _ in programs if bits == (run.bit.name,)]
        minutes = sum(router_time(moves, machine).total_s for moves in mine) / _S
        work.append(
            BitWork(
                run.bit.name,
                run.what,
                run.rpm,
                run.feed_mm_min,
                run.plunge_mm_min,
                len(run.moves),
                minutes,
                files,
                by_number[run.bit.number].speeds.clamped or "",
            )
        )
    chosen = BitChoice(
        tuple(dict.fromkeys(run.bit.name for run in routed.runs)),
        _minutes(own, machine),
        hand_minutes(routed.left, table),
        float(routed.left.area),
    )
    held_back = not proof.may_be_handed_over
    return Routing(
        machine=machine.name,
        work=tuple(work),
        router_min=chosen.router_min,
        lower_bound_min=(lower_bound_s(shares) + routed.beside_s) / _S,
        gouge_mm2=proof.gouge_mm2,
        shallow_mm2=proof.shallow_mm2,
        deep_percent=100.0 * (1.0 - proof.shallow_mm2 / max(proof.reachable_mm2, 1e-9)),
        deepest_mm=proof.deepest_mm,
        marks_off_mm=max((mark.position_mm for mark in proof.marks), default=0.0),
        hand=routed.left,
        hand_places=len(routed.left.geoms),
        hand_min=chosen.hand_min,
        narrow=_narrow(face, board),
        choices=(chosen, *others),
        held_back=held_back,
        idle=tuple(tool.bit.name for tool in bench.tools if tool.bit not in {run.bit for run in routed.runs}),
        quarter_turn=bench.quarter_turn,
        changes_min=_change_minutes(own, machine),
    )


def _narrow(face: Face, board: Board) -> tuple[Narrow, ...]:
    """Places of what prints that are narrower than the wood stands, the narrowest first, on the face."""
    least_mm = _LEAST_WIDTH_MM[wood_class_of(board.wood)]
    parts = [part for part in shapely.get_parts(face.printing) if part.area > 0.0]
    found = [narrowest_width(part) for part in parts if shapely.maximum_inscribed_circle(part).length < 10.0]
    narrow = sorted((each for each in found if each.width_mm < least_mm), key=lambda each: each.width_mm)
    return tuple(
        Narrow((round(each.at[0], 2), round(each.at[1], 2)), each.width_mm) for each in narrow[:_MOST_NARROW]
    )


__all__ = [
    "Bench",
    "choice",
    "choices",
    "hand_minutes",
    "routing_of",
    "set_up",
    "wanted_of",
]
