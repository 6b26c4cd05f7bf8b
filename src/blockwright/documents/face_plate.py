"""A face drawn to scale in the packet: the wood, what prints, the marks, the sheet's edge and the sizes."""

from collections.abc import Mapping
from typing import Any, Literal

import numpy as np
import shapely

from blockwright.documents.ink_labels import InkSaid, place_labels, tints
from blockwright.documents.sheet import Pen, Placement, Sheet
from blockwright.documents.transfer_strip import draw_hatch
from blockwright.documents.type import ACCENT, INK, POINTS_PER_MM, Style
from blockwright.model.blocks import BlockSet, Face
from blockwright.model.units import PointMm

Seen = Literal["carver", "print"]

WOOD = "#ecdcc0"
"""A light wood that leaves every ink to be seen on it."""

RECESS = "#fffdf8"
DIMENSION_ROOM_MM = 9.0
"""Room left of and below the block for its sizes."""

FINEST_MM = 0.06
"""Bends smaller than this on paper do not show and are left out of the packet's drawings."""

_DIMENSION = Style("regular", 11.0, 13.0, INK)
_MARK = Style("italic", 10.0, 12.0, INK)
_LABEL = Style("semibold", 9.0, 10.8, INK)
_PEN = Pen(0.12, INK)
_ZERO = Pen(0.35, ACCENT)
_ZERO_WORD = Style("italic", 11.0, 13.0, ACCENT)

ZERO_RADIUS_MM = 2.0
ZERO_ARM_MM = 11.0
"""Size of the sign for the program's zero, and the length of its arrows."""


def drawn_bounds(blocks: BlockSet) -> tuple[float, float, float, float]:
    """Return what a drawing of a face spans, in mm: the block, and the sheet where it reaches past it."""
    x0, y0, x1, y1 = shapely.total_bounds([blocks.block, blocks.sheet]).tolist()
    return x0, y0, x1, y1


def face_placement(
    blocks: BlockSet, box: tuple[float, float, float, float], *, as_seen: Seen
) -> tuple[Placement, float]:
    """Fit block and sheet into a box (x, y, width, height) and return the placement and its scale.

    They are centred across and stand at the top. ``as_seen`` "print" turns the face to right-reading.
    """
    x0, y0, x1, y1 = drawn_bounds(blocks)
    left, top, width, height = box
    scale = min(width / (x1 - x0), height / (y1 - y0))
    start = left + (width - (x1 - x0) * scale) / 2
    if as_seen == "print":
        return Placement(-scale, start + x1 * scale, scale, top - y0 * scale), scale
    return Placement(scale, start - x0 * scale, scale, top - y0 * scale), scale


def mark_corner(blocks: BlockSet, recess: Any, placement: Placement) -> tuple[float, float, bool, bool]:
    """Return where to name a mark: the corner of its recess on the sheet's inner side.

    The value is x, y, whether the words run to the right from there, and whether they stand below it.
    """
    middle = placement.point((blocks.sheet.centroid.x, blocks.sheet.centroid.y))
    corners = placement.points(np.array(recess.bounds).reshape(2, 2))
    (x0, y0), (x1, y1) = corners.min(axis=0).tolist(), corners.max(axis=0).tolist()
    rightward, below = middle[0] > (x0 + x1) / 2, middle[1] > (y0 + y1) / 2
    return x0 if rightward else x1, y1 if below else y0, rightward, below


def image_edge(blocks: BlockSet, face: Face | None) -> Any:
    """The image's edge, as far as it lies on the block."""
    image = shapely.box(0.0, 0.0, blocks.image_width_mm, blocks.image_height_mm)
    if face is None or face.part is None:
        return image
    return shapely.clip_by_rect(shapely.boundary(image), *blocks.block.bounds)


def named_marks(blocks: BlockSet, face: Face | None) -> list[tuple[str, Any]]:
    """The names of the marks on a face with their recesses; with ``face`` None those that all faces have."""
    if face is not None and face.part is not None:
        return []
    marks = []
    for kento, turned in zip((blocks.kento, blocks.turned_kento), ("", ", turned"), strict=True):
        if kento is not None and (not turned or (face is not None and face.turned)):
            marks += [(f"kagi{turned}", kento.kagi_recess), (f"hikitsuke{turned}", kento.hikitsuke_recess)]
    return marks


def draw_face(
    sheet: Sheet,
    blocks: BlockSet,
    face: Face | None,
    placement: Placement,
    *,
    tint_hex: str,
    island: Any = None,
    named: bool = True,
    inks: Mapping[int, InkSaid] | None = None,
    zero: bool = False,
    quarter_turn: bool = False,
) -> None:
    """Draw a face to scale; with ``face`` None only the block, the sheet and the marks.

    ``island`` is the waste that may stay, hatched; ``named`` writes the marks' names beside them. ``inks``
    gives for each impression its ink; what has none is filled with ``tint_hex``. Where a face carries several
    impressions, each is labelled. ``zero`` marks where a router's program begins to count, ``quarter_turn``
    where the block lies on the machine turned by a quarter to the left.
    """
    scale = abs(placement.ax)
    sheet.drawing(blocks.block, placement, pen=Pen(0.25, INK), fill=WOOD)
    if island is not None and not shapely.is_empty(island):
        shown = shapely.simplify(island, FINEST_MM / scale)
        draw_hatch(sheet, shown, placement, step_mm=2.2 / scale)
        sheet.drawing(shown, placement, pen=Pen(0.08, "#8a8a8a"))
    for part, tint in tints(face, inks or {}, tint_hex) if face is not None else ():
        shown = shapely.simplify(part.printing, FINEST_MM / scale)
        sheet.drawing(shown, placement, pen=Pen(0.06, INK), fill=tint)
    sheet.drawing(image_edge(blocks, face), placement, pen=Pen(0.08, "#7a705f"))
    sheet.drawing(blocks.sheet, placement, pen=Pen(0.15, INK, (2.0, 1.4)))
    _draw_kento(sheet, blocks, face, placement, named=named)
    if face is not None:
        draw_labels(sheet, blocks, face, inks or {}, placement)
    if zero:
        draw_zero(sheet, blocks, placement, quarter_turn=quarter_turn)


def zero_on_page(
    blocks: BlockSet, placement: Placement, *, quarter_turn: bool
) -> tuple[PointMm, PointMm, PointMm]:
    """Where the program's zero falls on the wood, and which way its x and its y run on the page, y down.

    It is the block's lower left corner as it lies on the machine: the upper left one of the face when it lies
    there turned by a quarter to the left.
    """
    left, top, _, foot = blocks.block.bounds
    right = (1.0 if placement.ax > 0 else -1.0, 0.0)
    if quarter_turn:
        return placement.point((left, top)), (0.0, 1.0), right
    return placement.point((left, foot)), right, (0.0, -1.0)


def draw_zero(sheet: Sheet, blocks: BlockSet, placement: Placement, *, quarter_turn: bool = False) -> None:
    """Mark the zero of a router's program: a disc with two quarters filled, and arrows along x and y."""
    (x, y), along_x, along_y = zero_on_page(blocks, placement, quarter_turn=quarter_turn)
    for name, (dx, dy), other in (("x", along_x, along_y), ("y", along_y, along_x)):
        end = (x + dx * ZERO_ARM_MM, y + dy * ZERO_ARM_MM)
        sheet.line((x, y), end, _ZERO)
        tip = (end[0] + 1.8 * dx, end[1] + 1.8 * dy)
        head = shapely.Polygon([tip, *((end[0] + s * dy, end[1] + s * dx) for s in (-0.9, 0.9))])
        sheet.drawing(head, Placement(1.0, 0.0, 1.0, 0.0), fill=ACCENT)
        # On the block's side of a level arrow, beside the head of an upright one.
        across = dx or other[0]
        baseline = (y - 1.6 if other[1] < 0 else y + 3.9) if dx else tip[1] + (2.0 if dy < 0 else 0.4)
        sheet.label(name, _ZERO_WORD, tip[0] + across, baseline, align="left" if across > 0 else "right")
    sheet.ring(x, y, ZERO_RADIUS_MM, pen=_ZERO, fill="#ffffff")
    quarters = [
        shapely.intersection(shapely.Point(x, y).buffer(ZERO_RADIUS_MM), shapely.box(*box))
        for box in (
            (x, y - ZERO_RADIUS_MM, x + ZERO_RADIUS_MM, y),
            (x - ZERO_RADIUS_MM, y, x, y + ZERO_RADIUS_MM),
        )
    ]
    sheet.drawing(quarters, Placement(1.0, 0.0, 1.0, 0.0), fill=ACCENT)


def draw_labels(
    sheet: Sheet,
    blocks: BlockSet,
    face: Face,
    inks: Mapping[int, InkSaid],
    placement: Placement,
    *,
    style: Style = _LABEL,
) -> None:
    """Write number and ink of every impression beside what it prints, where a face carries several."""
    height = style.size / POINTS_PER_MM * 0.75
    labels = place_labels(
        face,
        inks,
        placement,
        frame=block_on_page(blocks, placement),
        measure=lambda words: sheet.text_width(words, style),
        height=height,
    )
    for label in labels:
        left, top, right, foot = label.box
        sheet.box(left, top, right - left, foot - top, pen=Pen(0.1, INK), fill=RECESS)
        sheet.label(label.words, style, (left + right) / 2, (top + foot) / 2 + 0.42 * height, align="centre")


def _draw_kento(
    sheet: Sheet, blocks: BlockSet, face: Face | None, placement: Placement, *, named: bool
) -> None:
    both = blocks.marks_of(face) if face is not None else (blocks.kento,)
    for kento in both:
        for recess, wall in (
            (kento.kagi_recess, kento.kagi_wall),
            (kento.hikitsuke_recess, kento.hikitsuke_wall),
        ):
            sheet.drawing(recess, placement, pen=Pen(0.1, INK), fill=RECESS)
            sheet.drawing(shapely.LineString(wall), placement, pen=Pen(0.6, INK))
    for name, recess in named_marks(blocks, face) if named else ():
        x, y, rightward, below = mark_corner(blocks, recess, placement)
        baseline = y + 3.6 if below else y - 1.4
        sheet.label(
            name, _MARK, x + (1.0 if rightward else -1.0), baseline, align="left" if rightward else "right"
        )


def block_on_page(blocks: BlockSet, placement: Placement) -> tuple[float, float, float, float]:
    """Return the block's left, top, right and lower edge on the page."""
    return _on_page(blocks.block.bounds, placement)


def drawn_on_page(blocks: BlockSet, placement: Placement) -> tuple[float, float, float, float]:
    """Return the left, top, right and lower edge on the page of all that is drawn of a face."""
    return _on_page(drawn_bounds(blocks), placement)


def _on_page(
    bounds: tuple[float, float, float, float], placement: Placement
) -> tuple[float, float, float, float]:
    corners = placement.points(np.array(bounds).reshape(2, 2))
    (left, top), (right, foot) = corners.min(axis=0).tolist(), corners.max(axis=0).tolist()
    return left, top, right, foot


def draw_sizes(sheet: Sheet, blocks: BlockSet, placement: Placement) -> float:
    """Draw the block's sizes left of it and below it; return where they end."""
    x0, y0, x1, y1 = blocks.block.bounds
    left, top, right, foot = block_on_page(blocks, placement)
    outer_left, _, _, outer_foot = drawn_on_page(blocks, placement)
    x, y = outer_left - 4.0, outer_foot + 4.0
    draw_dimension(sheet, (left, y), (right, y), f"{x1 - x0:.0f} mm")
    draw_dimension(sheet, (x, foot), (x, top), f"{y1 - y0:.0f} mm")
    return outer_foot + DIMENSION_ROOM_MM


def draw_dimension(
    sheet: Sheet,
    start: tuple[float, float],
    end: tuple[float, float],
    words: str,
    *,
    style: Style = _DIMENSION,
) -> None:
    """Draw a dimension line, level or upright, with a stroke at each end and its words in a gap.

    Where the line is too short for its words they stand beyond its start.
    """
    sheet.line(start, end, _PEN)
    level = start[1] == end[1]
    reach = (0.0, 1.3) if level else (1.3, 0.0)
    for x, y in (start, end):
        sheet.line((x - reach[0], y - reach[1]), (x + reach[0], y + reach[1]), _PEN)
    x, y = (start[0] + end[0]) / 2, (start[1] + end[1]) / 2
    drop = style.size * 0.118
    half = sheet.text_width(words, style) / 2 + 1.2
    length = abs(end[0] - start[0]) + abs(end[1] - start[1])
    if length < 2 * half + 4.0:
        away = 1.0 if start > end else -1.0
        x, y = (start[0] + away * (half + 0.6), y) if level else (x, start[1] + away * (half + 0.6))
    elif level:
        sheet.box(x - half, y - 1.5, 2 * half, 3.0, fill="#ffffff")
    else:
        sheet.box(x - 1.5, y - half, 3.0, 2 * half, fill="#ffffff")
    if level:
        sheet.label(words, style, x, y + drop, align="centre")
    else:
        sheet.label(words, style, x + drop, y, align="centre", turn_deg=90.0)
