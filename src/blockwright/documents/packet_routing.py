"""The packet's page for each routed face: its relief, the bits, what other sets would cost, what is left."""

from functools import partial

from blockwright.documents.face_plate import DIMENSION_ROOM_MM
from blockwright.documents.handwork_map import summary
from blockwright.documents.packet_content import Packet, counted, time_words
from blockwright.documents.packet_frame import BODY, CAPTION, NAME, NOTE, Frame, Page, fit_picture
from blockwright.documents.routing_tables import draw_bits, draw_choices
from blockwright.documents.sheet import Pen, Sheet
from blockwright.documents.type import ACCENT, INK, SECONDARY, Rich, Span, broken, strong
from blockwright.model.blocks import Face
from blockwright.model.cut import Routing

_PICTURE_SHARE = 0.4
"""How much of the page's height the relief may take."""

_GAP_MM = 1.2

_SAID = {"stop": "Stops the work: ", "warn": "Look: ", "note": "To know: "}
_HUE = {"stop": ACCENT, "warn": ACCENT, "note": SECONDARY}


def routing_pages(packet: Packet, frame: Frame) -> list[Page]:
    """Return one page for each routed face, in the order of the boards; none where nothing is routed."""
    return [
        partial(_draw_page, packet, frame, face, cut.routing)
        for face in packet.blocks.faces
        if (cut := packet.cut_of(face)) is not None and cut.routing is not None
    ]


def _draw_page(packet: Packet, frame: Frame, face: Face, routing: Routing, sheet: Sheet) -> None:
    y = frame.heading(sheet, f"{face.name}, routed", routing.machine)
    y = _draw_relief(packet, frame, face, sheet, y)
    y = sheet.write("The bits", NAME, frame.left, y, frame.measure) + 0.8
    bits = {bit.name: bit for bit in packet.bits}
    y = draw_bits(sheet, routing.work, bits, idle=routing.idle, x=frame.left, y=y, width=frame.measure) + 2.0
    for sentence in _sentences(routing):
        y = sheet.write(sentence, BODY, frame.left, y, frame.measure) + _GAP_MM
    if len(routing.choices) > 1:
        y = sheet.write("Other sets of bits", NAME, frame.left, y + 1.0, frame.measure) + 0.8
        y = draw_choices(sheet, routing, x=frame.left, y=y, width=frame.measure) + 1.0
        words = "The set in use is strong. Hand minutes rest on your carving rates in print.toml."
        y = sheet.write(words, NOTE, frame.left, y, frame.measure) + 2.0
    for sentence in _findings(packet, face):
        lines = broken(sentence, NOTE, frame.measure)
        if y + len(lines) * NOTE.leading_mm > frame.foot:
            break
        y = sheet.write_lines(lines, NOTE, frame.left, y, frame.measure) + _GAP_MM


def _draw_relief(packet: Packet, frame: Frame, face: Face, sheet: Sheet, y: float) -> float:
    """Draw the picture of the cut face, as wide as the page allows."""
    picture = packet.reliefs.get(face.name)
    if picture is None:
        return y
    room = (frame.foot - frame.top) * _PICTURE_SHARE
    aspect = picture.shape[1] / picture.shape[0]
    width, height = fit_picture(aspect, frame.measure - DIMENSION_ROOM_MM, room)
    left = frame.left + (frame.measure - width) / 2
    sheet.picture(picture, left, y, width, height)
    sheet.box(left, y, width, height, pen=Pen(0.15, INK))
    caption = (
        "As simulated from the programs, light from the upper left. Pale prints, red is left to the hand."
    )
    return sheet.write(caption, CAPTION, left, y + height + 0.6, width) + 2.0


def _sentences(routing: Routing) -> list[Rich]:
    words: list[Rich] = [
        (
            strong(time_words(routing.router_min)),
            f" on the router, {counted(routing.moves, 'move')}; "
            f"{_ratio(routing)}. Deepest {routing.deepest_mm:.1f} mm.",
        ),
        (
            "Left to the hand: ",
            strong(summary(routing)),
            f". {counted(len(routing.narrow), 'place')} of what prints "
            f"{'is' if len(routing.narrow) == 1 else 'are'} narrower than routed wood stands."
            if routing.narrow
            else ".",
        ),
        f"Depth reached on {routing.deep_percent:.1f} % of what the bits reach; marks within "
        f"{routing.marks_within_mm:.2f} mm.",
    ]
    if routing.held_back:
        words.insert(
            0,
            (
                Span("No program was written: ", face="semibold", colour=ACCENT),
                f"it would cut {routing.gouge_mm2:.2f} mm² of the wood that stays."
                if routing.gouge_mm2 > 0.0
                else "what was found stops it.",
            ),
        )
    if routing.quarter_turn:
        words.append(
            "The block lies on the machine turned by a quarter to the left, its upper edge at the left."
        )
    return words


def _ratio(routing: Routing) -> str:
    """How much longer it takes than it must.

    The least is clearing every spot with the largest bit that reaches it, at full feed.
    """
    if routing.lower_bound_min <= 0.0:
        return "no least time is known"
    return (
        f"without changing bits {routing.times_the_least:.2f} times the least that clearing every spot with "
        "the largest bit that reaches it, marks and rim take"
    )


def _findings(packet: Packet, face: Face) -> list[Rich]:
    """What was found on this face, the gravest first."""
    return [
        (Span(_SAID[each.severity], face="semibold", colour=_HUE[each.severity]), each.message)
        for each in packet.findings
        if dict(each.about).get("face") == face.name
    ]
