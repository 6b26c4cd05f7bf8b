"""The 36 bands in which inks are known, 380 to 730 nm by 10, and how measured spectra come onto them.

Thirty-six bands are enough: against 40 the colour of an ink differs by at most 0.012 in CIEDE2000 [measured
on smooth reflectances]. What was measured at other wavelengths is interpolated by the cubic of Lagrange
through the four nearest (quadratic in the first and the last interval), the scheme of ASTM E2022. Nothing is
extrapolated unless it is asked for, and then the answer says where.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from blockwright.model.errors import InkError

FIRST_NM, LAST_NM, STEP_NM = 380, 730, 10
BAND_COUNT = 36

BANDS_NM: NDArray[np.float64] = np.arange(FIRST_NM, LAST_NM + 1, STEP_NM, dtype=np.float64)
"""The middle of each band in nm."""
BANDS_NM.flags.writeable = False

WIDEST_STEP_NM = 20.0
"""Wavelengths farther apart than this leave bands out: 20 nm is the widest interval for which ASTM E308
gives weights."""

FARTHEST_HELD_NM = 30.0
"""How far beyond its ends a measurement may be held, nm: instruments that begin at 400 and stop at 700 are
common, and the observer sees only 0.03 % of daylight's luminance beyond [computed]."""


@dataclass(frozen=True, slots=True)
class OnBands:
    """Reflectance, shape (..., 36), and the bands (nm) at which the nearest measured value was held."""

    reflectance: NDArray[np.float64]
    held_nm: tuple[float, ...]


def on_bands(
    wavelengths_nm: ArrayLike, reflectance: ArrayLike, *, hold_ends: bool = False, name: str = "the spectrum"
) -> OnBands:
    """Bring measured reflectances onto the 36 bands.

    ``wavelengths_nm`` has shape (n,), rising, in nm; ``reflectance`` has shape (..., n), 0 to 1. With
    ``hold_ends`` a measurement that begins after 380 or stops before 730 nm, by at most FARTHEST_HELD_NM,
    keeps its first and last value outwards (the rule of ASTM E308 for missing ends).

    Raises InkError when a value is missing, below 0 or above 1, when wavelengths do not rise or leave a gap
    wider than WIDEST_STEP_NM, and when the ends are not measured and may not be held. ``name`` is what the
    error calls the spectrum.

    >>> on_bands([380, 560, 730], [0.2, 0.2, 0.2])
    Traceback (most recent call last):
    ...
    blockwright.model.errors.InkError: In the spectrum no wavelength lies between 380 and 560 nm; ...
    >>> flat = on_bands(range(400, 701, 10), [0.2] * 31, hold_ends=True)
    >>> flat.reflectance.shape, flat.held_nm
    ((36,), (380.0, 390.0, 710.0, 720.0, 730.0))
    """
    waves = np.asarray(wavelengths_nm, dtype=np.float64)
    values = np.asarray(reflectance, dtype=np.float64)
    _check_wavelengths(waves, values, hold_ends=hold_ends, name=name)
    _check_values(values, waves, name)
    held = np.not_equal(BANDS_NM, np.clip(BANDS_NM, waves[0], waves[-1]))
    inside = np.clip(BANDS_NM, waves[0], waves[-1])
    # The cubic can overshoot beside a steep step by a hair; no surface reflects less than nothing.
    on = np.clip(values @ lagrange_matrix(waves, inside).T, 0.0, 1.0)
    return OnBands(on, tuple(BANDS_NM[held].tolist()))


def checked_bands(reflectance: ArrayLike, *, name: str = "the spectrum") -> NDArray[np.float64]:
    """Return reflectances on the 36 bands, shape (..., 36), as float64 after checking them.

    Raises InkError when there are not 36 bands or a value is missing, below 0 or above 1.

    >>> checked_bands([0.5] * 36).shape
    (36,)
    """
    values = np.asarray(reflectance, dtype=np.float64)
    if values.ndim == 0 or values.shape[-1] != BAND_COUNT:
        count = values.shape[-1] if values.ndim else 1
        wanted = f"{BAND_COUNT} are needed, {FIRST_NM} to {LAST_NM} nm by {STEP_NM}"
        message = f"{_capital(name)} has {count} bands; {wanted}."
        raise InkError(message)
    _check_values(values, BANDS_NM, name)
    return values


def lagrange_matrix(from_nm: NDArray[np.float64], to_nm: NDArray[np.float64]) -> NDArray[np.float64]:
    """The matrix, shape (to, from), that interpolates values at ``from_nm`` to ``to_nm`` within its ends.

    Cubic through the two neighbours on either side, quadratic through the first or the last three in the
    first and the last interval (ASTM E2022). A wavelength that was measured keeps its value exactly.
    """
    count = len(from_nm)
    matrix = np.zeros((len(to_nm), count))
    for row, wave in enumerate(to_nm):
        left = int(np.clip(np.searchsorted(from_nm, wave, side="right") - 1, 0, count - 2))
        nodes = np.arange(max(left - 1, 0), min(left + 3, count))
        for node in nodes:
            others = from_nm[nodes[nodes != node]]
            matrix[row, node] = np.prod((wave - others) / (from_nm[node] - others))
    return matrix


def _check_wavelengths(
    waves: NDArray[np.float64], values: NDArray[np.float64], *, hold_ends: bool, name: str
) -> None:
    if waves.ndim != 1 or values.ndim == 0 or values.shape[-1] != len(waves):
        count = values.shape[-1] if values.ndim else 1
        raise InkError(f"{_capital(name)} has {count} values for {waves.size} wavelengths; each needs one.")
    if len(waves) < 3:
        raise InkError(f"{_capital(name)} has {len(waves)} wavelengths; at least three are needed.")
    steps = np.diff(waves)
    if not np.all(np.isfinite(waves)) or np.any(steps <= 0.0):
        raise InkError(f"The wavelengths of {name} do not rise one after the other; sort them, each once.")
    if steps.max() > WIDEST_STEP_NM:
        gap = int(steps.argmax())
        message = (
            f"In {name} no wavelength lies between {waves[gap]:g} and {waves[gap + 1]:g} nm; "
            f"steps of {WIDEST_STEP_NM:g} nm or less are needed."
        )
        raise InkError(message)
    reach = FARTHEST_HELD_NM if hold_ends else 0.0
    if waves[0] > FIRST_NM + reach or waves[-1] < LAST_NM - reach:
        wanted = f"{FIRST_NM + reach:g} to {LAST_NM - reach:g} nm"
        message = f"{_capital(name)} is measured from {waves[0]:g} to {waves[-1]:g} nm; {wanted} are needed."
        raise InkError(message)


def _check_values(values: NDArray[np.float64], waves: NDArray[np.float64], name: str) -> None:
    missing = ~np.isfinite(values)
    if missing.any():
        raise InkError(f"{_capital(name)} has no value at {_list_nm(waves, missing)} nm.")
    for wrong in (values < 0.0, values > 1.0):
        if wrong.any():
            place = np.unravel_index(int(wrong.argmax()), wrong.shape)
            message = (
                f"The reflectance of {name} at {waves[place[-1]]:g} nm is {values[place]:.4g}; "
                "it lies between 0 and 1, so divide percentages by 100."
            )
            raise InkError(message)


def _list_nm(waves: NDArray[np.float64], marked: NDArray[np.bool_]) -> str:
    """The wavelengths that are marked in any spectrum, at most five by name."""
    found: Sequence[float] = waves[marked.reshape(-1, len(waves)).any(axis=0)].tolist()
    listed = ", ".join(f"{wave:g}" for wave in found[:5])
    return listed if len(found) <= 5 else f"{listed} and {len(found) - 5} more"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
