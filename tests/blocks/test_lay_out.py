"""From a separation to boards and faces: pairing, mirroring, marks and findings."""

import re
from dataclasses import replace
from typing import get_args

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiPolygon, Point, Polygon, box

from blockwright.blocks import lay_out_blocks
from blockwright.model.blocks import BlockSet
from blockwright.model.findings import Finding
from blockwright.model.separation import Impression, Ink, Separation
from blockwright.model.settings import BlocksTable, Stock
from blockwright.model.units import Area

CLEAR_INK = Ink(name="ink", k=(0.1, 0.2, 0.3), s=(0.01, 0.01, 0.01))
LOWER_LEFT_L = Polygon([(10, 150), (20, 150), (20, 220), (60, 220), (60, 230), (10, 230)])
"""An L at the print's lower left corner, where Fletcher's kagi is."""


def separate(*areas: Area) -> Separation:
    return Separation(
        impressions=tuple(
            Impression(
                number=number,
                name=f"colour {number}",
                kind="colour",
                ink=CLEAR_INK,
                passes=1,
                shapes=(),
                area=area,
                trap_mm=0.5,
                srgb_hex="#808080",
                lab=(50.0, 0.0, 0.0),
            )
            for number, area in enumerate(areas, start=1)
        ),
        paper_shapes=(),
        edges_mm=(),
        median_delta_e00=0.0,
        max_delta_e00=0.0,
    )


def lay_out(*areas: Area, width_mm: float = 360.0, height_mm: float = 240.0, **table: object) -> BlockSet:
    return lay_out_blocks(
        separate(*areas),
        width_mm=width_mm,
        height_mm=height_mm,
        settings=BlocksTable.model_validate(table),
    )


def square(x: float, y: float, side: float = 20.0) -> Area:
    return MultiPolygon([box(x, y, x + side, y + side)])


def found(blocks: BlockSet, code: str) -> list[Finding]:
    return [finding for finding in blocks.findings if finding.code == code]


def test_five_impressions_on_three_boards() -> None:
    blocks = lay_out(*(square(20.0 * i, 30) for i in range(1, 6)), share_faces=False)
    assert [board.name for board in blocks.boards] == ["A", "B", "C"]
    assert [face.name for face in blocks.faces] == ["A front", "A back", "B front", "B back", "C front"]
    assert [face.impressions for face in blocks.faces] == [(1,), (2,), (3,), (4,), (5,)]
    assert [face.side for face in blocks.boards[0].faces] == ["front", "back"]


def test_one_face_a_board() -> None:
    blocks = lay_out(square(20, 30), square(60, 30), both_faces=False, share_faces=False)
    assert [face.name for face in blocks.faces] == ["A front", "B front"]
    assert len(blocks.boards) == 2


def test_mirrored_exactly_once() -> None:
    blocks = lay_out(MultiPolygon([LOWER_LEFT_L]))
    expected = Polygon([(350, 150), (340, 150), (340, 220), (300, 220), (300, 230), (350, 230)])
    assert shapely.equals(blocks.faces[0].printing, expected)


def test_the_kagi_is_beside_the_lower_left_of_the_print() -> None:
    """Fletcher 1916: the block's lower right, which is the print's lower left."""
    blocks = lay_out(MultiPolygon([LOWER_LEFT_L]))
    printing = blocks.faces[0].printing
    kagi = Point(blocks.kento.kagi)
    sheet_corners = [Point(xy) for xy in blocks.sheet.exterior.coords[:-1]]
    assert min(sheet_corners, key=printing.distance).equals(kagi)
    assert kagi.x == 375.0


def test_the_board_is_as_large_as_the_block() -> None:
    (board,) = lay_out(square(20, 30)).boards
    assert (board.width_mm, board.height_mm, board.thickness_mm) == (402.0, 282.0, 12.0)
    assert (board.stock, board.wood, board.grain) == ("middle linden plywood", "linden plywood", "along")


def test_no_board_big_enough_is_laid_out_all_the_same() -> None:
    blocks = lay_out(square(20, 30), width_mm=2000.0, height_mm=1500.0)
    assert [finding.severity for finding in found(blocks, "no-board-big-enough")] == ["stop"]
    (board,) = blocks.boards
    assert (board.stock, board.width_mm, board.height_mm) == ("", 2042.0, 1542.0)
    assert blocks.faces[0].printing.area == pytest.approx(400.0)


def test_without_any_stock_named() -> None:
    (board,) = lay_out(square(20, 30), stock=()).boards
    assert (board.stock, board.wood, board.thickness_mm) == ("", "", 0.0)


def test_boards_are_counted_not_faces() -> None:
    stock = (Stock(name="p", wood="cherry", width_mm=500, height_mm=400, thickness_mm=20, count=2),)
    four, five = [square(20.0 * i, 30) for i in range(4)], [square(20.0 * i, 30) for i in range(5)]
    assert not found(lay_out(*four, stock=stock, share_faces=False), "boards-short")
    (finding,) = found(lay_out(*five, stock=stock, share_faces=False), "boards-short")
    assert (finding.severity, "1 short" in finding.message) == ("stop", True)


def test_a_separation_without_impressions() -> None:
    blocks = lay_out()
    assert blocks.boards == ()
    assert (blocks.faces_lower_bound, blocks.proven_fewest) == (0, True)


def test_the_bound_says_how_many_faces_sharing_could_spare() -> None:
    """Four squares in a row, 40 mm of wood between neighbours: by the 30 mm rule one face would do."""
    blocks = lay_out(*(square(x, 100) for x in (0, 60, 120, 180)), share_faces=False)
    assert (len(blocks.faces), blocks.faces_lower_bound, blocks.proven_fewest) == (4, 1, False)
    (finding,) = found(blocks, "faces-could-share")
    assert finding.severity == "note"
    assert "at most 3" in finding.message
    blocks = lay_out(*(square(x, 100) for x in (0, 49, 98)), share_faces=False)
    assert blocks.faces_lower_bound == 2
    blocks = lay_out(square(0, 0), square(5, 5), share_faces=False)
    assert (blocks.faces_lower_bound, blocks.proven_fewest) == (2, True)
    assert not found(blocks, "faces-could-share")


def test_the_usual_margins_raise_no_finding() -> None:
    assert lay_out(square(20, 30)).findings == ()


@pytest.mark.parametrize(
    ("corner", "table", "word"),
    [
        ("lower right", {"margin_left_mm": 9.0}, "left"),
        ("lower right", {"margin_bottom_mm": 21.0}, "bottom"),
        ("lower right", {"margin_right_mm": 30.0}, None),
        ("upper left", {"margin_right_mm": 30.0}, "right"),
        ("upper left", {"margin_top_mm": 5.0}, "top"),
        ("upper left", {"margin_left_mm": 9.0}, None),
    ],
)
def test_margins_at_the_marks(corner: str, table: dict[str, float], word: str | None) -> None:
    """10 to 20 mm: Edo woodblock craft specification. The words are the print's sides, not the block's."""
    notes = found(lay_out(square(150, 100), kagi_corner=corner, **table), "margin-at-marks")
    assert [note.severity for note in notes] == (["note"] if word else [])
    if word:
        assert f"The {word} margin" in notes[0].message
        assert notes[0].about == ((f"margin_{word}_mm", 15.0),)


def test_marks_in_the_image_stop_with_a_place_on_the_print() -> None:
    """A margin of 5 mm: the recess of 8 mm reaches 3 mm into what the print's lower left corner prints."""
    blocks = lay_out(square(0, 220), margin_left_mm=5.0, margin_bottom_mm=5.0)
    (finding,) = found(blocks, "marks-in-image")
    assert finding.severity == "stop"
    assert "kagi" in finding.message
    assert finding.at is not None
    assert square(0, 220).contains(Point(finding.at))


def test_marks_that_only_touch_the_image_stop_too() -> None:
    assert found(lay_out(square(0, 220), margin_left_mm=8.0, margin_bottom_mm=8.0), "marks-in-image")
    assert not found(lay_out(square(0, 220), margin_left_mm=8.1, margin_bottom_mm=8.1), "marks-in-image")


def test_both_marks_and_the_faces_are_counted() -> None:
    whole = MultiPolygon([box(0, 0, 360, 240)])
    marks = found(lay_out(whole, whole, whole, margin_bottom_mm=3.0, share_faces=False), "marks-in-image")
    assert [finding.message.split()[1] for finding in marks] == ["kagi", "hikitsuke"]
    assert "face A front and 2 more" in marks[0].message


def test_a_mark_off_the_wood_stops() -> None:
    """The sheet overhangs the block by far at the print's right, and two thirds of it lie beyond the wood."""
    blocks = lay_out(square(20, 30), margin_right_mm=500.0)
    (finding,) = found(blocks, "marks-off-wood")
    assert (finding.severity, "hikitsuke" in finding.message) == ("stop", True)
    assert finding.at == pytest.approx((360 - blocks.kento.hikitsuke[0], blocks.kento.hikitsuke[1]))


def test_a_wall_without_wood_behind_it_stops() -> None:
    blocks = lay_out(square(20, 30), rim_mm=0.0, block_over_mm=0.0)
    assert len(found(blocks, "marks-off-wood")) == 2


@pytest.mark.parametrize(
    "table",
    [
        {"arm_mm": 60.0, "hikitsuke_at": 0.3},
        {"arm_mm": 60.0, "hikitsuke_at": 0.95},
    ],
)
def test_marks_too_long_for_the_sheet_stop(table: dict[str, float]) -> None:
    """On a side of 230 mm, 0.3 is 69 mm: less than the 90 that two arms of 60 need; 0.95 leaves 11.5 mm."""
    blocks = lay_out(square(20, 30), width_mm=200.0, height_mm=100.0, **table)
    assert [finding.severity for finding in found(blocks, "marks-do-not-fit")] == ["stop"]


def test_printing_outside_the_block_stops_with_a_place() -> None:
    blocks = lay_out(MultiPolygon([box(300, 100, 420, 120)]))
    (finding,) = found(blocks, "printing-off-block")
    assert finding.severity == "stop"
    assert finding.at is not None
    assert finding.at[0] > 360 + 19


TABLES = st.fixed_dictionaries(
    {
        "kagi_corner": st.sampled_from(get_args(BlocksTable.model_fields["kagi_corner"].annotation)),
        "hikitsuke_side": st.sampled_from(["long", "short"]),
        "hikitsuke_at": st.floats(0.3, 0.95),
        "margin_left_mm": st.floats(0, 60),
        "margin_right_mm": st.floats(0, 60),
        "margin_top_mm": st.floats(0, 60),
        "margin_bottom_mm": st.floats(0, 60),
        "arm_mm": st.floats(5, 60),
        "rim_mm": st.floats(0, 40),
        "block_over_mm": st.floats(0, 80),
    }
)
"""Settings of the blocks over most of what is allowed."""


@settings(max_examples=60, deadline=None)
@given(st.floats(20, 800), st.floats(20, 800), TABLES)
def test_marks_lie_on_wood_or_the_work_is_stopped(
    width_mm: float, height_mm: float, table: dict[str, object]
) -> None:
    """Judged by shapely: without a finding, every recess and 2.9 mm round it lie on the block."""
    image = MultiPolygon([box(0, 0, width_mm, height_mm)])
    blocks = lay_out_blocks(
        separate(image, image),
        width_mm=width_mm,
        height_mm=height_mm,
        settings=BlocksTable.model_validate(table),
    )
    kento = blocks.kento
    stops = {finding.code for finding in blocks.findings if finding.severity == "stop"}
    if "marks-off-wood" not in stops:
        marks = shapely.union(kento.kagi_recess, kento.hikitsuke_recess)
        assert shapely.covers(blocks.block, marks.buffer(2.9))
    if "marks-in-image" not in stops:
        for face in blocks.faces:
            assert kento.kagi_recess.disjoint(face.printing)
            assert kento.hikitsuke_recess.disjoint(face.printing)
    if "marks-do-not-fit" not in stops:
        grown = blocks.sheet.buffer(1e-5, join_style="mitre")
        assert shapely.covers(grown, kento.kagi_recess)
        assert shapely.intersection(kento.kagi_recess, kento.hikitsuke_recess).area < 1e-3
        assert shapely.linestrings(kento.hikitsuke_wall).within(grown)


def _would_do(finding: Finding) -> dict[str, float]:
    """The settings that a finding's sentence names, with the values that would do, as programs are told."""
    told = {
        key: float(value) for key, value in re.findall(r"an? (\w+_(?:mm|at)) of ([\d.]+)", finding.message)
    }
    assert told == {key: float(value) for key, value in finding.about}
    return told


@settings(max_examples=60, deadline=None)
@given(st.floats(20, 800), st.floats(20, 800), TABLES)
def test_what_a_stop_says_would_do_does(width_mm: float, height_mm: float, table: dict[str, object]) -> None:
    """Each value by itself where one is enough; the margins of one mark together, until no edge moves."""
    image = MultiPolygon([box(0, 0, width_mm, height_mm)])

    def again(changed: dict[str, float]) -> BlockSet:
        return lay_out(image, width_mm=width_mm, height_mm=height_mm, **{**table, **changed})

    blocks = again({})
    for code in ("marks-off-wood", "marks-do-not-fit"):
        for finding in found(blocks, code):
            about = finding.message.split(" do")[0]
            for key, value in _would_do(finding).items():
                left = [each.message for each in found(again({key: value}), code)]
                assert not any(each.startswith(about) for each in left)
    changed: dict[str, float] = {}
    for _ in range(6):
        stops = found(again(changed), "marks-in-image")
        if not stops:
            break
        asked = _would_do(stops[0])
        assert asked
        assert all(value > changed.get(key, float(str(table[key]))) for key, value in asked.items())
        changed |= asked
    assert not found(again(changed), "marks-in-image")


def test_the_block_that_would_hold_all_that_prints() -> None:
    areas = MultiPolygon([box(300, 100, 420, 120)])
    (finding,) = found(lay_out(areas), "printing-off-block")
    assert _would_do(finding) == {"block_over_mm": 120.0}
    assert not found(lay_out(areas, block_over_mm=120.0), "printing-off-block")


def test_the_same_separation_gives_the_same_blocks() -> None:
    areas = [square(20.0 * i, 30) for i in range(5)]
    first, second = lay_out(*areas), lay_out(*areas)
    assert first == second
    assert [shapely.to_wkb(face.printing) for face in first.faces] == [
        shapely.to_wkb(face.printing) for face in second.faces
    ]


def test_a_face_that_presses_the_back_is_not_mirrored_and_seats_the_same_corner() -> None:
    """The sheet lies face up on it: what is right of the block's middle prints right of the print's."""
    usual = lay_out(square(30, 40))
    front, back = separate(square(30, 40), square(200, 60)).impressions
    separation = replace(
        separate(),
        impressions=(front, replace(back, ink=None, kind="karazuri", side="back")),
    )
    blocks = lay_out_blocks(separation, width_mm=360.0, height_mm=240.0, settings=BlocksTable())
    first, second = blocks.faces
    assert (first.mirrored, second.mirrored) == (True, False)
    assert first == usual.faces[0]
    assert second.printing.bounds == (200.0, 60.0, 220.0, 80.0)
    assert blocks.as_on(first) is blocks
    own = blocks.as_on(second)
    # The print's lower left corner, 15 mm outside the image, seats in the kagi of both.
    assert blocks.kento.kagi == (375.0, 255.0)
    assert own.kento.kagi == (-15.0, 255.0)
    for ours, theirs in (
        (own.sheet, usual.sheet),
        (own.block, usual.block),
        (own.kento.kagi_recess, usual.kento.kagi_recess),
        (own.kento.hikitsuke_recess, usual.kento.hikitsuke_recess),
    ):
        left, top, right, bottom = theirs.bounds
        assert ours.bounds == (360.0 - right, top, 360.0 - left, bottom)
    # It is pressed on the dry sheet, which is smaller than the damp one that the other is printed on.
    assert usual.findings == ()
    assert [each.code for each in blocks.findings] == ["impressions-apart"]


def test_leaf_takes_no_block() -> None:
    colour, leaf = separate(square(30, 40), square(200, 60)).impressions
    separation = replace(separate(), impressions=(colour, replace(leaf, ink=None, kind="leaf")))
    blocks = lay_out_blocks(separation, width_mm=360.0, height_mm=240.0, settings=BlocksTable())
    assert [face.impressions for face in blocks.faces] == [(1,)]
    assert blocks.from_the_back is None
