"""How an ink looks after one pass, two passes and so on."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from blockwright.colour.films import film_thickness
from blockwright.colour.layers import layer_reflectance
from blockwright.colour.matched import colour_reflectance
from blockwright.colour.spectra import reflectance_to_display
from blockwright.colour.srgb import srgb_to_hex

MOST_PASSES = 4
"""A colour is printed one to four times (common practice, no source)."""


def passes_over(
    k: ArrayLike, s: ArrayLike, ground: ArrayLike, *, transfer: Sequence[float] = (1.0,)
) -> NDArray[np.float64]:
    """Reflectances, shape (4, 36), of 1, 2, 3 and 4 passes of an ink, (36,) each, over a ground, (36,).

    >>> passes_over([1.0] * 36, [0.5] * 36, [0.8] * 36)[0, 0].round(6).item()
    0.213052
    """
    films = [film_thickness(count, transfer=transfer) for count in range(1, MOST_PASSES + 1)]
    return layer_reflectance(k, s, np.array(films)[:, None], np.asarray(ground, dtype=np.float64))


def passes_on_paper(
    k: ArrayLike, s: ArrayLike, paper_hex: str, *, transfer: Sequence[float] = (1.0,)
) -> tuple[str, ...]:
    """The predicted colour of an ink on a paper after 1, 2, 3 and 4 passes, as ``#rrggbb`` in daylight.

    >>> passes_on_paper([0.0] * 36, [0.0] * 36, "#f6efdf")
    ('#f6efdf', '#f6efdf', '#f6efdf', '#f6efdf')
    """
    seen = passes_over(k, s, colour_reflectance(paper_hex), transfer=transfer)
    return tuple(srgb_to_hex(each) for each in reflectance_to_display(seen).srgb)
