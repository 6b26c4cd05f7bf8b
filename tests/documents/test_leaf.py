"""The papers for leaf, measured and read again by other readers: pdfplumber, ElementTree, ezdxf."""

import re
from dataclasses import replace
from functools import cache
from pathlib import Path
from xml.etree import ElementTree

import ezdxf
import pdfplumber
import pytest
import shapely
from sample_print import HEIGHT_MM, WIDTH_MM, make_packet, make_print
from shapely.geometry import MultiPolygon, Point

from blockwright.documents import write_packet
from blockwright.documents.leaf_ground import write_ground_sheet
from blockwright.documents.leaf_outlines import write_leaf_dxf, write_leaf_svg
from blockwright.documents.packet import Packet
from blockwright.documents.packet_leaf import write_placement
from blockwright.geometry.square_cover import cover_with_squares
from blockwright.model.errors import FolderError
from blockwright.model.leaf import Laying, Metal

MM = 25.4 / 72
"""One PDF unit in mm (ISO 32000-1, 8.3.2.3)."""

IMAGE = shapely.box(0, 0, WIDTH_MM, HEIGHT_MM)
SHEET = shapely.box(-15, -15, WIDTH_MM + 15, HEIGHT_MM + 15)
GOLD = Metal("gold", 80.0, 25, False, "#d3a93c")


@cache
def laying(metal: Metal = GOLD) -> Laying:
    """A moon, right of the image's middle and above it."""
    ground = MultiPolygon([Point(300, 60).buffer(45)])
    cover = cover_with_squares(ground, side_mm=metal.side_mm, lap_mm=3.0)
    return Laying(
        impression=7,
        metal=metal,
        ground=ground,
        leaves=cover.squares,
        lap_mm=3.0,
        turn_deg=0.0,
        grid_mm=cover.grid_mm,
        fewest_known=cover.fewest_known,
        proven=cover.proven,
        sheets=60,
        leaves_needed=138,
        books=6,
        at=(300.0, 60.0),
    )


def test_the_ground_is_drawn_at_true_size_and_right_reading(tmp_path: Path) -> None:
    path = tmp_path / "ground.pdf"
    pages = write_ground_sheet(
        path,
        laying(),
        image=IMAGE,
        paper_sheet=SHEET,
        paper="A3",
        roll_mm=610,
        overlap_mm=10,
        title="Tide mill",
    )
    assert pages == 1
    with pdfplumber.open(path) as document:
        (page,) = document.pages
        (ground,) = [each for each in page.curves if each["fill"]]
        assert (ground["x1"] - ground["x0"]) * MM == pytest.approx(90.0, abs=0.01)
        assert (ground["bottom"] - ground["top"]) * MM == pytest.approx(90.0, abs=0.01)
        # It lies right of the page's middle, as on the print.
        assert (ground["x0"] + ground["x1"]) / 2 > page.width / 2
        words = page.extract_text()
    assert "THIS SIDE UP" in words
    assert "ground for gold leaf" in words
    assert "Sheets without ground are left out" in words


def test_the_outlines_are_right_reading_in_mm(tmp_path: Path) -> None:
    write_leaf_svg(tmp_path / "leaf.svg", laying(), image=IMAGE, paper_sheet=SHEET)
    write_leaf_dxf(tmp_path / "leaf.dxf", laying(), image=IMAGE, paper_sheet=SHEET)
    svg = ElementTree.parse(tmp_path / "leaf.svg").getroot()
    space = "{http://www.w3.org/2000/svg}"
    groups = {each.get("id"): each for each in svg.findall(f"{space}g")}
    numbers = [float(n) for n in re.findall(r"-?\d+\.?\d*", groups["ground"][0].get("d") or "")]
    assert min(numbers[::2]) == pytest.approx(255.0, abs=0.01)
    assert max(numbers[1::2]) == pytest.approx(105.0, abs=0.01)
    assert len(groups["leaves"]) == len(groups["numbers"]) == len(laying().leaves)
    assert [each.text for each in groups["numbers"]] == [str(k + 1) for k in range(len(laying().leaves))]
    drawing = ezdxf.readfile(tmp_path / "leaf.dxf")
    assert drawing.units == ezdxf.units.MM
    assert not drawing.audit().errors
    (ground,) = [each for each in drawing.modelspace() if each.dxf.layer == "GROUND"]
    points = ground.get_points("xy")
    assert min(x for x, _ in points) == pytest.approx(255.0, abs=0.01)
    # y points up in a DXF: 60 mm below the image's upper edge.
    assert (min(y for _, y in points) + max(y for _, y in points)) / 2 == pytest.approx(HEIGHT_MM - 60)
    leaves = [each for each in drawing.modelspace() if each.dxf.layer == "LEAVES"]
    assert len(leaves) == len(laying().leaves)


def test_the_same_leaf_gives_the_same_bytes(tmp_path: Path) -> None:
    for name in ("one", "two"):
        write_leaf_svg(tmp_path / f"{name}.svg", laying(), image=IMAGE, paper_sheet=SHEET)
        write_leaf_dxf(tmp_path / f"{name}.dxf", laying(), image=IMAGE, paper_sheet=SHEET)
        write_placement(
            tmp_path / f"{name}.pdf", laying(), image=IMAGE, title="Tide mill", size_mm=(210.0, 297.0)
        )
    for kind in ("svg", "dxf", "pdf"):
        assert (tmp_path / f"one.{kind}").read_bytes() == (tmp_path / f"two.{kind}").read_bytes()


def test_a_file_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    for write in (write_leaf_svg, write_leaf_dxf):
        with pytest.raises(FolderError, match="cannot be written"):
            write(tmp_path, laying(), image=IMAGE, paper_sheet=SHEET)


def finished(packet: Packet, metal: Metal) -> Packet:
    """The sample print with karazuri from the back and leaf after its inks."""
    separation = packet.separation
    last = separation.impressions[-1]
    pressed = replace(
        last, number=last.number + 1, name="karazuri from the back", kind="karazuri", ink=None, side="back"
    )
    leaf = replace(last, number=last.number + 2, name=f"{metal.name} leaf", kind="leaf", ink=None)
    laid = replace(laying(metal), impression=leaf.number)
    return replace(
        packet,
        separation=replace(separation, impressions=(*separation.impressions, pressed, leaf), layings=(laid,)),
        progressive=(*packet.progressive, packet.progressive[-1], packet.progressive[-1]),
    )


@pytest.mark.parametrize(
    ("metal", "coat"),
    [
        (GOLD, "22 karat and finer need not be"),
        (replace(GOLD, name="copper", must_coat=True), "It tarnishes"),
    ],
    ids=["gold", "copper"],
)
def test_the_packet_tells_how_leaf_is_laid(tmp_path: Path, metal: Metal, coat: str) -> None:
    path = tmp_path / "packet.pdf"
    write_packet(path, finished(make_packet(make_print()), metal))
    with pdfplumber.open(path) as document:
        texts = [" ".join((page.extract_text() or "").split()) for page in document.pages]
    whole = " ".join(texts)
    (page,) = [text for text in texts if text.startswith(f"{metal.name.capitalize()} leaf")]
    assert f"{len(laying().leaves)} leaves of 80 × 80 mm to a print" in page
    assert "138 leaves, 6 books of 25" in page
    assert "Last of all, when the colour is dry" in page
    assert coat in page
    assert "No fewer squares on a grid of" in page
    assert "No ink: press " in whole
    assert "ventilate" in next(text for text in texts if text.startswith("Cautions"))


def test_a_print_without_leaf_has_no_caution_of_it(tmp_path: Path) -> None:
    path = tmp_path / "packet.pdf"
    write_packet(path, make_packet(make_print()))
    with pdfplumber.open(path) as document:
        assert "tarnish" not in " ".join(page.extract_text() or "" for page in document.pages)
