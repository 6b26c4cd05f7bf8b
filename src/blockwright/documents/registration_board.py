"""The registration board for part blocks: its marks on their pads, and a seat with stops for every block.

Drawn as the printer sees it on the table, mirrored like a block: the sheet is laid on it face down.
"""

from collections.abc import Iterator
from pathlib import Path
from xml.sax.saxutils import escape

import numpy as np
import shapely

from blockwright.documents.face_plate import mark_corner, named_marks
from blockwright.documents.paper import PaperName
from blockwright.documents.sheet import Pen, Placement, Sheet
from blockwright.documents.tiling import plan_tiles
from blockwright.documents.transfer_sheets import PAD_MM, draw_joints, page_label
from blockwright.documents.transfer_strip import (
    BLOCK_EDGE,
    IMAGE_EDGE,
    OUTLINE,
    SHEET_EDGE,
    STOP_GREY,
    WALL,
    StripWords,
    draw_strip,
)
from blockwright.documents.type import INK, Style
from blockwright.model.blocks import BlockSet
from blockwright.model.errors import FolderError
from blockwright.model.registration import RegistrationBoard, Seat
from blockwright.model.units import PointMm, Region

BOARD, PAD, RECESS = "#f3ead8", "#ecdcc0", "#fffdf8"
"""The board's wood, that of the pads, and the bare wood of a recess."""

SEAT_EDGES = (
    Pen(0.3, "#1f4e79"),
    Pen(0.3, "#8c2f23", (4.0, 1.2)),
    Pen(0.3, "#3f6b35", (1.6, 1.0)),
    Pen(0.3, "#6a4a8a", (6.0, 1.2, 1.2, 1.2)),
)
"""Seats may overlap, as one block lies there at a time: each next one has another line."""

STOP_WIDTH_MM, LEAST_NAMED_MM = 10.0, 3.0
"""A stop, and how wide it must be on paper to be named, mm."""

_MARK = Style("italic", 10.0, 12.0, INK)
LETTER_MM, LETTER_SHARE = 7.0, 0.05
"""Height of a block's letter at true size, mm, and at least as a part of the width where it is fitted."""

_SMALL = Style("regular", 8.0, 9.6, INK)
_MARGIN_MM = 1.0

_LEGEND = (("seat", "a part block"), ("stop", "stop"), ("kento", "kento"), ("sheet", "edge of the sheet"))


def board_of(blocks: BlockSet) -> RegistrationBoard:
    """The registration board of a print. Raises ValueError when it has none."""
    if blocks.registration is None:
        raise ValueError("no part blocks, so no registration board")
    return blocks.registration


def draw_registration(sheet: Sheet, blocks: BlockSet, placement: Placement, *, bare: bool = False) -> None:
    """Draw the board; ``bare`` leaves the wood's tints out, for a sheet that is pasted on."""
    board = board_of(blocks)
    sheet.drawing(board.outline, placement, pen=BLOCK_EDGE, fill=None if bare else BOARD)
    image = shapely.box(0.0, 0.0, blocks.image_width_mm, blocks.image_height_mm)
    sheet.drawing(shapely.boundary(image), placement, pen=IMAGE_EDGE)
    for pad in (board.kagi_pad, board.hikitsuke_pad):
        sheet.drawing(pad, placement, pen=OUTLINE, fill=None if bare else PAD)
    sheet.drawing(blocks.sheet, placement, pen=SHEET_EDGE)
    for recess, wall in (
        (blocks.kento.kagi_recess, blocks.kento.kagi_wall),
        (blocks.kento.hikitsuke_recess, blocks.kento.hikitsuke_wall),
    ):
        sheet.drawing(recess, placement, pen=OUTLINE, fill=RECESS)
        sheet.drawing(shapely.LineString(wall), placement, pen=WALL)
    for seat in board.seats:
        for stop in seat.stops:
            sheet.drawing(stop, placement, pen=OUTLINE, fill=STOP_GREY)
    for number, seat in enumerate(board.seats):
        sheet.drawing(seat.block, placement, pen=SEAT_EDGES[number % len(SEAT_EDGES)])
    for number, seat in enumerate(board.seats):
        _name_seat(sheet, seat, placement, SEAT_EDGES[number % len(SEAT_EDGES)])
    _name_marks(sheet, blocks, placement)


def _name_seat(sheet: Sheet, seat: Seat, placement: Placement, pen: Pen) -> None:
    """Mark the corner that the stops hold, write the block's letter opposite, and into its stops."""
    x, y = placement.point(seat.corner)
    sheet.ring(x, y, 0.9, fill=INK)
    left, top, right, foot = seat.block.bounds
    far = placement.point((left + right - seat.corner[0], top + foot - seat.corner[1]))
    rightward, below = x > far[0], y > far[1]
    sheet.label(
        seat.board,
        Style("semibold", 11.0, 13.0, pen.colour),
        far[0] + (1.2 if rightward else -1.2),
        far[1] + (4.2 if below else -1.4),
        align="left" if rightward else "right",
    )
    for stop in seat.stops:
        at = placement.point((stop.centroid.x, stop.centroid.y))
        if abs(placement.ax) * STOP_WIDTH_MM >= LEAST_NAMED_MM:
            sheet.label(seat.board, _SMALL, at[0], at[1] + 1.0, align="centre")


def _name_marks(sheet: Sheet, blocks: BlockSet, placement: Placement) -> None:
    for name, recess in named_marks(blocks, None)[:2]:
        x, y, rightward, below = mark_corner(blocks, recess, placement)
        baseline = y + 3.6 if below else y - 1.4
        sheet.label(
            name, _MARK, x + (1.0 if rightward else -1.0), baseline, align="left" if rightward else "right"
        )


def write_registration_pdf(
    path: Path, blocks: BlockSet, *, paper: PaperName, roll_mm: float, overlap_mm: float, title: str
) -> int:
    """Write the board at exactly 1:1, over sheets of paper like a transfer sheet; return how many pages.

    Pasted on face up it shows where pads and stops go. Raises SettingsError when the overlap is too wide for
    the paper, FolderError when the file cannot be written.
    """
    board = board_of(blocks)
    x0, y0, x1, y1 = shapely.union(board.outline, blocks.sheet).bounds
    left, top = x0 - PAD_MM, y0 - PAD_MM
    plan = plan_tiles(
        x1 - x0 + 2 * PAD_MM, y1 - y0 + 2 * PAD_MM, paper=paper, roll_mm=roll_mm, overlap_mm=overlap_mm
    )
    named = title.strip() or "Untitled print"
    letters = ", ".join(seat.board for seat in board.seats)
    words = StripWords(
        title=named,
        face=f"registration board · part block{'s' if len(board.seats) > 1 else ''} {letters}",
        side="THIS SIDE UP",
        how="Mirrored, as you see the board on the table. Paste it on, glue the pads, screw the stops.",
        legend=_LEGEND,
    )
    sheet = Sheet(
        path,
        width_mm=plan.page_width_mm,
        height_mm=plan.page_height_mm,
        title=f"{named}: registration board",
        exact=True,
    )
    for tile in plan.tiles:
        placement = Placement(1.0, plan.left_mm - tile.x0 - left, 1.0, plan.top_mm - tile.y0 - top)
        with sheet.clipped(plan.left_mm, plan.top_mm, tile.x1 - tile.x0, tile.y1 - tile.y0):
            draw_registration(sheet, blocks, placement, bare=True)
        draw_joints(sheet, plan, tile)
        draw_strip(sheet, plan, tile, words)
        sheet.end_page(page_label(tile.row, tile.column))
    return sheet.finish()


def registration_svg(blocks: BlockSet, *, millimetres: bool = True) -> str:
    """The board as SVG 1.1, 1:1 in mm with ``millimetres``, else to be fitted into a page.

    (0, 0) is its lower left corner. One user unit is one millimetre, y down, so that what is on the board
    lies at negative y.
    """
    board = board_of(blocks)
    left, _, _, bottom = board.outline.bounds
    x0, y0, x1, y1 = shapely.union(board.outline, blocks.sheet).bounds
    width, height = x1 - x0 + 2 * _MARGIN_MM, y1 - y0 + 2 * _MARGIN_MM
    unit = "mm" if millimetres else ""
    letter_mm = LETTER_MM if millimetres else max(LETTER_MM, width * LETTER_SHARE)
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" version="1.1" width="{_n(width)}{unit}" '
        f'height="{_n(height)}{unit}" viewBox="{_n(x0 - left - _MARGIN_MM)} {_n(y0 - bottom - _MARGIN_MM)} '
        f'{_n(width)} {_n(height)}">',
        "<title>registration board</title>",
        "<desc>As the printer sees it on the table: mirrored. One unit is one millimetre; 0 0 is the board's "
        "lower left corner.</desc>",
        *_layers(blocks, board, (left, bottom), letter_mm=letter_mm),
        "</svg>",
        "",
    ]
    return "\n".join(lines)


def write_registration_svg(path: Path, blocks: BlockSet) -> None:
    """Write the board as SVG, 1:1 in mm. Raises FolderError when the file cannot be written."""
    try:
        path.write_text(registration_svg(blocks), encoding="utf-8", newline="\n")
    except OSError as problem:
        raise FolderError(f"{path.name} cannot be written: {problem.strerror}.") from problem


def _layers(
    blocks: BlockSet, board: RegistrationBoard, origin: PointMm, *, letter_mm: float
) -> Iterator[str]:
    kento, line = blocks.kento, letter_mm / LETTER_MM
    yield from _group("board", f'fill="{BOARD}" stroke="{INK}" stroke-width="0.5"', [board.outline], origin)
    pads = [board.kagi_pad, board.hikitsuke_pad]
    yield from _group("pads", f'fill="{PAD}" stroke="{INK}" stroke-width="0.25"', pads, origin)
    dashed = 'fill="none" stroke="#655d4f" stroke-width="0.25" stroke-dasharray="4 2"'
    yield from _group("sheet", dashed, [blocks.sheet], origin)
    marks = [kento.kagi_recess, kento.hikitsuke_recess]
    yield from _group("marks", 'fill="#ffffff" stroke="#9c2f24" stroke-width="0.35"', marks, origin)
    grey = f'fill="{STOP_GREY}" stroke="{INK}" stroke-width="0.25"'
    yield from _group("stops", grey, [stop for seat in board.seats for stop in seat.stops], origin)
    yield '<g id="part-blocks">'
    for number, seat in enumerate(board.seats):
        pen = SEAT_EDGES[number % len(SEAT_EDGES)]
        dashes = f' stroke-dasharray="{" ".join(map(_n, pen.dash_mm))}"' if pen.dash_mm else ""
        style = f'fill="none" stroke="{pen.colour}" stroke-width="{_n(0.5 * line)}"{dashes}'
        yield from _group(f"part-block-{seat.board}", style, [seat.block], origin)
    yield "</g>"
    size = f'font-size="{_n(letter_mm)}"'
    yield f'<g id="names" font-family="sans-serif" {size} text-anchor="middle">'
    for number, seat in enumerate(board.seats):
        # In the corner opposite the stops, as on paper.
        left, top, right, foot = seat.block.bounds
        middle = np.array((seat.block.centroid.x, seat.block.centroid.y))
        far = np.array((left + right, top + foot)) - np.array(seat.corner)
        x, y = far + np.sign(middle - far) * 0.85 * letter_mm - np.array(origin)
        colour = SEAT_EDGES[number % len(SEAT_EDGES)].colour
        at = f'x="{_n(float(x))}" y="{_n(float(y) + 0.35 * letter_mm)}"'
        yield f'<text {at} fill="{colour}">{escape(seat.board)}</text>'
    yield "</g>"


def _group(name: str, style: str, regions: list[Region], origin: PointMm) -> Iterator[str]:
    yield f'<g id="{name}" {style}>'
    for region in regions:
        points = shapely.get_coordinates(region)[:-1] - np.asarray(origin)
        outline = " ".join(f"{_n(float(x))},{_n(float(y))}" for x, y in points)
        yield f'<path d="M {outline} Z"/>'
    yield "</g>"


def _n(value: float) -> str:
    """A length in mm to a thousandth, without idle zeros."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
