"""The relief: true in its places, and lit from the upper left."""

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image
from routed_face import STEP_MM, routed_face

from blockwright.documents.relief import PAPER, paint_relief, write_relief
from blockwright.geometry.relief_light import light_on
from blockwright.model.blocks import BlockSet

WIDTH_PX = 1060
"""Ten pixels a mm on the block of 106 mm."""


@cache
def painted(*, handwork: bool = False) -> NDArray[np.uint8]:
    made = routed_face()
    return paint_relief(
        made.heights,
        made.blocks,
        made.face,
        made.cut,
        step_mm=STEP_MM,
        width_px=WIDTH_PX,
        handwork=handwork,
        named=False,
    )


def at(picture: NDArray[np.uint8], x_mm: float, y_mm: float) -> NDArray[np.int64]:
    """The colour at a place of the face, averaged over 0.3 mm."""
    column, row = round((x_mm + 19.0) * 10), round((y_mm + 19.0) * 10)
    spot = picture[row - 1 : row + 2, column - 1 : column + 2].reshape(-1, 3)
    return np.asarray(spot.mean(axis=0), np.int64)


def test_the_picture_has_the_blocks_proportions() -> None:
    assert painted().shape == (820, 1060, 3)


def test_what_prints_has_the_tone_of_paper_where_the_carver_sees_it() -> None:
    """The letter's stem is 4 to 11 mm from the print's left: mirrored, 53 to 60 mm from the face's."""
    assert np.abs(at(painted(), 56.5, 30.0) - PAPER).max() <= 6
    assert at(painted(), 7.5, 30.0).sum() < sum(PAPER) - 90
    assert np.abs(at(painted(), 20.0, 8.5) - PAPER).max() <= 6, "the ring"


def test_hollows_are_darker_than_wood_that_stays() -> None:
    stays, hollow = at(painted(), 75.0, -10.0), at(painted(), 30.0, 0.0)
    assert hollow.sum() < stays.sum() - 60


def test_light_comes_from_the_upper_left() -> None:
    """Walls of a mesa that fall to the left and up are lit, those to the right and down are in shade."""
    y, x = np.mgrid[0:300, 0:300] * 0.1
    mesa = -np.clip(np.hypot(x - 15, y - 15) - 8.0, 0.0, 2.0).astype(np.float32)
    light = light_on(mesa, step_mm=0.1, width_px=300, height_px=300)
    near = round(9.0 / np.sqrt(2) * 10)
    lit, shaded = light[150 - near, 150 - near], light[150 + near, 150 + near]
    assert lit > 1.05
    assert shaded < 0.7
    assert light[150, 150] == pytest.approx(1.0, abs=0.02), "level and open"
    assert light[5, 5] > light[150 + near + 12, 150 + near + 12], "the mesa's shadow"


def test_a_level_block_is_evenly_lit() -> None:
    light = light_on(np.zeros((40, 60), np.float32), step_mm=0.1, width_px=30, height_px=20)
    assert light.shape == (20, 30)
    assert np.allclose(light, 1.0)


def test_handwork_is_laid_over_it() -> None:
    """The middle of a place left to the hand, in face coordinates."""
    red, green, blue = at(painted(handwork=True), 45.5, 9.8)
    assert red > green + 40
    assert red > blue + 40
    bare = at(painted(), 45.5, 9.8)
    assert bare[0] - bare[1] < 40
    changed = np.abs(painted(handwork=True).astype(int) - painted()).sum(axis=2) > 30
    assert changed[380:402, 380:402].any(), "a small place has a ring"


def test_marks_are_seen() -> None:
    """The wall of the kagi is drawn dark along the sheet's edges."""
    (_, (x, y), _) = routed_face().blocks.kento.kagi_wall
    assert at(painted(), x - 5.0, y).sum() < 330
    assert at(painted(), x, y - 5.0).sum() < 330


def test_heights_of_another_block_are_refused() -> None:
    made = routed_face()
    with pytest.raises(ValueError, match="do not cover the block of A front"):
        paint_relief(made.heights[:500], made.blocks, made.face, made.cut, step_mm=STEP_MM)


def test_the_grain_follows_the_board() -> None:
    """Grain along the longer side changes from row to row more than from column to column."""

    def turned(blocks: BlockSet) -> BlockSet:
        return replace(blocks, boards=tuple(replace(each, grain="across") for each in blocks.boards))

    made = routed_face()
    rough = {}
    for name, blocks in (("along", made.blocks), ("across", turned(made.blocks))):
        picture = paint_relief(
            made.heights, blocks, made.face, made.cut, step_mm=STEP_MM, width_px=WIDTH_PX, named=False
        )
        rim = picture[30:100, 30:100].astype(float).sum(axis=2)
        rough[name] = rim.mean(axis=1).std() - rim.mean(axis=0).std()
    assert rough["along"] > 0 > rough["across"]


def test_a_file_knows_its_size(tmp_path: Path) -> None:
    made = routed_face()
    write_relief(
        tmp_path / "relief.png", made.heights, made.blocks, made.face, made.cut, step_mm=STEP_MM, width_px=530
    )
    with Image.open(tmp_path / "relief.png") as picture:
        assert picture.size == (530, 410)
        assert picture.info["dpi"][0] == pytest.approx(5 * 25.4, abs=0.1)


def test_a_part_block_has_no_marks() -> None:
    """The same face on a part block: its own rectangle, and nothing drawn at the kagi."""
    made = routed_face()
    part = replace(made.face, part=made.blocks.block)
    boards = tuple(replace(each, faces=(part,)) for each in made.blocks.boards)
    picture = paint_relief(
        made.heights,
        replace(made.blocks, boards=boards),
        part,
        made.cut,
        step_mm=STEP_MM,
        width_px=WIDTH_PX,
    )
    (_, (x, y), _) = made.blocks.kento.kagi_wall
    assert at(picture, x - 5.0, y).sum() > 330
