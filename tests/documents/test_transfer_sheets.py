import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pdfplumber
import pikepdf
import pypdfium2
import pytest
import shapely
from numpy.typing import NDArray
from sample_print import HEIGHT_MM, WIDTH_MM, SamplePrint, face_cut, make_print, multi
from shapely.geometry import MultiPolygon, Polygon

from blockwright.documents import write_transfer_sheet
from blockwright.documents.paper import SHEETS_MM, PaperName
from blockwright.documents.transfer_sheets import SheetKind
from blockwright.model.blocks import Face
from blockwright.model.cut import Method
from blockwright.model.errors import FolderError

MM = 25.4 / 72
"""One PDF unit in mm (ISO 32000-1, 8.3.2.3)."""

PIXELS_PER_MM = 10.0
BLOCK = (-19.0, -19.0, WIDTH_MM + 23, HEIGHT_MM + 23)
WORDS = "must measure 100 mm: print at 100 %, no fitting to the page"


@cache
def sample() -> SamplePrint:
    return make_print()


def written(
    path: Path,
    printing: MultiPolygon,
    *,
    kind: SheetKind = "face up",
    paper: PaperName = "A4",
    method: Method = "hand",
    title: str = "Tide mill at low water",
    overlap_mm: float = 10.0,
) -> int:
    """Write the sheets of a face with the given printing area, in face coordinates."""
    face = replace(sample().blocks.faces[0], printing=printing)
    cut = face_cut(face, sample().blocks.block, method, reach_mm=1000.0)
    return write_transfer_sheet(
        path,
        sample().blocks,
        face,
        cut,
        kind=kind,
        paper=paper,
        roll_mm=610.0,
        overlap_mm=overlap_mm,
        title=title,
        impression_names={1: "evening blush"},
    )


def squares() -> list[tuple[float, float, float]]:
    """Squares over the whole block, each of its own size, so that a reader can tell which is which."""
    places = [(x, y) for y in np.arange(-16, 256, 15.0) for x in np.arange(-16, 374, 30.0)]
    return [(x, y, 4.0 + 0.01 * number) for number, (x, y) in enumerate(places)]


def boxes(page: Any) -> Iterator[tuple[float, float, float, float]]:
    """Left, top, right, lower edge in mm of everything that is drawn on a page."""
    for thing in [*page.rects, *page.curves, *page.lines]:
        yield thing["x0"] * MM, thing["top"] * MM, thing["x1"] * MM, thing["bottom"] * MM


def found_squares(page: Any) -> dict[int, tuple[float, float]]:
    """Which squares are wholly on a page, and where their upper left corners lie, mm."""
    found = {}
    for x0, y0, x1, y1 in boxes(page):
        number = round((x1 - x0 - 4.0) / 0.01)
        if abs(x1 - x0 - (y1 - y0)) < 0.002 and 0 <= number < len(squares()):
            found[number] = (x0, y0)
    return found


def rendered(path: Path, page: int = 0) -> NDArray[np.uint8]:
    document = pypdfium2.PdfDocument(path)
    pixels = document[page].render(scale=PIXELS_PER_MM * MM).to_numpy()
    document.close()
    return np.asarray(pixels[..., :3])


@pytest.mark.parametrize("paper", ["A4", "A3", "Letter"])
def test_pages_have_the_papers_size_and_viewers_are_told_not_to_scale(
    tmp_path: Path, paper: PaperName
) -> None:
    path = tmp_path / "a.pdf"
    pages = written(path, sample().blocks.faces[5].printing, paper=paper)
    with pikepdf.open(path) as document:
        assert len(document.pages) == pages
        assert document.Root.ViewerPreferences.PrintScaling == "/None"
        for page in document.pages:
            size = [float(each) * MM for each in page.MediaBox[2:]]
            assert sorted(size) == pytest.approx(sorted(SHEETS_MM[paper]), abs=0.01)
            assert "/UserUnit" not in page


@pytest.mark.parametrize("paper", ["A4", "Letter", "roll"])
def test_the_check_bar_measures_100_mm_on_every_page(tmp_path: Path, paper: PaperName) -> None:
    path = tmp_path / "a.pdf"
    written(path, sample().blocks.faces[5].printing, paper=paper, kind="face down")
    with pdfplumber.open(path) as document:
        for page in document.pages:
            foot = float(page.height) * MM - 40.0
            level = [b for b in boxes(page) if abs(b[3] - b[1]) < 0.001 and b[1] > foot]
            bars = [b for b in level if abs(b[2] - b[0] - 100.0) < 0.02]
            assert len(bars) == 1
            ((left, y, _, _),) = bars
            ticks = sorted(
                b[0] for b in boxes(page) if b[2] - b[0] < 0.001 and abs(b[3] - y) < 0.01 and b[1] < y - 1
            )
            assert ticks == pytest.approx([left + 10.0 * step for step in range(11)], abs=0.02)


@pytest.mark.parametrize("kind", ["face up", "face down"])
@pytest.mark.parametrize("paper", ["A4", "roll"])
def test_every_square_of_the_block_is_at_its_place_in_mm(
    tmp_path: Path, kind: SheetKind, paper: PaperName
) -> None:
    path = tmp_path / "a.pdf"
    written(
        path,
        multi(shapely.box(*np.transpose([(x, y, x + s, y + s) for x, y, s in squares()]))),
        kind=kind,
        paper=paper,
    )
    seen: Counter[int] = Counter()
    with pdfplumber.open(path) as document:
        for page in document.pages:
            places = found_squares(page)
            offsets = []
            for number, (x, y) in places.items():
                face_x, face_y, size = squares()[number]
                across = face_x if kind == "face up" else WIDTH_MM - face_x - size
                offsets.append((x - across, y - face_y))
            assert np.ptp(offsets, axis=0) == pytest.approx((0.0, 0.0), abs=0.005)
            seen.update(places.keys())
    assert set(seen) == set(range(len(squares())))
    if paper != "roll":
        assert max(seen.values()) > 1


def test_neighbouring_sheets_share_the_overlap(tmp_path: Path) -> None:
    path = tmp_path / "a.pdf"
    written(path, sample().blocks.faces[0].printing, overlap_mm=14.0)
    with pdfplumber.open(path) as document:
        assert len(document.pages) == 4
        for page in document.pages:
            foot = float(page.height) * MM - 42.0
            upright = [b for b in boxes(page) if b[2] - b[0] < 0.001 and abs(b[3] - b[1] - 6.0) < 0.01]
            xs = sorted({round(b[0], 2) for b in upright if b[3] < foot})
            ys = sorted({round((b[1] + b[3]) / 2, 2) for b in upright if b[3] < foot})
            # The crosses stand at the corners of the two overlaps that meet on each of the four sheets.
            assert any(abs(b - a - 14.0) < 0.02 for a in xs for b in xs)
            assert any(abs(b - a - 14.0) < 0.02 for a in ys for b in ys)


def notched() -> MultiPolygon:
    """An asymmetric shape: a bar with a flag on the right-hand side of the face's image."""
    return MultiPolygon([Polygon([(60, 60), (110, 60), (110, 75), (70, 75), (70, 100), (60, 100)])])


@pytest.mark.parametrize(("kind", "flag_on_right"), [("face up", True), ("face down", False)])
def test_face_up_is_the_face_and_face_down_is_right_reading(
    tmp_path: Path, kind: SheetKind, flag_on_right: bool
) -> None:
    path = tmp_path / "a.pdf"
    written(path, notched(), kind=kind, paper="roll")
    with pdfplumber.open(path) as document:
        page = document.pages[0]
        shape = next(b for b in boxes(page) if abs(b[2] - b[0] - 50) < 0.01 and abs(b[3] - b[1] - 40) < 0.01)
        block = next(
            b
            for b in boxes(page)
            if abs(b[2] - b[0] - (BLOCK[2] - BLOCK[0])) < 0.01
            and abs(b[3] - b[1] - (BLOCK[3] - BLOCK[1])) < 0.01
        )
    from_left = 60 - BLOCK[0] if kind == "face up" else BLOCK[2] - 110
    assert shape[0] - block[0] == pytest.approx(from_left, abs=0.01)
    assert shape[1] - block[1] == pytest.approx(60 - BLOCK[1], abs=0.01)
    pixels = rendered(path)
    under = int((shape[1] + 25) * PIXELS_PER_MM)
    left, right = (int((shape[0] + at) * PIXELS_PER_MM) for at in (5.0, 45.0))
    white, grey = (left, right) if flag_on_right else (right, left)
    assert tuple(pixels[under, white]) == (255, 255, 255)
    assert 200 < int(pixels[under, grey].mean()) < 240


def test_every_page_says_what_it_is(tmp_path: Path) -> None:
    path = tmp_path / "a.pdf"
    pages = written(path, sample().blocks.faces[0].printing, kind="face down")
    with pdfplumber.open(path) as document:
        texts = [" ".join((page.extract_text() or "").split()) for page in document.pages]
    assert len(texts) == pages == 4
    for number, text in enumerate(texts):
        assert "Tide mill at low water" in text
        assert "A front · impression 1, evening blush" in text
        assert "THIS SIDE TO THE WOOD" in text
        assert "Right-reading. Paste the drawn side down" in text
        assert all(word in text for word in WORDS.split())
        assert f"row {number // 2 + 1} of 2, column {number % 2 + 1} of 2" in text
        assert "top" in text
    assert "kagi: 0.15 mm deep" in texts[2]
    assert "THIS SIDE UP" not in "".join(texts)


def test_viewers_are_told_where_each_page_belongs(tmp_path: Path) -> None:
    """Page labels, ISO 32000-1, 12.4.2, read by another library than wrote them."""
    path = tmp_path / "face.pdf"
    assert written(path, sample().blocks.faces[0].printing, kind="face down") == 4
    with pypdfium2.PdfDocument(path) as document:
        labels = [document.get_page_label(k) for k in range(4)]
        said = [document[k].get_textpage().get_text_bounded() for k in range(4)]
    assert labels == ["row 1, column 1", "row 1, column 2", "row 2, column 1", "row 2, column 2"]
    for label, text in zip(labels, said, strict=True):
        row, column = re.findall(r"\d", label)
        assert f"row {row} of 2, column {column} of 2" in text


def test_face_up_says_how_to_paste_it(tmp_path: Path) -> None:
    path = tmp_path / "a.pdf"
    written(path, sample().blocks.faces[0].printing, kind="face up")
    with pdfplumber.open(path) as document:
        text = document.pages[0].extract_text()
    assert "THIS SIDE UP" in text
    assert "Mirrored, as you see it on the wood" in text


def test_a_stencil_has_lines_crosses_and_its_border_and_no_shading(tmp_path: Path) -> None:
    path = tmp_path / "a.pdf"
    written(path, notched(), method="stencil", paper="roll")
    with pdfplumber.open(path) as document:
        page = document.pages[0]
        text = page.extract_text()
        outer = next(
            b
            for b in boxes(page)
            if abs(b[2] - b[0] - (BLOCK[2] - BLOCK[0] + 50)) < 0.01 and b[3] - b[1] > 100
        )
        slanted = [b for b in boxes(page) if abs(b[2] - b[0] - 2.8) < 0.01 and abs(b[3] - b[1] - 2.8) < 0.01]
    assert outer[3] - outer[1] == pytest.approx(BLOCK[3] - BLOCK[1] + 50, abs=0.01)
    # Two strokes for the one part to lift off, and two for the sample in the legend.
    assert len(slanted) == 4
    assert "Cut line" in text
    assert "lift off the parts marked ×" in text
    drawing = rendered(path)[: int(outer[3] * PIXELS_PER_MM)]
    assert float((drawing.min(axis=2) > 250).mean()) > 0.98


def test_the_same_face_gives_the_same_bytes(tmp_path: Path) -> None:
    for name in ("a.pdf", "b.pdf"):
        written(tmp_path / name, sample().blocks.faces[5].printing)
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()


@pytest.mark.parametrize("title", ["", "潮の水車", "<b>&amp;</b> 50 % (off)\\", "long " * 40, "x" * 200])
def test_odd_titles_keep_within_the_strip(tmp_path: Path, title: str) -> None:
    path = tmp_path / "a.pdf"
    written(path, sample().blocks.faces[0].printing, title=title)
    with pdfplumber.open(path) as document:
        page = document.pages[0]
        assert max(char["x1"] for char in page.chars) < float(page.width) - 7.9 / MM
        first = title.strip()[:6] or "Untitled"
        assert first in page.extract_text()


def test_a_face_with_nothing_to_print_and_one_with_many_impressions(tmp_path: Path) -> None:
    assert written(tmp_path / "a.pdf", MultiPolygon()) == 4
    face = Face("A front", "front", (1, 2, 3), MultiPolygon())
    cut = face_cut(face, sample().blocks.block, "hand")
    write_transfer_sheet(
        tmp_path / "b.pdf",
        sample().blocks,
        face,
        cut,
        kind="face up",
        paper="A3",
        roll_mm=610,
        overlap_mm=0,
        title="T",
        impression_names={1: "blush", 3: "ochre"},
    )
    with pdfplumber.open(tmp_path / "b.pdf") as document:
        assert "impressions 1, blush; 2; 3, ochre" in document.pages[0].extract_text()


def test_intricate_areas_stay_small_in_the_file(tmp_path: Path) -> None:
    angles = np.linspace(0, 2 * np.pi, 4000, endpoint=False)
    wave = 5.0 + 0.4 * np.sin(40 * angles)
    ring = np.column_stack((wave * np.cos(angles), wave * np.sin(angles)))
    blobs = MultiPolygon([Polygon(np.add(ring, (x, 60.0))) for x in range(10, 350, 14)])
    face = replace(sample().blocks.faces[0], printing=blobs)
    waste = multi(shapely.difference(sample().blocks.block, blobs))
    cut = replace(sample().cut.faces[0], printing=blobs, clear=waste, island=MultiPolygon())
    path = tmp_path / "a.pdf"
    write_transfer_sheet(
        path,
        sample().blocks,
        face,
        cut,
        kind="face up",
        paper="A4",
        roll_mm=610,
        overlap_mm=10,
        title="Rings",
        impression_names={},
    )
    # 100 000 vertices, drawn once as outlines and once as waste: about 9 bytes for each when compressed.
    assert path.stat().st_size < 2_500_000


def test_a_folder_that_is_not_there_is_said_in_words(tmp_path: Path) -> None:
    with pytest.raises(FolderError, match=r"a\.pdf cannot be written"):
        written(tmp_path / "nowhere" / "a.pdf", notched())
