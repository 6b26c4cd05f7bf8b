"""Mixed, thinned and overprinted inks: what a film of them has for K and S, and what it makes of its ground.

Two-constant theory: absorption K and scattering S add by amount (Duncan, "The colour of pigment mixtures",
*Proceedings of the Physical Society* 52, 1940). One amount of an ink in a film of one pass has the ink's own
K and S; paste and water are clear unless they are said to scatter. Passes and concentration are one variable:
a second pass lays down as much again times a transfer factor that is measured. Works for any number of bands,
which stand on the last axis. The layer itself is :func:`blockwright.colour.layers.layer_reflectance`.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from blockwright.colour.layers import layer_reflectance
from blockwright.colour.surface import Surface, body_reflectance, seen_reflectance
from blockwright.model.errors import InkError

_Film = tuple[NDArray[np.float64], NDArray[np.float64]]


def mixed(k: ArrayLike, s: ArrayLike, amounts: ArrayLike) -> _Film:
    """K and S, each of shape (..., bands), of a mixture.

    ``k`` and ``s`` have shape (..., inks, bands), ``amounts`` (..., inks): amounts of each ink in the film of
    one pass, 0 or more, of which 1 is the film that the ink's K and S were found for. They need not sum to 1:
    thinning is a sum below 1. Raises InkError when an amount is below 0 or all are 0.

    >>> k, s = mixed([[2.0, 0.5], [0.1, 0.1]], [[0.1, 0.1], [3.0, 3.0]], [0.25, 0.75])
    >>> k.round(3).tolist(), s.round(3).tolist()
    ([0.575, 0.2], [2.275, 2.275])
    """
    share = np.asarray(amounts, dtype=np.float64)
    absorb, scatter = np.asarray(k, dtype=np.float64), np.asarray(s, dtype=np.float64)
    if absorb.ndim < 2 or absorb.shape != scatter.shape or share.shape[-1:] != absorb.shape[-2:-1]:
        raise InkError("A mixture needs one amount, one K and one S for each of its inks.")
    if not np.all(np.isfinite(share)) or np.any(share < 0.0):
        raise InkError("The amount of an ink in a mixture is 0 or more.")
    if np.any(share.sum(axis=-1) == 0.0):
        raise InkError("A mixture needs some of at least one ink.")
    return (share[..., None] * absorb).sum(axis=-2), (share[..., None] * scatter).sum(axis=-2)


def diluted(k: ArrayLike, s: ArrayLike, *, paste_share: ArrayLike, paste_s: ArrayLike = 0.0) -> _Film:
    """K and S of an ink of which a part is paste (or water) instead, for a film as thick as before.

    ``paste_share`` is 0 to below 1 and broadcasts against all but the bands; ``paste_s`` is the scattering of
    a film of paste alone. Raises InkError when the share is outside its range.

    >>> k, s = diluted([2.0, 0.5], [0.1, 0.1], paste_share=0.75)
    >>> k.tolist(), s.round(3).tolist()
    ([0.5, 0.125], [0.025, 0.025])
    """
    share = np.asarray(paste_share, dtype=np.float64)[..., None]
    if not np.all(np.isfinite(share)) or np.any(share < 0.0) or np.any(share >= 1.0):
        raise InkError("The share of paste in an ink is 0 or more and less than 1.")
    absorb, scatter = np.asarray(k, dtype=np.float64), np.asarray(s, dtype=np.float64)
    return absorb * (1.0 - share), scatter * (1.0 - share) + np.asarray(paste_s, dtype=np.float64) * share


def film_thickness(passes: int, *, transfer: Sequence[float] = (1.0,)) -> float:
    """How thick a film some passes lay down, in films of one pass.

    ``transfer`` tells what each pass after the first lays down as a part of the first; its last number holds
    for all later passes. A paper that takes less ink once it is covered has factors below 1.

    Raises InkError when there is no pass or a factor is not above 0.

    >>> film_thickness(3), film_thickness(4, transfer=(0.9, 0.75))
    (3.0, 3.4)
    """
    if passes < 1:
        raise InkError(f"An ink is printed in at least one pass, not {passes}.")
    if not transfer or not all(0.0 < factor < float("inf") for factor in transfer):
        raise InkError("The transfer factor of a pass is above 0; 1 lays down as much as the first pass.")
    later = [transfer[min(index, len(transfer) - 1)] for index in range(passes - 1)]
    return 1.0 + sum(later)


def overprinted(
    k: ArrayLike,
    s: ArrayLike,
    ground: ArrayLike,
    *,
    passes: int = 1,
    transfer: Sequence[float] = (1.0,),
    surface: Surface | None = None,
) -> NDArray[np.float64]:
    """Reflectance, shape (..., bands), of an ink or mixture over a ground, which may be print already.

    ``k``, ``s`` and ``ground`` (a reflectance, 0 to 1, as seen) broadcast. With ``surface`` the reflection at
    the surface is taken off the ground and put back on the result (:mod:`blockwright.colour.surface`).

    Raises InkError when the ground reflects less than its surface alone would.

    >>> float(overprinted([1.0], [0.5], [0.8])[0].round(6))
    0.213052
    """
    thickness = film_thickness(passes, transfer=transfer)
    if surface is None:
        return layer_reflectance(k, s, thickness, ground)
    return seen_reflectance(layer_reflectance(k, s, thickness, body_reflectance(ground, surface)), surface)
