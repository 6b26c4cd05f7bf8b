"""An ink as a layer over what lies beneath: two-constant Kubelka-Munk, for any bands.

A layer absorbs ``k`` and scatters ``s`` per unit of thickness; one pass has thickness 1. Reflectances run
from 0 to 1. Sources: Kubelka and Munk, *Zeitschrift fur technische Physik* 12, 1931; Kubelka, *Journal of the
Optical Society of America* 38, 1948 (closed form). Bands stand on the last axis.

The closed form is written with exponentials that only decay, divided through by a = sqrt(k (k + 2 s)), so
that it is finite and exact for an ink that only absorbs (Beer-Lambert), only scatters, or does nothing.
"""

from collections.abc import Iterable

import numpy as np
from numpy.typing import ArrayLike, NDArray

LEAST_REFLECTANCE = 0.003
"""No ink is asked to go below this in any band [CP]: sRGB black is coded 0, which no ink on paper reaches,
and would ask for endless absorption. It costs at most 2 in CIEDE2000 at pure black."""

_BISECTIONS = 60
"""Halvings of the bracket: enough to exhaust float64."""


def layer_body(
    k: ArrayLike, s: ArrayLike, thickness: ArrayLike
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Reflectance over black and transmittance of a layer. Arguments broadcast.

    Raises ValueError when an argument is below 0.
    """
    absorb, scatter, thick = (np.asarray(v, dtype=np.float64) for v in (k, s, thickness))
    if min(absorb.min(initial=0.0), scatter.min(initial=0.0), thick.min(initial=0.0)) < 0.0:
        raise ValueError("absorption, scattering and thickness of a layer are 0 or more")
    a = np.sqrt(absorb * (absorb + 2.0 * scatter))
    path = 2.0 * a * thick
    # (1 - exp(-path)) / a, whose limit for a = 0 is twice the thickness.
    shortened = np.divide(-np.expm1(-path), path, out=np.ones_like(path), where=path > 0.0) * 2.0 * thick
    d = (absorb + scatter) * shortened + 1.0 + np.exp(-path)
    return scatter * shortened / d, 2.0 * np.exp(-path / 2.0) / d


def layer_reflectance(
    k: ArrayLike, s: ArrayLike, thickness: ArrayLike, ground: ArrayLike
) -> NDArray[np.float64]:
    """Reflectance of a layer over a ground of known reflectance (Kubelka 1948). Arguments broadcast.

    Raises ValueError when ``k``, ``s`` or ``thickness`` is below 0.

    >>> float(layer_reflectance(1.0, 0.5, 1.0, 0.8).round(6))
    0.213052
    """
    body, through = layer_body(k, s, thickness)
    beneath = np.asarray(ground, dtype=np.float64)
    return body + through**2 * beneath / (1.0 - body * beneath)


def infinite_reflectance(k: ArrayLike, s: ArrayLike) -> NDArray[np.float64]:
    """Reflectance of a layer so thick that the ground no longer shows (Kubelka and Munk 1931).

    Equals 1 + k/s - sqrt((k/s)^2 + 2 k/s), written without its cancellation. A layer that neither absorbs nor
    scatters sends nothing back: 0.

    >>> float(infinite_reflectance(1.0, 0.5).round(6))
    0.171573
    """
    absorb, scatter = np.asarray(k, dtype=np.float64), np.asarray(s, dtype=np.float64)
    total = absorb + scatter + np.sqrt(absorb * (absorb + 2.0 * scatter))
    scatter, total = np.broadcast_arrays(scatter, total)
    return np.divide(scatter, total, out=np.zeros_like(total), where=total > 0.0)


def stack_reflectance(
    ground: ArrayLike, layers: Iterable[tuple[ArrayLike, ArrayLike, ArrayLike]]
) -> NDArray[np.float64]:
    """Reflectance of layers (k, s, thickness), the lowest first, over a ground.

    >>> thin = (1.0, 0.5, 0.5)
    >>> float(stack_reflectance(0.8, [thin, thin]).round(6))
    0.213052
    """
    reflectance = np.asarray(ground, dtype=np.float64)
    for k, s, thickness in layers:
        reflectance = layer_reflectance(k, s, thickness, reflectance)
    return reflectance


def absorption_for(
    target: ArrayLike, ground: ArrayLike, *, thickness: ArrayLike, scattering: ArrayLike
) -> NDArray[np.float64]:
    """The absorption at which a layer over a ground gives the target reflectance. Arguments broadcast.

    The reflectance falls steadily as absorption grows, so a bracket and bisection always find it. It is 0
    where the target is lighter than the layer without absorption would be: an ink cannot lighten. Targets
    below LEAST_REFLECTANCE are taken for it.

    Raises ValueError when ``thickness`` is not above 0 or ``scattering`` is below 0.
    """
    goal, beneath, thick, scatter = np.broadcast_arrays(
        *(np.asarray(v, dtype=np.float64) for v in (target, ground, thickness, scattering))
    )
    if np.any(thick <= 0.0):
        raise ValueError("thickness of a layer is above 0")
    goal = np.maximum(goal, LEAST_REFLECTANCE)
    low = np.zeros(goal.shape)
    # A thick absorbing layer returns about s / (2 k); a clear one exp(-2 k thickness) of the ground.
    high = scatter / LEAST_REFLECTANCE + np.log(2.0 / LEAST_REFLECTANCE) / thick
    for _ in range(_BISECTIONS):
        middle = (low + high) / 2.0
        lighter = layer_reflectance(middle, scatter, thick, beneath) > goal
        low, high = np.where(lighter, middle, low), np.where(lighter, high, middle)
    clear = layer_reflectance(0.0, scatter, thick, beneath) <= goal
    return np.where(clear, 0.0, (low + high) / 2.0)
