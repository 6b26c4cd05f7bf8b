"""Small pictures whose edges are known exactly, antialiased by a box filter."""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from blockwright.geometry.painting import paint_area


@dataclass(frozen=True)
class TruePicture:
    """Pixels, their labels, the palette and the areas (in pixels) that were painted over label 0."""

    pixels: NDArray[np.uint8]
    labels: NDArray[np.uint8]
    palette: NDArray[np.float64]
    areas: tuple[shapely.Geometry, ...]


def paint_truth(
    areas: list[shapely.Geometry], *, size: tuple[int, int], noise: float = 0.0, seed: int = 0
) -> TruePicture:
    """Paint areas that do not overlap on a ground, in colours far apart."""
    width, height = size
    palette = np.array([[226, 205, 168], [48, 74, 92], [178, 70, 58], [120, 138, 92]], float)[
        : len(areas) + 1
    ]
    shares = [paint_area(area, pixels_per_mm=1.0, width_px=width, height_px=height) for area in areas]
    ground = 1.0 - np.sum(shares, axis=0)
    levels = sum(share[:, :, None] * colour for share, colour in zip([ground, *shares], palette, strict=True))
    rough = levels + np.random.default_rng(seed).normal(0.0, noise, levels.shape)
    pixels = np.clip(np.rint(rough), 0, 255).astype(np.uint8)
    labels = np.argmax(np.stack([ground, *shares]), axis=0).astype(np.uint8)
    return TruePicture(pixels, labels, palette, tuple(areas))


def distance_to(found: shapely.Polygon, truth: shapely.Polygon) -> NDArray[np.float64]:
    """Distances from points every half pixel along the found edge to the true edge, in pixels."""
    ring = shapely.segmentize(found.exterior, 0.5)
    return np.asarray(shapely.distance(shapely.points(shapely.get_coordinates(ring)), truth.exterior))
