"""What a careful colleague says of part blocks: too small to hold, or cut too near what they print."""

from collections.abc import Mapping, Sequence

from blockwright.blocks.mirror import mirror_point
from blockwright.model.blocks import Board, Face
from blockwright.model.findings import Facts, Finding
from blockwright.model.settings import BlocksTable
from blockwright.model.units import PointMm, Region

LEAST_SIDE_MM = 40.0
"""A block with a shorter side is hard to hold while it is carved, mm [CP]."""

LEAST_EDGE_MM = 4.0
"""Wood between what prints and the block's edge, mm [CP]: less breaks off, and the baren tips over it."""

_ROUNDING_MM = 1e-6


def check_parts(
    boards: Sequence[Board], names: Mapping[int, str], settings: BlocksTable, *, width_mm: float
) -> list[Finding]:
    """Note part blocks that are small to hold, and warn of those that print too near their edges.

    ``names`` are those of the impressions, by number.
    """
    findings = []
    for board in boards:
        for face in board.faces:
            if face.part is None:
                continue
            colour: Facts = (("colour", names.get(face.impressions[0], "")),)
            if min(board.width_mm, board.height_mm) < LEAST_SIDE_MM:
                findings.append(_small(board, face.part, colour, settings, width_mm=width_mm))
            edge_mm, at = _nearest_edge(face)
            if edge_mm < LEAST_EDGE_MM - _ROUNDING_MM:
                findings.append(_near_edge(board, edge_mm, at, colour, settings, width_mm=width_mm))
    return findings


def _small(board: Board, part: Region, colour: Facts, settings: BlocksTable, *, width_mm: float) -> Finding:
    least_mm = min(board.width_mm, board.height_mm)
    border = settings.part_border_mm + (LEAST_SIDE_MM - least_mm) / 2
    would: Facts = (("part_border_mm", border),) if border <= 100 else ()
    return Finding(
        code="part-block-small",
        severity="note",
        message=f"Part block {board.name} is only {board.width_mm:.0f} x {board.height_mm:.0f} mm, hard to "
        f"hold while it is carved; {LEAST_SIDE_MM:g} mm each way would do. Carve it before it is sawn off, "
        f"or leave more wood: a part_border_mm of {border:g}.",
        at=mirror_point((part.centroid.x, part.centroid.y), width_mm=width_mm),
        about=(*would, *colour),
    )


def _near_edge(
    board: Board,
    edge_mm: float,
    at: PointMm,
    colour: Facts,
    settings: BlocksTable,
    *,
    width_mm: float,
) -> Finding:
    wider = settings.part_border_mm < LEAST_EDGE_MM
    would: Facts = (("part_border_mm", LEAST_EDGE_MM),) if wider else ()
    do = (
        f"a part_border_mm of {LEAST_EDGE_MM:g} would do"
        if wider
        else "the pads of the marks leave it no more wood; carve it on a full block, or leave more margin"
    )
    return Finding(
        code="part-near-edge",
        severity="warn",
        message=f"Part block {board.name} prints {max(0.0, edge_mm):.1f} mm from its edge, where wood breaks "
        f"off and the baren tips; {do}.",
        at=mirror_point(at, width_mm=width_mm),
        about=(*would, *colour),
    )


def _nearest_edge(face: Face) -> tuple[float, PointMm]:
    """How near what prints comes to the block's edge, mm, negative past it, and where."""
    assert face.part is not None, "only part blocks are asked"
    left, top, right, bottom = face.part.bounds
    x0, y0, x1, y1 = face.printing.bounds
    ways = (
        (x0 - left, (x0, (y0 + y1) / 2)),
        (y0 - top, ((x0 + x1) / 2, y0)),
        (right - x1, (x1, (y0 + y1) / 2)),
        (bottom - y1, ((x0 + x1) / 2, y1)),
    )
    return min(ways)
