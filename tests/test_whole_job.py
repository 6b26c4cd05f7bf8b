"""The demo print from nothing to the packet, and what a printmaker would check before cutting.

Facts of the trade that serve as plausibility checks are marked: common practice, no source.
"""

import json
import warnings
from functools import cached_property
from itertools import combinations, pairwise
from typing import Any

import ezdxf
import numpy as np
import pdfplumber
import pikepdf
import pypdfium2
import pytest
import shapely
import trimesh
from numpy.typing import NDArray
from PIL import Image
from shapely.geometry import Point, Polygon, box

from blockwright.decisions import read_decisions
from finished_demo import FinishedDemo

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # It misses matplotlib, which nobody needs here.
    import colour

MM = 25.4 / 72
"""One PDF unit in mm (ISO 32000-1, 8.3.2.3)."""

PAPER = "#f6efdf"
WIDTH_MM, HEIGHT_MM = 360.0, 240.0
STAGES = ("design", "separation", "inks", "blocks", "cutting", "proof")


class Told:
    """Everything that the demo's run left for other programs."""

    def __init__(self, demo: FinishedDemo) -> None:
        self.demo = demo
        self.design, self.separation, self.inks, self.blocks, self.cutting, self.proof = (
            json.loads((demo.out / stage / f"{stage}.json").read_text(encoding="utf-8")) for stage in STAGES
        )

    @cached_property
    def faces(self) -> list[dict[str, Any]]:
        return [face for board in self.blocks["boards"] for face in board["faces"]]

    @cached_property
    def values(self) -> dict[str, Any]:
        """What the next stages go on from: geometry as well-known binary in hexadecimal."""
        return {
            stage: json.loads((self.demo.out / stage / "value.json").read_text(encoding="utf-8"))
            for stage in STAGES
        }


@pytest.fixture(scope="module", name="told")
def _told(demo_print: FinishedDemo) -> Told:
    assert demo_print.exit_code == 0, demo_print.stderr
    return Told(demo_print)


# --- the run -----------------------------------------------------------------------------------------------


def test_the_command_tells_one_object(demo_print: FinishedDemo, told: Told) -> None:
    found = json.loads(demo_print.stdout)
    assert found["demo"] is True
    assert found["stopped"] is False
    assert {name: stage["figures"] for name, stage in found["stages"].items()} == {
        stage: getattr(told, stage)["figures"] for stage in STAGES
    }
    assert all(stage["made_anew"] for stage in found["stages"].values())
    assert len(found["findings"]) == sum(len(getattr(told, stage)["findings"]) for stage in STAGES)


def test_progress_is_told_stage_by_stage(demo_print: FinishedDemo) -> None:
    lines = demo_print.stderr.splitlines()
    for stage in (*STAGES, "packet.pdf"):
        assert f"{stage} ..." in lines
        assert any(line.startswith(f"{stage}: done in ") for line in lines)


def test_the_print_folder_holds_what_the_plan_says(demo_print: FinishedDemo) -> None:
    assert {p.name for p in demo_print.folder.iterdir()} == {"print.toml", "design.png", "out"}
    shown = {p.name for p in demo_print.out.iterdir() if not p.name.startswith(".")}
    assert shown == {"tracing", *STAGES, "packet.pdf"}
    settings = read_decisions(demo_print.folder)
    assert settings.print.title == "Tide mill at low water"
    assert len(settings.design.name) >= 10, "the demo's colours have a printmaker's names"


# --- the design --------------------------------------------------------------------------------------------


def test_the_design_is_whole(told: Told) -> None:
    figures = told.design["figures"]
    assert figures["width_mm"] == WIDTH_MM
    assert figures["height_mm"] == pytest.approx(HEIGHT_MM, abs=0.1)
    assert figures["coverage_valid"] is True
    assert figures["gap_mm2"] == pytest.approx(0.0, abs=0.01)
    assert figures["overlap_mm2"] == pytest.approx(0.0, abs=0.01)
    assert figures["median_delta_e00"] < 2.0
    assert 12 <= figures["colours"] <= 30
    assert 100 <= figures["shapes"] <= 1000


def test_the_shapes_cover_the_sheet_by_an_independent_count(told: Told) -> None:
    """shapely (GEOS), OGC Simple Features."""
    regions = shapely.from_wkb([shape["region"] for shape in told.values["design"]["shapes"]])
    assert len(regions) == told.design["figures"]["shapes"]
    assert shapely.is_valid(regions).all()
    assert shapely.coverage_is_valid(regions)
    sheet = box(0, 0, WIDTH_MM, told.design["figures"]["height_mm"])
    assert shapely.area(regions).sum() == pytest.approx(sheet.area, rel=1e-6)
    assert shapely.coverage_union_all(regions).symmetric_difference(sheet).area < 0.01
    for shape, region in zip(told.values["design"]["shapes"], regions, strict=True):
        assert region.contains(Point(shape["at"]))


def test_the_painted_colours_are_found(told: Told) -> None:
    """The flat paints of the picture, by the names that the demo gives them."""
    found = {colour["name"]: colour["hex"] for colour in told.design["palette"]}
    wanted = {
        "bare paper": PAPER,
        "gold leaf": "#dda73c",
        "silver water": "#aebbc4",
        "madder red": "#b5483c",
        "reed black": "#23222b",
    }
    for name, value in wanted.items():
        difference = np.abs(_rgb(found[name]).astype(int) - _rgb(value).astype(int)).max()
        assert difference <= 3, f"{name} is {found[name]}, was painted {value}"


# --- the impressions ---------------------------------------------------------------------------------------


def test_fewer_impressions_print_every_colour_but_the_paper(told: Told) -> None:
    every, figures = told.separation["impressions"], told.separation["figures"]
    assert [each["kind"] for each in every[-2:]] == ["karazuri", "leaf"]
    impressions = every[:-2]
    unprinted = {colour["name"] for colour in told.design["palette"]}
    unprinted -= {name for each in impressions for name in each["colours"]}
    assert unprinted == {"bare paper", "gold leaf"}
    runs = {each["colour"] for each in told.design["runs"]}
    assert runs == {"dusk sky", "water"}
    # Line work is printed from one block, which prints nothing else; what runs is printed flat and brushed
    # out over that.
    (key,) = (each for each in impressions if each["kind"] == "key")
    assert key["colours"] == ["reed black"]
    assert not any("reed black" in each["colours"] for each in impressions if each is not key)
    shared = [each for each in impressions if each is not key and not runs & set(each["colours"])]
    assert len(shared) < 0.8 * (told.design["figures"]["colours"] - len(unprinted) - len(runs) - 1)
    assert len(impressions) == len(shared) + 2 * len(runs) + 1
    assert figures["blocks_needed"] < told.design["figures"]["colours"]
    assert figures["blocks_needed"] <= figures["impressions"] == len(every)
    assert len({each["name"] for each in every}) == len(every)
    assert [each["number"] for each in every] == list(range(1, len(every) + 1))
    # The curve is of the others; a run has one block for its flat and its gradation, karazuri has one.
    others = figures["blocks_needed"] - len(runs) - 2
    (taken,) = (p for p in told.separation["curve"] if p["blocks"] == others)
    assert taken["within"]
    assert taken["max_delta_e00"] <= 3.0
    assert figures["median_delta_e00"] <= 3.0


def _colour_of(impression: dict[str, Any], runs: set[str]) -> str:
    """The palette's name for what an impression prints."""
    whole = str(impression["name"]).rpartition(", ")[0]
    return whole if whole in runs else str(impression["name"])


def test_impressions_go_from_light_to_dark(told: Told) -> None:
    """But for neighbours that change places so that two solid blocks do not follow one another."""
    inked = [each for each in told.separation["impressions"] if each["ink"] is not None]
    order = [float(_lab(_rgb(each["hex"]))[0]) for each in inked]
    assert all(later <= earlier + 8.0 for earlier, later in pairwise(order))
    assert (order[0], order[-1]) == (max(order), min(order))


def test_sky_and_water_are_one_gradation_each(told: Told) -> None:
    """As they were painted: from the top to the far shore, and from there to the near creek."""
    for name, top, bottom, kind in (("dusk sky", 0.0, 93.5, "fukisage"), ("water", 104.5, 240.0, "fukiage")):
        (run,) = (each for each in told.design["runs"] if each["colour"] == name)
        ends = sorted(place[1] for place in (run["axis"]["start"], run["axis"]["end"]))
        assert ends == pytest.approx([top, bottom], abs=0.03 * (bottom - top))
        assert run["axis"]["start"][0] == run["axis"]["end"][0]
        (brushed,) = (
            each["gradation"]
            for each in told.separation["impressions"]
            if each["name"].startswith(f"{name}, ") and each["gradation"]
        )
        assert brushed["kind"] == kind
        assert brushed["worst_delta_e00"] < 4.0


def test_numbers_are_those_of_the_trade(told: Told) -> None:
    """Common practice, no source: one to four passes; 0.5 mm of trap; under thirty impressions."""
    assert all(1 <= each["passes"] <= 4 for each in told.separation["impressions"])
    traps = {each["trap_mm"] for each in told.separation["impressions"] if each["ink"] is not None}
    assert traps == {0.5}
    assert len(told.separation["impressions"]) <= 30
    sheet_mm2 = WIDTH_MM * HEIGHT_MM
    assert all(1.0 < each["area_mm2"] < sheet_mm2 for each in told.separation["impressions"])


def test_nothing_prints_on_bare_paper(told: Told) -> None:
    """shapely: no impression's area enters a shape that is left as paper."""
    shapes = told.values["design"]["shapes"]
    bare = [shapes[k]["region"] for k in told.values["separation"]["paper_shapes"]]
    paper = shapely.union_all(shapely.from_wkb(bare))
    assert paper.area > 1000
    for each in told.values["separation"]["impressions"]:
        assert shapely.from_wkb(each["area"]).intersection(paper).area < 0.01, each["name"]


def test_the_sun_is_one_leaf_of_gold_and_the_heron_is_pressed(told: Told) -> None:
    (gold,) = told.separation["leaf"]
    assert (gold["metal"], gold["proven_fewest"], gold["leaves"]) == ("gold", True, 1)
    pressed = told.values["separation"]["impressions"][-2]
    bird = shapely.from_wkb(pressed["area"])
    assert bird.contains(Point(165, 50))
    assert pressed["ink"] is None
    # Sun and bird stand alone in the sky: each is one shape, but for the bird's far wing.
    assert len(told.values["separation"]["impressions"][-1]["shapes"]) == 1
    assert len(bird.geoms) == 2


# --- the blocks --------------------------------------------------------------------------------------------


def test_every_impression_has_a_face_and_boards_are_used_on_both(told: Told) -> None:
    figures = told.blocks["figures"]
    carried = [number for face in told.faces for number in face["impressions"]]
    # All but leaf, which comes last and takes no block.
    assert sorted(carried) == list(range(1, told.separation["figures"]["impressions"]))
    assert figures["faces"] == len(told.faces)
    assert figures["boards"] == -(-figures["faces"] // 2)
    assert 1 <= figures["faces_lower_bound"] <= figures["faces"]


def test_the_marks_are_at_the_same_place_on_every_face(told: Told) -> None:
    assert len({json.dumps(face["kento"]) for face in told.faces}) == 1
    assert all(face["mirrored"] is True for face in told.faces)


def test_the_marks_stand_where_the_printer_expects_them(told: Told) -> None:
    """Fletcher, Wood-Block Printing, 1916: the kagi at the block's lower right, as the printer sees it.

    On the face x runs to the right and y down, from the image's upper left corner; the block being
    mirrored, that is the lower left of the print. The marks 10 to 20 mm from the image: Edo woodblock
    craft specification. The hikitsuke two thirds of the sheet's length from the kagi: an art university's
    printmaking glossary.
    """
    kento = told.faces[0]["kento"]
    (kagi_x, kagi_y), (hikitsuke_x, hikitsuke_y) = kento["kagi"], kento["hikitsuke"]
    height = told.design["figures"]["height_mm"]
    assert 10 <= kagi_x - WIDTH_MM <= 20
    assert 10 <= kagi_y - height <= 20
    on_the_print = WIDTH_MM - kagi_x
    assert on_the_print < 0
    assert hikitsuke_y == pytest.approx(kagi_y)
    assert (kagi_x - hikitsuke_x) / (WIDTH_MM + 30.0) == pytest.approx(2 / 3, abs=0.001)


def test_faces_are_the_impressions_mirrored(told: Told) -> None:
    """A point (x, y) of the print lies at (width - x, y) on the face.

    Where the block is laid down turned by half, the face is looked at the other way up.
    """
    mirrored = 0
    impressions = {each["number"]: each for each in told.values["separation"]["impressions"]}
    left, top, right, bottom = shapely.from_wkb(told.values["blocks"]["block"]).bounds
    for board in told.values["blocks"]["boards"]:
        for face in board["faces"]:
            carved = shapely.from_wkb(face["printing"])
            flipped = {}
            for number in face["impressions"]:
                area = shapely.from_wkb(impressions[number]["area"])
                flipped[number] = shapely.transform(area, lambda xy: xy * [-1, 1] + [WIDTH_MM, 0])
                mirrored += flipped[number].symmetric_difference(area).area > 0.1 * area.area
            for part in face["parts"]:
                if part["turned"]:
                    flipped[part["impression"]] = shapely.transform(
                        flipped[part["impression"]], lambda xy: [left + right, top + bottom] - xy
                    )
            both = shapely.union_all(list(flipped.values()))
            assert carved.symmetric_difference(both).area < 0.01 * carved.area
    assert mirrored >= len(impressions) - 2, "a level band of sky may look the same both ways"


def test_different_inks_on_one_face_keep_their_distance(told: Told) -> None:
    """30 mm: *Japanese Wood-Block Printing*, Tokyo 1939. The demo shares faces, proven the fewest."""
    shared = 0
    for board in told.values["blocks"]["boards"]:
        for face in board["faces"]:
            areas = [shapely.from_wkb(part["printing"]) for part in face["parts"]]
            # A flat and the gradation over it are printed from the very same wood.
            assert all(
                one.equals_exact(other, 0.0) or shapely.distance(one, other) >= 30.0
                for one, other in combinations(areas, 2)
            )
            shared += len(areas) > 1
    figures = told.blocks["figures"]
    assert shared == figures["shared_faces"] > 0
    assert figures["faces"] == figures["faces_lower_bound"] < told.separation["figures"]["impressions"]
    assert figures["proven_fewest"] is True


def test_marks_and_printing_areas_lie_on_wood(told: Told) -> None:
    blocks = told.values["blocks"]
    block = shapely.from_wkb(blocks["block"])
    for board in blocks["boards"]:
        assert (board["width_mm"], board["height_mm"]) == pytest.approx(_size(block))
        for face in board["faces"]:
            assert block.contains(shapely.from_wkb(face["printing"]))
    for mark in ("kagi_recess", "hikitsuke_recess"):
        recess = shapely.from_wkb(blocks["kento"][mark])
        assert block.contains(recess)
        assert not recess.intersects(box(0, 0, WIDTH_MM, HEIGHT_MM))


# --- for the bench -----------------------------------------------------------------------------------------


def test_every_file_that_is_told_is_there(told: Told) -> None:
    assert len(told.cutting["faces"]) == len(told.faces)
    for face in told.cutting["faces"]:
        assert len(face["files"]) == 4
        for name in face["files"]:
            assert (told.demo.out / "cutting" / name).stat().st_size > 1000


def test_carving_takes_as_long_as_carving_takes(told: Told) -> None:
    """Common practice, no source: a day or a few for a block set of this size, not minutes or months."""
    hours = told.cutting["figures"]["hand_min"] / 60
    assert 8 <= hours <= 400
    per_face = [face["minutes"] for face in told.cutting["faces"]]
    assert sum(per_face) == pytest.approx(told.cutting["figures"]["hand_min"])
    assert min(per_face) >= 10


def test_transfer_sheets_are_true_to_size(told: Told) -> None:
    """pdfplumber: A4 pages, and on each one level line of 100 mm."""
    path = told.demo.out / "cutting" / "A-front-face-down.pdf"
    with pdfplumber.open(path) as document:
        assert 2 <= len(document.pages) <= 16
        for page in document.pages:
            assert sorted([float(page.width) * MM, float(page.height) * MM]) == pytest.approx(
                [210, 297], abs=0.05
            )
            level = [
                line
                for line in [*page.lines, *page.curves, *page.rects]
                if abs(line["bottom"] - line["top"]) * MM < 0.01
                and abs((line["x1"] - line["x0"]) * MM - 100.0) < 0.02
            ]
            assert len(level) == 1
            assert "100 mm" in page.extract_text()


def test_outlines_are_in_mm_on_the_block(told: Told) -> None:
    """ezdxf for the unit (DXF R2010, $INSUNITS 4 = mm), trimesh for the extent and the area."""
    block = shapely.from_wkb(told.values["blocks"]["block"])
    width, height = _size(block)
    path = told.demo.out / "cutting" / "A-front.dxf"
    drawing = ezdxf.readfile(path)
    assert drawing.header["$INSUNITS"] == 4
    assert drawing.dxfversion == "AC1024"
    with path.open("rb") as file:
        outlines = trimesh.load_path(file, file_type="dxf")
    assert outlines.units in {"mm", "millimeter", "millimeters"}
    assert outlines.extents == pytest.approx([width, height], abs=0.01)
    wanted = shapely.from_wkb(told.values["blocks"]["boards"][0]["faces"][0]["printing"])
    rings = [
        # Rounded to a thousandth, an outline may touch itself.
        shapely.make_valid(Polygon([(point[0], point[1]) for point in line.get_points("xy")]))
        for line in drawing.modelspace().query("LWPOLYLINE")
        if line.dxf.layer.upper() in {"PRINTING", "PRINT"}
    ]
    assert rings
    inside = shapely.from_wkb(shapely.to_wkb(rings[0]))
    for ring in rings[1:]:
        inside = inside.symmetric_difference(ring)
    assert inside.area == pytest.approx(wanted.area, rel=0.002)
    left, top, _, bottom = block.bounds
    placed = shapely.transform(wanted, lambda xy: (xy - [left, bottom]) * [1, -1])
    assert placed.symmetric_difference(inside).area < 0.01 * wanted.area
    assert top < 0


def test_the_packet_has_a_page_for_each_face_and_more(told: Told) -> None:
    """pikepdf counts, PDFium reads."""
    path = told.demo.out / "packet.pdf"
    with pikepdf.open(path) as document:
        pages = len(document.pages)
    assert len(told.faces) + 8 <= pages <= len(told.faces) + 32
    read = pypdfium2.PdfDocument(path)
    first_lines = [page.get_textpage().get_text_range().splitlines()[0].strip() for page in read]
    read.close()
    assert first_lines[0].startswith("Tide mill at low water")
    names = [" ".join(line.split()[:2]) for line in first_lines]
    assert [name for name in names if name.endswith((" front", " back"))] == [
        face["name"] for face in told.faces
    ]


# --- the proof ---------------------------------------------------------------------------------------------


def _rgb(value: str) -> NDArray[np.uint8]:
    return np.frombuffer(bytes.fromhex(value[1:]), np.uint8)


def _size(area: Any) -> tuple[float, float]:
    left, top, right, bottom = area.bounds
    return right - left, bottom - top


def _lab(pixels: NDArray[np.uint8]) -> NDArray[np.float64]:
    """CIELAB (D65) by colour-science."""
    white = np.array([0.3127, 0.3290])
    found = colour.XYZ_to_Lab(colour.sRGB_to_XYZ(pixels / 255.0), white)
    return np.asarray(found, dtype=np.float64)


def test_the_proof_looks_like_the_design(told: Told) -> None:
    """CIEDE2000 by colour-science between the predicted print and the painted picture, pixel by pixel."""
    with Image.open(told.demo.out / "proof" / "proof.png") as opened:
        proof = opened.convert("RGB")
        dpi = opened.info["dpi"]
    assert dpi == pytest.approx((150, 150), abs=0.02)  # whole pixels to the metre
    assert proof.size == pytest.approx((WIDTH_MM / 25.4 * 150, HEIGHT_MM / 25.4 * 150), abs=1)
    with Image.open(told.demo.folder / "design.png") as opened:
        painted = opened.convert("RGB").resize(proof.size, Image.Resampling.BOX)
    step = 5
    seen, meant = (_lab(np.asarray(each)[::step, ::step]) for each in (proof, painted))
    difference = colour.delta_E(seen, meant, method="CIE 2000")
    assert np.median(difference) < 3.0
    # A gradation becomes steps; half a step is about 5.
    assert np.quantile(difference, 0.9) < 8.0


def test_the_proof_leaves_the_bare_paper(told: Told) -> None:
    with Image.open(told.demo.out / "proof" / "proof.png") as opened:
        proof = np.asarray(opened.convert("RGB"))
    shapes = told.values["design"]["shapes"]
    tried = 0
    for k in told.values["separation"]["paper_shapes"]:
        x, y = shapes[k]["at"]
        if shapely.from_wkb(shapes[k]["region"]).boundary.distance(Point(x, y)) > 0.3:
            seen = proof[int(y / 25.4 * 150), int(x / 25.4 * 150)]
            assert np.abs(seen.astype(int) - _rgb(PAPER)).max() <= 1
            tried += 1
    assert tried >= 3


def test_the_sheet_darkens_with_every_impression(told: Told) -> None:
    """A transparent ink cannot lighten what lies under it; one with some body may, a little, and
    over the trap of a darker one for a hair's breadth by more."""
    count = told.separation["figures"]["impressions"]
    pictures = sorted((told.demo.out / "proof").glob("after-*.png"))
    assert len(pictures) == count + 1
    before = None
    for path in pictures:
        with Image.open(path) as opened:
            now = np.asarray(opened.convert("L"))[::4, ::4].astype(int)
        if before is not None:
            assert (now <= before + 1).mean() > 0.9, path.name
            assert (now > before + 20).mean() < 0.001, path.name
            assert (now < before - 1).any(), path.name
        before = now


def test_the_proof_tells_every_shape(told: Told) -> None:
    figures = told.proof["figures"]
    assert len(told.proof["shapes"]) == told.design["figures"]["shapes"]
    assert 0.0 <= figures["median_delta_e00"] <= figures["p95_delta_e00"] < 10.0
    assert 0.0 < figures["register_risk_percent"] < 50.0
