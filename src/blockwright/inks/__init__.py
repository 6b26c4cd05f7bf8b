"""The inks of a print, and how an ink becomes known.

What is taken from the shelf, what is mixed, how much an edition needs; the calibration sheet and its reading.
"""

from blockwright.inks.printing import ink_print
from blockwright.inks.quantities import (
    Need,
    Quantities,
    covered_sheets,
    ink_needed_g,
    laydown_g_per_m2,
    pot_warning,
    quantities,
)
from blockwright.inks.reading import read_sheet
from blockwright.inks.sheet import lay_out_sheet, plan_sheet
from blockwright.inks.spectral_tables import read_table
from blockwright.inks.swatch_fit import find_inks

__all__ = [
    "Need",
    "Quantities",
    "covered_sheets",
    "find_inks",
    "ink_needed_g",
    "ink_print",
    "lay_out_sheet",
    "laydown_g_per_m2",
    "plan_sheet",
    "pot_warning",
    "quantities",
    "read_sheet",
    "read_table",
]
