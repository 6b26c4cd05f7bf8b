"""What a colour is, how far two colours are apart, and what an ink makes of the paper beneath it."""

from blockwright.colour.difference import delta_e00
from blockwright.colour.layers import (
    layer_reflectance,
    stack_reflectance,
)
from blockwright.colour.matched import colour_reflectance, ink_for_colour
from blockwright.colour.naming import colour_name, distinct_names
from blockwright.colour.passes import passes_on_paper, passes_over
from blockwright.colour.spectra import reflectance_to_display, reflectance_to_lab, reflectance_to_linear
from blockwright.colour.srgb import (
    hex_to_lab,
    hex_to_srgb,
    lab_to_hex,
    linear_to_lab,
    linear_to_srgb,
    srgb_to_hex,
    srgb_to_lab,
    srgb_to_linear,
)

__all__ = [
    "colour_name",
    "colour_reflectance",
    "delta_e00",
    "distinct_names",
    "hex_to_lab",
    "hex_to_srgb",
    "ink_for_colour",
    "lab_to_hex",
    "layer_reflectance",
    "linear_to_lab",
    "linear_to_srgb",
    "passes_on_paper",
    "passes_over",
    "reflectance_to_display",
    "reflectance_to_lab",
    "reflectance_to_linear",
    "srgb_to_hex",
    "srgb_to_lab",
    "srgb_to_linear",
    "stack_reflectance",
]
