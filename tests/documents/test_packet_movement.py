"""What the packet says of wood and paper that move."""

from dataclasses import replace
from functools import cache
from typing import Any

from sample_print import HEIGHT_MM, WIDTH_MM, make_packet, make_print

from blockwright.blocks.allowing import Place, predict_movement
from blockwright.documents import Packet
from blockwright.documents.packet_movement import moisture_check, movement_words
from blockwright.model.settings import BlocksTable


@cache
def packet() -> Packet:
    return make_packet(make_print())


def moving(**table: Any) -> Packet:
    """The sample's packet with what its boards do by these settings."""
    blocks = packet().blocks
    place = Place(WIDTH_MM, HEIGHT_MM, blocks.block, blocks.kento.kagi)
    moved = predict_movement(
        blocks.boards, packet().separation, BlocksTable.model_validate(table), place=place
    )
    return replace(packet(), blocks=replace(blocks, movement=moved))


def said(packet: Packet) -> str:
    (sentence,) = movement_words(packet, packet.blocks.faces[0])
    return "".join(part if isinstance(part, str) else part.text for part in sentence)


def test_nothing_is_said_where_nothing_moves() -> None:
    assert movement_words(packet(), packet().blocks.faces[0]) == []
    assert movement_words(moving(), packet().blocks.faces[0]) == []
    assert moisture_check(packet()) == []


def test_a_face_says_how_its_wood_moves_and_what_it_is_drawn_for() -> None:
    """Plywood, 4 points at 0.0003 (common practice): 0.43 mm of 360 and 0.29 mm of 240."""
    moist = {"carving_moisture_percent": 9.0, "printing_moisture_percent": 13.0}
    grown = "grows 0.43 mm across its width and grows 0.29 mm across its height by the time it is printed"
    assert grown in said(moving(**moist))
    assert "drawn as designed" in said(moving(**moist))
    drawn = said(moving(**moist, compensate=True))
    assert "it is drawn 0.07 mm wider and 0.29 mm shorter for wood and sheet, from the kagi" in drawn
    dry = {"carving_moisture_percent": 13.0, "printing_moisture_percent": 9.0}
    assert "shrinks 0.43 mm across its width" in said(moving(**dry))


def test_a_drawing_for_the_sheet_alone_says_that_the_wood_stays() -> None:
    told = said(moving(compensate=True))
    assert "the wood stays as it is; it is drawn 0.50 mm wider for wood and sheet" in told


def test_the_moisture_is_among_the_checks() -> None:
    (check,) = moisture_check(moving())
    assert "9.3 % moisture, as when they were carved" in check
    (check,) = moisture_check(moving(printing_moisture_percent=12.0, carving_moisture_percent=9.0))
    assert "12.0 % moisture, 9.0 % when they were carved" in check
