"""The strip under every transfer sheet: what it is, how to paste it, the check bar and the map of sheets."""

from dataclasses import dataclass

import numpy as np
import shapely

from blockwright.documents.paper import PRINTER_MARGIN_MM
from blockwright.documents.sheet import Pen, Placement, Sheet
from blockwright.documents.tiling import STRIP_GAP_MM, STRIP_MM, Tile, TilePlan
from blockwright.documents.type import ACCENT, Align, Style, broken, shortened

CHECK_BAR_MM = 100.0
MAP_MM = (33.0, 17.0)
RIGHT_MM = 44.0
"""Width of the strip's right part, with the map of the sheets."""

WEED_ARM_MM = 1.4
"""Half of the width of the cross that marks a part to lift off."""

CLEAR_GREY = "#e0e0e0"
ISLAND_GREY = "#f6f6f6"
STOP_GREY = "#d4d4d4"
HATCH = Pen(0.1, "#a6a6a6")
HATCH_STEP_MM = 4.0
NARROW = Pen(0.18, "#1f4e79")
OUTLINE = Pen(0.1)
WALL = Pen(0.5)
BLOCK_EDGE = Pen(0.25)
SHEET_EDGE = Pen(0.12, "#444444", (3.0, 2.0))
IMAGE_EDGE = Pen(0.1, "#777777")
JOINT = Pen(0.12, "#444444", (6.0, 1.5, 1.0, 1.5))

_TITLE = Style("semibold", 12.0, 14.0, "#000000")
_FACE = Style("regular", 11.0, 13.0, "#000000")
_HOW = Style("regular", 9.2, 11.2, "#000000")
_SIDE = Style("semibold", 12.0, 14.0, "#000000")
_SMALL = Style("regular", 8.2, 9.8, "#000000")
_FIGURE = Style("regular", 6.8, 8.0, "#000000")


@dataclass(frozen=True, slots=True)
class StripWords:
    """What the strip says: title, face and what it carries, which side is to the wood, and how to use it."""

    title: str
    face: str
    side: str
    how: str
    legend: tuple[tuple[str, str], ...]


def draw_strip(sheet: Sheet, plan: TilePlan, tile: Tile, words: StripWords) -> None:
    """Draw the strip of one tile at the foot of its page."""
    left = PRINTER_MARGIN_MM
    top = plan.page_height_mm - PRINTER_MARGIN_MM - STRIP_MM
    width = plan.page_width_mm - 2 * PRINTER_MARGIN_MM - RIGHT_MM
    sheet.line((left, top - STRIP_GAP_MM / 6), (plan.page_width_mm - left, top - STRIP_GAP_MM / 6), Pen(0.1))
    sheet.label(shortened(words.title, _TITLE, width), _TITLE, left, top + 4.2)
    sheet.label(shortened(words.face, _FACE, width), _FACE, left, top + 9.0)
    how = left + sheet.label(words.side, _SIDE, left, top + 14.8) + 4.0
    sheet.write(words.how, _HOW, how, top + 11.8, left + width - how)
    _draw_legend(sheet, words.legend, left, top + 22.6)
    _draw_check_bar(sheet, left, top + 29.8, width)
    _draw_map(sheet, plan, tile, plan.page_width_mm - PRINTER_MARGIN_MM, top)


def _draw_check_bar(sheet: Sheet, left: float, baseline: float, width: float) -> None:
    pen = Pen(0.15)
    sheet.line((left, baseline), (left + CHECK_BAR_MM, baseline), pen)
    for step in range(11):
        x = left + step * CHECK_BAR_MM / 10
        sheet.line((x, baseline), (x, baseline - (4.0 if step % 5 == 0 else 2.0)), pen)
        if step in {0, 5, 10}:
            text = f"{step * 10}" if step < 10 else "100 mm"
            align: Align = "right" if step == 10 else "left"
            sheet.label(text, _FIGURE, x + (-0.8 if step == 10 else 0.8), baseline - 2.4, align=align)
    words = "must measure 100 mm: print at 100 %, no fitting to the page"
    room = width - CHECK_BAR_MM - 4
    lines = broken(words, _SMALL, room)
    sheet.write_lines(lines, _SMALL, left + CHECK_BAR_MM + 3, baseline - len(lines) * _SMALL.leading_mm, room)


def _draw_legend(sheet: Sheet, legend: tuple[tuple[str, str], ...], left: float, baseline: float) -> None:
    """Draw small samples with their words; a sample is known by its kind."""
    x = left
    for kind, words in legend:
        draw_sample(sheet, kind, (x, baseline - 2.6, 6.0, 3.0))
        x += 7.2
        x += sheet.label(words, _SMALL, x, baseline) + 3.6


def draw_sample(sheet: Sheet, kind: str, box: tuple[float, float, float, float]) -> None:
    """Draw how one kind of area or line looks.

    ``kind`` is stays, clear, island, kento, sheet, joint, cut, weed, seat, stop, hand or narrow; ``box`` is
    x, y, width and height in mm.
    """
    x, y, width, height = box
    middle = y + height / 2
    if kind in {"stays", "cut"}:
        sheet.box(x, y, width, height, pen=OUTLINE)
    elif kind == "clear":
        sheet.box(x, y, width, height, fill=CLEAR_GREY)
    elif kind == "seat":
        sheet.box(x, y, width, height, pen=Pen(0.3, "#1f4e79"))
    elif kind == "stop":
        sheet.box(x, y, width, height, pen=OUTLINE, fill=STOP_GREY)
    elif kind == "hand":
        sheet.box(x, y, width, height, fill=ACCENT)
    elif kind == "narrow":
        sheet.ring(x + width / 2, middle, height / 2, pen=NARROW)
    elif kind == "island":
        sheet.box(x, y, width, height, fill=ISLAND_GREY)
        draw_hatch(sheet, shapely.box(x, y, x + width, y + height), Placement(1, 0, 1, 0), step_mm=1.25)
    elif kind == "kento":
        sheet.line((x, y + height), (x + width, y + height), WALL)
        sheet.line((x + width, y + height), (x + width, y), WALL)
    elif kind == "weed":
        draw_weed(sheet, x + width / 2, middle)
    else:
        sheet.line((x, middle), (x + width, middle), {"sheet": SHEET_EDGE, "joint": JOINT}[kind])


def draw_hatch(
    sheet: Sheet, area: shapely.Geometry, placement: Placement, *, step_mm: float = HATCH_STEP_MM
) -> None:
    """Hatch an area at 45 degrees; the lines hang on the drawing, so that they run on from sheet to sheet."""
    if shapely.is_empty(area):
        return
    x0, y0, x1, y1 = shapely.bounds(area)
    offsets = np.arange(np.floor((x0 - y1) / step_mm), np.ceil((x1 - y0) / step_mm) + 1) * step_mm
    ends = np.stack(
        (
            np.column_stack((offsets + y0, np.full_like(offsets, y0))),
            np.column_stack((offsets + y1, np.full_like(offsets, y1))),
        ),
        axis=1,
    )
    with sheet.clipped_to(area, placement) as any_area:
        if any_area:
            sheet.drawing(shapely.linestrings(ends), placement, pen=HATCH)


def draw_weed(sheet: Sheet, x: float, y: float, arm_mm: float = WEED_ARM_MM) -> None:
    """Draw the cross that marks a part to be lifted off."""
    pen = Pen(0.15)
    sheet.line((x - arm_mm, y - arm_mm), (x + arm_mm, y + arm_mm), pen)
    sheet.line((x - arm_mm, y + arm_mm), (x + arm_mm, y - arm_mm), pen)


def _draw_map(sheet: Sheet, plan: TilePlan, tile: Tile, right: float, top: float) -> None:
    """Draw the grid of sheets with this one filled in, and an arrow to the top."""
    last = plan.tiles[-1]
    scale = min(MAP_MM[0] / last.x1, MAP_MM[1] / last.y1)
    step_x, step_y = last.x1 / plan.columns * scale, last.y1 / plan.rows * scale
    x0, y0 = right - step_x * plan.columns, top + 1.4
    for other in plan.tiles:
        here = (other.row, other.column) == (tile.row, tile.column)
        fill = "#9a9a9a" if here else None
        x, y = x0 + (other.column - 1) * step_x, y0 + (other.row - 1) * step_y
        sheet.box(x, y, step_x, step_y, pen=Pen(0.1), fill=fill)
    arrow = x0 - 3.5
    draw_arrow(sheet, arrow, y0 + 9.0, y0)
    sheet.label("top", _SMALL, arrow, y0 + 12.2, align="centre")
    label = f"row {tile.row} of {plan.rows}, column {tile.column} of {plan.columns}"
    sheet.label(label, _SMALL, right, top + 22.2, align="right")


def draw_arrow(sheet: Sheet, x: float, foot: float, head: float) -> None:
    """Draw an upright arrow."""
    pen = Pen(0.25)
    sheet.line((x, foot), (x, head), pen)
    sheet.line((x - 1.2, head + 2.2), (x, head), pen)
    sheet.line((x + 1.2, head + 2.2), (x, head), pen)
