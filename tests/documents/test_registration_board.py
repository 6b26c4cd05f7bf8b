"""The registration board's drawings, measured by other readers."""

import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pdfplumber
import pikepdf
import pytest
from outlined_faces import F_SHAPE, WIDTH_MM, impression
from shapely.geometry import MultiPolygon, box

from blockwright.blocks import lay_out_blocks
from blockwright.cutting import plan_cuts
from blockwright.documents import draw_face_png, write_face_dxf, write_face_svg, write_transfer_sheet
from blockwright.documents.registration_board import (
    board_of,
    registration_svg,
    write_registration_pdf,
    write_registration_svg,
)
from blockwright.model.blocks import BlockSet
from blockwright.model.separation import Separation
from blockwright.model.settings import BlocksTable, CuttingTable

MM = 25.4 / 72
"""One PDF unit in mm (ISO 32000-1, 8.3.2.3)."""

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def blocks() -> BlockSet:
    """A full face, and the F of 40 x 80 mm on a part block, at (20, 20) of the print of 180 x 120 mm."""
    key = MultiPolygon([box(0, 0, 180, 120)])
    separation = Separation(
        impressions=(impression(1, key), impression(2, MultiPolygon([F_SHAPE]))),
        paper_shapes=(),
        edges_mm=(),
        median_delta_e00=0.0,
        max_delta_e00=0.0,
    )
    return lay_out_blocks(
        separation, width_mm=WIDTH_MM, height_mm=120.0, settings=BlocksTable(part_blocks=True)
    )


def corners(path: str) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in re.findall(r"(-?[\d.]+),(-?[\d.]+)", path)]


def test_the_svg_measures_from_the_boards_lower_left_corner(blocks: BlockSet, tmp_path: Path) -> None:
    """By hand: mirrored the F spans x 120 to 160 and y 20 to 100, its block 110 to 170 and 10 to 110.

    The board's lower left corner is (-19, 143) of the face: 15 mm of margin and 8 of rim below the image. So
    the block's lower left corner lies 129 mm to the right of it and 33 mm above.
    """
    path = tmp_path / "board.svg"
    write_registration_svg(path, blocks)
    root = ET.parse(path).getroot()
    assert root.get("width", "").endswith("mm")
    part = root.find(f".//{SVG}g[@id='part-block-B']/{SVG}path")
    assert part is not None
    points = corners(part.get("d", ""))
    assert min(points) == (129.0, -133.0)
    assert max(points) == (189.0, -33.0)
    board = board_of(blocks)
    assert board.place((110.0, 110.0)) == (129.0, 33.0)
    outline = root.find(f".//{SVG}g[@id='board']/{SVG}path")
    assert outline is not None
    assert (min(corners(outline.get("d", "")))[0], max(corners(outline.get("d", "")))[1]) == (0.0, 0.0)
    assert 'width="' in registration_svg(blocks, millimetres=False)
    assert 'mm"' not in registration_svg(blocks, millimetres=False).split("\n")[1]


def test_the_pdf_is_at_true_size(blocks: BlockSet, tmp_path: Path) -> None:
    path = tmp_path / "board.pdf"
    pages = write_registration_pdf(path, blocks, paper="A3", roll_mm=610, overlap_mm=10, title="Mill")
    assert pages == 1
    with pikepdf.open(path) as document:
        assert document.Root.ViewerPreferences.PrintScaling == "/None"
    with pdfplumber.open(path) as document:
        (page,) = document.pages
        sizes = {
            (round((each["x1"] - each["x0"]) * MM, 2), round((each["bottom"] - each["top"]) * MM, 2)): each
            for each in [*page.rects, *page.curves]
        }
        words = page.extract_text()
    board, part = sizes[(222.0, 162.0)], sizes[(60.0, 100.0)]
    assert (part["x0"] - board["x0"]) * MM == pytest.approx(129.0, abs=0.01)
    assert (board["bottom"] - part["bottom"]) * MM == pytest.approx(33.0, abs=0.01)
    assert "registration board · part block B" in words
    again = tmp_path / "again.pdf"
    write_registration_pdf(again, blocks, paper="A3", roll_mm=610, overlap_mm=10, title="Mill")
    assert again.read_bytes() == path.read_bytes()


def test_a_part_block_is_drawn_from_its_own_corner(blocks: BlockSet, tmp_path: Path) -> None:
    """By hand: the F's upper left corner on the print, (20, 20), lies at (160, 20) of the face."""
    import ezdxf

    (face,) = blocks.part_faces
    cut = plan_cuts(blocks, CuttingTable()).faces[-1]
    write_face_svg(tmp_path / "b.svg", blocks, face, cut)
    root = ET.parse(tmp_path / "b.svg").getroot()
    assert root.get("viewBox") == "-1 -1 62 102"
    assert root.find(f".//{SVG}g[@id='marks']") is None
    path = root.find(f".//{SVG}g[@id='printing']/{SVG}path")
    assert path is not None
    numbers = [float(each) for each in re.findall(r"-?[\d.]+", path.get("d", ""))]
    # From the block's upper left corner: 160 - 110 right, 20 - 10 down.
    assert (50.0, 10.0) in zip(numbers[::2], numbers[1::2], strict=True)
    write_face_dxf(tmp_path / "b.dxf", blocks, face, cut)
    drawing = ezdxf.readfile(tmp_path / "b.dxf")
    (edge,) = drawing.modelspace().query("LWPOLYLINE[layer=='BLOCK']")
    points = [tuple(point[:2]) for point in edge.get_points()]
    assert (min(points), max(points)) == ((0.0, 0.0), (60.0, 100.0))


def test_pictures_and_transfer_sheets_of_a_part_block_show_it_alone(blocks: BlockSet, tmp_path: Path) -> None:
    from PIL import Image

    (face,) = blocks.part_faces
    draw_face_png(tmp_path / "b.png", blocks, face, pixels=800, as_seen="carver")
    with Image.open(tmp_path / "b.png") as picture:
        assert picture.height > picture.width
    cut = plan_cuts(blocks, CuttingTable()).faces[-1]
    for kind in ("face up", "face down"):
        pages = write_transfer_sheet(
            tmp_path / "b.pdf",
            blocks,
            face,
            cut,
            kind=kind,
            paper="A4",
            roll_mm=610,
            overlap_mm=10,
            title="Mill",
            impression_names={2: "seal"},
        )
        assert pages == 1
        with pdfplumber.open(tmp_path / "b.pdf") as document:
            text = document.pages[0].extract_text()
        # On the rim, where it stays when the strip is cut off, and in the strip.
        assert "B part · top" in text
        assert "mm deep" not in text


def test_without_part_blocks_there_is_no_board(blocks: BlockSet) -> None:
    from dataclasses import replace

    with pytest.raises(ValueError, match="no registration board"):
        registration_svg(replace(blocks, registration=None))
