"""A picture of a face to scale, for the print folder and the app: the wood, what prints, marks and sizes."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from blockwright.documents.face_plate import (
    Seen,
    block_on_page,
    drawn_bounds,
    drawn_on_page,
    face_placement,
    image_edge,
    mark_corner,
    named_marks,
    zero_on_page,
)
from blockwright.documents.fonts import drawable, drawing_font
from blockwright.documents.ink_labels import InkSaid, place_labels, tints
from blockwright.documents.png import write_png
from blockwright.documents.sheet import Placement
from blockwright.documents.type import ACCENT, INK, SECONDARY
from blockwright.model.blocks import BlockSet, Face

OVERSAMPLING = 2
"""The geometry is drawn so many times larger, with smoothed edges, and averaged down."""

SUBPIXEL_BITS = 4
"""Coordinates are handed to the rasteriser in sixteenths of a pixel."""

GROUND = "#fbf7ec"
WOOD = (222, 196, 154)
GRAIN_CONTRAST = 2.0
"""Strength of the grain in grey levels: seen, but never taken for a line to carve."""

GRAIN_STEP = 4
"""The grain is worked out for every fourth pixel of the large raster and interpolated."""

RECESS = "#fffaf0"
LEAST_WIDTH_EM = 34
"""The picture is at least so many letter heights wide, so that its heading fits over a narrow block."""

LEAST_PIXELS = 400

NO_INK_TINT = "#cfc6b4"
"""What prints in an ink that is not known."""

NO_INKS: Mapping[int, InkSaid] = {}
"""Where nothing is known of the inks."""


@dataclass(frozen=True, slots=True)
class _Page:
    """Sizes of the picture in pixels."""

    width: int
    height: int
    text: int
    placement: Placement


def draw_face_png(
    path: Path,
    blocks: BlockSet,
    face: Face,
    *,
    pixels: int,
    as_seen: Seen,
    tint_hex: str = NO_INK_TINT,
    inks: Mapping[int, InkSaid] = NO_INKS,
    zero: bool = False,
    quarter_turn: bool = False,
) -> None:
    """Write a PNG of a face to scale, ``pixels`` (at least 400) along its longer side.

    ``as_seen`` is "carver" (mirrored, as the wood lies on the bench) or "print" (right-reading). The
    areas that print are filled with the colours of their ``inks``, by impression, and with ``tint_hex`` where
    none is given. On a face with several impressions each is labelled with its number and ink. ``zero``
    marks where a router's program begins to count, ``quarter_turn`` where the block lies on the machine
    turned by a quarter to the left. Raises FolderError when the file cannot be written.
    """
    blocks = blocks.as_on(face)
    # A face for the sheet's back reads on the wood as it does on the print.
    turned: Seen = as_seen if face.mirrored else "carver"
    page = _layout(blocks, max(pixels, LEAST_PIXELS), turned)
    picture = Image.fromarray(_geometry(page, blocks, face, tint_hex, inks))
    _write_words(picture, page, blocks, face, as_seen)
    _write_labels(picture, page, blocks, face, inks)
    if zero:
        _draw_zero(picture, page, blocks, quarter_turn=quarter_turn)
    write_png(path, np.asarray(picture))


def _layout(blocks: BlockSet, pixels: int, as_seen: Seen) -> _Page:
    x0, y0, x1, y1 = drawn_bounds(blocks)
    text = max(11, round(pixels / 62))
    side, head, foot = round(2.6 * text), round(4.6 * text), round(2.8 * text)
    scale = min((pixels - 2 * side) / (x1 - x0), (pixels - head - foot) / (y1 - y0))
    width = max(round((x1 - x0) * scale) + 2 * side, round(LEAST_WIDTH_EM * text))
    height = round((y1 - y0) * scale) + head + foot
    placement, _ = face_placement(
        blocks, (side, head, width - 2 * side, height - head - foot), as_seen=as_seen
    )
    return _Page(width, height, text, placement)


def _rgb(srgb_hex: str) -> tuple[int, int, int]:
    return int(srgb_hex[1:3], 16), int(srgb_hex[3:5], 16), int(srgb_hex[5:7], 16)


def _geometry(
    page: _Page, blocks: BlockSet, face: Face, tint_hex: str, inks: Mapping[int, InkSaid]
) -> NDArray[np.uint8]:
    """Draw everything but the words, large, and average it down."""
    large = _bare_block(page, blocks.block.bounds).copy()
    pen = max(1, round(page.text / 12))
    for part, tint in tints(face, inks, tint_hex):
        _fill(large, page, shapely.get_parts(part.printing), _rgb(tint))
    _stroke(large, page, shapely.get_rings(shapely.get_parts(face.printing)), INK, max(1, pen // 2))
    edge = image_edge(blocks, face)
    _stroke(large, page, shapely.get_parts(edge if face.part else shapely.boundary(edge)), "#8a7c63", 1)
    _dash(large, page, blocks.sheet, INK, pen)
    for kento in blocks.marks_of(face):
        _fill(large, page, np.array([kento.kagi_recess, kento.hikitsuke_recess]), _rgb(RECESS))
        _stroke(large, page, shapely.get_rings([kento.kagi_recess, kento.hikitsuke_recess]), INK, pen)
        walls = shapely.linestrings(kento.kagi_wall), shapely.linestrings(kento.hikitsuke_wall)
        _stroke(large, page, np.array(walls), INK, 4 * pen)
    _stroke(large, page, shapely.get_rings(blocks.block), INK, 2 * pen)
    return np.asarray(cv2.resize(large, (page.width, page.height), interpolation=cv2.INTER_AREA), np.uint8)


def _fixed(page: _Page, geometry: Any) -> NDArray[np.int32]:
    """Place coordinates on the large raster, in fixed point; a pixel's centre lies at half a pixel."""
    xy = page.placement.points(shapely.get_coordinates(geometry)) * OVERSAMPLING - 0.5
    return np.round(xy * (1 << SUBPIXEL_BITS)).astype(np.int32)


def _fill(large: NDArray[np.uint8], page: _Page, polygons: Any, colour: tuple[int, int, int]) -> None:
    rings = [_fixed(page, ring) for ring in shapely.get_rings(polygons)]
    if rings:
        cv2.fillPoly(large, rings, colour, cv2.LINE_AA, SUBPIXEL_BITS)


def _stroke(large: NDArray[np.uint8], page: _Page, lines: Any, colour: str, width: int) -> None:
    for line in lines:
        cv2.polylines(large, [_fixed(page, line)], False, _rgb(colour), width, cv2.LINE_AA, SUBPIXEL_BITS)


def _dash(large: NDArray[np.uint8], page: _Page, area: Any, colour: str, width: int) -> None:
    """Draw an outline in dashes as long as the text is high."""
    step = page.text / abs(page.placement.ax)
    corners = shapely.get_coordinates(area)
    for side in shapely.linestrings(np.stack((corners[:-1], corners[1:]), axis=1)):
        starts = np.arange(0.0, side.length, step)
        ends = np.minimum(starts + step * 0.6, side.length)
        dashes = [shapely.get_coordinates(side.interpolate(at)) for at in (starts, ends)]
        _stroke(large, page, shapely.linestrings(np.stack(dashes, axis=1)), colour, width)


@lru_cache(maxsize=1)
def _bare_block(page: _Page, bounds: tuple[float, float, float, float]) -> NDArray[np.uint8]:
    """The block before anything is drawn on it, large: all faces of a print share it."""
    size = (page.height * OVERSAMPLING, page.width * OVERSAMPLING)
    large: NDArray[np.uint8] = cv2.merge([np.full(size, level, np.uint8) for level in _rgb(GROUND)])
    _lay_wood(large, page, bounds)
    large.flags.writeable = False
    return large


def _lay_wood(large: NDArray[np.uint8], page: _Page, bounds: tuple[float, float, float, float]) -> None:
    """Fill the block with a wood tone and a faint grain made of a few sine waves."""
    left, top, right, foot = bounds
    corners = page.placement.points(np.array([(left, top), (right, foot)])) * OVERSAMPLING
    (x0, y0), (x1, y1) = corners.min(axis=0).round().astype(int), corners.max(axis=0).round().astype(int)
    rows, columns = (y1 - y0) // GRAIN_STEP + 1, (x1 - x0) // GRAIN_STEP + 1
    y = np.arange(rows, dtype=np.float32)[:, None] * (GRAIN_STEP / OVERSAMPLING / page.text)
    x = np.arange(columns, dtype=np.float32)[None, :] * (GRAIN_STEP / OVERSAMPLING / page.text)
    drift = y + 0.35 * np.sin(x * 0.11 + 0.6) + 0.12 * np.sin(x * 0.31 + y * 0.2)
    grain = np.sin(drift * 5.1) + 0.6 * np.sin(drift * 11.7 + 1.3) + 0.4 * np.sin(drift * 23.0)
    tone = np.asarray(WOOD, np.float32) + GRAIN_CONTRAST * grain[:, :, None]
    coarse = tone.round().clip(0, 255).astype(np.uint8)
    large[y0:y1, x0:x1] = cv2.resize(coarse, (int(x1 - x0), int(y1 - y0)), interpolation=cv2.INTER_LINEAR)


def _write_words(picture: Image.Image, page: _Page, blocks: BlockSet, face: Face, as_seen: Seen) -> None:
    draw = ImageDraw.Draw(picture)
    x0, y0, x1, y1 = blocks.block.bounds
    left, top, right, foot = block_on_page(blocks, page.placement)
    title, body = drawing_font("semibold", round(1.5 * page.text)), drawing_font("regular", page.text)
    name = drawable(face.name, "semibold")
    seen = "as the carver sees it: mirrored" if as_seen == "carver" else "as it prints: right-reading"
    if not face.mirrored:
        seen = "from the back: not mirrored"
    numbers = ", ".join(str(number) for number in face.impressions) or "none"
    words = f"impression{'s' if len(face.impressions) > 1 else ''} {numbers} · {seen}"
    shift = draw.textlength(name + "  ", title)
    room = page.width - shift - draw.textlength(words, body) - page.text
    start = max(page.text, min(left, room))
    draw.text((start, top - 1.2 * page.text), name, INK, title, anchor="ls")
    draw.text((start + shift, top - 1.2 * page.text), words, SECONDARY, body, anchor="ls")
    small = drawing_font("italic", page.text)
    for mark, recess in named_marks(blocks, face):
        x, y, rightward, below = mark_corner(blocks, recess, page.placement)
        anchor = ("l" if rightward else "r") + ("a" if below else "d")
        draw.text(
            (x + (0.4 if rightward else -0.4) * page.text, y + (0.2 if below else -0.2) * page.text),
            mark,
            INK,
            small,
            anchor=anchor,
            stroke_width=round(0.18 * page.text),
            stroke_fill=RECESS,
        )
    outer_left, _, _, outer_foot = drawn_on_page(blocks, page.placement)
    x, y = outer_left - 1.3 * page.text, outer_foot + 1.3 * page.text
    _size(picture, (left, y), (right, y), f"{x1 - x0:.0f} mm", page)
    _size(picture, (x, top), (x, foot), f"{y1 - y0:.0f} mm", page)


def _write_labels(
    picture: Image.Image, page: _Page, blocks: BlockSet, face: Face, inks: Mapping[int, InkSaid]
) -> None:
    """Write number and ink of every impression beside what it prints, where a face carries several."""
    draw = ImageDraw.Draw(picture)
    font = drawing_font("semibold", page.text)
    labels = place_labels(
        face,
        inks,
        page.placement,
        frame=block_on_page(blocks, page.placement),
        measure=lambda words: draw.textlength(drawable(words, "semibold"), font),
        height=page.text,
    )
    for label in labels:
        left, top, right, foot = label.box
        draw.rounded_rectangle(label.box, radius=0.4 * page.text, fill=RECESS, outline=INK)
        middle = ((left + right) / 2, (top + foot) / 2)
        draw.text(middle, drawable(label.words, "semibold"), INK, font, anchor="mm")


def _draw_zero(picture: Image.Image, page: _Page, blocks: BlockSet, *, quarter_turn: bool) -> None:
    """The zero of a router's program: a disc with two quarters filled, and arrows along x and y."""
    draw = ImageDraw.Draw(picture)
    (x, y), along_x, along_y = zero_on_page(blocks, page.placement, quarter_turn=quarter_turn)
    arm, radius, pen = 4.2 * page.text, 0.75 * page.text, max(2, round(page.text / 7))
    font = drawing_font("italic", page.text)
    for name, (dx, dy), other in (("x", along_x, along_y), ("y", along_y, along_x)):
        end = (x + arm * dx, y + arm * dy)
        draw.line([(x, y), end], ACCENT, pen)
        tip = (end[0] + 0.7 * page.text * dx, end[1] + 0.7 * page.text * dy)
        side = 0.35 * page.text
        draw.polygon(
            [tip, (end[0] + side * dy, end[1] + side * dx), (end[0] - side * dy, end[1] - side * dx)], ACCENT
        )
        # On the block's side of a level arrow, beside the head of an upright one.
        at = (tip[0], y + 0.9 * page.text * other[1]) if dx else (x + 0.8 * page.text * other[0], tip[1])
        draw.text(at, name, ACCENT, font, anchor="mm", stroke_width=max(1, pen // 2), stroke_fill=RECESS)
    disc = (x - radius, y - radius, x + radius, y + radius)
    draw.ellipse(disc, fill="#ffffff", outline=ACCENT, width=pen)
    for start in (90, 270):
        draw.pieslice(disc, start, start + 90, fill=ACCENT)


def _size(
    picture: Image.Image, start: tuple[float, float], end: tuple[float, float], words: str, page: _Page
) -> None:
    """Draw a dimension line, level or upright, with its words on a gap in the middle."""
    draw = ImageDraw.Draw(picture)
    font = drawing_font("regular", page.text)
    half = draw.textlength(words, font) / 2 + 0.4 * page.text
    tick = 0.35 * page.text
    middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
    if start[1] == end[1]:
        draw.line([start, (middle[0] - half, start[1])], SECONDARY)
        draw.line([(middle[0] + half, start[1]), end], SECONDARY)
        for x, y in (start, end):
            draw.line([(x, y - tick), (x, y + tick)], SECONDARY)
        draw.text(middle, words, INK, font, anchor="mm")
        return
    draw.line([start, (start[0], middle[1] - half)], SECONDARY)
    draw.line([(start[0], middle[1] + half), end], SECONDARY)
    for x, y in (start, end):
        draw.line([(x - tick, y), (x + tick, y)], SECONDARY)
    label = Image.new("L", (round(2 * half), round(1.6 * page.text)), 0)
    ImageDraw.Draw(label).text((half, 0.8 * page.text), words, 255, font, anchor="mm")
    label = label.transpose(Image.Transpose.ROTATE_90)
    corner = (round(middle[0] - label.width / 2), round(middle[1] - label.height / 2))
    picture.paste(Image.new("RGB", label.size, INK), corner, label)
