"""The handwork map measured in the PDF by a reader of others."""

from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pdfplumber
import pytest
import shapely
from routed_face import RoutedFace, routed_face
from sample_print import make_print
from shapely.geometry import MultiPolygon, box

from blockwright.documents.handwork_map import LARGE_MM2, places_of, summary, write_handwork_map
from blockwright.documents.paper import PaperName
from blockwright.model.cut import FaceCut, Narrow, Routing
from blockwright.model.errors import FolderError, SettingsError

MM = 25.4 / 72
"""One PDF unit in mm (ISO 32000-1, 8.3.2.3)."""

RED = (0x9C / 255, 0x2F / 255, 0x24 / 255)


def told() -> Routing:
    routing = routed_face().cut.routing
    assert routing is not None
    return routing


def written(
    path: Path, made: RoutedFace | None = None, *, paper: PaperName = "A4", overlap_mm: float = 10.0
) -> int:
    it = made or routed_face()
    return write_handwork_map(
        path,
        it.blocks,
        it.face,
        it.cut,
        paper=paper,
        roll_mm=610.0,
        overlap_mm=overlap_mm,
        title="Tide mill",
    )


def filled(page: Any, colour: tuple[float, float, float]) -> list[tuple[float, float, float, float]]:
    """Left, top, right and lower edge in mm of what is filled with a colour."""
    return [
        (each["x0"] * MM, each["top"] * MM, each["x1"] * MM, each["bottom"] * MM)
        for each in [*page.rects, *page.curves]
        if each["fill"] and each["non_stroking_color"] == pytest.approx(colour, abs=0.002)
    ]


def outlined(page: Any, width_mm: float) -> list[tuple[float, float, float, float]]:
    """The same of what is drawn with a pen."""
    return [
        (each["x0"] * MM, each["top"] * MM, each["x1"] * MM, each["bottom"] * MM)
        for each in [*page.rects, *page.curves]
        if each["stroke"] and each["linewidth"] * MM == pytest.approx(width_mm, abs=0.001)
    ]


@pytest.fixture(scope="module", name="path")
def _path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("handwork") / "A front.pdf"
    assert written(path) == 2
    return path


def test_places_lie_where_they_are_on_the_face_at_true_size(path: Path) -> None:
    """Left to the hand are 44.2 to 46.8 mm across and 9.4 to 10.2 mm down; the block begins at -19, -19."""
    with pdfplumber.open(path) as pdf:
        page = pdf.pages[0]
        (block,) = [each for each in outlined(page, 0.25) if each[2] - each[0] > 100.0]
        places = [each for each in filled(page, RED) if each[1] < 200.0]
    assert block[2] - block[0] == pytest.approx(106.0, abs=0.01)
    assert block[3] - block[1] == pytest.approx(82.0, abs=0.01)
    large = [each for each in places if each[2] - each[0] == pytest.approx(2.6, abs=0.01)]
    assert len(large) == 1
    assert large[0][0] - block[0] == pytest.approx(44.2 + 19.0, abs=0.01)
    assert large[0][1] - block[1] == pytest.approx(9.4 + 19.0, abs=0.01)
    assert large[0][3] - large[0][1] == pytest.approx(0.8, abs=0.01)
    assert len(places) == 3


def test_the_check_bar_measures_100_mm(path: Path) -> None:
    with pdfplumber.open(path) as pdf:
        page = pdf.pages[0]
        longest = max(
            (each["x1"] - each["x0"]) * MM
            for each in page.lines
            if each["linewidth"] * MM < 0.16 and each["top"] * MM > 280
        )
        words = " ".join(page.extract_text().split())
    assert longest == pytest.approx(100.0, abs=0.01)
    assert "must measure 100 mm" in words
    assert "3 places, 3.4 mm², about 10 minutes" in words


def test_narrow_places_have_their_width(path: Path) -> None:
    with pdfplumber.open(path) as pdf:
        rings = [each for each in outlined(pdf.pages[0], 0.18) if each[1] < 200.0]
        words = pdf.pages[0].extract_text()
        (block,) = [each for each in outlined(pdf.pages[0], 0.25) if each[2] - each[0] > 100.0]
    middles = sorted(((x0 + x1) / 2 - block[0], (y0 + y1) / 2 - block[1]) for x0, y0, x1, y1 in rings)
    assert middles[0] == pytest.approx((23.0 + 19.0, 37.3 + 19.0), abs=0.01)
    assert middles[1] == pytest.approx((35.0 + 19.0, 35.5 + 19.0), abs=0.01)
    assert words.count("0.30") == 2


def test_the_list_gives_places_from_the_programs_zero(path: Path) -> None:
    """The large place's middle: 45.5 + 19 to the right, 63 - 9.8 up."""
    with pdfplumber.open(path) as pdf:
        words = " ".join(pdf.pages[1].extract_text().split())
    assert "A front: what is left to the hand" in words
    assert "1 2.1 mm² 64 right, 53 up" in words or "1 2.1 mm² 65 right, 53 up" in words
    assert "The 2 smallest have no number." in words
    assert "narrow 0.30 mm wide 42 right, 26 up" in words


def test_the_largest_are_numbered_first() -> None:
    hand = MultiPolygon([box(0, 0, 1, 1), box(5, 0, 9, 2), box(10, 0, 12, 2)])
    places = places_of(replace(told(), hand=hand))
    assert [(each.number, each.area.area) for each in places] == [(1, 8.0), (2, 4.0), (None, 1.0)]
    assert all(each.number is None for each in places if each.area.area < LARGE_MM2)


def test_nothing_left_is_said() -> None:
    assert summary(replace(told(), hand=MultiPolygon(), hand_places=0, hand_min=0.0)) == "nothing left"


@cache
def large_face() -> RoutedFace:
    """A face that takes several sheets, with many places."""
    sample = make_print()
    face, cut = sample.blocks.faces[5], sample.cut.faces[5]
    hand = MultiPolygon([box(x, y, x + 2, y + 1.5) for x in range(20, 340, 16) for y in range(20, 220, 20)])
    narrow = tuple(Narrow((float(x), 100.0), 0.4) for x in range(20, 340, 10))
    routing = replace(told(), hand=hand, hand_places=len(hand.geoms), narrow=narrow)
    routed: FaceCut = replace(cut, method="router", routing=routing)
    return replace(routed_face(), blocks=sample.blocks, face=face, cut=routed)


def test_a_large_face_is_tiled_like_the_transfer_sheets(tmp_path: Path) -> None:
    pages = written(tmp_path / "large.pdf", large_face())
    with pdfplumber.open(tmp_path / "large.pdf") as pdf:
        texts = [page.extract_text() for page in pdf.pages]
        crosses = [
            sum(each["x1"] - each["x0"] == pytest.approx(6.0 / MM, abs=0.01) for each in page.lines)
            for page in pdf.pages[:4]
        ]
    tiles = [text for text in texts if "column" in text]
    assert len(tiles) == 4
    assert all(count >= 4 for count in crosses)
    assert pages == len(texts) == 4 + sum("what is left to the hand" in text for text in texts)
    listed = " ".join(texts[4:])
    assert listed.count(" up") == 99 + len(range(20, 340, 10)), "99 numbered places and every narrow one"
    assert "continued" in listed or pages == 5


@pytest.mark.parametrize("paper", ["A3", "Letter", "roll"])
def test_other_papers(tmp_path: Path, paper: PaperName) -> None:
    assert written(tmp_path / "map.pdf", large_face(), paper=paper) >= 2


def test_wrong_use_is_refused(tmp_path: Path) -> None:
    by_hand = replace(routed_face(), cut=replace(routed_face().cut, routing=None))
    with pytest.raises(ValueError, match="A front is not routed"):
        written(tmp_path / "map.pdf", by_hand)
    with pytest.raises(SettingsError, match="overlap_mm"):
        written(tmp_path / "map.pdf", large_face(), overlap_mm=200.0)
    with pytest.raises(FolderError, match=r"map\.pdf cannot be written"):
        written(tmp_path / "nowhere" / "map.pdf")


def test_the_same_face_gives_the_same_bytes(tmp_path: Path, path: Path) -> None:
    written(tmp_path / "again.pdf")
    assert (tmp_path / "again.pdf").read_bytes() == path.read_bytes()
    assert shapely.is_valid(told().hand)


def test_of_very_many_narrow_places_the_narrowest_are_listed(tmp_path: Path) -> None:
    narrow = tuple(Narrow((10.0 + 0.05 * k, 30.0), 0.5 - 0.001 * k) for k in range(300))
    cut = replace(routed_face().cut, routing=replace(told(), narrow=narrow))
    written(tmp_path / "map.pdf", replace(routed_face(), cut=cut))
    with pdfplumber.open(tmp_path / "map.pdf") as pdf:
        listed = " ".join(page.extract_text() for page in pdf.pages[1:])
    assert listed.count("mm wide") == 200
    assert "The 200 narrowest are listed." in " ".join(listed.split())
    assert "0.20 mm wide" in listed
    assert "0.50 mm wide" not in listed


def test_a_part_block_has_no_marks_and_its_rim_says_which_it_is(tmp_path: Path) -> None:
    part = replace(routed_face(), face=replace(routed_face().face, part=routed_face().blocks.block))
    written(tmp_path / "map.pdf", part)
    with pdfplumber.open(tmp_path / "map.pdf") as pdf:
        words = pdf.pages[0].extract_text()
    assert "A front · top · handwork" in words
    assert "kagi" not in words


def test_where_nothing_is_left_the_map_says_so(tmp_path: Path) -> None:
    routing = replace(told(), hand=MultiPolygon(), hand_places=0, hand_min=0.0, narrow=())
    assert (
        written(tmp_path / "map.pdf", replace(routed_face(), cut=replace(routed_face().cut, routing=routing)))
        == 2
    )
    with pdfplumber.open(tmp_path / "map.pdf") as pdf:
        assert "handwork after the router · nothing left" in pdf.pages[0].extract_text()
        assert "nothing left." in pdf.pages[1].extract_text()
        assert not [each for each in filled(pdf.pages[0], RED) if each[1] < 200.0]
