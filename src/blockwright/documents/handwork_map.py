"""The handwork map: at true size, what the bits did not reach and what is too narrow to stand."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from blockwright.documents.face_plate import image_edge, mark_corner, named_marks
from blockwright.documents.packet_content import area_words, counted, time_words
from blockwright.documents.paper import PRINTER_MARGIN_MM, PaperName
from blockwright.documents.sheet import HAIRLINE, Pen, Placement, Sheet
from blockwright.documents.tiling import Tile, TilePlan, plan_tiles
from blockwright.documents.transfer_sheets import LEAST_RIM_MM, PAD_MM, draw_joints, page_label
from blockwright.documents.transfer_strip import (
    BLOCK_EDGE,
    IMAGE_EDGE,
    NARROW,
    OUTLINE,
    SHEET_EDGE,
    WALL,
    StripWords,
    draw_arrow,
    draw_strip,
)
from blockwright.documents.type import ACCENT, INK, SECONDARY, Style, broken, strong
from blockwright.model.blocks import BlockSet, Face
from blockwright.model.cut import FaceCut, Narrow, Routing
from blockwright.model.units import Region

LARGE_MM2 = 2.0
"""Places left to the hand are numbered and listed from this size: smaller ones are a cut or two [CP]."""

MOST_NUMBERED = 99
"""Of more than so many the largest are numbered."""

STANDS_HEX = "#e8e4da"
"""What prints: pale, so that what is left to do stands out in print and in copies."""

_MOST_NARROW = 200
"""So many narrow places are listed, the narrowest first; rings are drawn round all."""

_LEGEND = (("stays", "edge of what prints"), ("hand", "by hand"), ("narrow", "narrow"), ("kento", "kento"))
"""The last is left out on a part block, which has no marks."""

_RING_MM = 2.2
_HAND_EDGE = Pen(0.15, ACCENT)
_LEADER = Pen(0.12, ACCENT)
_LEADER_MM = 3.6

_NUMBER = Style("semibold", 8.0, 9.6, ACCENT)
_WIDTH = Style("regular", 6.6, 8.0, NARROW.colour)
_MARK = Style("regular", 8.0, 9.6, "#000000")
_HEAD = Style("semibold", 18.0, 22.0, INK)
_LEAD = Style("regular", 11.0, 15.0, INK)
_ROW = Style("regular", 9.4, 12.4, INK)
_ROW_HEAD = Style("italic", 9.4, 12.4, SECONDARY)
_COLUMN_MM = 84.0


@dataclass(frozen=True, slots=True)
class Place:
    """One place left to the hand: its number, or None when it is small, in face coordinates."""

    number: int | None
    area: Region


def places_of(routing: Routing) -> tuple[Place, ...]:
    """The places left to the hand, those with a number first, the largest of them 1."""
    parts = sorted(
        (part for part in shapely.get_parts(routing.hand)),
        key=lambda part: (-round(part.area, 4), round(part.bounds[1], 3), round(part.bounds[0], 3)),
    )
    return tuple(
        Place(k + 1 if part.area >= LARGE_MM2 and k < MOST_NUMBERED else None, part)
        for k, part in enumerate(parts)
    )


@dataclass(frozen=True, slots=True)
class _Map:
    """A face made ready for drawing."""

    blocks: BlockSet
    face: Face
    cut: FaceCut
    places: tuple[Place, ...]
    narrow: tuple[Narrow, ...]
    printing: Any
    outlines: Any


def write_handwork_map(
    path: Path,
    blocks: BlockSet,
    face: Face,
    cut: FaceCut,
    *,
    paper: PaperName,
    roll_mm: float,
    overlap_mm: float,
    title: str,
) -> int:
    """Write the handwork map of a routed face at exactly 1:1, and return the number of its pages.

    It is drawn as the carver sees the face, tiled like the transfer sheets; the last page, or more of them,
    lists the places with a number and the narrow places. Raises ValueError when the face is not routed,
    SettingsError when the overlap is too wide for the paper, FolderError when the file cannot be written.
    """
    if cut.routing is None:
        raise ValueError(f"{cut.face} is not routed")
    here = blocks.as_on(face)
    drawn = _Map(
        here,
        face,
        cut,
        places_of(cut.routing),
        tuple(sorted(cut.routing.narrow, key=lambda each: (each.width_mm, each.at))),
        shapely.get_parts(cut.printing),
        shapely.get_parts(shapely.boundary(shapely.get_parts(cut.printing))),
    )
    x0, y0, x1, y1 = here.block.bounds
    plan = plan_tiles(
        x1 - x0 + 2 * PAD_MM, y1 - y0 + 2 * PAD_MM, paper=paper, roll_mm=roll_mm, overlap_mm=overlap_mm
    )
    named = title.strip() or "Untitled print"
    words = StripWords(
        title=named,
        face=f"{face.name} · handwork after the router · {summary(cut.routing)}",
        side="THIS SIDE UP",
        how="As you see it on the wood. Filled: cut by hand, the bits do not reach it. Rings: too narrow to "
        "stand for certain, with the width in mm.",
        legend=_LEGEND if face.part is None else _LEGEND[:-1],
    )
    sheet = Sheet(
        path,
        width_mm=plan.page_width_mm,
        height_mm=plan.page_height_mm,
        title=f"{named}: {face.name}, handwork",
        exact=True,
    )
    for tile in plan.tiles:
        _draw_tile(sheet, drawn, plan, tile)
        draw_strip(sheet, plan, tile, words)
        sheet.end_page(page_label(tile.row, tile.column))
    _write_lists(sheet, drawn, plan, named)
    return sheet.finish()


def summary(routing: Routing) -> str:
    """Count, area and time of what is left to the hand, in words: 2 places, 0.10 cm², about 3 minutes."""
    if not routing.hand_places:
        return "nothing left"
    return (
        f"{counted(routing.hand_places, 'place')}, {small_area_words(routing.hand.area)}, "
        f"about {time_words(routing.hand_min)}"
    )


def small_area_words(area_mm2: float) -> str:
    """An area in words, a small one in mm².

    >>> small_area_words(2.94), small_area_words(240.0)
    ('2.9 mm²', '2.4 cm²')
    """
    return f"{area_mm2:.1f} mm²" if area_mm2 < 100.0 else area_words(area_mm2)


def _draw_tile(sheet: Sheet, drawn: _Map, plan: TilePlan, tile: Tile) -> None:
    left, top, _, _ = drawn.blocks.block.bounds
    place = Placement(1.0, plan.left_mm - tile.x0 + PAD_MM - left, 1.0, plan.top_mm - tile.y0 + PAD_MM - top)
    width, height = tile.x1 - tile.x0, tile.y1 - tile.y0
    corner = (plan.left_mm - place.bx, plan.top_mm - place.by)
    seen = shapely.box(*corner, corner[0] + width, corner[1] + height)
    with sheet.clipped(plan.left_mm, plan.top_mm, width, height):
        sheet.drawing(_clipped(drawn.printing, seen), place, fill=STANDS_HEX)
        image = image_edge(drawn.blocks, drawn.face)
        for area, pen in (
            (image, IMAGE_EDGE),
            (drawn.blocks.sheet, SHEET_EDGE),
            (drawn.blocks.block, BLOCK_EDGE),
        ):
            lines = shapely.boundary(area) if isinstance(area, shapely.Polygon) else area
            sheet.drawing(_clipped(lines, seen), place, pen=pen)
        sheet.drawing(_clipped(drawn.outlines, seen), place, pen=OUTLINE)
        _draw_marks(sheet, drawn, place, seen)
        _draw_places(sheet, drawn, place, seen)
        _draw_narrow(sheet, drawn, place, seen)
        _draw_rim(sheet, drawn, place, plan, tile)
    draw_joints(sheet, plan, tile)


def _clipped(geometries: Any, seen: Region) -> Any:
    return shapely.clip_by_rect(geometries, *seen.bounds)


def _draw_marks(sheet: Sheet, drawn: _Map, place: Placement, seen: Region) -> None:
    walls = [
        wall
        for kento in drawn.blocks.marks_of(drawn.face)
        for wall in (kento.kagi_wall, kento.hikitsuke_wall)
    ]
    for (name, recess), wall in zip(named_marks(drawn.blocks, drawn.face), walls, strict=True):
        if recess.intersects(seen):
            sheet.drawing(recess, place, pen=OUTLINE, fill="#ffffff")
            sheet.drawing(shapely.LineString(wall), place, pen=WALL)
            x, y, rightward, below = mark_corner(drawn.blocks, recess, place)
            x, y = x + (1.0 if rightward else -1.0), y + (3.4 if below else -1.6)
            _lettered(sheet, name, _MARK, x if rightward else x - sheet.text_width(name, _MARK), y)


def _draw_places(sheet: Sheet, drawn: _Map, place: Placement, seen: Region) -> None:
    near = [each for each in drawn.places if shapely.dwithin(each.area, seen, _LEADER_MM + 4.0)]
    sheet.drawing(np.array([each.area for each in near], dtype=object), place, pen=_HAND_EDGE, fill=ACCENT)
    for each in near:
        if each.number is None:
            continue
        x, y = place.point(_corner(each.area))
        end = (x + _LEADER_MM * 0.7, y - _LEADER_MM * 0.7)
        sheet.line((x, y), end, _LEADER)
        _lettered(sheet, str(each.number), _NUMBER, end[0] + 0.3, end[1] + 0.4)


def _corner(area: Region) -> tuple[float, float]:
    """The point of an area that is farthest up to the right, where its number's line begins."""
    points = shapely.get_coordinates(area)
    x, y = points[np.argmax(points[:, 0] - points[:, 1])].tolist()
    return x, y


def _lettered(sheet: Sheet, words: str, style: Style, x: float, baseline: float) -> None:
    """Words on white, which stay legible over lines."""
    height = style.size * 0.3528
    width = sheet.text_width(words, style)
    sheet.box(x - 0.25, baseline - 0.8 * height, width + 0.5, 1.02 * height, fill="#ffffff")
    sheet.label(words, style, x, baseline)


def _draw_narrow(sheet: Sheet, drawn: _Map, place: Placement, seen: Region) -> None:
    for each in drawn.narrow:
        if shapely.dwithin(shapely.Point(each.at), seen, 3 * _RING_MM):
            x, y = place.point(each.at)
            sheet.ring(x, y, _RING_MM, pen=NARROW)
            _lettered(sheet, f"{each.width_mm:.2f}", _WIDTH, x + _RING_MM + 0.5, y + 0.8)


def _draw_rim(sheet: Sheet, drawn: _Map, place: Placement, plan: TilePlan, tile: Tile) -> None:
    """Say on the block's upper rim which face this is and where its top is."""
    style = Style("semibold", 8.5, 10.0, "#000000")
    words = f"{drawn.face.name} · top · handwork"
    x = plan.left_mm + (tile.x1 - tile.x0) / 2
    edge = float(drawn.blocks.block.bounds[1])
    below = drawn.cut.printing if drawn.face.part is not None else drawn.blocks.sheet
    rim = float(below.bounds[1]) - edge
    if rim < LEAST_RIM_MM:
        return
    baseline = place.by + edge + rim / 2 + 0.9
    half = sheet.text_width(words, style) / 2
    if 2 * half + 10.0 < tile.x1 - tile.x0:
        sheet.label(words, style, x, baseline, align="centre")
        for sign in (-1, 1):
            draw_arrow(sheet, x + sign * (half + 3.0), baseline + 0.6, baseline - 2.6)


def _rows(drawn: _Map) -> list[tuple[str, str, str]]:
    """The lists' rows: number or kind, size, and place from the block's left and lower edge, in mm."""
    left, _, _, foot = drawn.blocks.block.bounds

    def at(x: float, y: float) -> str:
        return f"{x - left:.0f} right, {foot - y:.0f} up"

    large = [each for each in drawn.places if each.number is not None]
    rows = [
        (f"{each.number}", f"{each.area.area:.1f} mm²", at(each.area.centroid.x, each.area.centroid.y))
        for each in large
    ]
    return rows + [
        ("narrow", f"{each.width_mm:.2f} mm wide", at(*each.at)) for each in drawn.narrow[:_MOST_NARROW]
    ]


def _write_lists(sheet: Sheet, drawn: _Map, plan: TilePlan, title: str) -> None:
    """List the numbered places and the narrow ones, in columns, on as many pages as it takes."""
    rows = _rows(drawn)
    margin = PRINTER_MARGIN_MM + 4.0
    columns = max(1, int((plan.page_width_mm - 2 * margin) // _COLUMN_MM))
    page, start = 0, 0
    while start < len(rows) or page == 0:
        y = _list_head(sheet, drawn, title, margin, plan.page_width_mm - 2 * margin, again=page > 0)
        per_column = max(1, int((plan.page_height_mm - margin - y) / _ROW.leading_mm) - 1)
        for column in range(columns):
            part = rows[start : start + per_column]
            if part:
                _list_column(sheet, part, margin + column * _COLUMN_MM, y)
            start += len(part)
        sheet.end_page(f"list {page + 1}")
        page += 1


def _list_head(sheet: Sheet, drawn: _Map, title: str, margin: float, width: float, *, again: bool) -> float:
    routing = drawn.cut.routing
    assert routing is not None
    heading = f"{drawn.face.name}: what is left to the hand" + (", continued" if again else "")
    y = sheet.write(heading, _HEAD, margin, margin, width) + 1.0
    if again:
        return y + 2.0
    small = sum(each.number is None for each in drawn.places)
    few = {0: "", 1: " The smallest has no number."}.get(small, f" The {small} smallest have no number.")
    most = f" The {_MOST_NARROW} narrowest are listed." if len(drawn.narrow) > _MOST_NARROW else ""
    for words in (
        f"{title} · routed on {routing.machine}",
        (
            strong(summary(routing) + "."),
            f"{few} The minutes rest on your carving rates in print.toml; count and areas on the surface as "
            "simulated from the programs.",
        ),
        f"{counted(len(drawn.narrow), 'narrow place')}: what prints there is narrower than the wood stands "
        "when it is routed. Look at each before the first proof." + most,
        "Places are given in mm from the block's lower left corner"
        + (
            ", as you carve it; on the machine it lay turned."
            if routing.quarter_turn
            else ", the program's zero."
        ),
    ):
        y = sheet.write_lines(broken(words, _LEAD, width), _LEAD, margin, y, width) + 0.8
    return y + 3.0


def _list_column(sheet: Sheet, rows: list[tuple[str, str, str]], x: float, y: float) -> None:
    stops = (0.0, 15.0, 40.0)
    for stop, words in zip(stops, ("number", "size", "place, mm"), strict=True):
        sheet.label(words, _ROW_HEAD, x + stop, y + 3.0)
    sheet.line((x, y + 4.2), (x + _COLUMN_MM - 6.0, y + 4.2), HAIRLINE)
    for k, row in enumerate(rows, start=1):
        for stop, words in zip(stops, row, strict=True):
            sheet.label(words, _ROW, x + stop, y + 3.6 + k * _ROW.leading_mm)
