"""The dam that holds the pond, with its stakes, and the bank at the foot of the mill."""

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from blockwright.demo import palette
from blockwright.demo.camera import EYE
from blockwright.demo.curves import close_gaps, line, ribbon, smooth_area, spline
from blockwright.demo.mill import LENGTH_M, at
from blockwright.demo.scene import PaintedShape, as_area

CREST_M, WEED_M, STAKE_M = 1.75, 0.75, 1.5
"""Heights: the dam's crest and the weed on its face above the low water, the stakes above the crest."""
STAKE_MM = 0.45
"""The thinnest stake, far away; nearer ones are wider."""
GRASS_SEED = 5
"""Where the blades at the gable stand and lean."""

DAM_PATH_M = (
    (13.0, 65.0),
    (7.0, 74.0),
    (0.5, 83.0),
    (-9.0, 97.0),
    (-22.0, 117.0),
    (-42.0, 140.0),
    (-76.0, 162.0),
    (-110.0, 172.0),
)
"""Foot of the dam on the seaward side, from behind the mill to the left: to the right, away."""


def left_dam() -> NDArray[np.float64]:
    """Foot of the dam from behind the mill to the left edge: rows of (right, away) in metres."""
    return spline(DAM_PATH_M, step=0.6)


def right_dam() -> NDArray[np.float64]:
    """Foot of the dam from behind the mill to the right edge: rows of (right, away) in metres."""
    return np.array([at(LENGTH_M, float(out), 0.0)[:2] for out in np.linspace(-2.0, 12.0, 20)])


def raised(path: NDArray[np.float64], up: float | NDArray[np.float64]) -> NDArray[np.float64]:
    """A path on the ground raised by ``up`` metres, as the eye sees it, mm."""
    return EYE.project(np.column_stack([path, np.broadcast_to(up, len(path))]))


def dam() -> list[PaintedShape]:
    """Face, weed line, grassy top and stakes of the dam, left of the mill and right of it."""
    faces, weed, grass = [], [], []
    for path, depth_m in ((left_dam(), (0.0, 3.0)), (right_dam(), (2.4, 1.6))):
        right = path[:, 0]
        wave = WEED_M + 0.06 * np.sin(0.6 * right) + 0.05 * np.sin(1.37 * right + 1.0)
        faces.append(_between(raised(path, -0.5), raised(path, CREST_M)))
        weed.append(_between(raised(path, -0.6), raised(path, wave)))
        grass.append(
            _between(raised(path, CREST_M - 0.45), raised(path + np.array(depth_m), CREST_M)).buffer(0.3)
        )
    stakes = [_stake(foot) for foot in left_dam()[24::9]]
    return [
        PaintedShape("dam face", as_area(*faces), palette.CLAY),
        PaintedShape("weed line", as_area(*weed), palette.UMBER),
        PaintedShape("dam grass", as_area(*grass), palette.SAGE),
        PaintedShape("stakes", as_area(*stakes), palette.BLACK),
    ]


def _between(low: NDArray[np.float64], high: NDArray[np.float64]) -> Polygon:
    return Polygon(np.vstack([low, high[::-1]]))


def _stake(foot: NDArray[np.float64]) -> BaseGeometry:
    ends = np.vstack([raised(foot[None], CREST_M), raised(foot[None], CREST_M + STAKE_M)])
    return line(ends, max(STAKE_MM, 0.02 * float(ends[0, 1] - EYE.horizon_mm)), flat=True)


def mill_bank() -> list[PaintedShape]:
    """Mud piled against the gable's foot, with salt grass on it."""
    mud = smooth_area(
        [(168, 166.2), (184, 172.2), (197, 176.0), (212, 180.0), (225, 179.4), (231, 178.9), (235, 181.4),
         (224, 185.6), (205, 184), (190, 180), (174, 173)]
    )  # fmt: skip
    rim = spline([(171, 166.0), (184, 172.4), (196, 176.2), (210, 180.0), (219, 182.6)])
    random = np.random.default_rng(GRASS_SEED)
    blades = [
        blade(foot, random.uniform(4.0, 8.5), random.uniform(-1.5, 3.0)) for foot in rim[2 : len(rim) - 4 : 4]
    ]
    grass = close_gaps(as_area(ribbon(rim, [2.0] * len(rim)), *blades))
    return [
        PaintedShape("grass at the gable", as_area(grass), palette.SAGE),
        PaintedShape("mud at the gable", as_area(mud), palette.SAND),
    ]


def blade(foot: NDArray[np.float64], tall: float, lean: float) -> BaseGeometry:
    """A blade of salt grass that grows from a place of the picture; all in mm."""
    x, y = foot
    return ribbon([(x, y), (x + 0.3 * lean, y - 0.55 * tall), (x + lean, y - tall)], [2.4, 1.3, 0.5])
