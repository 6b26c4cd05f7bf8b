"""The packet's pages for the faces: one large drawing each, and what to do on it."""

from functools import partial

import shapely

from blockwright.documents.face_drawing import NO_INK_TINT
from blockwright.documents.face_plate import (
    DIMENSION_ROOM_MM,
    draw_face,
    draw_sizes,
    face_placement,
)
from blockwright.documents.handwork_map import summary
from blockwright.documents.ink_labels import InkSaid
from blockwright.documents.packet_content import (
    Packet,
    area_words,
    length_words,
    mm_words,
    time_words,
    times,
)
from blockwright.documents.packet_frame import BODY, NOTE, Frame, Page
from blockwright.documents.packet_movement import movement_words
from blockwright.documents.packet_soto_kento import seat_words
from blockwright.documents.sheet import Pen, Sheet
from blockwright.documents.type import Rich, broken, strong
from blockwright.model.blocks import BlockSet, Face
from blockwright.model.cut import FaceCut, Routing
from blockwright.model.separation import Impression

DRAWING_SHARE = 0.53
"""How much of the page's height the drawing may take."""

LEAST_SHARE = 0.5
"""How much of that it takes at least, however much there is to say."""

GAP_MM = 1.4
"""Room between two sentences."""


def face_pages(packet: Packet, frame: Frame) -> list[Page]:
    """Return one page for each face, in the order of the boards."""
    return [partial(_draw_face_page, packet, frame, face) for face in packet.blocks.faces]


def _draw_face_page(packet: Packet, frame: Frame, face: Face, sheet: Sheet) -> None:
    board = packet.board_of(face)
    wood = f"{board.wood}, {mm_words(board.thickness_mm)} mm, grain {board.grain}"
    if not board.stock:
        wood = "no board in stock is large enough"
    top = frame.heading(sheet, face.name, wood)
    cut = packet.cut_of(face)
    sentences = [*_sharing_words(packet, face), *_sentences(packet, face, cut)]
    said_mm = sum(len(broken(each, BODY, frame.measure)) * BODY.leading_mm + GAP_MM for each in sentences)
    said_mm += len(face.impressions) * (BODY.leading_mm + GAP_MM) + 2 * NOTE.leading_mm
    most = (frame.foot - frame.top) * DRAWING_SHARE
    height = max(most * LEAST_SHARE, min(most, frame.foot - top - said_mm))
    box = (
        frame.left + DIMENSION_ROOM_MM,
        top,
        frame.measure - DIMENSION_ROOM_MM,
        height - DIMENSION_ROOM_MM,
    )
    blocks = packet.blocks.as_on(face)
    placement, _ = face_placement(blocks, box, as_seen="carver")
    draw_face(
        sheet,
        blocks,
        face,
        placement,
        tint_hex=NO_INK_TINT,
        island=cut.island if cut else None,
        inks={
            each.number: InkSaid(each.name, each.srgb_hex, each.ink is None)
            for each in packet.separation.impressions
            if each.number in face.impressions
        },
        zero=cut is not None and cut.routing is not None,
        quarter_turn=cut is not None and cut.routing is not None and cut.routing.quarter_turn,
    )
    y = draw_sizes(sheet, blocks, placement) + 1.0
    y = _draw_carried(packet, frame, face, sheet, y)
    for sentence in [*sentences, *movement_words(packet, face)]:
        y = sheet.write(sentence, BODY, frame.left, y, frame.measure) + GAP_MM
    files = packet.files.get(face.name, ())
    if files:
        lines = broken("Files: " + ", ".join(files) + ".", NOTE, frame.measure)
        room = int((frame.foot - y) / NOTE.leading_mm)
        sheet.write_lines(lines[: max(0, room)], NOTE, frame.left, y, frame.measure)


def _draw_carried(packet: Packet, frame: Frame, face: Face, sheet: Sheet, y: float) -> float:
    """Say which impressions the face carries, each with its ink."""
    for number in face.impressions:
        impression = packet.impression(number)
        if impression is None:
            continue
        sheet.box(frame.left, y + 1.2, 9.0, 5.0, pen=Pen(0.1, "#8b8272"), fill=impression.srgb_hex)
        words: Rich = (
            f"Impression {number}, ",
            strong(impression.name),
            f", {_done(impression)}, {area_words(impression.area.area)}.",
        )
        y = sheet.write(words, BODY, frame.left + 12.0, y, frame.measure - 12.0) + GAP_MM
    return y


def _done(impression: Impression) -> str:
    if impression.ink is None:
        return f"pressed without ink from the {impression.side}"
    return f"printed {times(impression.passes)}"


def _sharing_words(packet: Packet, face: Face) -> list[Rich]:
    """How a face is inked that carries several impressions."""
    if len(face.impressions) < 2:
        return []
    carried = [packet.impression(number) for number in face.impressions]
    blind = [each for each in carried if each is not None and each.ink is None]
    words: list[Rich] = [
        (
            strong(f"One face for several {'impressions' if blind else 'inks'}. "),
            f"{face.why} Ink only what bears the impression's number, and wipe the face clean before the "
            "next.",
        )
    ]
    if blind:
        named = " and ".join(each.name for each in blind)
        words.append((strong(f"For {named} "), "ink nothing: press with the face washed and dry."))
    if face.turned:
        numbers = " and ".join(str(number) for number in face.turned)
        words.append(
            (
                strong(f"Turn the block for {numbers}: "),
                "lay it down with its upper edge towards you, and the sheet to the marks named turned.",
            )
        )
    return words


def _sentences(packet: Packet, face: Face, cut: FaceCut | None) -> list[Rich]:
    sentences: list[Rich] = [
        (strong("Drawn mirrored"), ", as you see it on the wood: the block's right is the print's left."),
    ]
    if not face.mirrored:
        sentences = [
            (
                strong("From the back: not mirrored"),
                ". The sheet lies on it face up, with the corner in the kagi that always goes there; "
                "the marks stand on the other side for that.",
            )
        ]
    if cut is not None:
        stencil = cut.method == "stencil"
        if cut.method == "router":
            said = _router_words(cut)
        else:
            said = _stencil_words(packet, cut) if stencil else _hand_words(packet, cut)
        # A part block has no marks that are left to the hand.
        sentences += said[:1] if stencil and face.part is not None else said
    if face.part is not None:
        return [*sentences, *_part_words(packet, face)]
    kagi, hikitsuke = mark_places(packet.blocks.as_on(face))
    sentences.append(
        (
            strong("Marks: "),
            f"kagi {kagi}; middle of the hikitsuke {hikitsuke}. "
            + ("The turned ones lie the same way from the opposite edges. All " if face.turned else "Both ")
            + f"{packet.blocks.kento.depth_mm:g} mm deep, one sheet's thickness.",
        )
    )
    return sentences


def _part_words(packet: Packet, face: Face) -> list[Rich]:
    """Where a part block lies, as it has no marks of its own."""
    board = packet.blocks.registration
    seat = board.seat(face.name) if board else None
    if seat is None:
        return []
    why = [face.why] if len(face.impressions) == 1 else []
    return [*why, (strong("No marks: "), f"it lies on the registration board, {seat_words(packet, seat)}.")]


def _hand_words(packet: Packet, cut: FaceCut) -> list[Rich]:
    rates = packet.settings.cutting
    clear: Rich = ("Clear ", strong(area_words(cut.clear_mm2)), ".")
    if not shapely.is_empty(cut.island):
        clear = (
            *clear[:-1],
            f"; {area_words(cut.island.area)} far from any edge may stay with rounded shoulders (hatched).",
        )
    return [
        clear,
        "Go no deeper than 1.6 mm beside a printing edge, deeper away from it (Phillips 1926).",
        (
            f"{length_words(cut.edge_mm)} of edge; about ",
            strong(time_words(cut.minutes)),
            f" at {rates.edge_mm_per_min:g} mm of edge and {rates.clear_mm2_per_min:g} mm² of waste a minute "
            "(your rates, in print.toml).",
        ),
    ]


def _stencil_words(packet: Packet, cut: FaceCut) -> list[Rich]:
    return [
        (
            "By ",
            strong("stencil"),
            f": cut along the lines, lift off the parts marked ×, {area_words(cut.clear_mm2)} in all. "
            f"The stencil reaches {packet.settings.cutting.oversize_mm:g} mm past the block on every side.",
        ),
        f"The marks are not blasted: cut them by hand afterwards, about {time_words(cut.minutes)}.",
    ]


def _router_words(cut: FaceCut) -> list[Rich]:
    routing = cut.routing
    if routing is None:
        return [("By ", strong("router"), f": {area_words(cut.clear_mm2)} to clear.")]
    after: Rich = "Nothing is left to the hand but a look at the marks and edges."
    if routing.hand_places:
        after = (
            "Left to the hand: ",
            strong(summary(routing)),
            "; the handwork map shows where, at true size.",
        )
    return [
        (
            "By ",
            strong("router"),
            f" in about {time_words(routing.router_min)}: {area_words(cut.clear_mm2)} to clear, walls "
            f"leaning outwards. {_zero_words(routing)}",
        ),
        after,
    ]


def _zero_words(routing: Routing) -> str:
    if routing.quarter_turn:
        return (
            "On the machine the block lies turned by a quarter to the left, its upper edge at the left: the "
            "program's zero is the upper left corner of this drawing, on the top face."
        )
    return "The program's zero is the block's lower left corner, on the top face."


def mark_places(blocks: BlockSet) -> tuple[str, str]:
    """Say where kagi and hikitsuke lie, measured from the block's nearest edges as the carver sees them."""
    return _place(blocks, blocks.kento.kagi), _place(blocks, blocks.kento.hikitsuke)


def _place(blocks: BlockSet, at: tuple[float, float]) -> str:
    x0, y0, x1, y1 = blocks.block.bounds
    across = (at[0] - x0, "left") if at[0] - x0 <= x1 - at[0] else (x1 - at[0], "right")
    down = (at[1] - y0, "upper") if at[1] - y0 <= y1 - at[1] else (y1 - at[1], "lower")
    return (
        f"{mm_words(across[0])} mm from the {across[1]} edge "
        f"and {mm_words(down[0])} mm from the {down[1]} edge"
    )
