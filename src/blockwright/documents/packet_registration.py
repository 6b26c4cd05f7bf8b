"""The packet's pages on registration: where the marks stand, the marks at true size, and a check list."""

from dataclasses import replace
from functools import partial

import numpy as np

from blockwright.documents.face_plate import (
    WOOD,
    block_on_page,
    draw_dimension,
    draw_face,
    drawn_on_page,
    face_placement,
)
from blockwright.documents.packet_content import Packet, counted, mm_words
from blockwright.documents.packet_faces import mark_places
from blockwright.documents.packet_frame import BODY, CAPTION, Frame, Page, text_height
from blockwright.documents.packet_movement import moisture_check
from blockwright.documents.sheet import HAIRLINE, Pen, Placement, Sheet
from blockwright.documents.type import INK, Rich, strong
from blockwright.model.blocks import BlockSet
from blockwright.model.units import Region

SIZE_ROOM_MM = 14.0
"""Room round the drawing for its dimension lines."""

DETAIL_MM = (82.0, 54.0)
"""Window of a mark drawn at true size."""

_PEN = Pen(0.12, INK)


def registration_pages(packet: Packet, frame: Frame) -> list[Page]:
    """Return the page of the marks and the page of the check list."""
    return [partial(_draw_marks, packet, frame), partial(_draw_checks, packet, frame)]


def _draw_marks(packet: Packet, frame: Frame, sheet: Sheet) -> None:
    blocks, settings = _as_carried(packet), packet.settings.blocks
    seen = "as the carver sees every face" if blocks is packet.blocks else "on the registration board"
    y = frame.heading(sheet, "Registration", seen)
    x0, y0, x1, y1 = blocks.sheet.bounds
    kagi, hikitsuke = mark_places(blocks)
    sentences: list[Rich] = [
        (
            "The sheet is ",
            strong(f"{mm_words(x1 - x0)} × {mm_words(y1 - y0)} mm"),
            f"; bare paper round the image as printed: left {settings.margin_left_mm:g}, "
            f"right {settings.margin_right_mm:g}, top {settings.margin_top_mm:g}, "
            f"bottom {settings.margin_bottom_mm:g} mm.",
        ),
        (strong("Kagi: "), f"{kagi}."),
        (strong("Hikitsuke: "), f"its middle {hikitsuke}."),
    ]
    for sentence in sentences:
        y = sheet.write(sentence, BODY, frame.left, y, frame.measure) + 1.0
    room = frame.foot - DETAIL_MM[1] - 7.0 - y
    inner = (
        frame.left + SIZE_ROOM_MM,
        y + SIZE_ROOM_MM,
        frame.measure - 2 * SIZE_ROOM_MM,
        room - 2 * SIZE_ROOM_MM,
    )
    placement, _ = face_placement(blocks, inner, as_seen="carver")
    draw_face(sheet, blocks, None, placement, tint_hex=WOOD)
    _draw_measures(blocks, sheet, placement)
    top = drawn_on_page(blocks, placement)[3] + SIZE_ROOM_MM + 4.0
    for name, recess, left in (
        ("Kagi", blocks.kento.kagi_recess, frame.left),
        ("Hikitsuke", blocks.kento.hikitsuke_recess, frame.right - DETAIL_MM[0]),
    ):
        _draw_detail(packet, sheet, recess, (left, top))
        words = f"{name}, at true size"
        sheet.write(words, CAPTION, left, top + DETAIL_MM[1] + 1.0, DETAIL_MM[0])


def _as_carried(packet: Packet) -> BlockSet:
    """The blocks; where all are part blocks, with the registration board in the place of a full one."""
    board = packet.blocks.registration
    if board is None or packet.blocks.full_faces:
        return packet.blocks
    return replace(packet.blocks, block=board.outline)


def _draw_measures(blocks: BlockSet, sheet: Sheet, placement: Placement) -> None:
    """Draw the marks' distances on the kagi's sides of the block and the block's sizes on the others."""
    kagi, hikitsuke = blocks.kento.kagi, blocks.kento.hikitsuke
    x0, y0, x1, y1 = blocks.block.bounds
    left, top, right, foot = block_on_page(blocks, placement)
    out_left, out_top, out_right, out_foot = (
        edge + away
        for edge, away in zip(drawn_on_page(blocks, placement), (-5.0, -5.0, 5.0, 5.0), strict=True)
    )
    on_right, on_foot = kagi[0] > (x0 + x1) / 2, kagi[1] > (y0 + y1) / 2
    out_x, side_x, near_x = (out_right, out_left, right) if on_right else (out_left, out_right, left)
    out_y, side_y, near_y = (out_foot, out_top, foot) if on_foot else (out_top, out_foot, top)
    draw_dimension(sheet, (left, side_y), (right, side_y), f"{mm_words(x1 - x0)} mm")
    draw_dimension(sheet, (side_x, foot), (side_x, top), f"{mm_words(y1 - y0)} mm")
    at, stop = placement.point(kagi), placement.point(hikitsuke)
    inset_x = f"{mm_words(min(kagi[0] - x0, x1 - kagi[0]))} mm"
    inset_y = f"{mm_words(min(kagi[1] - y0, y1 - kagi[1]))} mm"
    apart = f"{mm_words(float(np.hypot(kagi[0] - hikitsuke[0], kagi[1] - hikitsuke[1])))} mm"
    # A short dimension has its words before its start: away from the long one, and not both in the corner.
    if abs(kagi[0] - hikitsuke[0]) >= abs(kagi[1] - hikitsuke[1]):
        draw_dimension(sheet, (at[0], out_y), (stop[0], out_y), apart)
        draw_dimension(sheet, (near_x, out_y), (at[0], out_y), inset_x)
        draw_dimension(sheet, (out_x, at[1]), (out_x, near_y), inset_y)
        _draw_leader(sheet, stop, (stop[0], out_y))
    else:
        draw_dimension(sheet, (out_x, at[1]), (out_x, stop[1]), apart)
        draw_dimension(sheet, (out_x, near_y), (out_x, at[1]), inset_y)
        draw_dimension(sheet, (at[0], out_y), (near_x, out_y), inset_x)
        _draw_leader(sheet, stop, (out_x, stop[1]))
    _draw_leader(sheet, at, (at[0], out_y))
    _draw_leader(sheet, at, (out_x, at[1]))


def _draw_leader(sheet: Sheet, start: tuple[float, float], end: tuple[float, float]) -> None:
    sheet.line(start, end, Pen(0.08, "#655d4f", (1.0, 0.8)))


def _draw_detail(packet: Packet, sheet: Sheet, recess: Region, corner: tuple[float, float]) -> None:
    """Draw a mark at exactly 1:1 in a window."""
    blocks = packet.blocks
    x0, y0, x1, y1 = recess.bounds
    width, height = DETAIL_MM
    dx = corner[0] + width / 2 - (x0 + x1) / 2
    dy = corner[1] + height / 2 - (y0 + y1) / 2
    placement = Placement(1.0, dx, 1.0, dy)
    with sheet.clipped(*corner, width, height):
        draw_face(sheet, blocks, None, placement, tint_hex=WOOD, named=False)
    sheet.box(*corner, width, height, pen=HAIRLINE)


def _checks(packet: Packet) -> list[str]:
    settings = packet.settings
    count = len(packet.separation.impressions)
    mirrored = [face for face in packet.blocks.full_faces if face.mirrored]
    worn = " This print has more: keep spare paper at the corners." if count > 20 else ""
    return [
        "The 100 mm bar on every transfer sheet measures 100 mm.",
        *_same_place(packet, len(mirrored)),
        *_turned_over(packet),
        f"The recesses are {settings.blocks.recess_mm:g} mm deep. Deeper registers worse "
        "(a Japanese print workshop's page).",
        "Their walls are upright, clean and straight (common practice).",
        "Every sheet has one square corner for the kagi and one straight edge for the hikitsuke.",
        "The sheets keep one order and one way round for every impression (a printer's encyclopaedia).",
        "The stack has been damp for at least an hour and a half (Fletcher 1916) and stays evenly damp: "
        "a sheet that dries in mid-run shrinks, up to 2 mm (a printing house, 1999).",
        "No stack stays damp for more than three days, for mould (Fletcher 1916).",
        *moisture_check(packet),
        "Brushes have soaked for an hour at least (common practice).",
        f"The first sheet through all faces is in register within {settings.proof.drift_mm:g} mm. "
        "If not, shave or shim the kento; do not move the sheet.",
        f"Sheet corners wear by about 20 impressions (practitioner's notes).{worn}",
    ]


def _same_place(packet: Packet, faces: int) -> list[str]:
    """That the marks stand alike, on the blocks and on the registration board."""
    if packet.blocks.registration is None:
        return [
            f"The marks stand at the same place on all {counted(faces, 'face')}: "
            "one card with the three distances fits them all."
        ]
    if not faces:
        return ["The marks stand on the pads of the registration board, and nowhere else."]
    return [
        f"The marks stand at the same place on {'all ' if faces > 1 else ''}{counted(faces, 'full face')} "
        "and on the pads of the registration board: one card with the distance of the two fits all.",
        "Pads, part blocks and full blocks are of one thickness; the stops are lower.",
    ]


def _turned_over(packet: Packet) -> list[str]:
    """What to mind about faces that press the sheet's back."""
    backs = [face.name for face in packet.blocks.faces if not face.mirrored]
    if not backs:
        return []
    return [
        f"For {', '.join(backs)} the sheet lies face up: its marks stand on the other side, so that the same "
        "corner of the sheet seats in the kagi."
    ]


def _draw_checks(packet: Packet, frame: Frame, sheet: Sheet) -> None:
    y = frame.heading(sheet, "Before the first pull")
    indent = 12.0
    checks = _checks(packet)
    heights = [text_height(words, BODY, frame.measure - indent) for words in checks]
    gap = min(6.5, (frame.foot - y - sum(heights)) / len(checks))
    for words in checks:
        sheet.box(frame.left, y + 0.9, 5.0, 5.0, pen=Pen(0.2, INK))
        y = sheet.write(words, BODY, frame.left + indent, y, frame.measure - indent) + gap
