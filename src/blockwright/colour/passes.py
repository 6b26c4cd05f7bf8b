"""How an ink looks on bare paper after one pass, two passes and so on."""

from blockwright.colour.layers import layer_reflectance
from blockwright.colour.srgb import hex_to_srgb, linear_to_srgb, srgb_to_hex, srgb_to_linear
from blockwright.model.separation import Ink

MOST_PASSES = 4
"""A colour is printed one to four times (common practice, no source)."""


def passes_on_paper(ink: Ink, paper_hex: str) -> tuple[str, ...]:
    """The predicted colour of an ink on a paper after 1, 2, 3 and 4 passes, as ``#rrggbb``.

    >>> black = Ink("black", k=(50.0, 50.0, 50.0), s=(0.05, 0.05, 0.05))
    >>> len(passes_on_paper(black, "#f6efdf"))
    4
    """
    paper = srgb_to_linear(hex_to_srgb(paper_hex))
    return tuple(
        srgb_to_hex(linear_to_srgb(layer_reflectance(ink.k, ink.s, float(count), paper)))
        for count in range(1, MOST_PASSES + 1)
    )
