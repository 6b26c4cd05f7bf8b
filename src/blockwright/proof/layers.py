"""The ink of every impression as a layer of the sheet."""

from collections.abc import Sequence

import numpy as np

from blockwright.colour.films import film_thickness
from blockwright.model.inks import PrintInk
from blockwright.model.separation import Impression
from blockwright.proof.light import Layer


def layers_of(impressions: Sequence[Impression], inks: Sequence[PrintInk]) -> tuple[Layer, ...]:
    """One layer for each impression that is printed with an ink, in printing order; ``inks`` are theirs.

    Raises ValueError when the inks are not of these impressions.
    """
    if [ink.impression for ink in inks] != [each.number for each in impressions]:
        raise ValueError("the inks are of other impressions")
    return tuple(
        Layer(
            np.array(ink.optics.k),
            np.array(ink.optics.s),
            film_thickness(impression.passes, transfer=ink.transfer),
            impression.gradation,
        )
        for impression, ink in zip(impressions, inks, strict=True)
    )


def wanted_layer(impression: Impression) -> Layer:
    """The ink that is wanted for an impression, as mixed to match."""
    ink = impression.printed_ink
    return Layer(np.array(ink.k), np.array(ink.s), float(impression.passes), impression.gradation)
