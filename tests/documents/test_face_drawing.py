from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from PIL import Image
from sample_print import HEIGHT_MM, WIDTH_MM, SamplePrint, make_print
from shapely.geometry import MultiPolygon

from blockwright.documents import draw_face_png
from blockwright.documents.face_plate import Seen
from blockwright.model.errors import FolderError

TINT = "#1f4fa3"


@cache
def sample() -> SamplePrint:
    return make_print()


def drawn(path: Path, printing: MultiPolygon, *, as_seen: Seen, pixels: int = 900) -> NDArray[np.uint8]:
    face = replace(sample().blocks.faces[0], printing=printing)
    draw_face_png(path, sample().blocks, face, pixels=pixels, as_seen=as_seen, tint_hex=TINT)
    with Image.open(path) as picture:
        return np.asarray(picture)


def tinted(pixels: NDArray[np.uint8]) -> tuple[int, int, int, int]:
    """Left, top, right and lower edge of what has the ink's colour, in pixels."""
    near = np.abs(pixels.astype(int) - (0x1F, 0x4F, 0xA3)).max(axis=2) < 12
    rows, columns = np.flatnonzero(near.any(axis=1)), np.flatnonzero(near.any(axis=0))
    return int(columns[0]), int(rows[0]), int(columns[-1]) + 1, int(rows[-1]) + 1


def test_the_longer_side_has_the_pixels_asked_for(tmp_path: Path) -> None:
    assert max(drawn(tmp_path / "a.png", MultiPolygon(), as_seen="carver").shape) == 900
    assert max(drawn(tmp_path / "a.png", MultiPolygon(), as_seen="carver", pixels=1).shape) == 400


def test_the_drawing_is_to_scale_and_turned_over_for_the_print(tmp_path: Path) -> None:
    printing = MultiPolygon([shapely.box(20, 40, 120, 90)])
    left, top, right, foot = tinted(drawn(tmp_path / "a.png", printing, as_seen="carver"))
    whole = MultiPolygon([shapely.box(0, 0, WIDTH_MM, HEIGHT_MM)])
    x0, y0, x1, y1 = tinted(drawn(tmp_path / "a.png", whole, as_seen="carver"))
    scale = (x1 - x0) / WIDTH_MM
    assert (y1 - y0) / HEIGHT_MM == pytest.approx(scale, rel=0.01)
    assert (left - x0, right - x0) == pytest.approx((20 * scale, 120 * scale), abs=2.0)
    assert (top - y0, foot - y0) == pytest.approx((40 * scale, 90 * scale), abs=2.0)
    turned = tinted(drawn(tmp_path / "a.png", printing, as_seen="print"))
    seen = tinted(drawn(tmp_path / "a.png", whole, as_seen="print"))
    assert (seen[2] - turned[2], seen[2] - turned[0]) == pytest.approx((20 * scale, 120 * scale), abs=2.0)


def test_the_kagi_is_at_its_corner(tmp_path: Path) -> None:
    pixels = drawn(tmp_path / "a.png", MultiPolygon(), as_seen="carver")
    pale = pixels.min(axis=2) >= 0xEF
    inner = pale[100:-70, 60:-60]
    rows, columns = np.nonzero(inner)
    assert len(rows)
    assert columns.max() > 0.9 * inner.shape[1]
    assert rows.min() > 0.8 * inner.shape[0]


def test_an_image_smaller_than_the_sheet_and_a_face_without_impressions_are_drawn(tmp_path: Path) -> None:
    blocks = replace(sample().blocks, sheet=shapely.box(-60, -60, WIDTH_MM + 60, HEIGHT_MM + 15))
    face = replace(blocks.faces[0], impressions=(), printing=MultiPolygon(), name="潮 front")
    draw_face_png(tmp_path / "a.png", blocks, face, pixels=500, as_seen="print", tint_hex=TINT)
    with Image.open(tmp_path / "a.png") as picture:
        assert picture.size[0] == 500


def test_the_same_face_gives_the_same_bytes(tmp_path: Path) -> None:
    for name in ("a.png", "b.png"):
        drawn(tmp_path / name, sample().blocks.faces[5].printing, as_seen="carver")
    assert (tmp_path / "a.png").read_bytes() == (tmp_path / "b.png").read_bytes()


def test_a_folder_that_is_not_there_is_said_in_words(tmp_path: Path) -> None:
    with pytest.raises(FolderError, match=r"a\.png cannot be written"):
        drawn(tmp_path / "nowhere" / "a.png", MultiPolygon(), as_seen="carver")
