"""The packet's printing order with the progressive proofs."""

from functools import partial

from blockwright.documents.packet_content import Packet, area_words, counted, times
from blockwright.documents.packet_frame import (
    NAME,
    NOTE,
    Frame,
    Page,
    fit_picture,
)
from blockwright.documents.sheet import Pen, Sheet
from blockwright.documents.type import INK, Rich, Style, bound, broken, fitted, shortened, strong
from blockwright.model.gradation_words import gradation_sentence
from blockwright.model.separation import Impression

COLUMNS, ROWS = 2, 3
GUTTER_MM = 8.0
TEXT_ROOM_MM, GRADED_ROOM_MM = 23.0, 5.5
"""Room under a progressive proof for its words, and what a gradation's sentence takes more."""

UPRIGHT_ASPECT = 1.2
"""Pictures narrower than this have their words beside them instead of below."""

_NUMBER = Style("semibold", 24.0, 26.0, INK)
_CELL = Style("regular", 12.5, 16.0, INK)
_TABLE_HEAD = Style("italic", 11.0, 14.0, INK)
_SMALL = Style("regular", 9.5, 11.0, INK)
_EDGE = Pen(0.1, "#8b8272")
_KINDS = {"key": "The key block. ", "colour": "", "karazuri": "", "leaf": ""}


def order_pages(packet: Packet, frame: Frame) -> list[Page]:
    """Return the pages of the printing order, six impressions to a page."""
    each = COLUMNS * ROWS
    count = len(packet.separation.impressions)
    return [
        partial(_draw_order, packet, frame, range(start, min(start + each, count)))
        for start in range(0, count, each)
    ]


def _draw_order(packet: Packet, frame: Frame, part: range, sheet: Sheet) -> None:
    count = len(packet.separation.impressions)
    aside = (
        counted(count, "impression") if len(part) == count else f"{part.start + 1} to {part.stop} of {count}"
    )
    top = frame.heading(sheet, "Printing order", aside)
    lead = "Each picture is the sheet as predicted after that impression."
    top = sheet.write(lead, NOTE, frame.left, top - 2.5, frame.measure) + 2.5
    width = (frame.measure - GUTTER_MM * (COLUMNS - 1)) / COLUMNS
    height = (frame.foot - top) / ROWS
    for place, index in enumerate(part):
        x = frame.left + (place % COLUMNS) * (width + GUTTER_MM)
        y = top + (place // COLUMNS) * height
        _draw_cell(packet, index, sheet, (x, y, width, height - 4.0))


def _draw_cell(packet: Packet, index: int, sheet: Sheet, box: tuple[float, float, float, float]) -> None:
    x, y, width, height = box
    aspect = packet.design.width_mm / packet.design.height_mm
    if aspect >= UPRIGHT_ASPECT:
        impressions = packet.separation.impressions
        longer = any(each.gradation is not None or each.ink is None for each in impressions)
        room = TEXT_ROOM_MM + longer * GRADED_ROOM_MM
        shown = fit_picture(aspect, width, height - room)
        words = (x, y + shown[1] + 1.5, width)
    else:
        shown = fit_picture(aspect, width * 0.56, height)
        words = (x + shown[0] + 4.0, y - 1.0, width - shown[0] - 4.0)
    sheet.picture(packet.progressive[index], x, y, *shown)
    sheet.box(x, y, *shown, pen=_EDGE)
    _draw_words(packet, packet.separation.impressions[index], sheet, words)


def _draw_words(
    packet: Packet, impression: Impression, sheet: Sheet, place: tuple[float, float, float]
) -> None:
    """Set number, swatch and name on one line where it is wide enough, and what to do below."""
    x, y, width = place
    baseline = y + 7.2
    after = x + sheet.label(f"{impression.number}", _NUMBER, x, baseline) + 3.0
    sheet.box(after, baseline - 6.0, 9.0, 6.0, pen=_EDGE, fill=impression.srgb_hex)
    after += 12.0
    if width - (after - x) > 30.0:
        room = x + width - after
        style = fitted(impression.name, NAME, room, lines=1, least=0.7 * NAME.size)
        sheet.label(shortened(impression.name, style, room), style, after, baseline)
        below = baseline + 1.5
    else:
        lines = broken(impression.name, NAME, width)[:3]
        below = sheet.write_lines(lines, NAME, x, baseline + 1.5, width)
    sheet.write(_order_words(packet, impression), _CELL, x, below, width)


def _order_words(packet: Packet, impression: Impression) -> Rich:
    if impression.kind == "leaf":
        return _leaf_words(packet, impression)
    face = packet.face_of(impression.number)
    where: Rich = ("from ", strong(bound(face.name))) if face else ("no face carries it yet",)
    if face and impression.number in face.turned:
        where = (*where, ", the block turned by half")
    if impression.ink is None:
        how = (
            "sheet dry and face down, rub with the edge of the baren"
            if impression.side == "front"
            else "sheet dry and face up, block not mirrored; rub through a slip of paper"
        )
        return ("No ink: press ", *where, f"; {how}. {area_words(impression.area.area)}.")
    return (
        _KINDS[impression.kind],
        "Print it ",
        strong(times(impression.passes)),
        ", ",
        *where,
        f"; {area_words(impression.area.area)}.",
        *_brushed(packet, impression),
    )


def _brushed(packet: Packet, impression: Impression) -> Rich:
    """How a gradation is brushed out; its guide has a page of its own."""
    if impression.gradation is None:
        return ()
    size = {"width_mm": packet.design.width_mm, "height_mm": packet.design.height_mm}
    return (f" {gradation_sentence(impression.gradation, **size).capitalize()}.",)


def _leaf_words(packet: Packet, impression: Impression) -> Rich:
    """How leaf is laid, in few words; its own page tells more."""
    laying = next((each for each in packet.separation.layings if each.impression == impression.number), None)
    if laying is None:
        return ("No block. When the colour is dry: ground, leaf, burnish, coat.",)
    coat = "coat" if laying.metal.must_coat else "coat if you like"
    return (
        "No block. When the colour is dry: ground, ",
        strong(counted(len(laying.leaves), "leaf", "leaves")),
        f", burnish, {coat}; {area_words(laying.ground.area)}.",
    )
