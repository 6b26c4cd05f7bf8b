"""What a colour is, how far two colours are apart, and what an ink makes of the paper beneath it."""

from blockwright.colour.difference import delta_e00, delta_e76
from blockwright.colour.layers import (
    absorption_for,
    infinite_reflectance,
    ink_for_colour,
    layer_body,
    layer_reflectance,
    stack_reflectance,
)
from blockwright.colour.naming import colour_name, distinct_names
from blockwright.colour.passes import passes_on_paper
from blockwright.colour.srgb import (
    hex_to_lab,
    hex_to_srgb,
    lab_to_hex,
    lab_to_srgb,
    linear_to_lab,
    linear_to_srgb,
    srgb_to_hex,
    srgb_to_lab,
    srgb_to_linear,
)

__all__ = [
    "absorption_for",
    "colour_name",
    "delta_e00",
    "delta_e76",
    "distinct_names",
    "hex_to_lab",
    "hex_to_srgb",
    "infinite_reflectance",
    "ink_for_colour",
    "lab_to_hex",
    "lab_to_srgb",
    "layer_body",
    "layer_reflectance",
    "linear_to_lab",
    "linear_to_srgb",
    "passes_on_paper",
    "srgb_to_hex",
    "srgb_to_lab",
    "srgb_to_linear",
    "stack_reflectance",
]
