"""The face as a program leaves it, from the program's text alone: heights over a grid of cells.

The grid is in face coordinates: mm, x to the right, y down, the first row at the top; a height is 0 on the
face and negative below it. Cells are 0.1 mm wide, and 0.05 mm in tiles near the edges that are named.
"""

from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from math import ceil, hypot
from os import cpu_count

import numpy as np
import shapely
from numba import njit
from numpy.typing import NDArray

from blockwright.cutting import sweeping
from blockwright.cutting.reading_program import ProgramMoves
from blockwright.cutting.sweeping import AX, AY, AZ, BX, BY, BZ, REACH, TILE
from blockwright.geometry.arc_fitting import arc_parts, split_arcs
from blockwright.model.errors import ProgramError
from blockwright.model.router import Bit, Moves
from blockwright.model.units import Region

STEP_MM = 0.1
FINE_MM = 0.05
"""The cells' width, and that of cells near edges, mm [der]."""

NEAR_MM = 0.3
"""Tiles that come so near to an edge are fine, mm."""

_MOST_THREADS = 8
"""More than this wait for memory."""


@dataclass(frozen=True, slots=True, eq=False)
class Surface:
    """Heights of a rectangle, mm: ``heights`` (rows, columns) float32; ``origin`` is the first cell's corner.

    Where ``fine_tile`` (tile rows, tile columns) is not -1 it names a tile of ``fine`` (tiles, n, n), whose
    cells are half as wide; ``heights`` has their means there.
    """

    origin: tuple[float, float]
    step_mm: float
    heights: NDArray[np.float32]
    fine_tile: NDArray[np.int32]
    fine: NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class Stretches:
    """Straight stretches that cut, in face coordinates: ``parts`` (n, 10), ``flags`` (n,), ``bits`` (n,)."""

    parts: NDArray[np.float64]
    flags: NDArray[np.uint8]
    bits: NDArray[np.int32]
    shapes: NDArray[np.float64]


def simulate(
    moves: ProgramMoves,
    bits: Mapping[int, Bit],
    block: Region,
    *,
    edges: shapely.Geometry | None = None,
    step_mm: float = STEP_MM,
) -> Surface:
    """Cut a block by the moves of a program; ``bits`` are by their numbers, ``block`` in face coordinates.

    Near ``edges`` (lines or outlines of areas, face coordinates) cells are half as wide. Every move cuts,
    rapid ones too. Raises ProgramError where the program uses a bit that is not among ``bits``.
    """
    left, top, right, bottom = block.bounds
    stretches = cut_stretches(moves, bits, block)
    return carve(stretches, (left, top, right, bottom), edges=edges, step_mm=step_mm)


def cut_stretches(moves: ProgramMoves, bits: Mapping[int, Bit], block: Region) -> Stretches:
    """All stretches below the face, arcs split within 0.002 mm, turned over into face coordinates."""
    missing = [number for number in moves.tools if number not in bits]
    if missing:
        known = ", ".join(f"T{number} ({bits[number].name})" for number in sorted(bits)) or "none"
        raise ProgramError(f"The program uses the bit T{missing[0]}, which is not known; known are {known}.")
    left, _, _, bottom = block.bounds
    numbers = list(moves.tools)
    shapes = np.array([sweeping.shape_of(bits[number]) for number in numbers]).reshape(-1, 7)
    order = np.searchsorted(np.sort(numbers), moves.tool) if len(moves) else np.zeros(0, np.int64)
    which = np.argsort(numbers)[order].astype(np.int32) if len(moves) else np.zeros(0, np.int32)
    begin, end, which = _straight(moves, which)
    parts = np.zeros((len(end), 10))
    parts[:, AX], parts[:, AY], parts[:, AZ] = left + begin[:, 0], bottom - begin[:, 1], begin[:, 2]
    parts[:, BX], parts[:, BY], parts[:, BZ] = left + end[:, 0], bottom - end[:, 1], end[:, 2]
    flags = np.zeros(len(parts), dtype=np.uint8)
    sweeping.link(parts, which, shapes, flags)
    keep = np.minimum(parts[:, AZ], parts[:, BZ]) < 0.0
    return Stretches(parts[keep], flags[keep], which[keep], shapes)


def _straight(
    moves: ProgramMoves, which: NDArray[np.int32]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.int32]]:
    if not len(moves):
        return moves.start, moves.end, which
    x, y, z = moves.start[0].tolist()
    chain = Moves((x, y, z), moves.kind, moves.end, moves.centre)
    end = split_arcs(chain).end
    begin = np.concatenate([moves.start[:1], end[:-1]])
    return begin, end, np.repeat(which, arc_parts(chain))


def carve(
    stretches: Stretches,
    window: tuple[float, float, float, float],
    *,
    edges: shapely.Geometry | None = None,
    step_mm: float = STEP_MM,
) -> Surface:
    """Cut a rectangle (left, top, right, bottom; on the face) by stretches, tile by tile on all cores."""
    left, top, right, bottom = window
    columns = max(1, ceil((right - left) / step_mm - 1e-6))
    rows = max(1, ceil((bottom - top) / step_mm - 1e-6))
    tile_rows, tile_columns = -(-rows // TILE), -(-columns // TILE)
    fine_tile = np.full((tile_rows, tile_columns), -1, dtype=np.int32)
    if edges is not None:
        near = _near(edges, (left, top), step_mm * TILE, fine_tile.shape)
        fine_tile[near] = np.arange(int(near.sum()), dtype=np.int32)
    heights = np.zeros((rows, columns), dtype=np.float32)
    fine = np.zeros((int(fine_tile.max()) + 1, 2 * TILE, 2 * TILE), dtype=np.float32)
    starts, listed = _listed(stretches.parts, left, top, step_mm * TILE, tile_rows, tile_columns)

    def band(first: int, end: int) -> None:
        sweeping.carve_tiles(
            heights,
            fine,
            fine_tile,
            np.array([left, top, step_mm]),
            first,
            end,
            starts,
            listed,
            stretches.parts,
            stretches.flags,
            stretches.shapes,
            stretches.bits,
        )

    _in_bands(band, starts, tile_rows, tile_columns)
    return Surface((left, top), step_mm, heights, fine_tile, fine)


def _in_bands(
    band: Callable[[int, int], None], starts: NDArray[np.int64], tile_rows: int, tile_columns: int
) -> None:
    """Call for bands of tile rows with about the same work each, so many that no core waits long."""
    threads = max(1, min(cpu_count() or 1, _MOST_THREADS))
    work = starts[::tile_columns][: tile_rows + 1] + np.arange(tile_rows + 1) * tile_columns
    stops = np.searchsorted(work, np.linspace(0, work[-1], 4 * threads + 1)[1:-1])
    edges = np.unique(np.concatenate([[0], stops, [tile_rows]]))
    with ThreadPoolExecutor(threads) as pool:
        list(pool.map(band, edges[:-1].tolist(), edges[1:].tolist()))


def _near(
    edges: shapely.Geometry, corner: tuple[float, float], tile_mm: float, shape: tuple[int, int]
) -> NDArray[np.bool_]:
    """The tiles that an edge comes near to."""
    near = np.zeros(shape, dtype=np.bool_)
    lines = shapely.get_parts(edges)
    if shapely.get_dimensions(edges) == 2:
        lines = shapely.get_rings(lines)
    points, ring = shapely.get_coordinates(lines, return_index=True)
    if len(points):
        joined = ring[1:] == ring[:-1]
        _mark(near, points, joined, corner[0], corner[1], tile_mm)
    return near


@njit(cache=True, nogil=True)
def _mark(near, points, joined, left, top, tile):  # type: ignore[no-untyped-def]
    rows, columns = near.shape
    for k in range(len(joined)):
        if not joined[k]:
            continue
        ax, ay, bx, by = points[k, 0], points[k, 1], points[k + 1, 0], points[k + 1, 1]
        pieces = int(np.ceil(max(abs(bx - ax), abs(by - ay)) / tile)) + 1
        for i in range(pieces):
            x0, y0 = ax + (bx - ax) * i / pieces, ay + (by - ay) * i / pieces
            x1, y1 = ax + (bx - ax) * (i + 1) / pieces, ay + (by - ay) * (i + 1) / pieces
            first_row = max(int(np.floor((min(y0, y1) - NEAR_MM - top) / tile)), 0)
            last_row = min(int(np.floor((max(y0, y1) + NEAR_MM - top) / tile)), rows - 1)
            first = max(int(np.floor((min(x0, x1) - NEAR_MM - left) / tile)), 0)
            last = min(int(np.floor((max(x0, x1) + NEAR_MM - left) / tile)), columns - 1)
            for row in range(first_row, last_row + 1):
                for column in range(first, last + 1):
                    near[row, column] = True


@njit(cache=True, nogil=True)
def _touches(part, x, y, half):  # type: ignore[no-untyped-def]
    """Whether a stretch can reach into the tile round (x, y): its middle against the tile's outer circle."""
    dx, dy = part[BX] - part[AX], part[BY] - part[AY]
    long = dx * dx + dy * dy
    at = 0.0
    if long > 0.0:
        at = min(max(((x - part[AX]) * dx + (y - part[AY]) * dy) / long, 0.0), 1.0)
    return hypot(part[AX] + at * dx - x, part[AY] + at * dy - y) <= part[REACH] + half * 1.4143


@njit(cache=True, nogil=True)
def _count_tiles(parts, left, top, tile, rows, columns, starts, listed, fill):  # type: ignore[no-untyped-def]
    """Count the stretches of every tile or, when counted, list them in their order."""
    half = tile / 2.0
    for k in range(len(parts)):
        part = parts[k]
        reach = part[REACH]
        low_x, high_x = min(part[AX], part[BX]) - reach, max(part[AX], part[BX]) + reach
        low_y, high_y = min(part[AY], part[BY]) - reach, max(part[AY], part[BY]) + reach
        first_row = max(int(np.floor((low_y - top) / tile)), 0)
        last_row = min(int(np.floor((high_y - top) / tile)), rows - 1)
        first = max(int(np.floor((low_x - left) / tile)), 0)
        last = min(int(np.floor((high_x - left) / tile)), columns - 1)
        small = last_row - first_row < 2 and last - first < 2
        for row in range(first_row, last_row + 1):
            for column in range(first, last + 1):
                if not small and not _touches(
                    part, left + column * tile + half, top + row * tile + half, half
                ):
                    continue
                place = row * columns + column
                if fill:
                    listed[starts[place]] = k
                starts[place] += 1


def _listed(
    parts: NDArray[np.float64], left: float, top: float, tile_mm: float, rows: int, columns: int
) -> tuple[NDArray[np.int64], NDArray[np.int32]]:
    """The stretches of every tile: where each tile's begin, and their numbers."""
    count = np.zeros(rows * columns + 1, dtype=np.int64)
    _count_tiles(parts, left, top, tile_mm, rows, columns, count, np.zeros(1, np.int32), False)
    starts = np.concatenate([[0], np.cumsum(count[:-1])])
    listed = np.empty(int(starts[-1]), dtype=np.int32)
    _count_tiles(parts, left, top, tile_mm, rows, columns, starts.copy(), listed, True)
    return starts, listed
