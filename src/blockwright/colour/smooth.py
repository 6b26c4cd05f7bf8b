"""A smooth reflectance for a colour of which only the colour is known.

Method: least hyperbolic tangent slope squared, LHTSS (Burns, "Numerical methods for smoothest reflectance
reconstruction", *Color Research & Application*, 2020). The reflectance is written as (1 + tanh z) / 2, which
keeps it between 0 and 1. Of all z that give the colour exactly, the one with the least sum of squared steps
from band to band is found by Newton's method on the Lagrange conditions, for many colours at once.

Infinitely many reflectances have one colour; this is the calmest. It agrees with the colour under D65 only:
what it looks like under another light is a guess.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from blockwright.colour.bands import BAND_COUNT
from blockwright.colour.spectra import weights
from blockwright.colour.srgb import linear_to_xyz
from blockwright.model.errors import InkError

XYZ_ERROR = 1e-9
"""How exactly the colour is met, in XYZ with Y of white = 1. A thousandth of CIEDE2000 is about 1e-6 of the
white at mid lightness and 1e-8 near black."""

_MOST_STEPS = 60
"""Newton steps before a colour counts as out of reach; colours of sRGB take 5 to 20."""

_LONGEST_STEP = 1.0
"""The longest change of z in one step: beyond it the hyperbolic tangent is no longer like its tangent."""

_FARTHEST = 15.0
"""z goes no farther out than this, a reflectance of 1e-13 or 1 less that: there tanh has no slope left."""

_YIELD = 1e-13
"""How far the conditions on the colour may give way in one step, so that a colour out of reach does not make
the system singular; the next step makes good for it."""

_EXTREME = 1e-7
"""A colour whose three values in linear sRGB all lie this near to 0 or to 1 is taken for pure black or
white, for which z would be infinite."""

_AT_ONCE = 256
"""Colours solved at once: 3 MB of matrices."""


def smooth_reflectance(xyz: ArrayLike) -> NDArray[np.float64]:
    """The calmest reflectances, shape (..., 36), that have colours of shape (..., 3) under D65.

    ``xyz`` is CIE XYZ with Y of white = 1. Raises InkError when a colour is one that no surface can have.

    >>> grey = smooth_reflectance([0.95047 / 2, 0.5, 1.08883 / 2])
    >>> float(grey.min().round(6)), float(grey.max().round(6))
    (0.5, 0.5)
    """
    targets = np.asarray(xyz, dtype=np.float64)
    if targets.ndim == 0 or targets.shape[-1] != 3 or not np.all(np.isfinite(targets)):
        raise InkError("A colour is three numbers, X, Y and Z, with the Y of white as 1.")
    flat = targets.reshape(-1, 3)
    white = np.ones(BAND_COUNT)
    found = [_found(flat[start : start + _AT_ONCE], white) for start in range(0, len(flat), _AT_ONCE)]
    return np.concatenate([*found, np.empty((0, BAND_COUNT))]).reshape(*targets.shape[:-1], BAND_COUNT)


def smooth_reflectance_of_linear(linear: ArrayLike) -> NDArray[np.float64]:
    """The same for linear sRGB, shape (..., 3): :func:`smooth_reflectance`.

    >>> float(smooth_reflectance_of_linear([1.0, 1.0, 1.0]).min())
    1.0
    """
    return smooth_reflectance(linear_to_xyz(linear))


def smooth_filter(xyz: ArrayLike, ground: ArrayLike) -> NDArray[np.float64] | None:
    """The calmest part of a ground's light, shape (36,), that leaves one colour, shape (3,), of it in D65.

    It is what a transparent ink lets through: ``ground`` (a reflectance, shape (36,), above 0) times the
    answer has the colour exactly. None when the ground is not light enough for the colour.

    >>> grey = smooth_filter([0.95047 / 4, 0.25, 1.08883 / 4], [0.5] * 36)
    >>> float(grey.min().round(6)), float(grey.max().round(6))
    (0.5, 0.5)
    >>> smooth_filter([0.9, 0.9, 0.9], [0.5] * 36) is None
    True
    """
    target, beneath = np.asarray(xyz, dtype=np.float64), np.asarray(ground, dtype=np.float64)
    found, reached = _solve(target.reshape(1, 3), beneath)
    return found[0] if reached[0] else None


def _slopes() -> NDArray[np.float64]:
    """The matrix of the sum of squared steps: z @ matrix @ z is twice that sum."""
    steps = np.diff(np.eye(BAND_COUNT), axis=0)
    matrix: NDArray[np.float64] = 2.0 * steps.T @ steps
    return matrix


_SLOPES = _slopes()


def _found(xyz: NDArray[np.float64], ground: NDArray[np.float64]) -> NDArray[np.float64]:
    """Reflectances, shape (n, 36), of colours, shape (n, 3)."""
    result, reached = _solve(xyz, ground)
    if reached.all():
        return result
    x, y, blue = xyz[~reached][0]
    raise InkError(f"No paper or ink can have the colour X {x:.4f}, Y {y:.4f}, Z {blue:.4f} in daylight.")


def _solve(
    xyz: NDArray[np.float64], ground: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Parts of the ground's light, shape (n, 36), that have the colours, and whether one was found, (n,)."""
    observer = weights("D65") * ground[:, None]
    # Neutral colours have a flat reflectance, which is where the search starts: at the colour's luminance.
    relative = xyz / observer.sum(axis=0)
    black, white = (np.abs(relative - end).max(axis=1) < _EXTREME for end in (0.0, 1.0))
    result = np.where(white[:, None], 1.0, np.zeros((len(xyz), BAND_COUNT)))
    todo = np.flatnonzero(~black & ~white)
    start = np.arctanh(np.clip(2.0 * relative[todo, 1] - 1.0, -1.0 + 2.0 * _EXTREME, 1.0 - 2.0 * _EXTREME))
    z = np.repeat(start[:, None], BAND_COUNT, axis=1)
    pull = np.zeros((len(todo), 3))
    for _ in range(_MOST_STEPS):
        miss = (1.0 + np.tanh(z)) / 2.0 @ observer - xyz[todo]
        slack = XYZ_ERROR * np.minimum(1.0, np.maximum(xyz[todo, 1], 1e-3))
        done = (np.abs(miss).max(axis=1) < slack) & (_newton_rest(z, pull, observer) < 1e-6)
        result[todo[done]] = (1.0 + np.tanh(z[done])) / 2.0
        todo, z, pull, miss = todo[~done], z[~done], pull[~done], miss[~done]
        if not len(todo):
            break
        z, pull = _newton_step(z, pull, miss, observer)
    reached = np.ones(len(xyz), dtype=bool)
    reached[todo] = False
    return result, reached


def _newton_rest(
    z: NDArray[np.float64], pull: NDArray[np.float64], observer: NDArray[np.float64]
) -> NDArray[np.float64]:
    """How far the slopes are from being the least, the largest of all bands."""
    bend = (1.0 - np.tanh(z) ** 2) / 2.0
    rest: NDArray[np.float64] = np.abs(z @ _SLOPES + bend * (pull @ observer.T)).max(axis=1)
    return rest


def _newton_step(
    z: NDArray[np.float64],
    pull: NDArray[np.float64],
    miss: NDArray[np.float64],
    observer: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """One step on the conditions: slopes balanced by the pull of the three colour values, the colour met."""
    tanh = np.tanh(z)
    bend = (1.0 - tanh**2) / 2.0
    force = pull @ observer.T
    size = BAND_COUNT + 3
    system = np.zeros((len(z), size, size))
    system[:, :BAND_COUNT, :BAND_COUNT] = _SLOPES
    bands = np.arange(BAND_COUNT)
    system[:, bands, bands] -= 2.0 * bend * tanh * force
    across = bend[:, :, None] * observer
    system[:, :BAND_COUNT, BAND_COUNT:] = across
    system[:, BAND_COUNT:, :BAND_COUNT] = across.transpose(0, 2, 1)
    corner = np.arange(BAND_COUNT, size)
    system[:, corner, corner] = -_YIELD
    rest = np.concatenate([z @ _SLOPES + bend * force, miss], axis=1)
    step = np.linalg.solve(system, -rest[:, :, None])[:, :, 0]
    longest = np.abs(step[:, :BAND_COUNT]).max(axis=1, keepdims=True)
    step *= np.minimum(1.0, _LONGEST_STEP / np.maximum(longest, 1e-300))
    return np.clip(z + step[:, :BAND_COUNT], -_FARTHEST, _FARTHEST), pull + step[:, BAND_COUNT:]
