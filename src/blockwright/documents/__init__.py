"""Writers that put the work on paper and into files for the bench; they format and never compute."""

from blockwright.documents.face_drawing import draw_face_png
from blockwright.documents.handwork_map import write_handwork_map
from blockwright.documents.height_png import read_heights, write_height_png
from blockwright.documents.ink_cards import write_ink_cards
from blockwright.documents.ink_labels import InkSaid
from blockwright.documents.job_sheet import JobSheet, write_job_sheet
from blockwright.documents.outlines_dxf import write_face_dxf
from blockwright.documents.outlines_svg import write_face_svg
from blockwright.documents.packet import Packet, write_packet
from blockwright.documents.packet_content import InkCards
from blockwright.documents.relief import paint_relief, write_relief
from blockwright.documents.surface_3mf import write_surface_3mf
from blockwright.documents.transfer_sheets import write_transfer_sheet

__all__ = [
    "InkCards",
    "InkSaid",
    "JobSheet",
    "Packet",
    "draw_face_png",
    "paint_relief",
    "read_heights",
    "write_face_dxf",
    "write_face_svg",
    "write_handwork_map",
    "write_height_png",
    "write_ink_cards",
    "write_job_sheet",
    "write_packet",
    "write_relief",
    "write_surface_3mf",
    "write_transfer_sheet",
]
