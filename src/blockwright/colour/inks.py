"""Inks as they are kept, and as the engine computes with them: one is plain values, the other arrays."""

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from blockwright.colour.optics import InkOptics, together
from blockwright.model.inks import Bands, Optics

_KEPT = 512
"""Inks that a process remembers as arrays: a large shelf, some kB each."""


def to_arrays(names: Sequence[str], kept: Sequence[Optics]) -> InkOptics:
    """Inks that are kept one by one as one set to compute with; their uncertainties are independent.

    Raises InkError when an ink has not as many numbers as the others, or impossible ones.

    >>> inks = to_arrays(["rose", "blue"], [Optics((0.2,) * 36, (0.1,) * 36)] * 2)
    >>> inks.k.shape, inks.log_k_spread.shape
    ((2, 36), (0, 2, 36))
    """
    return together(*(_one(name, optics) for name, optics in zip(names, kept, strict=True)))


def to_optics(inks: InkOptics, ink: int = 0) -> Optics:
    """One ink of a set as it is kept. What it shares with others of the set is then its own.

    >>> rose = Optics((0.2,) * 36, (0.1,) * 36, ((0.3,) * 36,), ((0.3,) * 36,))
    >>> to_optics(to_arrays(["rose"], [rose])) == rose
    True
    """
    return Optics(
        _bands(inks.k[ink]),
        _bands(inks.s[ink]),
        tuple(_bands(row) for row in inks.log_k_spread[:, ink]),
        tuple(_bands(row) for row in inks.log_s_spread[:, ink]),
    )


@lru_cache(maxsize=_KEPT)
def _one(name: str, optics: Optics) -> InkOptics:
    count = len(optics.k)
    return InkOptics(
        (name,),
        np.array([optics.k], dtype=np.float64),
        np.array([optics.s], dtype=np.float64),
        np.array(optics.log_k_spread, dtype=np.float64).reshape(-1, 1, count),
        np.array(optics.log_s_spread, dtype=np.float64).reshape(-1, 1, count),
    )


def _bands(row: NDArray[np.float64]) -> Bands:
    return tuple(row.tolist())
