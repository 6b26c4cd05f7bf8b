"""The packet's page of the registration board: a drawing to scale, and where each part block lies on it."""

from collections.abc import Sequence
from functools import partial

import shapely

from blockwright.documents.face_plate import draw_dimension
from blockwright.documents.packet_content import Packet, counted, mm_words
from blockwright.documents.packet_frame import BODY, NOTE, Frame, Page, dealt, text_height
from blockwright.documents.registration_board import draw_registration
from blockwright.documents.sheet import Placement, Sheet
from blockwright.documents.type import Rich, strong
from blockwright.model.registration import RegistrationBoard, Seat

DRAWING_SHARE = 0.5
"""How much of the page's height the drawing may take."""

SIZE_ROOM_MM = 9.0
HEADING_MM = 18.0
GAP_MM = 1.4


def registration_board_pages(packet: Packet, frame: Frame) -> list[Page]:
    """Return the page of the registration board, and more where many blocks lie on it; none without any."""
    board = packet.blocks.registration
    if board is None:
        return []
    lead = sum(text_height(each, BODY, frame.measure) + GAP_MM for each in _how(packet, board))
    heights = [text_height(_seat(packet, seat), BODY, frame.measure) + GAP_MM for seat in board.seats]
    room = frame.foot - frame.top - HEADING_MM - NOTE.leading_mm
    first_room = room - (frame.foot - frame.top) * DRAWING_SHARE - lead
    parts = dealt(heights, room, first_room=first_room)
    return [
        partial(_draw, packet, frame, board, [board.seats[k] for k in part], first=number == 0)
        for number, part in enumerate(parts)
    ]


def seat_words(packet: Packet, seat: Seat) -> str:
    """Say where a part block lies on the registration board."""
    board = packet.blocks.registration
    assert board is not None, "who has a seat has a board"
    right, up = board.place(seat.corner)
    corner = packet.settings.blocks.kagi_corner
    return (
        f"its {corner} corner {mm_words(right)} mm from the left edge of the registration board and "
        f"{mm_words(up)} mm from the lower edge"
    )


def _draw(
    packet: Packet,
    frame: Frame,
    board: RegistrationBoard,
    seats: Sequence[Seat],
    sheet: Sheet,
    *,
    first: bool,
) -> None:
    y = frame.heading(sheet, "Registration board", "as the printer sees it" if first else "continued")
    if first:
        y = _draw_board(packet, frame, board, sheet, y)
    for sentence in [*(_how(packet, board) if first else ()), *(_seat(packet, seat) for seat in seats)]:
        y = sheet.write(sentence, BODY, frame.left, y, frame.measure) + GAP_MM
    if first:
        files = "At true size: registration-board.pdf and registration-board.svg."
        sheet.write(files, NOTE, frame.left, y, frame.measure)


def _draw_board(packet: Packet, frame: Frame, board: RegistrationBoard, sheet: Sheet, top: float) -> float:
    """Draw the board to scale with its sizes; return where that ends."""
    x0, y0, x1, y1 = shapely.union(board.outline, packet.blocks.sheet).bounds
    width, height = frame.measure - SIZE_ROOM_MM, (frame.foot - frame.top) * DRAWING_SHARE - SIZE_ROOM_MM
    scale = min(width / (x1 - x0), height / (y1 - y0))
    start = frame.left + SIZE_ROOM_MM + (width - (x1 - x0) * scale) / 2
    placement = Placement(scale, start - x0 * scale, scale, top - y0 * scale)
    draw_registration(sheet, packet.blocks, placement)
    left, upper, right, lower = board.outline.bounds
    near, far = placement.point((left, upper)), placement.point((right, lower))
    foot = placement.point((x0, y1))[1]
    side = placement.point((x0, y0))[0]
    draw_dimension(sheet, (near[0], foot + 4.0), (far[0], foot + 4.0), f"{mm_words(right - left)} mm")
    draw_dimension(sheet, (side - 4.0, far[1]), (side - 4.0, near[1]), f"{mm_words(lower - upper)} mm")
    return foot + SIZE_ROOM_MM + 1.0


def _how(packet: Packet, board: RegistrationBoard) -> list[Rich]:
    thick = packet.blocks.boards[0].thickness_mm
    kagi, hikitsuke = (
        f"{mm_words(x1 - x0)} × {mm_words(y1 - y0)} mm"
        for x0, y0, x1, y1 in (board.kagi_pad.bounds, board.hikitsuke_pad.bounds)
    )
    as_thick = f", {mm_words(thick)} mm thick like the blocks" if thick else ", as thick as the blocks"
    made = "" if board.sawn else "You have it already: check it against this. "
    return [
        (
            strong("The marks "),
            f"are cut into two pads, {kagi} for the kagi, of which only the L stays, and {hikitsuke} for the "
            f"hikitsuke{as_thick}, glued to the board: so the sheet lies level on pads "
            f"and block. {made}Recesses {packet.blocks.kento.depth_mm:g} mm deep.",
        ),
        (
            strong("The stops "),
            "are strips at least 2 mm lower than the blocks, so that sheet and baren pass over them. Push a "
            "block into its corner, print, and take it off; one lies there at a time.",
        ),
        f"{counted(len(board.seats), 'part block')}, each with the corner that the stops hold:",
    ]


def _seat(packet: Packet, seat: Seat) -> Rich:
    x0, y0, x1, y1 = seat.block.bounds
    size = f"{mm_words(x1 - x0)} × {mm_words(y1 - y0)} mm"
    against = (
        f" It lies against the {' and the '.join(seat.against)} pad{'s' if len(seat.against) > 1 else ''}."
        if seat.against
        else ""
    )
    several = "s" if len(seat.in_the_way) > 1 else ""
    off = (
        f" Take off the stops of block{several} {' and '.join(seat.in_the_way)} for it."
        if seat.in_the_way
        else ""
    )
    return (strong(f"{seat.board}, {size}: "), f"{seat_words(packet, seat)}.{against}{off}")
