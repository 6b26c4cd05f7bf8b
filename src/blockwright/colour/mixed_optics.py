"""The optics of a mixed ink from its pigments', with what is uncertain of each; and optics in few numbers."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from blockwright.colour.films import film_thickness, mixed
from blockwright.colour.inks import to_arrays
from blockwright.model.errors import InkError
from blockwright.model.inks import Optics, Pigment

Film = tuple[Optics, tuple[float, ...]]
"""The optics of one pass, and what each later pass lays down as a part of the first."""

_NOTHING = 1e-9
"""Directions shorter than this part of the longest say nothing: rounding of the decomposition."""


def mixed_optics(pigments: Sequence[Optics], shares: Sequence[float]) -> Optics:
    """Absorption and scattering of a mixture, share by share (Duncan 1940), and how surely they are known.

    ``shares`` are parts of the film by volume, each above 0; what they leave is paste, which is clear. What
    is uncertain of a pigment moves log K of the mixture by its part of K, in each band, and so for S; that
    two-constant theory itself may be off for a mixture is not in it. Raises InkError when a share cannot be.

    >>> rose = Optics((0.3,) * 36, (0.1,) * 36, ((0.2,) * 36,), ((0.0,) * 36,))
    >>> blue = Optics((0.1,) * 36, (0.1,) * 36)
    >>> half = mixed_optics([rose, blue], [0.25, 0.25])
    >>> round(half.k[0], 6), round(half.log_k_spread[0][0], 6)
    (0.1, 0.15)
    """
    if len(pigments) != len(shares) or not pigments:
        raise InkError("A recipe needs at least one pigment, and a share for each.")
    if not all(share > 0.0 for share in shares) or sum(shares) > 1.0 + 1e-6:
        raise InkError("The shares of a recipe are above 0 and together at most 1, the whole ink.")
    inks = to_arrays([str(place) for place in range(len(pigments))], pigments)
    amounts = np.array(shares, dtype=np.float64)
    k, s = mixed(inks.k, inks.s, amounts)
    log_k = (inks.log_k_spread * _parts_of(inks.k, k, amounts)).sum(axis=1)
    log_s = (inks.log_s_spread * _parts_of(inks.s, s, amounts)).sum(axis=1)
    return condensed(Optics(_tuple(k), _tuple(s), _rows(log_k), _rows(log_s)))


def condensed(optics: Optics) -> Optics:
    """The same optics with no more directions of uncertainty than they have numbers, the longest first.

    The covariance is the same but for rounding. Optics that have few enough are given back as they are.

    >>> row = (0.1,) * 36
    >>> len(condensed(Optics(row, row, (row,) * 100, (row,) * 100)).log_k_spread)
    1
    """
    count = len(optics.k)
    if len(optics.log_k_spread) <= 2 * count:
        return optics
    rows = np.hstack([np.array(optics.log_k_spread), np.array(optics.log_s_spread)])
    _, lengths, axes = np.linalg.svd(rows, full_matrices=False)
    kept = lengths > _NOTHING * lengths[0]
    directions = lengths[kept, None] * axes[kept]
    return Optics(optics.k, optics.s, _rows(directions[:, :count]), _rows(directions[:, count:]))


def mixed_transfer(transfers: Sequence[Sequence[float]], shares: Sequence[float]) -> tuple[float, ...]:
    """What each later pass of a mixture lays down as a part of the first: the mean by share [CP].

    One film carries all its pigments over, so that theirs, which were found apart, become one. ``shares`` as
    for :func:`mixed_optics`. The last factor holds for all later passes.

    >>> [round(each, 6) for each in mixed_transfer([(0.9, 0.5), (0.6,)], [0.2, 0.1])]
    [0.8, 0.533333]
    """
    count = max(len(each) for each in transfers)
    held = [[each[min(place, len(each) - 1)] for place in range(count)] for each in transfers]
    whole = sum(shares)
    return tuple(
        sum(each[place] * share for each, share in zip(held, shares, strict=True)) / whole
        for place in range(count)
    )


def mixed_film(pigments: Sequence[Pigment], shares: Sequence[float], *, passes: int = 1) -> Film:
    """Optics of one pass of a mixture and its transfer factors, true to its recipe in so many ``passes``.

    A recipe carries every pigment over by its own factors, a film of the mixture has one set of them
    (:func:`mixed_transfer`). Where they differ, the amounts are such that nothing is lost in the passes that
    are planned. Raises InkError as :func:`mixed_optics`.
    """
    if len(pigments) != len(shares) or not pigments or not all(share > 0.0 for share in shares):
        return mixed_optics([each.optics for each in pigments], shares), (1.0,)  # which refuses
    transfer = mixed_transfer([each.transfer for each in pigments], shares)
    whole = film_thickness(passes, transfer=transfer)
    own = [film_thickness(passes, transfer=each.transfer) / whole for each in pigments]
    amounts = [share * part for share, part in zip(shares, own, strict=True)]
    return mixed_optics([each.optics for each in pigments], amounts), transfer


def _parts_of(
    each: NDArray[np.float64], whole: NDArray[np.float64], amounts: NDArray[np.float64]
) -> NDArray[np.float64]:
    """How much of the whole, in every band, comes from each pigment: shape (pigments, bands)."""
    share = amounts[:, None] * each
    return np.divide(share, whole, out=np.zeros_like(share), where=whole > 0.0)


def _tuple(row: NDArray[np.float64]) -> tuple[float, ...]:
    return tuple(row.tolist())


def _rows(rows: NDArray[np.float64]) -> tuple[tuple[float, ...], ...]:
    return tuple(_tuple(row) for row in rows)
