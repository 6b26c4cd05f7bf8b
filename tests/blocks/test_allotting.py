"""Which impressions share a face: distances, half turns, masks, and what the printmaker wants of it."""

from itertools import combinations
from typing import Any

import pytest
import shapely
from shapely.geometry import MultiPolygon, box
from test_lay_out import found, lay_out, square

from blockwright.blocks.mirror import mirror_area, turn_area
from blockwright.model.blocks import BlockSet, Face
from blockwright.model.units import Area


def carried(blocks: BlockSet) -> list[tuple[int, ...]]:
    return [face.impressions for face in blocks.faces]


def groups(*names: str) -> tuple[dict[str, tuple[str, ...]], ...]:
    return ({"inks": names},)


def test_inks_that_print_far_apart_share_a_face() -> None:
    """30 mm of clear distance: *Japanese Wood-Block Printing*, Tokyo 1939."""
    areas = [square(0, 100), square(49, 100), square(98, 100)]
    blocks = lay_out(*areas, half_turn=False)
    assert carried(blocks) == [(1, 3), (2,)]
    assert (blocks.faces_lower_bound, blocks.proven_fewest, blocks.findings) == (2, True, ())
    first, second = blocks.faces
    assert [(part.impression, part.turned) for part in first.parts] == [(1, False), (3, False)]
    for part in first.parts:
        assert shapely.equals(part.printing, mirror_area(areas[part.impression - 1], width_mm=360.0))
    assert shapely.equals(first.printing, shapely.union_all([part.printing for part in first.parts]))
    assert first.why == "Colour 1 and colour 3 share it, 78 mm apart."
    assert (second.parts, second.why) == ((), "")
    assert [part.impression for part in second.each_part] == [2]


def test_every_pair_on_a_face_keeps_the_distance() -> None:
    areas = [square(37.0 * (k % 9), 29.0 * (k * 5 % 8), side=14.0) for k in range(24)]
    for distance_mm in (5.0, 30.0, 60.0):
        blocks = lay_out(*areas, sharing_distance_mm=distance_mm)
        assert blocks.proven_fewest
        assert sorted(n for face in blocks.faces for n in face.impressions) == list(range(1, 25))
        for face in blocks.faces:
            for one, other in combinations(face.each_part, 2):
                assert shapely.distance(one.printing, other.printing) >= distance_mm - 1e-9


def test_the_same_area_is_carved_once_for_two_inks() -> None:
    blocks = lay_out(square(20, 30), square(20, 30), square(25, 30), half_turn=False)
    assert carried(blocks) == [(1, 2), (3,)]
    assert blocks.faces[0].printing.area == pytest.approx(400.0)
    assert blocks.faces[0].why == "One carving prints more than one ink in turn."


def facing() -> tuple[Area, Area]:
    """Two areas that overlap, in one corner: apart only when one of them is turned by half."""
    return square(10, 20), square(20, 20)


def test_a_block_is_turned_by_half_where_that_spares_a_face() -> None:
    blocks = lay_out(*facing())
    assert carried(blocks) == [(1, 2)]
    (face,) = blocks.faces
    assert (face.turned, blocks.proven_fewest) == ((2,), True)
    assert face.why.endswith("For colour 2 the block is turned by half, to marks of its own.")
    straight, turned = face.parts
    mirrored = mirror_area(facing()[1], width_mm=360.0)
    assert shapely.equals(turned.printing, turn_area(mirrored, blocks.block))
    assert shapely.distance(straight.printing, turned.printing) > 30.0
    assert len(lay_out(*facing(), half_turn=False).faces) == 2


def test_the_marks_of_a_turned_block_are_where_the_others_were() -> None:
    """Seen by whoever turned the block, and so the sheet, every mark is where it always is."""
    blocks = lay_out(*facing())
    straight, turned = blocks.marks_of(blocks.faces[0])
    left, top, right, bottom = blocks.block.bounds
    for name in ("kagi", "hikitsuke"):
        (x, y), (u, v) = getattr(straight, name), getattr(turned, name)
        assert (left + right - u, top + bottom - v) == pytest.approx((x, y))
    for recess in (turned.kagi_recess, turned.hikitsuke_recess):
        assert recess.disjoint(blocks.faces[0].printing)
        assert recess.disjoint(shapely.union(straight.kagi_recess, straight.hikitsuke_recess))
        assert shapely.covers(blocks.block, recess)
    sheet = turn_area(MultiPolygon([blocks.sheet]), blocks.block)
    assert shapely.Point(turned.kagi).touches(sheet)
    assert lay_out(square(10, 20)).turned_kento is None


def test_no_half_turn_where_the_second_marks_have_no_room() -> None:
    """What prints at the block's upper left would be cut by the second kagi."""
    corner = MultiPolygon([box(330, -18, 375, 20)])
    assert len(lay_out(corner, square(300, 5), block_over_mm=60.0).faces) == 2
    assert len(lay_out(square(330, 20), square(300, 25), block_over_mm=60.0).faces) == 1


def test_a_mask_lets_two_inks_come_nearer() -> None:
    areas = [square(20, 30), square(55, 30), square(20, 65)]
    table: dict[str, Any] = {"half_turn": False, "masked": ("Colour 1", "colour 2", "colour 3")}
    assert len(lay_out(*areas, half_turn=False).faces) == 3
    assert carried(lay_out(*areas, **table)) == [(1, 2, 3)]
    assert "Ink them through a mask." in lay_out(*areas, **table).faces[0].why
    only_one = lay_out(*areas, half_turn=False, masked=("colour 1",))
    assert len(only_one.faces) == 3, "a brush without a mask would reach the other"
    assert len(lay_out(*areas, **table, masked_distance_mm=16.0).faces) == 2, "the two at 21 mm"


def test_colours_are_kept_apart() -> None:
    areas = [square(0, 100), square(100, 100), square(200, 100)]
    assert carried(lay_out(*areas)) == [(1, 2, 3)]
    apart = groups("colour 1", "COLOUR 2")
    blocks = lay_out(*areas, apart=apart)
    assert carried(blocks) == [(1, 3), (2,)]
    assert (blocks.faces_lower_bound, blocks.proven_fewest) == (2, True)


def test_colours_are_kept_together_nearer_than_is_asked_for() -> None:
    areas = [square(20, 30), square(45, 30), square(200, 100)]
    together = groups("colour 1", "colour 2")
    blocks = lay_out(*areas, together=together, half_turn=False)
    assert carried(blocks) == [(1, 2, 3)]
    (note,) = found(blocks, "shared-near")
    assert note.severity == "note"
    assert note.message.startswith(
        "colour 1 and colour 2 share a face, as you want it, only 5 mm apart; 30 mm"
    )
    assert carried(lay_out(*areas, together=together, share_faces=False)) == [(1, 2), (3,)]


def test_wanted_together_and_apart_stops_the_work_and_names_both() -> None:
    areas = [square(0, 100), square(100, 100), square(200, 100)]
    table: dict[str, Any] = {
        "together": (*groups("colour 1", "colour 2"), *groups("colour 2", "colour 3")),
        "apart": groups("colour 1", "colour 3"),
    }
    (finding,) = found(lay_out(*areas, **table), "sharing-contradicts")
    assert finding.severity == "stop"
    assert "colour 1 and colour 3 on one face by [[blocks.together]] through other colours" in finding.message
    assert "keeps them apart by [[blocks.apart]]" in finding.message
    assert finding.about == (("colour", "colour 1"), ("other", "colour 3"))
    table["together"] = groups("colour 3", "colour 1")
    (finding,) = found(lay_out(*areas, **table), "sharing-contradicts")
    assert "through" not in finding.message
    assert (1, 3) not in [
        pair for face in carried(lay_out(*areas, **table)) for pair in combinations(face, 2)
    ]


def test_what_overlaps_cannot_be_kept_together() -> None:
    blocks = lay_out(*facing(), together=groups("colour 1", "colour 2"), half_turn=False)
    (finding,) = found(blocks, "cannot-share")
    assert (finding.severity, "print over one another" in finding.message) == ("warn", True)
    assert carried(blocks) == [(1,), (2,)]


@pytest.mark.parametrize(
    "table",
    [
        {"together": groups("mauve", "colour 1")},
        {"apart": groups("colour 1", "mauve")},
        {"masked": ("mauve",)},
    ],
)
def test_a_colour_that_is_not_printed_is_told(table: dict[str, Any]) -> None:
    (finding,) = found(lay_out(square(20, 30), **table), "sharing-unknown-colour")
    assert (finding.severity, finding.about) == ("warn", (("colour", "mauve"),))
    assert next(iter(table)) in finding.message
    assert "colour 1 (#808080)" in finding.message


def test_a_face_of_every_shape_can_be_told_what_it_carries() -> None:
    face = Face("A front", "front", (1, 2), MultiPolygon())
    assert [part.impression for part in face.each_part] == [1, 2]
    assert face.turned == ()
