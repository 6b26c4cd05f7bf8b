"""The calibration sheet's PDF: millimetres, words and marks, seen by independent readers."""

from pathlib import Path

import cv2
import numpy as np
import pdfplumber
import pypdfium2
import pytest

from blockwright.documents.swatch_sheet import write_swatch_sheet
from blockwright.inks.sheet import lay_out_sheet, plan_sheet
from blockwright.model.errors import FolderError
from blockwright.model.swatches import MARK_DICTIONARY, SwatchPage

POINTS_PER_MM = 72.0 / 25.4
"""ISO 32000-1: one unit is 1/72 inch."""


def sheet(tmp_path: Path, inks: list[str], **how: bool | int) -> tuple[Path, tuple[SwatchPage, ...]]:
    mixes = [[(inks[0], 0.3), (inks[1], 0.7)]] if len(inks) > 1 else []
    pages = lay_out_sheet(plan_sheet(inks, mixes, size_mm=(210.0, 297.0), **how))  # type: ignore[arg-type]
    path = tmp_path / "sheet.pdf"
    assert write_swatch_sheet(path, pages) == len(pages)
    return path, pages


def test_boxes_and_bar_are_true_to_the_millimetre(tmp_path: Path) -> None:
    path, (page,) = sheet(tmp_path, ["rose", "Prussian blue"])
    with pdfplumber.open(path) as document:
        drawn = document.pages[0]
        assert float(drawn.width) == pytest.approx(210.0 * POINTS_PER_MM, abs=0.01)
        assert float(drawn.height) == pytest.approx(297.0 * POINTS_PER_MM, abs=0.01)
        boxes = np.array([(r["x0"], r["top"], r["width"], r["height"]) for r in drawn.rects], dtype=float)
        for patch in page.patches:
            assert np.abs(boxes / POINTS_PER_MM - patch.box).max(axis=1).min() < 0.01, patch.code
        lengths = [float(line["width"]) / POINTS_PER_MM for line in drawn.lines]
        assert any(length == pytest.approx(100.0, abs=0.01) for length in lengths), "the check bar"


def test_it_says_what_to_do(tmp_path: Path) -> None:
    path, (page,) = sheet(tmp_path, ["rose", "Prussian blue"])
    with pdfplumber.open(path) as document:
        words = " ".join((document.pages[0].extract_text() or "").split())
    for said in (
        "Calibration sheet",
        f"sheet {page.number}, page 1 of 1",
        "Print the framed ground solid black",
        "over bare paper",
        "over black",
        "3 passes",
        "must measure 100 mm",
        "2w3",
        "w1 bare",
    ):
        assert said in words, said


def test_every_mark_is_seen_with_its_id_where_it_stands(tmp_path: Path) -> None:
    """OpenCV's detector on pypdfium2's picture of the page."""
    path, (page,) = sheet(tmp_path, ["rose", "blue"], black_drawn=True)
    document = pypdfium2.PdfDocument(path)
    try:
        pixels = document[0].render(scale=5.0 * 25.4 / 72.0, grayscale=True).to_numpy()
    finally:
        document.close()
    dictionary = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, MARK_DICTIONARY))
    corners, ids, _ = cv2.aruco.ArucoDetector(dictionary).detectMarkers(
        np.ascontiguousarray(pixels.squeeze())
    )
    seen = {int(i): c.reshape(4, 2) / 5.0 for i, c in zip(ids.ravel(), corners, strict=True)}
    assert set(seen) == {mark.marker for mark in page.marks}
    for mark in page.marks:
        x, y, side, _ = mark.box
        wanted = [(x, y), (x + side, y), (x + side, y + side), (x, y + side)]
        np.testing.assert_allclose(seen[mark.marker], wanted, atol=0.3)


@pytest.mark.parametrize("how", [{"black_drawn": True}, {"over_black": False}, {"passes": 1}])
def test_every_kind_is_drawn_the_same_every_time(tmp_path: Path, how: dict[str, bool | int]) -> None:
    path, pages = sheet(
        tmp_path,
        ["a name that is far too long for the room it has here", *(f"ink {k}" for k in range(9))],
        **how,
    )
    first = path.read_bytes()
    write_swatch_sheet(path, pages)
    assert path.read_bytes() == first
    with pdfplumber.open(path) as document:
        text = document.pages[0].extract_text() or ""
        assert len(document.pages) == len(pages)
        for drawn, page in zip(document.pages, pages, strict=True):
            inside = [w for w in drawn.extract_words() if w["x1"] > (210.0 - 20.0) * POINTS_PER_MM]
            assert not inside, f"page {page.page}: words run into the frame"
    assert ("solid black" in text) is (how == {"passes": 1})
    assert ("over black" in text) is how.get("over_black", True)


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    pages = lay_out_sheet(plan_sheet(["rose"], size_mm=(210.0, 297.0)))
    with pytest.raises(FolderError, match=r"sheet\.pdf cannot be written"):
        write_swatch_sheet(tmp_path / "nowhere" / "sheet.pdf", pages)
