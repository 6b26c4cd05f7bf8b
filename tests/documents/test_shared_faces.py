"""Faces that carry several impressions: every drawing says which ink goes where, and what is turned."""

from dataclasses import replace
from functools import cache
from itertools import combinations
from pathlib import Path

import ezdxf
import numpy as np
import pdfplumber
import pytest
import shapely
from PIL import Image
from sample_print import HEIGHT_MM, WIDTH_MM, SamplePrint, face_cut, make_packet, make_print
from shapely.geometry import MultiPolygon, box
from test_packet import texts_of

from blockwright.blocks.kento import turn_kento
from blockwright.documents import (
    InkSaid,
    draw_face_png,
    write_face_dxf,
    write_face_svg,
    write_packet,
    write_transfer_sheet,
)
from blockwright.documents.face_plate import block_on_page, face_placement
from blockwright.documents.ink_labels import InkLabel, place_labels, tints
from blockwright.model.blocks import Face, FacePart, Piece, SawnBoard
from blockwright.model.cut import Cut

INKS = {1: InkSaid("sky", "#1f4fa3"), 4: InkSaid("far shore", "#a33d1f")}
NEAR = MultiPolygon([box(40, 40, 130, 90), box(140, 60, 150, 70), box(40, 180, 52, 190)])
FAR = MultiPolygon([box(220, 120, 226, 126)])


def shared_face() -> Face:
    """Impression 1 in two clusters, and 4, turned, in a small one."""
    parts = (FacePart(1, NEAR), FacePart(4, FAR, turned=True))
    both = MultiPolygon([*NEAR.geoms, *FAR.geoms])
    return Face("A front", "front", (1, 4), both, parts, "Sky and far shore share it, 75 mm apart.")


@cache
def sample() -> SamplePrint:
    """The sample print, its first face shared, and its boards sawn."""
    plain = make_print(count=4)
    board = replace(plain.blocks.boards[0], faces=(shared_face(),))
    sawn = SawnBoard(
        "plank 1",
        "plank",
        500.0,
        400.0,
        (Piece("A", 0.0, 0.0, 408.0, 283.0),),
        (Piece("offcut 1 of plank 1", 0.0, 286.0, 500.0, 114.0),),
    )
    blocks = replace(
        plain.blocks,
        boards=(board,),
        turned_kento=turn_kento(plain.blocks.kento, plain.blocks.block),
        sawn=(sawn, replace(sawn, name="plank 2", blocks=(Piece("B", 0.0, 0.0, 408.0, 283.0),))),
    )
    cut = Cut((face_cut(shared_face(), blocks.block, "hand"),))
    return replace(plain, blocks=blocks, cut=cut)


def labels(scale: float = 2.0) -> list[InkLabel]:
    placement, _ = face_placement(
        sample().blocks, (0, 0, WIDTH_MM * scale, HEIGHT_MM * scale), as_seen="carver"
    )
    return place_labels(
        shared_face(),
        INKS,
        placement,
        frame=block_on_page(sample().blocks, placement),
        measure=lambda words: 9.0 * len(words),
        height=16.0,
    )


def test_every_cluster_of_an_ink_has_a_label_and_the_largest_its_name() -> None:
    assert [(label.impression, label.words) for label in labels()] == [
        (1, "1 sky"),
        (1, "1"),
        (4, "4 far shore, turned"),
    ]


@pytest.mark.parametrize("scale", [0.8, 2.0, 4.0])
def test_labels_keep_clear_of_each_other_and_lie_on_the_block(scale: float) -> None:
    placed = [box(*label.box) for label in labels(scale)]
    assert not any(one.intersects(other) for one, other in combinations(placed, 2))
    placement, _ = face_placement(
        sample().blocks, (0, 0, WIDTH_MM * scale, HEIGHT_MM * scale), as_seen="carver"
    )
    assert all(box(*block_on_page(sample().blocks, placement)).covers(each) for each in placed)


def test_a_large_area_holds_its_label_and_a_small_one_has_it_beside_it() -> None:
    placement, _ = face_placement(sample().blocks, (0, 0, WIDTH_MM * 2, HEIGHT_MM * 2), as_seen="carver")

    def on_page(region: shapely.Polygon) -> shapely.Polygon:
        return box(*placement.points(np.array(region.bounds).reshape(2, 2)).ravel())

    first, _, small = labels()
    assert on_page(NEAR.geoms[0]).covers(box(*first.box))
    assert on_page(FAR.geoms[0]).disjoint(box(*small.box))
    assert on_page(FAR.geoms[0]).distance(box(*small.box)) < 20.0


def test_a_face_of_one_impression_has_no_labels() -> None:
    alone = Face("A front", "front", (1,), NEAR)
    placement, _ = face_placement(sample().blocks, (0, 0, 400, 300), as_seen="carver")
    frame = block_on_page(sample().blocks, placement)
    assert place_labels(alone, INKS, placement, frame=frame, measure=len, height=10.0) == []


def test_the_drawing_shows_each_ink_in_its_own_colour(tmp_path: Path) -> None:
    draw_face_png(tmp_path / "a.png", sample().blocks, shared_face(), pixels=900, as_seen="carver", inks=INKS)
    with Image.open(tmp_path / "a.png") as picture:
        pixels = np.asarray(picture.convert("RGB"), dtype=np.int16)
    covered = {
        number: int(
            (np.abs(pixels - [int(ink.srgb_hex[k : k + 2], 16) for k in (1, 3, 5)]).max(axis=2) < 8).sum()
        )
        for number, ink in INKS.items()
    }
    assert covered[1] / covered[4] == pytest.approx(NEAR.area / FAR.area, rel=0.5)


def test_the_transfer_sheets_name_the_inks_and_both_pairs_of_marks(tmp_path: Path) -> None:
    write_transfer_sheet(
        tmp_path / "a.pdf",
        sample().blocks,
        shared_face(),
        sample().cut.faces[0],
        kind="face down",
        paper="roll",
        roll_mm=610.0,
        overlap_mm=10.0,
        title="Tide mill",
        impression_names={number: ink.name for number, ink in INKS.items()},
    )
    with pdfplumber.open(tmp_path / "a.pdf") as pdf:
        text = " ".join(page.extract_text() for page in pdf.pages)
    for words in ("1 sky", "4 far shore, turned", "kagi, turned:", "hikitsuke, turned:"):
        assert words in text
    assert "impressions 1, sky; 4, far shore" in text


def test_outlines_have_the_marks_of_both_ways(tmp_path: Path) -> None:
    cut = sample().cut.faces[0]
    write_face_dxf(tmp_path / "a.dxf", sample().blocks, shared_face(), cut)
    drawing = ezdxf.readfile(tmp_path / "a.dxf")
    assert len(drawing.modelspace().query('LWPOLYLINE[layer=="MARKS"]')) == 4
    write_face_svg(tmp_path / "a.svg", sample().blocks, shared_face(), cut)
    svg = (tmp_path / "a.svg").read_text(encoding="utf-8")
    assert "<title>A front: impressions 1, 4</title>" in svg
    groups = svg.split('<g id="printing"')[1].split('<g id="impression-')[1:]
    assert [group.split('"')[0] for group in groups] == ["1", "4"]
    assert [group.split("</g>")[0].count("<path") for group in groups] == [3, 1]
    assert "<title>impression 4, for which the block is turned by half</title>" in svg


def test_the_packet_says_how_a_shared_face_is_inked_and_turned(tmp_path: Path) -> None:
    write_packet(tmp_path / "packet.pdf", make_packet(sample()))
    texts = texts_of(tmp_path / "packet.pdf")
    (face,) = [text for text in texts if text.startswith("A front")]
    assert "One face for several inks. Sky and far shore share it, 75 mm apart." in face
    assert "Turn the block for 4: lay it down with its upper edge towards you" in face
    assert "The turned ones lie the same way from the opposite edges." in face
    assert "4 tide, turned" in face
    (order,) = [text for text in texts if text.startswith("Printing order")]
    assert order.count("the block turned by half") == 1
    (boards,) = [text for text in texts if text.startswith("Boards to saw")]
    assert "2 × plank, 500 × 400 mm: blocks A and B" in boards
    assert "left over of each: 500 × 114 mm" in boards


def test_one_carving_for_an_ink_and_for_karazuri_is_drawn_in_its_ink() -> None:
    """Karazuri comes later and shows the paper, which must not hide the ink."""
    area = shapely.MultiPolygon([shapely.box(0.0, 0.0, 20.0, 10.0)])
    face = Face("A front", "front", (1, 2), area, (FacePart(1, area), FacePart(2, area)))
    inks = {1: InkSaid("ochre", "#b4935a"), 2: InkSaid("karazuri", "#f6efdf", blind=True)}
    assert [(part.impression, tint) for part, tint in tints(face, inks, "#000000")] == [
        (2, "#f6efdf"),
        (1, "#b4935a"),
    ]
