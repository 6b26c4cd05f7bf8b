"""What the surface itself reflects: Saunderson's correction, and the look of a damp sheet.

Light enters a film through its surface and is thrown back at it from inside, so that what is seen is not what
the body of the film reflects. Source: Saunderson, "Calculation of the color of pigmented plastics", *Journal
of the Optical Society of America* 32, 1942. The two coefficients follow from Fresnel's equations and the
index of refraction: k1 for light that falls straight on, k2 for perfectly diffuse light from inside.

A damp sheet is seen through a film of water, which does the same: Angstrom's account of why wet ground is
dark (Angstrom, "The albedo of various surfaces of ground", *Geografiska Annaler* 7, 1925; Lekner and Dorf,
"Why some things are darker when wet", *Applied Optics* 27, 1988). A full film is the bound; how much of it a
damp sheet shows is measured by the user as one number.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from blockwright.model.errors import InkError

WATER_INDEX = 1.33
"""Index of refraction of water in visible light."""

BINDER_INDEX = 1.5
"""Index of refraction of dried oil, gum and most resins, the usual value in Saunderson's correction."""

_FALLS_BELOW = 1e-9
"""A reflectance may lie this much below what the surface alone gives; rounding."""


@dataclass(frozen=True, slots=True)
class Surface:
    """How a surface reflects: ``outside`` (Saunderson's k1), ``inside`` (k2), ``gloss_share`` (0 to 1).

    ``gloss_share`` is the part of the outer reflection that the eye or instrument takes in: 0 for a matt
    view or an instrument at 45 and 0 degrees, 1 for a sphere with the gloss included.
    """

    outside: float
    inside: float
    gloss_share: float = 0.0

    def __post_init__(self) -> None:
        if not (0.0 <= self.outside < 1.0 and 0.0 <= self.inside < 1.0 and 0.0 <= self.gloss_share <= 1.0):
            raise InkError(
                "A surface reflects 0 to below 1, outside and inside, and shows 0 to 1 of its gloss."
            )


def surface_of_index(index: float, *, gloss_share: float = 0.0) -> Surface:
    """The surface of a smooth film in air, from its index of refraction (Fresnel; Saunderson 1942).

    k1 is Fresnel's reflectance at right angles, ((n - 1) / (n + 1))^2. k2 is 1 - (1 - r) / n^2 with r
    Fresnel's reflectance of perfectly diffuse light from outside, in closed form (Duntley, *Journal of the
    Optical Society of America* 32, 1942).

    Raises InkError when the index is not above 1.

    >>> film = surface_of_index(1.5)
    >>> round(film.outside, 4), round(film.inside, 4)
    (0.04, 0.5963)
    """
    if not 1.0 < index < float("inf"):
        raise InkError(f"The index of refraction of a film is above 1, not {index:g}.")
    n, square, fourth = index, index**2, index**4
    diffuse = (
        0.5
        + (n - 1.0) * (3.0 * n + 1.0) / (6.0 * (n + 1.0) ** 2)
        + square * (square - 1.0) ** 2 / (square + 1.0) ** 3 * np.log((n - 1.0) / (n + 1.0))
        - 2.0 * n**3 * (square + 2.0 * n - 1.0) / ((square + 1.0) * (fourth - 1.0))
        + 8.0 * fourth * (fourth + 1.0) / ((square + 1.0) * (fourth - 1.0) ** 2) * np.log(n)
    )
    outside = ((n - 1.0) / (n + 1.0)) ** 2
    return Surface(outside, float(1.0 - (1.0 - diffuse) / square), gloss_share)


def seen_reflectance(body: ArrayLike, surface: Surface) -> NDArray[np.float64]:
    """What is seen of a body of reflectance 0 to 1 through its surface; any shape (Saunderson 1942).

    >>> float(seen_reflectance(0.5, Surface(0.04, 0.6)).round(4))
    0.2743
    """
    inner = np.asarray(body, dtype=np.float64)
    through = (1.0 - surface.outside) * (1.0 - surface.inside)
    return surface.gloss_share * surface.outside + through * inner / (1.0 - surface.inside * inner)


def body_reflectance(seen: ArrayLike, surface: Surface) -> NDArray[np.float64]:
    """What the body beneath a surface reflects; the way back from :func:`seen_reflectance`.

    Raises InkError when something reflects less than the surface alone, or more than a perfect white would.

    >>> float(body_reflectance(0.274286, Surface(0.04, 0.6)).round(4))
    0.5
    """
    gloss = surface.gloss_share * surface.outside
    inner = np.asarray(seen, dtype=np.float64) - gloss
    if np.any(inner < -_FALLS_BELOW):
        low = float(inner.min()) + gloss
        message = f"A reflectance of {low:.4f} is less than the surface alone reflects, {gloss:.4f}"
        raise InkError(f"{message}; give less gloss.")
    through = (1.0 - surface.outside) * (1.0 - surface.inside)
    body: NDArray[np.float64] = np.maximum(inner, 0.0) / (through + surface.inside * inner)
    if np.any(body > 1.0 + _FALLS_BELOW):
        high = float(inner.max()) + gloss
        raise InkError(f"A reflectance of {high:.4f} is more than a perfect white has under this surface.")
    return np.minimum(body, 1.0)


WATER_FILM = surface_of_index(WATER_INDEX)
"""A smooth film of water, its gloss not seen."""


def damp_reflectance(dry: ArrayLike, *, wetness: float) -> NDArray[np.float64]:
    """How a dry reflectance (0 to 1, any shape) looks on a damp sheet.

    ``wetness`` is 0 for dry, 1 for a full film of water; see :func:`wetness_between`. Raises InkError
    when it is outside 0 to 1.

    >>> damp_reflectance([0.8, 0.1], wetness=1.0).round(3).tolist()
    [0.665, 0.054]
    """
    _check_wetness(wetness)
    values = np.asarray(dry, dtype=np.float64)
    return (1.0 - wetness) * values + wetness * seen_reflectance(values, WATER_FILM)


def dry_reflectance(damp: ArrayLike, *, wetness: float) -> NDArray[np.float64]:
    """How what is seen on a damp sheet (0 to 1, any shape) will look when dry.

    The way back from :func:`damp_reflectance`: the lower root of its quadratic. What is lighter than a white
    sheet could be at this wetness is taken for white. Raises InkError when ``wetness`` is outside 0 to 1.

    >>> dry_reflectance(damp_reflectance([0.8, 0.1], wetness=0.6), wetness=0.6).round(6).tolist()
    [0.8, 0.1]
    """
    _check_wetness(wetness)
    seen = np.asarray(damp, dtype=np.float64)
    keep, inside = 1.0 - wetness, WATER_FILM.inside
    through = wetness * (1.0 - WATER_FILM.outside) * (1.0 - inside)
    # keep R + through R / (1 - inside R) = seen, times (1 - inside R).
    middle = keep + through + inside * seen
    root = np.sqrt(np.maximum(middle**2 - 4.0 * keep * inside * seen, 0.0))
    return np.minimum(2.0 * seen / (middle + root), 1.0)


def wetness_between(dry: ArrayLike, damp: ArrayLike) -> float:
    """The wetness that best explains one patch measured dry and damp (least squares over all bands).

    Shapes are alike; reflectances 0 to 1. The answer is held to 0 to 1. Raises InkError when both are black,
    for then nothing can be told.

    >>> round(wetness_between([0.8, 0.1], damp_reflectance([0.8, 0.1], wetness=0.6)), 6)
    0.6
    """
    before, after = np.asarray(dry, dtype=np.float64), np.asarray(damp, dtype=np.float64)
    full = before - seen_reflectance(before, WATER_FILM)
    weight = float((full * full).sum())
    if weight == 0.0:
        raise InkError("A black patch looks the same dry and damp; measure a lighter one.")
    return float(np.clip((full * (before - after)).sum() / weight, 0.0, 1.0))


def _check_wetness(wetness: float) -> None:
    if not 0.0 <= wetness <= 1.0:
        raise InkError(f"The wetness of a sheet is 0 (dry) to 1 (a full film of water), not {wetness:g}.")
