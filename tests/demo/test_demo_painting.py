"""The painted picture: size, resolution, edges, line widths, roughness, and the same bytes every time."""

import struct
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image
from shapely import affinity
from shapely.geometry import Polygon, box

from blockwright.demo import (
    PaintedShape,
    Scene,
    colour_names,
    paint,
    tide_mill,
    visible_shapes,
    write_picture,
)
from blockwright.demo.palette import BLACK, NAMES
from blockwright.demo.scene import as_area, rgb_of
from blockwright.model.errors import PictureError

MM_PER_INCH = 25.4


@pytest.fixture(scope="module")
def scene() -> Scene:
    return tide_mill()


@pytest.fixture(scope="module")
def clean(scene: Scene) -> np.ndarray:
    return paint(scene, dpi=300, roughness=0)


def window(scene: Scene, left: float, top: float, size: float) -> Scene:
    """A square piece of a scene, as a scene of its own."""
    glass = box(left, top, left + size, top + size)
    shapes = []
    for shape in scene.shapes:
        part = as_area(shape.area.intersection(glass))
        if not part.is_empty:
            shapes.append(replace(shape, area=affinity.translate(part, -left, -top)))
    return replace(scene, width_mm=size, height_mm=size, shapes=tuple(shapes))


def test_size_at_300_dpi(clean: np.ndarray) -> None:
    assert clean.shape == (2835, 4252, 3)
    assert clean.dtype == np.uint8


def test_clean_picture_has_the_flat_colours_exactly(scene: Scene, clean: np.ndarray) -> None:
    colour_of = {name: key for key, name in NAMES.items()}
    for (x_mm, y_mm), name in colour_names(scene):
        pixel = clean[int(y_mm * 300 / MM_PER_INCH), int(x_mm * 300 / MM_PER_INCH)]
        assert tuple(pixel) == rgb_of(colour_of[name])


def test_sky_grades_without_a_step(clean: np.ndarray) -> None:
    column = clean[: int(50 * 300 / MM_PER_INCH), 3600].astype(int)
    steps = np.diff(column, axis=0)
    assert steps.min() >= 0
    assert steps.max() <= 1
    assert (column[-1] - column[0] > 20).all()


def test_an_edge_is_mixed_by_its_share_of_the_pixel() -> None:
    half = PaintedShape("half", as_area(box(0, 0, 1.3, 4)), "#ff8000")
    picture = paint(Scene("test", 4.0, 4.0, "#001020", (half,)), dpi=25.4, roughness=0)
    assert picture.shape == (4, 4, 3)
    expected = np.rint(0.3 * np.array((255, 128, 0)) + 0.7 * np.array((0, 16, 32)))
    np.testing.assert_array_equal(picture[:, 1], np.tile(expected, (4, 1)))


def course_of_the_roof(scene: Scene) -> Polygon:
    """The middle one of the roof's broken courses: a lone line in the darkest colour."""
    (lines,) = (shape for shape in visible_shapes(scene) if shape.name == "roof lines")
    lone = [part for part in lines.area.geoms if part.bounds[3] - part.bounds[1] < 6 < part.length]
    return sorted(lone, key=lambda part: float(part.centroid.y))[len(lone) // 2]


def test_thinnest_lines_are_four_tenths_of_a_millimetre(scene: Scene) -> None:
    # measured in pixels by OpenCV's exact distance transform, apart from the vectors that drew them
    dpi = 2400
    middle = course_of_the_roof(scene).centroid
    picture = paint(window(scene, middle.x - 1.5, middle.y - 1.5, 3.0), dpi=dpi, roughness=0)
    dark = np.all(np.abs(picture.astype(int) - rgb_of(BLACK)) < 8, axis=2).astype(np.uint8)
    inside = cv2.distanceTransform(dark, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    along_the_line = inside.max(axis=0)
    width_mm = (2 * np.median(along_the_line) - 1) / (dpi / MM_PER_INCH)
    assert width_mm == pytest.approx(0.4, abs=0.015)


def test_roughness_is_slight_and_specks_are_small(scene: Scene) -> None:
    dpi = 150
    smooth = paint(scene, dpi=dpi, roughness=0).astype(int)
    rough = paint(scene, dpi=dpi).astype(int)
    change = rough - smooth
    assert abs(change.mean()) < 0.2
    assert 1.0 < change.std() < 4.0
    spots = (np.abs(change).max(axis=2) > 20).astype(np.uint8)
    _, _, stats, _ = cv2.connectedComponentsWithStats(spots, connectivity=8)
    areas_mm2 = stats[1:, cv2.CC_STAT_AREA] * (MM_PER_INCH / dpi) ** 2
    assert 10 <= len(areas_mm2) <= 60
    assert areas_mm2.max() < 0.15


def test_neighbouring_noise_is_alike() -> None:
    blank = Scene("test", 40.0, 40.0, "#808080", ())
    noise = paint(blank, dpi=300).astype(float)[..., 0] - 128
    beside = np.corrcoef(noise[:, :-1].ravel(), noise[:, 1:].ravel())[0, 1]
    afar = np.corrcoef(noise[:, :-200].ravel(), noise[:, 200:].ravel())[0, 1]
    assert beside > 0.4
    assert abs(afar) < 0.2


def test_same_picture_every_time(scene: Scene) -> None:
    first = paint(scene, dpi=50)
    np.testing.assert_array_equal(first, paint(scene, dpi=50))
    assert (first != paint(scene, dpi=50, seed=8)).any()


def test_written_file_is_the_same_and_stores_its_resolution(tmp_path: Path, scene: Scene) -> None:
    paths = [tmp_path / name for name in ("one.png", "two.png")]
    for path in paths:
        write_picture(path, scene, dpi=72)
    data = paths[0].read_bytes()
    assert data == paths[1].read_bytes()
    # ISO/IEC 15948: the pHYs chunk holds pixels per metre, twice, and the unit 1 for the metre
    start = data.index(b"pHYs") + 4
    assert struct.unpack(">IIB", data[start : start + 9]) == (2835, 2835, 1)
    assert b"tIME" not in data
    with Image.open(paths[0]) as picture:
        np.testing.assert_array_equal(np.asarray(picture), paint(scene, dpi=72))


@pytest.mark.parametrize("options", [{"dpi": 5}, {"dpi": 9000}, {"roughness": -1}, {"roughness": 99}])
def test_bad_options_are_refused(options: dict[str, float]) -> None:
    with pytest.raises(PictureError, match="is allowed"):
        paint(Scene("test", 10.0, 10.0, "#ffffff", ()), **options)  # type: ignore[arg-type]


def test_a_file_that_cannot_be_written_is_told_plainly(tmp_path: Path) -> None:
    with pytest.raises(PictureError, match=r"missing/picture\.png cannot be written"):
        write_picture(tmp_path / "missing" / "picture.png", Scene("test", 10.0, 10.0, "#ffffff", ()))
