"""Reading our own sheet from computed photos: how truly, how much may be missing, and what is refused."""

import cv2
import numpy as np
import pytest
from bench.sheets import (
    BLACK,
    PAPER,
    Shot,
    drawn_page,
    errors_delta_e00,
    filled,
    ink_colours,
    photographed,
    sample_pages,
    shot,
)
from numpy.typing import NDArray

from blockwright.colour import delta_e00, linear_to_lab, srgb_to_linear
from blockwright.inks.light import fit_light
from blockwright.inks.marks import find_page
from blockwright.inks.reading import (
    SheetReading,
    black_is_there,
    read_sheet,
    trusted_patches,
    unprinted_rows,
)
from blockwright.inks.sheet import lay_out_sheet, plan_sheet
from blockwright.model.errors import InkError

PAPER_RGB = (float(PAPER[0]), float(PAPER[1]), float(PAPER[2]))
PAGES = sample_pages()
PAGE = PAGES[0]
SCALE = 4.5

Scene = NDArray[np.float64]
Pixels = NDArray[np.uint8]


@pytest.fixture(scope="module")
def scene() -> Scene:
    """The page, filled with known colours, at SCALE pixels to the mm."""
    return filled(PAGE, drawn_page(PAGE, pixels_per_mm=SCALE), ink_colours(PAGE), pixels_per_mm=SCALE)


@pytest.fixture(scope="module")
def scan(scene: Scene) -> Pixels:
    """A flat scan of it."""
    return photographed(scene, turn_deg=0.5, tilt=0.0, light_fall=0.02)


def read(pixels: Pixels) -> SheetReading:
    return read_sheet(pixels, PAGES, paper_linear=PAPER_RGB)


def worst(reading: SheetReading) -> float:
    return max(errors_delta_e00(reading, ink_colours(PAGE)).values())


def in_picture(pixels: Pixels, box_mm: tuple[float, float, float, float]) -> NDArray[np.int32]:
    """The corners of a box of the page in the picture."""
    x, y, width, height = box_mm
    corners = np.array([(x, y), (x + width, y), (x + width, y + height), (x, y + height)])
    return np.rint(find_page(pixels, PAGES).pixels(corners)).astype(np.int32)


def painted(
    pixels: Pixels, box_mm: tuple[float, float, float, float], colour: tuple[int, int, int]
) -> Pixels:
    """The picture with something over a box of the page."""
    over = pixels.copy()
    cv2.fillConvexPoly(over, in_picture(pixels, box_mm), colour)
    return over


# --- how truly ---------------------------------------------------------------------------------------------


def test_a_photo_at_an_angle_in_uneven_light_is_read_truly() -> None:
    """Turned 7 degrees, in perspective, light falling by 30 %: every patch within 1 of the truth."""
    taken: Shot = shot(PAGE, pixels_per_mm=6.0)
    reading = read(taken.pixels)
    errors = errors_delta_e00(reading, taken.truth)
    assert set(errors) == set(PAGE.patches)
    assert max(errors.values()) < 0.4
    assert not reading.notes
    assert 10.0 < reading.light_fall_percent < 30.0
    assert all(patch.spread_delta_e00 < 0.5 for patch in reading.patches)


@pytest.mark.parametrize("turn_deg", [90.0, 183.0])
def test_any_way_up(scene: Scene, turn_deg: float) -> None:
    assert worst(read(photographed(scene, turn_deg=turn_deg, lens_deg=25.0))) < 0.4


def test_without_the_papers_colour_the_scans_own_is_believed(scan: Pixels) -> None:
    reading = read_sheet(scan, PAGES)
    assert reading.paper_linear == reading.scanned_paper_linear
    np.testing.assert_allclose(reading.paper_linear, PAPER, rtol=0.03)
    bare = [patch.relative for patch in reading.patches if patch.patch.kind == "paper"]
    np.testing.assert_allclose(bare, 1.0, atol=0.01)


def test_a_correction_is_applied_to_patches_and_paper(scan: Pixels) -> None:
    mixing = np.array([[0.9, 0.1, 0.0], [0.0, 0.95, 0.05], [0.05, 0.0, 0.9]])
    plain, corrected = (
        read_sheet(scan, PAGES),
        read_sheet(scan, PAGES, correct=lambda linear: linear @ mixing),
    )
    for before, after in zip(plain.patches, corrected.patches, strict=True):
        np.testing.assert_allclose(after.linear, np.array(before.linear) @ mixing, rtol=1e-6)
    np.testing.assert_allclose(corrected.paper_linear, np.array(plain.paper_linear) @ mixing)


def test_specks_do_not_count(scan: Pixels) -> None:
    patch = next(patch for patch in PAGE.patches if patch.code == "2w2")
    x, y, _, _ = patch.box
    assert worst(read(painted(scan, (x + 5.0, y + 5.0, 1.2, 1.2), (255, 255, 255)))) < 0.4


def test_uneven_printing_is_told_of(scan: Pixels) -> None:
    patch = next(patch for patch in PAGE.patches if patch.code == "2w2")
    x, y, width, height = patch.box
    reading = read(painted(scan, (x, y, width / 2, height), (220, 190, 170)))
    assert any("Printed unevenly: 2w2" in note for note in reading.notes)


# --- what is missing ---------------------------------------------------------------------------------------


def test_a_torn_corner_is_named_and_the_rest_is_read(scan: Pixels) -> None:
    corner = in_picture(scan, (180.0, 267.0, 40.0, 40.0))
    torn = scan.copy()
    cv2.fillConvexPoly(torn, corner[[1, 2, 3]], (40, 40, 40))
    reading = read(torn)
    assert reading.marks_missing == ("lower right corner",)
    assert "1 of 10 marks are missing (lower right corner)" in reading.notes[0]
    assert len(reading.patches) == len(PAGE.patches)
    assert worst(reading) < 0.4


def test_what_lies_outside_the_picture_is_left_out(scan: Pixels) -> None:
    """A photo that cuts off the right part of the page."""
    right = in_picture(scan, (165.0, 0.0, 1.0, 297.0))[:, 0].min()
    reading = read(scan[:, :right])
    codes = {patch.patch.code for patch in reading.patches}
    assert "1w3" in codes
    assert "1k3" not in codes
    assert any(note.startswith("Not in the picture, and left out: k") for note in reading.notes)
    assert worst(reading) < 0.6


def test_stains_on_bare_paper_do_not_bend_the_light(scan: Pixels) -> None:
    page, stained = find_page(scan, PAGES), scan.copy()
    for count, (x, y, width, height) in enumerate(PAGE.light_spots[:20], start=1):
        corners = np.array([(x, y), (x + width, y), (x + width, y + height), (x, y + height)])
        cv2.fillConvexPoly(stained, np.rint(page.pixels(corners)).astype(np.int32), (120, 90, 160))
        if count == 6:
            assert worst(read(stained)) < 0.4
    assert any("stained or shaded" in note for note in read(stained).notes)


def test_swatches_that_were_pasted_on_plain_paper(scene: Scene) -> None:
    """The paper of the edition is what lies in the boxes, not the page round them."""
    plain = scene.copy()
    page_only = np.ones(scene.shape[:2], dtype=bool)
    for patch in PAGE.patches:
        x, y, width, height = (round(v * SCALE) for v in patch.box)
        page_only[y : y + height, x : x + width] = False
    plain[page_only] *= np.array([1.1, 1.15, 1.25])
    reading = read(photographed(np.clip(plain, 0.0, 1.0)))
    assert any("as pasted pieces do" in note for note in reading.notes)
    assert worst(reading) < 0.6


def test_rows_and_grounds_that_were_not_printed(scene: Scene) -> None:
    bare = scene.copy()
    for patch in PAGE.patches:
        if patch.row == 1 or patch.ground == "black":
            x, y, width, height = (round(v * SCALE) for v in patch.box)
            bare[y : y + height, x : x + width] = PAPER
    reading = read(photographed(bare))
    assert unprinted_rows(reading.patches) == (1,)
    assert not black_is_there(reading.patches)
    assert any("left out: Prussian blue" in note for note in reading.notes)
    assert any("black ground is missing or grey" in note for note in reading.notes)
    assert {(p.patch.row, p.patch.ground) for p in trusted_patches(reading.patches)} == {
        (row, "paper") for row in (None, 0, 2, 3, 4, 5)
    }


def test_burnt_out_paper_is_told_of(scene: Scene) -> None:
    reading = read(photographed(np.clip(scene * 1.5, 0.0, 1.0), light_fall=0.0))
    assert any("burnt out" in note for note in reading.notes)


def test_colours_beyond_what_a_picture_holds_are_told_of_and_left_out(scene: Scene) -> None:
    strong = scene.copy()
    for patch in PAGE.patches:
        if patch.row == 0 and patch.ground == "paper" and patch.passes > 1:
            x, y, width, height = (round(v * SCALE) for v in patch.box)
            strong[y : y + height, x : x + width] = [-0.05, 0.5, 0.6]
    reading = read(photographed(strong))
    assert {p.patch.code for p in reading.patches if p.cut_off} == {"1w2", "1w3"}
    assert any("Stronger or brighter than a picture in sRGB can hold" in note for note in reading.notes)
    kept = {p.patch.code for p in trusted_patches(reading.patches)}
    assert "1w1" in kept
    assert not kept & {"1w2", "1w3"}


def test_what_is_brighter_than_the_picture_holds_is_a_bound(scene: Scene) -> None:
    """A white on a paper that the scan shows as nearly white."""
    bright = scene / PAPER.max() * 0.93
    for patch in PAGE.patches:
        if patch.row == 0 and patch.ground == "paper":
            x, y, width, height = (round(v * SCALE) for v in patch.box)
            bright[y : y + height, x : x + width] = 1.1
    reading = read(photographed(bright, light_fall=0.0, tilt=0.0))
    assert {p.patch.code for p in reading.patches if p.cut_off} == {"1w1", "1w2", "1w3"}
    kept = {p.patch.code for p in trusted_patches(reading.patches)}
    assert {"1w1", "1w2", "1w3"} <= kept, "all of a row are better than none"


# --- what is refused ---------------------------------------------------------------------------------------


def refusal(pixels: Pixels, pages: object = PAGES) -> str:
    with pytest.raises(InkError) as found:
        read_sheet(pixels, pages, name="scan.png")  # type: ignore[arg-type]
    assert "\n" not in str(found.value)
    return str(found.value)


@pytest.mark.parametrize("size", [(400, 300), (1, 1), (3, 10000), (33, 5000)])
def test_no_marks(size: tuple[int, int]) -> None:
    noise = np.random.default_rng(1).integers(0, 255, (*size, 3), dtype=np.uint8)
    assert refusal(noise).startswith("No mark of a calibration sheet is seen in scan.png")


def test_the_sheet_of_another_description(scan: Pixels) -> None:
    other = lay_out_sheet(plan_sheet(["violet"], size_mm=(210.0, 297.0)))
    message = refusal(scan, other)
    assert f"Scan.png shows calibration sheet {PAGE.number}, not sheet {other[0].number}" in message


def test_a_page_is_found_among_others(scan: Pixels) -> None:
    other = lay_out_sheet(plan_sheet(["violet"], size_mm=(210.0, 297.0)))
    assert read_sheet(scan, [*other, *PAGES]).page is PAGE


def test_too_few_marks_and_marks_on_one_side(scan: Pixels) -> None:
    corners = {mark.place: in_picture(scan, mark.box) for mark in PAGE.marks}
    few = scan.copy()
    for mark in PAGE.marks:
        if not mark.name.startswith(("right", "upper right", "lower right")):
            cv2.fillConvexPoly(few, corners[mark.place], (230, 230, 230))
    message = refusal(few)
    assert message.startswith("Only 4 of the 10 marks of the sheet are seen in scan.png; missing: upper left")
    cv2.fillConvexPoly(few, corners[1], (230, 230, 230))
    assert "Only 3 of the 10 marks" in refusal(few)


def test_too_small_and_blurred(scan: Pixels) -> None:
    small = np.asarray(cv2.resize(scan, None, fx=0.4, fy=0.4, interpolation=cv2.INTER_AREA), np.uint8)
    assert "pixels to the mm; 3 or more are needed" in refusal(small)
    blurred = np.asarray(cv2.GaussianBlur(scan, (0, 0), SCALE * 1.5), np.uint8)
    assert "sharp" in refusal(blurred)


def test_blur_that_leaves_the_marks_readable_does_not_hurt(scan: Pixels) -> None:
    blurred = np.asarray(cv2.GaussianBlur(scan, (0, 0), SCALE * 0.6), np.uint8)
    assert worst(read(blurred)) < 0.4


# --- light -------------------------------------------------------------------------------------------------


def test_light_of_the_family_is_found_exactly_in_spite_of_stains() -> None:
    rng = np.random.default_rng(3)
    places = rng.uniform(0.0, 200.0, (60, 2))
    x, y = (places / 100.0 - 1.0).T
    true = np.exp(-0.4 + 0.1 * x - 0.2 * y - 0.15 * x * x + 0.05 * x * y * y)[:, None] * np.array(
        [1.0, 0.95, 0.8]
    )
    seen = true * np.where(rng.random(60) < 0.15, 0.6, 1.0)[:, None]
    light = fit_light(places, seen, np.zeros(60, dtype=bool), size_mm=(200.0, 200.0))
    np.testing.assert_allclose(light.at(places), true, rtol=1e-6)
    np.testing.assert_array_equal(light.odd, seen[:, 0] < 0.7 * true[:, 0])


def test_pasted_paper_is_one_factor() -> None:
    places = np.stack(np.meshgrid(np.linspace(0, 100, 7), np.linspace(0, 100, 7)), axis=-1).reshape(-1, 2)
    pasted = np.arange(49) % 3 == 0
    seen = np.where(pasted[:, None], [0.5, 0.45, 0.4], [0.8, 0.8, 0.8])
    light = fit_light(places, seen, pasted, size_mm=(100.0, 100.0))
    np.testing.assert_allclose(light.pasted, [0.625, 0.5625, 0.5])
    with pytest.raises(ValueError, match="at least 8"):
        fit_light(places[:7], seen[:7], pasted[:7], size_mm=(100.0, 100.0))


def test_the_scene_of_these_tests_is_what_it_says(scan: Pixels) -> None:
    """The truth that the others are held to, looked up in the picture itself."""
    patch = next(patch for patch in PAGE.patches if patch.code == "k1")
    x, y = in_picture(scan, patch.box).mean(axis=0).astype(int)
    around = srgb_to_linear(scan[y - 5 : y + 5, x - 5 : x + 5] / 255.0).mean(axis=(0, 1))
    assert float(delta_e00(linear_to_lab(around), linear_to_lab(BLACK))) < 1.0
