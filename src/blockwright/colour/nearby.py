"""Inks that are mixed already and come near a wanted colour."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from blockwright.colour.bands import checked_bands
from blockwright.colour.difference import delta_e00
from blockwright.colour.films import film_thickness, overprinted
from blockwright.colour.inks import to_arrays
from blockwright.colour.layers import layer_reflectance
from blockwright.colour.mixtures import as_hex, as_lab
from blockwright.colour.optics import (
    FILM_VARIATION,
    MIXTURE_DELTA_E00,
    uncertainty_delta_e00,
    with_film_variation,
)
from blockwright.colour.passes import MOST_PASSES
from blockwright.colour.recipes import OTHER_LIGHTS
from blockwright.colour.spectra import reflectance_to_lab
from blockwright.colour.wanted import Wanted
from blockwright.model.errors import InkError
from blockwright.model.inks import MixedInk
from blockwright.model.units import Lab

Spectra = NDArray[np.float64]

NEAR_DELTA_E00 = 3.0
"""An ink of the shelf is a near-miss within this [CP]."""


@dataclass(frozen=True, slots=True)
class NearMiss:
    """An ink of the shelf, in the passes that bring it nearest; the figures are those of a recipe."""

    ink: MixedInk
    passes: int
    predicted_lab: Lab
    predicted_hex: str
    delta_e00: float
    worst_light_delta_e00: float
    uncertainty_delta_e00: float


@dataclass(frozen=True, slots=True, eq=False)
class NearInk:
    """A mixed ink in the passes that bring it nearest to a colour (CIEDE2000), and its 36 bands then."""

    ink: MixedInk
    passes: int
    reflectance: Spectra
    lab: Lab
    srgb_hex: str
    delta_e00: float


def is_mixture(ink: MixedInk) -> bool:
    """Whether an ink's colour is reckoned from several pigments, which theory predicts less well.

    An ink that is known by its own swatch is one film, whatever went into it.
    """
    return ink.known_by == "recipe" and len(ink.parts) > 1


def nearest_inks(
    inks: Sequence[MixedInk], lab: Lab, ground: ArrayLike, *, passes: int | None = None
) -> tuple[NearInk, ...]:
    """Mixed inks by how near they come to a colour over ``ground``, shape (36,), the nearest first.

    Each in the number of passes, 1 to 4, that brings it nearest, or in ``passes``. Raises InkError when the
    passes are not 1 to 4.
    """
    if passes is not None and not 1 <= passes <= MOST_PASSES:
        raise InkError(f"A colour is printed in 1 to {MOST_PASSES} passes, not {passes}.")
    under = checked_bands(ground, name="the ground")
    if not inks:
        return ()
    tried = range(1, MOST_PASSES + 1) if passes is None else (passes,)
    known = to_arrays([ink.name for ink in inks], [ink.optics for ink in inks])
    films = np.array([[film_thickness(count, transfer=ink.transfer) for ink in inks] for count in tried])
    seen = layer_reflectance(known.k, known.s, films[..., None], under)
    labs = reflectance_to_lab(seen)
    apart = delta_e00(labs, np.array(lab))
    best = apart.argmin(axis=0)
    found = [
        NearInk(
            ink,
            tried[at],
            seen[at, i],
            as_lab(labs[at, i]),
            as_hex(labs[at, i]),
            float(apart[at, i]),
        )
        for i, (ink, at) in enumerate(zip(inks, best.tolist(), strict=True))
    ]
    return tuple(sorted(found, key=lambda near: (near.delta_e00, near.ink.number)))


def near_on_shelf(
    inks: Sequence[MixedInk],
    wanted: Wanted,
    ground: ArrayLike,
    *,
    within_delta_e00: float = NEAR_DELTA_E00,
    passes: int | None = None,
    film_variation: float = FILM_VARIATION,
) -> tuple[NearMiss, ...]:
    """Inks that come within a difference of the wanted colour over ``ground``, shape (36,), nearest first.

    Each in 1 to 4 passes, or in ``passes``; retired inks are left out. Raises InkError when the limit is
    below 0 or the passes are not 1 to 4.

    >>> near_on_shelf([], Wanted((50.0, 0.0, 0.0), np.full(36, 0.184), False), [0.85] * 36)
    ()
    """
    if not within_delta_e00 >= 0.0:
        raise InkError(f"An ink is near within 0 or more, not {within_delta_e00:g} (CIEDE2000).")
    kept = [ink for ink in inks if not ink.retired]
    return tuple(
        _miss(near, wanted, ground, film_variation)
        for near in nearest_inks(kept, wanted.lab, ground, passes=passes)
        if near.delta_e00 <= within_delta_e00
    )


def _miss(near: NearInk, wanted: Wanted, ground: ArrayLike, film_variation: float) -> NearMiss:
    ink = near.ink
    own = with_film_variation(to_arrays([ink.name], [ink.optics]), film_variation)
    others = (
        float(
            delta_e00(
                reflectance_to_lab(near.reflectance, light), reflectance_to_lab(wanted.reflectance, light)
            )
        )
        for light in OTHER_LIGHTS
    )
    unsure = uncertainty_delta_e00(
        own,
        lambda k, s: overprinted(
            k[..., 0, :], s[..., 0, :], ground, passes=near.passes, transfer=ink.transfer
        ),
    )
    return NearMiss(
        ink,
        near.passes,
        near.lab,
        near.srgb_hex,
        near.delta_e00,
        max(others),
        float(np.hypot(unsure, MIXTURE_DELTA_E00)) if is_mixture(ink) else unsure,
    )
