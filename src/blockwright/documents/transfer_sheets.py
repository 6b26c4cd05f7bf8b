"""Transfer sheets: a face at true size, to be pasted on the wood, or the lines of a stencil to be cut.

The drawing is a vector PDF at exactly 1:1 (ISO 32000: one unit is 1/72 inch), spread over sheets of paper.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from blockwright.documents.face_plate import draw_labels, image_edge, mark_corner, named_marks
from blockwright.documents.ink_labels import InkSaid
from blockwright.documents.paper import PaperName
from blockwright.documents.sheet import Pen, Placement, Sheet
from blockwright.documents.tiling import Tile, TilePlan, plan_tiles
from blockwright.documents.transfer_strip import (
    BLOCK_EDGE,
    CLEAR_GREY,
    IMAGE_EDGE,
    ISLAND_GREY,
    JOINT,
    OUTLINE,
    SHEET_EDGE,
    WALL,
    WEED_ARM_MM,
    StripWords,
    draw_arrow,
    draw_hatch,
    draw_strip,
    draw_weed,
)
from blockwright.documents.type import Style, width_mm
from blockwright.model.blocks import BlockSet, Face
from blockwright.model.cut import FaceCut
from blockwright.model.units import Region

SheetKind = Literal["face down", "face up"]

PAD_MM = 1.0
"""Free rim around the outermost line, so that its whole width is drawn."""

CROSS_ARM_MM = 3.0
"""Arm of a registration cross; it reaches beyond the tile into the printer's margin."""

LEAST_RIM_MM = 4.0
"""The words on the rim of the block are left out where the rim is narrower."""

_RIM = Style("semibold", 8.5, 10.0, "#000000")
_MARK = Style("regular", 8.0, 9.6, "#000000")
_JOINT = Style("italic", 7.0, 8.4, "#444444")


@dataclass(frozen=True, slots=True)
class _Drawing:
    """A face made ready for drawing: ``flip`` and ``left``, ``top`` bring face coordinates to the paper's."""

    blocks: BlockSet
    face: Face
    cut: FaceCut
    kind: SheetKind
    inks: Mapping[int, InkSaid]
    outlines: Any
    weed: NDArray[np.float64]
    left: float
    top: float
    width: float
    height: float

    def placement(self, plan: TilePlan, tile: Tile) -> Placement:
        """Return where face coordinates fall on the page of a tile, in mm."""
        dx, dy = plan.left_mm - tile.x0, plan.top_mm - tile.y0
        if self.kind == "face up":
            return Placement(1.0, dx - self.left, 1.0, dy - self.top)
        return Placement(-1.0, dx + self.blocks.image_width_mm - self.left, 1.0, dy - self.top)


_JOIN_WORDS = "cut and join here"


def write_transfer_sheet(
    path: Path,
    blocks: BlockSet,
    face: Face,
    cut: FaceCut,
    *,
    kind: SheetKind,
    paper: PaperName,
    roll_mm: float,
    overlap_mm: float,
    title: str,
    impression_names: Mapping[int, str],
) -> int:
    """Write the transfer sheets of one face at exactly 1:1 and return the number of pages.

    ``kind`` is "face down" (right-reading, pasted with the drawn side on the wood) or "face up" (mirrored, as
    the carver sees the wood); for a face that presses the sheet's back it is the other way round.
    ``cut.method`` decides whether the areas to clear are shaded (hand, router) or the cut lines of a stencil
    are drawn. ``roll_mm`` is the roll's width, used with paper "roll"; neighbours share ``overlap_mm``.
    ``impression_names`` gives the name of each impression by its number.
    Raises SettingsError when the overlap is too wide for the paper, FolderError when the file cannot be
    written.
    """
    inks = {number: InkSaid(name, "") for number, name in impression_names.items()}
    blocks = blocks.as_on(face)
    drawing = _prepared(blocks, face, cut, kind, inks)
    plan = plan_tiles(drawing.width, drawing.height, paper=paper, roll_mm=roll_mm, overlap_mm=overlap_mm)
    words = StripWords(
        title=title.strip() or "Untitled print",
        face=f"{face.name} · {carried(face, impression_names)} · {cut.method}, {kind}",
        side=_SIDE[kind],
        how=_how_to_use(cut, kind, mirrored=face.mirrored),
        legend=_legend(face, cut),
    )
    sheet = Sheet(
        path,
        width_mm=plan.page_width_mm,
        height_mm=plan.page_height_mm,
        title=f"{words.title}: {face.name}, {kind}",
        exact=True,
    )
    for tile in plan.tiles:
        _draw_tile(sheet, drawing, plan, tile)
        draw_strip(sheet, plan, tile, words)
        sheet.end_page(page_label(tile.row, tile.column))
    return sheet.finish()


def page_label(row: int, column: int) -> str:
    """Where a page belongs when the sheets are joined, as the file tells viewers.

    >>> page_label(1, 2)
    'row 1, column 2'
    """
    return f"row {row}, column {column}"


def carried(face: Face, impression_names: Mapping[int, str]) -> str:
    """Say which impressions a face carries.

    >>> from shapely import MultiPolygon
    >>> carried(Face("A front", "front", (3,), MultiPolygon()), {3: "wet ochre"})
    'impression 3, wet ochre'
    """
    if not face.impressions:
        return "no impression"
    named = [
        f"{number}, {impression_names[number]}" if impression_names.get(number) else f"{number}"
        for number in face.impressions
    ]
    return ("impression " if len(named) == 1 else "impressions ") + "; ".join(named)


_HAND_LEGEND = (
    ("stays", "stays, prints"),
    ("clear", "clear"),
    ("island", "may stay"),
    ("kento", "kento"),
    ("sheet", "edge of the sheet"),
)
_STENCIL_LEGEND = (
    ("cut", "cut line"),
    ("weed", "lift off"),
    ("kento", "kento"),
    ("sheet", "edge of the sheet"),
)


def _legend(face: Face, cut: FaceCut) -> tuple[tuple[str, str], ...]:
    """Samples of what the sheet shows: a part block has no marks, and the sheet's edge lies off it."""
    legend = _STENCIL_LEGEND if cut.method == "stencil" else _HAND_LEGEND
    return legend if face.part is None else tuple(e for e in legend if e[0] not in ("kento", "sheet"))


_SIDE = {"face down": "THIS SIDE TO THE WOOD", "face up": "THIS SIDE UP"}


def _how_to_use(cut: FaceCut, kind: SheetKind, *, mirrored: bool) -> str:
    if not mirrored:
        back = "FROM THE BACK: NOT MIRRORED. "
        if kind == "face up":
            return back + "Right-reading, as you see it on the wood."
        return back + "Drawn the other way round: face down it reads on the wood as the print does."
    if cut.method == "stencil":
        reading = "Mirrored, as you see it on the wood." if kind == "face up" else "Right-reading."
        return f"{reading} Cut line: cut the stencil along the lines and lift off the parts marked ×."
    if kind == "face up":
        return "Mirrored, as you see it on the wood. Paste the back of the sheet to the block."
    return "Right-reading. Paste the drawn side down: through the sheet you see it mirrored, as it is cut."


def _prepared(
    blocks: BlockSet, face: Face, cut: FaceCut, kind: SheetKind, inks: Mapping[int, InkSaid]
) -> _Drawing:
    outer = blocks.block if cut.border is None else shapely.union(blocks.block, cut.border)
    x0, y0, x1, y1 = shapely.bounds(outer).tolist()
    if kind == "face down":
        x0, x1 = blocks.image_width_mm - x1, blocks.image_width_mm - x0
    return _Drawing(
        blocks=blocks,
        face=face,
        cut=cut,
        kind=kind,
        inks=inks,
        outlines=shapely.get_parts(shapely.boundary(shapely.get_parts(cut.printing))),
        weed=np.array(cut.weed, dtype=np.float64).reshape(-1, 2),
        left=x0 - PAD_MM,
        top=y0 - PAD_MM,
        width=x1 - x0 + 2 * PAD_MM,
        height=y1 - y0 + 2 * PAD_MM,
    )


def _draw_tile(sheet: Sheet, drawing: _Drawing, plan: TilePlan, tile: Tile) -> None:
    placement = drawing.placement(plan, tile)
    width, height = tile.x1 - tile.x0, tile.y1 - tile.y0
    corners = np.array([(plan.left_mm, plan.top_mm), (plan.left_mm + width, plan.top_mm + height)])
    inside = (corners - (placement.bx, placement.by)) / (placement.ax, placement.ay)
    seen = shapely.box(*inside.min(axis=0), *inside.max(axis=0))
    with sheet.clipped(plan.left_mm, plan.top_mm, width, height):
        if drawing.cut.method != "stencil":
            _draw_waste(sheet, drawing.cut, placement, seen)
        _draw_edges(sheet, drawing, placement, seen)
        sheet.drawing(_clipped(drawing.outlines, seen), placement, pen=OUTLINE)
        _draw_kento(sheet, drawing, placement, seen)
        near = shapely.dwithin(shapely.points(drawing.weed), seen, WEED_ARM_MM)
        for x, y in placement.points(drawing.weed[near]).tolist():
            draw_weed(sheet, x, y)
        _draw_rim_words(sheet, drawing, placement, plan, tile)
        draw_labels(sheet, drawing.blocks, drawing.face, drawing.inks, placement, style=_RIM)
    draw_joints(sheet, plan, tile)


def _clipped(geometries: Any, seen: Region) -> Any:
    """Keep what lies on one sheet, so that the file holds no more than it shows."""
    return shapely.clip_by_rect(geometries, *seen.bounds)


def _draw_waste(sheet: Sheet, cut: FaceCut, placement: Placement, seen: Region) -> None:
    clear = _clipped(shapely.get_parts(cut.clear), seen)
    sheet.drawing(clear, placement, fill=CLEAR_GREY)
    islands = _clipped(shapely.get_parts(cut.island), seen)
    sheet.drawing(islands, placement, fill=ISLAND_GREY)
    for island in islands:
        draw_hatch(sheet, island, placement)
    edges = shapely.boundary(shapely.get_parts(cut.island))
    sheet.drawing(_clipped(edges, seen), placement, pen=IMAGE_EDGE)


def _draw_edges(sheet: Sheet, drawing: _Drawing, placement: Placement, seen: Region) -> None:
    blocks, border = drawing.blocks, drawing.cut.border
    image = image_edge(blocks, drawing.face)
    edges = [(image, IMAGE_EDGE), (blocks.sheet, SHEET_EDGE)]
    if border is None:
        edges.append((blocks.block, BLOCK_EDGE))
    else:
        edges += [(blocks.block, Pen(0.15, "#444444", (1.0, 1.0))), (border, OUTLINE)]
    for area, pen in edges:
        lines = shapely.boundary(area) if isinstance(area, shapely.Polygon) else area
        sheet.drawing(_clipped(lines, seen), placement, pen=pen)


def _draw_kento(sheet: Sheet, drawing: _Drawing, placement: Placement, seen: Region) -> None:
    how = "cut by hand, " if drawing.cut.method == "stencil" else ""
    walls = [
        wall
        for kento in drawing.blocks.marks_of(drawing.face)
        for wall in (kento.kagi_wall, kento.hikitsuke_wall)
    ]
    depth_mm = drawing.blocks.kento.depth_mm
    for (name, recess), wall in zip(named_marks(drawing.blocks, drawing.face), walls, strict=True):
        if not recess.intersects(seen):
            continue
        sheet.drawing(recess, placement, pen=OUTLINE, fill="#ffffff")
        sheet.drawing(shapely.LineString(wall), placement, pen=WALL)
        x, y, rightward, below = mark_corner(drawing.blocks, recess, placement)
        words = f"{name}: {how}{depth_mm:g} mm deep"
        x, y = x + (1.0 if rightward else -1.0), y + (3.4 if below else -1.6)
        _clear_ground(sheet, words, _MARK, x if rightward else x - width_mm(words, _MARK), y)
        sheet.label(words, _MARK, x, y, align="left" if rightward else "right")


def _clear_ground(sheet: Sheet, words: str, style: Style, left: float, baseline: float) -> None:
    """White paper under words that stand on hatching or lines."""
    height = style.size * 0.3528
    sheet.box(left - 0.6, baseline - height, width_mm(words, style) + 1.2, 1.3 * height, fill="#ffffff")


def _draw_rim_words(
    sheet: Sheet, drawing: _Drawing, placement: Placement, plan: TilePlan, tile: Tile
) -> None:
    """Write face, top and side on the block's upper rim, where they stay when the strips are cut off."""
    edge = float(drawing.blocks.block.bounds[1])
    if drawing.face.part is None:
        rooms = [float(drawing.blocks.sheet.bounds[1]) - edge, -edge]
    else:
        rooms = [float(drawing.cut.printing.bounds[1]) - edge]
    rim = next((room for room in rooms if room >= LEAST_RIM_MM), None)
    words = f"{drawing.cut.face} · top · {_SIDE[drawing.kind].lower()}"
    if width_mm(words, _RIM) + 10.0 > tile.x1 - tile.x0:
        words = f"{drawing.cut.face} · top"
    if rim is None or width_mm(words, _RIM) + 10.0 > tile.x1 - tile.x0:
        return
    x = plan.left_mm + (tile.x1 - tile.x0) / 2
    baseline = placement.ay * (edge + rim / 2) + placement.by + 0.9
    sheet.label(words, _RIM, x, baseline, align="centre")
    for sign in (-1, 1):
        draw_arrow(sheet, x + sign * (width_mm(words, _RIM) / 2 + 3.0), baseline + 0.6, baseline - 2.6)


def draw_joints(sheet: Sheet, plan: TilePlan, tile: Tile) -> None:
    """Draw where this sheet meets its neighbours: the line to cut and join on, and crosses to lay it by."""
    width, height = tile.x1 - tile.x0, tile.y1 - tile.y0
    left, top, overlap = plan.left_mm, plan.top_mm, plan.overlap_mm
    right, foot = left + width, top + height
    crosses: set[tuple[float, float]] = set()
    for there, near, far in (
        (tile.column > 1, left, left + overlap),
        (tile.column < plan.columns, right - overlap, right),
    ):
        if there:
            middle = (near + far) / 2
            sheet.line((middle, top), (middle, foot), JOINT)
            sheet.label(_JOIN_WORDS, _JOINT, middle - 0.8, top + 34.0, turn_deg=90.0)
            crosses |= {(x, y) for x in (near, far) for y in (top, foot)}
    for there, near, far in (
        (tile.row > 1, top, top + overlap),
        (tile.row < plan.rows, foot - overlap, foot),
    ):
        if there:
            middle = (near + far) / 2
            sheet.line((left, middle), (right, middle), JOINT)
            sheet.label(_JOIN_WORDS, _JOINT, left + 12.0, middle - 0.8)
            crosses |= {(x, y) for x in (left, right) for y in (near, far)}
    for x, y in sorted(crosses):
        sheet.line((x - CROSS_ARM_MM, y), (x + CROSS_ARM_MM, y), OUTLINE)
        sheet.line((x, y - CROSS_ARM_MM), (x, y + CROSS_ARM_MM), OUTLINE)
