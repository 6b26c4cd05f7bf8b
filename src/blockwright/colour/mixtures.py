"""What a mixture of pigments and paste looks like over a ground, and how far off that may be."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from blockwright.colour.bands import checked_bands
from blockwright.colour.films import film_thickness
from blockwright.colour.inks import to_arrays
from blockwright.colour.layers import layer_reflectance
from blockwright.colour.optics import (
    FILM_VARIATION,
    MIXTURE_DELTA_E00,
    InkOptics,
    Prediction,
    uncertainty_delta_e00,
)
from blockwright.colour.srgb import lab_to_hex
from blockwright.model.errors import InkError
from blockwright.model.inks import Part, Pigment
from blockwright.model.units import Lab


def pigments_of(parts: Sequence[Part], pigments: Sequence[Pigment]) -> tuple[Pigment, ...]:
    """The pigments of a mixture, in its order.

    Raises InkError when a part names a pigment that is not there.
    """
    by_name = {pigment.name: pigment for pigment in pigments}
    for part in parts:
        if part.pigment not in by_name:
            raise InkError(
                f"The recipe has {part.pigment}, which is not among the pigments: {listed(pigments)}."
            )
    return tuple(by_name[part.pigment] for part in parts)


def listed(pigments: Sequence[Pigment]) -> str:
    """The names of pigments for a sentence.

    >>> listed(())
    'there are none'
    """
    return ", ".join(pigment.name for pigment in pigments) or "there are none"


def film_parts(
    pigments: Sequence[Pigment], passes: int
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """K and S, shape (pigments, 36), of the whole film of so many passes of each, and its thickness.

    Each pigment is carried over by its own transfer factors.
    """
    inks = to_arrays([p.name for p in pigments], [p.optics for p in pigments])
    thick = np.array([film_thickness(passes, transfer=p.transfer) for p in pigments])
    return inks.k * thick[:, None], inks.s * thick[:, None], thick


def recipe_reflectance(
    parts: Sequence[Part], passes: int, pigments: Sequence[Pigment], ground: ArrayLike
) -> NDArray[np.float64]:
    """Reflectance, shape (36,), of a mixture of ``parts`` (and paste) printed over ``ground``, shape (36,).

    Raises InkError when a pigment is not there, there is no part, or shares do not lie between 0 and 1.

    >>> from blockwright.colour.pigments import shipped_pigments
    >>> rose = [Part("quinacridone rose", 0.3)]
    >>> recipe_reflectance(rose, 2, shipped_pigments(), [0.85] * 36).shape
    (36,)
    """
    check_parts(parts)
    k, s, _ = film_parts(pigments_of(parts, pigments), passes)
    share = np.array([part.share for part in parts])
    return layer_reflectance(share @ k, share @ s, 1.0, checked_bands(ground, name="the ground"))


def check_parts(parts: Sequence[Part]) -> None:
    """Raise InkError when a mixture has no part, or its shares are not above 0 and at most 1 together."""
    if not parts:
        raise InkError("A recipe has at least one pigment.")
    for part in parts:
        if not 0.0 < part.share <= 1.0:
            raise InkError(
                f"The share of {part.pigment} is {part.share:g}; a share is above 0 and at most 1."
            )
    if sum(part.share for part in parts) > 1.0 + 1e-9:
        raise InkError("The shares of a recipe's pigments are together at most 1; the rest is paste.")


def mixture_uncertainty(
    parts: Sequence[Part],
    passes: int,
    pigments: Sequence[Pigment],
    ground: ArrayLike,
    *,
    film_variation: float = FILM_VARIATION,
) -> float:
    """How far off the prediction of a mixture may be, as CIEDE2000 that two of three keep.

    What is uncertain of the pigments, and a film thicker or thinner as a whole; for two pigments or more
    MIXTURE_DELTA_E00 on top, as the root of the sum of squares.

    >>> from blockwright.colour.pigments import shipped_pigments
    >>> rose = [Part("quinacridone rose", 0.3)]
    >>> 2.0 < mixture_uncertainty(rose, 1, shipped_pigments(), [0.85] * 36) < 10.0
    True
    """
    check_parts(parts)
    chosen = pigments_of(parts, pigments)
    thick = np.array([film_thickness(passes, transfer=p.transfer) for p in chosen])
    amounts = thick * np.array([part.share for part in parts])
    under = checked_bands(ground, name="the ground")
    inks = to_arrays([p.name for p in chosen], [p.optics for p in chosen])
    own = uncertainty_delta_e00(_one_film(inks, film_variation), _mixed_over(amounts, under))
    return float(np.hypot(own, MIXTURE_DELTA_E00)) if len(parts) > 1 else own


def _one_film(inks: InkOptics, variation: float) -> InkOptics:
    """The inks with the variation of the one film in which all of them lie."""
    film = np.full((1, *inks.k.shape), variation)
    return InkOptics(
        inks.names,
        inks.k.copy(),
        inks.s.copy(),
        np.concatenate([inks.log_k_spread, film]),
        np.concatenate([inks.log_s_spread, film]),
    )


def _mixed_over(amounts: NDArray[np.float64], ground: NDArray[np.float64]) -> Prediction:
    def rule(k: NDArray[np.float64], s: NDArray[np.float64]) -> NDArray[np.float64]:
        share = amounts[:, None]
        return layer_reflectance((share * k).sum(axis=-2), (share * s).sum(axis=-2), 1.0, ground)

    return rule


def as_lab(values: ArrayLike) -> Lab:
    """Three numbers as plain values, rounded to a ten-thousandth."""
    lightness, a, b = (round(float(value), 4) for value in np.asarray(values))
    return lightness, a, b


def as_hex(values: ArrayLike) -> str:
    """CIELAB as a screen shows it, brought into sRGB where need be."""
    return lab_to_hex(np.asarray(values))
