"""The eye that looks at the scene: one perspective for the mill, the dam, the flats and the reflections."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Place = tuple[float, float, float]
"""Metres to the right of the eye, away from it, and above the water."""


@dataclass(frozen=True, slots=True)
class Camera:
    """A level eye ``eye_m`` above the water; the horizon lies at ``horizon_mm`` from the picture's top.

    ``distance_mm`` is the eye's distance from the picture plane, ``middle_mm`` the picture's x straight
    ahead.
    """

    eye_m: float
    distance_mm: float
    middle_mm: float
    horizon_mm: float

    def project(self, places: Sequence[Place] | NDArray[np.float64]) -> NDArray[np.float64]:
        """Places in metres to points in mm.

        >>> Camera(8.0, 500.0, 180.0, 98.0).project([(10.0, 50.0, 8.0)]).tolist()
        [[280.0, 98.0]]
        """
        right, away, up = np.asarray(places, dtype=np.float64).T
        scale = self.distance_mm / away
        return np.stack([self.middle_mm + right * scale, self.horizon_mm + (self.eye_m - up) * scale], axis=1)

    def ground(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Points of the picture below the horizon to (right, away) on the level of the water."""
        x, y = np.asarray(points_mm, dtype=np.float64).T
        away = self.eye_m * self.distance_mm / (y - self.horizon_mm)
        return np.stack([(x - self.middle_mm) * away / self.distance_mm, away], axis=1)

    def on_ground(self, flat: NDArray[np.float64]) -> NDArray[np.float64]:
        """(right, away) on the level of the water to points in mm."""
        return self.project(np.column_stack([flat, np.zeros(len(flat))]))


EYE = Camera(eye_m=8.0, distance_mm=555.0, middle_mm=180.0, horizon_mm=98.0)
