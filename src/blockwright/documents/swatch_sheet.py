"""The calibration sheet on paper, at exactly 1:1: boxes to print into, marks to read a scan by, and words.

The marks are ArUco markers (Garrido-Jurado et al., *Pattern Recognition* 47, 2014) of a dictionary that
OpenCV predefines.
"""

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
import shapely

from blockwright.documents.sheet import Pen, Placement, Sheet
from blockwright.documents.transfer_strip import CHECK_BAR_MM
from blockwright.documents.type import Rich, Style, broken, fitted, strong
from blockwright.model.swatches import (
    MARK_BITS,
    MARK_DICTIONARY,
    MarkPlace,
    PatchPlace,
    RectMm,
    SwatchPage,
    SwatchPlan,
)

_MODULES = MARK_BITS + 2
"""Modules across a mark, its black border included."""

_BOX = Pen(0.15, "#9a9a9a")
_BARE = Pen(0.15, "#9a9a9a", (0.6, 0.9))
_TICK = Pen(0.25, "#666666")
_BAR = Pen(0.15, "#000000")

_TITLE = Style("semibold", 15.0, 18.0, "#000000")
_NUMBER = Style("regular", 9.0, 11.0, "#000000")
_STEP = Style("regular", 8.6, 10.7, "#000000")
_HEAD = Style("semibold", 8.6, 10.6, "#000000")
_PASS = Style("regular", 7.6, 9.2, "#000000")
_ROW = Style("semibold", 9.4, 11.2, "#000000")
_CODE = Style("regular", 6.2, 7.4, "#777777")
_FIGURE = Style("regular", 6.8, 8.0, "#000000")

_LINE_GAP_MM = 1.0
_COLUMN_GAP_MM = 8.0


def write_swatch_sheet(path: Path, pages: Sequence[SwatchPage]) -> int:
    """Write the pages of a calibration sheet and return how many they are.

    Raises FolderError when the file cannot be written.
    """
    plan = pages[0].plan
    sheet = Sheet(
        path, width_mm=plan.width_mm, height_mm=plan.height_mm, title="Calibration sheet", exact=True
    )
    for page in pages:
        for mark in page.marks:
            _draw_mark(sheet, mark)
        _draw_bands(sheet, page)
        for patch in page.patches:
            _draw_patch(sheet, patch, drawn_black=plan.black_drawn)
        _draw_heads(sheet, page)
        for row, label in zip(page.rows, page.labels, strict=True):
            _draw_row_name(sheet, row, plan.rows[row].name, label)
        _draw_words(sheet, page)
        _draw_check_bar(sheet, page)
        sheet.end_page(f"page {page.page}")
    return sheet.finish()


@lru_cache(maxsize=64)
def _white_modules(marker: int) -> shapely.Geometry:
    """The white modules of a mark as one area, in modules from its upper left corner."""
    dictionary = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, MARK_DICTIONARY))
    bits = np.asarray(cv2.aruco.generateImageMarker(dictionary, marker, _MODULES))
    rows, columns = np.nonzero(bits > 127)
    return shapely.union_all(shapely.box(columns, rows, columns + 1, rows + 1))


def _draw_mark(sheet: Sheet, mark: MarkPlace) -> None:
    x, y, side, _ = mark.box
    sheet.box(x, y, side, side, fill="#000000")
    scale = side / _MODULES
    sheet.drawing(_white_modules(mark.marker), Placement(scale, x, scale, y), fill="#ffffff")


def _draw_bands(sheet: Sheet, page: SwatchPage) -> None:
    for x, y, width, height in page.bands:
        if page.plan.black_drawn:
            sheet.box(x, y, width, height, fill="#000000")
        else:
            sheet.box(x, y, width, height, pen=Pen(0.3, "#000000"))


def _draw_patch(sheet: Sheet, patch: PatchPlace, *, drawn_black: bool) -> None:
    """A box to print into, with its code below; a bare one is dotted, and has its code in it.

    What stands on a black ground that is printed by hand will be covered: see the ticks beside it.
    """
    x, y, width, height = patch.box
    style = replace(_CODE, colour="#aaaaaa") if drawn_black and patch.ground == "black" else _CODE
    if patch.kind == "ink":
        sheet.box(x, y, width, height, pen=_BOX)
        sheet.label(patch.code, style, x, y + height + 2.2)
    else:
        sheet.box(x, y, width, height, pen=_BARE)
        sheet.label(f"{patch.code} bare", style, x + width / 2, y + height - 1.0, align="centre")


def _draw_heads(sheet: Sheet, page: SwatchPage) -> None:
    """What each column is for, and ticks beside a black ground where its boxes are."""
    first = [patch for patch in page.patches if patch.row == page.rows[0]]
    top = min(patch.box[1] for patch in page.patches)
    for ground, words in (("paper", "over bare paper"), ("black", "over black")):
        columns = [patch for patch in first if patch.ground == ground]
        if not columns:
            continue
        left = columns[0].box[0]
        sheet.label(words, _HEAD, left, top - 8.2)
        for patch in columns:
            middle = patch.box[0] + patch.box[2] / 2
            count = "1 pass" if patch.passes == 1 else f"{patch.passes} passes"
            sheet.label(count, _PASS, middle, top - 4.6, align="centre")
    bare = sorted({patch.box[1] for patch in page.patches if patch.kind != "ink"})
    for line in (bare[0], bare[-1]):
        middle = line + first[0].box[3] / 2
        sheet.label("left bare", _PASS, page.labels[0][0] + 6.0, middle + 0.9)
    for band in page.bands:
        _draw_ticks(sheet, band, [patch for patch in page.patches if patch.ground == "black"])


def _draw_ticks(sheet: Sheet, band: RectMm, patches: Sequence[PatchPlace]) -> None:
    x, y, width, height = band
    for edge in sorted({e for p in patches for e in (p.box[0], p.box[0] + p.box[2])}):
        sheet.line((edge, y + height + 0.6), (edge, y + height + 2.6), _TICK)
    for edge in sorted({e for p in patches for e in (p.box[1], p.box[1] + p.box[3])}):
        sheet.line((x + width + 0.6, edge), (x + width + 2.6, edge), _TICK)


def _draw_row_name(sheet: Sheet, row: int, name: str, label: RectMm) -> None:
    x, y, width, height = label
    number = f"{row + 1}"
    style = fitted(name, _ROW, width - 6.0, lines=max(1, int(height / _ROW.leading_mm)), least=6.5)
    lines = broken(name, style, width - 6.0)[: max(1, int(height / style.leading_mm))]
    top = y + (height - len(lines) * style.leading_mm) / 2
    sheet.label(number, _ROW, x, top + 0.76 * style.leading_mm)
    sheet.write_lines(lines, style, x + 6.0, top, width - 6.0)


def _draw_words(sheet: Sheet, page: SwatchPage) -> None:
    x, y, width, _ = page.header
    sheet.label("Calibration sheet", _TITLE, x, y + 5.0)
    number = f"sheet {page.number}, page {page.page} of {page.pages}"
    sheet.label(number, _NUMBER, x + width, y + 5.0, align="right")
    column = (width - _COLUMN_GAP_MM) / 2
    for k, steps in enumerate(_steps(page.plan)):
        left, top = x + k * (column + _COLUMN_GAP_MM), y + 9.0
        for step in steps:
            top = sheet.write(step, _STEP, left, top, column) + _LINE_GAP_MM


def _steps(plan: SwatchPlan) -> tuple[list[Rich], list[Rich]]:
    """How to fill in the sheet, in two columns."""
    first: list[Rich] = [
        [strong("1 "), "Print this page at 100 % on the paper of your edition. Measure the bar at the foot."],
    ]
    if plan.over_black and plan.black_drawn:
        first.append([strong("2 "), "The black ground is printed with the page. Let it dry."])
    elif plan.over_black:
        first.append([strong("2 "), "Print the framed ground solid black, until no paper shows. Let it dry."])
    else:
        first.append([strong("2 "), "Keep the ink as you would print it: brush, paste and damp paper."])
    first.append(
        [
            strong("3 "),
            "Fill each box with the ink of its row in as many passes as its column says"
            + (", by a small block of this size" if not plan.over_black else ", over paper and over black")
            + ". Leave dotted boxes bare.",
        ]
    )
    last: list[Rich] = []
    if any(len(row.parts) > 1 for row in plan.rows):
        last.append([strong("4 "), "Mix by volume, from the same pots; half and half if no share is named."])
    number = len(last) + 4
    last.append(
        [
            strong(f"{number} "),
            "When dry, scan the whole page flat at 300 dpi, automatic corrections off. "
            "A photo needs even daylight.",
        ]
    )
    last.append(
        [
            strong(f"{number + 1} "),
            "Paper that no printer takes: print on plain paper, and paste swatches and bare pieces "
            "into the boxes.",
        ]
    )
    return first, last


def _draw_check_bar(sheet: Sheet, page: SwatchPage) -> None:
    x, y, width, height = page.footer
    baseline = y + height - 2.0
    sheet.line((x, baseline), (x + CHECK_BAR_MM, baseline), _BAR)
    for step in range(11):
        at = x + step * CHECK_BAR_MM / 10
        sheet.line((at, baseline), (at, baseline - (3.0 if step % 5 == 0 else 1.6)), _BAR)
    sheet.label("0", _FIGURE, x + 0.8, baseline - 2.2)
    sheet.label("100 mm", _FIGURE, x + CHECK_BAR_MM - 0.8, baseline - 2.2, align="right")
    room = width - CHECK_BAR_MM - 4.0
    lines = broken("must measure 100 mm: print at 100 %, no fitting to the page", _STEP, room)
    sheet.write_lines(
        lines, _STEP, x + CHECK_BAR_MM + 4.0, baseline + 0.9 - len(lines) * _STEP.leading_mm, room
    )
