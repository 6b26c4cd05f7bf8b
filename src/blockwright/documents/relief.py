"""The relief of a cut face: the wood as the carver sees it under a light from the upper left."""

from pathlib import Path
from typing import Any

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from shapely.geometry import MultiPolygon

from blockwright.documents.face_plate import mark_corner, named_marks
from blockwright.documents.fonts import drawing_font
from blockwright.documents.png import write_png
from blockwright.documents.sheet import Placement
from blockwright.documents.type import ACCENT, INK
from blockwright.geometry.painting import paint_area
from blockwright.geometry.relief_light import light_on
from blockwright.model.blocks import BlockSet, Face
from blockwright.model.cut import FaceCut

PAPER = (250, 245, 233)
"""What prints, whatever its ink: nothing else is so light."""

WOOD = (218, 190, 146)
"""Wood that was not cut and does not print."""

FLOORS = ((0.0, (206, 174, 126)), (1.5, (186, 150, 102)), (4.5, (146, 110, 70)))
"""Cut wood by its depth, mm: darker where it is deeper."""

CUT_MM = 0.02
"""Wood lower than this is cut."""

MARK = (238, 222, 190)
_GRAIN_MM = 2.4
_GRAIN = 0.022
"""How far apart the lines of the grain are, and how strong."""

_MARKED = 0.72
"""How far what is left to the hand covers the wood under it."""

_SMALL_PX = 8.0
"""Places left to the hand that are smaller have a ring of this radius round them, to be found."""


def paint_relief(
    heights: NDArray[np.float32],
    blocks: BlockSet,
    face: Face,
    cut: FaceCut,
    *,
    step_mm: float,
    width_px: int = 1600,
    handwork: bool = False,
    named: bool = True,
) -> NDArray[np.uint8]:
    """Paint a cut face, (H, W, 3) uint8 sRGB, the whole block ``width_px`` wide.

    ``heights`` (rows, columns) are mm, 0 at the face and negative where cut, row 0 at the lowest y, over the
    whole block. What prints has the tone of paper, all else of wood. With ``handwork`` what the bits did not
    reach is laid over it in the accent's red; ``named`` writes the marks' names beside them. Raises
    ValueError when the heights are not the block's.
    """
    here = blocks.as_on(face)
    left, top, right, foot = here.block.bounds
    if abs(heights.shape[1] * step_mm - (right - left)) > 2 * step_mm or (
        abs(heights.shape[0] * step_mm - (foot - top)) > 2 * step_mm
    ):
        raise ValueError(f"the heights do not cover the block of {face.name}")
    scale = width_px / (right - left)
    height_px = max(1, round((foot - top) * scale))
    seen = np.ascontiguousarray(heights[::-1])
    light = light_on(seen, step_mm=step_mm, width_px=width_px, height_px=height_px)
    tone = _wood(seen, width_px, height_px, scale, along=_along(blocks, face))
    recesses = [
        area for kento in blocks.marks_of(face) for area in (kento.kagi_recess, kento.hikitsuke_recess)
    ]
    layers: list[tuple[Any, tuple[int, int, int], float]] = [
        (MultiPolygon(recesses), MARK, 0.6),
        (cut.printing, PAPER, 1.0),
    ]
    for area, colour, strength in layers:
        _lay(tone, area, colour, strength, (left, top), scale)
    lit = tone * light[:, :, None]
    hand = cut.routing.hand if handwork and cut.routing is not None else MultiPolygon()
    _lay(lit, hand, _rgb(ACCENT), _MARKED, (left, top), scale)
    picture = np.clip(np.rint(lit), 0, 255).astype(np.uint8)
    _ring_small(picture, hand, (left, top), scale)
    placement = Placement(scale, -left * scale, scale, -top * scale)
    return _with_marks(picture, here, face, placement, named=named)


def write_relief(
    path: Path,
    heights: NDArray[np.float32],
    blocks: BlockSet,
    face: Face,
    cut: FaceCut,
    *,
    step_mm: float,
    width_px: int = 1600,
    handwork: bool = False,
) -> None:
    """Write what :func:`paint_relief` paints as PNG. Raises FolderError when the file cannot be written."""
    picture = paint_relief(heights, blocks, face, cut, step_mm=step_mm, width_px=width_px, handwork=handwork)
    left, _, right, _ = blocks.as_on(face).block.bounds
    write_png(path, picture, dpi=width_px / (right - left) * 25.4)


def _along(blocks: BlockSet, face: Face) -> bool:
    """Whether the grain runs along the block's width: it runs along its longer side, or across that."""
    wide = all(board.width_mm >= board.height_mm for board in blocks.boards if face in board.faces)
    return all((board.grain == "along") == wide for board in blocks.boards if face in board.faces)


def _rgb(srgb_hex: str) -> tuple[int, int, int]:
    return int(srgb_hex[1:3], 16), int(srgb_hex[3:5], 16), int(srgb_hex[5:7], 16)


def _wood(
    seen: NDArray[np.float32], width_px: int, height_px: int, scale: float, *, along: bool
) -> NDArray[np.float32]:
    """The wood's tone by how deep it is cut, with a faint grain, (H, W, 3) float32."""
    size = (width_px, height_px)
    raw = cv2.resize((seen > -CUT_MM).astype(np.float32), size, interpolation=cv2.INTER_AREA)[:, :, None]
    depth = -cv2.resize(seen, size, interpolation=cv2.INTER_AREA)
    depths = [at for at, _ in FLOORS]
    cut = np.stack([np.interp(depth, depths, [tone[k] for _, tone in FLOORS]) for k in range(3)], axis=2)
    tone = cut.astype(np.float32) * (1.0 - raw) + np.asarray(WOOD, np.float32) * raw
    return np.asarray(tone * (1.0 + _GRAIN * _grain(height_px, width_px, scale, along=along))[:, :, None])


def _grain(rows: int, columns: int, scale: float, *, along: bool) -> NDArray[np.float32]:
    """Lines of grain from a few waves, about -1 to 1."""
    y = np.arange(rows, dtype=np.float32)[:, None] / (scale * _GRAIN_MM)
    x = np.arange(columns, dtype=np.float32)[None, :] / (scale * _GRAIN_MM)
    across, length = (y, x) if along else (x, y)
    bent = across + 1.3 * np.sin(length * 0.021 + 0.4) + 0.5 * np.sin(length * 0.063 + across * 0.05)
    waves = np.sin(bent * 2.1) + 0.7 * np.sin(bent * 5.3 + 1.1) + 0.5 * np.sin(bent * 11.9 + 0.3 * length)
    return np.asarray(waves / 2.2, np.float32)


def _lay(
    picture: NDArray[np.float32],
    area: Any,
    colour: tuple[int, int, int],
    strength: float,
    origin: tuple[float, float],
    scale: float,
) -> None:
    """Lay an area over a picture in one colour."""
    if shapely.is_empty(area):
        return
    height_px, width_px = picture.shape[:2]
    share = paint_area(
        shapely.transform(area, lambda xy: xy - np.asarray(origin)),
        pixels_per_mm=scale,
        width_px=width_px,
        height_px=height_px,
    )
    covered = strength * share[:, :, None]
    picture += covered * (np.asarray(colour, np.float32) - picture)


def _ring_small(picture: NDArray[np.uint8], hand: Any, origin: tuple[float, float], scale: float) -> None:
    for part in shapely.get_parts(hand):
        x0, y0, x1, y1 = part.bounds
        if max(x1 - x0, y1 - y0) * scale < _SMALL_PX:
            at = np.rint((np.array([x0 + x1, y0 + y1]) / 2.0 - origin) * scale * 16.0 - 8.0).astype(int)
            cv2.circle(
                picture, (int(at[0]), int(at[1])), round(_SMALL_PX * 16), _rgb(ACCENT), 1, cv2.LINE_AA, 4
            )


def _with_marks(
    picture: NDArray[np.uint8], here: BlockSet, face: Face, placement: Placement, *, named: bool
) -> NDArray[np.uint8]:
    """Draw the walls that the sheet stops against, and the marks' names."""
    image = Image.fromarray(picture)
    draw = ImageDraw.Draw(image)
    text = max(11, round(picture.shape[1] / 80))
    for kento in here.marks_of(face):
        for wall in (kento.kagi_wall, kento.hikitsuke_wall):
            line = [placement.point(at) for at in wall]
            draw.line(line, INK, max(2, round(text / 6)), joint="curve")
    font = drawing_font("italic", text)
    for name, recess in named_marks(here, face) if named else ():
        x, y, rightward, below = mark_corner(here, recess, placement)
        anchor = ("l" if rightward else "r") + ("a" if below else "d")
        y += (0.25 if below else -0.25) * text
        draw.text((x, y), name, INK, font, anchor=anchor, stroke_width=round(0.16 * text), stroke_fill=WOOD)
    return np.asarray(image)
