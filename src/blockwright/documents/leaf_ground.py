"""The ground for leaf at true size: a right-reading mask for stencil or brush, on sheets of paper."""

from pathlib import Path

import shapely

from blockwright.documents.paper import PaperName
from blockwright.documents.sheet import Pen, Placement, Sheet
from blockwright.documents.tiling import Tile, TilePlan, plan_tiles
from blockwright.documents.transfer_sheets import PAD_MM, draw_joints, page_label
from blockwright.documents.transfer_strip import (
    CLEAR_GREY,
    IMAGE_EDGE,
    OUTLINE,
    SHEET_EDGE,
    StripWords,
    draw_strip,
)
from blockwright.model.leaf import Laying
from blockwright.model.units import Region

_LEGEND = (("clear", "ground"), ("sheet", "edge of the sheet"))
_LEAF = Pen(0.12, "#555555", (1.5, 1.5))


def write_ground_sheet(
    path: Path,
    laying: Laying,
    *,
    image: Region,
    paper_sheet: Region,
    paper: PaperName,
    roll_mm: float,
    overlap_mm: float,
    title: str,
) -> int:
    """Write the mask of one metal's ground at exactly 1:1, right-reading; return the number of pages.

    ``image`` and ``paper_sheet`` are rectangles in the print's coordinates, mm. Pages on which no ground
    lies are left out. Raises SettingsError when the overlap is too wide for the paper, FolderError when the
    file cannot be written.
    """
    x0, y0, x1, y1 = shapely.total_bounds([paper_sheet, laying.ground]).tolist()
    left, top = x0 - PAD_MM, y0 - PAD_MM
    plan = plan_tiles(
        x1 - x0 + 2 * PAD_MM,
        y1 - y0 + 2 * PAD_MM,
        paper=paper,
        roll_mm=roll_mm,
        overlap_mm=overlap_mm,
    )
    metal = laying.metal.name
    kept = [tile for tile in plan.tiles if laying.ground.intersects(_seen(tile, left, top))]
    left_out = " Sheets without ground are left out." if len(kept) < len(plan.tiles) else ""
    words = StripWords(
        title=title.strip() or "Untitled print",
        face=f"ground for {metal} leaf · impression {laying.impression}",
        side="THIS SIDE UP",
        how=f"Right-reading, as you see the print. Cut a stencil, or brush by it.{left_out}",
        legend=_LEGEND,
    )
    sheet = Sheet(
        path,
        width_mm=plan.page_width_mm,
        height_mm=plan.page_height_mm,
        title=f"{words.title}: ground for {metal} leaf",
        exact=True,
    )
    for tile in kept:
        placement = Placement(1.0, plan.left_mm - tile.x0 - left, 1.0, plan.top_mm - tile.y0 - top)
        _draw_tile(sheet, laying, (image, paper_sheet), plan, tile, placement)
        draw_joints(sheet, plan, tile)
        draw_strip(sheet, plan, tile, words)
        sheet.end_page(page_label(tile.row, tile.column))
    return sheet.finish()


def _seen(tile: Tile, left: float, top: float) -> Region:
    """What of the print lies on a tile."""
    return shapely.box(left + tile.x0, top + tile.y0, left + tile.x1, top + tile.y1)


def _draw_tile(
    sheet: Sheet,
    laying: Laying,
    edges: tuple[Region, Region],
    plan: TilePlan,
    tile: Tile,
    placement: Placement,
) -> None:
    image, paper_sheet = edges
    with sheet.clipped(plan.left_mm, plan.top_mm, tile.x1 - tile.x0, tile.y1 - tile.y0):
        sheet.drawing(laying.ground, placement, pen=OUTLINE, fill=CLEAR_GREY)
        sheet.drawing(shapely.boundary(shapely.MultiPolygon(laying.leaves)), placement, pen=_LEAF)
        sheet.drawing(image, placement, pen=IMAGE_EDGE)
        sheet.drawing(paper_sheet, placement, pen=SHEET_EDGE)
