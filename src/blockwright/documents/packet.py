"""The packet for the bench: one PDF with everything that the carver and the printer need before them."""

from pathlib import Path

from blockwright.documents.ink_cards import card_pages
from blockwright.documents.packet_cautions import caution_pages, setting_pages
from blockwright.documents.packet_content import Packet
from blockwright.documents.packet_cover import cover_pages
from blockwright.documents.packet_curve import curve_pages
from blockwright.documents.packet_faces import face_pages
from blockwright.documents.packet_frame import Frame, Page
from blockwright.documents.packet_gradations import gradation_pages
from blockwright.documents.packet_leaf import leaf_pages
from blockwright.documents.packet_order import order_pages
from blockwright.documents.packet_registration import registration_pages
from blockwright.documents.packet_routing import routing_pages
from blockwright.documents.packet_sawing import sawing_pages
from blockwright.documents.packet_soto_kento import registration_board_pages
from blockwright.documents.paper import SHEETS_MM
from blockwright.documents.sheet import Sheet

__all__ = ["Packet", "write_packet"]


def write_packet(path: Path, packet: Packet) -> int:
    """Write the packet and return the number of its pages.

    It is A4, or Letter when the transfer sheets are set to Letter: cover, what to look at, printing order,
    what each number of blocks costs and what lies over what (where overprints were searched), an inking guide
    for each gradation, how the boards are sawn, a page for each face, a second one where it is routed, a page
    for each metal of leaf, a card for each ink, the registration board of part blocks, registration,
    cautions, settings. Raises FolderError when the file cannot be written.
    """
    width, height = SHEETS_MM["Letter" if packet.settings.cutting.paper == "Letter" else "A4"]
    frame = Frame(width, height)
    pages: list[Page] = [
        *cover_pages(packet, frame),
        *order_pages(packet, frame),
        *curve_pages(packet, frame),
        *gradation_pages(packet, frame),
        *sawing_pages(packet, frame),
        *face_pages(packet, frame),
        *routing_pages(packet, frame),
        *leaf_pages(packet, frame),
        *card_pages(packet.ink_cards, frame),
        *registration_board_pages(packet, frame),
        *registration_pages(packet, frame),
        *caution_pages(packet, frame),
        *setting_pages(packet, frame),
    ]
    sheet = Sheet(path, width_mm=width, height_mm=height, title=f"{packet.title}: packet for the bench")
    for number, page in enumerate(pages, start=1):
        page(sheet)
        frame.footer(sheet, packet.title, number, len(pages))
        sheet.end_page()
    return sheet.finish()
