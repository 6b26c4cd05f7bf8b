"""An ink that is taken as mixed to match: what a transparent ink must absorb to give a colour on a paper."""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from blockwright.colour.layers import absorption_for
from blockwright.colour.smooth import smooth_filter, smooth_reflectance_of_linear
from blockwright.colour.srgb import hex_to_srgb, linear_to_xyz, srgb_to_linear
from blockwright.model.inks import Bands

TRANSPARENT_SCATTERING = 0.03
"""Scattering of one pass of a transparent watercolour in every band [CP]; the mean over the bands of the
transparent rose in Curtis et al., SIGGRAPH 1997."""


@lru_cache(maxsize=64)
def colour_reflectance(srgb_hex: str) -> NDArray[np.float64]:
    """The calmest reflectance, shape (36,), read only, of a colour given as ``#rrggbb``, such as a paper's.

    >>> float(colour_reflectance("#ffffff").min())
    1.0
    """
    found = smooth_reflectance_of_linear(srgb_to_linear(hex_to_srgb(srgb_hex)))
    found.flags.writeable = False
    return found


@lru_cache(maxsize=1024)
def ink_for_colour(
    srgb_hex: str, paper_hex: str, *, passes: int, scattering: float = TRANSPARENT_SCATTERING
) -> tuple[Bands, Bands]:
    """Absorption and scattering of one pass of an ink that gives a colour on a paper in so many passes.

    Colours are ``#rrggbb``. The light that the ink leaves of the paper's is the calmest that has the colour
    (:func:`blockwright.colour.smooth.smooth_filter`). Where no transparent ink on this paper has it, the ink
    is clear in the bands in which the calmest reflectance of the colour outshines the paper, and the
    prediction keeps the error; so it does below :data:`~blockwright.colour.layers.LEAST_REFLECTANCE`.

    >>> from blockwright.colour.layers import layer_reflectance
    >>> from blockwright.colour.spectra import reflectance_to_display
    >>> k, s = ink_for_colour("#b4935a", "#f6efdf", passes=2)
    >>> light = layer_reflectance(k, s, 2, colour_reflectance("#f6efdf"))
    >>> [round(255 * level) for level in reflectance_to_display(light).srgb.tolist()] == [0xB4, 0x93, 0x5A]
    True
    """
    paper = colour_reflectance(paper_hex)
    let_through = smooth_filter(linear_to_xyz(srgb_to_linear(hex_to_srgb(srgb_hex))), paper)
    wanted = colour_reflectance(srgb_hex) if let_through is None else let_through * paper
    absorb = absorption_for(wanted, paper, thickness=float(passes), scattering=scattering)
    return tuple(absorb.tolist()), (scattering,) * len(paper)
