"""The packet's page for each metal: where the leaves are laid, how many there are, and how it is done."""

from functools import partial
from pathlib import Path

import numpy as np
import shapely

from blockwright.documents.packet_content import Packet, area_words, counted, mm_words
from blockwright.documents.packet_frame import BODY, CAPTION, NOTE, Frame, Page
from blockwright.documents.sheet import Pen, Picture, Placement, Sheet
from blockwright.documents.type import INK, Rich, Style, strong
from blockwright.model.leaf import Laying
from blockwright.model.units import Region

_EDGE = Pen(0.12, "#8b8272")
_LEAF = Pen(0.25, INK)
_GROUND = Pen(0.1, INK)
_DRAWING_SHARE = 0.5
_PALE = 0.55
"""How far the picture under the drawing is lightened, so that lines and numbers are read on it."""

_LEAST_POINTS, _MOST_POINTS = 7.0, 22.0
_TEXT_SHARE = 0.22
_POINTS_PER_MM = 72.0 / 25.4
_CLEAR_MM = 0.8
"""From a leaf's edge, or the next one's, to its number, mm on the page."""


def leaf_pages(packet: Packet, frame: Frame) -> list[Page]:
    """Return one page for each metal, in printing order."""
    return [
        partial(draw_leaf_page, frame, laying, image_of(packet), packet.design_picture)
        for laying in packet.separation.layings
    ]


def image_of(packet: Packet) -> Region:
    """The image's rectangle, mm."""
    return shapely.box(0.0, 0.0, packet.design.width_mm, packet.design.height_mm)


def write_placement(
    path: Path, laying: Laying, *, image: Region, title: str, size_mm: tuple[float, float]
) -> None:
    """Write the page of one metal by itself, without the picture beneath. Raises FolderError."""
    frame = Frame(*size_mm)
    sheet = Sheet(path, width_mm=size_mm[0], height_mm=size_mm[1], title=f"{title}: {laying.metal.name} leaf")
    draw_leaf_page(frame, laying, image, None, sheet)
    frame.footer(sheet, title, 1, 1)
    sheet.end_page()
    sheet.finish()


def draw_leaf_page(
    frame: Frame, laying: Laying, image: Region, picture: Picture | None, sheet: Sheet
) -> None:
    """Draw one metal's page; ``picture`` is the design's, or None."""
    name = f"{laying.metal.name[:1].upper()}{laying.metal.name[1:]} leaf"
    top = frame.heading(sheet, name, f"impression {laying.impression}")
    bounds = shapely.total_bounds([image, *laying.leaves]).tolist()
    room = (frame.measure, (frame.foot - frame.top) * _DRAWING_SHARE)
    scale = min(room[0] / (bounds[2] - bounds[0]), room[1] / (bounds[3] - bounds[1]))
    across = frame.left + (frame.measure - (bounds[2] - bounds[0]) * scale) / 2
    placement = Placement(scale, across - bounds[0] * scale, scale, top + 1.0 - bounds[1] * scale)
    _draw_plan(sheet, laying, image, picture, placement)
    y = placement.point((0.0, bounds[3]))[1] + 2.0
    caption = "Right-reading, as you see the print. Lay the leaves in the order of their numbers."
    y = sheet.write(caption, CAPTION, frame.left, y, frame.measure) + 2.0
    for sentence in _sentences(laying):
        y = sheet.write(sentence, BODY, frame.left, y, frame.measure) + 1.2
    sheet.write(_proof_words(laying), NOTE, frame.left, y + 0.6, frame.measure)


def _draw_plan(
    sheet: Sheet, laying: Laying, image: Region, picture: Picture | None, placement: Placement
) -> None:
    left, top, right, bottom = image.bounds
    (x0, y0), (x1, y1) = placement.point((left, top)), placement.point((right, bottom))
    if isinstance(picture, np.ndarray):
        pale = (255.0 - (255.0 - picture.astype(np.float32)) * (1.0 - _PALE)).round().astype(np.uint8)
        sheet.picture(pale, x0, y0, x1 - x0, y1 - y0)
    sheet.box(x0, y0, x1 - x0, y1 - y0, pen=_EDGE)
    sheet.drawing(laying.ground, placement, pen=_GROUND, fill=laying.metal.srgb_hex)
    side = laying.metal.side_mm * placement.ax
    size = min(_MOST_POINTS, max(_LEAST_POINTS, side * _TEXT_SHARE * _POINTS_PER_MM))
    style = Style("semibold", size, size, INK)
    for number, leaf in enumerate(laying.leaves, start=1):
        sheet.drawing(shapely.boundary(leaf), placement, pen=_LEAF)
        half = sheet.text_width(str(number), style) / 2 + 1.0
        height = size / _POINTS_PER_MM
        x, y = _number_place(leaf, laying, placement, (half, 0.62 * height))
        sheet.box(x - half, y - 0.62 * height, 2 * half, 1.24 * height, fill="#ffffff")
        sheet.label(str(number), style, x, y + 0.35 * height, align="centre")


def _number_place(
    leaf: Region, laying: Laying, placement: Placement, half: tuple[float, float]
) -> tuple[float, float]:
    """Where a leaf's number stands on the page: past the lap in its corner, where it hides least ground.

    Turned leaves have it in the middle.
    """
    if laying.turn_deg:
        return placement.point((leaf.centroid.x, leaf.centroid.y))
    left, top, _, _ = leaf.bounds
    x, y = placement.point((left + laying.lap_mm, top + laying.lap_mm))
    return x + half[0] + _CLEAR_MM, y + half[1] + _CLEAR_MM


def _sentences(laying: Laying) -> list[Rich]:
    metal = laying.metal
    side = mm_words(metal.side_mm)
    lap = f", each {mm_words(laying.lap_mm)} mm or more over the next" if len(laying.leaves) > 1 else ""
    turned = f", turned by {laying.turn_deg:g} degrees" if laying.turn_deg else ""
    coat = (
        "It tarnishes: coat it."
        if metal.must_coat
        else "It may be coated, but 22 karat and finer need not be."
    )
    return [
        (
            strong(counted(len(laying.leaves), "leaf", "leaves")),
            f" of {side} × {side} mm to a print{lap}{turned}; the ground is "
            f"{area_words(laying.ground.area)}.",
        ),
        (
            f"For {counted(laying.sheets, 'sheet')}, waste counted: ",
            strong(f"{counted(laying.leaves_needed, 'leaf', 'leaves')}, {counted(laying.books, 'book')}"),
            f" of {metal.per_book}.",
        ),
        (
            strong("Last of all, when the colour is dry: "),
            "lay the ground by the mask at true size, right-reading; when it has its tack lay whole leaves "
            "over it, burnish through a slip of paper, and brush off what did not stick.",
        ),
        coat,
    ]


def _proof_words(laying: Laying) -> str:
    grid = f"squares on a grid of {laying.grid_mm:.2f} mm"
    if laying.proven:
        return f"No fewer {grid} cover the ground with this lap."
    return f"Of {grid} no fewer than {laying.fewest_known} cover the ground; fewer than here may do."
