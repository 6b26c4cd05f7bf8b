"""What the packet, the drawings of faces and the outlines say of a routed face."""

from dataclasses import replace
from functools import cache
from pathlib import Path

import ezdxf
import numpy as np
import pdfplumber
import pytest
import shapely
from numpy.typing import NDArray
from PIL import Image
from routed_face import BITS, routed_face, routing
from sample_print import make_packet, make_print
from shapely.geometry import MultiPolygon, box

from blockwright.documents import Packet, draw_face_png, write_face_dxf, write_face_svg, write_packet
from blockwright.model.cut import Cut
from blockwright.model.findings import Finding

PLACE = MultiPolygon([box(200.0, 90.0, 203.0, 91.0)])
FOUND = Finding(
    "left-to-the-hand", "warn", "One place of A back is left to the hand.", None, (("face", "A back"),)
)
ELSEWHERE = Finding("left-to-the-hand", "warn", "Two of B back.", None, (("face", "B back"),))


@cache
def routed_packet() -> Packet:
    """The sample's packet with the second face routed."""
    sample = make_print()
    packet = make_packet(sample)
    faces = tuple(
        replace(each, method="router", routing=routing(PLACE)) if each.face == "A back" else each
        for each in sample.cut.faces
    )
    relief = np.full((282, 402, 3), 200, np.uint8)
    cut = Cut(faces, (FOUND, ELSEWHERE))
    return replace(packet, cut=cut, reliefs={"A back": relief}, bits=BITS)


def pages(path: Path, packet: Packet) -> list[str]:
    count = write_packet(path, packet)
    with pdfplumber.open(path) as pdf:
        texts = [" ".join(page.extract_text(x_tolerance=1.5).split()) for page in pdf.pages]
    assert len(texts) == count
    return texts


@pytest.fixture(scope="module", name="texts")
def _texts(tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    return pages(tmp_path_factory.mktemp("packet") / "packet.pdf", routed_packet())


def test_a_routed_face_has_a_page_of_its_own(texts: list[str]) -> None:
    (page,) = [text for text in texts if text.startswith("A back, routed")]
    assert "T2 1.5 mm flat clearing 18000 900 300 2210 6.2" in page
    assert "6 mm flat, 60 degree V 19 31 160 mm²" in page
    assert "14960 moves; without changing bits 1.24 times the least" in page
    assert "1 place, 3.0 mm², about 10 minutes" in page
    assert "Look: One place of A back is left to the hand." in page
    assert "Two of B back" not in page


def test_its_face_page_says_so(texts: list[str]) -> None:
    (page,) = [text for text in texts if text.startswith("A back linden")]
    assert "By router in about 25 minutes" in page
    assert "Left to the hand: 1 place, 3.0 mm²" in page


def test_the_router_is_among_the_cautions_where_there_is_one(texts: list[str], tmp_path: Path) -> None:
    (cautions,) = [text for text in texts if text.startswith("Cautions")]
    assert "let nobody into reach" in cautions
    by_hand = pages(tmp_path / "packet.pdf", make_packet(make_print()))
    assert not any("let nobody into reach" in text for text in by_hand)
    assert len(by_hand) == len(texts) - 1


def test_a_program_that_was_held_back_and_a_bit_that_is_not_needed_are_said_to_be(tmp_path: Path) -> None:
    held = replace(routing(PLACE), held_back=True, gouge_mm2=1.25, idle=("3 mm ball",))
    faces = tuple(
        replace(each, routing=held) if each.routing is not None else each
        for each in routed_packet().cut.faces
    )
    texts = pages(tmp_path / "packet.pdf", replace(routed_packet(), cut=Cut(faces)))
    (page,) = [text for text in texts if text.startswith("A back, routed")]
    assert "No program was written: it would cut 1.25 mm² of the wood that stays" in page
    assert "Not needed on this face: 3 mm ball." in page


def test_a_block_that_lies_turned_is_said_to_on_both_its_pages(tmp_path: Path) -> None:
    turned = replace(routing(PLACE), quarter_turn=True)
    faces = tuple(
        replace(each, routing=turned) if each.routing is not None else each
        for each in routed_packet().cut.faces
    )
    texts = pages(tmp_path / "packet.pdf", replace(routed_packet(), cut=Cut(faces)))
    (page,) = [text for text in texts if text.startswith("A back linden")]
    assert "the program’s zero is the upper left corner of this drawing, on the top face" in page
    (page,) = [text for text in texts if text.startswith("A back, routed")]
    assert "lies on the machine turned by a quarter to the left, its upper edge at the left" in page


def drawn(path: Path, *, zero: bool, quarter_turn: bool = False) -> NDArray[np.int64]:
    made = routed_face()
    draw_face_png(
        path, made.blocks, made.face, pixels=800, as_seen="carver", zero=zero, quarter_turn=quarter_turn
    )
    with Image.open(path) as picture:
        return np.asarray(picture.convert("RGB")).astype(np.int64)


def test_the_zero_is_drawn_on_the_face_where_it_is_asked_for(tmp_path: Path) -> None:
    """The accent's red about the lower left corner of the block, and nowhere else."""
    with_zero, without = drawn(tmp_path / "a.png", zero=True), drawn(tmp_path / "b.png", zero=False)
    changed = np.abs(with_zero - without).sum(axis=2) > 60
    rows, columns = np.nonzero(changed)
    dark = np.nonzero(without.sum(axis=2) < 150)
    left, foot = dark[1].min(), dark[0].max()
    assert abs(int(columns.min()) - left) < 20
    assert abs(int(rows.max()) - foot) < 20
    assert columns.max() < 0.2 * with_zero.shape[1]
    assert rows.min() > 0.7 * with_zero.shape[0]


def test_the_zero_of_a_turned_block_is_its_upper_left_corner(tmp_path: Path) -> None:
    with_zero = drawn(tmp_path / "a.png", zero=True, quarter_turn=True)
    without = drawn(tmp_path / "b.png", zero=False)
    rows, columns = np.nonzero(np.abs(with_zero - without).sum(axis=2) > 60)
    block = np.nonzero(without.sum(axis=2) < 150)
    assert abs(int(columns.min()) - block[1].min()) < 20
    # x runs down the wood and y to the right of it.
    assert columns.max() < 0.2 * with_zero.shape[1]
    assert rows.max() < 0.3 * with_zero.shape[0]
    red = (with_zero[:, :, 0] > 120) & (with_zero[:, :, 1] < 80) & (with_zero[:, :, 2] < 80)
    tips = np.nonzero(red)
    assert tips[0].max() - tips[0].min() == pytest.approx(tips[1].max() - tips[1].min(), rel=0.1)


def test_outlines_are_fit_for_the_shop(tmp_path: Path) -> None:
    """Millimetres, the program's own zero, closed outlines, layers in the trade's words."""
    made = routed_face()
    write_face_dxf(tmp_path / "face.dxf", made.blocks, made.face, made.cut)
    drawing = ezdxf.readfile(tmp_path / "face.dxf")
    assert drawing.units == ezdxf.units.MM
    lines = list(drawing.modelspace())
    assert {each.dxftype() for each in lines} == {"LWPOLYLINE"}
    assert all(each.closed for each in lines)
    assert {each.dxf.layer for each in lines} == {"BLOCK", "CLEAR", "ISLAND", "MARKS", "PRINTING", "SHEET"}
    (block,) = [each for each in lines if each.dxf.layer == "BLOCK"]
    bounds = shapely.MultiPoint([tuple(point[:2]) for point in block.get_points()]).bounds
    assert bounds == (0.0, 0.0, 106.0, 82.0)
    write_face_svg(tmp_path / "face.svg", made.blocks, made.face, made.cut)
    text = (tmp_path / "face.svg").read_text(encoding="utf-8")
    assert 'width="108mm"' in text
    assert text.count(" Z") == text.count('d="M') + text.count(" Z M") + text.count("Z\nM")
