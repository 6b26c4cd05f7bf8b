import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blockwright.documents.paper import PRINTER_MARGIN_MM, SHEETS_MM, PaperName
from blockwright.documents.tiling import STRIP_GAP_MM, STRIP_MM, plan_tiles
from blockwright.model.errors import SettingsError

PAPERS: tuple[PaperName, ...] = ("A4", "A3", "Letter", "roll")


def test_paper_sizes_are_those_of_the_standards() -> None:
    # ISO 216: A4 210 x 297, A3 297 x 420. ASME Y14.1 size A: 8.5 x 11 inches = 215.9 x 279.4 mm.
    assert SHEETS_MM["A4"] == (210.0, 297.0)
    assert SHEETS_MM["A3"] == (297.0, 420.0)
    assert SHEETS_MM["Letter"] == pytest.approx((215.9, 279.4))


@settings(deadline=None)
@given(
    width=st.floats(20, 3000),
    height=st.floats(20, 3000),
    overlap=st.floats(0, 50),
    paper=st.sampled_from(PAPERS),
    roll=st.floats(200, 2000),
)
def test_tiles_cover_the_drawing_share_the_overlap_and_fit_the_page(
    width: float, height: float, overlap: float, paper: PaperName, roll: float
) -> None:
    plan = plan_tiles(width, height, paper=paper, roll_mm=roll, overlap_mm=overlap)
    assert len(plan.tiles) == plan.rows * plan.columns
    for tile in plan.tiles:
        assert plan.left_mm >= PRINTER_MARGIN_MM - 1e-6
        assert plan.left_mm + tile.x1 - tile.x0 <= plan.page_width_mm - PRINTER_MARGIN_MM + 1e-6
        foot = plan.page_height_mm - PRINTER_MARGIN_MM - STRIP_MM - STRIP_GAP_MM
        assert plan.top_mm + tile.y1 - tile.y0 <= foot + 1e-6
        if tile.column > 1:
            left = next(t for t in plan.tiles if (t.row, t.column) == (tile.row, tile.column - 1))
            assert left.x1 - tile.x0 == pytest.approx(overlap, abs=1e-6)
        if tile.row > 1:
            above = next(t for t in plan.tiles if (t.row, t.column) == (tile.row - 1, tile.column))
            assert above.y1 - tile.y0 == pytest.approx(overlap, abs=1e-6)
    assert (plan.tiles[0].x0, plan.tiles[0].y0) == (0.0, 0.0)
    assert (plan.tiles[-1].x1, plan.tiles[-1].y1) == pytest.approx((width, height))


@pytest.mark.parametrize(("width", "height"), [(398.0, 278.0), (150.0, 240.0), (600.0, 450.0)])
def test_no_other_way_of_laying_the_sheets_needs_fewer(width: float, height: float) -> None:
    plan = plan_tiles(width, height, paper="A4", roll_mm=610, overlap_mm=10)
    counts = []
    for page_x, page_y in ((210.0, 297.0), (297.0, 210.0)):
        room_x, room_y = page_x - 16.0, page_y - 16.0 - STRIP_MM - STRIP_GAP_MM
        columns = next(n for n in range(1, 99) if n * room_x - (n - 1) * 10 >= width)
        rows = next(n for n in range(1, 99) if n * room_y - (n - 1) * 10 >= height)
        counts.append(columns * rows)
    assert len(plan.tiles) == min(counts)


def test_a_roll_takes_a_block_in_one_piece() -> None:
    plan = plan_tiles(600, 450, paper="roll", roll_mm=610, overlap_mm=10)
    assert len(plan.tiles) == 1
    assert 610 in (plan.page_width_mm, plan.page_height_mm)


def test_an_overlap_wider_than_half_the_sheet_is_refused_in_words() -> None:
    with pytest.raises(SettingsError, match=r"overlap_mm = 90 is too much for this paper; at most"):
        plan_tiles(398, 278, paper="A4", roll_mm=610, overlap_mm=90)
