"""The packet's inking guides: for each gradation where full colour ends and where the ink is gone.

One page holds the drawing twice, as it is on the print and mirrored, as the printer has it on the block. The
tint is a guide for the brush, not a proof of the colour.
"""

from dataclasses import dataclass
from functools import partial

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from blockwright.documents.packet_content import Packet, mm_words
from blockwright.documents.packet_frame import BODY, NAME, NOTE, Frame, Page, fit_picture
from blockwright.documents.sheet import Pen, Placement, Sheet
from blockwright.documents.type import INK, Style, strong
from blockwright.geometry.painting import paint_area
from blockwright.geometry.running import film_share, pixel_places
from blockwright.model.axis import Axis
from blockwright.model.gradation_words import gradation_sentence
from blockwright.model.separation import Gradation, Impression
from blockwright.model.units import MM_PER_INCH

GUIDE_DPI = 130.0
"""Resolution of the tint: it has no edges finer than this."""

_UNINKED = (250, 247, 240)
"""Block face without ink."""

_CAPTION = Style("semibold", 11.5, 15.0, INK)
_MARK = Style("semibold", 9.5, 12.0, INK)
_OUTLINE = Pen(0.12, "#5b5345")
_IMAGE = Pen(0.1, "#8b8272")
_FULL, _GONE, _AXIS = Pen(0.45, "#1f1b16"), Pen(0.45, "#1f1b16", (2.0, 1.4)), Pen(0.3, "#9c2f24")
_HALO = Pen(1.3, "#ffffff")
_ARROW_MM = 2.6


@dataclass(frozen=True, slots=True)
class _Guide:
    """One gradation ready to be drawn, in mm of the image."""

    impression: Impression
    gradation: Gradation
    width_mm: float
    height_mm: float


def gradation_pages(packet: Packet, frame: Frame) -> list[Page]:
    """Return one page for each impression that is brushed out, in printing order."""
    design = packet.design
    guides = [
        _Guide(each, each.gradation, design.width_mm, design.height_mm)
        for each in packet.separation.impressions
        if each.gradation is not None
    ]
    return [partial(_draw_page, packet, frame, guide) for guide in guides]


def line_at(axis: Axis, along_mm: float, *, width_mm: float, height_mm: float) -> BaseGeometry:
    """The line across the image so far along a gradation, mm: square to a straight axis, or off its edge.

    >>> across = line_at(Axis((5.0, 0.0), (5.0, 9.0)), 4.0, width_mm=10.0, height_mm=9.0)
    >>> sorted(across.coords)
    [(0.0, 4.0), (10.0, 4.0)]
    """
    image = shapely.box(0.0, 0.0, width_mm, height_mm)
    if axis.edge:
        sign = 1.0 if axis.far_mm >= axis.near_mm else -1.0
        away = max(axis.near_mm + sign * along_mm, 0.0)
        edge = shapely.Point(axis.middle) if axis.middle is not None else shapely.linestrings(axis.edge)
        line = edge if away == 0.0 else shapely.boundary(shapely.buffer(edge, away, quad_segs=24))
        return shapely.intersection(line, image)
    length = max(axis.length_mm, 1e-9)
    way = np.subtract(axis.end, axis.start) / length
    middle, reach = np.add(axis.start, way * along_mm), width_mm + height_mm
    across = np.array([-way[1], way[0]]) * reach
    line = shapely.linestrings(np.stack([middle - across, middle + across]))
    return shapely.intersection(line, image)


def _tint(guide: _Guide, scale: float) -> NDArray[np.uint8]:
    """The inked area, as strong as the film, (H, W, 3); ``scale`` is pixels to the mm of the image."""
    width, height = max(1, round(guide.width_mm * scale)), max(1, round(guide.height_mm * scale))
    share = paint_area(guide.impression.area, pixels_per_mm=scale, width_px=width, height_px=height)
    places = pixel_places(origin_mm=(0.0, 0.0), pixels_per_mm=scale, width_px=width, height_px=height)
    film = film_share(guide.gradation, places, wanted=share.ravel() > 0.0).reshape(share.shape)
    ink = np.array([int(guide.impression.srgb_hex[i : i + 2], 16) for i in (1, 3, 5)])
    strength = (share * film)[:, :, None]
    return np.asarray(np.rint(_UNINKED + strength * (ink - np.array(_UNINKED))), dtype=np.uint8)


def _draw_page(packet: Packet, frame: Frame, guide: _Guide, sheet: Sheet) -> None:
    impression, gradation = guide.impression, guide.gradation
    face = packet.face_of(impression.number)
    aside = f"impression {impression.number}" + (f", {face.name}" if face else "")
    top = frame.heading(sheet, f"Inking guide: {gradation.kind}", aside)
    top = sheet.write(impression.name, NAME, frame.left, top - 2.0, frame.measure) + 0.5
    words = gradation_sentence(gradation, width_mm=guide.width_mm, height_mm=guide.height_mm)
    top = sheet.write((strong(words[:1].upper() + words[1:]), "."), BODY, frame.left, top, frame.measure)
    top = sheet.write(_how(gradation), NOTE, frame.left, top + 1.0, frame.measure) + 4.0
    room = (frame.foot - top) / 2.0 - 9.0
    shown = fit_picture(guide.width_mm / guide.height_mm, frame.measure, room)
    scale = shown[0] / guide.width_mm
    tint = _tint(guide, scale * GUIDE_DPI / MM_PER_INCH)
    for mirrored, caption in ((True, "On the block, as you ink it (mirrored)"), (False, "On the print")):
        sheet.label(caption, _CAPTION, frame.left, top + 3.5)
        _draw_guide(sheet, guide, tint, (frame.left, top + 6.0), scale, mirrored=mirrored)
        top += shown[1] + 13.0


def _how(gradation: Gradation) -> str:
    """What the lines mean, and the film at the quarters of the way."""
    quarters = np.interp([0.25, 0.5, 0.75], np.linspace(0.0, 1.0, len(gradation.ramp)), gradation.ramp)
    told = ", ".join(f"{100.0 * share:.0f} %" for share in quarters)
    if gradation.kind == "futa-iro":
        together = " Both inks are brushed onto one block, each towards the other, before one pull."
    else:
        together = ""
    end = "Broken line: the ink is gone." if gradation.gone_mm is not None else "The ink does not run out."
    return (
        f"Solid line: full colour up to here. {end} At a quarter, half and three quarters of the way between "
        f"start and end the film is {told} of the full one.{together}"
    )


def _draw_guide(
    sheet: Sheet,
    guide: _Guide,
    tint: NDArray[np.uint8],
    corner: tuple[float, float],
    scale: float,
    *,
    mirrored: bool,
) -> None:
    x, y = corner
    width, height = guide.width_mm * scale, guide.height_mm * scale
    sheet.picture(np.ascontiguousarray(tint[:, ::-1]) if mirrored else tint, x, y, width, height)
    placement = Placement(-scale, x + width, scale, y) if mirrored else Placement(scale, x, scale, y)
    gradation = guide.gradation
    size = {"width_mm": guide.width_mm, "height_mm": guide.height_mm}
    with sheet.clipped(x, y, width, height):
        sheet.drawing(guide.impression.area, placement, pen=_OUTLINE)
        marks = [(gradation.full_mm, _FULL)]
        if gradation.gone_mm is not None:
            marks.append((gradation.gone_mm, _GONE))
        for along_mm, pen in marks:
            line = line_at(gradation.axis, along_mm, **size)
            if not line.is_empty:
                sheet.drawing(line, placement, pen=_HALO)
                sheet.drawing(line, placement, pen=pen)
        _draw_axis(sheet, gradation, placement)
    sheet.box(x, y, width, height, pen=_IMAGE)


def _draw_axis(sheet: Sheet, gradation: Gradation, placement: Placement) -> None:
    """The way from full colour to nothing as an arrow, with its length."""
    axis = gradation.axis
    start, end = placement.point(axis.start), placement.point(axis.end)
    sheet.line(start, end, _HALO)
    sheet.line(start, end, _AXIS)
    way = np.subtract(end, start)
    way = way / max(float(np.hypot(*way)), 1e-9)
    for turn in (2.6, -2.6):
        barb = np.array(
            [way[0] * np.cos(turn) - way[1] * np.sin(turn), way[0] * np.sin(turn) + way[1] * np.cos(turn)]
        )
        tip = (float(end[0] + barb[0] * _ARROW_MM), float(end[1] + barb[1] * _ARROW_MM))
        sheet.line(end, tip, _AXIS)
    middle = np.add(start, end) / 2.0
    words = f"{mm_words(round(axis.length_mm))} mm"
    room = sheet.text_width(words, _MARK)
    sheet.box(float(middle[0]) + 1.6, float(middle[1]) - 3.2, room + 1.6, 4.4, fill="#ffffff")
    sheet.label(words, _MARK, float(middle[0]) + 2.4, float(middle[1]))
