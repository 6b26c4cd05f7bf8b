"""How karazuri is hinted at in pictures. It is not in the colour model: the relief is indicative only.

Karazuri is shaded at its edges as by a light from the upper left; a block that presses the front leaves its
shapes sunk, one that presses the back raises them.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from blockwright.model.separation import SheetSide

EDGE_MM = 0.6
"""Over how much the paper bends at an embossed edge, mm [CP]."""

SHADE = 38.0
"""Levels of 255 that an embossed edge is lightened or darkened by, at most [CP]."""

_LEAST_PX = 0.8
_LIGHT = (-0.7071, -0.7071)
"""Where the light comes from: x right, y down."""


def bend_px(pixels_per_mm: float) -> float:
    """Over how many pixels the paper bends."""
    return max(_LEAST_PX, EDGE_MM * pixels_per_mm)


def edge_room_px(pixels_per_mm: float) -> int:
    """How many pixels beyond a picture its shading depends on."""
    return int(np.ceil(4.0 * bend_px(pixels_per_mm))) + 2


def press(
    picture: NDArray[np.uint8], share: NDArray[np.float32], *, side: SheetSide, pixels_per_mm: float
) -> None:
    """Shade the embossed edges in a picture, (H, W, 3) uint8 sRGB, in place.

    ``share`` (0 to 1) is how much of each pixel the block presses, with ``edge_room_px`` more on every side.
    """
    bend = bend_px(pixels_per_mm)
    height = cv2.GaussianBlur(share, (0, 0), bend, borderType=cv2.BORDER_REPLICATE)
    if side == "front":
        height = -height
    down, along = np.gradient(height)
    # A step of one pixel's height over the bend has the slope 1 / (bend * sqrt(2 pi)).
    slope = (along * _LIGHT[0] + down * _LIGHT[1]) * bend * np.sqrt(2.0 * np.pi)
    room = edge_room_px(pixels_per_mm)
    shade = SHADE * np.clip(slope[room:-room, room:-room], -1.0, 1.0)
    picture[:] = np.clip(np.rint(picture - shade[:, :, None]), 0, 255).astype(np.uint8)
