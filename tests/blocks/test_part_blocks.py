"""Part blocks and their registration board: where a point ends, seats, stops, wishes, findings."""

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiPolygon, Point, box
from test_lay_out import found, lay_out, separate, square

from blockwright.blocks import lay_out_blocks
from blockwright.blocks.kento import place_block, place_sheet, set_kento
from blockwright.blocks.part_blocks import part_rectangle, place_pads
from blockwright.cutting import plan_cuts
from blockwright.model.blocks import BlockSet, Face
from blockwright.model.settings import BlocksTable, CuttingTable

KEY = MultiPolygon([box(0, 0, 360, 240)])
"""An impression that needs all of the face."""

CORNERS = ("lower right", "lower left", "upper right", "upper left")


def part_of(blocks: BlockSet, number: int) -> Face:
    (face,) = (each for each in blocks.part_faces if number in each.impressions)
    return face


def test_a_point_of_the_design_ends_at_its_place_on_part_block_and_registration_board() -> None:
    """By hand: image 360 x 240, margins 15, block 38 larger, rim 8, kagi at the lower right.

    A seal covers (40, 200) to (61.5, 220) of the print. Mirrored it covers x = 298.5 to 320. With 10 mm of
    wood, in whole mm, the part block spans (288, 190) to (330, 230). The registration board spans (-19, -19)
    to (383, 263) of the face. The seal's lower left corner on the print, (40, 220), is its lower right one on
    the wood, at (320, 220): from the part block's upper left corner 32 right and 30 down, from the
    registration board's lower left corner 339 right and 43 up.
    """
    seal = MultiPolygon([box(40, 200, 61.5, 220)])
    blocks = lay_out(KEY, seal, part_blocks=True)
    face, board = part_of(blocks, 2), blocks.registration
    assert face.name == "B part"
    assert face.part is not None
    assert face.part.bounds == (288.0, 190.0, 330.0, 230.0)
    assert face.printing.bounds == (298.5, 200.0, 320.0, 220.0)
    on_block = blocks.as_on(face)
    left, top, _, _ = on_block.block.bounds
    assert (320.0 - left, 220.0 - top) == (32.0, 30.0)
    assert board is not None
    assert board.outline.bounds == (-19.0, -19.0, 383.0, 263.0)
    assert board.place((320.0, 220.0)) == (339.0, 43.0)
    (seat,) = board.seats
    assert (seat.board, seat.corner) == ("B", (330.0, 230.0))
    assert board.place(seat.corner) == (349.0, 33.0)
    assert [stop.bounds for stop in seat.stops] == [
        (330.0, 190.0, 340.0, 225.0),
        (288.0, 230.0, 325.0, 240.0),
    ]
    assert (seat.against, seat.in_the_way) == ((), ())
    (full, part) = blocks.boards
    assert [(each.name, each.width_mm, each.height_mm) for each in (full, part)] == [
        ("A", 402.0, 282.0),
        ("B", 42.0, 40.0),
    ]


def test_a_part_block_has_no_marks_and_the_sheet_covers_it() -> None:
    blocks = lay_out(KEY, square(40, 200), part_blocks=True)
    face = part_of(blocks, 2)
    assert blocks.marks_of(face) == ()
    assert blocks.marks_of(blocks.faces[0]) == (blocks.kento,)
    on_block = blocks.as_on(face)
    assert on_block.sheet.equals(face.part)
    assert blocks.as_on(face).as_on(face) == on_block


def test_what_is_cut_on_a_part_block_is_all_of_it_but_what_prints() -> None:
    blocks = lay_out(KEY, square(40, 200), part_blocks=True)
    face = part_of(blocks, 2)
    assert face.part is not None
    for method in ("hand", "stencil"):
        cut = plan_cuts(blocks, CuttingTable(method=method)).faces[-1]
        assert cut.face == face.name
        assert shapely.union(cut.clear, cut.island).area == pytest.approx(face.part.area - 400.0)
        assert not shapely.overlaps(cut.clear, face.printing)
        assert not cut.weed or all(face.part.contains(Point(at)) for at in cut.weed)
        assert cut.border is None or cut.border.area > face.part.area
    # There are no marks to cut: by stencil nothing is left to the hand.
    assert plan_cuts(blocks, CuttingTable(method="stencil")).faces[-1].minutes == 0.0


@pytest.mark.parametrize("corner", CORNERS)
@pytest.mark.parametrize("side", ["long", "short"])
@given(x=st.floats(0, 330), y=st.floats(0, 210), wide=st.floats(1, 30), high=st.floats(1, 30))
@settings(max_examples=25, deadline=None)
def test_seats_keep_clear_of_the_marks_and_hold_the_block(
    corner: str, side: str, x: float, y: float, wide: float, high: float
) -> None:
    seal = MultiPolygon([box(x, y, x + wide, y + high)])
    blocks = lay_out(
        KEY, seal, part_blocks=True, on_part_block=("colour 2",), kagi_corner=corner, hikitsuke_side=side
    )
    if not blocks.part_faces:
        assert found(blocks, "part-not-possible")
        return
    board = blocks.registration
    assert board is not None
    (seat,) = board.seats
    part = part_of(blocks, 2)
    assert seat.block.covers(part.printing)
    pads = [board.kagi_pad, board.hikitsuke_pad]
    everything = [*pads, seat.block, *seat.stops]
    for k, one in enumerate(everything):
        assert board.outline.covers(one)
        for other in everything[k + 1 :]:
            assert shapely.intersection(one, other).area == pytest.approx(0.0, abs=1e-9)
    assert pads[0].covers(blocks.kento.kagi_recess)
    assert pads[1].covers(blocks.kento.hikitsuke_recess)
    # Every stop touches the block along a stretch, on the two sides that meet at the kagi's corner.
    for stop in seat.stops:
        assert shapely.intersection(stop, seat.block).length > 0
    assert len(seat.stops) + len(seat.against) == 2
    for name in seat.against:
        pad = pads[0] if name == "kagi" else pads[1]
        assert shapely.intersection(pad, seat.block).length > 0
    towards = Point(blocks.kento.kagi)
    assert towards.distance(Point(seat.corner)) == min(
        towards.distance(Point(at)) for at in seat.block.exterior.coords
    )


def test_a_block_too_near_a_mark_is_trimmed_or_refused() -> None:
    table = BlocksTable(part_border_mm=10)
    sheet = place_sheet(width_mm=360, height_mm=240, settings=table)
    pads = place_pads(set_kento(sheet, table), table)
    # The hikitsuke's pad begins 7 mm below the image. A block that ends less than a stop's width above it,
    # with no room for a stop beside it, is made to reach it: the pad is the stop. So is what ends there.
    x0, top, x1, _ = pads.hikitsuke.bounds
    assert top == 247.0
    above = part_rectangle([square(x0 + 2, 215, 20)], pads=pads, settings=table)
    assert above is not None
    assert above.bounds[3] == 247.0
    assert above.bounds[1] == 205.0
    higher = part_rectangle([square(x0 + 2, 200, 20)], pads=pads, settings=table)
    assert higher is not None
    assert higher.bounds[3] == 230.0
    low = part_rectangle([square(x0 + 2, 220, 20)], pads=pads, settings=table)
    assert low is not None
    assert low.bounds[3] == 247.0
    inside = MultiPolygon([box(x0 + 1, top + 1, x1 - 1, top + 4)])
    assert part_rectangle([inside], pads=pads, settings=table) is None


def test_part_blocks_are_made_only_where_they_spare_enough() -> None:
    """402 x 282 mm is 113 364 mm2; 60 % spared leaves at most 45 345.6 mm2."""
    block = place_block(width_mm=360, height_mm=240, settings=BlocksTable())
    assert block.area == 113_364.0
    for side, parts in ((192, 1), (193, 0)):  # with the border 212 and 213 mm
        blocks = lay_out(KEY, square(20, 20, side), part_blocks=True)
        assert len(blocks.part_faces) == parts
        assert (side + 20) ** 2 <= 45_345.6 or not parts
    assert lay_out(KEY, square(20, 20, 30)).part_faces == ()


def test_small_areas_go_onto_a_full_face_where_that_takes_no_wood() -> None:
    corner = MultiPolygon([box(0, 0, 330, 150)])
    blocks = lay_out(corner, square(300, 200, 30), part_blocks=True)
    assert [face.impressions for face in blocks.faces] == [(1, 2)]
    assert blocks.registration is None
    wanted = lay_out(corner, square(300, 200, 30), on_part_block=("Colour 2",))
    assert [(face.name, face.impressions) for face in wanted.faces] == [("A front", (1,)), ("B part", (2,))]
    assert wanted.faces[1].why == "You want it on a part block, 50 x 50 mm; a full one is 402 x 282 mm."


def test_the_fewest_full_faces_come_first_and_are_proven() -> None:
    blocks = lay_out(KEY, square(100, 60, 150), square(40, 200), square(45, 205, 5), part_blocks=True)
    assert [face.impressions for face in blocks.full_faces] == [(1,)]
    assert [face.impressions for face in blocks.part_faces] == [(2,), (3,), (4,)]
    assert (blocks.faces_lower_bound, blocks.proven_fewest) == (1, True)


def test_wishes_hold_and_contradictions_name_both() -> None:
    kept = lay_out(KEY, square(40, 200), part_blocks=True, on_full_block=("colour 2",))
    assert kept.part_faces == ()
    both = lay_out(KEY, square(40, 200), on_part_block=("colour 2",), on_full_block=("colour 2",))
    (finding,) = found(both, "part-contradicts")
    assert (finding.severity, finding.about) == ("stop", (("colour", "colour 2"),))
    through = lay_out(
        KEY,
        square(40, 200),
        square(200, 40),
        together=({"inks": ("colour 2", "colour 3")},),
        on_part_block=("colour 2",),
        on_full_block=("colour 3",),
    )
    (finding,) = found(through, "part-contradicts")
    assert finding.about == (("colour", "colour 2"), ("other", "colour 3"))
    gone = lay_out(KEY, on_part_block=("no such",))
    assert "[blocks] on_part_block" in found(gone, "sharing-unknown-colour")[0].message


def test_what_presses_the_back_has_a_full_block() -> None:
    from dataclasses import replace

    separation = separate(KEY, square(40, 200))
    back = replace(separation.impressions[1], kind="karazuri", ink=None, side="back")
    blocks = lay_out_blocks(
        replace(separation, impressions=(separation.impressions[0], back)),
        width_mm=360.0,
        height_mm=240.0,
        settings=BlocksTable(part_blocks=True, on_part_block=("colour 2",)),
    )
    assert blocks.part_faces == ()
    assert [each.severity for each in found(blocks, "part-not-possible")] == ["warn"]


def test_small_blocks_and_thin_borders_are_pointed_at() -> None:
    small = lay_out(KEY, square(40, 150), part_blocks=True, part_border_mm=9)
    (finding,) = found(small, "part-block-small")
    assert dict(finding.about) == {"part_border_mm": 10.0, "colour": "colour 2"}
    assert finding.at == (50.0, 160.0)
    assert not found(lay_out(KEY, square(40, 150), part_blocks=True), "part-block-small")
    thin = lay_out(KEY, square(40, 150, 60), part_blocks=True, part_border_mm=3)
    (finding,) = found(thin, "part-near-edge")
    assert (finding.severity, dict(finding.about)["part_border_mm"]) == ("warn", 4.0)


def test_the_wood_is_told_where_nothing_is_spared() -> None:
    (finding,) = found(lay_out(KEY, square(40, 150), part_blocks=True), "part-blocks-spare-none")
    assert "registration board takes its share" in finding.message
    there = lay_out(KEY, square(40, 150), part_blocks=True, registration_board="on hand", both_faces=False)
    assert not found(there, "part-blocks-spare-none")
    assert there.registration is not None
    assert not there.registration.sawn


def test_a_registration_board_that_the_boards_do_not_give_is_a_warning() -> None:
    stock = (
        {
            "name": "plank",
            "wood": "cherry",
            "width_mm": 450,
            "height_mm": 300,
            "thickness_mm": 20,
            "count": 1,
        },
    )
    blocks = lay_out(KEY, square(40, 150), part_blocks=True, stock=stock)
    (finding,) = found(blocks, "registration-board-short")
    assert finding.severity == "warn"
    assert dict(finding.about) == {"board": "plank", "count": 2}
    pieces = {
        piece.name: (piece.width_mm, piece.height_mm) for board in blocks.sawn for piece in board.blocks
    }
    assert "A" in pieces
    assert "registration board" not in pieces


def test_part_blocks_need_no_full_one() -> None:
    blocks = lay_out(square(40, 150), square(45, 155, 30), part_blocks=True)
    assert blocks.full_faces == ()
    assert (blocks.faces_lower_bound, blocks.proven_fewest) == (0, True)
    # One overlaps the other, so each has its block, and their stops are in each other's way.
    assert blocks.registration is not None
    assert [seat.in_the_way for seat in blocks.registration.seats] == [("B",), ("A",)]


def test_stock_that_holds_nothing_stops_the_work() -> None:
    tiny = ({"name": "scrap", "wood": "cherry", "width_mm": 100, "height_mm": 100, "thickness_mm": 20},)
    blocks = lay_out(KEY, square(40, 150), part_blocks=True, stock=tiny)
    assert [each.severity for each in found(blocks, "no-board-big-enough")] == ["stop"]
    assert lay_out(KEY, square(40, 150), part_blocks=True, stock=()).boards[0].stock == ""


def test_what_is_not_proven_of_the_wood_is_said() -> None:
    """Many part blocks of many sizes on small boards: the pieces are joined before they are nested."""
    seals = [MultiPolygon([box(10 + 24 * k, 20, 30 + 24 * k, 40 + 3 * k)]) for k in range(14)]
    blocks = lay_out(KEY, *seals, part_blocks=True, sharing_distance_mm=200.0)
    assert len(blocks.part_faces) > 6
    taken = sum(board.width_mm * board.height_mm for board in blocks.sawn)
    for finding in found(blocks, "part-wood-not-proven"):
        assert finding.severity == "note"
    names = [piece.name for board in blocks.sawn for piece in board.blocks]
    assert {board.name for board in blocks.boards} <= set(names)
    assert len(names) == len(set(names))
    assert taken >= sum(piece.width_mm * piece.height_mm for board in blocks.sawn for piece in board.blocks)


def test_scaled_drawings_of_part_and_full_block_meet() -> None:
    """The seal's outer corner is the image's: drawn for what moves, both lie at one place of the face."""
    stock = ({"name": "plank", "wood": "cherry", "width_mm": 450, "height_mm": 300, "thickness_mm": 20},)
    blocks = lay_out(
        KEY,
        MultiPolygon([box(330, 0, 360, 30)]),
        part_blocks=True,
        stock=stock,
        compensate=True,
        carving_moisture_percent=8.0,
        printing_moisture_percent=10.0,
    )
    full, part = blocks.faces
    assert part.part is not None
    assert full.printing.bounds[:2] != (0.0, 0.0)
    assert part.printing.bounds[:2] == pytest.approx(full.printing.bounds[:2])


def test_grain_runs_one_way_on_all_blocks_of_the_print() -> None:
    """An upright part block has the grain across its longer side where the full ones have it along theirs."""
    blocks = lay_out(KEY, MultiPolygon([box(40, 40, 70, 160)]), part_blocks=True)
    assert [(board.name, board.grain) for board in blocks.boards] == [("A", "along"), ("B", "across")]


def test_a_part_block_moves_with_the_others_and_is_looked_at_where_it_prints() -> None:
    stock = ({"name": "plank", "wood": "cherry", "width_mm": 450, "height_mm": 300, "thickness_mm": 20},)
    moved = lay_out(
        KEY,
        MultiPolygon([box(40, 140, 70, 160)]),
        part_blocks=True,
        stock=stock,
        carving_moisture_percent=8.0,
        printing_moisture_percent=10.0,
    ).movement
    full, part = moved.impressions
    # The block covers (30, 130) to (80, 170) of the print.
    assert [each.corner for each in part.corners] == [each.corner for each in full.corners]
    upper, lower = part.corners[0].before_mm[1], part.corners[2].before_mm[1]
    growth = moved.boards[0].height_percent / 100
    assert growth > 0
    assert lower - upper == pytest.approx(growth * 40.0, abs=2e-6)
    assert moved.boards[1].height_mm == pytest.approx(growth * 40.0, abs=2e-6)
    assert abs(upper) < abs(full.corners[0].before_mm[1])
    # Of one wood, seated on a board of the same, they stay together.
    assert moved.apart_before is None
