"""Pictures of heights, read by an image library of others and back by our own reader."""

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from blockwright.documents.height_png import WHITE, read_heights, scale_for, write_height_png
from blockwright.model.errors import FolderError, PictureError


def heights() -> NDArray[np.float32]:
    made = np.zeros((30, 50), np.float32)
    made[:5, 40:] = -1.5
    made[20:, :10] = -3.2
    made[10, 10:40] = np.linspace(-3.3, 0.0, 30, dtype=np.float32)
    return made


def test_a_reader_of_others_finds_sixteen_bits_and_the_scale(tmp_path: Path) -> None:
    path = tmp_path / "heights.png"
    scale = write_height_png(path, heights(), step_mm=0.1)
    assert scale.black_mm == 4.0
    with Image.open(path) as picture:
        assert picture.mode == "I;16"
        assert picture.size == (50, 30)
        levels = np.asarray(picture).astype(float)
        assert levels[15, 45] == WHITE
        # The first row is the top: what lies at the lowest y is at the picture's foot.
        assert (levels[29, 45] - WHITE) * float(picture.info["mm per level"]) == pytest.approx(-1.5, abs=1e-4)
        assert (levels[0, 5] - WHITE) * 4.0 / WHITE == pytest.approx(-3.2, abs=1e-4)
        assert float(picture.info["mm per pixel"]) == 0.1
        assert picture.info["dpi"] == pytest.approx((254.0, 254.0), abs=0.01)
        assert picture.info["Description"].startswith("One pixel is 0.1 mm; white is the face, black is 4 mm")


def test_what_was_written_is_read_back(tmp_path: Path) -> None:
    path = tmp_path / "heights.png"
    scale = write_height_png(path, heights(), step_mm=0.05)
    read, told = read_heights(path)
    assert told == scale
    assert read.shape == heights().shape
    assert np.abs(read - heights()).max() <= scale.mm_per_level / 2 + 1e-6
    assert (read[heights() == 0.0] == 0.0).all()
    before = path.read_bytes()
    write_height_png(path, read, step_mm=told.mm_per_pixel)
    assert path.read_bytes() == before


@pytest.mark.parametrize(("deepest", "black"), [(0.0, 1.0), (-0.4, 1.0), (-5.0, 5.0), (-5.01, 6.0)])
def test_black_is_a_whole_mm(deepest: float, black: float) -> None:
    assert scale_for(np.array([[0.0, deepest]], np.float32), step_mm=0.1).black_mm == black


@pytest.mark.parametrize("wrong", [0.01, np.nan, -np.inf])
def test_heights_above_the_face_or_not_finite_are_refused(tmp_path: Path, wrong: float) -> None:
    made = heights()
    made[3, 3] = wrong
    with pytest.raises(ValueError, match="at or below the face"):
        write_height_png(tmp_path / "heights.png", made, step_mm=0.1)


def test_other_pictures_are_refused_by_name(tmp_path: Path) -> None:
    path = tmp_path / "other.png"
    path.write_bytes(b"no picture")
    with pytest.raises(PictureError, match=r"other\.png cannot be read as a PNG picture of heights"):
        read_heights(path)
    Image.new("RGB", (4, 4)).save(path)
    with pytest.raises(PictureError, match=r"other\.png is no grey picture of 16 bits"):
        read_heights(path)
    Image.fromarray(np.zeros((4, 4), np.uint16)).save(path)
    with pytest.raises(PictureError, match=r"other\.png does not tell its scale"):
        read_heights(path)
    with pytest.raises(PictureError, match=r"gone\.png cannot be read"):
        read_heights(tmp_path / "gone.png")


def test_a_cut_off_file_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "heights.png"
    write_height_png(path, np.random.default_rng(1).uniform(-2, 0, (80, 80)).astype(np.float32), step_mm=0.1)
    path.write_bytes(path.read_bytes()[:4000])
    with pytest.raises(PictureError, match=r"heights\.png cannot be read"):
        read_heights(path)


def test_a_folder_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(FolderError, match=r"heights\.png cannot be written"):
        write_height_png(tmp_path / "nowhere" / "heights.png", heights(), step_mm=0.1)
