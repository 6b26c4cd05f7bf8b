"""Writers that put the work on paper and into files for the bench; they format and never compute."""

from blockwright.documents.face_drawing import draw_face_png
from blockwright.documents.ink_cards import write_ink_cards
from blockwright.documents.ink_labels import InkSaid
from blockwright.documents.outlines_dxf import write_face_dxf
from blockwright.documents.outlines_svg import write_face_svg
from blockwright.documents.packet import Packet, write_packet
from blockwright.documents.packet_content import InkCards
from blockwright.documents.transfer_sheets import write_transfer_sheet

__all__ = [
    "InkCards",
    "InkSaid",
    "Packet",
    "draw_face_png",
    "write_face_dxf",
    "write_face_svg",
    "write_ink_cards",
    "write_packet",
    "write_transfer_sheet",
]
