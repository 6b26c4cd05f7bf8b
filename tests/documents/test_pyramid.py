"""Pyramids of tiles read back with an independent JPEG reader (Pillow)."""

from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from blockwright.documents.pyramid import (
    TILE_PX,
    as_jpeg,
    level_count,
    level_size,
    pyramid_size,
    tile_path,
    write_pyramid,
)
from blockwright.model.errors import FolderError


def slope(width: int, height: int) -> np.ndarray:
    y, x = np.mgrid[0:height, 0:width]
    return np.stack([x * 255 / width, y * 255 / height, 255 - x * 255 / width], axis=2).astype(np.uint8)


def put_together(folder: Path, level: int, width: int, height: int) -> np.ndarray:
    whole = np.zeros((height, width, 3), np.uint8)
    for top in range(0, height, TILE_PX):
        for left in range(0, width, TILE_PX):
            with Image.open(
                tile_path(folder, level=level, column=left // TILE_PX, row=top // TILE_PX)
            ) as tile:
                tile.load()
                whole[top : top + tile.height, left : left + tile.width] = np.asarray(tile)
    return whole


def test_every_level_is_the_picture_at_half_the_size(tmp_path: Path) -> None:
    picture = slope(1301, 777)
    folder = tmp_path / "zoom" / "key"
    write_pyramid(folder, picture)
    assert pyramid_size(folder) == (1301, 777)
    assert level_count(1301, 777) == 3
    for level in range(3):
        halvings = 2 - level
        width, height = level_size(1301, 777, halvings=halvings)
        step = 1 << halvings
        # Pillow's own box filter over whole blocks is the outside truth for the mean of pixels.
        whole = picture[: 777 // step * step, : 1301 // step * step]
        small = np.asarray(
            Image.fromarray(whole).resize((1301 // step, 777 // step), Image.Resampling.BOX), int
        )
        got = put_together(folder, level, width, height)[: 777 // step, : 1301 // step]
        assert np.abs(got - small).mean() < 1.5
        assert np.abs(got - small).max() < 12
    assert len(list(folder.rglob("*.jpg"))) == 6 + 2 + 1


def test_sizes_are_rounded_up() -> None:
    assert level_size(1301, 777, halvings=2) == (326, 195)
    assert level_size(1301, 777, halvings=0) == (1301, 777)


def test_colours_keep_their_full_resolution() -> None:
    """Subsampled, red beside blue would run into each other over two pixels."""
    picture = np.zeros((16, 16, 3), np.uint8)
    picture[:, 0::2] = (255, 0, 0)
    picture[:, 1::2] = (0, 0, 255)
    path = BytesIO(as_jpeg(picture))
    with Image.open(path) as opened:
        assert opened.format == "JPEG"
        assert np.abs(np.asarray(opened).astype(int) - picture).mean() < 12


def test_a_new_pyramid_takes_the_place_of_old_ones(tmp_path: Path) -> None:
    write_pyramid(tmp_path / "one", slope(40, 30))
    write_pyramid(tmp_path / "two", slope(40, 30))
    assert [path.name for path in tmp_path.iterdir()] == ["two"]
    write_pyramid(tmp_path / "two", slope(40, 30))
    assert pyramid_size(tmp_path / "two") == (40, 30)


def test_what_cannot_be_written_or_read_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("no folder")
    with pytest.raises(FolderError, match="cannot be written"):
        write_pyramid(tmp_path / "file" / "key", slope(40, 30))
    with pytest.raises(FolderError, match="not whole"):
        pyramid_size(tmp_path / "nothing")
