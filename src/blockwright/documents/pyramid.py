"""A picture as a pyramid of JPEG tiles on disk: whole, halved, halved again, until it is one tile.

Level 0 is the smallest. Tiles do not overlap; those at the right and lower edge are as large as what is left.
"""

import json
import shutil
import tempfile
import time
from contextlib import suppress
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from blockwright.model.errors import FolderError

TILE_PX = 512
"""Side of a tile, pixels."""

JPEG_QUALITY = 92
"""At full colour resolution, no artefacts are seen at flat edges from here on [CP]."""

_LEFT_OVER_S = 600.0
"""What an interrupted run began to write is removed after this, seconds."""

_PART = ".part-"
_SIZE = "size.json"


def level_count(width_px: int, height_px: int) -> int:
    """How many levels a picture has.

    >>> level_count(512, 300), level_count(513, 300), level_count(4252, 2835)
    (1, 2, 5)
    """
    count = 1
    while max(width_px, height_px) > TILE_PX << (count - 1):
        count += 1
    return count


def level_size(width_px: int, height_px: int, *, halvings: int) -> tuple[int, int]:
    """Width and height of a level, in pixels; a part of a pixel counts as one."""
    return -(-width_px >> halvings), -(-height_px >> halvings)


def as_jpeg(picture: NDArray[np.uint8]) -> bytes:
    """An (H, W, 3) uint8 sRGB picture as a JPEG file (ITU-T T.81), colour at full resolution."""
    options = [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY]
    options += [cv2.IMWRITE_JPEG_SAMPLING_FACTOR, cv2.IMWRITE_JPEG_SAMPLING_FACTOR_444]
    done, coded = cv2.imencode(".jpg", cv2.cvtColor(picture, cv2.COLOR_RGB2BGR), options)
    if not done:
        raise ValueError("a picture without pixels is no picture")
    return coded.tobytes()


def tile_path(folder: Path, *, level: int, column: int, row: int) -> Path:
    """Where a tile of a pyramid lies."""
    return folder / str(level) / f"{column}_{row}.jpg"


def pyramid_size(folder: Path) -> tuple[int, int]:
    """Width and height of the picture of a pyramid, in pixels. Raises FolderError."""
    try:
        told = json.loads((folder / _SIZE).read_text(encoding="utf-8"))
        return int(told["width_px"]), int(told["height_px"])
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise FolderError(f"{folder} is not whole; delete it, and it is made anew.") from error


def write_pyramid(folder: Path, picture: NDArray[np.uint8]) -> None:
    """Write the tiles of an (H, W, 3) uint8 sRGB picture; the folder is there whole or not at all.

    Other pyramids beside it are removed: they are of pictures from before. Raises FolderError.
    """
    beside = folder.parent
    try:
        beside.mkdir(parents=True, exist_ok=True)
        making = Path(tempfile.mkdtemp(prefix=_PART, dir=beside))
        try:
            _write_levels(making, picture)
            with suppress(OSError):
                # When another run was first, its tiles are as good.
                making.rename(folder)
            if not folder.is_dir():
                raise FolderError(f"{folder} cannot be written.")
        finally:
            shutil.rmtree(making, ignore_errors=True)
    except OSError as error:
        if isinstance(error, FolderError):
            raise
        raise FolderError(f"{beside} cannot be written ({error.strerror}).") from error
    _remove_others(folder)


def _write_levels(making: Path, picture: NDArray[np.uint8]) -> None:
    size = {"width_px": picture.shape[1], "height_px": picture.shape[0]}
    (making / _SIZE).write_text(json.dumps(size) + "\n", encoding="utf-8", newline="\n")
    for level in reversed(range(level_count(picture.shape[1], picture.shape[0]))):
        (making / str(level)).mkdir()
        height, width = picture.shape[:2]
        for top in range(0, height, TILE_PX):
            for left in range(0, width, TILE_PX):
                tile = picture[top : top + TILE_PX, left : left + TILE_PX]
                path = tile_path(making, level=level, column=left // TILE_PX, row=top // TILE_PX)
                path.write_bytes(as_jpeg(np.ascontiguousarray(tile)))
        if level:
            picture = _halved(picture)


def _halved(picture: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The mean of every four pixels; where one row or column is left over it counts twice."""
    height, width = picture.shape[:2]
    even = picture
    if height % 2 or width % 2:
        even = cv2.copyMakeBorder(picture, 0, height % 2, 0, width % 2, cv2.BORDER_REPLICATE)
    size = (even.shape[1] // 2, even.shape[0] // 2)
    return np.asarray(cv2.resize(even, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)


def _remove_others(folder: Path) -> None:
    for other in folder.parent.iterdir():
        with suppress(OSError):
            fresh = other.name.startswith(_PART) and time.time() - other.stat().st_mtime < _LEFT_OVER_S
            if other != folder and other.is_dir() and not fresh:
                shutil.rmtree(other, ignore_errors=True)


__all__ = [
    "JPEG_QUALITY",
    "TILE_PX",
    "as_jpeg",
    "level_count",
    "level_size",
    "pyramid_size",
    "tile_path",
    "write_pyramid",
]
