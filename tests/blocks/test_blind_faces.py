"""Karazuri on shared faces: from the front as an ink does, from the back never with the front."""

from dataclasses import replace
from itertools import combinations
from typing import Any

import pytest
import shapely
from shapely.geometry import MultiPolygon, box
from test_lay_out import found, separate, square

from blockwright.blocks import lay_out_blocks
from blockwright.blocks.mirror import mirror_area
from blockwright.model.blocks import BlockSet, Face
from blockwright.model.separation import Separation, SheetSide
from blockwright.model.settings import BlocksTable
from blockwright.model.units import Area

WIDTH_MM, HEIGHT_MM = 360.0, 240.0


def blind(separation: Separation, **sides: SheetSide) -> Separation:
    """The impressions with those named ``n1``, ``n2`` ... made karazuri from a side."""
    return replace(
        separation,
        impressions=tuple(
            replace(
                each, ink=None, kind="karazuri", side=sides[f"n{each.number}"], name=f"blind {each.number}"
            )
            if f"n{each.number}" in sides
            else each
            for each in separation.impressions
        ),
    )


def lay_out(separation: Separation, **table: Any) -> BlockSet:
    return lay_out_blocks(
        separation, width_mm=WIDTH_MM, height_mm=HEIGHT_MM, settings=BlocksTable.model_validate(table)
    )


def carried(blocks: BlockSet) -> list[tuple[int, ...]]:
    return [face.impressions for face in blocks.faces]


def as_on_the_print(face: Face, printing: Area) -> Area:
    """What a face presses, as it comes out on the print seen from its front."""
    return mirror_area(printing, width_mm=WIDTH_MM) if face.mirrored else printing


def test_the_block_of_a_colour_embosses_the_very_same_area_without_ink() -> None:
    separation = blind(separate(square(20, 30), square(20, 30)), n2="front")
    blocks = lay_out(separation)
    assert carried(blocks) == [(1, 2)]
    (face,) = blocks.faces
    assert (face.mirrored, face.turned) == (True, ())
    assert face.why == "One carving prints its ink and then, washed and dry, embosses without any."
    assert separation.blocks == 1


def test_karazuri_from_the_front_shares_with_an_ink_that_is_far_enough() -> None:
    far, near = square(200, 30), square(45, 30)
    assert carried(lay_out(blind(separate(square(20, 30), far), n2="front"))) == [(1, 2)]
    separation = blind(separate(square(20, 30), near), n2="front")
    assert carried(lay_out(separation, half_turn=False)) == [(1,), (2,)]
    assert separation.blocks == 2


@pytest.mark.parametrize("half_turn", [False, True])
@pytest.mark.parametrize("second", [square(20, 30), square(200, 30), square(21, 30)])
def test_a_face_for_the_back_is_never_shared_with_the_front(second: Area, half_turn: bool) -> None:
    """Not with the same area, far off, or where a half turn would spare a face."""
    separation = blind(separate(square(20, 30), second), n2="back")
    blocks = lay_out(separation, half_turn=half_turn)
    assert carried(blocks) == [(1,), (2,)]
    assert (blocks.faces_lower_bound, blocks.proven_fewest) == (2, True)
    assert [face.mirrored for face in blocks.faces] == [True, False]
    assert separation.blocks == 2


def test_many_impressions_on_both_sides_keep_apart_by_side() -> None:
    areas = [square(37.0 * (k % 9), 29.0 * (k * 5 % 8), side=14.0) for k in range(16)]
    sides: dict[str, SheetSide] = {f"n{n}": "back" if n % 3 else "front" for n in range(9, 17)}
    separation = blind(separate(*areas), **sides)
    by_number = {each.number: each for each in separation.impressions}
    blocks = lay_out(separation)
    assert sorted(n for face in blocks.faces for n in face.impressions) == list(range(1, 17))
    for face in blocks.faces:
        on_face = {by_number[n].side for n in face.impressions}
        assert on_face == {"front" if face.mirrored else "back"}
        for part in face.each_part:
            if not part.turned:
                wanted = by_number[part.impression].area
                assert shapely.equals(as_on_the_print(face, part.printing), wanted)
        for one, other in combinations(face.each_part, 2):
            assert shapely.distance(one.printing, other.printing) >= 30.0 - 1e-9


def test_two_for_the_back_share_a_face_that_is_not_turned() -> None:
    blocks = lay_out(blind(separate(square(20, 30), square(200, 30)), n1="back", n2="back"))
    (face,) = blocks.faces
    assert (face.mirrored, face.turned, len(face.parts)) == (False, (), 2)
    assert [part.printing.bounds[0] for part in face.parts] == [20.0, 200.0]
    assert shapely.equals(face.printing, shapely.union_all([part.printing for part in face.parts]))
    assert blocks.marks_of(face) == (blocks.as_on(face).kento,)
    # These two would share a face by a half turn, were they for the front.
    facing = separate(square(10, 20), square(20, 20))
    assert carried(lay_out(facing)) == [(1, 2)]
    assert carried(lay_out(blind(facing, n1="back", n2="back"))) == [(1,), (2,)]


def test_a_wish_to_share_across_the_sheet_is_refused() -> None:
    separation = blind(separate(square(20, 30), square(200, 30)), n2="back")
    blocks = lay_out(separation, together=({"inks": ("colour 1", "blind 2")},))
    (finding,) = found(blocks, "cannot-share")
    assert "press different sides of the sheet" in finding.message
    assert carried(blocks) == [(1,), (2,)]


def test_a_drawing_for_the_back_is_scaled_about_the_kagi_as_it_lies_there() -> None:
    """The kagi of the back's face is the same corner of the print: what is scaled lies off by as much."""
    area = MultiPolygon([box(0, 0, WIDTH_MM, 20), box(40, 60, 90, 200)])
    moved: dict[str, Any] = {"compensate": True, "share_faces": False, "carving_moisture_percent": 6.0}
    plain = lay_out(blind(separate(area, area), n2="front"), **moved)
    turned = lay_out(blind(separate(area, area), n2="back"), **moved)
    front, back = plain.faces[1], turned.faces[1]
    assert front.printing.bounds != mirror_area(area, width_mm=WIDTH_MM).bounds
    pressed = as_on_the_print(front, front.printing)
    assert shapely.equals_exact(back.printing, pressed, tolerance=1e-9, normalize=True)
    kagi = turned.as_on(back).kento.kagi
    told = turned.movement.face(back.name)
    assert told is not None
    left, top, _, _ = back.printing.bounds
    assert left == pytest.approx(kagi[0] + (0.0 - kagi[0]) * told.scale_width)
    assert top == pytest.approx(kagi[1] + (0.0 - kagi[1]) * told.scale_height)
    assert [each.damp for each in turned.movement.impressions] == [True, False]
    assert turned.movement.impressions[1].corners == plain.movement.impressions[1].corners
