"""What is cut on every face: areas, marks, minutes, weeding and findings."""

from math import pi

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiPolygon, Point, Polygon, box

from blockwright.cutting import plan_cuts
from blockwright.cutting.waste import stand_marks
from blockwright.model.blocks import BlockSet, Board, Face, Kento
from blockwright.model.cut import Cut, FaceCut
from blockwright.model.settings import CuttingTable
from blockwright.model.units import Area

ROUNDING_MM2 = 1e-6


def block_set(*printing: Area, block: Polygon | None = None) -> BlockSet:
    """An image of 300 x 200 mm on a sheet with margins of 15 mm; kagi lower right, hikitsuke at 100 mm."""
    kento = Kento(
        kagi=(315.0, 215.0),
        hikitsuke=(100.0, 215.0),
        kagi_wall=((295.0, 215.0), (315.0, 215.0), (315.0, 195.0)),
        hikitsuke_wall=((110.0, 215.0), (90.0, 215.0)),
        kagi_recess=Polygon([(315, 215), (295, 215), (295, 207), (307, 207), (307, 195), (315, 195)]),
        hikitsuke_recess=box(90, 207, 110, 215),
        depth_mm=0.15,
    )
    faces = tuple(
        Face(name=f"{'ABCD'[i]} front", side="front", impressions=(i + 1,), printing=area)
        for i, area in enumerate(printing)
    )
    boards = tuple(
        Board(
            name=face.name[0],
            stock="s",
            wood="cherry",
            width_mm=342.0,
            height_mm=242.0,
            thickness_mm=20.0,
            grain="along",
            faces=(face,),
        )
        for face in faces
    )
    return BlockSet(
        image_width_mm=300.0,
        image_height_mm=200.0,
        block=block or box(-19, -19, 323, 223),
        sheet=box(-15, -15, 315, 215),
        kento=kento,
        boards=boards,
        faces_lower_bound=len(faces),
        proven_fewest=True,
    )


def plan(blocks: BlockSet, **table: object) -> Cut:
    return plan_cuts(blocks, CuttingTable.model_validate(table))


def plan_one(area: Area, **table: object) -> FaceCut:
    (cut,) = plan(block_set(area), **table).faces
    return cut


def disc(x: float, y: float, radius: float) -> Area:
    return MultiPolygon([Point(x, y).buffer(radius, quad_segs=64)])


def tenths(least: float, most: float) -> st.SearchStrategy[float]:
    """Lengths to 0.1 mm, as finely as a picture of 254 pixels to the inch gives them."""
    return st.integers(round(least * 10), round(most * 10)).map(lambda tenth: tenth / 10)


@st.composite
def scenes(draw: st.DrawFn) -> Area:
    """Up to eight discs and lines, anywhere in the image, some cut off at its edge."""
    parts = [box(10, 10, 12, 12)]
    for _ in range(draw(st.integers(0, 8))):
        x, y = draw(tenths(0, 300)), draw(tenths(0, 200))
        if draw(st.booleans()):
            parts.append(Point(x, y).buffer(draw(tenths(0.3, 60))))
        else:
            end = (draw(tenths(0, 300)), draw(tenths(0, 200)))
            parts.append(shapely.LineString([(x, y), end]).buffer(0.2))
    union = shapely.intersection(shapely.union_all(parts), box(0, 0, 300, 200))
    return MultiPolygon([part for part in shapely.get_parts(union) if part.geom_type == "Polygon"])


@settings(max_examples=40, deadline=None)
@given(scenes(), st.sampled_from(["hand", "stencil"]), st.sampled_from([3.0, 25.0, 80.0]))
def test_the_sheet_is_parted_without_gap_or_overlap(area: Area, method: str, reach_mm: float) -> None:
    """Areas and overlaps by shapely: printing + clear + island + what stands for the marks = the sheet."""
    blocks = block_set(area)
    (cut,) = plan(blocks, method=method, clear_reach_mm=reach_mm).faces
    stands = shapely.intersection(stand_marks(blocks), blocks.sheet).difference(cut.printing)
    parts = [cut.printing, cut.clear, cut.island, stands]
    assert sum(part.area for part in parts) == pytest.approx(blocks.sheet.area, abs=ROUNDING_MM2)
    assert shapely.union_all(parts).area == pytest.approx(blocks.sheet.area, abs=ROUNDING_MM2)
    assert cut.clear_mm2 == pytest.approx(cut.clear.area)
    assert all(part.is_valid for part in parts)


@settings(max_examples=25, deadline=None)
@given(scenes(), st.sampled_from([5.0, 25.0]))
def test_islands_stay_out_of_reach_of_every_printing_edge(area: Area, reach_mm: float) -> None:
    """The distance by shapely, to the fiftieth of the reach that is promised."""
    cut = plan_one(area, clear_reach_mm=reach_mm)
    if not cut.island.is_empty:
        with np.errstate(
            divide="ignore", invalid="ignore"
        ):  # GEOS leaves the processor's flag set; the distance is right
            assert shapely.distance(cut.island, area) >= reach_mm * 0.98


def test_clear_round_a_disc_is_a_ring() -> None:
    """A disc of 10 mm and a reach of 25: pi (35^2 - 10^2) mm2, out of the way of edges and marks."""
    cut = plan_one(disc(150, 100, 10))
    assert cut.clear_mm2 == pytest.approx(pi * (35**2 - 10**2), rel=0.01)
    assert cut.edge_mm == pytest.approx(2 * pi * 10, rel=1e-3)


def test_the_smallest_printing_dot_keeps_its_reach() -> None:
    cut = plan_one(MultiPolygon([box(150, 100, 150.1, 100.1)]))
    assert shapely.distance(cut.island, Point(150.05, 100.05)) > 24.5


def test_islets_are_not_left() -> None:
    """Between two bars 66 mm apart, 16 mm lie out of reach: too narrow to stand; at 76 mm, 26 are left."""
    for gap, left in ((66.0, False), (76.0, True)):
        bars = MultiPolygon([box(0, 0, 100, 200), box(100 + gap, 0, 300, 200)])
        cut = plan_one(bars)
        assert cut.island.intersects(Point(100 + gap / 2, 100)) == left


def test_wood_stands_round_the_marks_but_not_in_the_image() -> None:
    blocks = block_set(disc(150, 100, 10))
    stands = stand_marks(blocks)
    kento = blocks.kento
    assert shapely.covers(stands, shapely.union(kento.kagi_recess, kento.hikitsuke_recess))
    assert shapely.intersection(stands, box(0, 0, 300, 200)).area == 0
    # hikitsuke: 20 x 8 mm grown by 6 mm, of which the side to the image is 7 mm away, so all of it stands
    assert stands.intersection(box(80, 190, 120, 230)).bounds == (84.0, 201.0, 116.0, 221.0)


def test_nothing_is_cleared_outside_the_sheet_or_off_the_block() -> None:
    blocks = block_set(disc(150, 100, 90), block=box(-10, -10, 323, 223))
    (cut,) = plan(blocks).faces
    wood = shapely.intersection(blocks.sheet, blocks.block)
    assert shapely.covers(wood, cut.clear)
    assert shapely.covers(wood, cut.island)


def test_minutes_by_hand() -> None:
    """A square of 20 mm: edge 80 mm. Marks: edges 80 + 56 mm, recesses 256 + 160 mm2."""
    cut = plan_one(MultiPolygon([box(140, 90, 160, 110)]), edge_mm_per_min=10.0, clear_mm2_per_min=100.0)
    expected = 80 / 10 + cut.clear_mm2 / 100 + (80 + 56) / 10 + (256 + 160) / 100
    assert cut.minutes == pytest.approx(expected)


def test_minutes_of_a_stencil_are_the_marks_alone() -> None:
    cut = plan_one(disc(150, 100, 40), method="stencil", edge_mm_per_min=10.0, clear_mm2_per_min=100.0)
    assert cut.minutes == pytest.approx((80 + 56) / 10 + (256 + 160) / 100)


def test_a_stencil_leaves_no_island_and_reaches_past_the_block() -> None:
    """25 mm oversize on all sides: sign-trade pages."""
    cut = plan_one(disc(150, 100, 10), method="stencil")
    assert cut.island.is_empty
    assert cut.border is not None
    assert cut.border.bounds == (-19 - 25, -19 - 25, 323 + 25, 223 + 25)


def test_by_hand_there_is_no_stencil() -> None:
    cut = plan_one(disc(150, 100, 10))
    assert cut.weed == ()
    assert cut.border is None


@settings(max_examples=25, deadline=None)
@given(scenes())
def test_every_part_to_lift_off_is_marked_inside(area: Area) -> None:
    cut = plan_one(area, method="stencil")
    marks = shapely.points(np.array(cut.weed).reshape(-1, 2))
    for part in cut.clear.geoms:
        assert shapely.contains(part, marks).any()
    assert all(shapely.contains(cut.clear, mark) for mark in marks)


def test_a_large_part_gets_several_marks_and_a_small_one_one() -> None:
    """A frame round a plate that prints, which has one small hole; nobody looks farther than 80 mm."""
    plate = MultiPolygon([box(20, 20, 280, 180).difference(box(100, 100, 104, 103))])
    cut = plan_one(plate, method="stencil")
    in_hole = [place for place in cut.weed if box(100, 100, 104, 103).contains(Point(place))]
    assert in_hole == [pytest.approx((102.0, 101.5), abs=0.6)]
    outline = shapely.segmentize(box(-5, -5, 305, 190).exterior, 5.0)
    marks = shapely.multipoints(np.array(cut.weed))
    assert max(shapely.distance(shapely.points(xy), marks) for xy in outline.coords) < 80.0


def test_another_method_for_one_face() -> None:
    blocks = block_set(disc(100, 100, 10), disc(200, 100, 10))
    cut = plan(blocks, face=({"face": "B front", "method": "stencil"},))
    assert [face.method for face in cut.faces] == ["hand", "stencil"]
    assert cut.findings == ()


def test_a_face_that_does_not_exist_is_a_finding_with_the_names() -> None:
    blocks = block_set(disc(100, 100, 10), disc(200, 100, 10))
    cut = plan(blocks, face=({"face": "C back", "method": "stencil"}, {"face": "C back", "method": "hand"}))
    (finding,) = cut.findings
    assert (finding.code, finding.severity) == ("face-not-known", "warn")
    assert "C back" in finding.message
    assert "A front, B front" in finding.message
    assert finding.about == (("face", "C back"),)
    assert [face.method for face in cut.faces] == ["hand", "hand"]


def test_faces_keep_their_order_and_numbers() -> None:
    blocks = block_set(disc(100, 100, 10), disc(200, 100, 10), disc(50, 50, 5))
    cut = plan(blocks)
    assert [face.face for face in cut.faces] == [face.name for face in blocks.faces]
    assert [face.impressions for face in cut.faces] == [(1,), (2,), (3,)]


@pytest.mark.parametrize("method", ["hand", "stencil"])
def test_a_face_that_prints_nothing(method: str) -> None:
    cut = plan_one(MultiPolygon(), method=method)
    assert cut.edge_mm == 0
    assert cut.clear.is_empty == (method == "hand")
    assert cut.island.is_empty == (method == "stencil")


@pytest.mark.parametrize("method", ["hand", "stencil"])
def test_the_same_face_gives_the_same_cut(method: str) -> None:
    area = MultiPolygon([*disc(100, 100, 30).geoms, box(200, 20, 290, 22)])
    first, second = plan_one(area, method=method), plan_one(area, method=method)
    assert shapely.to_wkb(first.clear) == shapely.to_wkb(second.clear)
    assert first.weed == second.weed


def test_a_rough_edge_of_many_points_takes_no_time() -> None:
    """30,000 points with a tremble of 0.1 mm: offset in one step this takes minutes."""
    turn = np.linspace(0, 2 * np.pi, 30_000, endpoint=False)
    radius = 80 + 6 * np.sin(9 * turn) + np.random.default_rng(3).normal(0, 0.1, turn.size)
    rough = Polygon(np.column_stack((150 + radius * np.cos(turn), 100 + radius * np.sin(turn))))
    cut = plan_one(MultiPolygon([rough]))
    smooth_edge = 80 + 6 * np.sin(9 * turn) + 25
    widest = Polygon(np.column_stack((150 + smooth_edge * np.cos(turn), 100 + smooth_edge * np.sin(turn))))
    assert cut.island.area > 0
    with np.errstate(divide="ignore", invalid="ignore"):
        assert shapely.distance(cut.island, rough) > 24.5
    assert shapely.union(cut.clear, rough).area < 1.2 * widest.area
