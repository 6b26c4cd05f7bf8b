"""How a drawing at true size is spread over sheets of paper."""

from dataclasses import dataclass
from math import ceil, floor

from blockwright.documents.paper import LONGEST_MM, PRINTER_MARGIN_MM, SHEETS_MM, PaperName
from blockwright.model.errors import SettingsError

SLACK_MM = 1e-6
"""Rounding allowed when a drawing fits a sheet exactly."""

STRIP_MM = 31.0
"""Height of the strip under each tile that carries the check bar and the words."""

STRIP_GAP_MM = 3.0
"""Free space between the tile and the strip, for the registration crosses."""

LEAST_PAGE_MM = 210.0
"""A page cut from the roll is at least this wide, so that the strip fits."""


@dataclass(frozen=True, slots=True)
class Tile:
    """One sheet's part of the drawing: its place in the grid (from 1) and its rectangle in drawing mm."""

    row: int
    column: int
    x0: float
    y0: float
    x1: float
    y1: float


@dataclass(frozen=True, slots=True)
class TilePlan:
    """The sheets of a drawing: page size, grid, and where a tile's upper left corner lies on its page."""

    page_width_mm: float
    page_height_mm: float
    rows: int
    columns: int
    left_mm: float
    top_mm: float
    overlap_mm: float
    tiles: tuple[Tile, ...]


def plan_tiles(
    width_mm: float, height_mm: float, *, paper: PaperName, roll_mm: float, overlap_mm: float
) -> TilePlan:
    """Spread a drawing over as few sheets as possible, upright or lying, each tile of equal size.

    ``overlap_mm`` is the width that neighbouring tiles share. Between plans with as many sheets the one with
    the least paper wins. Raises SettingsError when the overlap leaves no room for the drawing.

    >>> plan = plan_tiles(398, 278, paper="A4", roll_mm=610, overlap_mm=10)
    >>> plan.rows, plan.columns, plan.page_width_mm
    (2, 2, 297.0)
    """
    plans = [
        _grid(width_mm, height_mm, page=page, overlap_mm=overlap_mm)
        for page in _pages(width_mm, height_mm, paper=paper, roll_mm=roll_mm)
    ]
    return min(plans, key=lambda plan: (len(plan.tiles), plan.page_width_mm * plan.page_height_mm))


def _pages(
    width_mm: float, height_mm: float, *, paper: PaperName, roll_mm: float
) -> tuple[tuple[float, float], ...]:
    """Return the page sizes to try: a sheet both ways, or the roll cut to length both ways."""
    if paper != "roll":
        short, long = SHEETS_MM[paper]
        return (short, long), (long, short)
    around = 2 * PRINTER_MARGIN_MM
    down = min(LONGEST_MM, height_mm + around + STRIP_GAP_MM + STRIP_MM)
    along = min(LONGEST_MM, max(LEAST_PAGE_MM, width_mm + around))
    return (roll_mm, float(ceil(down))), (float(ceil(along)), roll_mm)


def _grid(width_mm: float, height_mm: float, *, page: tuple[float, float], overlap_mm: float) -> TilePlan:
    room_x = page[0] - 2 * PRINTER_MARGIN_MM
    room_y = page[1] - 2 * PRINTER_MARGIN_MM - STRIP_GAP_MM - STRIP_MM
    columns, tile_x = _count(width_mm, room_x, overlap_mm)
    rows, tile_y = _count(height_mm, room_y, overlap_mm)
    tiles = tuple(
        Tile(
            row=row + 1,
            column=column + 1,
            x0=column * (tile_x - overlap_mm),
            y0=row * (tile_y - overlap_mm),
            x1=column * (tile_x - overlap_mm) + tile_x,
            y1=row * (tile_y - overlap_mm) + tile_y,
        )
        for row in range(rows)
        for column in range(columns)
    )
    left = PRINTER_MARGIN_MM + (room_x - tile_x) / 2
    return TilePlan(page[0], page[1], rows, columns, left, PRINTER_MARGIN_MM, overlap_mm, tiles)


def _count(length_mm: float, room_mm: float, overlap_mm: float) -> tuple[int, float]:
    """Return how many tiles cover a length, and how long each is."""
    if length_mm <= room_mm + SLACK_MM:
        return 1, length_mm
    if room_mm <= 2 * overlap_mm:
        raise SettingsError(
            f"[cutting] overlap_mm = {overlap_mm:g} is too much for this paper; at most "
            f"{floor(room_mm / 2)} is possible."
        )
    count = ceil((length_mm - overlap_mm) / (room_mm - overlap_mm) - SLACK_MM)
    return count, (length_mm + (count - 1) * overlap_mm) / count
