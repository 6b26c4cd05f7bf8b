"""Small paintings for the design room's tests: flat colours, soft edges, gradations, lines."""

import cv2
import numpy as np
from numpy.typing import NDArray

GROUND, BLUE, RED, GREEN, DARK = (236, 222, 190), (52, 88, 128), (186, 62, 50), (112, 138, 84), (28, 26, 34)


def flat_painting(
    *, size: tuple[int, int] = (480, 320), noise: float = 2.0, soft: float = 0.0, seed: int = 0
) -> NDArray[np.uint8]:
    """Five flat colours, antialiased by drawing four times as large: fields, a disc and 5-px lines."""
    width, height = size
    big = np.full((4 * height, 4 * width, 3), GROUND, np.uint8)
    horizon = [[0, 2.2 * height], [4 * width, 1.7 * height], [4 * width, 4 * height], [0, 4 * height]]
    cv2.fillPoly(big, [np.array(horizon, np.int32)], BLUE)
    cv2.circle(big, (int(1.1 * width), int(1.0 * height)), int(0.5 * height), RED, -1)
    field = [[2.4 * width, 2.6 * height], [3.9 * width, 2.3 * height], [3.5 * width, 3.9 * height]]
    cv2.fillPoly(big, [np.array(field, np.int32)], GREEN)
    for x in (0.5, 1.7, 2.0, 3.1):
        cv2.line(big, (int(x * width), int(3.9 * height)), (int((x + 0.3) * width), height // 2), DARK, 20)
    small = cv2.resize(big, (width, height), interpolation=cv2.INTER_AREA).astype(float)
    if soft:
        small = cv2.GaussianBlur(small, (0, 0), soft)
    rough = small + np.random.default_rng(seed).normal(0.0, noise, small.shape)
    return np.asarray(np.clip(np.rint(rough), 0, 255), dtype=np.uint8)


def dusk(*, size: tuple[int, int] = (480, 320), noise: float = 3.0, seed: int = 0) -> NDArray[np.uint8]:
    """A sky that runs from indigo to peach over flat hills and flat land."""
    width, height = size
    t = np.linspace(0.0, 1.0, height)[:, None, None]
    picture = np.broadcast_to(
        (1 - t) * np.array([46, 60, 110.0]) + t * np.array([246, 196, 160.0]), (height, width, 3)
    ).copy()
    x = np.arange(width)
    ridge = height * (0.62 + 0.06 * np.sin(x / width * 9.0))
    rows = np.arange(height)[:, None]
    picture[rows > ridge[None]] = (70, 96, 84)
    picture[int(0.8 * height) :] = (120, 80, 60)
    random = np.random.default_rng(seed)
    mottle = cv2.resize(random.normal(0, 1.0, (height // 12, width // 12, 1)), (width, height))[:, :, None]
    rough = picture + noise * mottle + random.normal(0, 1.5, picture.shape)
    return np.asarray(np.clip(np.rint(rough), 0, 255), dtype=np.uint8)


def no_flat_colours(*, size: tuple[int, int] = (400, 300), seed: int = 0) -> NDArray[np.uint8]:
    """A picture like a photograph: cloudy at every scale."""
    width, height = size
    random = np.random.default_rng(seed)
    total = np.zeros((height, width, 3))
    for octave in range(1, 7):
        cells = random.normal(size=(2**octave + 2, 2**octave + 3, 3))
        total += cv2.resize(cells, (width, height), interpolation=cv2.INTER_CUBIC) / 1.6**octave
    total = (total - total.min()) / (total.max() - total.min())
    return np.asarray(np.clip(total * 255 + random.normal(0, 3, total.shape), 0, 255), dtype=np.uint8)
