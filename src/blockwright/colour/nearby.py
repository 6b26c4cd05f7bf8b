"""Inks that are mixed already and come near a wanted colour."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from blockwright.colour.bands import checked_bands
from blockwright.colour.difference import delta_e00
from blockwright.colour.films import overprinted
from blockwright.colour.inks import to_arrays
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
    if passes is not None and not 1 <= passes <= MOST_PASSES:
        raise InkError(f"A colour is printed in 1 to {MOST_PASSES} passes, not {passes}.")
    under = checked_bands(ground, name="the ground")
    tried = range(1, MOST_PASSES + 1) if passes is None else (passes,)
    kept = [ink for ink in inks if not ink.retired]
    if not kept:
        return ()
    known = to_arrays([ink.name for ink in kept], [ink.optics for ink in kept])
    seen = np.stack([overprinted(known.k, known.s, under, passes=count) for count in tried])
    apart = delta_e00(reflectance_to_lab(seen), np.array(wanted.lab))
    found = []
    for i, ink in enumerate(kept):
        best = int(apart[:, i].argmin())
        if apart[best, i] <= within_delta_e00:
            found.append(_near(ink, tried[best], seen[best, i], wanted, under, film_variation))
    return tuple(sorted(found, key=lambda near: (near.delta_e00, near.ink.number)))


def _near(
    ink: MixedInk, passes: int, seen: ArrayLike, wanted: Wanted, ground: ArrayLike, film_variation: float
) -> NearMiss:
    lab = reflectance_to_lab(seen)
    own = with_film_variation(to_arrays([ink.name], [ink.optics]), film_variation)
    others = (
        float(delta_e00(reflectance_to_lab(seen, light), reflectance_to_lab(wanted.reflectance, light)))
        for light in OTHER_LIGHTS
    )
    unsure = uncertainty_delta_e00(
        own, lambda k, s: overprinted(k[..., 0, :], s[..., 0, :], ground, passes=passes)
    )
    if len(ink.parts) > 1 and ink.origin == "literature":
        # Reckoned from its pigments, not from a swatch.
        unsure = float(np.hypot(unsure, MIXTURE_DELTA_E00))
    return NearMiss(
        ink,
        passes,
        as_lab(lab),
        as_hex(lab),
        float(delta_e00(lab, np.array(wanted.lab))),
        max(others),
        unsure,
    )
