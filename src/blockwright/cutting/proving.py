"""A program held against the face that it should cut: nothing is handed over that would harm the block.

The program is read back from its text, the face is cut by it in thought, and the result is compared with what
was wanted. It says what was looked at and what was found, never that a program is safe.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon

from blockwright.cutting.clearance import shank_meets
from blockwright.cutting.gouges import Gouges, find_gouges
from blockwright.cutting.mark_check import MARK_WITHIN_MM, MarkCheck, check_marks
from blockwright.cutting.on_machine import Lying, beyond_the_machine
from blockwright.cutting.reaching import LEAST_SLACK_MM, SLACK_MM, Reach, find_reach
from blockwright.cutting.reading_program import ProgramMoves, read_program
from blockwright.cutting.simulating import Stretches, Surface, carve, cut_stretches
from blockwright.cutting.wanted import Floor
from blockwright.model.blocks import Kento
from blockwright.model.findings import Finding
from blockwright.model.router import RAPID, Bit, Machine
from blockwright.model.units import Area, PointMm, Region

SHALLOW_SHARE = 0.01
"""The part of what the bits can reach that may stay too shallow before it is pointed at [CP]."""

STANDS_SHARE = 0.5
"""Waste less deep than this part of the least depth stands, and takes ink from the brush [CP]."""

DEEPER_MM = 0.1
"""How much deeper than its wall or its floor the waste may be cut before it is pointed at, mm [CP]."""

DEEPER_MM2 = 0.5
"""Less of it than this is not worth a word, mm2."""

_ON_WALL_MM = 0.01
"""A cell whose middle lies on a recess's wall belongs to the recess: its place is checked by itself."""

_RAPID_MM = -1e-6


@dataclass(frozen=True, slots=True, eq=False)
class FaceWanted:
    """What a program should make of a face; areas in face coordinates, mm.

    ``clear`` is the waste that is taken down to the ``floor``; the recesses of ``marks`` are cut
    ``mark_depth_mm`` deep; ``relief`` is what else may be cut (relieved corners, the rim's chamfer), however
    deep within the board. All other wood of the block stays at the face. ``image_width_mm`` and ``mirrored``
    put places of findings into the image. ``quarter_turn``: the block lies so on the machine.
    """

    name: str
    block: Region
    thickness_mm: float
    printing: Area
    clear: Area
    floor: Floor
    marks: tuple[Kento, ...] = ()
    mark_depth_mm: float = 0.0
    relief: Area = field(default_factory=MultiPolygon)
    image_width_mm: float = 0.0
    mirrored: bool = True
    quarter_turn: bool = False

    @property
    def lying(self) -> Lying:
        """How the block lies on the machine."""
        return Lying.of(self.block, quarter_turn=self.quarter_turn)

    def in_image(self, x_mm: float, y_mm: float) -> PointMm:
        """A place on the face as a place of the image."""
        x = self.image_width_mm - x_mm if self.mirrored else x_mm
        return round(x, 2), round(y_mm, 2)

    def stays(self) -> shapely.Geometry:
        """All wood that stays at the face."""
        recesses = [
            shapely.buffer(recess, _ON_WALL_MM, join_style="mitre")
            for kento in self.marks
            for recess in (kento.kagi_recess, kento.hikitsuke_recess)
        ]
        return shapely.difference(self.block, shapely.union_all([self.clear, self.relief, *recesses]))


@dataclass(frozen=True, slots=True, eq=False)
class Proof:
    """What came out of it: findings, figures, and the fields that drawings are made from.

    ``gouge_mm2`` is wood that stays and was cut; ``shallow_mm2`` of ``reachable_mm2`` is too shallow though a
    bit could reach it; ``unreached_mm2`` no bit can reach. ``too_deep_mm2`` of the waste is cut deeper than
    its wall or its floor. ``shallow`` and ``too_deep`` (rows, columns) are their cells.
    """

    findings: tuple[Finding, ...]
    surface: Surface
    reach: Reach
    shallow: NDArray[np.bool_]
    marks: tuple[MarkCheck, ...]
    moves: int
    gouge_mm2: float
    deepest_gouge_mm: float
    reachable_mm2: float
    shallow_mm2: float
    unreached_mm2: float
    deepest_mm: float
    too_deep: NDArray[np.bool_]
    too_deep_mm2: float

    @property
    def may_be_handed_over(self) -> bool:
        """Whether nothing was found that stops it."""
        return all(finding.severity != "stop" for finding in self.findings)


def check_program(
    texts: Sequence[str],
    wanted: FaceWanted,
    bits: Sequence[Bit],
    machine: Machine,
    *,
    slack_mm: float = SLACK_MM,
) -> Proof:
    """Check the programs that one after the other cut a face, from their texts.

    ``bits`` are all that the programs may use. Raises ProgramError where a program cannot be read or uses
    another bit.
    """
    # From here on the block lies as its carver sees it; only the machine's own reach is told as it stands.
    programs = [wanted.lying.off_machine(read_program(text)) for text in texts]
    by_number = {bit.number: bit for bit in bits}
    stretches, used = _joined(programs, by_number, wanted.block)
    left, top, right, bottom = wanted.block.bounds
    edges = MultiPolygon([*wanted.clear.geoms, *wanted.printing.geoms])
    surface = carve(stretches, (left, top, right, bottom), edges=edges)
    gouges = find_gouges(surface, wanted.stays())
    reach = find_reach(
        wanted.clear,
        wanted.floor,
        used,
        origin=surface.origin,
        step_mm=surface.step_mm,
        shape=surface.heights.shape,
        slack_mm=slack_mm,
    )
    shallow = reach.reached & (surface.heights > -reach.needed_mm)
    allowed = np.minimum(reach.away_mm * np.float32(wanted.floor.slope), np.float32(wanted.floor.most_mm))
    too_deep = (reach.away_mm > 0) & (surface.heights < -(allowed + np.float32(DEEPER_MM)))
    marks = _marks(stretches, wanted)
    cell_mm2 = surface.step_mm**2
    proof = Proof(
        findings=(),
        surface=surface,
        reach=reach,
        shallow=shallow,
        marks=marks,
        moves=sum(len(program) for program in programs),
        gouge_mm2=gouges.area_mm2,
        deepest_gouge_mm=gouges.deepest_mm,
        reachable_mm2=float(np.count_nonzero(reach.reached)) * cell_mm2,
        shallow_mm2=float(np.count_nonzero(shallow)) * cell_mm2,
        unreached_mm2=float(np.count_nonzero((reach.needed_mm > 0) & ~reach.reached)) * cell_mm2,
        deepest_mm=float(-surface.heights.min(initial=0.0)),
        too_deep=too_deep,
        too_deep_mm2=float(np.count_nonzero(too_deep)) * cell_mm2,
    )
    findings = [
        *_gouge_findings(gouges, wanted),
        *_depth_findings(proof, wanted),
        *_shank_findings(stretches, used, wanted),
        *_machine_findings(programs, wanted, machine),
        *_mark_findings(marks, wanted),
        *_shallow_findings(proof, wanted),
        *_deeper_findings(proof, wanted),
    ]
    return Proof(tuple(findings), *(getattr(proof, name) for name in Proof.__slots__ if name != "findings"))


def _joined(
    programs: Sequence[ProgramMoves], bits: dict[int, Bit], block: Region
) -> tuple[Stretches, tuple[Bit, ...]]:
    """The stretches of all programs, in their order, and the bits in the order of their shapes."""
    used = tuple(dict.fromkeys(number for program in programs for number in program.tools))
    each = [cut_stretches(program, bits, block) for program in programs]
    places = [
        np.array([used.index(number) for number in program.tools], dtype=np.int32) for program in programs
    ]
    parts = np.concatenate([np.zeros((0, 10)), *(one.parts for one in each)])
    flags = np.concatenate([np.zeros(0, np.uint8), *(one.flags for one in each)])
    which = [place[one.bits] if len(place) else one.bits for place, one in zip(places, each, strict=True)]
    shapes = np.zeros((len(used), 7))
    for place, one in zip(places, each, strict=True):
        shapes[place] = one.shapes
    numbers = np.concatenate([np.zeros(0, np.int32), *which]).astype(np.int32)
    return Stretches(parts, flags, numbers, shapes), tuple(bits[number] for number in used)


def _gouge_findings(gouges: Gouges, wanted: FaceWanted) -> list[Finding]:
    if not gouges.places:
        return []
    where = "one place" if gouges.places == 1 else f"{gouges.places} places"
    return [
        Finding(
            code="program-cuts-the-face",
            severity="stop",
            message=f"On the face {wanted.name} the program cuts into wood that stays, in {where}, "
            f"{gouges.area_mm2:.2f} mm² in all, {gouges.deepest_mm:.2f} mm deep at the worst. It is not "
            "handed over.",
            at=wanted.in_image(gouges.x_mm, gouges.y_mm),
            about=(("face", wanted.name),),
        )
    ]


def _depth_findings(proof: Proof, wanted: FaceWanted) -> list[Finding]:
    if proof.deepest_mm < wanted.thickness_mm:
        return []
    heights = proof.surface.heights
    y, x = np.unravel_index(int(heights.argmin()), heights.shape)
    step, origin = proof.surface.step_mm, proof.surface.origin
    return [
        Finding(
            code="program-through-the-board",
            severity="stop",
            message=f"On the face {wanted.name} the program cuts {proof.deepest_mm:.1f} mm deep; the board "
            f"is {wanted.thickness_mm:g} mm thick.",
            at=wanted.in_image(origin[0] + (float(x) + 0.5) * step, origin[1] + (float(y) + 0.5) * step),
            about=(("face", wanted.name), ("thickness_mm", wanted.thickness_mm)),
        )
    ]


def _shank_findings(stretches: Stretches, used: Sequence[Bit], wanted: FaceWanted) -> list[Finding]:
    left, top, right, bottom = wanted.block.bounds
    met = shank_meets(stretches, used, (left, top, right, bottom))
    if met is None:
        return []
    x, y, deep, which = met
    bit = used[which]
    return [
        Finding(
            code="program-shank-meets-wood",
            severity="stop",
            message=f"On the face {wanted.name} the bit {bit.name} goes so deep that its shank meets "
            f"standing wood, {deep:.1f} mm below its top: it cuts {bit.cutting_mm:g} mm deep. Take one that "
            "cuts deeper, or clear less deep.",
            at=wanted.in_image(x, y),
            about=(("face", wanted.name), ("bit", bit.name), ("cutting_mm", bit.cutting_mm)),
        )
    ]


def _machine_findings(
    programs: Sequence[ProgramMoves], wanted: FaceWanted, machine: Machine
) -> list[Finding]:
    moving = [program for program in programs if len(program)]
    if not moving:
        return []
    findings = beyond_the_machine(moving, wanted.name, wanted.lying, machine)
    for program in moving:
        rapid = program.kind == RAPID
        upright = (program.start[:, :2] == program.end[:, :2]).all(axis=1)
        rising = upright & (program.end[:, 2] > program.start[:, 2])
        below = np.minimum(program.start[:, 2], program.end[:, 2]) < _RAPID_MM
        wrong = np.flatnonzero(rapid & below & ~rising)
        if len(wrong):
            x, y, _ = program.end[wrong[0]].tolist()
            left, _, _, bottom = wanted.block.bounds
            findings.append(
                Finding(
                    code="program-rapid-in-the-wood",
                    severity="stop",
                    message=f"On the face {wanted.name} the program moves at full speed below the face, in "
                    f"line {int(program.line[wrong[0]])}; only straight up it may do that.",
                    at=wanted.in_image(left + x, bottom - y),
                    about=(("face", wanted.name),),
                )
            )
    return findings


def _marks(stretches: Stretches, wanted: FaceWanted) -> tuple[MarkCheck, ...]:
    return tuple(
        check
        for kento in wanted.marks
        for check in check_marks(stretches, kento, depth_mm=wanted.mark_depth_mm)
    )


def _mark_findings(marks: Sequence[MarkCheck], wanted: FaceWanted) -> list[Finding]:
    findings = []
    for mark in marks:
        at = wanted.in_image(*mark.at)
        if not mark.cut:
            findings.append(
                Finding(
                    code="program-leaves-a-mark",
                    severity="warn",
                    message=f"On the face {wanted.name} the program does not cut the {mark.name}: cut it by "
                    "hand, or no sheet can be laid.",
                    at=at,
                    about=(("face", wanted.name),),
                )
            )
        elif not mark.good:
            findings.append(
                Finding(
                    code="program-mark-is-off",
                    severity="stop",
                    message=f"On the face {wanted.name} the {mark.name} is {mark.position_mm:.2f} mm out of "
                    f"place and {mark.uneven_mm:.2f} mm off its depth of {wanted.mark_depth_mm:g} mm; "
                    f"{MARK_WITHIN_MM:g} mm is allowed.",
                    at=at,
                    about=(("face", wanted.name),),
                )
            )
    return findings


def _shallow_findings(proof: Proof, wanted: FaceWanted) -> list[Finding]:
    """What stays too shallow, if it is much; and wood that stands up to the face, be it ever so little."""
    much = proof.shallow_mm2 > SHALLOW_SHARE * proof.reachable_mm2
    stands = proof.shallow & (proof.surface.heights > -STANDS_SHARE * wanted.floor.least_mm)
    stands &= proof.reach.needed_mm > wanted.floor.least_mm - 2.0 * LEAST_SLACK_MM
    places = cv2.connectedComponents(stands.astype(np.uint8))[0] - 1 if stands.any() else 0
    if not much and not places:
        return []
    lack = np.where(stands if places else proof.shallow, proof.surface.heights + proof.reach.needed_mm, 0.0)
    y, x = np.unravel_index(int(lack.argmax()), lack.shape)
    step, origin = proof.surface.step_mm, proof.surface.origin
    standing = "in one place" if places == 1 else f"in {places} places"
    percent = 100.0 * proof.shallow_mm2 / max(proof.reachable_mm2, 1e-9)
    words = (
        f"{proof.shallow_mm2:.0f} mm² that the bits can reach ({percent:.1f} %) stay too shallow, by "
        f"{float(lack.max()):.1f} mm at the worst: ink may stand there"
        if much
        else f"{float(np.count_nonzero(stands)) * step**2:.2f} mm² that the bits can reach stay standing, "
        f"{standing}: they would print"
    )
    if much and places:
        words += f", and wood would print that stays standing, {standing}"
    return [
        Finding(
            code="program-leaves-it-shallow",
            severity="warn",
            message=f"On the face {wanted.name} {words}. Clear it by hand.",
            at=wanted.in_image(origin[0] + (float(x) + 0.5) * step, origin[1] + (float(y) + 0.5) * step),
            about=(("face", wanted.name),),
        )
    ]


def _deeper_findings(proof: Proof, wanted: FaceWanted) -> list[Finding]:
    if proof.too_deep_mm2 <= DEEPER_MM2:
        return []
    heights, step, origin = proof.surface.heights, proof.surface.step_mm, proof.surface.origin
    steep = np.minimum(proof.reach.away_mm * wanted.floor.slope, wanted.floor.most_mm)
    excess = np.where(proof.too_deep, -heights - steep, 0.0)
    y, x = np.unravel_index(int(excess.argmax()), excess.shape)
    return [
        Finding(
            code="program-deeper-than-wanted",
            severity="warn",
            message=f"On the face {wanted.name} the program cuts {proof.too_deep_mm2:.1f} mm² of the waste "
            f"deeper than wanted, by {float(excess.max()):.1f} mm at the worst: walls that are steeper than "
            "asked for, or a hollow that goes too deep, leave fine lines without a foot.",
            at=wanted.in_image(origin[0] + (float(x) + 0.5) * step, origin[1] + (float(y) + 0.5) * step),
            about=(("face", wanted.name),),
        )
    ]
