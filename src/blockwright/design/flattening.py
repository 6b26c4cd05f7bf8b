"""Telling flat paint from edges: the ground for choosing colours and for giving each pixel one of them.

In flat paint a window of pixels differs by no more than the brush's noise; there the mean of the window is
the colour meant. At an edge it differs by more, and the pixel is left as it is.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

_LEAST_NOISE = 6
"""Levels (of 255) by which flat paint may always differ: rounding and mild compression."""

_MOST_NOISE = 40
"""Levels beyond which a difference is never taken for noise."""

_NOISE_QUANTILE = 0.5
"""The middle window of a picture of flat colours lies in flat paint."""

_NOISE_FACTOR = 1.9
"""From the middle range of a window to the largest that noise alone gives, for normal noise."""


@dataclass(frozen=True, slots=True)
class FlatPicture:
    """A picture with its flat paint evened out.

    ``pixels`` (H, W, 3) uint8; ``flat`` (H, W) bool, true where the pixel lies in flat paint;
    ``noise`` is the largest range within a 3 x 3 window, in levels, that still counts as flat.
    """

    pixels: NDArray[np.uint8]
    flat: NDArray[np.bool_]
    noise: int


def flatten(pixels: NDArray[np.uint8]) -> FlatPicture:
    """Even out the flat paint of an (H, W, 3) uint8 picture and leave its edges alone."""
    window = np.ones((3, 3), np.uint8)
    span = cv2.dilate(pixels, window)
    cv2.subtract(span, cv2.erode(pixels, window), dst=span)
    widest = cv2.max(cv2.max(span[:, :, 0], span[:, :, 1]), span[:, :, 2])
    del span
    step = max(1, int((widest.size / 1e6) ** 0.5))
    usual = float(np.quantile(widest[::step, ::step], _NOISE_QUANTILE))
    noise = int(np.clip(round(_NOISE_FACTOR * usual), _LEAST_NOISE, _MOST_NOISE))
    edge = cv2.compare(widest, noise, cv2.CMP_GT)
    flat = edge == 0
    # The mean of 5 x 5 is taken where no edge touches its window.
    keep = cv2.dilate(edge, window)
    even = cv2.blur(pixels, (5, 5))
    cv2.copyTo(pixels, keep, even)
    return FlatPicture(even, flat, noise)
